//! What is proved of random stations is never missed in many histories, sixty-four of them at once, while much that is not
//! proved is.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::by_effort;
use std::collections::BTreeMap;

use cross_tests::generate::{Case, History, case, kept_observed};
use cross_tests::machines::Stepped;
use cross_tests::reading::Reading;
use cross_tests::render::{read_back, render};
use cross_tests::small::cells::LANES;
use cross_tests::small::swarm::Swarm;
use host_tools::monitor::Judge;
use host_tools::prove::attempt::attempt;
use host_tools::prove::circuit::System;
use host_tools::prove::claim::{Claimed, Subject};
use host_tools::prove::model::{Model, with_model};
use host_tools::prove::recheck::Checker;
use host_tools::prove::upheld::with_upheld;
use host_tools::station::{Form, Observed, Station, When};
use logic_rules::{Algebra, Lanes, Plain, Sliced};

/// Scans of a history.
const SCANS: usize = 1_000;

/// How often something came about.
#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    proved: u64,
    /// Not proved, and missed in some history.
    missed: u64,
    /// Histories of what is proved, those in which it arose, and those in which an answer was due.
    histories: u64,
    arisen: u64,
    due: u64,
}

/// The requirement that a claim is about.
fn asked_by(claim: &Claimed) -> usize {
    match claim.subject {
        Subject::Requirement(number) => number,
        Subject::Standing(_) => panic!("only requirements are attempted here"),
    }
}

fn form(station: &Station, requirement: usize) -> &'static str {
    match &station.requirements[requirement].form {
        _ if station.requirements[requirement].bounces > 0 => "bounces aside",
        Form::Whenever { .. } => "whenever",
        Form::WhenRises { lasting: 1.., .. } => "whenever .. for .. rises",
        Form::WhenRises { when: When::Rise, .. } => "whenever .. rises",
        Form::WhenRises { when: When::Scans(_), .. } => "whenever .. in a time after .. rises",
        Form::WhenRises { when: When::Rope(..), .. } => "whenever .. in rope after .. rises",
        Form::After { .. } => "after",
        Form::Effect { .. } => "after .. stands",
        Form::Held { .. } => "held",
        Form::Never { .. } => "never less",
        Form::NeverReleased { .. } => "never released",
        Form::NeverReleasedBut { .. } => "never released but when",
        Form::NeverPermitted { .. } => "never permitted",
        Form::NeverTogether(..) => "never together",
    }
}

/// Requirements with a proof that the checker accepts.
fn proved(model: &Model<'_>) -> Vec<Claimed> {
    let (mut system, mut checker) = (System::new(model).unwrap(), Checker::new(model));
    let mut all = Vec::new();
    for requirement in 0..model.station.requirements.len() {
        if let Some(proof) = attempt(model, &mut system, requirement) {
            assert_eq!(checker.check(&proof.claimed), Ok(()), "a proof that was found is refused");
            all.push(proof.claimed);
        }
    }
    all
}

/// What a requirement asks for arises: a condition while its answer does not stand, a carrier that is followed, a stop that is
/// cleared. Conditions of the other forms are not told.
fn arises(a: &mut Sliced<Lanes>, judge: &Judge<Sliced<Lanes>>, reset: u64) -> u64 {
    match judge {
        Judge::Effect(effect) => a.at_least(effect.state.held, 1),
        Judge::Obliged { state, .. } | Judge::Held { state, .. } => a.at_least(state.held, 1),
        Judge::Pressed(pressed) => a.at_least(pressed.state.due, 1),
        Judge::Spaced(spaced) => spaced.distance.known,
        Judge::Leaps(leaps) => a.at_least(leaps.state.held, 1),
        Judge::Stays(stayed) => a.at_least(stayed.stays.lasted, 1),
        Judge::Counted(counted) => counted.traffic.known,
        Judge::Follow(follow) => follow.followers[0].following,
        Judge::Released { .. } | Judge::Cleared { .. } | Judge::Paused { .. } => reset,
        Judge::Never { .. } | Judge::Together { .. } => 0,
    }
}

