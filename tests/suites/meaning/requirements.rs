//! Requirements and assumptions of random stations, judged by the monitors and by the oracle.
//!
//! The monitors judge the station that the text of a rule file means, scan by scan; the oracle judges the station it was
//! written from, over the whole history at once. Both must tell the same of every scan.
#![allow(
    clippy::indexing_slicing,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::panic,
    reason = "counts are what one wants to read of this suite; a difference is a failed test"
)]

use cross_tests::effort::by_effort;
use std::collections::BTreeMap;

use cross_tests::generate::{Case, History, Raw, Rng, ask_after_stops, ask_observed, ask_under_way, case};
use cross_tests::oracle::Oracle;
use cross_tests::oracle::requirements::{Judged, Judgement, Record, judge};
use cross_tests::reading::Style;
use cross_tests::render::{read_back, render};
use host_tools::monitor::{MonitorPlan, Monitors};
use host_tools::prove::upheld::with_upheld;
use host_tools::station::{Claim, Condition, Form, InputKind, Measured, Observed, Rank, Station, When};
use host_tools::told::Scanned;

/// How often something was asked, met, and missed or broken.
#[derive(Debug, Clone, Copy, Default)]
struct Tally {
    armed: u64,
    met: u64,
    missed: u64,
}

fn form(station: &Station, i: usize) -> String {
    let requirement = &station.requirements[i];
    if let Some(observed) = requirement.observed().last().filter(|_| requirement.name.text.starts_with('O')) {
        return match observed {
            Observed::Stands(_) => "whenever .. stands",
            Observed::Released(_) => "whenever .. released",
            Observed::Differing(_) => "whenever .. differing",
            Observed::Distrusted(..) => "whenever .. differed for over",
            Observed::Leaping(..) => "whenever .. moves over",
            Observed::Sources(..) => "whenever .. has sources that differ",
            Observed::Silent(_) => "whenever .. silent",
            Observed::Pressed(..) => "whenever .. pressed for",
            Observed::Covered(..) => "whenever .. covered for over",
            Observed::Changing(..) => "whenever .. changes over",
            Observed::Apart(..) => "whenever .. differs from",
            Observed::Closer(..) => "whenever .. rises less than",
            Observed::Farther(..) => "whenever .. rises more than",
            Observed::Stray(_) => "whenever .. rises with no carrier",
            Observed::Crowded(..) => "whenever .. awaits over",
            Observed::Miscounting(_) => "whenever .. miscounts",
        }
        .to_owned();
    }
    if requirement.bounces > 0 {
        let kind = match &requirement.form {
            Form::Whenever { .. } => "whenever",
            Form::After { .. } => "after",
            Form::WhenRises { .. } => "rises",
            _ => "never",
        };
        return format!("{kind} .., bounces aside");
    }
    let kind = match &requirement.form {
        Form::Whenever { lasting: 0, least, .. } if *least < station.first_stop() => "whenever .., slow",
        Form::Whenever { least, .. } if *least < station.first_stop() => "whenever .. for, slow",
        Form::Whenever { lasting: 0, .. } => "whenever .., stop",
        Form::Whenever { .. } => "whenever .. for, stop",
        Form::WhenRises { lasting: 1.., .. } => "whenever .. for .. when .. rises",
        Form::WhenRises { when: When::Rise, .. } => "whenever .. when .. rises",
        Form::WhenRises { when: When::Scans(_), .. } => "whenever .. in a time after .. rises",
        Form::WhenRises { when: When::Rope(..), .. } => "whenever .. in rope after .. rises",
        Form::After { measured: Measured::Rope(_), .. } => "after .., in rope",
        Form::After { .. } => "after .., in time",
        Form::Held { claim: Claim::Always(_), .. } => "whenever a condition is broken that a watch holds",
        Form::Held { .. } => "whenever a distance is broken that a watch holds",
        Form::Effect { .. } => "after .. stands",
        Form::Never { .. } => "never less than",
        Form::NeverReleased { .. } => "never released without",
        Form::NeverReleasedBut { .. } => "never released but when",
        Form::NeverPermitted { .. } => "never permitted",
        Form::NeverTogether(..) => "never together",
    };
    format!("{kind}{}", if requirement.unless.is_some() { ", unless" } else { "" })
}

