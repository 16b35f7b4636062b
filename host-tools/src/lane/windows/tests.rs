//! Windows against carriers that are moved in small steps of time, by speeds, places and moments that are drawn.
//!
//! What moves them knows the speed at a place, and sums it up. It has no closed form of a run, no corner and no rounding.

use super::ladder::{Ladder, Side};
use super::table::table;
use super::{Derived, Verdict, Why, windows};
use crate::lane::tests::lane;
use crate::station::{InputKind, Lane, Measured, Station, WatchKind};
use crate::testing::{demo_station, small_station};

/// Steps of a scan in which a carrier is moved.
const STEPS: u32 = 20;

#[derive(Debug)]
struct Draw(u64);

impl Draw {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(self.0 >> 32).unwrap()) / f64::from(u32::MAX)
    }
    fn between(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * self.unit()
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small and not negative")]
    fn whole(&mut self, least: u32, most: u32) -> u32 {
        self.between(f64::from(least), f64::from(most) + 0.999).floor() as u32
    }
    fn either_way(&mut self, most: f64) -> f64 {
        self.between(-most, most)
    }
}

/// How the rope is run.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Rope {
    /// As it comes.
    Anyhow,
    /// So that least is counted, or most: fast and slow just where it matters.
    ForLeast,
    ForMost,
    /// So many mm a scan.
    Steady(f64),
}

/// One passing of two detectors.
#[derive(Debug)]
struct Passing<'s> {
    lane: &'s Lane,
    /// Parts by which the carrier is faster, half metre by half metre.
    off: Vec<f64>,
    /// Where the detectors switch.
    at: [f64; 2],
    settles: [u32; 2],
    /// Greatest travel of the rope in a scan.
    top: f64,
    rope: Rope,
    /// Before the first, to begin with.
    before: f64,
}

impl Passing<'_> {
    /// Speed at a place, as a part of the rope's.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "places on a short lane")]
    fn share(&self, at: f64) -> f64 {
        let on = |s: &&crate::station::Stretch| at >= f64::from(s.from) && at <= f64::from(s.to);
        let stretch = self.lane.stretches.iter().find(on).unwrap();
        let (first, last) = (f64::from(stretch.share.0) / 1e6, f64::from(stretch.share.1) / 1e6);
        let way = (at - f64::from(stretch.from)) / f64::from(stretch.to - stretch.from);
        let plain = (first * first + (last * last - first * first) * way).sqrt();
        let rope = stretch.share == (1_000_000, 1_000_000);
        plain * if rope { 1.0 } else { 1.0 + self.off[(at / 500.0).max(0.0) as usize] }
    }
    /// Rope in mm up to the two scans in which the detectors are taken to rise, and the scans between.
    fn taken(&self, draw: &mut Draw) -> ([f64; 2], u32) {
        let (mut place, mut run) = (self.at[0] - self.before, 0.0);
        let mut shown = [None; 2];
        let (mut taken, mut scans) = ([None; 2], [0; 2]);
        let mut speed = self.top;
        for scan in 0_u32..1_000_000 {
            for which in 0..2 {
                if place >= self.at[which] {
                    let first = *shown[which].get_or_insert(scan);
                    if scan >= first + self.settles[which] && taken[which].is_none() {
                        (taken[which], scans[which]) = (Some(run), scan);
                    }
                }
            }
            if let [Some(first), Some(second)] = taken {
                return ([first, second], scans[1] - scans[0]);
            }
            let which = usize::from(taken[0].is_some());
            let (left, seen) = (self.at[which] - place, shown[which].is_some());
            let (slowly, barely) = (self.top.min(left / 2.0), self.top.min(left / 2.0 + 0.02));
            // To be just before a detector when a scan samples it, and fast from there; or just behind it, and at rest.
            let late = if seen || left < 0.05 { self.top } else { slowly };
            let soon = if seen { 0.0 } else { barely };
            speed = match (self.rope, which) {
                (Rope::Steady(speed), _) => speed,
                (Rope::ForLeast, 0) | (Rope::ForMost, _) if which == usize::from(self.rope == Rope::ForMost) => late,
                (Rope::ForLeast | Rope::ForMost, _) => soon,
                (Rope::Anyhow, _) if draw.unit() > 0.03 => speed,
                (Rope::Anyhow, _) => draw.between(-0.1, 1.0).max(0.0) * self.top,
            };
            for _ in 0..STEPS {
                let rope = speed / f64::from(STEPS);
                let half = place + self.share(place) * rope / 2.0;
                place += self.share(half) * rope;
                run += rope;
            }
        }
        panic!("it does not arrive: {self:?}")
    }
}

