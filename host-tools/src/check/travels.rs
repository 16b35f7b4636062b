//! Travel windows and spacings against the lane and against each other.

use super::{length, named, pace, time};
use crate::lane::{nominal_run, place_of};
use crate::station::{Measured, Spacing, Station, Travel, Watch, WatchKind};
use crate::text::codes::Code;
use crate::text::finding::{Finding, Level};

/// Shortest time between two carriers in a station that passes without a word, in microseconds.
const APART_US: u64 = 5_000_000;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    for watch in &station.watches {
        match &watch.kind {
            WatchKind::Travel(travel) => against_lane(station, watch, travel, found),
            WatchKind::Spacing(spacing) => spaced(station, watch, spacing, found),
            _ => {}
        }
    }
    for (at, second) in station.watches.iter().enumerate() {
        for first in station.watches.iter().take(at) {
            disjoint(station, first, second, found);
        }
    }
}

/// A window in the unit of the travel's age, as seen by a carrier that needs so much rope.
fn ages(travel: &Travel, station: &Station, rope: f64) -> Option<(f64, f64)> {
    match travel.measured {
        Measured::Rope(_) => Some((rope, rope)),
        Measured::Time { pace: at, least, most } => {
            let span = f64::from(pace(station, at)?.span.max(1));
            Some((rope * span / f64::from(most.max(1)), rope * span / f64::from(least.max(1))))
        }
    }
}

fn window(station: &Station, travel: &Travel) -> String {
    let shown = |age: u32| match travel.measured {
        Measured::Rope(_) => length(u64::from(age)),
        Measured::Time { .. } => time(u64::from(age) * u64::from(station.scan_us)),
    };
    format!("{} to {}", shown(travel.earliest), shown(travel.latest))
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded, not negative")]
fn rope(mm: f64) -> String {
    length(mm.round().max(0.0) as u64)
}

fn against_lane(station: &Station, watch: &Watch, travel: &Travel, found: &mut Vec<Finding>) {
    let (Some(from), Some(to)) = (place_of(station, travel.from), place_of(station, travel.to)) else {
        return;
    };
    let Some(apart) = to.checked_sub(from).filter(|mm| *mm > 0) else {
        return;
    };
    let nominal = station.lane.as_ref().and_then(|lane| nominal_run(lane, from, to));
    let distance = f64::from(apart);
    let (earliest, latest) = (f64::from(travel.earliest), f64::from(travel.latest));
    let at_rope_speed = nominal.is_some_and(|run| (run - distance).abs() <= distance / 100.0);
    let through = ages(travel, station, distance).is_some_and(|(least, most)| least <= latest && most >= earliest);
    if through && !at_rope_speed {
        let message =
            format!("travel '{}' would let pass a carrier that runs on at the speed of the rope", watch.name.text);
        let mut finding = Finding::new(Code::WindowAtRopeSpeed, message).at(
            watch.name.place,
            format!(
                "'{}' and '{}' are {} apart, which lies within {}",
                named(station, travel.from),
                named(station, travel.to),
                length(u64::from(apart)),
                window(station, travel)
            ),
        );
        if nominal.is_none() {
            finding.level = Level::Warning;
            finding = finding.help("narrow the window, or describe the lane between the two detectors");
        } else {
            finding = finding.help("narrow the window, so that a carrier still on the rope is early");
        }
        found.push(finding);
    }
    let Some(run) = nominal else { return };
    if let Some((least, most)) = ages(travel, station, run)
        && (least < earliest || most > latest)
    {
        let message = format!("a carrier that keeps to the lane trips travel '{}'", watch.name.text);
        found.push(
            Finding::new(Code::WindowMissesRun, message)
                .at(
                    watch.name.place,
                    format!("its run is {} of rope, the window {}", rope(run), window(station, travel)),
                )
                .help("check the window against the lane's stretches"),
        );
    }
    if let Some(lane) = &station.lane {
        let under_way = (run / f64::from(lane.every.max(1)) - 1e-9).ceil();
        if under_way > f64::from(travel.capacity) {
            let message = format!(
                "travel '{}' follows no more than {} at once, and up to {under_way} are under way",
                watch.name.text, travel.capacity
            );
            found.push(
                Finding::new(Code::CapacityExceeded, message)
                    .at(watch.name.place, format!("its run is {} of rope", rope(run)))
                    .at(lane.name.place, format!("a carrier every {}", length(u64::from(lane.every))))
                    .help(format!("write 'up to {under_way} carriers under way'")),
            );
        }
    }
}

fn disjoint(station: &Station, first: &Watch, second: &Watch, found: &mut Vec<Finding>) {
    let (WatchKind::Travel(a), WatchKind::Travel(b)) = (&first.kind, &second.kind) else {
        return;
    };
    let never_both = !first.modes.is_empty()
        && !second.modes.is_empty()
        && !first.modes.iter().any(|mode| second.modes.contains(mode));
    let comparable = match (a.measured, b.measured) {
        (Measured::Rope(p), Measured::Rope(q)) => p == q,
        (Measured::Time { pace: p, least, most }, Measured::Time { pace: q, least: other_least, most: other_most }) => {
            p == q && least <= other_most && other_least <= most
        }
        _ => false,
    };
    let same = a.from == b.from && a.to == b.to && comparable && !never_both;
    if same && (a.latest < b.earliest || b.latest < a.earliest) {
        let message = format!("no carrier can satisfy both '{}' and '{}'", first.name.text, second.name.text);
        found.push(
            Finding::new(Code::WindowsDisjoint, message)
                .at(second.name.place, window(station, b))
                .at(first.name.place, window(station, a))
                .help("let the two windows overlap, or take one of the travels out"),
        );
    }
}

fn spaced(station: &Station, watch: &Watch, spacing: &Spacing, found: &mut Vec<Finding>) {
    let scan_us = u64::from(station.scan_us);
    // The stated distance is a scan less than the one that is judged.
    let (us, how) = match spacing.measured {
        Measured::Time { .. } => (u64::from(spacing.least.saturating_sub(1)) * scan_us, ""),
        Measured::Rope(at) => {
            let Some(pace) = pace(station, at).filter(|pace| pace.top > 0) else {
                return;
            };
            let a_scan = pace.top.div_ceil(pace.span.max(1));
            let mm = u64::from(spacing.least.saturating_sub(a_scan));
            let us = mm.saturating_mul(u64::from(pace.span)).saturating_mul(scan_us) / u64::from(pace.top);
            (us, " at the pace's greatest speed")
        }
    };
    if us < APART_US {
        let message =
            format!("spacing '{}' lets two carriers follow within {}{how}", watch.name.text, time(us / 1_000 * 1_000));
        found.push(
            Finding::new(Code::SpacingShort, message)
                .at(watch.name.place, "for detachable chairs in a station at least 5 s are usual")
                .help("widen the spacing, or note why local rules allow less"),
        );
    }
}
