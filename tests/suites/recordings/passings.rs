//! Passings of simulated incidents: each counts once, and no window is given where one broke a limit, came never, or too few came.
//! What is counted of carriers on lanes that are as far off as they may be lies in the windows that follow from the lane.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::planted::station;
use host_tools::lane::windows::{Cause, Derived, windows};
use host_tools::passings::tolerance::Wanted;
use host_tools::passings::{At, NoWindow, Other, Passings, Told};
use host_tools::recording::write::{Rows, Style, Writer};
use host_tools::replay::replay_all;
use host_tools::replay::text::{Lines, Paint};
use host_tools::report::recorded::{Recorded, Replayed, recorded as recorded_page};
use host_tools::runner::with_runner;
use host_tools::simulate::{Rules, Scenario, Simulator, record};
use host_tools::station::{InputKind, Station};
use std::fs;
use std::path::Path;

fn text(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo").join(name)).unwrap()
}

fn recorded(station: &Station, scenario: &str) -> Vec<u8> {
    on_a_plant(station, station, &text(&format!("{scenario}.scenario")))
}

/// What the plant of one station shows to the rules of another.
fn on_a_plant(plant: &Station, station: &Station, said: &str) -> Vec<u8> {
    let scenario = Scenario::read(said, station).unwrap_or_else(|_| panic!("no scenario: {said}"));
    let style = Style { rows: Rows::Change, powers_up: scenario.powers_up, ..Style::default() };
    let mut bytes = Vec::new();
    let mut writer = Writer::new(&mut bytes, station, style).unwrap();
    with_runner(station, |runner| {
        let mut rules = Rules::new(runner, station, &scenario);
        record(&mut Simulator::new(plant, &scenario, 1), &mut writer, |scan| rules.answer(scan)).unwrap();
    })
    .unwrap();
    writer.finish().unwrap();
    bytes
}

fn told(station: &Station, recordings: &[&[u8]], wanted: Wanted) -> Vec<Told> {
    let mut passings = Passings::new(station);
    for recording in recordings {
        replay_all(station, recording, &mut passings).unwrap();
        passings.cut();
    }
    passings.told(station, wanted)
}

fn of<'t>(all: &'t [Told], watch: &str) -> &'t Told {
    all.iter().find(|told| told.name == watch).unwrap()
}

/// Three values are enough for half of all with a confidence of a half: 1 - 1/8 - 3/8.
const HALF: Wanted = Wanted { share: 500_000, confidence: 500_000 };

#[test]
fn each_passing_counts_once() {
    let station = station("drive", &[]);
    let recording = recorded(&station, "drive-weak-grip");
    let once = told(&station, &[&recording], HALF);
    let (slowed, force) = (of(&once, "slow-down"), of(&once, "shut-force"));
    assert!(slowed.judged > 3 && slowed.judged.abs_diff(force.judged) <= 2, "{} and {}", slowed.judged, force.judged);
    let window = slowed.window.unwrap();
    assert!(slowed.limits[0].unwrap() <= window[0] && window[1] <= slowed.limits[1].unwrap());
    let sum = |values: &[(i64, u64)]| values.iter().map(|(_, count)| count).sum::<u64>();
    for told in &once {
        assert_eq!([sum(&told.least), sum(&told.greatest)], [told.judged; 2], "{}", told.name);
    }
    // At other limits as many trip as lie beyond: all, none, and those below the second least value.
    let [low, high] = [force.least[0].0, force.greatest.last().unwrap().0];
    let trips = |other| force.at(other).trips;
    assert_eq!([Other::Least(low), Other::Most(high)].map(trips), [0, 0]);
    assert_eq!([Other::Least(high + 1), Other::Most(low - 1)].map(trips), [force.judged; 2]);
    assert_eq!(trips(Other::Least(force.least[1].0)), force.least[0].1);
    let twice = told(&station, &[&recording, &recording], HALF);
    assert!(once.iter().zip(&twice).all(|(once, twice)| twice.judged == 2 * once.judged));
    let strict = Wanted { share: 990_000, confidence: 950_000 };
    assert_eq!(of(&told(&station, &[&recording], strict), "slow-down").window, Err(NoWindow::TooFew(473)));
}