/// A station with one travel over a lane, all of it drawn.
fn drawn(draw: &mut Draw, measured: Option<(f64, f64)>) -> (Station, f64) {
    let mut station = small_station();
    let (slow, top, pulse) = (draw.whole(100_000, 600_000), draw.whole(30, 60), draw.whole(1, 5));
    let mut ends = vec![(draw.whole(500, 2_000), 1_000_000)];
    for (least, most, share) in
        [(2_000, 8_000, slow), (1_000, 6_000, slow), (2_000, 8_000, 1_000_000), (1_000, 3_000, 1_000_000)]
    {
        let from = ends.last().unwrap().0;
        ends.push((from + draw.whole(least, most), share));
    }
    let mut lane = lane(1_000_000, &ends);
    let end = ends.last().unwrap().0;
    lane.tolerances.share_ppm = draw.whole(0, 30_000);
    lane.tolerances.detector = draw.whole(0, 20);
    lane.tolerances.switching = draw.whole(0, 10);
    let first = draw.whole(400, end - 1_400);
    let second = draw.whole(first + 500, end - 400);
    for (at, place) in [(0, first), (1, second)] {
        if let InputKind::Detector(detector) = &mut station.inputs[at].kind {
            (detector.at, detector.settle.up) = (place, draw.whole(0, 3));
        }
    }
    if let InputKind::Pace(pace) = &mut station.inputs[4].kind {
        (pace.top, pace.mm_a_pulse, pace.top_scan) = (top * pace.span, pulse, (top.div_ceil(pulse) + 1) * pulse);
        if let (Some((least, most)), WatchKind::Travel(travel)) = (measured, &mut station.watches[0].kind) {
            let mm = |part: f64| draw_mm(part, pace.top);
            travel.measured = Measured::Time { pace: 4, least: mm(least), most: mm(most) };
        }
    }
    station.lane = Some(lane);
    (station, f64::from(top))
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a part of a small number")]
fn draw_mm(part: f64, of: u32) -> u32 {
    (part * f64::from(of)) as u32
}

/// How many are drawn.
fn draws(short: u32, long: u32) -> u32 {
    if std::env::var("HALTPROOF_HEAVY").is_ok_and(|value| ["1", "2"].contains(&value.as_str())) { long } else { short }
}

/// A passing of a station's two detectors: at the corner for the least (-1) or the most (1), or drawn.
fn passing<'s>(station: &'s Station, top: f64, corner: Option<f64>, rope: Rope, draw: &mut Draw) -> Passing<'s> {
    let lane = station.lane.as_ref().unwrap();
    let far = lane.tolerances;
    let (speeds, places) = (f64::from(far.share_ppm) / 1e6, f64::from(far.detector + far.switching));
    let ends = [0, 1].map(|at| match &station.inputs[at].kind {
        InputKind::Detector(detector) => (f64::from(detector.at), detector.settle.up),
        _ => panic!("no detector"),
    });
    let off = (0..100).map(|_| corner.map_or_else(|| draw.either_way(speeds), |side| -side * speeds)).collect();
    let mut at = |which: usize, towards: f64| {
        let drawn = draw.either_way(f64::from(far.detector)) + draw.either_way(f64::from(far.switching));
        ends[which].0 + corner.map_or(drawn, |side| -side * towards * places)
    };
    let at = [at(0, 1.0), at(1, -1.0)];
    Passing { lane, off, at, settles: [ends[0].1, ends[1].1], top, rope, before: draw.between(0.0, 200.0) }
}

