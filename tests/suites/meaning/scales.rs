//! The controller's scaling of a current against the host's, for every code of a 12 and a 16 bit converter.
#![allow(clippy::unwrap_used, reason = "a test that panics has failed, as it should")]

use cross_tests::effort::is_heavy;
use cross_tests::generate::Rng;
use firmware::wired::nanoamps;
use host_tools::pack;
use host_tools::sample::Health;
use host_tools::scale::scale;
use host_tools::station::Gauge;
use logic_rules::image::{self, Scale};

/// Any straight line, rising or falling, of sensors small and large.
fn gauge(rng: &mut Rng) -> Gauge {
    let (from_ua, to_ua) = rng.pick(&[(4_000, 20_000), (20_000, 4_000), (0, 20_000), (3_999, 20_017)]);
    let size = 10_i64.pow(rng.small(1, 13));
    let (from, to) = (rng.within(-size, size), rng.within(-size, size));
    let step_micro = rng.within(1, (size / 10).max(1));
    let broken_ua = rng.pick(&[(3_600, 21_000), (0, 24_000), (3_000, 20_600)]);
    let trusted_ua = rng.pick(&[(3_800, 20_500), (4_000, 20_000)]);
    let at = |ua: i64| {
        let (from_ua, run) = (i64::from(from_ua), i64::from(to_ua - from_ua));
        i64::try_from(i128::from(from) + i128::from(to - from) * i128::from(ua - from_ua) / i128::from(run)).unwrap()
    };
    let (a, b) = (at(i64::from(trusted_ua.0)), at(i64::from(trusted_ua.1)));
    let lowest = a.min(b).div_euclid(step_micro);
    let top = u32::try_from(a.max(b).div_euclid(step_micro) + 1 - lowest).unwrap();
    Gauge {
        terminal: 0,
        unit: "N".into(),
        step_micro,
        points: [(from_ua, from), (to_ua, to)],
        trusted_ua,
        broken_ua,
        lowest,
        top,
        moves_at_most: None,
        rests: None,
    }
}

#[test]
fn every_code_of_a_converter_is_the_step_that_the_host_says() {
    let heavy = is_heavy();
    let mut rng = Rng::new(21);
    for trial in 0..if heavy { 500 } else { 20 } {
        let gauge = gauge(&mut rng);
        let scale_of = Scale::new(&pack::scale(&gauge), gauge.top).unwrap();
        for top in [4_095, u16::MAX] {
            for code in 0..=top {
                let current = i64::from(nanoamps(code, top, 24_000_000).unwrap());
                let (mine, theirs) = (scale_of.read(current), scale(&gauge, current));
                let health = match theirs.health {
                    Health::Good => image::Health::Good,
                    Health::Doubtful => image::Health::Doubtful,
                    Health::Broken => image::Health::Broken,
                };
                assert_eq!((mine.steps, mine.health), (theirs.steps, health), "trial {trial}, code {code}: {gauge:?}");
            }
        }
    }
}
