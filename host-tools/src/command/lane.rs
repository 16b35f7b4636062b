//! `haltproof lane`.

use std::io::Write;
use std::path::PathBuf;

use clap::{Args, Subcommand};
use serde::Serialize;

use super::output::Output;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::json::document;
use host_tools::lane::apart::{Apart, apart};
use host_tools::lane::published::published;
use host_tools::lane::stands::{Stand, of_requirements, of_watches};
use host_tools::lane::text;
use host_tools::station::Station;

/// What the lane says of limits: stops against places, carriers kept apart, published limits.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof lane stops drive.rules requirements.rules\n\
    Exit status: 0 all is kept, 1 something is not, 2 it could not be done.")]
pub(super) struct LaneOf {
    #[command(subcommand)]
    question: Question,
}

#[derive(Debug, Subcommand)]
enum Question {
    /// How far the rope runs until each stop has brought it to standstill, and where the carrier stands then.
    #[command(after_help = "Example: haltproof lane stops drive.rules requirements.rules\n\
        Exit status: 0 no badly closed grip gets past where it is held, 1 one may, 2 it could not be done.")]
    Stops(Files),
    /// How near two carriers can come, how many are under way, and whether a standing one is found in time.
    #[command(after_help = "Example: haltproof lane apart drive.rules\n\
        Exit status: 0 carriers stay apart, 1 they may touch, 2 it could not be done.")]
    Apart(Files),
    /// Limits from published rules, beside what the station has.
    #[command(after_help = "Example: haltproof lane limits drive.rules\n\
        Exit status: 0 each is kept, 1 one is not or is not known, 2 it could not be done.")]
    Limits(Files),
}

#[derive(Debug, Args)]
struct Files {
    /// Rule files, read as one station; `-` is the standard input.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

impl Files {
    /// The station, which must have a lane.
    fn station(&self) -> Result<Station, Failure> {
        let station = stages::sound_station(files::read_all(&self.rules)?)?;
        if station.lane.is_none() {
            return Err(Failure::Said("no lane is described; add a 'lane' (`haltproof manual language`)".to_owned()));
        }
        Ok(station)
    }
    fn told<T: Serialize>(&self, kind: &str, content: &T, text: &str) -> Result<(), Failure> {
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => document(&mut to, kind, content)?,
            Shape::Text => write!(to, "{text}")?,
        }
        to.finish()?;
        Ok(())
    }
}

impl LaneOf {
    pub(super) fn run(&self) -> Outcome {
        match &self.question {
            Question::Stops(files) => stops(files),
            Question::Apart(files) => kept_apart(files),
            Question::Limits(files) => limits(files),
        }
    }
}

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

fn stops(files: &Files) -> Outcome {
    let station = files.station()?;
    let (watches, requirements) = (of_watches(&station), of_requirements(&station));
    let stop = |at: usize| station.stops.get(at).map_or("", |stop| stop.name.text.as_str());
    let placed = |stand: Option<Stand>| (stand.map(|s| s.from), stand.map(|s| s.at), stand.and_then(|s| s.bound));
    let of_watch = |run: &host_tools::lane::stands::OfWatch| {
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
    let of_requirement = |run: &host_tools::lane::stands::OfRequirement| {
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

fn kept_apart(files: &Files) -> Outcome {
    let station = files.station()?;
    let Some(kept) = apart(&station) else {
        return Err(Failure::Said("no spacing and no travel with places on the lane: nothing is watched".to_owned()));
    };
    let Apart { enters, watched_from, watched_to, least_rope, least, least_at, ref travels } = kept;
    let of_travel = |travel: &host_tools::lane::apart::OfTravel| KeptTravel {
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

fn limits(files: &Files) -> Outcome {
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
