//! How a proof grows: with the number of travel windows, and with the scans that a counter counts.
//!
//! `cargo bench -p cross-tests --bench growth`. Stations are made up (`chain.rs`) and go through the ordinary pipeline,
//! from text to checked proofs. Absolute times depend on the machine: compare ratios within one run.
#![allow(
    missing_docs,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a measuring program of the workspace's own"
)]

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use cross_tests::chain::{COUNTERS, counter, windows};
use host_tools::load::load;
use host_tools::prove::attempt::{attempt, attempt_standing, own_slice};
use host_tools::prove::circuit::System;
use host_tools::prove::claim::Subject;
use host_tools::prove::model::{Model, with_model};
use host_tools::prove::recheck::Checker;
use host_tools::text::finding::Level;
use host_tools::text::parse::Source;

/// Travel windows of the chains; all but the first are compared with it.
const WINDOWS: [usize; 5] = [5, 10, 20, 40, 60];
/// Scans that are counted.
const SCANS: [u32; 4] = [100, 1_000, 10_000, 30_000];

/// Times of subjects of a kind.
#[derive(Debug, Clone, Copy, Default)]
struct Times {
    subjects: u32,
    searched: [Duration; 2],
    checked: [Duration; 2],
}

impl Times {
    /// Sum and worst of both.
    fn add(&mut self, searched: Duration, checked: Duration) {
        self.subjects += 1;
        for ([sum, worst], time) in [(&mut self.searched, searched), (&mut self.checked, checked)] {
            *sum += time;
            *worst = time.max(*worst);
        }
    }
    fn join(&mut self, other: &Self) {
        self.subjects += other.subjects;
        for ([sum, worst], [other, other_worst]) in
            [(&mut self.searched, other.searched), (&mut self.checked, other.checked)]
        {
            *sum += other;
            *worst = other_worst.max(*worst);
        }
    }
    /// Both together for one subject.
    fn each(&self) -> f64 {
        let [sum, _] = self.searched;
        let [checked, _] = self.checked;
        (sum + checked).as_secs_f64() / f64::from(self.subjects.max(1))
    }
}

/// A time that is being taken: that which this thread had of a processor, so that other work on the machine does not count.
struct Watch {
    begun: Instant,
    ran: Option<Duration>,
}

/// The kernel counts by its ticks: what is shorter than a few of them is taken from the clock.
const SHORT: Duration = Duration::from_millis(50);

impl Watch {
    fn start() -> Self {
        Self { begun: Instant::now(), ran: ran() }
    }
    fn elapsed(&self) -> Duration {
        let passed = self.begun.elapsed();
        match (self.ran, ran()) {
            (Some(before), Some(now)) if passed > SHORT => now.saturating_sub(before).min(passed),
            _ => passed,
        }
    }
}

/// Time that this thread has had, where the kernel says so.
fn ran() -> Option<Duration> {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    told.split(' ').next()?.parse().ok().map(Duration::from_nanos)
}

/// What came of a station.
struct Grown {
    gates: usize,
    cells: usize,
    /// To make the circuit, and the checker's courses.
    made: [Duration; 2],
    /// By the letter with which a requirement's name begins; `station` for what holds of every station.
    kinds: BTreeMap<String, Times>,
}

fn prove(text: &str) -> Grown {
    let loaded = load(vec![Source { path: "made up".into(), bytes: text.as_bytes().to_vec() }]);
    let told = || {
        loaded
            .findings
            .iter()
            .filter(|found| found.level == Level::Error)
            .map(|found| &found.message)
            .collect::<Vec<_>>()
    };
    let Some(station) = &loaded.station else { panic!("{:#?}", told()) };
    with_model(station, prove_all).expect("a plan")
}

fn prove_all(model: &Model<'_>) -> Grown {
    let station = model.station;
    let start = Watch::start();
    let mut system = System::new(model).expect("a plan");
    let circuit = start.elapsed();
    let (gates, cells) = (system.graph.len(), system.cells.len());
    let mut checker = Checker::new(model);
    let mut kinds: BTreeMap<String, Times> = BTreeMap::new();
    let mut courses = Duration::ZERO;
    for subject in Subject::all(station) {
        let name = subject.name(station);
        let start = Watch::start();
        let proof = match subject {
            Subject::Requirement(requirement) => attempt(model, &mut system, requirement),
            Subject::Standing(standing) => attempt_standing(model, &mut system, standing),
        };
        let searched = start.elapsed();
        let proof = proof.unwrap_or_else(|| panic!("{name} is not proved"));
        // The courses of a depth are made with its first question; that is no part of its answer.
        let start = Watch::start();
        checker.same(&proof.claimed, None).expect("a claim that can be asked about");
        courses += start.elapsed();
        let start = Watch::start();
        let own = own_slice(model, subject);
        let closed = (!proof.whole).then_some(&own);
        checker.check_slice(&proof.claimed, closed).unwrap_or_else(|refused| panic!("{name}: {refused:?}"));
        let kind = if name.starts_with("station") { "station" } else { name.get(..1).unwrap_or_default() };
        kinds.entry(kind.to_owned()).or_default().add(searched, start.elapsed());
    }
    Grown { gates, cells, made: [circuit, courses], kinds }
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1_000.0
}

fn main() {
    chains();
    counters();
}

/// Each kind by itself, as time for one subject; and all of them together, as time for each window.
fn chains() {
    println!("travel windows, four carriers deep (W), beside guards (F), pairs (B), measures (M); times in ms");
    println!(
        "windows    gates  cells  circuit  courses |     kind  of    search    worst     check    worst      each  ratio"
    );
    let mut first: BTreeMap<String, f64> = BTreeMap::new();
    for count in WINDOWS {
        let mut grown = prove(&windows(count));
        let mut all = Times::default();
        for times in grown.kinds.values() {
            all.join(times);
        }
        all.subjects = u32::try_from(count).expect("few");
        grown.kinds.insert("windows".into(), all);
        for (kind, times) in &grown.kinds {
            let each = times.each();
            let before = *first.entry(kind.clone()).or_insert(each);
            let ([search, worst], [check, worst_check]) = (times.searched.map(ms), times.checked.map(ms));
            let [circuit, courses] = grown.made.map(ms);
            println!(
                "{count:7} {:8} {:6} {circuit:8.0} {courses:8.0} | {kind:>8} {:3} {search:9.0} {worst:8.0} {check:9.0} {worst_check:8.0} {:9.1} {:6.2}",
                grown.gates,
                grown.cells,
                times.subjects,
                each * 1_000.0,
                each / before,
            );
        }
    }
}

/// The requirement that rests on the counter, and what holds of every station.
fn counters() {
    println!("\none counter; times in ms");
    println!(
        "{:>15} {:>7} {:>8} | {:>8} {:>8} {:>8} {:>8}",
        "", "scans", "gates", "search", "check", "standing", "ratio"
    );
    for (which, name) in COUNTERS {
        let mut first = None;
        for scans in SCANS {
            let grown = prove(&counter(which, scans));
            let of = |kind: &str| grown.kinds.get(kind).copied().unwrap_or_default();
            let (own, standing) = (of("C"), of("station"));
            let both = own.each() + standing.each() * f64::from(standing.subjects);
            let before = *first.get_or_insert(both);
            println!(
                "{name:>15} {scans:7} {:8} | {:8.1} {:8.1} {:8.1} {:8.2}",
                grown.gates,
                ms(own.searched[0]),
                ms(own.checked[0]),
                ms(standing.searched[0] + standing.checked[0]),
                both / before
            );
        }
    }
}
