//! Proofs of an earlier run: believed without a check only where the checker would be asked what it had answered.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::{by_effort, is_heavy};
use cross_tests::planted::{LONG, Planted, SHORT, number, station};
use host_tools::prove::certificate;
use host_tools::prove::circuit::with_system;
use host_tools::prove::claim::Subject;
use host_tools::prove::known::{self, Earlier};
use host_tools::prove::model::Model;
use host_tools::prove::recheck::Checker;
use host_tools::prove::verdict::{Judgement, Verdict, judge_again};
use host_tools::refute::Effort;
use host_tools::station::{Form, Station};
use std::collections::BTreeMap;

/// Hardly any trials: what matters here is what is proved.
const EFFORT: Effort = Effort { scans: 1, clean: true, seed: 1, threads: 1, replays: 0, conflicts: 0 };

type Again<'r> = &'r mut dyn FnMut(Subject, Option<&Earlier>) -> (Judgement, Option<String>);

/// Judges subjects of a station, after what an earlier run had.
fn with<T>(station: &Station, run: impl FnOnce(&Model<'_>, Again<'_>) -> T) -> T {
    with_system(station, |model, system| {
        let mut checker = Checker::new(model);
        run(model, &mut |subject, earlier| judge_again(model, system, &mut checker, subject, EFFORT, earlier).unwrap())
    })
    .unwrap()
}

/// What a run leaves: a certificate and a digest for each subject that is proved.
type Left = BTreeMap<String, (String, String)>;

fn run(station: &Station, wanted: &dyn Fn(&Station, Subject) -> bool) -> Left {
    with(station, |model, again| {
        let mut left = Left::new();
        for subject in Subject::all(station).into_iter().filter(|&subject| wanted(station, subject)) {
            if let (Judgement { verdict: Verdict::Proved(claimed), known: false, .. }, Some(asked)) =
                again(subject, None)
            {
                let certificate = certificate::write(model, "rules", &claimed);
                left.insert(subject.name(station).to_string(), (certificate, asked));
            }
        }
        left
    })
}

fn earlier(model: &Model<'_>, subject: Subject, left: &Left) -> Option<Earlier> {
    let (certificate, asked) = left.get(subject.name(model.station))?;
    let list = BTreeMap::from([(subject.name(model.station).to_string(), asked.clone())]);
    known::recall(model, subject, certificate, &known::read(&known::write(&list)))
}

/// Stretches take a second in a build for tests.
fn quick(station: &Station, subject: Subject) -> bool {
    match subject {
        Subject::Requirement(i) => {
            let requirement = &station.requirements[i];
            !matches!(requirement.form, Form::After { .. }) && requirement.bypasses().is_empty()
        }
        Subject::Standing(_) => true,
    }
}

#[test]
fn what_is_unchanged_is_known_and_what_a_change_concerns_is_asked_anew() {
    let before = station("drive", &[]);
    let left = run(&before, &quick);
    let known_of = |station: &Station, left: &Left| -> Vec<(String, bool)> {
        with(station, |model, again| {
            let all = Subject::all(station).into_iter().filter(|&subject| quick(station, subject));
            let judged = all.map(|subject| {
                let (judged, asked) = again(subject, earlier(model, subject, left).as_ref());
                assert!(matches!(judged.verdict, Verdict::Proved(_)) && asked.is_some());
                (subject.name(station).to_string(), judged.known)
            });
            judged.collect()
        })
    };
    assert!(known_of(&before, &left).iter().all(|(_, known)| *known), "nothing changed");
    // `rope-low-in` waits 10 ms less: only what speaks of that height, and what holds the whole station together, is asked.
    let after = station("drive", &[("unbroken for 20 ms", "unbroken for 10 ms")]);
    let judged = known_of(&after, &left);
    let anew: Vec<&str> = judged.iter().filter(|(_, known)| !known).map(|(name, _)| name.as_str()).collect();
    println!("asked anew: {anew:?}");
    assert!(anew.len() <= 5 && judged.iter().any(|(name, known)| name == "R2" && *known), "{judged:?}");
    // A list that another version kept, or that is no list, says nothing.
    let (name, (certificate, asked)) = left.first_key_value().unwrap();
    let list = known::write(&BTreeMap::from([(name.clone(), asked.clone())]));
    for other in [list.replace("tool ", "tool 9"), list.replace("checked 1", "checked 2"), String::new()] {
        assert!(known::read(&other).is_empty());
    }
    // A lemma more or less is another question.
    with(&before, |model, again| {
        let subject = Subject::Requirement(number(&before, name));
        let mut other = earlier(model, subject, &left).unwrap();
        other.claimed.lemmas.pop();
        let (judged, _) = again(subject, Some(&other));
        assert!(!judged.known, "{certificate}");
    });
}

#[test]
fn no_planted_fault_is_proved_by_what_was_known_before_it() {
    let heavy: &[Planted] = if is_heavy() { LONG } else { &[] };
    let whole = |station: &Station, subject| is_heavy() || quick(station, subject);
    let before = ["drive", "return"].map(|kind| (kind, run(&station(kind, &[]), &whole)));
    let mut tried = 0;
    for &(fault, kind, name, changes) in SHORT.iter().chain(heavy.iter().step_by(by_effort([1, 4, 1]))) {
        let after = station(kind, changes);
        let subject = Subject::Requirement(number(&after, name));
        let left = &before.iter().find(|(of, _)| *of == kind).unwrap().1;
        with(&after, |model, again| {
            let Some(earlier) = earlier(model, subject, left) else { return };
            tried += 1;
            let (judged, asked) = again(subject, Some(&earlier));
            assert!(!matches!(judged.verdict, Verdict::Proved(_)) && asked.is_none(), "{kind} {name}, {fault}");
        });
    }
    println!("{tried} faults were judged after a proof of what was there before");
    assert!(tried >= by_effort([8, 12, 30]), "{tried}");
}
