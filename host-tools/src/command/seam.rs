//! The one place where the commands reach for the stages of the library: text to station, text to
//! canonical text, station to a running step.

use host_tools::station::Station;
use host_tools::text::finding::{Finding, Level};
use host_tools::text::show::{Shown, render};
use host_tools::told::Runner;

use super::files::{Source, shown};
use super::{Failure, output};

/// Several files read as one: what was found, and the station if it could be made.
pub(super) fn station(_files: &[Shown<'_>]) -> (Vec<Finding>, Option<Station>) {
    // SEAM: parse every file, resolve them together, check the station.
    (Vec::new(), None)
}

/// The canonical text of one file, or why there is none.
pub(super) fn canonical(_file: &Shown<'_>) -> Result<String, Vec<Finding>> {
    // SEAM: parse and print.
    Err(Vec::new())
}

/// Hands a running step of the station to `run`.
pub(super) fn with_runner<T>(
    _station: &Station,
    _run: impl FnOnce(&mut dyn Runner) -> T,
) -> Result<T, Failure> {
    // SEAM: lower, verify, power up.
    Err(Failure::Said("this build has no step".to_owned()))
}

/// The station of some rule files; if there is none, what was found is said.
pub(super) fn sound_station(sources: &[Source]) -> Result<Station, Failure> {
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
