//! Carriers kept apart, against two carriers that are moved along the lane in small steps.

use super::*;
use crate::lane::tests::lane;
use crate::load::load;
use crate::station::Stretch;
use crate::text::parse::Source;

const BENCH: &str = include_str!("../../../../tests/cases/faults/late-past-contact.rules");

fn station(edits: &[(&str, &str)]) -> Station {
    let text = edits.iter().fold(BENCH.to_owned(), |text, (old, new)| {
        assert!(text.contains(old), "{old}");
        text.replace(old, new)
    });
    let loaded = load(vec![Source { path: "bench".into(), bytes: text.into_bytes() }]);
    loaded.station.unwrap_or_else(|| panic!("{:?}", loaded.findings))
}

/// Share of the rope speed at a place, from the stretches alone.
fn share(lane: &Lane, place: f64) -> f64 {
    let here = |s: &&Stretch| place >= f64::from(s.from) && place < f64::from(s.to);
    let Some(stretch) = lane.stretches.iter().find(here) else { return 1.0 };
    let (first, last) = (f64::from(stretch.share.0) / 1e6, f64::from(stretch.share.1) / 1e6);
    let way = (place - f64::from(stretch.from)) / f64::from(stretch.to - stretch.from);
    (first * first + way * (last * last - first * first)).sqrt()
}

/// Where a carrier is after so much rope, in steps of a tenth of a millimetre.
fn moved(lane: &Lane, mut place: f64, rope: f64) -> f64 {
    let mut left = rope;
    while left > 0.0 {
        let step = left.min(0.1);
        // The midpoint rule.
        let middle = place + share(lane, place) * step / 2.0;
        place += share(lane, middle) * step;
        left -= step;
    }
    place
}

#[test]
fn the_least_distance_is_that_of_small_steps() {
    let ends = [
        (1_000, 1_000_000),
        (5_000, 200_000),
        (7_000, 200_000),
        (9_000, 400_000),
        (10_000, 300_000),
        (14_000, 1_000_000),
        (20_000, 1_000_000),
    ];
    let lane = lane(1_000_000, &ends);
    let course = Course::new(&lane);
    for rope in [900.0, 3_300.0, 8_000.0, 14_000.0] {
        let (from, to) = (course.run_to(500.0), course.run_to(15_000.0));
        let (least, _) = nearest(&course, [from, to], rope);
        // The next one starts so much rope later at the beginning, where both run at rope speed.
        let (mut first, mut second) = (500.0, 500.0 - rope);
        let mut stepped = f64::INFINITY;
        while first < 15_000.0 {
            stepped = stepped.min(first - second);
            first = moved(&lane, first, 2.0);
            second = moved(&lane, second, 2.0);
        }
        assert!((least - stepped).abs() < 1.0, "{rope}: {least} or {stepped}");
    }
}

/// Greatest speed, mm/s, at which the next carrier runs into one that stands at `at`, `rope` behind it when that passed
/// the first detector at `from`, if the stop is asked for after `late` mm. Time in steps of a tenth of a millisecond.
fn runs_into(
    lane: &Lane,
    (from, at): (f64, f64),
    rope: f64,
    late: f64,
    (top, reacts, slows): (f64, f64, f64),
) -> Option<f64> {
    let body = f64::from(lane.body.unwrap());
    // Where the next one is when the first passes the detector: so much rope before it.
    let mut start = from;
    let mut back = rope;
    while back > 0.0 {
        let step = back.min(0.5);
        start -= share(lane, start) * step;
        back -= step;
    }
    let (mut place, mut speed, mut gone, mut since) = (start, top, 0.0, 0.0);
    while speed > 0.0 {
        let dt = 1e-4;
        if gone >= late {
            since += dt;
            if since > reacts {
                speed -= slows * dt;
            }
        }
        gone += speed * dt;
        place += share(lane, place) * speed * dt;
        if place >= at - body {
            return Some(share(lane, place) * speed);
        }
    }
    None
}

#[test]
fn the_late_limit_decides_whether_they_touch() {
    let of = |edits: &[(&str, &str)]| {
        let station = station(edits);
        let kept = apart(&station).unwrap();
        let travel = kept.travels.iter().find(|travel| station.watches[travel.watch].name.text == "through").unwrap();
        (travel.clone(), station.lane.clone().unwrap())
    };
    // 40 ms and 20 ms of path, 400 ms until the brake bites; 0.4 m/s².
    let stop = (5_500.0, 0.46, 400.0);
    let (travel, lane) = of(&[]);
    let most = travel.late_at_most.unwrap();
    assert!(travel.late > 40_000 && (0..10_000).contains(&most), "{travel:?}");
    let rope = f64::from(travel.rope.unwrap());
    let from = 9_200.0;
    #[expect(clippy::cast_precision_loss, reason = "some metres")]
    let most = most as f64;
    assert_eq!(runs_into(&lane, (from, from), rope, most - 60.0, stop), None);
    assert!(runs_into(&lane, (from, from), rope, most + 60.0, stop).is_some());
    // Wherever it stands, none runs into it faster than is said, and one does about so fast.
    let contact = travel.contact.unwrap();
    let late = f64::from(travel.late);
    let at = |place: u32| runs_into(&lane, (from, f64::from(place)), rope, late, stop).unwrap_or(0.0);
    for place in (9_200..18_800).step_by(1_600) {
        assert!(at(place) <= f64::from(contact.speed) * 1.01, "{place}: {} or {contact:?}", at(place));
    }
    assert!((at(contact.at) - f64::from(contact.speed)).abs() < f64::from(contact.speed) * 0.02);
    // A carrier that is carried cannot stand.
    let (carried, _) = of(&[("19.00 m steady", "19.00 m steady, carried with the rope")]);
    assert_eq!((carried.carried, carried.late_at_most, carried.contact), (true, None, None));
}

