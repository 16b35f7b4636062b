//! `haltproof check`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::output::{Output, coloured};
use super::today::{Ends, Today};
use super::{Outcome, Shape, files};
use host_tools::json::document;
use host_tools::load::load;
use host_tools::plural::plural;
use host_tools::respond::{Path, paths, table};
use host_tools::station::Station;
use host_tools::text::finding::Level;
use host_tools::text::show::{Told, render, tell};

/// Checks rule files: every finding, and the worst response time of every path.
///
/// Several files are read as one station.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof check drive.rules requirements.rules\n\
    Exit status: 0 nothing found but notes, 1 findings or a temporary revision past its end, 2 the files could not be read.")]
pub(super) struct Check {
    /// Rule files; `-` is the standard input.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
    #[command(flatten)]
    today: Today,
}

#[derive(Serialize)]
struct Found<'a> {
    station: Option<&'a str>,
    revision: Option<u32>,
    /// The end of a temporary revision.
    temporary: Option<Ends>,
    findings: Vec<Told>,
    responses: Vec<Response<'a>>,
    status: u8,
}

#[derive(Serialize)]
struct Response<'a> {
    watch: &'a str,
    way: &'static str,
    answer: &'a str,
    sampling_us: u64,
    settling_us: u64,
    hold_us: u64,
    deciding_us: u64,
    output_us: u64,
    total_us: u64,
}

impl<'a> Response<'a> {
    fn of(station: &'a Station, path: &'a Path) -> Self {
        Self {
            watch: &path.name,
            way: path.way.text(),
            answer: station.answer(path.answer),
            sampling_us: path.sampling_us,
            settling_us: path.settling_us,
            hold_us: path.hold_us,
            deciding_us: path.deciding_us,
            output_us: path.output_us,
            total_us: path.total_us(),
        }
    }
}

impl Check {
    pub(super) fn run(&self) -> Outcome {
        let reading = load(files::read_all(&self.rules)?);
        let shown = files::shown(&reading.files);
        let findings = &reading.findings;
        let station = reading.station.as_ref();
        let serious = findings.iter().filter(|f| f.level != Level::Note).count();
        let ends = self.today.ends(station);
        let past = ends.as_ref().is_some_and(|ends| ends.past);
        let status = u8::from(serious > 0 || past || station.is_none());
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => {
                let paths = station.map(paths).unwrap_or_default();
                let responses = station.into_iter();
                let responses = responses.flat_map(|s| paths.iter().map(|p| Response::of(s, p)));
                let content = Found {
                    station: station.map(|s| s.title.as_str()),
                    revision: station.map(|s| s.revision),
                    temporary: ends,
                    findings: tell(findings, &shown),
                    responses: responses.collect(),
                    status,
                };
                document(&mut to, "findings", &content)?;
            }
            Shape::Text => {
                write!(to, "{}", render(findings, &shown, coloured()))?;
                let notes = findings.len() - serious;
                if let Some(station) = station {
                    writeln!(to, "{}", table(station))?;
                    if let Some(ends) = &ends {
                        writeln!(to, "{}", ends.words(station))?;
                    }
                    write!(to, "{}: ", station.about())?;
                } else {
                    write!(to, "no station: ")?;
                }
                writeln!(to, "{}, {}", plural(serious, "finding"), plural(notes, "note"))?;
            }
        }
        to.finish()?;
        Ok(status)
    }
}
