//! Writes certificates of the demo stations that were changed, what the checker says of each, and the questions
//! that each rests on, for `tests/python/mutated.py`, which has them decided by another solver.
//!
//! For each station and depth a folder gets a script in SMT-LIB with everything that any question speaks of,
//! each statement behind a switch, and beside it a line of JSON for each certificate: the switches of each
//! of its questions. Without `HALTPROOF_HEAVY` only a few certificates are made.
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a tool of the tests"
)]

use cross_tests::effort::by_effort;
use cross_tests::generate::Rng;
use cross_tests::mutate::{Stock, mutate};
use cross_tests::proofs::{STATIONS, demo};
use cross_tests::switched::{Script, questions};
use host_tools::prove::attempt::{Proof, attempt};
use host_tools::prove::cells::channel;
use host_tools::prove::certificate;
use host_tools::prove::circuit::{System, with_system};
use host_tools::prove::export::smtlib::obligations;
use host_tools::prove::model::Model;
use host_tools::prove::recheck::{Checker, Refused};
use host_tools::prove::search::wires;
use host_tools::station::{Form, Station};
use serde_json::json;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::thread;

fn main() {
    let folder = PathBuf::from(std::env::args().nth(1).expect("a folder"));
    // What an earlier run left there would be decided again.
    if folder.exists() {
        fs::remove_dir_all(&folder).unwrap();
    }
    fs::create_dir_all(&folder).unwrap();
    // Of the proofs of whole stretches the checker takes seconds for each.
    let each = by_effort([[2, 0], [4, 1], [30, 2]]);
    thread::scope(|scope| {
        for which in STATIONS {
            let folder = &folder;
            scope.spawn(move || write(which, folder, each));
        }
    });
}

/// Names that changes may draw on, with the texts of all proofs.
fn stock(station: &Station, model: &Model<'_>, system: &System, texts: &[(String, usize, String)]) -> Stock {
    let lemmas = texts.iter().flat_map(|(_, _, text)| text.lines()).filter_map(|line| line.strip_prefix("lemma "));
    Stock {
        cells: system.cells.iter().map(|cell| (cell.name.clone(), cell.is_bit)).collect(),
        requirements: station.requirements.iter().map(|r| r.name.text.clone()).collect(),
        signals: model.signals.iter().map(|signal| channel(station, signal.channel)).collect(),
        assumptions: station.assumptions.iter().map(|a| a.name.text.clone()).collect(),
        lemmas: lemmas.map(String::from).collect(),
    }
}

/// The questions that must be answered `sat` where the checker refused for this reason.
fn because(refused: &Refused, depth: usize) -> Vec<String> {
    match refused {
        Refused::NotAtFirst(lemma) => {
            let later = (1..depth).map(|scan| format!("lemma {lemma} holds in scan {scan} after power-up"));
            std::iter::once(format!("lemma {lemma} holds at power-up")).chain(later).collect()
        }
        // What holds at power-up then does not exclude it.
        Refused::MissedAtFirst if depth == 1 => vec!["never missed".into()],
        Refused::MissedAtFirst => (0..depth).map(|scan| format!("not missed in scan {scan} after power-up")).collect(),
        Refused::NotKept(lemma) => vec![format!("lemma {lemma} is kept")],
        Refused::NotSafe => vec!["never missed".into()],
        other => panic!("{other:?} is no answer of a solver"),
    }
}

fn write(which: &str, folder: &Path, counts: [usize; 2]) {
    with_system(&demo(which), |model, system| write_all(which, folder, counts, model, system)).unwrap();
}

fn write_all(which: &str, folder: &Path, [each, each_travel]: [usize; 2], model: &Model<'_>, system: &mut System) {
    let station = model.station;
    let mut checker = Checker::new(model);
    let mut texts = Vec::new();
    for (i, requirement) in station.requirements.iter().enumerate() {
        let wanted = if matches!(requirement.form, Form::After { .. }) { each_travel } else { each };
        if wanted > 0
            && let Some(proof) = attempt(model, system, i)
        {
            texts.push((requirement.name.text.clone(), wanted, certificate::write(model, "rules", &proof.claimed)));
        }
    }
    let stock = stock(station, model, system, &texts);
    let mut scripts: BTreeMap<usize, Script> = BTreeMap::new();
    let (mut lines, mut formal): (BTreeMap<usize, String>, Vec<String>) = (BTreeMap::new(), Vec::new());
    for (proof, (name, wanted, text)) in texts.iter().enumerate() {
        let mut rng = Rng::new(1_000 + u64::try_from(proof).unwrap());
        for number in 0..*wanted {
            let (changed, changes) = mutate(&mut rng, &stock, text);
            let name = format!("{which} {name} {number} {changes:?}");
            let claimed = match certificate::read(model, "rules", &changed) {
                Ok(claimed) => claimed,
                Err(unusable) => {
                    formal.push(json!({ "name": name, "formal": unusable.what }).to_string());
                    continue;
                }
            };
            let verdict = checker.check(&claimed);
            if matches!(verdict, Err(Refused::Nonsense | Refused::Circular)) {
                formal.push(json!({ "name": name, "formal": "nonsense" }).to_string());
                continue;
            }
            let depth = claimed.depth;
            let because = verdict.as_ref().err().map(|refused| because(refused, depth));
            let lemmas = wires(system, claimed.lemmas.clone());
            let claim = Proof { claimed, whole: true, cells: 0, offered: 0 };
            let asked = questions(&obligations(system, &claim, &lemmas, &|_| true));
            let script = scripts.entry(depth).or_default();
            let groups: Vec<_> = asked.groups.iter().map(|group| script.switched(group)).collect();
            script.define(&asked.definitions);
            let line = json!({ "name": name, "accepted": verdict.is_ok(), "because": because, "groups": groups });
            writeln!(lines.entry(depth).or_default(), "{line}").unwrap();
        }
    }
    for (depth, script) in scripts {
        fs::write(folder.join(format!("{which}.{depth}.smt2")), script.text()).unwrap();
        fs::write(folder.join(format!("{which}.{depth}.jsonl")), &lines[&depth]).unwrap();
    }
    fs::write(folder.join(format!("{which}.formal.jsonl")), formal.join("\n") + "\n").unwrap();
}