/// Runs sixty-four histories; of each claim those in which what it is about arose, and those in which an answer was
/// due. What a proof takes for granted must hold until then.
fn swarm(model: &Model<'_>, case: &Case, claims: &[Claimed], seed: u64, missed: &mut [bool]) -> Vec<[u64; 2]> {
    let mut a = Sliced(Lanes);
    let mut memory = model.power_up(&mut a).unwrap();
    let (mut leader, mut history) = (Stepped::<Plain>::power_up(model.station), History::new(case, seed));
    let mut swarm = Swarm::new(model, seed);
    let (mut armed, mut kept) = (vec![[0; 2]; claims.len()], vec![u64::MAX; claims.len()]);
    let (mut last, mut standing) = (None, u64::MAX);
    for scan in 0..SCANS {
        let sample = history.next_sample(last.as_ref());
        let told = model.scan(&mut a, &mut memory, &swarm.given(model, &sample, standing)).unwrap();
        standing = told.now[usize::from(model.station.first_stop())];
        for (missed, outcome) in missed.iter_mut().zip(&told.outcomes) {
            *missed |= outcome.missed != 0;
        }
        for ((claim, [arisen, due]), kept) in claims.iter().zip(&mut armed).zip(&mut kept) {
            *kept = claim.signals.iter().fold(*kept, |kept, &signal| kept & told.kept[signal]);
            *kept = claim.assumptions.iter().fold(*kept, |kept, &i| kept & !told.broken[i]);
            let outcome = &told.outcomes[asked_by(claim)];
            *arisen |= *kept & arises(&mut a, &memory.judges[asked_by(claim)], told.verdict.reset);
            *due |= *kept & (outcome.met | a.at_least(outcome.waited, 1));
            assert_eq!(*kept & outcome.missed, 0, "PROVED, but missed: seed {seed}, scan {scan}: {claim:?}");
        }
        let now = leader.scan(&sample);
        assert_eq!(Lanes::value(&told.verdict.answer, 0), u32::from(now.answer), "the first case is the leader's");
        last = Some(now);
    }
    armed
}

#[test]
fn what_is_proved_is_never_missed_in_random_histories() {
    let (stations, swarms) = by_effort([(4, 2), (6, 27), (60, 27)]);
    let mut tallies: BTreeMap<&str, Tally> = BTreeMap::new();
    let (mut histories, mut arose, mut met, mut seed) = (0_u64, 0_u64, 0, 0);
    while met < stations {
        let case = case(seed).asked_for(6);
        let station = read_back(&render(&case.station, seed)).unwrap();
        seed += 1;
        with_model(&station, |model| {
            let claims = proved(model);
            // A stop is cleared in nearly every history; what is of more interest is what must be answered.
            if claims.iter().all(|claim| matches!(form(&station, asked_by(claim)), "never released" | "never less")) {
                return;
            }
            met += 1;
            for claim in &claims {
                let tally = tallies.entry(form(&station, asked_by(claim))).or_default();
                tally.proved += 1;
                tally.histories += swarms * LANES as u64;
            }
            let mut missed = vec![false; station.requirements.len()];
            for round in 0..swarms {
                let armed = swarm(model, &case, &claims, seed * 1_000 + round, &mut missed);
                histories += LANES as u64;
                let asked =
                    |claim: &Claimed| !matches!(form(&station, asked_by(claim)), "never released" | "never less");
                let all = armed.iter().zip(&claims).filter(|(_, claim)| asked(claim));
                arose += u64::from(all.fold(0_u64, |all, ([arisen, _], _)| all | arisen).count_ones());
                for (claim, [arisen, due]) in claims.iter().zip(&armed) {
                    let tally = tallies.entry(form(&station, asked_by(claim))).or_default();
                    tally.arisen += u64::from(arisen.count_ones());
                    tally.due += u64::from(due.count_ones());
                }
            }
            for i in (0..missed.len()).filter(|&i| missed[i] && claims.iter().all(|claim| asked_by(claim) != i)) {
                tallies.entry(form(&station, i)).or_default().missed += 1;
            }
        })
        .unwrap();
    }
    for (form, tally) in &tallies {
        println!("{form:18} {tally:?}");
    }
    let sum = |of: fn(&Tally) -> u64| tallies.values().map(of).sum::<u64>();
    let (proofs, missed) = (sum(|t| t.proved), sum(|t| t.missed));
    println!("{met} stations, {proofs} proofs, {missed} that are not proved are missed");
    println!("{histories} histories of {SCANS} scans, in {arose} of them what is proved arises");
    assert!(histories >= by_effort([0, 10_000, 100_000]));
    assert!(10 * arose >= histories, "what is proved is seldom asked for");
    assert!(missed >= met, "little is missed");
}