fn bounds(derived: &Derived) -> (f64, f64) {
    (f64::from(derived.least.as_ref().unwrap().counted), f64::from(derived.most.as_ref().unwrap().counted))
}

#[test]
fn no_carrier_leaves_a_window_in_rope_and_both_ends_are_reached() {
    let mut draw = Draw(7);
    for number in 0..draws(150, 10_000) {
        let (station, top) = drawn(&mut draw, None);
        let (least, most) = bounds(&windows(&station)[0]);
        let pulse = match &station.inputs[4].kind {
            InputKind::Pace(pace) => f64::from(pace.mm_a_pulse),
            _ => panic!("no pace"),
        };
        // Pulses that have been counted since some moment; where the wheel stood then is drawn, or all are tried.
        let counted = |runs: [f64; 2], phase: f64| {
            (((runs[1] + phase) / pulse).floor() - ((runs[0] + phase) / pulse).floor()) * pulse
        };
        for _ in 0..2 {
            let (runs, _) = passing(&station, top, None, Rope::Anyhow, &mut draw).taken(&mut draw);
            let mm = counted(runs, draw.between(0.0, pulse));
            assert!(mm >= least && mm <= most, "{number}: {mm} is not within {least} to {most}");
        }
        // Pulses come whole, so that an end is missed by up to one.
        let near = (most - least) * 0.05 + pulse;
        for (corner, rope) in [(-1.0, Rope::ForLeast), (1.0, Rope::ForMost)] {
            let (runs, _) = passing(&station, top, Some(corner), rope, &mut draw).taken(&mut draw);
            let all = (0..20).map(|part| counted(runs, pulse * f64::from(part) / 20.0));
            let mm = if corner < 0.0 { all.fold(f64::MAX, f64::min) } else { all.fold(0.0, f64::max) };
            assert!(mm >= least && mm <= most, "{number}: {mm} is not within {least} to {most}");
            let missed = if corner < 0.0 { mm - least } else { most - mm };
            assert!(missed <= near, "{number}: {mm} is {missed} from the end of {least} to {most}");
        }
    }
}

#[test]
fn no_carrier_leaves_a_window_in_time_and_both_ends_are_reached() {
    let mut draw = Draw(11);
    for number in 0..draws(60, 1_000) {
        let band = (draw.between(0.4, 0.8), draw.between(0.82, 1.0));
        let (station, top) = drawn(&mut draw, Some(band));
        let (least, most) = bounds(&windows(&station)[0]);
        let InputKind::Pace(pace) = &station.inputs[4].kind else { panic!("no pace") };
        let pulse = f64::from(pace.mm_a_pulse);
        let WatchKind::Travel(travel) = &station.watches[0].kind else { panic!("no travel") };
        let Measured::Time { least: slowest, most: fastest, .. } = travel.measured else { panic!("no time") };
        let span = f64::from(pace.span);
        let edges = [(f64::from(slowest) - pulse) / span, (f64::from(fastest) + pulse) / span];
        let mut count = |corner, speed| {
            f64::from(passing(&station, top, corner, Rope::Steady(speed), &mut draw).taken(&mut Draw(1)).1)
        };
        let drawn = count(None, edges[0] + (edges[1] - edges[0]) * f64::from(number % 17) / 16.0);
        assert!(drawn >= least && drawn <= most, "{number}: {drawn} is not within {least} to {most}");
        for (corner, speed) in [(-1.0, edges[1]), (1.0, edges[0])] {
            let all: Vec<f64> = (0..12).map(|_| count(Some(corner), speed)).collect();
            assert!(all.iter().all(|it| *it >= least && *it <= most), "{number}: {all:?} not within {least} to {most}");
            let missed = |it: &f64| if corner < 0.0 { *it - least } else { most - *it };
            // Where a scan falls is left to chance, and gives one scan.
            assert!(
                all.iter().any(|it| missed(it) <= (most - least) * 0.05 + 1.0),
                "{number}: {all:?}, {least} to {most}"
            );
        }
    }
}

