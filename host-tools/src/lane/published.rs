//! Limits from published rules, held against a station. They name their source and bind nobody by themselves: local rules and
//! the competent authority decide.
//!
//! The loading speed is that for skiers; for pedestrians who get on from the front it is 1.0 m/s (article 10 I b).
//! Values of the French order are those of the French ministerial order of 7 August 2009 on aerial ropeways (NOR DEVT0916606A),
//! read in a public mirror of the law.

use super::apart::{Apart, Holds, apart};
use super::course::Course;
use super::place_of;
use super::rope::{line_speed, rope};
use super::stands::{of_watches, up};
use super::words::{metres, seconds, seconds_down, speed};
use crate::station::{Lane, LoadsOn, Station, Watch, WatchKind};
use crate::text::place::Place;

/// What a published rule limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Matter {
    /// Greatest line speed.
    LineSpeed,
    /// Greatest speed where people get on.
    LoadingSpeed,
    /// Least interval between two detachable chairs in a station.
    Interval,
    /// The interval is monitored.
    Monitored,
    /// The interval is monitored where people get on, if carriers come soon after each other.
    LoadingMonitored,
    /// Greatest speed at which cabins may touch.
    Impact,
    /// Least delay before a restart.
    Restart,
    /// Greatest mean deceleration of both brakes together.
    BothBrakes,
    /// Stop category of an emergency stop.
    Emergency,
    /// Level or rising rope behind the coupling point.
    LevelRope,
    /// The last device that checks the grip stops the rope within that.
    LastCheck,
}

/// A published limit beside what the station has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Published {
    /// What is limited.
    pub matter: Matter,
    /// What is limited, in words.
    pub what: &'static str,
    /// Rule and clause.
    pub source: &'static str,
    /// The limit in words.
    pub limit: String,
    /// What the station has, in words.
    pub is: String,
    /// Whether the limit is kept; None where the file does not say enough.
    pub kept: Option<bool>,
    /// Where in the rule file.
    pub place: Option<Place>,
}

/// Greatest line speed of one carrying-hauling rope, mm/s (article 9).
const LINE: u32 = 6_000;
/// Greatest loading speed of open chairs with detachable grips, skiers, mm/s (article 10 I b).
const CHAIRS: u32 = 1_300;
/// Greatest loading speed of closed cabins, mm/s (article 10 I a).
const CABINS: u32 = 500;
/// Least interval of detachable chairs in stations, microseconds (article 12).
const APART_US: u64 = 5_000_000;
/// Greatest speed of an impact between cabins, mm/s (article 13 II).
const IMPACT: u32 = 1_000;
/// Restart delay, milliseconds (article 16).
const RESTART_MS: u64 = 10_000;
/// Both brakes together, mm/s² (annex 3, table 4).
const BOTH: u32 = 2_500;

/// Each limit, in a fixed order; those that do not concern the station are left out.
pub fn published(station: &Station) -> Vec<Published> {
    let mut out = Vec::new();
    if let Some(lane) = &station.lane {
        let kept = apart(station);
        out.extend(line(station, lane));
        out.extend(loading(station, lane));
        out.extend(interval(station, lane, kept.as_ref()));
        out.push(monitored(station, lane));
        out.extend(loading_monitored(station, lane, kept.as_ref()));
        out.extend(impact(lane, kept.as_ref()));
    }
    out.push(restart(station));
    out.extend(both_brakes(station));
    out.extend(emergency(station));
    if let Some(lane) = &station.lane {
        out.extend(level_rope(station, lane));
        out.push(last_check(station, lane));
    }
    out
}

fn line(station: &Station, lane: &Lane) -> Option<Published> {
    let is = line_speed(station)?;
    Some(Published {
        matter: Matter::LineSpeed,
        what: "line speed, one carrying-hauling rope",
        source: "French order of 7 August 2009, article 9",
        limit: format!("at most {}", speed(LINE)),
        is: speed(is),
        kept: Some(is <= LINE),
        place: Some(lane.name.place),
    })
}

