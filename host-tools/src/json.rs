//! Results for machines: one schema, described in `manual/json.md`.
//!
//! A timeline is written as it happens, an event a line, so that memory does not grow with it.

use std::io::{self, Write};

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::json;

use crate::recording::read::ReadFault;
use crate::replay::{Event, Sink, Summary};
use crate::station::Station;

/// Name and version of the schema. The number rises when a name changes its meaning or goes; new
/// names may come at any time.
pub const SCHEMA: &str = "haltproof/1";

/// A document of one kind.
#[derive(Serialize)]
struct Document<'a, T> {
    schema: &'static str,
    kind: &'a str,
    #[serde(flatten)]
    content: &'a T,
}

/// Writes a whole document of one kind: the schema, the kind, and the fields of `content`.
pub fn document<W: Write, T: Serialize>(mut to: W, kind: &str, content: &T) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut to, &Document { schema: SCHEMA, kind, content })?;
    writeln!(to)
}

/// Writes the same on one line, for files of a document a line.
pub fn line<W: Write, T: Serialize>(mut to: W, kind: &str, content: &T) -> io::Result<()> {
    serde_json::to_writer(&mut to, &Document { schema: SCHEMA, kind, content })?;
    writeln!(to)
}

/// Reads a whole document of one kind, as [`document`] writes it.
///
/// # Errors
/// If it is no such document, of this schema and kind.
pub fn read_document<T: DeserializeOwned>(text: &str, kind: &str) -> io::Result<T> {
    #[derive(Deserialize)]
    struct Document<T> {
        schema: String,
        kind: String,
        #[serde(flatten)]
        content: T,
    }
    let read: Document<T> = serde_json::from_str(text)?;
    if read.schema != SCHEMA || read.kind != kind {
        return Err(io::Error::other(format!("a document of schema {SCHEMA} and kind {kind} is expected")));
    }
    Ok(read.content)
}

/// Writes a timeline, event by event.
#[derive(Debug)]
pub struct Timeline<W> {
    to: W,
    any: bool,
}

impl<W: Write> Timeline<W> {
    /// Begins the document. `recording` is its name as given, `starts` how it begins.
    pub fn begin(mut to: W, station: &Station, recording: &str) -> io::Result<Self> {
        let head = json!({
            "schema": SCHEMA,
            "kind": "timeline",
            "station": station.title,
            "revision": station.revision,
            "scan_us": station.scan_us,
            "recording": recording,
        });
        // The closing brace is left out: events and summary follow.
        let head = head.to_string();
        let open = head.strip_suffix('}').unwrap_or(&head);
        write!(to, "{open},\"events\":[")?;
        Ok(Self { to, any: false })
    }

    /// Ends the document with the summary.
    pub fn end(mut self, summary: &Summary) -> io::Result<W> {
        let status = summary.status();
        write!(self.to, "\n],\"summary\":")?;
        serde_json::to_writer(&mut self.to, summary)?;
        writeln!(self.to, ",\"fault\":null,\"status\":{status}}}")?;
        Ok(self.to)
    }

    /// Ends the document of a recording that could not be read to its end.
    pub fn broke(mut self, fault: &ReadFault) -> io::Result<W> {
        let fault = json!({
            "line": fault.line,
            "column": fault.column,
            "what": fault.what,
            "expected": fault.expected,
            "mend": fault.mend,
        });
        writeln!(self.to, "\n],\"summary\":null,\"fault\":{fault},\"status\":2}}")?;
        Ok(self.to)
    }
}

impl<W: Write> Sink for Timeline<W> {
    fn looks(&self) -> bool {
        false
    }
    fn event(&mut self, event: &Event) -> io::Result<()> {
        self.to.write_all(if self.any { b",\n" } else { b"\n" })?;
        self.any = true;
        serde_json::to_writer(&mut self.to, event)?;
        Ok(())
    }
}
