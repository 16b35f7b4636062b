//! Every code of a 12 and a 16 bit converter against exact fractions, and NE 43 at its bounds.

use super::{scale, scale_value};
use crate::sample::Health;
use crate::station::Gauge;

/// 4 mA is `from`, 20 mA is `to` (millionths), in steps of `step`.
fn gauge(from: i64, to: i64, step: i64) -> Gauge {
    let at = |ua: i64| from + (to - from) * (ua - 4_000) / 16_000;
    let (low, high) = (at(3_800).min(at(20_500)), at(3_800).max(at(20_500)));
    let lowest = low.div_euclid(step);
    let top = u32::try_from(-(-high).div_euclid(step) - lowest).unwrap();
    Gauge {
        terminal: 0,
        unit: "N".into(),
        step_micro: step,
        points: [(4_000, from), (20_000, to)],
        trusted_ua: (3_800, 20_500),
        broken_ua: (3_600, 21_000),
        lowest,
        top,
        moves_at_most: None,
        rests: None,
    }
}

/// What the nearest step means, said without dividing: no other step is nearer, and of two equally
/// near ones it is the greater.
fn is_nearest(gauge: &Gauge, nanoamps: i64, steps: u32) -> bool {
    let [(a, from), (b, to)] = gauge.points;
    let run = 1_000 * i128::from(b - a);
    // The value, times `run`.
    let value = i128::from(from) * run + i128::from(nanoamps - 1_000 * i64::from(a)) * i128::from(to - from);
    let of_step = |s: i128| (s + i128::from(gauge.lowest)) * i128::from(gauge.step_micro) * run;
    let off = 2 * (value - of_step(i128::from(steps)));
    let one = i128::from(gauge.step_micro) * run;
    (-one..one).contains(&off)
}

#[test]
fn every_code_of_the_converters_is_the_nearest_step() {
    let gauges = [
        gauge(0, 12_000_000_000, 10_000_000),
        gauge(-60_000_000, 60_000_000, 100_000),
        gauge(0, 12_000_000_000, 7_000_000),
        gauge(50_000_000, -10_000_000, 300_000),
        gauge(0, 1_000_000, 1),
    ];
    for gauge in &gauges {
        for bits in [12_u32, 16] {
            let codes = 1_i64 << bits;
            for code in 0..codes {
                // A converter whose full range is 0 to 24 mA.
                let nanoamps = 24_000_000 * code / (codes - 1);
                let read = scale(gauge, nanoamps);
                let expected = match nanoamps {
                    ..=3_600_000 => Health::Broken,
                    3_600_001..=3_799_999 => Health::Doubtful,
                    3_800_000..=20_500_000 => Health::Good,
                    20_500_001..=20_999_999 => Health::Doubtful,
                    _ => Health::Broken,
                };
                assert_eq!(read.health, expected, "{nanoamps} nA");
                if read.health == Health::Good {
                    assert!(is_nearest(gauge, nanoamps, read.steps), "{nanoamps} nA gave {}", read.steps);
                }
            }
        }
    }
}

/// NAMUR NE 43 (2003-02-03): measuring range 3.8 to 20.5 mA inclusive, fault at or below 3.6 and at
/// or above 21.0 mA, neither between them.
#[test]
fn bounds_of_ne_43() {
    let gauge = gauge(0, 12_000_000_000, 10_000_000);
    let cases = [
        (3_600, Health::Broken),
        (3_610, Health::Doubtful),
        (3_790, Health::Doubtful),
        (3_800, Health::Good),
        (20_500, Health::Good),
        (20_510, Health::Doubtful),
        (20_990, Health::Doubtful),
        (21_000, Health::Broken),
    ];
    for (ua, health) in cases {
        assert_eq!(scale(&gauge, ua * 1_000).health, health, "{ua} uA");
    }
}

/// 4 mA is 0 %, 12 mA 50 %, 20 mA 100 %, 3.8 mA -1.25 %, 20.5 mA 103.125 % (arithmetic).
#[test]
fn points_of_the_line() {
    let gauge = gauge(0, 100_000_000, 1_000);
    for (ua, milli) in [(4_000, 0), (12_000, 50_000), (20_000, 100_000), (3_800, -1_250), (20_500, 103_125)] {
        let read = scale(&gauge, ua * 1_000);
        assert_eq!(i64::from(read.steps) + gauge.lowest, milli, "{ua} uA");
        assert_eq!(scale_value(&gauge, milli * 1_000), read);
    }
    assert_eq!(scale_value(&gauge, 200_000_000).health, Health::Broken);
}

#[test]
fn half_a_step_goes_up() {
    // Steps of 10 % on 0 to 100 %: 5 % is 4.8 mA.
    let gauge = gauge(0, 100_000_000, 10_000_000);
    let value = |na| i64::from(scale(&gauge, na).steps) + gauge.lowest;
    assert_eq!(value(4_799_999), 0);
    assert_eq!(value(4_800_000), 1);
}
