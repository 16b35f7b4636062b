//! Writes requirements as circuits in AIGER 1.9 into a folder, for `tests/python/model_checker.py`, which gives them to a
//! model checker for hardware.
//!
//! Of the demo stations, every requirement that is proved: the slice in which it was, and with `HALTPROOF_HEAVY=2` the whole. Of small plans, the whole
//! of each, by what is said of it here: proved, refuted by a history that was replayed, or neither. What a proof takes for
//! granted are constraints of its circuit.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, reason = "a tool of the tests")]

use cross_tests::effort::by_effort;
use cross_tests::proofs::{STATIONS, granted, proofs};
use cross_tests::small::plans::plan;
use host_tools::load::load;
use host_tools::prove::attempt::attempt;
use host_tools::prove::circuit::{System, with_system};
use host_tools::prove::claim::{Claimed, Subject};
use host_tools::prove::export::Roles;
use host_tools::prove::export::aiger::Aig;
use host_tools::prove::recheck::Checker;
use host_tools::refute::{Effort, hunt};
use host_tools::text::parse::Source;
use logic_rules::Cut;
use std::fs;
use std::path::{Path, PathBuf};

/// The circuit of what is claimed, with what is taken for granted.
fn circuit(system: &System, claimed: &Claimed, keep: &dyn Fn(Cut) -> bool) -> Vec<u8> {
    let given = granted(system, claimed);
    let bad = system.told.bad(claimed.subject).unwrap();
    Aig::of(system, &Roles::new(system, keep), ("missed", bad), &given).bytes().unwrap()
}

fn stations(folder: &Path) {
    for which in STATIONS {
        let open = proofs(which, &mut |found| {
            for (part, keep) in
                [("slice", found.keep), ("whole", &|_: Cut| true)].into_iter().take(by_effort([1, 1, 2]))
            {
                let bytes = circuit(found.system, &found.proof.claimed, keep);
                fs::write(folder.join(format!("proved/{which}.{}.{part}.aig", found.name)), bytes).unwrap();
            }
        });
        println!("{which}: no proof of {}", if open.is_empty() { "none".into() } else { open.join(", ") });
    }
}

fn small_plans(folder: &Path) {
    for seed in 0..100 {
        let source = Source { path: "small".into(), bytes: plan(seed).text.into_bytes() };
        let Some(station) = load(vec![source]).station else { continue };
        with_system(&station, |model, system| {
            let proof = attempt(model, system, 0)
                .map(|proof| proof.claimed)
                .filter(|claimed| Checker::new(model).check(claimed).is_ok());
            let effort = Effort { scans: 10_000, threads: 1, replays: 0, ..Effort::default() };
            let said = match &proof {
                Some(_) => "proved",
                None if hunt(&station, &[0], effort).unwrap().iter().any(Option::is_some) => "refuted",
                None => "open",
            };
            // A refutation is of the inputs as they may come: nothing is granted.
            let nothing = Claimed {
                subject: Subject::Requirement(0),
                depth: 1,
                signals: Vec::new(),
                assumptions: Vec::new(),
                lemmas: Vec::new(),
            };
            let bytes = circuit(system, proof.as_ref().unwrap_or(&nothing), &|_| true);
            fs::write(folder.join(format!("{said}/small.{seed}.aig")), bytes).unwrap();
        })
        .unwrap();
    }
}

fn main() {
    let folder = PathBuf::from(std::env::args().nth(1).expect("a folder"));
    // What an earlier run left there would be given again.
    if folder.exists() {
        fs::remove_dir_all(&folder).unwrap();
    }
    for said in ["proved", "refuted", "open"] {
        fs::create_dir_all(folder.join(said)).unwrap();
    }
    stations(&folder);
    small_plans(&folder);
}
