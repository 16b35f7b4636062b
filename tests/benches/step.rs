//! What one scan of the drive terminal's rules costs: in the plain reading, beside the inverted and the eager one.
//!
//! `cargo bench -p cross-tests --bench step`. The scans are those of a running station with carriers under way,
//! simulated once; binding and sampling are not counted. *Running*, no stop stands; *stopped*, one is latched
//! from a break in the recording on, while everything goes on moving. Absolute times depend on the machine:
//! compare readings within one run.
#![allow(missing_docs, clippy::expect_used, reason = "a benchmark of the workspace's own")]

use criterion::{Criterion, criterion_group, criterion_main};
use host_tools::load::load;
use host_tools::lower::lower;
use host_tools::run::lift;
use host_tools::sample::Sample;
use host_tools::simulate::{Scenario, Simulator};
use host_tools::text::parse::Source;
use logic_rules::step::{self, Bound, Inputs};
use logic_rules::{Algebra, Eager, Inverted, Plain, Plan};
use std::hint::black_box;
use std::time::{Duration, Instant};

const RULES: &str = include_str!("../../host-tools/demo/drive-terminal.rules");
const REQUIREMENTS: &str = include_str!("../../host-tools/demo/drive-terminal.requirements.rules");
const RUNNING: &str = "scenario \"running\"\nlast 2 min\nrope starts at 5.0 m/s\ngauge rope-tension lies at 220 kN\ngauge wind lies at 4 m/s\n";

/// Scans after which the station runs evenly, and judging begins.
const ADOPTED: usize = 200;
/// Scans after which carriers are everywhere.
const FILLED: usize = 2_000;

fn bind<'s, 'p, A: Algebra>(
    plan: &'p Plan<'p>,
    bits: &'s mut [A::Bit],
    words: &'s mut [A::Word],
    work_bits: &'s mut [A::Bit],
    work_words: &'s mut [A::Word],
) -> Bound<'s, 'p, A> {
    Bound::over(plan, bits, words, work_bits, work_words).expect("as many cells as it needs")
}

fn scans<A: Algebra>(c: &mut Criterion, name: &str, mut a: A, plan: &Plan<'_>, samples: &[Sample]) {
    let (needs, no, zero) = (plan.needs(), a.bit(false), a.word(0));
    let (mut bits, mut words) = (vec![no; needs.bits], vec![zero; needs.words]);
    let (mut work_bits, mut work_words) = (vec![no; needs.work_bits], vec![zero; needs.work_words]);
    step::power_up(&mut a, plan, &mut bits, &mut words).expect("as many cells as it needs");
    let lifted: Vec<_> = samples
        .iter()
        .map(|sample| {
            let (mut channels, mut gauges, mut sources, mut links) = (vec![], vec![], vec![], vec![]);
            lift(&mut a, sample, &mut channels, &mut gauges, &mut sources, &mut links);
            (channels, gauges, sources, links)
        })
        .collect();
    let inputs: Vec<Inputs<'_, A>> =
        lifted.iter().map(|(channels, gauges, sources, links)| Inputs { channels, gauges, sources, links }).collect();
    let (before, steady) = inputs.split_at(FILLED);
    let mut bound = bind::<A>(plan, &mut bits, &mut words, &mut work_bits, &mut work_words);
    for (i, inputs) in before.iter().enumerate() {
        bound.scan(&mut a, inputs);
        if i == ADOPTED {
            bound.adopt(&mut a);
        }
    }
    for stopped in [false, true] {
        let (mut start_bits, mut start_words) = (bits.clone(), words.clone());
        if stopped {
            let mut bound = bind::<A>(plan, &mut start_bits, &mut start_words, &mut work_bits, &mut work_words);
            for inputs in steady.iter().chain(steady) {
                bound.scan(&mut a, inputs);
            }
        }
        let name = format!("drive terminal, {}, {name}", if stopped { "stopped" } else { "running" });
        c.bench_function(&name, |b| {
            b.iter_custom(|scans| {
                let mut took = Duration::ZERO;
                let mut left = usize::try_from(scans).expect("a number of scans");
                while left > 0 {
                    let (mut bits, mut words) = (start_bits.clone(), start_words.clone());
                    let mut bound = bind::<A>(plan, &mut bits, &mut words, &mut work_bits, &mut work_words);
                    let these = steady.get(..left).unwrap_or(steady);
                    left -= these.len();
                    let start = Instant::now();
                    for inputs in these {
                        black_box(bound.scan(&mut a, black_box(inputs)).is_some());
                    }
                    took += start.elapsed();
                }
                took
            });
        });
    }
}

fn step_of_the_drive_terminal(c: &mut Criterion) {
    let source = |path: &str, text: &str| Source { path: path.to_owned(), bytes: text.as_bytes().to_vec() };
    let station =
        load(vec![source("drive", RULES), source("requirements", REQUIREMENTS)]).station.expect("the demo is sound");
    let program = lower(&station);
    let plan = program.plan().expect("the demo is a plan");
    let scenario = Scenario::read(RUNNING, &station).expect("the scenario is sound");
    let samples: Vec<Sample> = Simulator::new(&station, &scenario, 1).run().map(|scan| scan.sample).collect();
    scans(c, "plain", Plain, &plan, &samples);
    scans(c, "eager", Eager(Plain), &plan, &samples);
    scans(c, "inverted", Inverted, &plan, &samples);
}

criterion_group!(benches, step_of_the_drive_terminal);
criterion_main!(benches);