#[test]
fn two_carriers_are_counted_no_closer_and_no_farther_than_is_derived() {
    let mut draw = Draw(13);
    let apart = 40_000.0;
    for number in 0..draws(12, 300) {
        let (mut station, top) = drawn(&mut draw, None);
        if let Some(lane) = &mut station.lane {
            (lane.least_every, lane.most_every, lane.uncouples) = (Some(40_000), Some(40_000), 300);
        }
        if let WatchKind::Travel(travel) = &station.watches[0].kind {
            let spacing = crate::station::Spacing {
                detector: travel.to,
                measured: travel.measured,
                least: 30_000,
                most: Some(50_000),
                closer: 3,
                farther: 3,
            };
            station.watches[0].kind = WatchKind::Spacing(spacing);
        }
        let derived = &windows(&station)[0];
        let [least, most] = [&derived.least, &derived.most].map(|end| f64::from(end.as_ref().unwrap().counted));
        // Both start where they leave the rope, one after the other, and are seen by the second detector. At the corner of the
        // least the first is slow and seen late, the second fast and seen soon; at that of the most the other way.
        let far = station.lane.as_ref().unwrap().tolerances;
        let off = draw.either_way(f64::from(far.detector));
        let mut run = |corner: Option<f64>| {
            let mut it = passing(&station, top, None, Rope::Steady(top), &mut draw);
            let InputKind::Detector(detector) = &station.inputs[1].kind else { panic!("no detector") };
            // Where the way is longest, carriers drift apart the most.
            it.at = [300.0, f64::from(detector.at) + if corner.is_some() { f64::from(far.detector) } else { off }];
            it.before = 0.0;
            it.settles = [0, 0];
            let sw = f64::from(far.switching);
            it.at[1] += corner.map_or_else(|| draw.either_way(sw), |side| side * sw);
            if let Some(side) = corner {
                it.off = vec![-side * f64::from(far.share_ppm) / 1e6; 100];
            }
            it.rope = Rope::Steady(2.0);
            it.taken(&mut Draw(1)).0[1]
        };
        for (first, second) in [(None, None), (Some(1.0), Some(-1.0)), (Some(-1.0), Some(1.0))] {
            let between = apart + run(second) - run(first);
            let InputKind::Detector(detector) = &station.inputs[1].kind else { panic!("no detector") };
            let InputKind::Pace(pace) = &station.inputs[4].kind else { panic!("no pace") };
            // What sampling, settling and a pulse may hide at the utmost.
            let hidden = f64::from(detector.settle.up + 1) * top + f64::from(pace.mm_a_pulse);
            // A passing is noticed up to a step of 2 mm late.
            let (nearest, farthest) = (between - hidden, between + hidden);
            assert!(nearest >= least - 2.0, "{number}: {between} less {hidden} is under {least}");
            assert!(farthest <= most + 2.0, "{number}: {between} and {hidden} are over {most}");
            let (missed, margin) = match first {
                Some(side) if side > 0.0 => (nearest - least, apart - least),
                Some(_) => (most - farthest, most - apart),
                None => continue,
            };
            assert!(missed <= margin * 0.05 + 5.0, "{number}: missed by {missed} of {margin}");
        }
    }
}

#[test]
fn parts_sum_to_the_margin_and_the_demo_fits() {
    for which in ["drive", "return"] {
        let station = demo_station(which);
        let all = windows(&station);
        assert!(all.len() >= 8);
        for derived in &all {
            let unit = if matches!(derived.measured, Measured::Rope(_)) { 1_000_000 } else { 10_000_000 };
            for (end, outward) in [(&derived.least, -1), (&derived.most, 1)] {
                let Ok(end) = end else { continue };
                let sum: i64 = end.parts.iter().map(|part| part.amount).sum();
                assert_eq!(i64::try_from(end.from).unwrap() + outward * sum, i64::from(end.counted) * unit);
            }
            let (least, most) = derived.verdicts(station.scan_us);
            assert_eq!(least, Verdict::Fits, "{derived:?}");
            assert_eq!(most, Verdict::Fits, "{derived:?}");
        }
    }
}

fn place(station: &mut Station, at: usize, mm: u32) {
    if let InputKind::Detector(detector) = &mut station.inputs[at].kind {
        detector.at = mm;
    }
}

