//! The window of a travel.

use super::ladder::{Ladder, Side};
use super::{Basis, Cause, Derived, End, Why, detector};
use crate::lane::enclosed::{NM, Speed, run};
use crate::station::{Measured, Mm, Scans, Station, Travel, WatchId};

/// Both detectors: place, and scans for which a rise settles.
type Ends = [(Mm, Scans); 2];

pub(super) fn derive(station: &Station, watch: WatchId, travel: &Travel) -> Derived {
    let ends = detector(station, travel.from).zip(detector(station, travel.to)).map(|(from, to)| [from, to]);
    let basis = Basis::of(station, travel.measured);
    let end = |side| end(basis?, ends.ok_or(Why::OffLane)?, travel.measured, side);
    let run = basis.ok().zip(ends).and_then(|(basis, [a, b])| run(basis.lane, a.0, b.0, Speed::Nominal));
    let size = basis.ok().zip(run).and_then(|(basis, run)| size(basis, run.least, travel.measured, Side::Least).ok());
    Derived {
        watch,
        detectors: (travel.from, Some(travel.to)),
        measured: travel.measured,
        nominal_nm: run.and_then(|run| u64::try_from(run.least).ok()),
        nominal: size.and_then(|size| u64::try_from(size).ok()),
        least: end(Side::Least),
        most: end(Side::Most),
        stands: (travel.earliest, Some(travel.latest)),
    }
}

/// A run as it is measured: in nanometres, or in nanoseconds at the middle of the band.
fn size(basis: Basis<'_>, run_nm: u128, measured: Measured, side: Side) -> Result<u128, Why> {
    match measured {
        Measured::Rope(_) => Ok(run_nm),
        Measured::Time { least, most, .. } => {
            basis.time(run_nm.saturating_mul(2), u128::from(least) + u128::from(most), side)
        }
    }
}

fn end(basis: Basis<'_>, [from, to]: Ends, measured: Measured, side: Side) -> Result<End, Why> {
    if to.0 <= from.0 {
        return Err(Why::Backwards);
    }
    let far = basis.lane.tolerances;
    let way = |off: Mm, speed| way(basis, from.0, to.0, off, speed, side);
    let nominal = way(0, Speed::Nominal)?;
    let built = way(far.detector, Speed::Nominal)?;
    let seen = way(far.detector.saturating_add(far.switching), Speed::Nominal)?;
    let driven = way(far.detector.saturating_add(far.switching), off_speed(side, far.share_ppm))?;
    let mut ladder = Ladder::new(side, size(basis, nominal, measured, side)?)?;
    match measured {
        Measured::Rope(_) => {
            ladder.reach(Cause::Detectors, built)?;
            ladder.reach(Cause::Switching, seen)?;
            ladder.reach(Cause::Speeds, driven)?;
            ladder.out(Cause::Pulses, basis.pulse())?;
            // What has run before the first change was taken is missing at the least, what ran before the second is in
            // excess at the most: a scan, and as many as it settles. The rope may have run at any speed at either.
            ladder.out(Cause::Sampling, basis.scans(1))?;
            let settles = if side == Side::Least { from.1 } else { to.1 };
            ladder.out(Cause::Settling, basis.scans(settles))?;
            ladder.end(NM, basis.scan_mm)
        }
        Measured::Time { least, most, .. } => {
            let (written, true_speed) = basis.band(side, least, most)?;
            ladder.reach(Cause::Band, basis.time(nominal, written, side)?)?;
            for (cause, nm) in
                [(Cause::Pulses, nominal), (Cause::Detectors, built), (Cause::Switching, seen), (Cause::Speeds, driven)]
            {
                ladder.reach(cause, basis.time(nm, true_speed, side)?)?;
            }
            basis.sampled(&mut ladder, side)?;
            // Both changes wait as many scans as they settle, so that only the difference is left.
            let later = (i128::from(to.1) - i128::from(from.1)) * basis.scan_ns();
            ladder.to(Cause::Settling, ladder.at() + later)?;
            ladder.end(basis.scan_ns().unsigned_abs(), 1)
        }
    }
}

/// The speed that belongs to an end.
pub(super) fn off_speed(side: Side, ppm: u32) -> Speed {
    match side {
        Side::Least => Speed::Faster(ppm),
        Side::Most => Speed::Slower(ppm),
    }
}

/// Rope for the way between two places that are off by so much, each towards the other for the least.
fn way(basis: Basis<'_>, from: Mm, to: Mm, off: Mm, speed: Speed, side: Side) -> Result<u128, Why> {
    let (from, to) = match side {
        Side::Least => (from.checked_add(off), to.checked_sub(off)),
        Side::Most => (from.checked_sub(off), to.checked_add(off)),
    };
    let (from, to) = from.zip(to).ok_or(Why::OffLane)?;
    if to <= from {
        // They may sit as near each other as that.
        return Ok(0);
    }
    run(basis.lane, from, to, speed).map(|run| side.of(run)).ok_or(Why::OffLane)
}

impl Basis<'_> {
    /// A pulse, in nanometres.
    pub(super) fn pulse(&self) -> u128 {
        u128::from(self.pace.mm_a_pulse) * NM
    }
    /// The greatest travel of so many scans, in nanometres.
    pub(super) fn scans(&self, count: Scans) -> u128 {
        u128::from(self.scan_mm) * u128::from(count) * NM
    }
    /// A scan in nanoseconds.
    pub(super) fn scan_ns(&self) -> i128 {
        i128::from(self.scan_us.max(1)) * 1_000
    }
    /// Nanoseconds in which so much rope runs at a speed told in mm over the pace's span.
    pub(super) fn time(&self, nm: u128, mm: u128, side: Side) -> Result<u128, Why> {
        let span_us = u128::from(self.pace.span) * u128::from(self.scan_us);
        let product = nm.checked_mul(span_us).ok_or(Why::TooLarge)?;
        side.over(product, mm.saturating_mul(1_000)).ok_or(Why::Standing)
    }
    /// The edge of the band that an end needs, as it is judged and as it may truly be, both in mm over the span: a span that
    /// counts so many pulses may have run almost one more or less.
    pub(super) fn band(&self, side: Side, least: Mm, most: Mm) -> Result<(u128, u128), Why> {
        match side {
            Side::Least => Ok((most.into(), u128::from(most) + u128::from(self.pace.mm_a_pulse))),
            Side::Most => {
                let slowest = least.checked_sub(self.pace.mm_a_pulse).filter(|mm| *mm > 0).ok_or(Why::Standing)?;
                Ok((least.into(), slowest.into()))
            }
        }
    }
    /// A time in whole scans between the two that first show its ends: that is less than one scan off, so that it is one of
    /// the two whole numbers on either side of it.
    pub(super) fn sampled(&self, ladder: &mut Ladder, side: Side) -> Result<(), Why> {
        let scan = self.scan_ns();
        let whole = match side {
            Side::Least => ladder.at().div_euclid(scan),
            Side::Most => (ladder.at() + scan - 1).div_euclid(scan),
        };
        ladder.to(Cause::Sampling, whole * scan)
    }
}