/// Greatest speed of a carrier where people get on, mm/s, at the line speed.
fn loading_speed(station: &Station, lane: &Lane) -> Option<u32> {
    let loads = lane.loads?;
    let course = Course::new(lane);
    // The share goes one way on each stretch, so that it is greatest at an end of one.
    let ends = lane.stretches.iter().flat_map(|stretch| [stretch.from, stretch.to]).chain([loads.from, loads.to]);
    let share = ends
        .filter(|place| (loads.from..=loads.to).contains(place))
        .map(|place| course.share_after(course.run_to(f64::from(place))))
        .fold(0.0, f64::max);
    Some(up(share * f64::from(line_speed(station)?)))
}

fn loading(station: &Station, lane: &Lane) -> Option<Published> {
    let (what, source, most) = match lane.loads?.kind {
        LoadsOn::OpenChairs(_) => (
            "speed where skiers get on open chairs with detachable grips",
            "French order of 7 August 2009, article 10 I b",
            CHAIRS,
        ),
        LoadsOn::ClosedCabins => {
            ("speed where people get on closed cabins", "French order of 7 August 2009, article 10 I a", CABINS)
        }
    };
    let is = loading_speed(station, lane)?;
    Some(Published {
        matter: Matter::LoadingSpeed,
        what,
        source,
        limit: format!("at most {}", speed(most)),
        is: format!("{} at {} of rope", speed(is), speed(line_speed(station)?)),
        kept: Some(is <= most),
        place: Some(lane.name.place),
    })
}

/// Time between two carriers so much rope apart, at the line speed, microseconds, rounded down.
fn between_us(station: &Station, rope: u32) -> Option<u64> {
    Some(u64::from(rope) * 1_000_000 / u64::from(line_speed(station)?.max(1)))
}

/// Least rope between two carriers, where it is known all over the lane.
fn least_rope(apart: Option<&Apart>) -> Option<u32> {
    apart.filter(|apart| apart.complete).and_then(|apart| apart.kept).map(|kept| kept.least_rope)
}

fn interval(station: &Station, lane: &Lane, apart: Option<&Apart>) -> Option<Published> {
    if !matches!(lane.loads?.kind, LoadsOn::OpenChairs(_)) {
        return None;
    }
    let least = least_rope(apart).and_then(|rope| Some((between_us(station, rope)?, rope)));
    Some(Published {
        matter: Matter::Interval,
        what: "interval of detachable chairs in the station, as short as the rules permit",
        source: "French order of 7 August 2009, article 12",
        limit: format!("at least {}", seconds(APART_US)),
        is: least.map_or_else(
            || "not known, since nothing keeps carriers apart all over the lane".to_owned(),
            |(us, rope)| format!("{}, {} of rope", seconds_down(us), metres(rope.into())),
        ),
        kept: least.map(|(us, _)| us >= APART_US),
        place: Some(lane.name.place),
    })
}

/// A spacing that holds in every mode.
fn monitored(station: &Station, lane: &Lane) -> Published {
    let own = rope(station).map(|(at, _)| at);
    let holds = |watch: &Watch| {
        watch.modes.is_empty()
            && matches!(&watch.kind, WatchKind::Spacing(spacing) if Some(spacing.measured.pace()) == own)
    };
    let kept = station.watches.iter().any(holds);
    Published {
        matter: Matter::Monitored,
        what: "monitoring of the interval",
        source: "French order of 7 August 2009, article 13 I",
        limit: "a watch of it".to_owned(),
        is: if kept { "a spacing" } else { "no spacing that holds in every mode" }.to_owned(),
        kept: Some(kept),
        place: Some(lane.name.place),
    }
}

