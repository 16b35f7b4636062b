//! Faults planted in the demo stations: each must be refuted by a history that really misses the stop.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::{by_effort, is_heavy};
use std::collections::BTreeSet;
use std::env;
use std::fmt::Write as _;
use std::time::Instant;

use cross_tests::planted::{HIDDEN, LONG, Planted, SHORT, SUPERVISED, number, station, supervised, without};
use host_tools::prove::circuit::with_system;
use host_tools::prove::verdict::refute;
use host_tools::refute::missed::missed;
use host_tools::refute::{Effort, History, confirm, hunt};
use host_tools::sample::Sample;
use host_tools::station::{Form, InputKind, Mode, Station};

/// What changes from stay to stay.
fn story(station: &Station, history: &History) -> String {
    let mut said = String::new();
    let mut scan = 0;
    let mut last: Option<&Sample> = None;
    for stay in history.stays() {
        let (now, before) = (&stay.sample, last.unwrap_or(&stay.sample));
        let mut all: Vec<String> = Vec::new();
        for (i, name) in station.channels.iter().enumerate() {
            if now.channels[i] != before.channels[i] {
                all.push(format!("{name}={}", u8::from(now.channels[i])));
            }
        }
        for (i, name) in station.gauge_terminals.iter().enumerate() {
            if now.gauges[i] != before.gauges[i] {
                all.push(format!("{name}={:?}", now.gauges[i]));
            }
        }
        if now.travel != before.travel {
            all.push(format!("travel {:?}", now.travel));
        }
        writeln!(said, "   {scan:6} {:5} {}", stay.scans, all.join(" ")).unwrap();
        scan += stay.scans;
        last = Some(now);
    }
    said
}

#[test]
fn each_planted_fault_is_refuted() {
    let mut lost = Vec::new();
    let heavy: &[Planted] = if is_heavy() { LONG } else { &[] };
    let short = SHORT.iter().step_by(if is_heavy() { 1 } else { 4 });
    for &(fault, kind, name, changes) in short.chain(heavy.iter().step_by(by_effort([1, 3, 1]))) {
        let station = station(kind, changes);
        let requirement = number(&station, name);
        let start = Instant::now();
        let found = hunt(&station, &[requirement], Effort::default()).unwrap().remove(0);
        let took = start.elapsed();
        let Some(found) = found else {
            println!("{kind} {name}, {fault}: not found in {took:?}");
            lost.push((kind, name, fault));
            continue;
        };
        println!(
            "{kind} {name}, {fault}: {} scans in {} stays, {took:?}",
            found.history.scans(),
            found.history.stays().len()
        );
        assert_eq!(confirm(&station, &found.history, requirement).unwrap(), Some(found.missed_at), "{kind} {name}");
        assert_eq!(found.history.scans(), found.missed_at + 1);
        assert!(found.history.is_clean(&station, true), "{kind} {name}");
        if env::var_os("HALTPROOF_STORY").is_some() {
            println!("{}", story(&station, &found.history));
        }
    }
    assert!(lost.is_empty(), "{lost:?}");
}

#[test]
fn what_is_planted_in_how_a_station_watches_itself_is_refuted() {
    for &(fault, kind, name, changes) in SUPERVISED.iter().step_by(by_effort([SUPERVISED.len(), 4, 1])) {
        let station = supervised(kind, changes);
        let requirement = number(&station, name);
        let start = Instant::now();
        let found = hunt(&station, &[requirement], Effort::default()).unwrap().remove(0);
        let found = found.unwrap_or_else(|| panic!("{kind} {name}, {fault}: not found in {:?}", start.elapsed()));
        println!("{kind} {name}, {fault}: {} scans, {:?}", found.history.scans(), start.elapsed());
        assert_eq!(confirm(&station, &found.history, requirement).unwrap(), Some(found.missed_at), "{kind} {name}");
        assert!(found.history.is_clean(&station, true), "{kind} {name}");
    }
}

#[test]
fn what_trials_miss_is_found_by_the_solver() {
    let (count, scans) = by_effort([(1, 100_000), (1, 2_000_000), (HIDDEN.len(), 2_000_000)]);
    for &(fault, kind, name, changes) in &HIDDEN[..count] {
        let station = station(kind, changes);
        let requirement = number(&station, name);
        let start = Instant::now();
        let effort = Effort { scans, ..Effort::default() };
        let found = with_system(&station, |model, system| refute(model, system, requirement, effort)).unwrap().unwrap();
        let found = found.unwrap_or_else(|| panic!("{kind} {name}, {fault}: not found in {:?}", start.elapsed()));
        println!("{kind} {name}, {fault}: {} scans, {:?}", found.history.scans(), start.elapsed());
        assert_eq!(confirm(&station, &found.history, requirement).unwrap(), Some(found.missed_at), "{kind} {name}");
        assert!(found.history.is_clean(&station, true), "{kind} {name}");
    }
}

