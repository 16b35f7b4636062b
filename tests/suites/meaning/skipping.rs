//! The law of skipping, in states that no history reaches: from any cells whatever, a scan with its
//! shortcuts, one without, and one that takes some of them at random leave the same state and the same results.
#![allow(
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::print_stdout,
    reason = "a test that panics has failed, as it should"
)]

use cross_tests::effort::by_effort;
use std::thread;

use cross_tests::generate::{History, Raw, Rng, ask_after_stops, ask_observed, ask_under_way, case};
use cross_tests::machines::Stepped;
use cross_tests::quiet::{Ties, aimed, held_still};
use cross_tests::reading::Reading;
use cross_tests::sometimes::Sometimes;
use host_tools::lower::lower;
use host_tools::run::lift;
use host_tools::runner::Counts;
use host_tools::sample::Sample;
use logic_rules::step::{Bound, Inputs, power_up};
use logic_rules::{Algebra, Eager, Plain, Plan};

/// All cells of a plan.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Cells {
    bits: Vec<bool>,
    words: Vec<u32>,
    work_bits: Vec<bool>,
    work_words: Vec<u32>,
}

impl Cells {
    /// Cells with anything in them; most bits off and most words small, so that blocks are skipped as well as entered.
    fn any(plan: &Plan<'_>, rng: &mut Rng) -> Self {
        let (needs, often) = (plan.needs(), 1 + rng.below(40));
        let mut bit = |_| rng.below(often) == 0;
        let bits = (0..needs.bits).map(&mut bit).collect();
        let work_bits = (0..needs.work_bits).map(&mut bit).collect();
        let mut word = |_| match rng.below(often + 2) {
            0 => rng.below(1 << 20) as u32,
            1 => rng.below(12) as u32,
            _ => 0,
        };
        let words = (0..needs.words).map(&mut word).collect();
        Self { bits, words, work_bits, work_words: vec![0; needs.work_words] }
    }
    /// Cells at power-up.
    fn power_up(plan: &Plan<'_>) -> Self {
        let needs = plan.needs();
        let (mut bits, mut words) = (vec![false; needs.bits], vec![0; needs.words]);
        power_up(&mut Plain, plan, &mut bits, &mut words).expect("room");
        Self { bits, words, work_bits: vec![false; needs.work_bits], work_words: vec![0; needs.work_words] }
    }
    /// The same but for one to three cells.
    fn disturbed(&self, rng: &mut Rng) -> Self {
        let mut other = self.clone();
        for _ in 0..rng.size(1, 3) {
            if rng.below(2) == 0 {
                let at = rng.index(other.bits.len());
                other.bits[at] ^= true;
            } else {
                let at = rng.index(other.words.len());
                other.words[at] = rng.below(12) as u32;
            }
        }
        other
    }
    /// One scan of a sample, with its shortcuts; without, and with some of them, it must come to the same.
    fn any_way(&mut self, plan: &Plan<'_>, sample: &Sample, rng: &mut Rng) {
        let (mut eager, mut partly) = (self.clone(), self.clone());
        let verdict = self.scan(Plain, plan, sample);
        assert_eq!(verdict, eager.scan(Eager(Plain), plan, sample));
        assert_eq!(*self, eager);
        let percent = rng.below(101);
        assert_eq!(verdict, partly.scan(Sometimes::new(Plain, percent, rng), plan, sample));
        assert_eq!(*self, partly);
    }
    /// One scan; gives the verdict.
    fn scan<A: Algebra<Bit = bool, Word = u32>>(
        &mut self,
        mut a: A,
        plan: &Plan<'_>,
        sample: &Sample,
    ) -> (u32, bool, bool) {
        let (mut channels, mut gauges, mut sources, mut links) = (vec![], vec![], vec![], vec![]);
        lift(&mut a, sample, &mut channels, &mut gauges, &mut sources, &mut links);
        let inputs = Inputs { channels: &channels, gauges: &gauges, sources: &sources, links: &links };
        let mut bound = Bound::over(plan, &mut self.bits, &mut self.words, &mut self.work_bits, &mut self.work_words)
            .expect("room");
        let verdict = bound.scan(&mut a, &inputs).expect("whole inputs");
        // What was judged counts only where something was.
        for ([is], [measured]) in bound.work.judged.iter().zip(bound.levels.measured.iter_mut()) {
            *measured = if *is { *measured } else { 0 };
        }
        (verdict.answer, verdict.permit, verdict.reset)
    }
}

fn stations() -> u64 {
    by_effort([40, 500, 2_000])
}

/// In random cells something always stirs; here nearly everything is quiet, and one cell is not as it should be.
#[test]
fn skipping_changes_nothing_near_a_state_that_is_reached() {
    for seed in 0..stations() {
        let case = case(seed);
        let program = lower(&case.station);
        let plan = program.plan().expect("a generated station is a plan");
        let mut machine = Stepped::<Plain>::power_up(&case.station);
        let (mut history, mut rng, mut told) = (History::new(&case, seed), Rng::new(seed), None);
        let mut cells = Cells::power_up(&plan);
        for _ in 0..400 {
            let sample = history.next_sample(told.as_ref());
            for _ in 0..3 {
                cells.disturbed(&mut rng).any_way(&plan, &sample, &mut rng);
            }
            cells.any_way(&plan, &sample, &mut rng);
            told = Some(machine.scan(&sample));
        }
    }
}

