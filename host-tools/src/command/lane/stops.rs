//! `haltproof lane stops`.

use serde::Serialize;

use super::{Files, Outcome};
use host_tools::lane::stands::{OfRequirement, OfWatch, Stand, of_requirements, of_watches};
use host_tools::lane::text;

#[derive(Serialize)]
struct Stops<'a> {
    station: &'a str,
    revision: u32,
    watches: Vec<Stopped<'a>>,
    requirements: Vec<Stopped<'a>>,
    status: u8,
}

#[derive(Serialize)]
struct Stopped<'a> {
    name: &'a str,
    way: Option<&'static str>,
    stop: &'a str,
    /// Until the outputs have let go.
    responds_us: u64,
    runs_mm: u64,
    stands_after_us: u64,
    seen_at_mm: Option<u32>,
    stands_at_mm: Option<u32>,
    held_until_mm: Option<u32>,
}

pub(super) fn run(files: &Files) -> Outcome {
    let station = files.station()?;
    let (watches, requirements) = (of_watches(&station), of_requirements(&station));
    let stop = |at: usize| station.stops.get(at).map_or("", |stop| stop.name.text.as_str());
    let placed = |stand: Option<Stand>| (stand.map(|s| s.from), stand.map(|s| s.at), stand.and_then(|s| s.bound));
    let of_watch = |run: &OfWatch| {
        let (seen_at_mm, stands_at_mm, held_until_mm) = placed(run.stand);
        Stopped {
            name: station.watches.get(run.path.watch).map_or("", |watch| watch.name.text.as_str()),
            way: Some(run.path.way.text()),
            stop: stop(run.stop),
            responds_us: run.path.total_us(),
            runs_mm: run.stopping.runs,
            stands_after_us: run.stopping.lasts_us,
            seen_at_mm,
            stands_at_mm,
            held_until_mm,
        }
    };
    let of_requirement = |run: &OfRequirement| {
        let (seen_at_mm, stands_at_mm, held_until_mm) = placed(run.stand);
        Stopped {
            name: station.requirements.get(run.requirement).map_or("", |it| it.name.text.as_str()),
            way: None,
            stop: stop(run.stop),
            responds_us: run.allowed_us,
            runs_mm: run.stopping.runs,
            stands_after_us: run.stopping.lasts_us,
            seen_at_mm,
            stands_at_mm,
            held_until_mm,
        }
    };
    let stands = watches.iter().map(|run| run.stand).chain(requirements.iter().map(|run| run.stand));
    let status = u8::from(stands.flatten().any(|stand| stand.passes()));
    let content = Stops {
        station: &station.title,
        revision: station.revision,
        watches: watches.iter().map(of_watch).collect(),
        requirements: requirements.iter().map(of_requirement).collect(),
        status,
    };
    files.told("stops", &content, &text::stops(&station, &watches, &requirements))?;
    Ok(status)
}
