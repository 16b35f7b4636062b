//! Passings of simulated incidents: each counts once, and no window is given where one broke a limit, came never, or too few came.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::planted::station;
use host_tools::passings::tolerance::Wanted;
use host_tools::passings::{NoWindow, Other, Passings, Told};
use host_tools::recording::write::{Rows, Style, Writer};
use host_tools::replay::replay_all;
use host_tools::runner::with_runner;
use host_tools::simulate::{Rules, Scenario, Simulator, record};
use host_tools::station::Station;
use std::fs;
use std::path::Path;

fn text(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo").join(name)).unwrap()
}

fn recorded(station: &Station, scenario: &str) -> Vec<u8> {
    let said = text(&format!("{scenario}.scenario"));
    let scenario = Scenario::read(&said, station).unwrap_or_else(|_| panic!("{scenario} is no scenario"));
    let style = Style { rows: Rows::Change, powers_up: scenario.powers_up, ..Style::default() };
    let mut bytes = Vec::new();
    let mut writer = Writer::new(&mut bytes, station, style).unwrap();
    with_runner(station, |runner| {
        let mut rules = Rules::new(runner, station, &scenario);
        record(&mut Simulator::new(station, &scenario, 1), &mut writer, |scan| rules.answer(scan)).unwrap();
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
    assert_eq!([Other::Least(low), Other::Most(high)].map(|other| force.at(other)), [0, 0]);
    assert_eq!([Other::Least(high + 1), Other::Most(low - 1)].map(|other| force.at(other)), [force.judged; 2]);
    assert_eq!(force.at(Other::Least(force.least[1].0)), force.least[0].1);
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
