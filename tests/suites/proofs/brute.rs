//! Small plans decided by going through all of their reachable states, and the prover and the refuter held against that.
//!
//! What is proved must never be missed, with nothing granted but what the proof takes for granted, and each lemma
//! of a proof must hold in every reachable state. What is refuted must be missed. Every miss is replayed from power-up.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::{by_effort, is_heavy};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use cross_tests::small::cells::transpose;
use cross_tests::small::inputs::sample;
use cross_tests::small::plans::{Small, plan, plan_under_way};
use cross_tests::small::space::{Explored, Granted, Reached, Room, Space};
use host_tools::load::load;
use host_tools::prove::attempt::attempt;
use host_tools::prove::circuit::System;
use host_tools::prove::model::{Model, with_model};
use host_tools::prove::recheck::Checker;
use host_tools::prove::verdict::refute;
use host_tools::refute::{Effort, History, Stay, confirm, hunt};
use host_tools::station::{Form, Station};
use host_tools::text::parse::Source;

/// What the states say of a requirement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Truth {
    /// No reachable scan misses it.
    Never,
    /// It is missed, but not while signals and assumptions keep what is said of them.
    Excused,
    /// It is missed, whatever is granted.
    Missed,
}

/// What became of the plans of a kind.
#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    plans: usize,
    refused: usize,
    beyond: usize,
    /// Never missed because a stop always stands.
    idle: usize,
    /// Never missed, and how many of them are proved.
    never: [usize; 2],
    /// Missed only where a signal or an assumption breaks its word, and how many are proved for the others.
    excused: [usize; 2],
    /// Missed, and how many are refuted.
    missed: [usize; 2],
    /// Greatest number of states of one that is never missed.
    states: usize,
    scans: u64,
    explored: Duration,
    proved: Duration,
    refuted: Duration,
}

impl Tally {
    fn add(&mut self, other: &Self) {
        let sums = |one: &mut [usize; 2], other: [usize; 2]| one.iter_mut().zip(other).for_each(|(a, b)| *a += b);
        sums(&mut self.never, other.never);
        sums(&mut self.excused, other.excused);
        sums(&mut self.missed, other.missed);
        self.plans += other.plans;
        self.refused += other.refused;
        self.beyond += other.beyond;
        self.idle += other.idle;
        self.states = self.states.max(other.states);
        self.scans += other.scans;
        self.explored += other.explored;
        self.proved += other.proved;
        self.refuted += other.refuted;
    }
    fn decided(&self) -> usize {
        self.never[0] + self.excused[0] + self.missed[0]
    }
    fn line(&self, kind: &str) -> String {
        let [never, excused, missed] = [self.never, self.excused, self.missed];
        format!(
            "{kind:16} {:5} plans {:2} refused {:3} beyond {:2} idle | never {:4} proved {:4} | with signals {:4} proved {:4} | \
             missed {:4} refuted {:4} | {:7} states {:10} scans {:6.1?} {:6.1?} {:6.1?}",
            self.plans,
            self.refused,
            self.beyond,
            self.idle,
            never[0],
            never[1],
            excused[0],
            excused[1],
            missed[0],
            missed[1],
            self.states,
            self.scans,
            self.explored,
            self.proved,
            self.refuted
        )
    }
}

/// What is found wrong in a plan.
type Wrong = Vec<String>;

/// A miss that was found must be one of the plain reading, and of a replay, too.
fn replayed(station: &Station, space: &Space<'_>, granted: &Granted, path: &[usize], wrong: &mut Wrong) {
    let last = path.len() - 1;
    if space.replay(granted, path) != Some((last, true)) {
        wrong.push(format!("a miss in scan {last} of 64 cases is none in the plain reading: {path:?}"));
    }
    // A replay follows carriers in turn, so that it may not follow the one that was chosen here.
    if !matches!(station.requirements[0].form, Form::After { .. }) && station.assumptions.is_empty() {
        let stays = path.iter().map(|&choice| Stay { scans: 1, sample: sample(&space.choices[choice]) });
        let confirmed = confirm(station, &History::of(stays), 0).unwrap();
        if confirmed != Some(last as u64) {
            wrong.push(format!("a miss in scan {last} is told in {confirmed:?} by a replay: {path:?}"));
        }
    }
}

