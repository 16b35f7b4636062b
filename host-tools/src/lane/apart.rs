//! Carriers kept apart: the least distance that the rules permit between two of them anywhere on the lane, how many can be
//! under way in each travel, and whether a carrier that stands still is found late before the next one has come to it.
//!
//! The first carrier is as slow as its windows permit, evenly over each, and the next one as fast. At the detector of a spacing they are as near
//! as the rules, or the lane, let them be; each travel on the way may take its whole width away. Where no travel joins one
//! detector to the next, nothing holds carriers apart, and nothing is said from there on.

use super::course::Course;
use super::motion::{speed_after, stopping};
use super::rope::{rope, speed, top_speed};
use super::stands::{stop_of, up, whole};
use crate::respond;
use crate::station::{InputId, InputKind, Lane, Measured, Mm, Station, Travel, WatchId, WatchKind, ways::Way};

/// What the rules permit two carriers that follow each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Apart {
    /// Rope between them where they are watched first, mm.
    pub enters: Mm,
    /// Where that is on the lane, mm.
    pub watched_from: Mm,
    /// To where travels follow each other without a gap, mm.
    pub watched_to: Mm,
    /// Least rope between them up to there, mm.
    pub least_rope: Mm,
    /// Least distance along the lane from the tail of the first to the front of the second, mm, rounded down: negative where
    /// they touch. Without a stated length of bodies, from front to front.
    pub least: i64,
    /// Where the first one's front is then, mm.
    pub least_at: Mm,
    /// Travel by travel.
    pub travels: Vec<OfTravel>,
}

/// Carriers in a travel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfTravel {
    /// The watch.
    pub watch: WatchId,
    /// Least rope between two carriers where the travel begins, mm.
    pub rope: Mm,
    /// Greatest number under way at once.
    pub under_way: u32,
    /// Rope after which a carrier that has not come is late, mm; for a window in time, at the greatest speed of its band.
    pub late: Mm,
    /// No carrier can stand on it while the rope runs.
    pub carried: bool,
    /// The greatest late limit, in rope, with which the next carrier still stands before it touches one that stands still
    /// as soon as it can; mm, rounded down. Negative: no limit is early enough. None where being late
    /// calls no stop, or where carriers are carried.
    pub late_at_most: Option<i64>,
    /// What happens if one stands still within the travel.
    pub contact: Option<Contact>,
}

/// A carrier runs into one that stands still.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Contact {
    /// Greatest speed at which it does, mm/s, rounded up.
    pub speed: u32,
    /// Place of the standing one's front then, mm.
    pub at: Mm,
}

/// A travel that is measured in the lane's rope, or in time while that rope runs in its band.
struct Link<'a> {
    watch: WatchId,
    travel: &'a Travel,
    from: Mm,
    to: Mm,
    earliest: u64,
    latest: u64,
    always: bool,
}

/// None without a lane, or where nothing on it is watched.
pub fn apart(station: &Station) -> Option<Apart> {
    let lane = station.lane.as_ref()?;
    let course = Course::new(lane);
    let (links, enters, start) = (links(station), enters(station, lane), begins(station)?);
    // Rope that is left between two carriers at each place: along the way that loses least, as each travel holds by itself.
    let mut left: Vec<(Mm, u64)> = vec![(start, u64::from(enters))];
    for link in &links {
        // A travel that is off in some modes holds nothing apart there.
        let (Some(before), true) = (least_at(&left, link.from), link.always) else { continue };
        let after = before.saturating_sub(link.latest.saturating_sub(link.earliest) + 2 * u64::from(a_scan(station)));
        match left.iter_mut().find(|(place, _)| *place == link.to) {
            Some((_, rope)) => *rope = (*rope).max(after),
            None => left.push((link.to, after)),
        }
    }
    left.sort_unstable();
    let (mut least, mut least_at_place) = (f64::INFINITY, start);
    let body = f64::from(lane.body.unwrap_or(0));
    // Between two places the worse of both counts: how much of a travel's width is gone within it is not known.
    for pair in left.windows(2) {
        let &[(from, before), (to, after)] = pair else { continue };
        let ends = [from, to].map(|place| course.run_to(f64::from(place)));
        let (distance, at) = nearest(&course, ends, whole(before.min(after)));
        if distance < least {
            (least, least_at_place) = (distance, up(course.place_at(at)));
        }
    }
    let last = left.last().copied()?;
    Some(Apart {
        enters,
        watched_from: start,
        watched_to: last.0,
        least_rope: left.iter().map(|(_, rope)| mm(*rope)).min().unwrap_or(enters),
        least: down(if least.is_finite() { least - body } else { f64::from(enters) - body }),
        least_at: least_at_place,
        travels: links
            .iter()
            .filter_map(|link| Some(of_travel(station, lane, &course, link, least_at(&left, link.from)?)))
            .collect(),
    })
}

