//! Is every requirement of the demo asked in some history, and is it told where one cannot be, or where an assumption
//! leaves no lift that runs?
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::is_heavy;
use std::time::Instant;

use cross_tests::planted::{number, station};
use host_tools::load::load;
use host_tools::runner::with_runner;
use host_tools::simulate::catalogue::catalogue;
use host_tools::station::{Condition, Form, Station};
use host_tools::text::parse::Source;
use host_tools::witness::excludes::excludes;
use host_tools::witness::ordinary::{Ordinary, ordinary};
use host_tools::witness::{Arises, Concession, Witness, arise, witnesses};

fn all(station: &Station) -> Vec<usize> {
    (0..station.requirements.len()).collect()
}

/// What a witness says, seen without what found it: scan by scan, from power-up, through the whole plan.
fn holds_up(station: &Station, witness: &Witness, name: &str) {
    let last = witness.asked.scan;
    assert_eq!(witness.history.scans(), last + 1, "{name}");
    assert!(witness.history.is_clean(station, true), "{name}");
    let lasting = match &station.requirements[witness.requirement].form {
        Form::Whenever { lasting, .. } => u64::from(*lasting),
        _ => 0,
    };
    let quiet = witness.asked.concessions.is_empty();
    with_runner(station, |runner| {
        for (scan, sample) in (0..).zip(witness.history.samples()) {
            let told = runner.scan(sample);
            assert!(told.broken.is_empty(), "{name}, scan {scan}");
            if quiet && scan + lasting + 1 == last && !follows(station, witness.requirement) {
                assert!(told.answer < station.first_stop(), "{name}: a stop stands before it is asked");
            }
            assert!(!quiet || scan != last || told.active == 0, "{name}");
        }
    })
    .unwrap();
}

fn follows(station: &Station, requirement: usize) -> bool {
    matches!(station.requirements[requirement].form, Form::After { .. })
}

#[test]
fn each_requirement_of_the_demo_is_asked() {
    for kind in ["drive", "return"] {
        let station = station(kind, &[]);
        let start = Instant::now();
        let found = arise(&station, &all(&station)).unwrap();
        println!("{kind}: {:?}", start.elapsed());
        for (i, arises) in found {
            let requirement = &station.requirements[i];
            let name = format!("{kind} {}", requirement.name.text);
            match arises {
                Arises::Found(witness) => {
                    println!("{name}: {}", witness.asked.words(&station));
                    holds_up(&station, &witness, &name);
                    let given_up: &[Concession] = match requirement.form {
                        Form::NeverReleased { .. } => &[Concession::Standstill, Concession::Stopped],
                        _ if requirement.title == "in maintenance the rope creeps" => &[Concession::Mode(1)],
                        _ => &[],
                    };
                    assert_eq!(witness.asked.concessions, given_up, "{name}");
                }
                Arises::NeedNot(because) => {
                    let held = matches!(requirement.form, Form::Held { .. });
                    let excuses = ["the bypass ends", "the stop that answers it comes sooner"];
                    assert!(held || excuses.iter().any(|excuse| because.contains(excuse)), "{name}");
                }
                Arises::NotFound => panic!("{name} is never asked"),
            }
        }
    }
}

#[test]
fn what_need_not_arise_does_not() {
    let station = station("drive", &[]);
    let marked: Vec<usize> =
        all(&station).into_iter().filter(|&i| station.requirements[i].need_not_arise.is_some()).collect();
    assert_eq!(marked, ["R13", "R24", "carriers-apart"].map(|name| number(&station, name)));
    let heavy = is_heavy();
    let looked_for = if heavy { &marked } else { &marked[2..] };
    assert!(witnesses(&station, looked_for).unwrap().iter().all(Option::is_none));
}

#[test]
fn what_is_never_asked_is_told() {
    let mut station = station("return", &[]);
    let (never, gone) = (number(&station, "R2"), number(&station, "R6"));
    // No gate is open and closed; and what excuses always holds.
    let gate = Condition::High(station.requirements[never].inputs().into_iter().next().unwrap());
    let least = station.worst();
    let both = Condition::All(vec![gate.clone(), Condition::Not(Box::new(gate))]);
    station.requirements[never].form =
        Form::Never { condition: Condition::All(vec![both, Condition::Any(vec![])]), least };
    station.requirements[gone].unless = Some(Condition::All(Vec::new()));
    let found = arise(&station, &[never, gone, number(&station, "R3")]).unwrap();
    assert_eq!(found[0].1, Arises::NotFound);
    assert_eq!(found[1].1, Arises::NotFound);
    assert!(matches!(found[2].1, Arises::Found(_)));
}

