//! Whole runs of a small station.

use super::scenario::Scenario;
use super::{Obeyed, Scan, Simulator};
use crate::sample::Health;

mod closed;
mod tiny;

pub(crate) use tiny::tiny_station;

const ARRIVE: usize = 0;
const FORCE_POINT: usize = 1;
const FORK: usize = 2;
const READ_BACK: usize = 5;

fn run(text: &str) -> Vec<Scan> {
    let station = tiny_station();
    let scenario = Scenario::read(text, &station).unwrap_or_else(|p| panic!("{p:?}"));
    Simulator::new(&station, &scenario, 7).run().collect()
}

fn level(scan: &Scan, channel: usize) -> bool {
    scan.sample.channels[channel]
}

fn rises(scans: &[Scan], channel: usize) -> Vec<usize> {
    (1..scans.len()).filter(|i| level(&scans[*i], channel) && !level(&scans[i - 1], channel)).collect()
}

fn rope_between(scans: &[Scan], from: usize, to: usize) -> i32 {
    scans[from + 1..=to].iter().map(|s| s.sample.travel[0]).sum()
}

#[test]
fn the_run_in_rope_does_not_depend_on_the_speed() {
    // Share 1 to 0.2 over 4 m is 2 x 4 / 1.2 m of rope; 2 m at 0.2 is 10 m.
    let station = tiny_station();
    let course = crate::lane::Course::new(station.lane.as_ref().unwrap());
    assert!((course.run_to(7_000.0) - (1_000.0 + 8_000.0 / 1.2 + 10_000.0)).abs() < 1e-6);
    let mut found = Vec::new();
    for speed in ["5.0 m/s", "1.0 m/s", "2.7 m/s"] {
        let scans = run(&format!("lane starts empty\nrope starts at {speed}\nlast 2 min"));
        let (from, to) = (rises(&scans, ARRIVE)[0], rises(&scans, FORCE_POINT)[0]);
        found.push(rope_between(&scans, from, to));
    }
    let changing = run(
        "lane starts empty\nrope starts at 5.0 m/s\nlast 2 min\nat 5 s rope to 1 m/s\nat 9 s rope to 0 m/s\nat 30 s rope to 4 m/s",
    );
    found.push(rope_between(&changing, rises(&changing, ARRIVE)[0], rises(&changing, FORCE_POINT)[0]));
    let true_run = course.run_to(8_000.0) - course.run_to(400.0);
    // A scan's travel at each end is what sampling can shift.
    assert!(found.iter().all(|f| (f64::from(*f) - true_run).abs() <= 60.0), "{found:?} {true_run}");
}

#[test]
fn same_seed_same_run() {
    let text = "rope starts at 5 m/s\nlast 1 min\ncarriers spread by 100 mm\nat 20 s rope-fork chatters for 300 ms";
    let station = tiny_station();
    let scenario = Scenario::read(text, &station).unwrap();
    let all = |seed| Simulator::new(&station, &scenario, seed).run().collect::<Vec<_>>();
    assert_eq!(all(1), all(1));
    assert_ne!(all(1), all(2));
    assert_eq!(all(1).len(), 6_000);
}

#[test]
fn rest_is_as_the_rule_file_says() {
    let scans = run("last 1 s\nlane starts empty");
    let sample = &scans[50].sample;
    // Fork closed, gate closed with its second channel inverted, read-back low, first mode held.
    assert_eq!(sample.channels, [false, false, true, true, false, false, true, false, false, false]);
    assert_eq!(sample.travel, [0, 0, 0]);
    assert!(sample.links[0].fresh && sample.links[0].order == 0);
    assert!(sample.gauges[0].steps.abs_diff(150) < 30 && sample.gauges[1].steps.abs_diff(63) < 2);
}

#[test]
fn the_force_lies_within_its_measure_and_a_weak_grip_does_not() {
    let scans = run("rope starts at 5 m/s\nlast 1 min\nat 10 s next carrier presses close-force with 5200 N");
    let windows = rises(&scans, FORCE_POINT);
    let good = |at: &usize| (*at..=at + 6).all(|i| (6_350..=8_550).contains(&scans[i].sample.gauges[0].steps));
    let verdicts: Vec<bool> = windows.iter().map(good).collect();
    assert_eq!(verdicts.iter().filter(|v| !**v).count(), 1, "{verdicts:?}");
    assert!(verdicts.len() >= 6);
}

