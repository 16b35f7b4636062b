//! Runs against what others have published, and against the same way gone millimetre by millimetre.

use super::enclosed::{Enclosed, Speed, run};
use super::nominal_run;
use crate::station::{Lane, Mm, Name, Stretch, Tolerances};
use crate::text::place::Place;

/// A lane that is these stretches: where each ends, and the share at its end.
pub(super) fn lane(first: u32, ends: &[(Mm, u32)]) -> Lane {
    let place = Place::default();
    let (mut from, mut share, mut stretches) = (0, first, Vec::new());
    for (to, last) in ends {
        stretches.push(Stretch { from, to: *to, share: (share, *last), driven_by: None, carried: false, place });
        (from, share) = (*to, *last);
    }
    Lane {
        name: Name { text: "trial".into(), place },
        every: 60_000,
        least_every: None,
        most_every: None,
        carrier: 500,
        body: None,
        loads: None,
        tolerances: Tolerances::default(),
        line_speed: None,
        touches: Vec::new(),
        stretches,
        uncouples: 0,
        couples: from,
        held_until: from,
    }
}

/// Seconds of the whole lane while the rope runs at so many m/s.
#[expect(clippy::cast_precision_loss, reason = "well below 2^53")]
fn seconds(lane: &Lane, rope: f64) -> f64 {
    let to = lane.stretches.last().unwrap().to;
    let all = run(lane, 0, to, Speed::Nominal).unwrap();
    assert!(all.most - all.least < 1_000, "{all:?}");
    all.least as f64 / 1e9 / rope
}

#[test]
fn published_motions_take_the_time_that_is_printed() {
    // Arithmetic on a usual station, recomputed: 5.0 m/s to 1.3 m/s at 1.0 m/s2 takes 3.7 s and 11.655 m.
    assert!((seconds(&lane(1_000_000, &[(11_655, 260_000)]), 5.0) - 3.7).abs() < 1e-6);
    // The triangle of text books, from rest to rest: 10 m at 0.3 m/s2 either way take 11.547 s (printed in a public answer).
    let peak = 3.0_f64.sqrt();
    assert!((seconds(&lane(0, &[(5_000, 1_000_000), (10_000, 0)]), peak) - 11.547).abs() < 5e-4);
    // Text book: 100 m with 2 and 4 m/s2 have the peak sqrt(2 a b D / (a + b)) = 16.330 m/s and take 12.247 s. Three times as
    // long at the same speeds, for whole millimetres.
    let peak = (2.0_f64 * 2.0 * 4.0 * 100.0 / 6.0).sqrt();
    assert!((peak - 16.330).abs() < 5e-4);
    assert!((seconds(&lane(0, &[(200_000, 1_000_000), (300_000, 0)]), peak) / 3.0 - 12.247).abs() < 5e-4);
    // Text book: the trapezoid D/v + v/2a + v/2b; 10 m, 0.5 m/s, 0.3 m/s2 take 21.667 s. Six times as long: 2.5 m each way.
    let trapezoid = lane(0, &[(2_500, 1_000_000), (57_500, 1_000_000), (60_000, 0)]);
    assert!((seconds(&trapezoid, 0.5) / 6.0 - 21.667).abs() < 5e-4);
}

#[test]
#[expect(clippy::cast_precision_loss, reason = "well below 2^53")]
fn a_run_is_enclosed_tightly_and_adds_up() {
    let lane = lane(1_000_000, &[(4_000, 1_000_000), (16_000, 60_000), (26_000, 60_000), (33_333, 777_777)]);
    let all = |from, to| run(&lane, from, to, Speed::Nominal).unwrap();
    for (from, to) in [(0, 33_333), (2_000, 20_000), (5_000, 9_000), (10_000, 26_000), (15_999, 16_001)] {
        let Enclosed { least, most } = all(from, to);
        assert!(least <= most && most - least < 1_000, "{from} to {to}: {least} to {most}");
        let nominal = nominal_run(&lane, from, to).unwrap() * 1e6;
        assert!((nominal - least as f64).abs() < 1_000.0, "{from} to {to}: {nominal} or {least}");
        // A way is the sum of its parts, wherever it is parted.
        let middle = u32::midpoint(from, to);
        let (first, second) = (all(from, middle), all(middle, to));
        assert!(first.least + second.least <= most && first.most + second.most >= least);
    }
    // At rope speed a carrier goes as far as the rope, to the nanometre.
    assert_eq!(all(500, 3_500), Enclosed { least: 3_000_000_000, most: 3_000_000_000 });
    assert_eq!(all(500, 500), Enclosed::default());
    for (from, to) in [(0, 33_334), (40_000, 50_000), (2_000, 1_000), (40_000, 40_000)] {
        assert_eq!(run(&lane, from, to, Speed::Nominal), None);
    }
}

#[test]
fn only_a_carrier_that_is_not_at_rope_speed_is_off() {
    let lane = lane(1_000_000, &[(4_000, 1_000_000), (16_000, 500_000)]);
    let off = |from, to, speed| run(&lane, from, to, speed).unwrap();
    assert_eq!(off(0, 4_000, Speed::Slower(100_000)), off(0, 4_000, Speed::Nominal));
    // 12 m at a mean share of 3/4 are 16 m of rope; a quarter faster they are 12.8 m, a fifth slower 20 m.
    let metres = |m: u128| Enclosed { least: m * 100_000_000, most: m * 100_000_000 };
    assert_eq!(off(4_000, 16_000, Speed::Nominal), metres(160));
    assert_eq!(off(4_000, 16_000, Speed::Faster(250_000)), metres(128));
    assert_eq!(off(4_000, 16_000, Speed::Slower(200_000)), metres(200));
    assert_eq!(run(&lane, 4_000, 16_000, Speed::Slower(1_000_000)), None);
}