#[test]
fn what_must_be_given_up_is_named() {
    let mut station = station("drive", &[]);
    let asked = |station: &Station, name: &str| {
        let number = number(station, name);
        let found = witnesses(station, &[number]).unwrap().remove(0).unwrap();
        holds_up(station, &found, name);
        found.asked.words(station)
    };
    // With the key of maintenance held; and only ever at a standstill.
    let least = station.worst();
    let maintenance = Condition::High(station.modes[1].key);
    let (one, other) = (number(&station, "R2"), number(&station, "R3"));
    station.requirements[one].form = Form::Never { condition: maintenance, least };
    let rope = station.inputs.iter().position(|input| input.name.text == "rope").unwrap();
    let still = Condition::Not(Box::new(Condition::Faster(rope, 1)));
    let form = Form::Whenever { condition: still, lasting: 200, least, within: 0 };
    station.requirements[other].form = form;
    let said = asked(&station, "R2");
    println!("{said}");
    assert!(said.ends_with("only in mode maintenance"), "{said}");
    let said = asked(&station, "R3");
    println!("{said}");
    assert!(said.contains("only at standstill"), "{said}");
}

#[test]
fn an_ordinary_morning_keeps_the_assumptions_of_the_demo() {
    for kind in ["drive", "return"] {
        let mut station = station(kind, &[]);
        let start = Instant::now();
        let simulated = ordinary(&station).unwrap();
        println!("{kind}: {simulated:?}, {:?}", start.elapsed());
        assert!(matches!(simulated, Ordinary::Kept { carriers: 10.., .. }), "{simulated:?}");
        station.lane = None;
        let tried = ordinary(&station).unwrap();
        println!("{kind}: {tried:?}");
        assert!(matches!(tried, Ordinary::Kept { carriers: 3.., .. }), "{tried:?}");
    }
}

#[test]
fn an_assumption_that_leaves_no_running_lift_is_told() {
    let idle = "assume idle \"it never runs\"\n    always rope still\n    on evidence \"none\"\n\nlane main";
    let mut station = station("drive", &[("lane main", idle)]);
    let assumption = station.assumptions.iter().position(|a| a.name.text == "idle").unwrap();
    let told = ordinary(&station).unwrap();
    assert!(matches!(told, Ordinary::Broken { assumption: it, .. } if it == assumption), "{told:?}");
    station.lane = None;
    let told = ordinary(&station).unwrap();
    assert!(matches!(told, Ordinary::Broken { assumption: it, .. } if it == assumption), "{told:?}");
    // Nothing is asked under it while the lift runs.
    let found = witnesses(&station, &[number(&station, "R9")]).unwrap();
    assert_eq!(found, [None]);
}

#[test]
fn the_faults_that_an_assumption_excludes_are_named() {
    let heavy = is_heavy();
    for (kind, first) in [("return", "arrive"), ("drive", "enter")].into_iter().take(if heavy { 2 } else { 1 }) {
        let station = station(kind, &[]);
        let start = Instant::now();
        let excluded = excludes(&station).unwrap().unwrap();
        println!("{kind}: {excluded:#?}, {:?}", start.elapsed());
        assert_eq!(excluded.tried, catalogue(&station).len(), "each line is one of a scenario");
        let [by] = excluded.by.as_slice() else { panic!("{excluded:?}") };
        for what in ["stuck high", "chatters"] {
            assert!(by.contains(&format!("{first} {what}")), "{by:?}");
        }
        assert!(by.iter().any(|line| line.contains("doubled")), "{by:?}");
        assert!(!by.iter().any(|line| line.contains("emergency-button")), "{by:?}");
        assert!(by.len() < 20, "{by:?}");
    }
}

#[test]
fn a_station_in_other_words_is_asked_too() {
    let text = include_bytes!("../../cases/base.rules").to_vec();
    let station = load(vec![Source { path: "base.rules".into(), bytes: text }]).station.unwrap();
    for (i, arises) in arise(&station, &all(&station)).unwrap() {
        let name = &station.requirements[i].name.text;
        let Arises::Found(witness) = arises else { panic!("{name}: {arises:?}") };
        println!("{name}: {}", witness.asked.words(&station));
        holds_up(&station, &witness, name);
        assert_eq!(witness.asked.concessions, [], "{name}");
    }
    println!("{:?}", ordinary(&station).unwrap());
}
