//! From the text of rule files to a checked station, in one call.

use crate::check::check;
use crate::resolve::resolve;
use crate::station::Station;
use crate::text::codes::Code;
use crate::text::finding::{Finding, Level};
use crate::text::parse::{Source, parse};
use crate::text::tree::File;

/// Rule files read as one.
#[derive(Debug, Clone)]
pub struct Loaded {
    /// Their trees, with their text.
    pub files: Vec<File>,
    /// What was found, in the order of the text.
    pub findings: Vec<Finding>,
    /// The station, if nothing that was found forbids it.
    pub station: Option<Station>,
}

/// Reads files as one station and checks it. Nothing is left half-made: with an error there is no station.
pub fn load(sources: Vec<Source>) -> Loaded {
    let (files, mut findings) = parse(sources);
    let whole = findings.is_empty();
    let (station, found) = resolve(&files);
    // What a statement declares that could not be read would be told as missing wherever it is named.
    findings
        .extend(found.into_iter().filter(|f| whole || !matches!(f.code, Code::NameUnknown | Code::StatementMissing)));
    let sound = |findings: &[Finding]| findings.iter().all(|f| f.level != Level::Error);
    if let Some(station) = station.as_ref().filter(|_| sound(&findings)) {
        findings.extend(check(station));
    }
    let station = station.filter(|_| sound(&findings));
    findings.sort_by_key(|f| f.labels.first().map(|(place, _)| (place.file, place.start)));
    Loaded { files, findings, station }
}
