//! Proofs of the demo stations: found, checked again, written and read; and none where a stop is lost.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::{by_effort, is_heavy};
use std::time::Instant;

use cross_tests::generate::case;
use cross_tests::planted::{HIDDEN, LONG, Planted, SHORT, SUPERVISED, number, station, supervised, without};
use host_tools::prove::attempt::{attempt, attempt_standing};
use host_tools::prove::certificate;
use host_tools::prove::circuit::with_system;
use host_tools::prove::claim::{Claimed, Subject};
use host_tools::prove::lemma::{Claim, Lemma};
use host_tools::prove::recheck::{Checker, Refused};
use host_tools::prove::standing::STANDING;
use host_tools::prove::templates::own_watches;
use host_tools::station::{Form, Station};

fn follows(station: &Station, requirement: usize) -> bool {
    matches!(station.requirements[requirement].form, Form::After { .. })
}

#[test]
fn each_requirement_of_the_demo_is_proved_and_checked_again() {
    for kind in ["return", "drive"].into_iter().take(if is_heavy() { 2 } else { 1 }) {
        let station = station(kind, &[]);
        with_system(&station, |model, system| {
            let mut checker = Checker::new(model);
            for (i, requirement) in station.requirements.iter().enumerate() {
                let name = &requirement.name.text;
                let start = Instant::now();
                let proof = attempt(model, system, i).unwrap_or_else(|| panic!("{kind} {name} is not proved"));
                let (found, start) = (start.elapsed(), Instant::now());
                let text = certificate::write(model, "rules", &proof.claimed);
                let read = certificate::read(model, "rules", &text).unwrap();
                assert_eq!(read, proof.claimed);
                assert_eq!(checker.check(&read), Ok(()), "{kind} {name}");
                let checked = start.elapsed();
                println!(
                    "{kind:6} {name:4} {:3} of {:3} lemmas, {:4} cells, depth {}, found in {found:?}, checked in {checked:?}",
                    proof.claimed.lemmas.len(),
                    proof.offered,
                    proof.cells,
                    proof.claimed.depth
                );
            }
        }).unwrap();
    }
}

#[test]
fn how_the_stations_watch_themselves_is_proved() {
    for kind in ["return", "drive"].into_iter().take(if is_heavy() { 2 } else { 0 }) {
        let station = supervised(kind, &[]);
        with_system(&station, |model, system| {
            let mut checker = Checker::new(model);
            let asked = station.requirements.iter().enumerate().filter(|(_, r)| r.name.text.starts_with('S'));
            for (i, requirement) in asked.step_by(by_effort([1, 6, 1])) {
                let name = &requirement.name.text;
                let proof = attempt(model, system, i).unwrap_or_else(|| panic!("{kind} {name} is not proved"));
                let read =
                    certificate::read(model, "rules", &certificate::write(model, "rules", &proof.claimed)).unwrap();
                assert_eq!(checker.check(&read), Ok(()), "{kind} {name}");
            }
        })
        .unwrap();
    }
    let planted: &[Planted] = if is_heavy() { SUPERVISED } else { &[] };
    for &(fault, kind, name, changes) in planted.iter().step_by(by_effort([1, 9, 1])) {
        let station = supervised(kind, changes);
        let requirement = number(&station, name);
        let proof = with_system(&station, |model, system| attempt(model, system, requirement)).unwrap();
        assert_eq!(proof, None, "{kind} {name}, {fault}");
    }
}

#[test]
fn no_planted_fault_is_proved() {
    let heavy: [&[Planted]; 2] = if is_heavy() { [LONG, HIDDEN] } else { [&[], &[]] };
    for &(fault, kind, name, changes) in SHORT.iter().chain(heavy.into_iter().flatten().step_by(by_effort([1, 6, 1]))) {
        let station = station(kind, changes);
        let requirement = number(&station, name);
        let proof = with_system(&station, |model, system| attempt(model, system, requirement)).unwrap();
        assert_eq!(proof, None, "{kind} {name}, {fault}");
    }
}

