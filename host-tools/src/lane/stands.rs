//! From what a watch or a requirement asks for to standstill: how far the rope runs on, and where on the lane a carrier
//! that caused the stop comes to stand.
//!
//! The worst case of everything: the rope at the greatest speed that its pace can have, the path of the response
//! (`respond`), the latest bite of the brake and its least deceleration. Conveyors follow the rope, as the lane says and as
//! `agree` watches hold; until the brake bites the rope gets no faster.

use super::course::Course;
use super::motion::{Stopping, stopping};
use super::rope::top_speed;
use crate::respond::{self, Path};
use crate::station::{Condition, Form, InputId, InputKind, Lane, Mm, Station, Stop, Watch, WatchKind, When, ways::Way};

/// Where a carrier comes to stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stand {
    /// Place on the lane at which what is judged can be at the latest, mm.
    pub from: Mm,
    /// Place of its front when the brake bites, mm, rounded up.
    pub bites: Mm,
    /// Place of its front at standstill, mm, rounded up.
    pub at: Mm,
    /// Place that it must not pass, mm: to where a badly closed grip is held. None where no grip is at stake.
    pub bound: Option<Mm>,
}

impl Stand {
    /// It stands behind the place that it must not pass.
    pub fn passes(&self) -> bool {
        self.bound.is_some_and(|bound| self.at > bound)
    }
}

/// The stop of a watch, in the way that lets the rope run on farthest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfWatch {
    /// From the event until the outputs have let go.
    pub path: Path,
    /// Index of the stop.
    pub stop: usize,
    /// To standstill.
    pub stopping: Stopping,
    /// On the lane; None where the watch judges nothing that has a place.
    pub stand: Option<Stand>,
}

/// The stop that a requirement asks for, if it comes as late as it may.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OfRequirement {
    /// Index of the requirement.
    pub requirement: usize,
    /// Index of the stop.
    pub stop: usize,
    /// Time that the requirement allows until the outputs have let go, with what it lets last before; microseconds.
    pub allowed_us: u64,
    /// To standstill.
    pub stopping: Stopping,
    /// On the lane.
    pub stand: Option<Stand>,
}

/// Each watch that calls a stop, in the order of the file.
pub fn of_watches(station: &Station) -> Vec<OfWatch> {
    let Some(speed) = top_speed(station) else { return Vec::new() };
    let grips = grips(station);
    let mut out: Vec<OfWatch> = Vec::new();
    for path in respond::paths(station) {
        let (Some((index, stop)), Some(watch)) = (stop_of(station, path.answer), station.watches.get(path.watch))
        else {
            continue;
        };
        let Some(stopping) = stopping(speed, path.total_us() + u64::from(stop.bites_us), stop.slows.0) else {
            continue;
        };
        let place = place(station, watch, path.way, speed);
        let bound = watch.hazards.iter().any(|hazard| grips.contains(hazard));
        let stand = stand(station, place, stopping, bound);
        let run = OfWatch { path, stop: index, stopping, stand };
        match out.last_mut() {
            Some(last) if last.path.watch == run.path.watch => {
                let far = |run: &OfWatch| (run.stand.map_or(0, |stand| stand.at), run.stopping.runs);
                if far(last) < far(&run) {
                    *last = run;
                }
            }
            _ => out.push(run),
        }
    }
    out
}

/// Each requirement that asks for a stop within a time.
pub fn of_requirements(station: &Station) -> Vec<OfRequirement> {
    let Some(speed) = top_speed(station) else { return Vec::new() };
    let grips = grips(station);
    let one = |demand: respond::Demand| {
        let (index, stop) = stop_of(station, demand.least)?;
        let requirement = station.requirements.get(demand.requirement)?;
        let allowed_us = demand.within_us + demand.lasting_us;
        let stopping = stopping(speed, allowed_us + u64::from(stop.bites_us), stop.slows.0)?;
        let bound = requirement.hazards.iter().any(|hazard| grips.contains(hazard));
        let stand = stand(station, asked_at(station, &requirement.form, speed), stopping, bound);
        Some(OfRequirement { requirement: demand.requirement, stop: index, allowed_us, stopping, stand })
    };
    respond::demands(station).into_iter().filter_map(one).collect()
}

/// The stop of a rank, unless it is a slow order.
pub(super) fn stop_of(station: &Station, rank: u8) -> Option<(usize, &Stop)> {
    let at = usize::from(rank.checked_sub(station.first_stop())?);
    station.stops.get(at).map(|stop| (at, stop))
}