#[test]
fn skipping_changes_nothing_in_any_state() {
    for seed in 0..stations() {
        let case = case(seed);
        let program = lower(&case.station);
        let plan = program.plan().expect("a generated station is a plan");
        let mut noise = Raw::new(&case.station, seed);
        let mut rng = Rng::new(seed);
        for round in 0..200 {
            let mut sample = noise.next_sample();
            if round % 2 == 0 {
                // Most levels are low: now few lines settle.
                sample.channels.fill(false);
            }
            Cells::any(&plan, &mut rng).any_way(&plan, &sample, &mut rng);
        }
    }
}

/// Runs of many stations: scans, those that were not stepped, and what happened right behind skipped ones.
#[derive(Default)]
struct Tally {
    ties: Ties,
    scans: u64,
    skipped: [u64; 2],
}

impl Tally {
    fn take(&mut self, scans: usize, run: impl FnOnce(&mut Ties) -> [Counts; 2]) {
        let counts = run(&mut self.ties);
        self.scans += scans as u64;
        self.skipped = [0, 1].map(|unit: usize| self.skipped[unit] + counts[unit].skipped + counts[unit].traced);
    }
    fn show(&self, what: &str) {
        let Self { ties, scans, skipped } = self;
        println!("{what}: of {scans} scans, {skipped:?} were not stepped; right behind one that was skipped:\n{ties}");
        assert!(
            skipped.iter().all(|skipped| skipped * 10 > *scans),
            "too few scans are skipped to learn anything: {skipped:?}"
        );
    }
}

/// Scans that are not stepped tell what stepping them does, on random stations, whatever runs out in them.
#[test]
fn what_is_not_stepped_is_told_as_if_it_were() {
    let (stations, scans) = by_effort([(12, 1_200), (50, 10_000), (200, 10_000)]);
    let mut all = Tally::default();
    for seed in 0..stations {
        let mut case = case(seed);
        ask_observed(&mut case, seed);
        ask_under_way(&mut case, seed);
        ask_after_stops(&mut case, seed);
        all.take(scans, |ties| held_still(&case, seed, scans, ties));
    }
    all.show("random");
    assert!(all.ties.0.len() > 8, "too little happened behind scans that were skipped");
}

/// Everything that runs out, or meets what does, right behind scans that are skipped.
const TIES: [&str; 47] = [
    "answer changes",
    "arrives as early as it may",
    "arrives as late as it may",
    "arrives one scan too early",
    "arrives one scan too late",
    "broken",
    "bypass begins",
    "bypass ends",
    "contact Chatter",
    "detector Missing",
    "detector Stuck",
    "follows as close as it may",
    "follows as far as it may",
    "follows one scan too close",
    "follows one scan too far",
    "gauge Broken",
    "gauge Doubtful",
    "gauge Leap",
    "link Ordered",
    "link Silent",
    "missed",
    "mode TooFast",
    "modes Changed",
    "modes Unselected",
    "output Contradicted",
    "output goes off",
    "pace OverTop",
    "pace Unsure",
    "pair Differs",
    "permit changes",
    "reset",
    "slow NotSlowed",
    "taken at once",
    "watch agree Tripped",
    "watch confirm Tripped",
    "watch count Below",
    "watch count Over",
    "watch count Wrong",
    "watch exercise Tripped",
    "watch guard Tripped",
    "watch measure Tripped",
    "watch spacing Closer",
    "watch spacing Farther",
    "watch travel Crowded",
    "watch travel Early",
    "watch travel Late",
    "watch travel Stray",
];

/// The same on stations and histories that are made for ties: of each kind there must be many.
#[test]
fn nor_does_it_matter_what_runs_out_behind_them() {
    let (stations, scans, least) = by_effort([(20, 5_000, 1), (300, 10_000, 400), (5_200, 10_000, 10_000)]);
    let half = |first: u64| {
        let mut all = Tally::default();
        for seed in (first..stations).step_by(2) {
            all.take(scans, |ties| aimed(seed, scans, ties));
        }
        all
    };
    let (mut all, other) = thread::scope(|scope| {
        let other = scope.spawn(|| half(1));
        (half(0), other.join().expect("no difference"))
    });
    all.ties.add(&other.ties);
    all.scans += other.scans;
    all.skipped = [0, 1].map(|unit: usize| all.skipped[unit] + other.skipped[unit]);
    all.show("aimed");
    let few: Vec<&str> = TIES.into_iter().filter(|what| all.ties.of(what) < least).collect();
    assert!(few.is_empty(), "fewer than {least} each of {few:?}");
}
