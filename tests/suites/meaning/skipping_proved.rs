//! Skipping changes nothing, in any state: proved of every block of a station's scan, over the circuit. What is proved,
//! and why it is enough, stands in `tests/src/skipping.rs`; here it is done for the demo stations, and for random ones
//! until every guard in the step's code and every kind of watch was met.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::{by_effort, is_heavy};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::panic::Location;
use std::path::Path;
use std::time::Instant;

use cross_tests::generate::{Rng, case};
use cross_tests::proofs::{STATIONS, demo};
use cross_tests::reading::key;
use cross_tests::skipping::{Question, Scan};
use host_tools::lower::{Program, lower};
use host_tools::prove::frames::Answer;
use host_tools::prove::graph::Wire;
use host_tools::station::Station;
use host_tools::station::ways::Source;

/// Kinds of watches.
const KINDS: [&str; 8] = ["guard", "travel", "measure", "spacing", "agree", "confirm", "exercise", "count"];

/// File, line and column of a guard.
type Site = (String, u32, u32);

fn site(at: &Location<'_>) -> Site {
    let (_, file) = at.file().rsplit_once("src/").expect("a file of the rules crate");
    (file.to_owned(), at.line(), at.column())
}

/// Every guard in the step's code.
fn sites() -> BTreeSet<Site> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../logic-rules/src");
    let folder = fs::read_dir(root.join("step")).unwrap().map(|file| file.unwrap().file_name().into_string().unwrap());
    let files = folder.map(|name| format!("step/{name}")).chain(["step.rs".to_owned()]);
    let mut found = BTreeSet::new();
    for file in files {
        let text = fs::read_to_string(root.join(&file)).unwrap();
        for (line, number) in text.lines().zip(1..) {
            for (at, _) in line.match_indices(".possible(") {
                found.insert((file.clone(), number, u32::try_from(at).unwrap() + 2));
            }
        }
    }
    found
}

/// What was proved.
#[derive(Debug, Default)]
struct Tally {
    stations: usize,
    operations: usize,
    /// Blocks behind each guard.
    sites: BTreeMap<Site, usize>,
    /// Of each kind of watch: watches, and blocks in which one of them may trip.
    kinds: BTreeMap<String, [usize; 2]>,
    /// Several blocks left out at once.
    sets: usize,
}

impl Tally {
    /// Proves of a station that each of its blocks may be skipped, and so may some at once.
    fn prove(&mut self, name: &str, station: &Station, sets: usize) {
        let (start, program) = (Instant::now(), lower(station));
        let plan = program.plan().unwrap();
        let mut scan = Scan::new(&plan);
        let mut watches = BTreeSet::new();
        let count = scan.blocks().len();
        for number in 0..count {
            let question = scan.without(number);
            let block = scan.blocks()[number];
            holds(&scan, &question, &format!("{name}, block {number}, {}", block.site));
            *self.sites.entry(site(block.site)).or_default() += 1;
            for (kind, watch) in tripped(station, &program, &question) {
                let [seen, blocks] = self.kinds.entry(kind).or_default();
                *seen += usize::from(watches.insert(watch));
                *blocks += 1;
            }
        }
        let mut rng = Rng::new(0);
        for set in 0..sets {
            // All at first: then only what no guard stands before is done.
            let percent = if set == 0 { 100 } else { 1 + rng.below(99) };
            let skip = (0..count).filter(|_| rng.chance(percent)).collect();
            let question = scan.without_all(&skip);
            holds(&scan, &question, &format!("{name}, blocks {skip:?}"));
        }
        self.stations += 1;
        self.operations += scan.operations();
        self.sets += sets;
        if self.stations <= 2 || !is_heavy() {
            println!("{name}: {} operations, {count} blocks, {:?}", scan.operations(), start.elapsed());
        }
    }
    fn show(&self) {
        let blocks: usize = self.sites.values().sum();
        println!(
            "{} stations, {} operations, {blocks} blocks behind {} guards, {} times several at once",
            self.stations,
            self.operations,
            self.sites.len(),
            self.sets
        );
        for (kind, [watches, blocks]) in &self.kinds {
            println!("{kind:10} {watches:5} watches that may trip in {blocks:5} blocks");
        }
        if is_heavy() {
            for ((file, line, _), blocks) in &self.sites {
                println!("{file}:{line:<4} {blocks:6} blocks");
            }
        }
    }
}

/// Nothing differs where the guards do not hold.
fn holds(scan: &Scan<'_>, question: &Question, what: &str) {
    match scan.case(question, &[question.closed, question.differs]) {
        Err(Answer::None) => {}
        Err(answer) => panic!("{what}: {answer:?}"),
        Ok(differs) => panic!("{what}: skipping it is seen\n{}", differs.join("\n")),
    }
}

/// The watches that may trip within a block, with their kinds.
fn tripped(station: &Station, program: &Program, question: &Question) -> BTreeSet<(String, usize)> {
    let ways = question.trips.iter().map(|&way| program.ways[program.by_severity[way]]);
    let watches = ways.filter_map(|way| {
        let Source::Watch(watch) = way.source else { return None };
        let key = key(station, &way);
        Some((key.split(' ').nth(1).unwrap().to_owned(), watch))
    });
    watches.collect()
}

#[test]
fn the_demo_is_the_same_without_skipping() {
    let mut tally = Tally::default();
    for name in STATIONS {
        tally.prove(name, &demo(name), by_effort([0, 3, 10]));
    }
    tally.show();
}

#[test]
fn stations_of_every_kind_are_the_same_without_skipping() {
    let (mut tally, all) = (Tally::default(), sites());
    let (least, sets) = by_effort([(4, 2), (25, 3), (400, 4)]);
    for seed in 0.. {
        let met: BTreeSet<Site> = tally.sites.keys().cloned().collect();
        assert_eq!(met.difference(&all).next(), None, "a guard that is not in the code");
        let often = KINDS
            .iter()
            .all(|&kind| tally.kinds.get(kind).is_some_and(|&[watches, blocks]| watches >= 4 && blocks >= 8));
        if seed >= least && met == all && often {
            break;
        }
        assert!(seed < least + 40, "not met: {:?}, {:?}", all.difference(&met), tally.kinds);
        tally.prove(&format!("seed {seed}"), &case(seed).station, sets);
    }
    tally.show();
}

/// What would be found if a guard asked for less: for nothing at all, or for one of two things.
#[test]
fn a_guard_that_asks_for_less_is_found() {
    let (mut never, mut half) = ([0; 2], [0; 2]);
    for seed in 0..by_effort([2, 10, 40]) {
        let program = lower(&case(seed).station);
        let plan = program.plan().unwrap();
        let mut scan = Scan::new(&plan);
        for number in 0..scan.blocks().len() {
            let question = scan.without(number);
            let found = |closed: &[Wire]| {
                let all = [closed, &[question.differs]].concat();
                usize::from(scan.case(&question, &all).is_ok())
            };
            never = [never[0] + found(&[]), never[1] + 1];
            for part in scan.parts(scan.blocks()[number].guard) {
                half = [half[0] + found(&[part.opposite()]), half[1] + 1];
            }
        }
    }
    println!("never: {} of {} found; one of two: {} of {} found", never[0], never[1], half[0], half[1]);
    // Some blocks do nothing in their plan, and some guards ask for more than they need.
    assert!(never[1] >= 150 && never[0] * 10 >= never[1] * 9);
    assert!(half[1] >= 150 && half[0] * 10 >= half[1] * 9);
}
