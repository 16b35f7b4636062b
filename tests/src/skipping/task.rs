//! A scan from any cells with any inputs, to be run on any machine.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};

use host_tools::prove::graph::{Graph, Wire};
use logic_rules::cells::{WorkBits, WorkWords};
use logic_rules::step::{Bound, Frame, Inputs, Moved, Reading, Verdict};
use logic_rules::{Gates, Plan, Slices};

use super::machines::Stopped;
use super::run::{Machine, Run, Value, Word};

/// All cells of a plan.
#[derive(Debug, Clone)]
pub struct Cells {
    bits: Vec<Wire>,
    words: Vec<Word>,
    work_bits: Vec<Wire>,
    work_words: Vec<Word>,
}

impl Cells {
    /// All of them, in a fixed order.
    pub fn values(&self) -> Vec<Value> {
        let bits = self.bits.iter().chain(&self.work_bits).map(|bit| Value::Bit(*bit));
        let words = self.words.iter().chain(&self.work_words).map(|word| Value::Word(*word));
        bits.chain(words).collect()
    }
    /// What is in a place of [`values`](Self::values), for people.
    pub fn name(&self, mut place: usize) -> String {
        let all = [
            ("state bit", self.bits.len()),
            ("work bit", self.work_bits.len()),
            ("state word", self.words.len()),
            ("work word", self.work_words.len()),
        ];
        for (what, count) in all {
            if place < count {
                return format!("{what} {place}");
            }
            place -= count;
        }
        "no cell".into()
    }
    /// Which ways trip.
    pub fn trips(&mut self, plan: &Plan<'_>) -> Vec<Wire> {
        WorkBits::cut(&mut self.work_bits, plan).expect("room").trip.as_flattened().to_vec()
    }
    /// The same, but what was judged is 0 where nothing was: it counts only there, and the step never reads it.
    #[must_use]
    pub fn judged(mut self, graph: &mut Graph, plan: &Plan<'_>) -> Self {
        let work = WorkBits::cut(&mut self.work_bits, plan).expect("room");
        let levels = WorkWords::cut(&mut self.work_words, plan).expect("room");
        for ([is], [measured]) in work.judged.iter().zip(levels.measured.iter_mut()) {
            let bits: Vec<Wire> = measured.bits().iter().map(|bit| graph.and(*is, *bit)).collect();
            *measured = Slices::from_bits(&bits, Wire::FALSE);
        }
        self
    }
}

/// Everything read in a scan.
#[derive(Debug)]
struct Given {
    channels: Vec<Wire>,
    gauges: Vec<(Word, Wire, Wire)>,
    sources: Vec<(Word, Word)>,
    links: Vec<(Wire, Word)>,
}

/// From where, and with what.
#[derive(Debug)]
pub struct Task<'p> {
    /// The plan.
    pub plan: &'p Plan<'p>,
    before: Cells,
    given: Given,
}

/// To what end.
#[derive(Debug, Clone)]
pub struct Came {
    /// The cells.
    pub cells: Cells,
    /// What is published; nothing if the scan was stopped.
    pub verdict: Vec<Value>,
}

impl<'p> Task<'p> {
    /// Anything may be in any cell and in any input: every bit is a variable, and every word is 32 of them.
    pub fn anything(graph: &mut Graph, plan: &'p Plan<'p>) -> Self {
        fn bits(graph: &mut Graph, count: usize) -> Vec<Wire> {
            (0..count).map(|_| graph.variable()).collect()
        }
        fn word(graph: &mut Graph) -> Word {
            Slices::from_bits(&bits(graph, 32), Wire::FALSE)
        }
        fn words(graph: &mut Graph, count: usize) -> Vec<Word> {
            (0..count).map(|_| word(graph)).collect()
        }
        let (needs, tables) = (plan.needs(), plan.tables());
        let before = Cells {
            bits: bits(graph, needs.bits),
            words: words(graph, needs.words),
            work_bits: bits(graph, needs.work_bits),
            work_words: words(graph, needs.work_words),
        };
        let channels = bits(graph, usize::from(tables.head.lines));
        let gauges = tables.gauges.iter().map(|_| (word(graph), graph.variable(), graph.variable())).collect();
        let sources = (0..tables.head.sources).map(|_| (word(graph), word(graph))).collect();
        let links = tables.links.iter().map(|_| (graph.variable(), word(graph))).collect();
        Self { plan, before, given: Given { channels, gauges, sources, links } }
    }
    /// The scan, on a machine.
    pub fn run<M: Machine>(&self, machine: M) -> (M, Came) {
        let (mut cells, mut run) = (self.before.clone(), Run(machine));
        let given = &self.given;
        let gauges: Vec<Reading<Run<M>>> =
            given.gauges.iter().map(|&(value, good, broken)| Reading { value, good, broken }).collect();
        let sources: Vec<Moved<Run<M>>> =
            given.sources.iter().map(|&(forward, back)| Moved { forward, back }).collect();
        let links: Vec<Frame<Run<M>>> = given.links.iter().map(|&(fresh, order)| Frame { fresh, order }).collect();
        let inputs = Inputs { channels: &given.channels, gauges: &gauges, sources: &sources, links: &links };
        let Cells { bits, words, work_bits, work_words } = &mut cells;
        let mut bound = Bound::over(self.plan, bits, words, work_bits, work_words).expect("room");
        // A scan that a machine stops leaves the cells as they are at that moment, which is what it is stopped for.
        let verdict = match catch_unwind(AssertUnwindSafe(|| bound.scan(&mut run, &inputs))) {
            Ok(verdict) => {
                let Verdict { answer, permit, reset, trips } = verdict.expect("whole inputs");
                vec![Value::Word(answer), Value::Bit(permit), Value::Bit(reset), Value::Bit(trips)]
            }
            Err(why) if why.is::<Stopped>() => Vec::new(),
            Err(why) => resume_unwind(why),
        };
        (run.0, Came { cells, verdict })
    }
}
