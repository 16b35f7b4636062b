//! `haltproof lane apart`.

use serde::Serialize;

use super::{Files, Outcome};
use host_tools::lane::apart::{Apart, Holds, OfTravel, apart};
use host_tools::lane::text;

#[derive(Serialize)]
struct Told<'a> {
    station: &'a str,
    revision: u32,
    /// All over the lane, from before people get on to behind the coupling point.
    complete: bool,
    kept: Option<Kept>,
    travels: Vec<KeptTravel<'a>>,
    status: u8,
}

#[derive(Serialize)]
#[expect(clippy::struct_field_names, reason = "for machines, each name says its unit")]
struct Kept {
    enters_mm: u32,
    from_mm: u32,
    to_mm: u32,
    least_rope_mm: u32,
    /// From tail to front where the length of bodies is stated, from front to front elsewhere.
    least_mm: i64,
    least_at_mm: u32,
}

#[derive(Serialize)]
struct KeptTravel<'a> {
    name: &'a str,
    holds: &'static str,
    under_way: Option<u32>,
    rope_mm: Option<u32>,
    late_mm: u32,
    carried: bool,
    late_at_most_mm: Option<i64>,
    contact_mm_s: Option<u32>,
    contact_at_mm: Option<u32>,
}

pub(super) fn run(files: &Files) -> Outcome {
    let station = files.station()?;
    let apart = apart(&station).unwrap_or(Apart { kept: None, complete: false, travels: Vec::new() });
    let of_travel = |travel: &OfTravel| KeptTravel {
        name: station.watches.get(travel.watch).map_or("", |watch| watch.name.text.as_str()),
        holds: match travel.holds {
            Holds::Always => "always",
            Holds::Modes => "modes",
            Holds::Band => "band",
            Holds::Bypassed => "bypassed",
            Holds::OtherPace => "other-pace",
        },
        under_way: travel.under_way,
        rope_mm: travel.rope,
        late_mm: travel.late,
        carried: travel.carried,
        late_at_most_mm: travel.late_at_most,
        contact_mm_s: travel.contact.map(|contact| contact.speed),
        contact_at_mm: travel.contact.map(|contact| contact.at),
    };
    let clear = apart.complete && apart.kept.is_some_and(|kept| kept.least > 0);
    let status = u8::from(!clear || !apart.travels.iter().all(OfTravel::is_safe));
    let content = Told {
        station: &station.title,
        revision: station.revision,
        complete: apart.complete,
        kept: apart.kept.map(|kept| Kept {
            enters_mm: kept.enters,
            from_mm: kept.from,
            to_mm: kept.to,
            least_rope_mm: kept.least_rope,
            least_mm: kept.least,
            least_at_mm: kept.least_at,
        }),
        travels: apart.travels.iter().map(of_travel).collect(),
        status,
    };
    files.told("apart", &content, &text::kept_apart(&station, &apart))?;
    Ok(status)
}
