//! `haltproof lane apart`.

use serde::Serialize;

use super::{Failure, Files, Outcome};
use host_tools::lane::apart::{Apart, OfTravel, apart};
use host_tools::lane::text;

#[derive(Serialize)]
struct Kept<'a> {
    station: &'a str,
    revision: u32,
    enters_mm: u32,
    watched_from_mm: u32,
    watched_to_mm: u32,
    least_rope_mm: u32,
    /// From tail to front where the length of bodies is stated, from front to front elsewhere.
    least_mm: i64,
    least_at_mm: u32,
    travels: Vec<KeptTravel<'a>>,
    status: u8,
}

#[derive(Serialize)]
struct KeptTravel<'a> {
    name: &'a str,
    under_way: u32,
    rope_mm: u32,
    late_mm: u32,
    carried: bool,
    late_at_most_mm: Option<i64>,
    contact_mm_s: Option<u32>,
    contact_at_mm: Option<u32>,
}

pub(super) fn run(files: &Files) -> Outcome {
    let station = files.station()?;
    let Some(kept) = apart(&station) else {
        return Err(Failure::Said("no spacing and no travel with places on the lane: nothing is watched".to_owned()));
    };
    let Apart { enters, watched_from, watched_to, least_rope, least, least_at, ref travels } = kept;
    let of_travel = |travel: &OfTravel| KeptTravel {
        name: station.watches.get(travel.watch).map_or("", |watch| watch.name.text.as_str()),
        under_way: travel.under_way,
        rope_mm: travel.rope,
        late_mm: travel.late,
        carried: travel.carried,
        late_at_most_mm: travel.late_at_most,
        contact_mm_s: travel.contact.map(|contact| contact.speed),
        contact_at_mm: travel.contact.map(|contact| contact.at),
    };
    let status = u8::from(least <= 0 || travels.iter().any(|travel| travel.contact.is_some()));
    let content = Kept {
        station: &station.title,
        revision: station.revision,
        enters_mm: enters,
        watched_from_mm: watched_from,
        watched_to_mm: watched_to,
        least_rope_mm: least_rope,
        least_mm: least,
        least_at_mm: least_at,
        travels: travels.iter().map(of_travel).collect(),
        status,
    };
    files.told("apart", &content, &text::kept_apart(&station, &kept))?;
    Ok(status)
}