/// What the states say, with the states if there is no miss; `None` if there is no room.
fn truth(
    station: &Station,
    space: &mut Space<'_>,
    granted: &Granted,
    room: Room,
    wrong: &mut Wrong,
) -> Option<Result<Reached, Vec<usize>>> {
    match space.explore(granted, room) {
        Explored::Missed(path) => {
            replayed(station, space, granted, &path, wrong);
            Some(Err(path))
        }
        Explored::Never(reached) => Some(Ok(reached)),
        Explored::Beyond => None,
        Explored::TooWide => {
            wrong.push("a reachable state is wider than the circuit's cells".into());
            None
        }
    }
}

/// Decides a plan, and holds the prover and the refuter against that.
fn judge(small: &Small, room: Room, effort: Effort, tally: &mut Tally, wrong: &mut Wrong) {
    tally.plans += 1;
    let loaded = load(vec![Source { path: "small".into(), bytes: small.text.clone().into_bytes() }]);
    let Some(station) = loaded.station else {
        tally.refused += 1;
        return;
    };
    with_model(&station, |model| judge_model(small, model, room, effort, tally, wrong)).unwrap();
}

fn judge_model(small: &Small, model: &Model<'_>, room: Room, effort: Effort, tally: &mut Tally, wrong: &mut Wrong) {
    let station = model.station;
    let (none, all) = (Granted::default(), Granted::all(model));
    let start = Instant::now();
    let mut space = Space::new(model);
    let bare = truth(station, &mut space, &none, room, wrong);
    let granted = match &bare {
        None => None,
        Some(Ok(_)) => Some(Truth::Never),
        Some(Err(_)) if all.is_empty() => Some(Truth::Missed),
        Some(Err(path)) => match space.replay(&all, path) {
            Some((_, true)) => Some(Truth::Missed),
            _ => truth(station, &mut space, &all, room, wrong)
                .map(|all| if all.is_ok() { Truth::Excused } else { Truth::Missed }),
        },
    };
    tally.explored += start.elapsed();
    tally.scans += space.scans;
    let Some(truth_of) = granted else {
        tally.beyond += 1;
        return;
    };
    let mut runs = true;
    if let Some(Ok(reached)) = &bare {
        runs = reached.runs;
        tally.states = tally.states.max(reached.states.len());
    }
    let start = Instant::now();
    let mut system = System::new(model).unwrap();
    let proof = attempt(model, &mut system, 0);
    let checked = proof.as_ref().map(|proof| Checker::new(model).check(&proof.claimed));
    tally.proved += start.elapsed();
    if let Some(Err(refused)) = &checked {
        wrong.push(format!("a proof is refused by the checker: {refused:?}"));
    }
    if let Some(proof) = &proof {
        let claimed = &proof.claimed;
        let taken = Granted { signals: claimed.signals.clone(), assumptions: claimed.assumptions.clone() };
        let again = if taken.is_empty() { bare } else { truth(station, &mut space, &taken, room, wrong) };
        match again {
            Some(Ok(reached)) => {
                if let Some(lemma) = space.violated(&reached, &claimed.lemmas) {
                    wrong.push(format!("a lemma of the proof does not hold in a state that is reached: {lemma:?}"));
                }
            }
            Some(Err(path)) => wrong.push(format!("PROVED, but missed with {taken:?} granted: {path:?}")),
            None => {}
        }
    }
    let start = Instant::now();
    let found = if proof.is_some() {
        hunt(station, &[0], effort).unwrap().remove(0)
    } else {
        refute(model, &mut system, 0, effort).unwrap()
    };
    if found.is_none() && truth_of == Truth::Missed {
        println!("missed and not refuted, {} {:?}\n{}", small.kind, small.planted, small.text);
    }
    tally.refuted += start.elapsed();
    if let Some(found) = &found
        && confirm(station, &found.history, 0).unwrap() != Some(found.missed_at)
    {
        wrong.push("a refutation is not missed again in a replay".into());
    }
    if found.is_some() && truth_of != Truth::Missed {
        wrong.push(format!("refuted, but by its states it is {truth_of:?}"));
    }
    if !runs {
        tally.idle += 1;
        return;
    }
    let (row, hit) = match truth_of {
        Truth::Never => (&mut tally.never, matches!(checked, Some(Ok(())))),
        Truth::Excused => (&mut tally.excused, matches!(checked, Some(Ok(())))),
        Truth::Missed => (&mut tally.missed, found.is_some()),
    };
    row[0] += 1;
    row[1] += usize::from(hit);
}