/// Rope between carriers where they are watched first: what a spacing permits, or what the lane declares, whichever is less.
fn enters(station: &Station, lane: &Lane) -> Mm {
    let declared = lane.least_every.unwrap_or(lane.every);
    let own = rope(station).map(|(at, _)| at);
    let permitted = station.watches.iter().filter_map(|watch| match &watch.kind {
        WatchKind::Spacing(spacing)
            if watch.modes.is_empty() && matches!(spacing.measured, Measured::Rope(at) if Some(at) == own) =>
        {
            Some(spacing.least.saturating_sub(a_scan(station)))
        }
        _ => None,
    });
    permitted.max().map_or(declared, |permitted| permitted.min(declared))
}

/// Rope that runs in a scan at most, mm: what is counted between two edges is off by less than that, either way.
fn a_scan(station: &Station) -> Mm {
    rope(station).map_or(0, |(_, pace)| pace.top.div_ceil(pace.span.max(1)))
}

/// Where carriers are watched first: at the detector of a spacing, or where the first travel begins.
fn begins(station: &Station) -> Option<Mm> {
    let spaced = station.watches.iter().filter_map(|watch| match &watch.kind {
        WatchKind::Spacing(spacing) => place(station, spacing.detector),
        _ => None,
    });
    let first = links(station).first().map(|link| link.from);
    spaced.min().or(first)
}

/// Travels in the order of their places.
fn links(station: &Station) -> Vec<Link<'_>> {
    let own = rope(station).map(|(at, _)| at);
    let mut links: Vec<Link<'_>> = Vec::new();
    for (watch, it) in station.watches.iter().enumerate() {
        let WatchKind::Travel(travel) = &it.kind else { continue };
        let (Some(from), Some(to)) = (place(station, travel.from), place(station, travel.to)) else { continue };
        let ages = match travel.measured {
            Measured::Rope(pace) if Some(pace) == own => Some((u64::from(travel.earliest), u64::from(travel.latest))),
            Measured::Time { pace, least, most } if Some(pace) == own => rope(station).map(|(_, pace)| {
                let span = u64::from(pace.span.max(1));
                let earliest = u64::from(travel.earliest) * u64::from(least) / span;
                (earliest, (u64::from(travel.latest) * u64::from(most)).div_ceil(span))
            }),
            _ => None,
        };
        if let Some((earliest, latest)) = ages
            && from < to
        {
            links.push(Link { watch, travel, from, to, earliest, latest, always: it.modes.is_empty() });
        }
    }
    links.sort_by_key(|link| (link.from, link.to, link.watch));
    links
}

/// Rope that is left at a place, if travels lead there.
fn least_at(left: &[(Mm, u64)], place: Mm) -> Option<u64> {
    left.iter().find(|(at, _)| *at == place).map(|(_, rope)| *rope)
}

/// Least distance from front to front between two carriers so much rope apart, while the first runs from one place in rope to
/// another, and where it is then. Between two ends of stretches both shares are linear in the run, so that the
/// least is at an end or where the shares are equal.
fn nearest(course: &Course, [from, to]: [f64; 2], rope: f64) -> (f64, f64) {
    let mut runs: Vec<f64> = course.ends().into_iter().flat_map(|run| [run, run + rope]).collect();
    runs.retain(|run| *run > from && *run < to);
    runs.extend([from, to]);
    runs.sort_by(f64::total_cmp);
    let apart = |run: f64| course.place_at(run) - course.place_at(run - rope);
    let gains = |run: f64| course.share_after(run) - course.share_after(run - rope);
    let mut best = (f64::INFINITY, from);
    let mut look = |run: f64| {
        if apart(run) < best.0 {
            best = (apart(run), run);
        }
    };
    for pair in runs.windows(2) {
        let &[one, other] = pair else { continue };
        look(one);
        look(other);
        // A little inside: at an end of a stretch the share may jump.
        let inside = (other - one) * 1e-9;
        let (first, last) = (gains(one + inside), gains(other - inside));
        if first < 0.0 && last > 0.0 {
            look(one + (other - one) * first / (first - last));
        }
    }
    best
}