#[test]
fn faults_come_and_go() {
    let scans = run(
        "last 3 s\nrope starts at 2 m/s\nat 1 s terminal DI-04 stuck low for 500 ms\nat 1 s gauge close-force wire breaks for 1 s
         at 1 s link other-side silent for 200 ms\nat 1 s CI-02 dies for 1 s\nat 1 s conveyor lags 10 %\nat 1 s mode maintenance
         at 1 s key reset-key pressed for 500 ms # a comment\nat 1 s rope-fork chatters every 20 ms for 300 ms\nat 2 s rope-height shorted",
    );
    let at = |ms: usize| &scans[ms / 10].sample;
    assert_eq!(
        (at(990).channels[3], at(1_000).channels[3], at(1_490).channels[3], at(1_500).channels[3]),
        (true, false, false, true)
    );
    assert_eq!((at(1_990).gauges[0].health, at(2_000).gauges[0].health), (Health::Broken, Health::Good));
    assert_eq!((at(2_500).gauges[1].health, at(2_500).gauges[1].steps), (Health::Broken, 126));
    assert!(!at(1_100).links[0].fresh && at(1_200).links[0].fresh);
    let sum = |source: usize| -> i32 { scans[101..=200].iter().map(|s| s.sample.travel[source]).sum() };
    assert_eq!((sum(0), sum(1), sum(2)), (2_000, 0, 1_800));
    assert!(at(1_200).channels[7] && !at(1_200).channels[6] && at(1_490).channels[9] && !at(1_500).channels[9]);
    let changes = (100..130).filter(|i| level(&scans[*i], FORK) != level(&scans[i - 1], FORK)).count();
    assert_eq!(changes, 15);
    assert!(level(&scans[130], FORK));
}

#[test]
fn power_comes_back_with_parked_carriers() {
    let scans = run("rope starts at 5 m/s\nlast 40 s\nat 10 s power lost for 20 s");
    assert!(!scans[0].restarted);
    let back = scans.iter().position(|s| s.restarted).unwrap();
    assert_eq!((scans[back - 1].at_us, scans[back].at_us), (9_990_000, 30_000_000));
    assert_eq!(scans[back].sample.travel, [0, 0, 0]);
    assert!(level(&scans[back], READ_BACK));
}

#[test]
fn a_closed_loop_brakes_and_starts_again() {
    let station = tiny_station();
    let scenario =
        Scenario::read("rope starts at 5 m/s\nlast 1 min\nat 11 s rope to 5 m/s\nat 30 s rope to 5 m/s", &station)
            .unwrap();
    let mut sim = Simulator::new(&station, &scenario, 1);
    let mut obey = Obeyed { off: 0, answer: 0, may_start: true };
    let mut metres = 0.0;
    while let Some(scan) = sim.scan(Some(&obey)) {
        let at = scan.at_us;
        let stop = (1_000_000..20_000_000).contains(&at);
        obey = Obeyed { off: if stop { 3 } else { 0 }, answer: if stop { 3 } else { 0 }, may_start: !stop };
        if at == 40_000_000 {
            obey.answer = 1;
        }
        if stop {
            metres += f64::from(scan.sample.travel[0]) / 1_000.0;
        }
        if (12_000_000..30_000_000).contains(&at) {
            assert!(sim.rope_speed() == 0.0);
        }
    }
    // 0.2 s until it bites and 1.3 m/s²; the first scan belongs to the time before.
    assert!((metres - (0.05 + 1.0 + 25.0 / 2.6)).abs() < 0.02, "{metres}");
    assert_eq!(sim.missed(), [3]);
    assert!((sim.rope_speed() - 5_000.0).abs() < 1e-6);
}

#[test]
fn an_open_loop_shows_the_outputs_of_its_stops() {
    let scans = run(
        "rope starts at 5 m/s\nlast 1 min\ncontact brake-set closed while brake off after 100 ms\nat 1 s rope stops by service\nat 30 s rope to 5 m/s",
    );
    let first = |channel: usize, high: bool, from: usize| {
        (from..scans.len()).find(|i| level(&scans[*i], channel) == high).unwrap()
    };
    assert_eq!(first(8, true, 0), 110);
    // 0.2 s and 5.0 / 0.65 s until it stands, then 40 ms.
    assert_eq!(first(READ_BACK, true, 0), 100 + 20 + 770 + 4);
    assert_eq!(first(READ_BACK, false, 900), 3_004);
}

#[test]
fn errors_have_line_and_mend() {
    let station = tiny_station();
    let wrongs =
        Scenario::read("last 3 m\nat 1 s rope-frk opens\n\nat 1 s rope-fork silent\nfoo", &station).unwrap_err();
    let told: Vec<String> = wrongs.iter().map(ToString::to_string).collect();
    assert_eq!(told[0], "line 1: `3 m` is not a time (ms, s, min, h); write a time (ms, s, min, h)");
    assert_eq!(told[1], "line 2: there is no input or terminal `rope-frk`; did you mean `rope-fork`?");
    assert!(told[2].starts_with("line 4: `silent` cannot happen to `rope-fork`; write opens"));
    assert!(told[3].starts_with("line 5: what begins with `foo` is no line of a scenario"));
    let late = Scenario::read("last 10 s\nat 10 s mode maintenance", &station).unwrap_err();
    assert_eq!((late.len(), late[0].line), (1, 2));
}