#[test]
fn what_broke_a_limit_or_never_came_leaves_no_window() {
    let station = station("drive", &[]);
    for (scenario, watch) in [("drive-weak-grip", "shut-force"), ("drive-lost-carrier", "through-bay")] {
        let all = told(&station, &[&recorded(&station, scenario)], HALF);
        let told = of(&all, watch);
        assert!(told.judged > 3, "{scenario}: {}", told.judged);
        assert!((1..=2).contains(&told.outside), "{scenario}: {}", told.outside);
        assert_eq!(told.window, Err(NoWindow::Outside), "{scenario}");
    }
}

/// Without an upper limit the controller's counter ends at the lower one. What is there or beyond has no value, in rope and in time.
#[test]
fn what_the_counter_cannot_tell_is_no_value() {
    let rope = "at least 54.02 m of rope apart";
    let time = "at least 9 s apart, with rope at 4.5 m/s to 5.5 m/s throughout";
    for (apart, unit) in [(rope, "m"), (time, "s")] {
        let count = "count carriers-inside";
        let spacing = format!("spacing gap\n    enter rises {apart}\n    closer brake\n\n{count}");
        let station = station("drive", &[(count, &spacing)]);
        let recording = recorded(&station, "drive-weak-grip");
        let all = told(&station, &[&recording], HALF);
        let gap = of(&all, "gap");
        assert!(gap.judged > 3 && gap.unit == unit, "{gap:?}");
        assert_eq!((gap.beyond, gap.outside, gap.window), (gap.judged, 0, Err(NoWindow::Beyond)));
        assert!(gap.least.is_empty() && gap.greatest.is_empty() && gap.measured_to == gap.limits[0], "{gap:?}");
        let end = gap.measured_to.unwrap();
        assert_eq!(gap.at(Other::Least(end)), At { trips: 0, untold: 0 });
        assert_eq!(gap.at(Other::Least(end + 1)), At { trips: 0, untold: gap.judged });
        assert_eq!(gap.at(Other::Most(end - 1)), At { trips: gap.judged, untold: 0 });
        assert_eq!(gap.at(Other::Most(end)), At { trips: 0, untold: gap.judged });

        let mut lines = Lines::new(Vec::new(), Paint(false));
        let summary = replay_all(&station, &recording, &mut lines).unwrap();
        lines.summary(&summary).unwrap();
        let watch = summary.watches.iter().find(|watch| watch.name == "gap").unwrap();
        assert_eq!((watch.judged, watch.beyond), (gap.judged, gap.judged));
        assert_eq!([watch.least, watch.greatest, watch.above_lower, watch.below_upper], [None; 4]);
        let said = String::from_utf8(lines.into_inner()).unwrap();
        assert!(said.contains(&format!("  gap: {0} of {0} lay at ", gap.judged)), "{said}");

        let mut gathered = Recorded::new(&station);
        let summary = &replay_all(&station, &recording, &mut gathered).unwrap();
        let page = recorded_page(&gathered, &Replayed { rules: &[], digest: "", recordings: &[], summary });
        assert!(page.contains(&format!("{0} of {0} lay at ", gap.judged)), "{page}");
    }
}

/// Who never came, or came too late, has no value either, and trips at every limit that is as tight.
#[test]
fn what_came_too_late_trips_at_a_tighter_limit_too() {
    let station = station("drive", &[]);
    let all = told(&station, &[&recorded(&station, "drive-lost-carrier")], HALF);
    let told = of(&all, "through-bay");
    assert!((1..=2).contains(&told.beyond) && told.judged > told.beyond, "{told:?}");
    let [least, most] = told.limits.map(Option::unwrap);
    for tighter in [most, most - 1_000] {
        assert_eq!(told.at(Other::Most(tighter)), At { trips: told.beyond, untold: 0 });
    }
    assert_eq!(told.at(Other::Most(most + 1_000_000)), At { trips: 0, untold: told.beyond });
    assert_eq!(told.at(Other::Least(least)), At { trips: 0, untold: 0 });
}