fn claim(station: &Station, i: usize) -> &'static str {
    match &station.assumptions[i].claim {
        Claim::RopeApart(..) => "assumed apart in rope",
        Claim::ScansApart(..) => "assumed apart in time",
        Claim::Always(Condition::Not(_)) => "assumed never",
        Claim::Always(_) => "assumed always",
    }
}

fn told(scanned: &Scanned) -> Judgement {
    let numbers = |all: &[u16]| all.iter().map(|&i| usize::from(i)).collect();
    Judgement {
        met: scanned.met.iter().map(|&(i, waited)| (usize::from(i), waited as usize)).collect(),
        missed: numbers(&scanned.missed),
        broken: numbers(&scanned.broken),
    }
}

/// Where the verdicts come from that are judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Verdicts {
    /// From the rules.
    Rules,
    /// From nowhere: answers, outputs and bypasses come and go as they like.
    Chance,
}

/// Verdicts by chance.
struct Chance {
    rng: Rng,
    answer: Rank,
    off: u64,
    active: u64,
}

impl Chance {
    /// A start is permitted by chance as well, from a source of its own, so that the others stay as they are.
    fn permit(&self, scan: usize) -> bool {
        (self.off ^ self.active).wrapping_add(scan as u64 / 7).is_multiple_of(4)
    }
    fn next(&mut self, station: &Station) -> (Rank, u64, u64) {
        if self.rng.once_in(4) {
            let any = u8::try_from(self.rng.index(usize::from(station.worst()) + 1)).expect("few ranks");
            self.answer = if self.rng.chance(60) { 0 } else { any };
        }
        if self.rng.once_in(5) {
            (self.off, self.active) = (self.rng.bits(), self.rng.bits());
        }
        (self.answer, self.off, self.active)
    }
}

/// What is run.
#[derive(Debug, Clone, Copy)]
struct Run {
    seed: u64,
    scans: usize,
    style: Style,
    verdicts: Verdicts,
    lead: Option<usize>,
}

/// A history as the oracle runs it, and what the monitors tell of each of its scans.
fn run(what: Run, case: &Case, monitors: &mut Monitors<'_>, read: &Station) -> (Vec<Record>, Vec<Judgement>) {
    let station = &case.station;
    let seed = what.seed ^ 0x000B_116E;
    let mut oracle = Oracle::power_up(station);
    let (mut lively, mut raw) = (History::new(case, seed), Raw::new(station, seed));
    let mut chance = Chance { rng: Rng::new(seed), answer: 0, off: 0, active: 0 };
    let (mut records, mut judgements) = (Vec::new(), Vec::new());
    let mut last = None;
    for scan in 0..what.scans {
        let sample = match what.style {
            Style::Lively => lively.next_sample(last.as_ref()),
            Style::Raw => raw.next_sample(),
        };
        let now = oracle.scan(&sample);
        let set = |bits: &[bool]| (0_u64..).zip(bits).fold(0, |all, (i, on)| all | u64::from(*on) << i);
        let ((answer, off, active), permit) = match what.verdicts {
            Verdicts::Rules => ((now.answer, set(&now.off), set(&now.active)), now.permit),
            Verdicts::Chance => (chance.next(station), chance.permit(scan)),
        };
        let mut scanned = Scanned { answer, off, active, permit, ..Scanned::default() };
        monitors.scan(&sample, &mut scanned);
        judgements.push(told(&scanned));
        let bits = |mask: u64, count: usize| (0..count).map(|i| mask >> i & 1 == 1).collect();
        let (off, active) = (bits(off, station.outputs.len()), bits(active, station.bypasses.len()));
        records.push(Record { sample, answer, off, active, permit });
        last = Some(now);
        if what.lead == Some(scan) {
            monitors.restart(read, false);
            oracle.adopt();
        }
    }
    (records, judgements)
}

