//! Carriers kept apart: the least distance that the rules permit between two of them anywhere on the lane, how many can be
//! under way in each travel, and whether a carrier that stands still is found late before the next one has come to it.
//!
//! The first carrier is as slow as its windows permit, evenly over each, and the next one as fast. At the detector of a spacing
//! they are as near as that, or the lane, lets them be; each travel on the way may take its whole width away, and what its detectors
//! and counting may hide. Only what always holds counts: in rope, in every mode, masked by no bypass. Where no such travel joins one
//! detector to the next, nothing holds carriers apart, and nothing is known from there on.

use super::course::Course;
use super::motion::{speed_after, stopping};
use super::rope::{a_scan, rope, speed, top_speed};
use super::stands::{stop_of, up, whole};
use super::{nominal_run, place_of};
use crate::respond;
use crate::station::{InputId, InputKind, Lane, Measured, Mm, Station, Travel, Watch, WatchId, WatchKind, ways::Way};

/// What the rules permit two carriers that follow each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Apart {
    /// Where they are kept apart; None where nothing keeps them so.
    pub kept: Option<Kept>,
    /// Travels follow each other from before people get on, or the grip lets go, to behind the coupling point, and each is among them.
    pub complete: bool,
    /// Travel by travel.
    pub travels: Vec<OfTravel>,
}

/// Where carriers are kept apart, and how far.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Kept {
    /// Rope between them where they are watched first, mm.
    pub enters: Mm,
    /// Where that is on the lane, mm.
    pub from: Mm,
    /// To where travels follow each other without a gap, mm.
    pub to: Mm,
    /// Least rope between them up to there, mm.
    pub least_rope: Mm,
    /// Least distance along the lane from the tail of the first to the front of the second, mm, rounded down: negative where
    /// they touch. Without a stated length of bodies, from front to front.
    pub least: i64,
    /// Where the first one's front is then, mm.
    pub least_at: Mm,
}

/// When a travel judges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    /// Always.
    Always,
    /// Only in some modes.
    Modes,
    /// Only while the rope's speed stays in its band.
    Band,
    /// Not while a bypass masks it.
    Bypassed,
    /// It measures another pace than the lane's rope.
    OtherPace,
}

/// Carriers in a travel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfTravel {
    /// The watch.
    pub watch: WatchId,
    /// When it judges; what is said below is said of then.
    pub holds: Holds,
    /// Least rope between two carriers where the travel begins, mm; None where nothing keeps them apart up to there.
    pub rope: Option<Mm>,
    /// Greatest number under way at once; None where that is not known.
    pub under_way: Option<u32>,
    /// Rope after which a carrier that has not come is late, mm; for a window in time, at the greatest speed of its band.
    pub late: Mm,
    /// No carrier can stand on it while the rope runs.
    pub carried: bool,
    /// The greatest late limit, in rope, with which the next carrier still stands before it touches one that stands still
    /// as soon as it can; mm, rounded down. Negative: no limit is early enough. None where being late
    /// calls no stop, where carriers are carried, or where `rope` is not known.
    pub late_at_most: Option<i64>,
    /// What happens if one stands still within the travel: None where no other comes to it, or where that is not known.
    pub contact: Option<Contact>,
}

impl OfTravel {
    /// It is certain that no carrier runs into one that stands still on it.
    pub fn is_safe(&self) -> bool {
        self.carried || (self.holds == Holds::Always && self.rope.is_some() && self.contact.is_none())
    }
}

/// A carrier runs into one that stands still.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Contact {
    /// Greatest speed at which it does, mm/s, rounded up.
    pub speed: u32,
    /// Place of the standing one's front then, mm.
    pub at: Mm,
}

/// A travel between two places.
struct Link<'a> {
    watch: WatchId,
    travel: &'a Travel,
    from: Mm,
    to: Mm,
    earliest: u64,
    latest: u64,
    holds: Holds,
}

/// None without a lane.
pub fn apart(station: &Station) -> Option<Apart> {
    let lane = station.lane.as_ref()?;
    let course = Course::new(lane);
    let links = links(station);
    let hidden = |place: Mm, input: InputId| hides(station, lane, &course, place, input);
    // Rope that is left between two carriers at each place: along the way that loses least, as each travel holds by itself.
    let mut left = enters(station, lane, &course, &links);
    let enters = left.iter().min().copied();
    for link in links.iter().filter(|link| link.holds == Holds::Always) {
        let Some(before) = left_at(&left, link.from) else { continue };
        let width = link.latest.saturating_sub(link.earliest);
        let off = hidden(link.from, link.travel.from) + hidden(link.to, link.travel.to);
        let after = before.saturating_sub(width + off);
        match left.iter_mut().find(|(place, _)| *place == link.to) {
            Some((_, rope)) => *rope = (*rope).max(after),
            None => left.push((link.to, after)),
        }
    }
    left.sort_unstable();
    let travels: Vec<OfTravel> =
        links.iter().map(|link| of_travel(station, lane, &course, link, left_at(&left, link.from))).collect();
    let kept = enters.and_then(|(from, rope)| kept(lane, &course, &left, (from, mm(rope))));
    let begins = lane.loads.map_or(lane.uncouples, |loads| loads.from.min(lane.uncouples));
    let ends = lane.loads.map_or(0, |loads| loads.to).max(lane.couples);
    let complete = kept.is_some_and(|kept| kept.from <= begins && kept.to >= ends)
        && travels.iter().all(|travel| travel.rope.is_some());
    Some(Apart { kept, complete, travels })
}

