//! `haltproof check`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::output::{Output, coloured};
use super::{Outcome, Shape, files, seam};
use host_tools::json::document;
use host_tools::text::finding::Level;
use host_tools::text::show::{Told, render, tell};

/// Checks rule files and reports every finding.
///
/// Several files are read as one station.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: haltproof check drive.rules requirements.rules\n\
    Exit status: 0 nothing found but notes, 1 findings, 2 the files could not be read."
)]
pub(super) struct Check {
    /// Rule files; `-` is the standard input.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

#[derive(Serialize)]
struct Found<'a> {
    station: Option<&'a str>,
    revision: Option<u32>,
    findings: Vec<Told>,
    status: u8,
}

impl Check {
    pub(super) fn run(&self) -> Outcome {
        let sources = files::read_all(&self.rules)?;
        let shown = files::shown(&sources);
        let (findings, station) = seam::station(&shown);
        let serious = findings.iter().filter(|f| f.level != Level::Note).count();
        let status = u8::from(serious > 0 || station.is_none());
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => {
                let content = Found {
                    station: station.as_ref().map(|s| s.title.as_str()),
                    revision: station.as_ref().map(|s| s.revision),
                    findings: tell(&findings, &shown),
                    status,
                };
                document(&mut to, "findings", &content)?;
            }
            Shape::Text => {
                write!(to, "{}", render(&findings, &shown, coloured()))?;
                let notes = findings.len() - serious;
                match &station {
                    Some(s) => writeln!(
                        to,
                        "{}, revision {}: {} inputs, {} watches, {} requirements; \
                         {serious} findings, {notes} notes",
                        s.title,
                        s.revision,
                        s.inputs.len(),
                        s.watches.len(),
                        s.requirements.len(),
                    )?,
                    None => writeln!(to, "no station; {serious} findings, {notes} notes")?,
                }
            }
        }
        to.finish()?;
        Ok(status)
    }
}