#[test]
fn windows_and_counting_take_from_the_distance() {
    let kept = apart(&station(&[])).unwrap();
    // At each of four detectors and passings: a scan of at most 55 mm, and a pulse of 5 mm. 54.055 m is what is judged; the windows
    // are 1, 2 and 1 m wide, less two scans.
    let ends = (kept.complete, kept.kept.unwrap().enters, kept.kept.unwrap().least_rope);
    assert_eq!(ends, (true, 53_995, 53_995 - 3 * 120 - 890 - 1_890 - 890));
    // Switching counts at the share that the carrier has there, both carriers anew.
    let loose = apart(&station(&[("line speed", "switching within 10 mm, line speed")])).unwrap();
    assert!(loose.kept.unwrap().least_rope < kept.kept.unwrap().least_rope - 2 * 2 * 2 * 10 * 4);
    assert!(loose.travels[1].late_at_most < kept.travels[1].late_at_most);
}

#[test]
fn where_nothing_always_holds_nothing_is_known() {
    let modes = "scan 10 ms\nmode run selected by run-key\nmode mend selected by mend-key\nkey run-key on DI-20\nkey mend-key on DI-21\n";
    let carried = ("19.00 m steady", "19.00 m steady, carried with the rope");
    assert!(apart(&station(&[carried])).unwrap().travels.iter().all(OfTravel::is_safe));
    let told = |edits: &[(&str, &str)]| {
        let apart = apart(&station(edits)).unwrap();
        assert!(!apart.complete, "{edits:?}");
        assert_eq!(apart.travels.len(), 3);
        apart
    };
    // In one mode only: nothing is said behind it, and nothing is safe.
    let through = told(&[("scan 10 ms\n", modes), ("travel through\n", "travel through\n    in run\n")]);
    assert_eq!(through.kept.unwrap().to, 9_200);
    assert_eq!(
        through.travels.iter().map(|t| (t.holds, t.rope.is_some())).collect::<Vec<_>>(),
        [(Holds::Always, true), (Holds::Modes, true), (Holds::Always, false)]
    );
    assert!(!through.travels[1].is_safe() && !through.travels[2].is_safe());
    // Masked by a bypass.
    let bypass = "key pass-key on DI-22\nbypass pass of slowing\n    in run\n    while pass-key held\n    rope at most 1 m/s, for at most 5 min, then not again for 1 h\nreset by";
    let masked = told(&[("scan 10 ms\n", modes), ("reset by", bypass)]);
    assert_eq!(masked.travels[0].holds, Holds::Bypassed);
    // In time, while a band lasts.
    let timed =
        told(&[("takes 14.4 m to 15.4 m of rope", "takes 2.7 s to 3.3 s, with rope at 4.9 m/s to 5.1 m/s throughout")]);
    assert_eq!((timed.travels[0].holds, timed.travels[1].rope), (Holds::Band, None));
    // Without a spacing what the lane declares counts; without that nothing does.
    let spacing = "spacing line-gap\n    enter rises at least 54.0 m of rope apart and at most 66.0 m of rope apart\n    closer halt, farther halt\n";
    assert_eq!(apart(&station(&[(spacing, "")])).unwrap().kept.unwrap().enters, 54_200);
    assert_eq!(told(&[(spacing, ""), (", at least 54.2 m apart", "")]).kept, None);
}

#[test]
fn a_spacing_alone_is_judged_where_it_stands() {
    let alone = station(&[
        ("enter rises at least", "out rises at least"),
        ("travel leaving\n    from out to shut", "travel leaving\n    from enter to shut"),
    ]);
    let kept = apart(&alone).unwrap().kept.unwrap();
    // At a fifth of the rope speed so long a way back to the slowing: 18.8 m, and 54 m of rope before it.
    let course = Course::new(alone.lane.as_ref().unwrap());
    let behind = course.place_at(course.run_to(18_800.0) - f64::from(kept.enters));
    assert_eq!(kept.least, down(18_800.0 - behind - 2_000.0));
}