/// The least of what is left, and of the distances along the lane that this comes to.
fn kept(lane: &Lane, course: &Course, left: &[(Mm, u64)], (from, enters): (Mm, Mm)) -> Option<Kept> {
    let last = left.last()?;
    let (mut least, mut at) = (f64::INFINITY, from);
    let run = |place: Mm| course.run_to(f64::from(place));
    // Between two places the worse of both counts: how much of a travel's width is gone within it is not known.
    let alone = left.iter().map(|(place, rope)| ([*place, *place], *rope));
    let pairs = left.windows(2).filter_map(|pair| match pair {
        [(from, before), (to, after)] => Some(([*from, *to], (*before).min(*after))),
        _ => None,
    });
    for (places, rope) in alone.chain(pairs) {
        let (distance, then) = nearest(course, places.map(run), whole(rope));
        if distance < least {
            (least, at) = (distance, up(course.place_at(then)));
        }
    }
    Some(Kept {
        enters,
        from,
        to: last.0,
        least_rope: left.iter().map(|(_, rope)| mm(*rope)).min()?,
        least: down(least - f64::from(lane.body.unwrap_or(0))),
        least_at: at,
    })
}

/// Places at which carriers are so much rope apart: at each spacing that always holds; where there is none, what the lane declares
/// holds where the first travel begins.
fn enters(station: &Station, lane: &Lane, course: &Course, links: &[Link<'_>]) -> Vec<(Mm, u64)> {
    let mut places: Vec<(Mm, u64)> = Vec::new();
    for (at, watch) in station.watches.iter().enumerate() {
        let WatchKind::Spacing(spacing) = &watch.kind else { continue };
        let (Some(place), Holds::Always) =
            (place_of(station, spacing.detector), holds(station, at, watch, spacing.measured))
        else {
            continue;
        };
        let permitted = u64::from(spacing.least).saturating_sub(hides(station, lane, course, place, spacing.detector));
        let rope = lane.least_every.map_or(permitted, |declared| permitted.min(declared.into()));
        match places.iter_mut().find(|(known, _)| *known == place) {
            Some((_, known)) => *known = (*known).max(rope),
            None => places.push((place, rope)),
        }
    }
    if places.is_empty() {
        places.extend(lane.least_every.zip(links.first()).map(|(declared, link)| (link.from, declared.into())));
    }
    places
}

/// When a watch judges.
fn holds(station: &Station, at: WatchId, watch: &Watch, measured: Measured) -> Holds {
    let own = rope(station).map(|(at, _)| at);
    if Some(measured.pace()) != own {
        Holds::OtherPace
    } else if !watch.modes.is_empty() {
        Holds::Modes
    } else if station.bypasses.iter().any(|bypass| bypass.of.contains(&at)) {
        Holds::Bypassed
    } else if matches!(measured, Measured::Time { .. }) {
        Holds::Band
    } else {
        Holds::Always
    }
}

/// Rope by which counting at a detector may be off, one carrier against the next, mm: sampling, settling, a pulse, and
/// where it switches each time.
fn hides(station: &Station, lane: &Lane, course: &Course, place: Mm, input: InputId) -> u64 {
    let Some((_, pace)) = rope(station) else { return 0 };
    let settles = match station.inputs.get(input).map(|input| &input.kind) {
        Some(InputKind::Detector(detector)) => detector.settle.up,
        _ => 0,
    };
    let scans = 1 + u64::from(settles);
    scans * u64::from(a_scan(pace))
        + u64::from(pace.mm_a_pulse)
        + u64::from(in_rope(course, place, lane.tolerances.switching.saturating_mul(2)))
}

/// So much lane at a place as rope, mm, rounded up, at the least share thereabouts.
fn in_rope(course: &Course, place: Mm, length: Mm) -> Mm {
    let (from, to) = (f64::from(place) - f64::from(length), f64::from(place) + f64::from(length));
    let share = [from, to].map(|at| course.share_after(course.run_to(at)));
    up(f64::from(length) / share[0].min(share[1]).max(1e-6))
}

/// Travels with places, in the order of these.
fn links(station: &Station) -> Vec<Link<'_>> {
    let mut links: Vec<Link<'_>> = Vec::new();
    for (watch, it) in station.watches.iter().enumerate() {
        let WatchKind::Travel(travel) = &it.kind else { continue };
        let (Some(from), Some(to)) = (place_of(station, travel.from), place_of(station, travel.to)) else { continue };
        let (earliest, latest) = match travel.measured {
            Measured::Rope(_) => (u64::from(travel.earliest), u64::from(travel.latest)),
            Measured::Time { pace, least, most } => match station.inputs.get(pace).map(|input| &input.kind) {
                Some(InputKind::Pace(pace)) => {
                    let span = u64::from(pace.span.max(1));
                    let earliest = u64::from(travel.earliest) * u64::from(least) / span;
                    (earliest, (u64::from(travel.latest) * u64::from(most)).div_ceil(span))
                }
                _ => continue,
            },
        };
        if from < to {
            let holds = holds(station, watch, it, travel.measured);
            links.push(Link { watch, travel, from, to, earliest, latest, holds });
        }
    }
    links.sort_by_key(|link| (link.from, link.to, link.watch));
    links
}

