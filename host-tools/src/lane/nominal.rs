//! The nominal run of a carrier along the lane, told in rope.

use super::enclosed::{Speed, run};
use crate::station::{InputKind, Lane, Mm, Station, Stretch};

/// Rope that runs, in mm, while a carrier goes from one place of the lane to another, as near as floating point has it: for each
/// piece of a stretch 2 L / (s1 + s2), with the square of the share linear in the place. None where the
/// lane does not cover the way, the way has no length, or the carrier stands.
#[expect(clippy::cast_precision_loss, reason = "nanometres of a lane, well below 2^53 where it matters")]
pub fn nominal_run(lane: &Lane, from: Mm, to: Mm) -> Option<f64> {
    let all = run(lane, from, to, Speed::Nominal).filter(|_| to > from)?;
    Some(u128::midpoint(all.least, all.most) as f64 / 1e6)
}

/// Share of the rope speed that a carrier has at a place of a stretch.
pub fn share_at(stretch: &Stretch, at: Mm) -> f64 {
    let long = f64::from(stretch.to.saturating_sub(stretch.from).max(1));
    let way = f64::from(at.saturating_sub(stretch.from)) / long;
    let (first, last) = (f64::from(stretch.share.0) / 1e6, f64::from(stretch.share.1) / 1e6);
    ((last * last - first * first).mul_add(way, first * first)).max(0.0).sqrt()
}

/// Place of a detector on the lane.
pub fn place_of(station: &Station, input: usize) -> Option<Mm> {
    match station.inputs.get(input).map(|input| &input.kind) {
        Some(InputKind::Detector(detector)) => Some(detector.at),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lane::tests::lane;

    #[test]
    fn agrees_with_many_small_steps() {
        let lane = lane(1_000_000, &[(4_000, 1_000_000), (16_000, 60_000), (26_000, 60_000)]);
        for (from, to) in [(0, 4_000), (2_000, 20_000), (5_000, 9_000), (10_000, 26_000)] {
            let run = nominal_run(&lane, from, to).unwrap_or_default();
            // Millimetre by millimetre, at the share in the middle of each.
            let mut steps = 0.0;
            for stretch in &lane.stretches {
                for at in from.max(stretch.from)..to.min(stretch.to) {
                    let ends = (share_at(stretch, at).powi(2), share_at(stretch, at + 1).powi(2));
                    let middle = f64::midpoint(ends.0, ends.1);
                    steps += middle.sqrt().recip();
                }
            }
            assert!((run - steps).abs() < 1.0, "{from} to {to}: {run} or {steps}");
        }
        let run = nominal_run(&lane, 2_000, 20_000).unwrap_or_default();
        assert!((run - 91_308.2).abs() < 0.1, "{run}");
        assert_eq!(nominal_run(&lane, 2_000, 30_000), None);
        assert_eq!(nominal_run(&lane, 2_000, 2_000), None);
    }
}