#[test]
fn what_is_proved_is_never_missed_and_what_is_refuted_is() {
    let heavy = is_heavy();
    // The short form leaves out what takes a second.
    let room = if heavy { Room { states: 200_000, scans: 3_000_000 } } else { Room { states: 20_000, scans: 200_000 } };
    let (plans, counted) = by_effort([(60, 3), (180, 18), (2_000, 220)]);
    let effort = Effort { scans: 10_000, threads: 1, replays: 0, conflicts: 20_000, ..Effort::default() };
    let mut kinds: BTreeMap<&str, Tally> = BTreeMap::new();
    let (mut all_wrong, mut open) = (Vec::new(), Vec::new());
    for (seed, small) in
        (0..plans).map(|seed| (seed, plan(seed))).chain((0..counted).map(|seed| (seed, plan_under_way(seed))))
    {
        let mut wrong = Wrong::new();
        let tally = kinds.entry(small.kind).or_default();
        let before = tally.never[0] - tally.never[1];
        judge(&small, room, effort, tally, &mut wrong);
        if tally.never[0] - tally.never[1] > before {
            open.push(seed);
        }
        for wrong in wrong {
            println!("seed {seed}, {} {:?}: {wrong}\n{}", small.kind, small.planted, small.text);
            all_wrong.push((seed, wrong));
        }
    }
    let mut sum = Tally::default();
    for (kind, tally) in &kinds {
        println!("{}", tally.line(kind));
        sum.add(tally);
    }
    println!("{}", sum.line("all"));
    assert!(all_wrong.is_empty(), "{all_wrong:#?}");
    let travels: usize = kinds.iter().filter(|(kind, _)| kind.starts_with("travel")).map(|(_, t)| t.decided()).sum();
    println!("{} decided, {travels} with a travel window", sum.decided());
    println!("never missed and not proved: {open:?}");
    let [never, missed] = [sum.never, sum.missed];
    let (least, least_travels) = by_effort([(45, 1), (170, 14), (2_000, 200)]);
    assert!(sum.decided() >= least && travels >= least_travels, "too few are decided");
    assert!(4 * never[0] >= sum.decided() && 4 * missed[0] >= sum.decided(), "one verdict is rare");
    assert!(sum.refused * 50 <= sum.plans, "{} plans are refused", sum.refused);
    assert!(20 * never[1] >= 19 * never[0], "few of those that hold are proved");
    assert!(100 * missed[1] >= 99 * missed[0], "some of those that do not hold are not refuted");
    assert!(sum.excused[1] >= by_effort([0, 1, 20]), "what is declared of signals is seldom needed");
}

#[test]
fn rows_and_columns_of_cells_change_places() {
    let mut rows = std::array::from_fn(|i| (i as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    let before = rows;
    transpose(&mut rows);
    for (i, row) in rows.iter().enumerate() {
        for (j, old) in before.iter().enumerate() {
            assert_eq!(row >> j & 1, old >> i & 1);
        }
    }
}

/// A travel in time answers every carrier that comes too early or too late while the speed keeps to its band. One that
/// starts in the last scan outside the band is followed by nobody, and must not be counted as ahead of those behind it.
#[test]
fn a_travel_in_time_can_keep_a_requirement_in_time() {
    let text = "station \"small\"\nrevision 1\nscan 1 s
output drive on DO-01, off within 1 s
key reset-key on DI-01
stop halt category 0
    releases drive
    bites within 1 s, slows at 0.1 m/s2 to 1 m/s2
pace rope on CN-01, 1 mm a pulse
    at most 1 mm/s, speed over 1 s, still below 0.5 mm/s, fault after 1 s
detector enter on DI-02, at 1 m, pulses at least 2.5 s
detector leave on DI-03, at 2 m, pulses at least 2.5 s
travel through
    from enter to leave
    takes 0 s to 3 s, with rope at 1 mm/s to 1 mm/s throughout
    up to 2 carriers under way
    early halt, late halt, stray halt, crowded halt
reset by reset-key pressed and let go, when reset-key free
require R1 \"asked\"
    after enter rises, in 1 s to 3 s must rise leave, with rope at 1 mm/s to 1 mm/s throughout, else stop at least halt within 3 s
";
    let small = Small { kind: "travel in time", planted: None, text: text.into() };
    let (mut tally, mut wrong) = (Tally::default(), Wrong::new());
    let room = Room { states: 200_000, scans: 4_000_000 };
    judge(&small, room, Effort { scans: 10_000, ..Effort::default() }, &mut tally, &mut wrong);
    assert_eq!((wrong, tally.never), (Wrong::new(), [1, 1]), "{}", tally.line("all"));
}
