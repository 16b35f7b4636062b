//! From the text of rule files to a checked station, in one call.

use crate::check::check;
use crate::resolve::resolve;
use crate::station::Station;
use crate::text::codes::Code;
use crate::text::finding::{Finding, Level};
use crate::text::parse::{Source, parse};

/// Reads files as one: the station, unless there is an error, and everything that was found.
pub fn load(sources: Vec<Source>) -> (Option<Station>, Vec<Finding>) {
    let (trees, mut findings) = parse(sources);
    let whole = findings.is_empty();
    let (station, found) = resolve(&trees);
    // What a statement declares that could not be read would be told as missing wherever it is named.
    findings.extend(found.into_iter().filter(|f| whole || !matches!(f.code, Code::NameUnknown | Code::StatementMissing)));
    let sound = findings.iter().all(|f| f.level != Level::Error);
    if let Some(station) = station.as_ref().filter(|_| sound) {
        findings.extend(check(station));
    }
    let sound = findings.iter().all(|f| f.level != Level::Error);
    findings.sort_by_key(|f| f.labels.first().map(|(place, _)| (place.file, place.start)));
    (station.filter(|_| sound), findings)
}