/// Rope that is left at a place, if travels lead there.
fn left_at(left: &[(Mm, u64)], place: Mm) -> Option<u64> {
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

fn of_travel(station: &Station, lane: &Lane, course: &Course, link: &Link<'_>, left: Option<u64>) -> OfTravel {
    let stuck = first_loose(lane, link.from, link.to);
    // So much of the rope may have run before the first detector counts, and one pulse more than is counted.
    let unseen = in_rope(course, link.from, lane.tolerances.detector.saturating_add(lane.tolerances.switching))
        .saturating_add(rope(station).map_or(0, |(_, pace)| pace.mm_a_pulse));
    let late = link.latest + u64::from(unseen);
    let stop = left.zip(stuck).and_then(|(left, stuck)| found_late(station, lane, course, link, (left, stuck, late)));
    let (late_at_most, contact) = stop.unwrap_or((None, None));
    OfTravel {
        watch: link.watch,
        holds: link.holds,
        rope: left.map(mm),
        under_way: left.map(|left| u32::try_from(late / left.max(1) + 1).unwrap_or(u32::MAX)),
        late: mm(link.latest),
        carried: stuck.is_none(),
        late_at_most: late_at_most.map(|most| most - i64::from(unseen)),
        contact,
    }
}

/// With the rope that is left where the travel begins, the first place where a carrier can stand, and the rope after which it is
/// found: the latest that this may be, and the contact if it is later.
fn found_late(
    station: &Station,
    lane: &Lane,
    course: &Course,
    link: &Link<'_>,
    (left, stuck, late): (u64, Mm, u64),
) -> Option<(Option<i64>, Option<Contact>)> {
    let body = f64::from(lane.body.unwrap_or(0));
    // The next carrier goes through the travel as fast as that permits.
    let nominal = nominal_run(lane, link.from, link.to).unwrap_or(0.0);
    let quick = if nominal > 0.0 { (whole(link.earliest) / nominal).min(1.0) } else { 0.0 };
    // Rope that runs from the first one's passing of the detector until the next one is at its tail.
    let reach = |place: f64| {
        let way = course.run_to(place - body) - course.run_to(f64::from(link.from));
        whole(left) + if way > 0.0 { way * quick } else { way }
    };
    let answer = respond::paths(station)
        .into_iter()
        .find(|path| path.watch == link.watch && path.way == Way::Late)
        .and_then(|path| Some((path.total_us(), stop_of(station, path.answer)?.1)));
    let top = match link.travel.measured {
        Measured::Time { most, .. } => rope(station).map(|(_, pace)| speed(station, pace, most)),
        Measured::Rope(_) => top_speed(station),
    }?;
    let bound = answer.and_then(|(path_us, stop)| {
        let reacts_us = path_us + u64::from(stop.bites_us);
        Some((stopping(top, reacts_us, stop.slows.0)?, reacts_us, stop.slows.0))
    });
    let most = bound.map(|(stop, ..)| down(reach(f64::from(stuck)) - whole(stop.runs)));
    if most.is_some_and(|most| i64::try_from(late).is_ok_and(|late| late <= most)) {
        return Some((most, None));
    }
    let mut worst = Contact { speed: 0, at: stuck };
    // Ten thousand places of a travel are enough: the speed is even between them and the ends of stretches.
    let step = usize::try_from((link.to - link.from) / 10_000).unwrap_or(0) + 1;
    let ends = lane.stretches.iter().flat_map(|stretch| [stretch.from, stretch.to.saturating_sub(1)]);
    let ends = ends.filter(|at| (link.from..link.to).contains(at)).chain([stuck]);
    for at in (link.from..link.to).step_by(step).chain(ends).filter(|at| first_loose(lane, *at, at + 1).is_some()) {
        let place = f64::from(at);
        let since = u64::try_from(down(reach(place))).unwrap_or(0).saturating_sub(late);
        let rope_speed = bound.map_or(top, |(_, reacts_us, slows)| speed_after(top, reacts_us, slows, since));
        let speed = up(f64::from(rope_speed) * course.share_after(course.run_to(place - body)));
        if speed > worst.speed {
            worst = Contact { speed, at };
        }
    }
    Some((most, Some(worst)))
}

/// The first place of a piece of the lane where a carrier can stand while the rope runs.
fn first_loose(lane: &Lane, from: Mm, to: Mm) -> Option<Mm> {
    let loose = lane.stretches.iter().filter(|stretch| !stretch.carried && stretch.from < to && stretch.to > from);
    loose.map(|stretch| stretch.from.max(from)).min()
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