fn count(station: &Station, judged: &Judged, tallies: &mut BTreeMap<String, Tally>) {
    for i in 0..station.requirements.len() {
        let tally = tallies.entry(form(station, i)).or_default();
        tally.armed += judged.armed[i];
        for scan in &judged.scans {
            tally.met += scan.met.iter().filter(|(met, _)| *met == i).count() as u64;
            tally.missed += scan.missed.iter().filter(|missed| **missed == i).count() as u64;
        }
    }
    for i in 0..station.assumptions.len() {
        let tally = tallies.entry(claim(station, i).to_owned()).or_default();
        tally.armed += judged.claimed[i];
        tally.missed += judged.scans.iter().filter(|scan| scan.broken.contains(&i)).count() as u64;
    }
}

/// Holds the monitors of one station to the oracle.
fn hold(seed: u64, scans: usize, style: Style, verdicts: Verdicts, tallies: &mut BTreeMap<String, Tally>) {
    let mut case = case(seed);
    ask_observed(&mut case, seed);
    ask_under_way(&mut case, seed);
    ask_after_stops(&mut case, seed);
    let text = render(&case.station, seed);
    let read = read_back(&text).unwrap_or_else(|errors| panic!("seed {seed} is refused: {errors}"));
    let read = with_upheld(&read);
    case.station = with_upheld(&case.station);
    let station = &case.station;
    let mut rng = Rng::new(seed ^ 0x1EAD);
    let lead = rng.chance(40).then(|| rng.index(scans));
    let plan = MonitorPlan::new(&read);
    let lowered = plan.plan().expect("the conditions of a generated station are a plan");
    let mut monitors = Monitors::start(&read, &plan, &lowered).expect("a plan fits its own needs");
    let what = Run { seed, scans, style, verdicts, lead };
    let (records, judgements) = run(what, &case, &mut monitors, &read);
    // The lead is a history from power-up; what is judged after it begins anew.
    let first = lead.map_or(scans, |lead| lead + 1);
    for (from, to) in [(0, first), (first, scans)] {
        if from == to {
            continue;
        }
        let judged = judge(station, &records[..to], from);
        for (scan, mine) in judged.scans.iter().enumerate() {
            let theirs = &judgements[from + scan];
            let place = format!("{what:?}, judged from scan {from}, scan {} (from 0)", from + scan);
            assert!(mine == theirs, "{}{place}", difference(&read, &text, mine, theirs));
        }
        count(station, &judged, tallies);
    }
}

fn difference(read: &Station, text: &str, mine: &Judgement, theirs: &Judgement) -> String {
    let mut out = format!("{text}\noracle {mine:?}\nmonitors {theirs:?}\n");
    for (i, requirement) in read.requirements.iter().enumerate() {
        let in_one = |all: &Judgement| (all.missed.contains(&i), all.met.iter().find(|met| met.0 == i).copied());
        if in_one(mine) != in_one(theirs) {
            out += &[form(read, i), format!(": {:?} unless {:?}\n", requirement.form, requirement.unless)].concat();
        }
    }
    for (i, assumption) in read.assumptions.iter().enumerate() {
        if mine.broken.contains(&i) != theirs.broken.contains(&i) {
            out += &[claim(read, i), &format!(": {:?}\n", assumption.claim)].concat();
        }
    }
    out
}

