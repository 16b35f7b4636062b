//! Watches and detectors against the carriers that the lane promises: their distance on the rope, and
//! the length of the flag that the detectors see.

use super::{length, named, time};
use crate::lane::{nominal_run, share_at};
use crate::station::{
    Detector, Every, InputKind, Lane, Measured, Name, Pace, Spacing, Station, Stretch, WatchKind, When,
};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    let Some(lane) = &station.lane else { return };
    let Some((rope, pace)) = crate::lane::rope::rope(station) else { return };
    for input in &station.inputs {
        if let InputKind::Detector(detector) = &input.kind {
            seen(station, lane, (rope, pace), &input.name, detector, found);
        }
    }
    for watch in &station.watches {
        match &watch.kind {
            WatchKind::Spacing(spacing) => spaced(station, lane, rope, &watch.name, spacing, found),
            WatchKind::Measure(measure) => {
                if let When::Rope(at, mm) = measure.when
                    && at == rope
                    && mm > lane.every
                {
                    let why = format!("is still open after {} of rope", length(u64::from(mm)));
                    trips(lane, &watch.name, format!("its window {why}"), found);
                }
            }
            WatchKind::Exercise(exercise) => {
                if let Every::Rope(at, mm) = exercise.every
                    && at == rope
                    && mm < lane.every
                    && matches!(station.inputs.get(exercise.input).map(|i| &i.kind), Some(InputKind::Detector(_)))
                {
                    let name = named(station, exercise.input);
                    let why = format!("'{name}' must change within {} of rope", length(u64::from(mm)));
                    trips(lane, &watch.name, why, found);
                }
            }
            _ => {}
        }
    }
}

fn trips(lane: &Lane, name: &Name, why: String, found: &mut Vec<Finding>) {
    let message = format!("carriers that keep to the lane trip '{}'", name.text);
    found.push(
        Finding::new(Code::LaneTrips, message)
            .at(name.place, why)
            .at(lane.name.place, format!("a carrier every {} of rope", length(u64::from(lane.every))))
            .help("correct the limit, or the lane"),
    );
}

fn seen(
    station: &Station,
    lane: &Lane,
    (rope, pace): (usize, &Pace),
    name: &Name,
    detector: &Detector,
    found: &mut Vec<Finding>,
) {
    if let Some((at, mm)) = detector.rises_every
        && at == rope
        && mm < lane.every
    {
        trips(lane, name, format!("must rise every {} of rope", length(u64::from(mm))), found);
    }
    let end = detector.at.saturating_add(lane.carrier);
    if let Some((at, mm)) = detector.covered_at_most
        && at == rope
        && let Some(run) = nominal_run(lane, detector.at, end)
        && run > f64::from(mm)
    {
        let message = format!("carriers that keep to the lane trip '{}'", name.text);
        found.push(
            Finding::new(Code::LaneTrips, message)
                .at(name.place, format!("may be covered for {} of rope", length(u64::from(mm))))
                .at(lane.name.place, format!("a carrier of {} covers it for longer", length(u64::from(lane.carrier))))
                .help("correct the limit, or the lane"),
        );
    }
    if let Some(us) = shortest_pulse(station, lane, pace, detector.at, end)
        && us < u64::from(detector.pulse_us)
    {
        let message = format!(
            "'{}' is said to pulse for at least {}, and a fast carrier gives {}",
            name.text,
            time(u64::from(detector.pulse_us)),
            time(us)
        );
        found.push(
            Finding::new(Code::PulseUnfounded, message)
                .at(name.place, "at the pace's greatest speed")
                .at(lane.name.place, format!("a carrier of {}", length(u64::from(lane.carrier))))
                .help(never_seen(station, detector, us).unwrap_or_else(|| {
                    "state the pulse that the shortest flag gives at the greatest speed".to_owned()
                })),
        );
    }
}

/// What is said where the flag of a fast carrier has gone before the detector has settled.
fn never_seen(station: &Station, detector: &Detector, covered_us: u64) -> Option<String> {
    let scan_us = u64::from(station.scan_us);
    let settles = u64::from(detector.settle.up) * scan_us;
    (settles + 2 * scan_us > covered_us).then(|| {
        format!(
            "it settles for {}, which with two scans outlasts the flag: such a carrier is not seen at all; let it settle for less",
            time(settles)
        )
    })
}

/// Microseconds for which the fastest carrier covers a detector, within the lane's tolerances. None where the lane does not say.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded, not negative")]
fn shortest_pulse(station: &Station, lane: &Lane, pace: &Pace, from: u32, to: u32) -> Option<u64> {
    let far = lane.tolerances;
    let (from, to) = (
        from.saturating_sub(far.detector).saturating_sub(far.switching),
        to.saturating_add(far.detector).saturating_add(far.switching),
    );
    let faster = |stretch: &Stretch| match stretch.share {
        (1_000_000, 1_000_000) => 1.0,
        _ => 1.0 + f64::from(far.share_ppm) / 1e6,
    };
    let share = lane
        .stretches
        .iter()
        .filter(|stretch| stretch.from <= to && from <= stretch.to)
        // The speed on a stretch goes one way, so that it is greatest at an end.
        .flat_map(|stretch| {
            [from, to].map(|at| share_at(stretch, at.clamp(stretch.from, stretch.to)) * faster(stretch))
        })
        .fold(0.0, f64::max);
    let fastest = share * f64::from(pace.top);
    if fastest <= 0.0 {
        return None;
    }
    let span_us = f64::from(pace.span) * f64::from(station.scan_us);
    // It may switch late when the flag comes, and early when it goes.
    let flag = lane.carrier.saturating_sub(far.switching.saturating_mul(2));
    Some((f64::from(flag) * span_us / fastest).clamp(0.0, 1e15) as u64)
}

fn spaced(station: &Station, lane: &Lane, rope: usize, name: &Name, spacing: &Spacing, found: &mut Vec<Finding>) {
    let every = u64::from(lane.every);
    let (nearest, farthest, shown): (u64, u64, fn(&Station, u64) -> String) = match spacing.measured {
        Measured::Rope(at) if at == rope => (every, every, |_, mm| length(mm) + " of rope"),
        Measured::Time { pace, least, most } if pace == rope && least > 0 => {
            let span = super::pace(station, pace).map_or(1, |pace| u64::from(pace.span));
            let scans = |mm: u32| every.saturating_mul(span) / u64::from(mm.max(1));
            (scans(most), scans(least), |station, scans| time(scans * u64::from(station.scan_us)))
        }
        _ => return,
    };
    if nearest < u64::from(spacing.least) {
        let why = format!("asks for at least {}", shown(station, u64::from(spacing.least)));
        trips(lane, name, why, found);
    } else if let Some(most) = spacing.most
        && farthest > u64::from(most)
    {
        trips(lane, name, format!("allows at most {}", shown(station, u64::from(most))), found);
    }
}