/// A passing of which the end was not seen is left out, but for one that broke a limit by then.
#[test]
fn what_broke_a_limit_counts_though_its_end_was_not_seen() {
    let station = station("drive", &[]);
    let whole = String::from_utf8(recorded(&station, "drive-weak-grip")).unwrap();
    // The grip that closes badly is looked at from 138 s on.
    let ms = |line: &str| line.split(',').next().and_then(|time| time.parse::<u64>().ok());
    let until = |end: u64| {
        let lines = whole.lines().filter(|line| ms(line).is_none_or(|ms| ms <= end));
        lines.map(|line| line.to_owned() + "\n").collect::<String>()
    };
    let [before, within] = [137_980, 138_000].map(|end| told(&station, &[until(end).as_bytes()], HALF));
    let [before, within] = [&before, &within].map(|all| of(all, "shut-force").clone());
    let limit = Other::Least(within.limits[0].unwrap());
    assert_eq!((before.outside, before.at(limit).trips), (0, 0));
    assert_eq!((within.outside, within.at(limit).trips), (1, 1));
    assert_eq!(within.judged, before.judged + 1);
}

/// The plant as it may be built: every other detector a little on, the others back, and carriers faster (1) or slower (-1).
fn built(station: &Station, odd: usize, faster: i64) -> Station {
    let mut plant = station.clone();
    let lane = plant.lane.as_mut().unwrap();
    let far = lane.tolerances;
    let parts = 1_000_000 + faster * i64::from(far.share_ppm);
    let off = |share: u32| u32::try_from(i64::from(share) * parts / 1_000_000).unwrap();
    for stretch in lane.stretches.iter_mut().filter(|stretch| stretch.share != (1_000_000, 1_000_000)) {
        stretch.share = (off(stretch.share.0), off(stretch.share.1));
    }
    let detectors = plant.inputs.iter_mut().filter_map(|input| match &mut input.kind {
        InputKind::Detector(detector) => Some(detector),
        _ => None,
    });
    for (number, detector) in detectors.enumerate() {
        let by = far.detector + far.switching;
        detector.at = if number % 2 == odd { detector.at + by } else { detector.at - by };
    }
    plant
}

#[test]
fn carriers_of_a_plant_that_is_off_are_counted_within_the_derived_windows() {
    for (which, scenario) in [("drive", "drive-weak-grip"), ("return", "return-weak-spring")] {
        let station = station(which, &[]);
        let said = text(&format!("{scenario}.scenario"));
        let quiet: Vec<&str> = said.lines().filter(|line| !line.starts_with("at 2 min")).collect();
        let said = quiet.join("\n").replace("last 4 min", "last 80 s");
        let derived = windows(&station);
        let mut seen = vec![[i64::MAX, i64::MIN]; derived.len()];
        for (odd, faster) in [(0, 1), (1, 1), (0, -1), (1, -1)] {
            let recording = on_a_plant(&built(&station, odd, faster), &station, &said);
            let all = told(&station, &[&recording], HALF);
            for (seen, derived) in seen.iter_mut().zip(&derived) {
                let told = of(&all, &station.watches[derived.watch].name.text);
                assert!(told.judged > 1 && told.outside == 0, "{}: {told:?}", told.name);
                let (least, most) = (told.least[0].0, told.greatest.last().unwrap().0);
                let unit = if told.unit == "m" { 1_000 } else { i64::from(station.scan_us) };
                if let Ok(end) = &derived.least {
                    assert!(least >= i64::from(end.counted) * unit, "{}: {least}, {end:?}", told.name);
                }
                if let Ok(end) = &derived.most {
                    assert!(most <= i64::from(end.counted) * unit, "{}: {most}, {end:?}", told.name);
                }
                *seen = [seen[0].min(least), seen[1].max(most)];
            }
        }
        // Where speeds take a fifth of the margin, a third of it is used, though the rope is steady: what it does while a change
        // settles is not drawn here.
        let by_speeds = |derived: &Derived| {
            let parts = derived.most.as_ref().map_or(&[][..], |end| &end.parts);
            let of =
                |all: bool| parts.iter().filter(|it| all || it.cause == Cause::Speeds).map(|it| it.amount).sum::<i64>();
            of(false) > of(true) / 5
        };
        for (seen, derived) in seen.iter().zip(&derived).filter(|(_, derived)| by_speeds(derived)) {
            let nominal = i64::try_from(derived.nominal.unwrap() / 1_000).unwrap();
            for (end, used) in [(&derived.least, nominal - seen[0]), (&derived.most, seen[1] - nominal)] {
                let margin: i64 = end.as_ref().unwrap().parts.iter().map(|part| part.amount / 1_000).sum();
                assert!(3 * used > margin, "{}: {used} of {margin}", station.watches[derived.watch].name.text);
            }
        }
    }
}