#[test]
fn the_demo_stations_are_not_refuted() {
    let scans = by_effort([10_000, 100_000, 2_000_000]);
    for kind in ["drive", "return"].into_iter().take(if is_heavy() { 2 } else { 1 }) {
        let station = station(kind, &[]);
        let all: Vec<usize> = (0..station.requirements.len()).collect();
        let found = hunt(&station, &all, Effort { scans, ..Effort::default() }).unwrap();
        let mut missed = Vec::new();
        for found in found.iter().flatten() {
            let name = station.requirements[found.requirement].name.text.as_str();
            println!("{kind} {name}:\n{}", story(&station, &found.history));
            missed.push((kind, name));
        }
        assert!(missed.is_empty(), "{missed:?}");
    }
}

/// A history that misses says what the inputs did, and what each rule made of it.
#[test]
fn a_refutation_says_why_nothing_answers() {
    let late: &[(&str, &str)] = &[("    when grip-gate open\n", "    when grip-gate open\n    unbroken for 60 ms\n")];
    let masked: &[(&str, &str)] = &[
        ("of rope-low-in\n", "of rope-low-in and gate-open\n"),
        ("hazard H3\n    when grip-gate open", "when grip-gate open"),
    ];
    let cases = [
        ("R2", late, "gate-open has seen it for 40 ms, and trips after more than 60 ms"),
        ("R2", masked, "gate-open would have tripped, but is masked by rope-low-bypass"),
    ];
    for (name, changes, words) in cases.into_iter().take(if is_heavy() { 2 } else { 1 }) {
        let station = station("drive", changes);
        let requirement = number(&station, name);
        let found = hunt(&station, &[requirement], Effort::default()).unwrap().remove(0).expect(name);
        let said: Vec<String> = missed(&station, &found).unwrap().into_iter().map(|remark| remark.words).collect();
        assert!(said.iter().any(|said| said == words), "{name}: {said:#?}");
        assert!(said.iter().any(|said| said == "by now emergency should stand, or a more severe answer"), "{said:#?}");
    }
}

/// No requirement is true for want of a question: without the watches that look at what it asks about, each is missed.
/// Three have no such watch, since what they ask comes of the bypass, of the reset and of a mode's limit themselves.
#[test]
fn each_requirement_is_refuted_without_its_rules() {
    for kind in ["drive", "return"] {
        let whole = station(kind, &[]);
        for (i, requirement) in whole.requirements.iter().enumerate() {
            let name = &requirement.name.text;
            let (first, every) = by_effort([(2, 1), (usize::MAX, 2), (usize::MAX, 1)]);
            if i >= first || !i.is_multiple_of(every) {
                continue;
            }
            let asked = requirement.inputs();
            let looks = |watch: &usize| whole.watches[*watch].kind.inputs().iter().any(|input| asked.contains(input));
            let own: BTreeSet<usize> = (0..whole.watches.len()).filter(looks).collect();
            // A mode with a limit of its own answers who is too fast in it.
            let paced = asked.iter().any(|&input| matches!(whole.inputs[input].kind, InputKind::Pace(_)));
            let limits = |mode: &Mode| mode.at_most.is_some() && asked.contains(&mode.key);
            let by_itself = matches!(requirement.form, Form::NeverReleased { .. })
                || !requirement.bypasses().is_empty() && requirement.unless.is_none()
                || paced && whole.modes.iter().any(limits);
            if by_itself {
                println!("{kind:6} {name:4} is kept by no watch");
                continue;
            }
            let less = without(&whole, &own);
            let start = Instant::now();
            let found = hunt(&less, &[i], Effort::default()).unwrap().remove(0);
            let found = found.unwrap_or_else(|| panic!("{kind} {name} is not missed without {} watches", own.len()));
            assert_eq!(confirm(&less, &found.history, i).unwrap(), Some(found.missed_at));
            println!(
                "{kind:6} {name:4} is missed without {} watches, after {} scans, {:?}",
                own.len(),
                found.history.scans(),
                start.elapsed()
            );
        }
    }
}
