//! The one place where the commands reach for the stages of the library: text to station, text to
//! canonical text, station to a running step.

use host_tools::check::check;
use host_tools::station::Station;
use host_tools::text::finding::{Finding, Level};
use host_tools::text::parse::{Source, parse};
use host_tools::text::show::render;
use host_tools::text::tree::File;
use host_tools::told::Runner;

use super::files::shown;
use super::{Failure, output};

/// Rule files read as one.
pub(super) struct Reading {
    /// Their trees, with their text.
    pub(super) files: Vec<File>,
    /// What was found, from all stages that could be reached.
    pub(super) findings: Vec<Finding>,
    /// The station, if nothing that was found forbids it.
    pub(super) station: Option<Station>,
}

/// Reads rule files as one station and checks it.
pub(super) fn read(sources: Vec<Source>) -> Reading {
    let (files, mut findings) = parse(sources);
    let (station, found) = resolve(&files);
    findings.extend(found);
    if let Some(station) = &station {
        findings.extend(check(station));
    }
    let refused = findings.iter().any(|f| f.level == Level::Error);
    Reading {
        files,
        findings,
        station: station.filter(|_| !refused),
    }
}

/// Resolves the names of all files.
fn resolve(_files: &[File]) -> (Option<Station>, Vec<Finding>) {
    // SEAM: host_tools::resolve.
    (None, Vec::new())
}

/// The canonical text of one file.
pub(super) fn canonical(_file: &File) -> String {
    // SEAM: host_tools::text::print (or whatever the formatter is called).
    String::new()
}

/// Hands a running step of the station to `run`.
pub(super) fn with_runner<T>(
    _station: &Station,
    _run: impl FnOnce(&mut dyn Runner) -> T,
) -> Result<T, Failure> {
    // SEAM: lower, verify, power up the plain reading as a `Runner`.
    Err(Failure::Said("this build has no step".to_owned()))
}

/// The station of some rule files; if there is none, what was found is said.
pub(super) fn sound_station(sources: Vec<Source>) -> Result<Station, Failure> {
    let Reading {
        files,
        mut findings,
        station,
    } = read(sources);
    station.ok_or_else(|| {
        findings.retain(|f| f.level == Level::Error);
        output::complain(render(&findings, &shown(&files), false).trim_end());
        Failure::Said("the rule files make no station; `haltproof check` says more".to_owned())
    })
}