fn loading_monitored(station: &Station, lane: &Lane, apart: Option<&Apart>) -> Option<Published> {
    let LoadsOn::OpenChairs(seats) = lane.loads?.kind else { return None };
    let from_us = match seats {
        4 => Some(6_000_000),
        6 => Some(7_200_000),
        8 => Some(8_000_000),
        _ => None,
    };
    let us = least_rope(apart).and_then(|rope| between_us(station, rope));
    let watched = covered(station, lane, apart);
    let shown = if watched { "travels cover it" } else { "no travel covers it" };
    Some(Published {
        matter: Matter::LoadingMonitored,
        what: "monitoring where people get on open chairs",
        source: "French order of 7 August 2009, article 13 III",
        limit: from_us.map_or_else(
            || "nothing for so many seats: 4, 6 and 8 are stated".to_owned(),
            |from| format!("it below {} with {seats} seats", seconds(from)),
        ),
        is: us.map_or_else(
            || format!("interval not known, {shown}"),
            |us| format!("every {}, {shown}", seconds_down(us)),
        ),
        kept: match (from_us, us) {
            _ if watched => Some(true),
            (Some(from), Some(us)) => Some(us >= from),
            // That they come so soon cannot be excluded.
            (Some(_), None) => Some(false),
            (None, _) => None,
        },
        place: Some(lane.name.place),
    })
}

/// Travels that always hold cover the whole of where people get on.
fn covered(station: &Station, lane: &Lane, apart: Option<&Apart>) -> bool {
    let (Some(loads), Some(apart)) = (lane.loads, apart) else { return false };
    let mut spans: Vec<(u32, u32)> = apart
        .travels
        .iter()
        .filter(|travel| travel.holds == Holds::Always)
        .filter_map(|travel| match &station.watches.get(travel.watch)?.kind {
            WatchKind::Travel(travel) => Some((place_of(station, travel.from)?, place_of(station, travel.to)?)),
            _ => None,
        })
        .collect();
    spans.sort_unstable();
    let mut reached = loads.from;
    for (from, to) in spans {
        if from <= reached {
            reached = reached.max(to);
        }
    }
    reached >= loads.to
}

fn impact(lane: &Lane, apart: Option<&Apart>) -> Option<Published> {
    if lane.loads?.kind != LoadsOn::ClosedCabins {
        return None;
    }
    let apart = apart?;
    let worst = apart.travels.iter().filter_map(|travel| travel.contact).map(|contact| contact.speed).max();
    // Whoever touches without any stop does so at a speed that nothing tells; without a length nobody knows when they touch.
    let known = apart.complete
        && lane.body.is_some()
        && apart.kept.is_some_and(|kept| kept.least > 0)
        && apart.travels.iter().all(|travel| travel.carried || travel.holds == Holds::Always);
    let fast = worst.is_some_and(|worst| worst > IMPACT);
    let shown = worst.map_or_else(|| "no contact".to_owned(), speed);
    Some(Published {
        matter: Matter::Impact,
        what: "speed at which a cabin may run into the one ahead",
        source: "French order of 7 August 2009, article 13 II",
        limit: format!("at most {}", speed(IMPACT)),
        is: match (fast, known) {
            (true, _) | (_, true) => shown,
            (false, false) => {
                "not known: too little of the lane is always watched, or no length of bodies is stated".to_owned()
            }
        },
        kept: if fast { Some(false) } else { known.then_some(true) },
        place: Some(lane.name.place),
    })
}

fn restart(station: &Station) -> Published {
    let ms = station.ms(station.restart);
    Published {
        matter: Matter::Restart,
        what: "delay before a restart",
        source: "French order of 7 August 2009, article 16",
        limit: format!("at least {}", seconds(RESTART_MS * 1_000)),
        is: seconds(ms * 1_000),
        kept: Some(ms >= RESTART_MS),
        place: station.stops.last().map(|stop| stop.name.place),
    }
}

/// Stops whose brakes can act together, with what they come to at most, mm/s²: stops latch, so that each can stand
/// with any other. One that releases nothing which another does not release as well adds nothing to it.
pub fn together(station: &Station) -> (Vec<usize>, u32) {
    let outputs = |at: usize| {
        station.stops.get(at).map_or_else(Vec::new, |stop| {
            let then = stop.then.iter().flat_map(|then| then.outputs.iter());
            stop.releases.iter().chain(then).copied().collect::<Vec<usize>>()
        })
    };
    let most = |at: usize| station.stops.get(at).map_or(0, |stop| stop.slows.1);
    let mut order: Vec<usize> = (0..station.stops.len()).collect();
    order.sort_by_key(|&at| (std::cmp::Reverse(most(at)), at));
    let mut acting: Vec<usize> = Vec::new();
    for at in order {
        let own = outputs(at);
        if !acting.iter().any(|&other| own.iter().all(|output| outputs(other).contains(output))) {
            acting.push(at);
        }
    }
    acting.sort_unstable();
    let sum = acting.iter().fold(0_u32, |sum, &at| sum.saturating_add(most(at)));
    (acting, sum)
}

