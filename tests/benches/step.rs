//! What one scan of the drive terminal's rules costs, in the plain reading, beside the eager one.
//!
//! `cargo bench -p cross-tests`. The scans are those of a running station with carriers under way,
//! simulated once; binding and sampling are not counted. Absolute times depend on the machine, so
//! the eager reading stands beside: compare the two within one run.
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

const RULES: &str = include_str!("../../host-tools/demo/drive-terminal.rules");
const REQUIREMENTS: &str = include_str!("../../host-tools/demo/drive-terminal.requirements.rules");
const RUNNING: &str = "scenario \"running\"\nlast 2 min\nrope starts at 5.0 m/s\ngauge rope-tension lies at 220 kN\ngauge wind lies at 4 m/s\n";

fn scans<A: Algebra>(c: &mut Criterion, name: &str, mut a: A, plan: &Plan<'_>, samples: &[Sample]) {
    let (needs, no, zero) = (plan.needs(), a.bit(false), a.word(0));
    let (mut bits, mut words) = (vec![no; needs.bits], vec![zero; needs.words]);
    let (mut work_bits, mut work_words) = (vec![no; needs.work_bits], vec![zero; needs.work_words]);
    step::power_up(&mut a, plan, &mut bits, &mut words).expect("as many cells as it needs");
    let mut bound =
        Bound::over(plan, &mut bits, &mut words, &mut work_bits, &mut work_words).expect("as many cells as it needs");
    let lifted: Vec<_> = samples
        .iter()
        .map(|sample| {
            let (mut channels, mut gauges, mut sources, mut links) = (vec![], vec![], vec![], vec![]);
            lift(&mut a, sample, &mut channels, &mut gauges, &mut sources, &mut links);
            (channels, gauges, sources, links)
        })
        .collect();
    for (i, (channels, gauges, sources, links)) in lifted.iter().enumerate() {
        bound.scan(&mut a, &Inputs { channels, gauges, sources, links });
        if i == 200 {
            bound.adopt(&mut a);
        }
    }
    let mut next = lifted.iter().skip(2_000).cycle();
    c.bench_function(name, |b| {
        b.iter(|| {
            let (channels, gauges, sources, links) = next.next().expect("it goes round");
            let verdict = bound.scan(&mut a, &Inputs { channels: black_box(channels), gauges, sources, links });
            black_box(verdict.is_some())
        });
    });
}

fn step_of_the_drive_terminal(c: &mut Criterion) {
    let source = |path: &str, text: &str| Source { path: path.to_owned(), bytes: text.as_bytes().to_vec() };
    let station =
        load(vec![source("drive", RULES), source("requirements", REQUIREMENTS)]).station.expect("the demo is sound");
    let program = lower(&station);
    let plan = program.plan().expect("the demo is a plan");
    let scenario = Scenario::read(RUNNING, &station).expect("the scenario is sound");
    let samples: Vec<Sample> = Simulator::new(&station, &scenario, 1).run().map(|scan| scan.sample).collect();
    scans(c, "drive terminal, plain", Plain, &plan, &samples);
    scans(c, "drive terminal, eager", Eager(Plain), &plan, &samples);
    scans(c, "drive terminal, inverted", Inverted, &plan, &samples);
}

criterion_group!(benches, step_of_the_drive_terminal);
criterion_main!(benches);
