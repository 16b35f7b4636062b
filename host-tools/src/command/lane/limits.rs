//! `haltproof lane limits`.

use serde::Serialize;

use super::{Files, Outcome};
use host_tools::lane::published::published;
use host_tools::lane::text;

#[derive(Serialize)]
struct Published<'a> {
    station: &'a str,
    revision: u32,
    limits: Vec<LimitTold<'a>>,
    status: u8,
}

#[derive(Serialize)]
struct LimitTold<'a> {
    what: &'a str,
    source: &'a str,
    limit: &'a str,
    is: &'a str,
    /// `null` where the file does not say enough.
    kept: Option<bool>,
}

pub(super) fn run(files: &Files) -> Outcome {
    let station = files.station()?;
    let limits = published(&station);
    let status = u8::from(limits.iter().any(|limit| limit.kept != Some(true)));
    let content = Published {
        station: &station.title,
        revision: station.revision,
        limits: limits
            .iter()
            .map(|it| LimitTold { what: it.what, source: it.source, limit: &it.limit, is: &it.is, kept: it.kept })
            .collect(),
        status,
    };
    files.told("limits", &content, &text::limits(&limits))?;
    Ok(status)
}