/// Hazards of what judges a carrier behind the point where its grip closes: a grip is at stake in each.
fn grips(station: &Station) -> Vec<usize> {
    let Some(lane) = &station.lane else { return Vec::new() };
    let behind = |watch: &&Watch| {
        judged(watch).iter().filter_map(|input| input_place(station, lane, *input)).any(|place| place >= lane.couples)
    };
    station.watches.iter().filter(behind).flat_map(|watch| watch.hazards.iter().copied()).collect()
}

fn stand(station: &Station, place: Option<Mm>, stopping: Stopping, grip: bool) -> Option<Stand> {
    let lane = station.lane.as_ref()?;
    let from = place?;
    let course = Course::new(lane);
    let after = |rope| up(course.place_at(course.run_to(f64::from(from)) + whole(rope)));
    let (bites, at) = (after(stopping.before), after(stopping.runs));
    Some(Stand { from, bites, at, bound: grip.then_some(lane.held_until) })
}

/// The place at which what a watch judges is at the latest when it happens.
fn place(station: &Station, watch: &Watch, way: Way, speed: u32) -> Option<Mm> {
    let lane = station.lane.as_ref()?;
    let at = |input: InputId| input_place(station, lane, input);
    match &watch.kind {
        // With one input that is anywhere, nobody knows where it was seen.
        WatchKind::Guard(_) => latest(&judged(watch), at),
        WatchKind::Travel(travel) => at(if way == Way::Crowded { travel.from } else { travel.to }),
        WatchKind::Measure(measure) => Some(behind(station, lane, at(measure.detector)?, measure.when, speed)),
        // They speak of the next carrier, of none, or of one that is somewhere.
        WatchKind::Spacing(_)
        | WatchKind::Agree(_)
        | WatchKind::Confirm(_)
        | WatchKind::Exercise(_)
        | WatchKind::Count(_) => None,
    }
}

/// The place to which a window behind a rise reaches.
fn behind(station: &Station, lane: &Lane, from: Mm, when: When, speed: u32) -> Mm {
    let window = match when {
        When::Rise => 0,
        When::Scans(scans) => (u64::from(scans) * u64::from(station.scan_us) * u64::from(speed)).div_ceil(1_000_000),
        When::Rope(_, mm) => u64::from(mm),
    };
    let course = Course::new(lane);
    up(course.place_at(course.run_to(f64::from(from)) + whole(window)))
}

/// Inputs with a place by which a watch judges a carrier.
fn judged(watch: &Watch) -> Vec<InputId> {
    match &watch.kind {
        WatchKind::Guard(guard) => guard.when.inputs(),
        WatchKind::Travel(travel) => vec![travel.to],
        WatchKind::Measure(measure) => vec![measure.detector],
        _ => Vec::new(),
    }
}

/// The place of what a requirement asks about.
fn asked_at(station: &Station, form: &Form, speed: u32) -> Option<Mm> {
    let lane = station.lane.as_ref()?;
    let at = |input: InputId| input_place(station, lane, input);
    match form {
        Form::After { to, .. } => at(*to),
        Form::WhenRises { detector, when, .. } => Some(behind(station, lane, at(*detector)?, *when, speed)),
        // What is watched for its own health is at no carrier.
        Form::Whenever { condition: Condition::Observed(_), .. } => None,
        Form::Whenever { condition, .. } => latest(&condition.inputs(), at),
        _ => None,
    }
}

/// The last of the places, if each is known.
fn latest(inputs: &[InputId], at: impl Fn(InputId) -> Option<Mm>) -> Option<Mm> {
    let places: Option<Vec<Mm>> = inputs.iter().map(|input| at(*input)).collect();
    places?.into_iter().max()
}

/// The place of a detector, as far on as it may switch, or of what a carrier touches.
fn input_place(station: &Station, lane: &Lane, input: InputId) -> Option<Mm> {
    match station.inputs.get(input).map(|input| &input.kind) {
        Some(InputKind::Detector(detector)) => {
            let off = lane.tolerances.detector.saturating_add(lane.tolerances.switching);
            Some(detector.at.saturating_add(off))
        }
        _ => lane.touches.iter().find(|(_, touched)| *touched == input).map(|(at, _)| *at),
    }
}

/// A place, mm, rounded up; what the closed forms lose of it is far below a thousandth of a millimetre.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "not negative, and cut to what fits")]
pub(super) fn up(place: f64) -> Mm {
    (place - 1e-3).ceil().clamp(0.0, f64::from(Mm::MAX)) as Mm
}

#[expect(clippy::cast_precision_loss, reason = "millimetres of rope stay far below two to the power of 53")]
pub(super) fn whole(mm: u64) -> f64 {
    mm as f64
}
