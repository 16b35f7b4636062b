//! `haltproof integrity`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::output::{Output, coloured, complain};
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::integrity::assess::Sheet;
use host_tools::integrity::fault::Fault;
use host_tools::integrity::text::text;
use host_tools::integrity::{NOTICE, read, unknown};
use host_tools::json::document;
use host_tools::station::Station;

/// Works out the integrity of safety functions: what is required beside what their parts come to, by ISO 13849-1 or IEC 61508-6.
///
/// Each number has its source beside it. It informs a qualified assessment and replaces none.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: haltproof integrity drive-terminal.functions --rules drive.rules --rules requirements.rules\n\
    Exit status: 0 every function reaches what is required, 1 one does not or is not computed, 2 it could not be done."
)]
pub(super) struct IntegrityOf {
    /// Files of safety functions; `haltproof manual integrity` describes them.
    #[arg(required = true)]
    functions: Vec<PathBuf>,
    /// A rule file, in which every requirement that is served must stand; may be given several times.
    #[arg(long)]
    rules: Vec<PathBuf>,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

#[derive(Serialize)]
struct Content<'a> {
    notice: &'a str,
    files: &'a [Sheet],
    status: u8,
}

/// Reads and assesses files of safety functions; with a station every requirement that is served must stand in it.
pub(super) fn sheets(paths: &[PathBuf], station: Option<&Station>) -> Result<Vec<Sheet>, Failure> {
    let sheet = |path: &PathBuf| {
        let (path, text) = files::read_text(path)?;
        let broken = |faults: &[Fault]| {
            for fault in faults {
                complain(&(fault.render(&path, &text, coloured()) + "\n"));
            }
            Failure::Said(format!("{path}: nothing is worked out"))
        };
        let form = read(&text).map_err(|faults| broken(&faults))?;
        let faults = station.map(|station| unknown(&form, station)).unwrap_or_default();
        if faults.is_empty() { Ok(Sheet::of(&path, &form)) } else { Err(broken(&faults)) }
    };
    paths.iter().map(sheet).collect()
}

impl IntegrityOf {
    pub(super) fn run(&self) -> Outcome {
        let station = match self.rules.as_slice() {
            [] => None,
            rules => Some(stages::sound_station(files::read_all(rules)?)?),
        };
        let sheets = sheets(&self.functions, station.as_ref())?;
        let status = u8::from(!sheets.iter().all(Sheet::is_reached));
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => document(&mut to, "integrity", &Content { notice: NOTICE, files: &sheets, status })?,
            Shape::Text => {
                for sheet in &sheets {
                    write!(to, "{}", text(sheet))?;
                }
            }
        }
        to.finish()?;
        Ok(status)
    }
}