#[test]
fn nothing_is_proved_without_the_rules_that_answer_it() {
    for kind in ["return", "drive"].into_iter().take(if is_heavy() { 2 } else { 1 }) {
        let whole = station(kind, &[]);
        for (i, requirement) in whole.requirements.iter().enumerate().step_by(by_effort([2, 2, 1])) {
            // No watch answers those two: a bypass ends, and a reset is left out, by themselves.
            let own = with_system(&whole, |model, _| own_watches(model, requirement)).unwrap();
            // The speed of a mode is answered by the mode, and by no watch.
            let of_mode = requirement.title == "in maintenance the rope creeps";
            if matches!(requirement.form, Form::NeverReleased { .. })
                || of_mode
                || !requirement.bypasses().is_empty() && !is_heavy()
            {
                continue;
            }
            if follows(&whole, i) && !is_heavy() {
                continue;
            }
            let less = without(&whole, &own);
            let proof = with_system(&less, |model, system| attempt(model, system, i)).unwrap();
            let speaks_of_bypass = !requirement.bypasses().is_empty() && requirement.unless.is_none();
            assert!(proof.is_none() || speaks_of_bypass, "{kind} {}", requirement.name.text);
        }
    }
}

#[test]
fn an_edited_certificate_is_refused() {
    let station = station("drive", &[]);
    let requirement = number(&station, "R2");
    with_system(&station, |model, system| {
        let proof = attempt(model, system, requirement).unwrap();
        let text = certificate::write(model, "rules", &proof.claimed);
        assert!(certificate::read(model, "other rules", &text).is_err());
        for at in 0..text.len() {
            let mut bytes = text.clone().into_bytes();
            bytes[at] = if bytes[at] == b'1' { b'2' } else { b'1' };
            let edited = String::from_utf8_lossy(&bytes).into_owned();
            assert!(certificate::read(model, "rules", &edited).is_err(), "byte {at}");
        }
        // Whatever a certificate says with its digest renewed, the checker looks at it anew.
        let mut checker = Checker::new(model);
        let mut bare = proof.claimed.clone();
        bare.lemmas.clear();
        assert!(checker.check(&bare).is_err());
        let mut shallow = proof.claimed.clone();
        shallow.lemmas.truncate(proof.claimed.lemmas.len() / 2);
        shallow.depth = 1;
        assert!(checker.check(&shallow).is_err());
        let mut bolder = proof.claimed.clone();
        bolder.lemmas.push(Lemma::always(Claim::below(0, 0)));
        assert!(checker.check(&bolder).is_err());
        let mut nonsense = proof.claimed.clone();
        nonsense.subject = Subject::Requirement(99);
        assert!(checker.check(&nonsense).is_err());
        // Whatever holds an assumption rests on none, be it that one or another.
        let held = attempt(model, system, number(&station, "carriers-apart")).unwrap().claimed;
        assert_eq!(checker.check(&held), Ok(()));
        assert_eq!(checker.check(&Claimed { assumptions: vec![0], ..held }), Err(Refused::Circular));
        // Without what is declared of the signals it does not hold.
        let mut bold = proof.claimed.clone();
        bold.signals.clear();
        assert!(checker.check(&bold).is_err());
    })
    .unwrap();
}

/// Proves and checks what is proved of every station.
fn stands(station: &Station, name: &str) {
    with_system(station, |model, system| {
        let mut checker = Checker::new(model);
        for (i, standing) in STANDING.iter().enumerate() {
            let proof = attempt_standing(model, system, i).unwrap_or_else(|| panic!("{name} {}", standing.name));
            assert_eq!(checker.check(&proof.claimed), Ok(()), "{name} {}", standing.name);
        }
    })
    .unwrap();
}

#[test]
fn what_no_history_may_do_is_proved_of_the_demo() {
    stands(&station("drive", &[]), "drive");
    stands(&station("return", &[]), "return");
}

#[test]
fn what_no_history_may_do_is_proved_of_any_station() {
    for seed in 0..by_effort([20, 50, 400]) {
        stands(&case(seed).station, &format!("seed {seed}"));
    }
}