#[test]
fn what_cannot_be_known_is_told_and_not_derived() {
    let why = |change: fn(&mut Station)| {
        let (mut station, _) = drawn(&mut Draw(3), None);
        change(&mut station);
        windows(&station)[0].least.clone().err()
    };
    assert_eq!(why(|_| ()), None);
    assert_eq!(why(|station| station.lane = None), Some(Why::OffLane));
    assert_eq!(why(|station| place(station, 1, 90_000)), Some(Why::OffLane));
    assert_eq!(why(|station| (place(station, 0, 2_000), place(station, 1, 2_000)).0), Some(Why::Backwards));
    let other = |station: &mut Station| {
        let rope = station.inputs[4].clone();
        station.inputs.push(rope);
        if let WatchKind::Travel(travel) = &mut station.watches[0].kind {
            travel.measured = Measured::Rope(station.inputs.len() - 1);
        }
    };
    assert_eq!(why(other), Some(Why::OtherPace));
    let standing = |station: &mut Station| {
        if let WatchKind::Travel(travel) = &mut station.watches[0].kind {
            travel.measured = Measured::Time { pace: 4, least: 1, most: 500 };
        }
    };
    let (mut station, _) = drawn(&mut Draw(3), None);
    standing(&mut station);
    assert_eq!(windows(&station)[0].most, Err(Why::Standing));
    assert!(windows(&station)[0].least.is_ok());
}

#[test]
fn a_limit_of_nothing_is_offered_only_where_it_is_kept() {
    // 100 mm less the rounding are counted, and a scan's travel is taken off.
    let end = |narrowed| {
        let ladder = Ladder::new(Side::Least, 100_999_999).unwrap();
        ladder.end(1_000_000, narrowed).map(|end| (end.counted, end.limit))
    };
    assert_eq!(end(99), Ok((100, Some(1))));
    assert_eq!(end(100), Ok((100, Some(0))));
    assert_eq!(end(101), Ok((100, None)));
}

#[test]
fn nothing_ends_well_without_being_derived() {
    let status = |change: fn(&mut Station)| {
        let (mut station, _) = drawn(&mut Draw(3), None);
        change(&mut station);
        let derived: Vec<Derived> = windows(&station)
            .into_iter()
            // What stands is taken to be just what is derived, so that nothing but what is not derived can be wrong.
            .map(|it| Derived {
                stands: (
                    it.least.as_ref().map_or(1, |end| end.counted),
                    Some(it.most.as_ref().map_or(1, |end| end.counted)),
                ),
                ..it
            })
            .collect();
        table(&station, &derived).status
    };
    assert_eq!(status(|_| ()), 0);
    assert_eq!(status(|station| place(station, 1, 90_000)), 1);
    assert_eq!(status(|station| (place(station, 0, 2_000), place(station, 1, 2_000)).0), 1);
    let spaced = |station: &mut Station| {
        if let WatchKind::Travel(travel) = &station.watches[0].kind {
            let (detector, measured) = (travel.to, travel.measured);
            let spacing =
                crate::station::Spacing { detector, measured, least: 1, most: Some(1), closer: 3, farther: 3 };
            station.watches[0].kind = WatchKind::Spacing(spacing);
        }
        if let Some(lane) = &mut station.lane {
            lane.uncouples = 300;
        }
    };
    let (mut station, _) = drawn(&mut Draw(3), None);
    spaced(&mut station);
    let told = |station: &Station| table(station, &windows(station));
    assert_eq!(windows(&station)[0].least, Err(Why::NoLeast));
    assert_eq!(told(&station).status, 1);
    if let Some(lane) = &mut station.lane {
        lane.least_every = Some(40_000);
    }
    assert_eq!(windows(&station)[0].most, Err(Why::NoMost));
    assert_eq!(told(&station).status, 1);
    // Where no greatest distance is asked for, none is missing.
    if let WatchKind::Spacing(spacing) = &mut station.watches[0].kind {
        spacing.most = None;
    }
    assert_eq!(told(&station).status, 0);
}