#[test]
fn the_monitors_judge_as_the_oracle_does() {
    // A station has each form of requirement twice.
    let (stations, scans, floor) = by_effort([(100, 1_000, 5), (120, 1_500, 5), (2_000, 1_500, 100)]);
    let runs = [
        (Style::Lively, Verdicts::Rules, scans),
        (Style::Lively, Verdicts::Chance, scans / 2),
        (Style::Raw, Verdicts::Chance, scans / 4),
    ];
    let mut all: BTreeMap<String, Tally> = BTreeMap::new();
    for (style, verdicts, scans) in runs {
        let mut tallies = BTreeMap::new();
        for seed in 0..stations {
            hold(seed, scans, style, verdicts, &mut tallies);
        }
        println!("{stations} stations, {style:?} histories of {scans} scans, verdicts from {verdicts:?}");
        for (key, tally) in &tallies {
            println!("{key:36} {:>8} armed {:>8} met {:>8} missed or broken", tally.armed, tally.met, tally.missed);
            let sum = all.entry(key.clone()).or_default();
            sum.armed += tally.armed;
            sum.met += tally.met;
            sum.missed += tally.missed;
        }
    }
    for (key, tally) in &all {
        let owed = ["whenever", "after"].iter().any(|kind| key.starts_with(kind));
        assert!(tally.armed >= floor, "{key} was armed {} times", tally.armed);
        assert!(tally.missed >= floor, "{key} was missed {} times", tally.missed);
        assert!(!owed || tally.met >= floor, "{key} was met {} times", tally.met);
    }
}

/// "A contact, a pair or a detector never is" faulty in a requirement, so that one which waits for it asks nothing.
#[test]
fn a_requirement_of_a_fault_that_raw_inputs_do_not_show_is_refused() {
    let rules = include_str!("../../cases/faults/requirement-empty.rules");
    let asks = |condition: &str| {
        let start = rules.find("    whenever ").expect("a requirement");
        let end = start + rules[start..].find(',').expect("an answer");
        read_back(&format!("{}    whenever {condition}{}", &rules[..start], &rules[end..])).map(|_| ())
    };
    let refused = |condition: &str| asks(condition).is_err_and(|errors| errors.starts_with("requirement-empty"));
    assert_eq!(asks("gate open"), Ok(()));
    assert!(refused("gate faulty") && refused("gate open and gate faulty"));
    assert_eq!(asks("gate open or gate faulty"), Ok(()));
}

/// Carriers are under way from one detector to another that lies farther on.
#[test]
fn carriers_under_way_to_where_they_start_are_refused() {
    let station = case(1).station;
    let is = |kind: &InputKind| matches!(kind, InputKind::Detector(_));
    let detector = &station.inputs.iter().find(|input| is(&input.kind)).expect("one").name.text;
    let pace = |kind: &InputKind| matches!(kind, InputKind::Pace(_));
    let pace = &station.inputs.iter().find(|input| pace(&input.kind)).expect("one").name.text;
    let stop = station.answer(station.worst());
    let form = format!(
        "whenever {detector} rises with no carrier under way from {detector} for at most 10 m of {pace}, \
         stop at least {stop} within 10 s"
    );
    let read = read_back(&format!("{}\nrequire Z1 \"stray\"\n    {form}\n", render(&station, 1)));
    assert!(read.is_err_and(|errors| errors.contains("same-twice")));
}

/// What lasts no time cannot be asked to last, and would never be asked.
#[test]
fn a_passing_that_must_last_is_refused() {
    let station = case(1).station;
    let named =
        |is: fn(&InputKind) -> bool| &station.inputs.iter().find(|input| is(&input.kind)).expect("one").name.text;
    let detector = named(|kind| matches!(kind, InputKind::Detector(_)));
    let pace = named(|kind| matches!(kind, InputKind::Pace(_)));
    let rules = render(&station, 1);
    let asks = |lasting: &str| {
        let stop = station.answer(station.worst());
        let form = format!(
            "whenever {detector} rises more than 10 m of {pace} apart{lasting}, stop at least {stop} within 10 s"
        );
        read_back(&format!("{rules}\nrequire Z1 \"gone\"\n    {form}\n")).map(|_| ())
    };
    assert_eq!(asks(""), Ok(()));
    assert!(asks(" for 100 ms").is_err_and(|errors| errors.contains("number-senseless")));
}
