//! `haltproof coverage`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::output::Output;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::coverage::{Covered, List, ORDER_2009, coverage, read};
use host_tools::json::document;
use host_tools::station::{Excuse, Station};

/// Holds a published list of safety stops against the requirements: which entries they answer, and which nothing is said of.
///
/// That an entry is answered says that the rule file says so. Whether a requirement is what the list means is for the reviewer;
/// the competent authority's rules decide.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof coverage drive.rules requirements.rules\n\
    Exit status: 0 something is said of every entry, 1 an entry is open, is answered and excused at once, or is not in the list, \
    2 it could not be done.")]
pub(super) struct CoverageOf {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// The list; `haltproof manual coverage` describes it. Without, that of the French order of 7 August 2009.
    #[arg(long)]
    list: Option<PathBuf>,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

#[derive(Serialize)]
struct Row<'a> {
    entry: &'a str,
    text: &'a str,
    answered_by: Vec<&'a str>,
    not_applicable_because: Vec<&'a str>,
    answered_elsewhere_by: Vec<&'a str>,
    open: bool,
}

#[derive(Serialize)]
struct Content<'a> {
    station: &'a str,
    revision: u32,
    list: &'a str,
    source: &'a str,
    entries: Vec<Row<'a>>,
    unknown: &'a [&'a str],
    status: u8,
}

/// The list of a file, or that which is compiled in.
pub(super) fn list(path: Option<&Path>) -> Result<List, Failure> {
    let (named, text) = match path {
        Some(path) => files::read_text(path)?,
        None => ("order-2009.list".to_owned(), ORDER_2009.to_owned()),
    };
    read(&text).map_err(|wrong| {
        let lines: Vec<String> = wrong.iter().map(|wrong| format!("{named}:{}: {}", wrong.line, wrong.what)).collect();
        Failure::Said(lines.join("\n"))
    })
}

impl CoverageOf {
    pub(super) fn run(&self) -> Outcome {
        let station = stages::sound_station(files::read_all(&self.rules)?)?;
        let list = list(self.list.as_deref())?;
        let all = coverage(&station, &list);
        let torn = all.entries.iter().any(|covered| covered.is_open() || covered.is_torn());
        let status = u8::from(torn || !all.unknown.is_empty());
        let rows: Vec<Row<'_>> = all.entries.iter().map(|covered| row(&station, covered)).collect();
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => {
                let (title, revision) = (station.title.as_str(), station.revision);
                let content = Content {
                    station: title,
                    revision,
                    list: &list.title,
                    source: &list.source,
                    entries: rows,
                    unknown: &all.unknown,
                    status,
                };
                document(&mut to, "coverage", &content)?;
            }
            Shape::Text => {
                writeln!(to, "{}\n{}\n", list.title, list.source)?;
                for row in &rows {
                    say(&mut to, row)?;
                }
                for name in &all.unknown {
                    writeln!(to, "the list has no entry {name}")?;
                }
                let open = rows.iter().filter(|row| row.open).count();
                writeln!(
                    to,
                    "\n{}: {} entries, of {open} nothing is said.\n\
                     It is a help to the reviewer. The competent authority's rules decide.",
                    station.about(),
                    rows.len()
                )?;
            }
        }
        to.finish()?;
        Ok(status)
    }
}

fn row<'a>(station: &'a Station, covered: &Covered<'a>) -> Row<'a> {
    let names = covered.by.iter().filter_map(|&i| station.requirements.get(i)).map(|r| r.name.text.as_str());
    let (mut not_applicable_because, mut answered_elsewhere_by) = (Vec::new(), Vec::new());
    for excuse in &covered.excuses {
        match excuse {
            Excuse::NotApplicable(text) => not_applicable_because.push(text.as_str()),
            Excuse::Elsewhere(text) => answered_elsewhere_by.push(text.as_str()),
        }
    }
    let (entry, text) = (covered.item.name.as_str(), covered.item.text.as_str());
    let answered_by = names.collect();
    Row { entry, text, answered_by, not_applicable_because, answered_elsewhere_by, open: covered.is_open() }
}

fn say(to: &mut Output, row: &Row<'_>) -> Result<(), Failure> {
    writeln!(to, "{:<18} {}", row.entry, row.text)?;
    if row.open {
        writeln!(to, "{:18} OPEN: nothing is said of it", "")?;
    }
    if !row.answered_by.is_empty() {
        writeln!(to, "{:18} answered by {}", "", row.answered_by.join(", "))?;
    }
    for text in &row.not_applicable_because {
        writeln!(to, "{:18} not applicable because {text}", "")?;
    }
    for text in &row.answered_elsewhere_by {
        writeln!(to, "{:18} answered elsewhere by {text}", "")?;
    }
    Ok(())
}