/// What `held by` claims of watches of random stations, some of which do answer every breach and some of which do not.
#[test]
fn what_holds_an_assumption_answers_in_random_histories() {
    let (stations, swarms) = by_effort([(4, 1), (8, 9), (60, 9)]);
    let (mut proofs, mut broken, mut silent) = (0_u64, 0_u64, 0_u64);
    for seed in 0..stations {
        let case = case(seed);
        let mut station = read_back(&render(&case.station, seed)).unwrap();
        station.requirements.clear();
        let station = with_upheld(&station);
        with_model(&station, |model| {
            let claims = proved(model);
            assert!(claims.iter().all(|claim| claim.assumptions.is_empty()), "one assumption holds another");
            proofs += claims.len() as u64;
            let mut missed = vec![false; station.requirements.len()];
            for round in 0..swarms {
                let armed = swarm(model, &case, &claims, seed * 1_000 + round, &mut missed);
                broken += armed.iter().map(|[_, due]| u64::from(due.count_ones())).sum::<u64>();
            }
            silent += missed.iter().filter(|missed| **missed).count() as u64;
        })
        .unwrap();
    }
    println!(
        "{proofs} watches are proved to hold an assumption, which is broken in {broken} histories; {silent} are not"
    );
    assert!(2 * proofs >= stations && broken >= 10 * stations && silent > 0);
}

/// What only requirements can ask, of inputs, answers and outputs that the rules of random stations watch.
#[test]
fn what_no_rule_can_ask_is_answered_in_random_histories_where_it_is_proved() {
    let (stations, swarms) = by_effort([(2, 1), (4, 9), (25, 9)]);
    let mut tallies: BTreeMap<&str, [u64; 3]> = BTreeMap::new();
    for seed in 0..stations {
        let case = case(seed);
        let mut station = read_back(&render(&case.station, seed)).unwrap();
        station.requirements = kept_observed(&station);
        let kind = |i: usize| match station.requirements[i].observed().first() {
            Some(Observed::Stands(_)) => "stands",
            Some(Observed::Released(_)) => "released",
            Some(Observed::Differing(_)) => "differing",
            Some(Observed::Distrusted(..)) => "differed for over",
            Some(Observed::Leaping(..)) => "moves over",
            Some(Observed::Sources(..)) => "sources differ",
            Some(Observed::Silent(_)) => "silent",
            Some(Observed::Pressed(..)) => "pressed for",
            Some(Observed::Miscounting(_)) => "miscounts",
            Some(Observed::Covered(..)) => "covered for over",
            Some(Observed::Changing(..)) => "changes over",
            Some(Observed::Apart(..)) => "differs from",
            Some(Observed::Closer(..)) => "rises less than",
            Some(Observed::Farther(..)) => "rises more than",
            Some(Observed::Stray(_)) => "rises with no carrier",
            Some(Observed::Crowded(..)) => "awaits over",
            None => panic!("nothing is asked"),
        };
        with_model(&station, |model| {
            let claims = proved(model);
            let mut missed = vec![false; station.requirements.len()];
            for round in 0..swarms {
                let armed = swarm(model, &case, &claims, seed * 1_000 + round, &mut missed);
                for (claim, [_, due]) in claims.iter().zip(armed) {
                    tallies.entry(kind(asked_by(claim))).or_default()[1] += u64::from(due.count_ones());
                }
            }
            for claim in &claims {
                tallies.entry(kind(asked_by(claim))).or_default()[0] += 1;
            }
            for i in (0..missed.len()).filter(|&i| missed[i]) {
                tallies.entry(kind(i)).or_default()[2] += 1;
            }
        })
        .unwrap();
    }
    println!("proved, histories in which an answer was due, missed in one: {tallies:?}");
    let sum = |at: usize| tallies.values().map(|tally| tally[at]).sum::<u64>();
    assert!(sum(0) >= 5 * stations && sum(1) > 0 && sum(2) > 0);
    assert!(tallies.len() >= by_effort([1, 10, 15]));
}