fn of_travel(station: &Station, lane: &Lane, course: &Course, link: &Link<'_>, left: u64) -> OfTravel {
    let body = f64::from(lane.body.unwrap_or(0));
    let under_way = u32::try_from(link.latest / left.max(1) + 1).unwrap_or(u32::MAX);
    // Rope that runs from the first one's passing of a place on the lane until the next one is at its tail there.
    let reach = |place: f64| {
        let first = course.run_to(f64::from(link.from));
        whole(left) + course.run_to(place - body) - first
    };
    let late = respond::paths(station)
        .into_iter()
        .find(|path| path.watch == link.watch && path.way == Way::Late)
        .and_then(|path| Some((path.total_us(), stop_of(station, path.answer)?.1)));
    let top = match link.travel.measured {
        Measured::Time { most, .. } => rope(station).map(|(_, pace)| speed(station, pace, most)),
        Measured::Rope(_) => top_speed(station),
    };
    let bound = late.zip(top).and_then(|((path_us, stop), top)| {
        let reacts_us = path_us + u64::from(stop.bites_us);
        Some((stopping(top, reacts_us, stop.slows.0)?, reacts_us, stop.slows.0, top))
    });
    // The later a carrier stands, the farther is the next one: the first place where it can stand counts.
    let stuck = first_loose(lane, link.from, link.to);
    let room = stuck.map(|place| reach(f64::from(place)));
    let late_at_most = bound.zip(room).map(|((stop, ..), room)| down(room - whole(stop.runs)));
    let touches =
        stuck.is_some() && late_at_most.is_none_or(|most| i64::try_from(link.latest).is_ok_and(|latest| latest > most));
    let contact = touches.then(|| {
        let mut worst = Contact { speed: 0, at: link.from };
        // Ten thousand places of a travel are enough: the speed is even between them.
        let step = usize::try_from((link.to - link.from) / 10_000).unwrap_or(0) + 1;
        for at in (link.from..link.to).step_by(step).filter(|at| first_loose(lane, *at, at + 1).is_some()) {
            let place = f64::from(at);
            let since = u64::try_from(down(reach(place))).unwrap_or(0).saturating_sub(link.latest);
            let rope_speed = bound.map_or_else(
                || top.unwrap_or(0),
                |(_, reacts_us, slows, top)| speed_after(top, reacts_us, slows, since),
            );
            let speed = up(f64::from(rope_speed) * course.share_after(course.run_to(place - body)));
            if speed > worst.speed {
                worst = Contact { speed, at };
            }
        }
        worst
    });
    OfTravel {
        watch: link.watch,
        rope: mm(left),
        under_way,
        late: mm(link.latest),
        carried: stuck.is_none(),
        late_at_most,
        contact: contact.filter(|contact| contact.speed > 0),
    }
}

/// The first place of a piece of the lane where a carrier can stand while the rope runs.
fn first_loose(lane: &Lane, from: Mm, to: Mm) -> Option<Mm> {
    let loose = lane.stretches.iter().filter(|stretch| !stretch.carried && stretch.from < to && stretch.to > from);
    loose.map(|stretch| stretch.from.max(from)).min()
}

fn place(station: &Station, input: InputId) -> Option<Mm> {
    match station.inputs.get(input).map(|input| &input.kind) {
        Some(InputKind::Detector(detector)) => Some(detector.at),
        _ => None,
    }
}

fn mm(rope: u64) -> Mm {
    Mm::try_from(rope).unwrap_or(Mm::MAX)
}

/// Millimetres rounded down, with the tolerance of [`up`].
#[expect(clippy::cast_possible_truncation, reason = "cut to what fits")]
fn down(mm: f64) -> i64 {
    (mm + 1e-3).floor().clamp(-1e15, 1e15) as i64
}

#[cfg(test)]
mod tests;
