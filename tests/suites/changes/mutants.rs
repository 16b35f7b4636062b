//! Mutants: what is caught is missed in a history that replays, and what is not caught is never counted as caught.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::{by_effort, is_heavy};
use host_tools::load::load;
use host_tools::mutants::make::{Kind, Mutant, mutants};
use host_tools::mutants::table::{Table, row, sampled};
use host_tools::mutants::{Fate, Original, Tries};
use host_tools::refute::confirm;
use host_tools::text::parse::Source;
use std::fs;
use std::path::Path;

/// Few trials: what is known to be caught is caught soon.
const TRIES: Tries =
    Tries { soon: 150_000, scans: 150_000, last: 150_000, conflicts: 1_000, longer: 0, compared: 4_000, solved: 0 };

fn files(station: &str) -> Vec<Source> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo");
    let read = |name: String| Source { bytes: fs::read(folder.join(&name)).unwrap(), path: name };
    vec![read(format!("{station}-terminal.rules")), read(format!("{station}-terminal.requirements.rules"))]
}

fn all(sources: &[Source], step: u32) -> Vec<Mutant> {
    mutants(sources, &load(sources.to_vec()).station.unwrap(), step)
}

/// The mutant of a statement whose change says so.
fn one(all: &[Mutant], statement: &str, kind: Kind, says: &str) -> Mutant {
    let mut found = all.iter().filter(|m| m.statement == statement && m.kind == kind && m.what.contains(says));
    found.next().unwrap_or_else(|| panic!("no mutant of {statement} says: {says}")).clone()
}

/// The history misses the requirement on the mutant, replayed from power-up.
fn misses(sources: &[Source], mutant: &Mutant, fate: &Fate) {
    let Fate::Caught { by, history } = fate else { panic!("{}: {fate:?}", mutant.what) };
    let station = load(mutant.applied(sources)).station.unwrap();
    let number = station.requirements.iter().position(|r| r.name.text == *by).unwrap();
    assert!(confirm(&station, history, number).unwrap().is_some(), "{} {}", mutant.statement, mutant.what);
}

#[test]
fn each_fate_is_told() {
    let sources = files("drive");
    let original = Original::new(&sources).unwrap().unwrap();
    assert_eq!(original.not_proved, Vec::<String>::new());
    let tenth = all(&sources, 10);
    let fate = |mutant: &Mutant| original.fate(mutant, TRIES).unwrap();
    let caught = [
        one(&tenth, "guard emergency-stop", Kind::Dropped, ""),
        one(&tenth, "guard gate-open", Kind::Milder, "emergency becomes brake"),
        one(&tenth, "pair grip-gate", Kind::Single, "DI-20 alone"),
        one(&tenth, "guard rope-low-out", Kind::Part, "rope-fork-out open"),
        one(&tenth, "measure shut-force", Kind::Moved, "6200 N becomes 5580 N"),
    ];
    for mutant in caught.iter().take(by_effort([1, 2, caught.len()])) {
        misses(&sources, mutant, &fate(mutant));
    }
    // The requirement speaks of a bypass that goes with its only watch.
    let gone = one(&tenth, "guard rope-low-in", Kind::Dropped, "");
    assert_eq!(fate(&gone), Fate::NotBuilt("name-unknown"));
    let too_wide = one(&tenth, "travel slow-down", Kind::Moved, "4.6 m becomes 4.14 m");
    assert_eq!(fate(&too_wide), Fate::Refused("window-at-rope-speed"));
    // A newton is less than what a step of the gauge tells apart, and a lower limit is rounded up.
    let least = all(&sources, 0);
    let finer = one(&least, "measure shut-force", Kind::Moved, "6200 N becomes 6199 N");
    assert_eq!(fate(&finer), Fate::Same);
    // Of a table only those are tried again that survived in it.
    let surviving = Fate::Surviving { shown: false, strained: false, severer: false, unproved: None };
    let rows = vec![row(&finer, "drive".into(), Fate::Same), row(&too_wide, "drive".into(), surviving)];
    let table = Table::new(&original, 10, 2, rows);
    let again: Vec<&Mutant> = [&finer, &gone, &too_wide].into_iter().filter(|mutant| table.survived(mutant)).collect();
    assert_eq!(again, [&too_wide]);
    assert_eq!(table.gone(&tenth), None);
    assert!(table.gone(&least).is_some_and(|row| row.what == too_wide.what));
    if !is_heavy() {
        return;
    }
    let stricter = one(&tenth, "guard overspeed", Kind::Moved, "5.3 m/s becomes 4.77 m/s");
    assert_eq!(fate(&stricter), Fate::Stricter);
    if by_effort([true, true, false]) {
        return;
    }
    // It trips sooner, or takes a carrier for one that is excused behind a refill; what that leads to is not known.
    let tighter = one(&tenth, "travel into-bay", Kind::Moved, "3.296 m becomes 3.626 m");
    assert_eq!(fate(&tighter), Fate::Tighter);
    // A refill is over sooner, and with it the slow order that stands until then.
    let sooner = one(&tenth, "travel into-bay", Kind::Moved, "3.986 m becomes 3.587 m");
    assert!(matches!(fate(&sooner), Fate::Surviving { unproved: None, .. }));
    // Of faults of a pair's channels that last the main requirements say nothing.
    let differing = one(&tenth, "pair grip-gate", Kind::Longer, "differing for 60 ms");
    assert!(matches!(fate(&differing), Fate::Surviving { unproved: None, .. }));
}

#[test]
fn what_a_sample_catches_is_missed() {
    // Mutants of each station that the sample holds.
    let size = by_effort([1, 2, 8]);
    for station in ["return", "drive"].into_iter().take(if is_heavy() { 2 } else { 1 }) {
        let sources = files(station);
        let all = all(&sources, 10);
        let (made, some) = (all.len(), sampled(all.clone(), size, 1));
        assert!(made > 280, "{made}");
        assert!(sampled(all, size + 1, 1).iter().filter(|mutant| some.contains(mutant)).count() == size);
        let original = Original::new(&sources).unwrap().unwrap();
        let mut rows = Vec::new();
        for mutant in &some {
            let fate = original.fate(mutant, TRIES).unwrap();
            if matches!(fate, Fate::Caught { .. }) {
                misses(&sources, mutant, &fate);
            }
            rows.push(row(mutant, station.into(), fate));
        }
        let table = Table::new(&original, 10, made, rows);
        let counts = table.kinds();
        let sums: Vec<usize> = counts.iter().flat_map(|(_, counts)| *counts).collect();
        assert_eq!(sums.iter().sum::<usize>(), size);
        assert!(table.text(true).contains("of all"));
    }
}

#[test]
fn every_mutant_changes_the_rules_and_nothing_that_is_required() {
    for station in ["drive", "return"] {
        let sources = files(station);
        for mutant in all(&sources, 10) {
            let changed = mutant.applied(&sources);
            assert_ne!(changed[0].bytes, sources[0].bytes, "{}", mutant.what);
            assert!(changed[1].bytes == sources[1].bytes || mutant.kind == Kind::Single, "{}", mutant.what);
        }
    }
}
