//! The one place where the commands reach for the stages of the library: text to station, text to
//! canonical text, station to a running step.

use host_tools::load::load;
use host_tools::lower::lower;
use host_tools::runner::PlainRunner;
use host_tools::station::Station;
use host_tools::text::parse::Source;
use host_tools::text::finding::{Finding, Level};
use host_tools::text::show::{Shown, render};
use host_tools::told::Runner;

use super::files::{self, shown};
use super::{Failure, output};

/// Several files read as one: what was found, and the station if it could be made.
pub(super) fn station(files: &[Shown<'_>]) -> (Vec<Finding>, Option<Station>) {
    let sources = files.iter().map(|file| Source { path: file.path.to_owned(), bytes: file.source.as_bytes().to_vec() });
    let (station, findings) = load(sources.collect());
    (findings, station)
}

/// The canonical text of one file, or why there is none.
pub(super) fn canonical(_file: &Shown<'_>) -> Result<String, Vec<Finding>> {
    // SEAM: parse and print.
    Err(Vec::new())
}

/// Hands a running step of the station to `run`.
pub(super) fn with_runner<T>(station: &Station, run: impl FnOnce(&mut dyn Runner) -> T) -> Result<T, Failure> {
    let program = lower(station);
    let plan = program.plan().map_err(|fault| Failure::Said(format!("the station is no plan: {fault:?}")))?;
    let mut runner = PlainRunner::power_up(&program, &plan).ok_or_else(|| Failure::Said("the plan does not fit its own needs".to_owned()))?;
    Ok(run(&mut runner))
}

/// The station of some rule files; if there is none, what was found is said.
pub(super) fn sound_station(sources: &[files::Source]) -> Result<Station, Failure> {
    let files = shown(sources);
    let (findings, station) = station(&files);
    station.ok_or_else(|| {
        let errors: Vec<Finding> = findings
            .into_iter()
            .filter(|f| f.level == Level::Error)
            .collect();
        output::complain(render(&errors, &files, false).trim_end());
        Failure::Said("the rule files make no station; `haltproof check` says more".to_owned())
    })
}