#[test]
fn same_seed_same_bytes() {
    use crate::recording::write::{Rows, Style, Writer};
    let station = tiny_station();
    let text = "rope starts at 5 m/s\nlast 1 min\ncarriers spread by 100 mm\nat 20 s rope stops by service\nat 40 s rope to 3 m/s";
    let scenario = Scenario::read(text, &station).unwrap();
    let bytes = |seed, rows| {
        let style = Style { rows, ..Style::default() };
        let mut writer = Writer::new(Vec::new(), &station, style).unwrap();
        let mut simulator = Simulator::new(&station, &scenario, seed);
        assert_eq!(super::record(&mut simulator, &mut writer, |_| None).unwrap(), 6_000);
        writer.finish().unwrap()
    };
    for rows in [Rows::Scan, Rows::Change] {
        assert_eq!(bytes(1, rows), bytes(1, rows));
        assert_ne!(bytes(1, rows), bytes(2, rows));
    }
}

#[test]
fn a_lagging_conveyor_makes_its_carriers_late() {
    let lag = "lane starts empty\nrope starts at 5 m/s\nlast 20 s\n";
    let (plain, lags) = (run(lag), run(&format!("{lag}at 0 s conveyor lags 10 %")));
    let of = |scans: &[Scan]| rope_between(scans, rises(scans, ARRIVE)[0], rises(scans, FORCE_POINT)[0]);
    // 10 m of rope on the conveyor become 10 / 0.9.
    assert!((of(&lags) - of(&plain) - 1_111).abs() <= 60, "{} {}", of(&lags), of(&plain));
}

#[test]
fn the_rope_rolls_back_in_both_sources() {
    let scans =
        run("last 10 s\nrope starts at 1 m/s\nat 1 s rope to 0 m/s at 1 m/s2\nat 3 s rope to -0.2 m/s at 1 m/s2");
    let sample = &scans[500].sample;
    assert!(sample.travel[0] <= 0 && sample.travel[0] == sample.travel[2]);
    let sum: i32 = scans[401..=500].iter().map(|s| s.sample.travel[1]).sum();
    assert_eq!(sum, -200);
}

#[test]
fn contacts_are_pushed_by_carriers() {
    let scans = run("last 30 s\nrope starts at 5 m/s\npair grip-gate open while a carrier is from 7.5 m to 8.5 m");
    let open = |s: &Scan| !level(s, 3) && level(s, 4);
    assert!(scans.iter().all(|s| open(s) || (level(s, 3) && !level(s, 4))));
    let risen = rises(&scans, FORCE_POINT);
    assert!(!risen.is_empty() && risen.iter().all(|i| open(&scans[*i])));
    assert!(scans.iter().filter(|s| open(s)).count() < scans.len() / 4);
}

#[test]
fn every_statement_of_the_manual_is_read() {
    let station = tiny_station();
    let statements = "scenario \"all of them\"
        last 1 h 20 min
        controller starts powered up
        lane starts full
        carriers spread by 50 mm
        carriers come round after 60
        rope starts at 0 m/s
        rope speeds up at 0.2 m/s2
        rope slows at 400 mm/s2
        stop service slows at 0.55 m/s2
        gauge close-force pressed from 7.5 m to 8.6 m, noise 20 N, rated 7.3 kN, at rest 0 N, spread 150 N, over 0.3 m
        gauge rope-height lies at 3 mm, noise 1 mm
        contact brake-set closed while brake off, after 100 ms
        contact brake-set open while traction on
        contact brake-set open while rope stands after 1 s
        pair grip-gate open while a carrier is from 1 m to 2 m
        at 1 s rope to -0.3 m/s at 0.1 m/s2
        at 1 s rope stops by emergency
        at 1 s carrier 7 late by 400 mm from 5 m
        at 1 s next carrier early by 0.3 m
        at 1 s next carrier lost at 3 m
        at 1 s next carrier stays
        at 1 s next carrier doubled 1.5 m behind
        at 1 s next carrier presses close-force with 5200 N
        at 1 s next carrier taken out
        at 1 s next carrier missing
        at 1 s carrier put in at 4 m
        at 1 s mode maintenance
        at 1 s output brake off
        at 1 s output brake sticks for 3 s
        every 10 min from 1 min power lost for 5 s
        every 10 min detector arrive stuck high for 2 s
        at 1 s contact rope-fork chatters every 10 ms for 300 ms
        at 1 s pair grip-gate opens
        at 1 s terminal DI-05 shorted for 1 s
        at 1 s key reset-key pressed for 500 ms
        at 1 s gauge rope-height at -20 mm for 1 s
        at 1 s rope-height off by 3 mm
        at 1 s AI-01 doubtful
        at 1 s pace rope dies
        at 1 s rope slips 8 %
        at 1 s CI-02 reversed for 1 s
        at 1 s conveyor lags 5 % for 1 min
        at 1 s link other-side orders emergency for 1 s
        at 1 s other-side orders nothing
        at 1 s L-01 silent
        at 1 s rope-fork mends";
    let scenario = Scenario::read(statements, &station).unwrap_or_else(|p| panic!("{p:#?}"));
    assert_eq!((scenario.title.as_str(), scenario.last), ("all of them", 4_800_000_000));
    assert_eq!(scenario.events.len(), 31);
    assert_eq!(Simulator::new(&station, &scenario, 1).run().take(1_000).count(), 1_000);
}
