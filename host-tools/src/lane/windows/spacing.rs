//! The window of a spacing: two carriers over the same detector.

use super::ladder::{Ladder, Side};
use super::travel::off_speed;
use super::{Basis, Cause, Derived, End, Why, detector};
use crate::lane::enclosed::{NM, at_rope_speed, run, share};
use crate::station::{Lane, Measured, Mm, Scans, Spacing, Station, WatchId};

/// The whole rope speed in millionths of millionths.
const FINE: u128 = 1_000_000_000_000;

pub(super) fn derive(station: &Station, watch: WatchId, spacing: &Spacing) -> Derived {
    let basis = Basis::of(station, spacing.measured);
    let at = detector(station, spacing.detector).ok_or(Why::OffLane);
    let end = |side| end(basis?, at?, spacing.measured, side);
    let rope = station.lane.as_ref().map(|lane| u64::from(lane.every) * 1_000_000);
    let nominal = basis.ok().zip(rope).and_then(|(basis, nm)| match spacing.measured {
        Measured::Rope(_) => Some(nm),
        Measured::Time { least, most, .. } => {
            let middle = u128::from(least) + u128::from(most);
            basis.time(u128::from(nm) * 2, middle, Side::Least).ok().and_then(|ns| u64::try_from(ns).ok())
        }
    });
    Derived {
        watch,
        detectors: (spacing.detector, None),
        measured: spacing.measured,
        nominal_nm: rope,
        nominal,
        least: end(Side::Least),
        most: end(Side::Most),
        stands: (spacing.least, spacing.most),
    }
}

/// The least that is counted between two carriers that are the least distance apart on the rope, or the most between two that are
/// the greatest apart. For the least the first is slow and seen late, the second fast and seen soon; for the most the other way.
fn end(basis: Basis<'_>, (at, settles): (Mm, Scans), measured: Measured, side: Side) -> Result<End, Why> {
    let apart = match side {
        Side::Least => basis.lane.least_every.ok_or(Why::NoLeast)?,
        Side::Most => basis.lane.most_every.ok_or(Why::NoMost)?,
    };
    let apart = u128::from(apart) * NM;
    let far = basis.lane.tolerances;
    let (lost, later) = (drift(basis, at)?, switched(basis.lane, at, far.detector, far.switching)?);
    match measured {
        Measured::Rope(_) => {
            let mut ladder = Ladder::new(side, apart)?;
            ladder.out(Cause::Switching, later)?;
            ladder.out(Cause::Speeds, lost)?;
            ladder.out(Cause::Pulses, basis.pulse())?;
            ladder.out(Cause::Sampling, basis.scans(1))?;
            ladder.out(Cause::Settling, basis.scans(settles))?;
            ladder.end(NM, basis.scan_mm)
        }
        Measured::Time { least, most, .. } => {
            let (written, true_speed) = basis.band(side, least, most)?;
            let out = |nm: u128, by: u128| match side {
                Side::Least => nm.saturating_sub(by),
                Side::Most => nm.saturating_add(by),
            };
            let middle = u128::from(least) + u128::from(most);
            let mut ladder = Ladder::new(side, basis.time(apart * 2, middle, side)?)?;
            ladder.reach(Cause::Band, basis.time(apart, written, side)?)?;
            ladder.reach(Cause::Pulses, basis.time(apart, true_speed, side)?)?;
            let seen = out(apart, later);
            ladder.reach(Cause::Switching, basis.time(seen, true_speed, side)?)?;
            ladder.reach(Cause::Speeds, basis.time(out(seen, lost), true_speed, side)?)?;
            basis.sampled(&mut ladder, side)?;
            ladder.end(basis.scan_ns().unsigned_abs(), 1)
        }
    }
}

/// Rope by which the second carrier may gain on the first, or lose, between the place where they leave the rope and a detector: one is as
/// slow as it may be, the other as fast. Both run the same way, at the farthest as far as the detector may sit.
fn drift(basis: Basis<'_>, at: Mm) -> Result<u128, Why> {
    let far = basis.lane.tolerances;
    let to = at.checked_add(far.detector).ok_or(Why::OffLane)?;
    let from = basis.lane.uncouples.min(to);
    let way = |side: Side| run(basis.lane, from, to, off_speed(side, far.share_ppm)).ok_or(Why::OffLane);
    Ok(way(Side::Most)?.most.saturating_sub(way(Side::Least)?.least))
}

/// Rope by which the detector may switch later for one carrier than for the other: twice the spread, at the least share
/// that a carrier has anywhere near.
fn switched(lane: &Lane, at: Mm, detector: Mm, switching: Mm) -> Result<u128, Why> {
    let reach = detector.saturating_add(switching);
    let (from, to) = (at.checked_sub(reach).ok_or(Why::OffLane)?, at.checked_add(reach).ok_or(Why::OffLane)?);
    let mut slowest: Option<u128> = None;
    let mut covered = 0;
    for stretch in &lane.stretches {
        let (start, end) = (from.max(stretch.from), to.min(stretch.to));
        if end < start {
            continue;
        }
        covered += end - start;
        // The speed on a stretch goes one way, so that it is least at an end.
        for place in [start, end] {
            let share = share(stretch, place).ok_or(Why::OffLane)?.least;
            let slow = u128::from(lane.tolerances.share_ppm);
            let share =
                if at_rope_speed(stretch) { share } else { share * (1_000_000 - slow.min(999_999)) / 1_000_000 };
            slowest = Some(slowest.map_or(share, |least| least.min(share)));
        }
    }
    if covered != to - from {
        return Err(Why::OffLane);
    }
    let slowest = slowest.filter(|share| *share > 0).ok_or(Why::OffLane)?;
    Ok((u128::from(switching) * 2 * NM).saturating_mul(FINE).div_ceil(slowest))
}