fn both_brakes(station: &Station) -> Option<Published> {
    let (acting, most) = together(station);
    let last = station.stops.last()?;
    let names: Vec<&str> =
        acting.iter().filter_map(|&at| station.stops.get(at)).map(|stop| stop.name.text.as_str()).collect();
    Some(Published {
        matter: Matter::BothBrakes,
        what: "deceleration of all brakes together, where a single failure can stack them",
        source: "French order of 7 August 2009, annex 3, table 4",
        limit: "at most 2.5 m/s2".to_owned(),
        is: format!("{} m/s2 by {}", super::words::decimal(most.into(), 1_000), names.join(" and ")),
        kept: Some(most <= BOTH),
        place: Some(last.name.place),
    })
}

fn emergency(station: &Station) -> Option<Published> {
    let stop = station.stops.iter().find(|stop| stop.for_emergencies)?;
    Some(Published {
        matter: Matter::Emergency,
        what: "stop category of the emergency stop",
        source: "ISO 13850 and IEC 60204-1",
        limit: "0 or 1".to_owned(),
        is: stop.category.to_string(),
        kept: Some(stop.category <= 1),
        place: Some(stop.name.place),
    })
}

/// L = V², L in m and V in m/s, as mm for mm/s, rounded up.
fn level(station: &Station) -> Option<u64> {
    let v = u64::from(line_speed(station)?);
    Some((v * v).div_ceil(1_000))
}

fn level_rope(station: &Station, lane: &Lane) -> Option<Published> {
    let least = level(station)?;
    let is = u64::from(lane.held_until.saturating_sub(lane.couples));
    Some(Published {
        matter: Matter::LevelRope,
        what: "level or rising rope behind the coupling point, L = V x V",
        source: "State of Colorado's rule 3.1.4.3.4.3 to ANSI B77.1",
        limit: format!("at least {}", metres(least)),
        is: format!("{} until a badly shut grip is no longer held", metres(is)),
        // A length is only asked for where it is said how fast the lift is run.
        kept: lane.line_speed.map(|_| is >= least),
        place: Some(lane.name.place),
    })
}

fn last_check(station: &Station, lane: &Lane) -> Published {
    let hold = u64::from(lane.held_until.saturating_sub(lane.couples));
    // The level rope that the rule asks for, if the lane says how fast it is run; no more than there is.
    let most = lane.line_speed.and_then(|_| level(station)).map_or(hold, |level| level.min(hold));
    let stops = of_watches(station);
    let last = stops
        .iter()
        .filter_map(|run| Some((run, run.stand.filter(|stand| stand.bound.is_some() && stand.from >= lane.couples)?)))
        .max_by_key(|(_, stand)| (stand.from, stand.at));
    let beyond = last.map(|(_, stand)| u64::from(stand.at.saturating_sub(lane.couples)));
    Published {
        matter: Matter::LastCheck,
        what: "rope from the coupling point until the last check of the grip has stopped it",
        source: "State of Colorado's rule 3.1.4.3.4.3 to ANSI B77.1",
        limit: format!("at most {}", metres(most)),
        is: last.zip(beyond).map_or_else(
            || "not known: no watch of a grip has a place behind the coupling point".to_owned(),
            |((run, _), beyond)| format!("{} by '{}'", metres(beyond), run.path.name),
        ),
        kept: beyond.map(|beyond| beyond <= most),
        place: last
            .and_then(|(run, _)| station.watches.get(run.path.watch))
            .map_or(Some(lane.name.place), |watch| Some(watch.name.place)),
    }
}
