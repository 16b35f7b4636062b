//! Proof that skipping changes nothing: a scan that leaves out any blocks whose guards do not hold comes to the same as
//! one that enters every block, from any cells and any inputs.
//!
//! **What is proved.** One scan is recorded in which every block is entered, over a graph of gates, from cells of state and
//! of work and from inputs that are variables, all words with all of their 32 bits. Its operations are numbered. Then for
//! each block that stands behind a guard it is left out in the same scan, and a solver finds no case in which the guard
//! does not hold, and yet
//!
//! 1. a cell is another before the first operation behind the block than it is there when the block was entered, or
//! 2. an operation behind the block is given another operand, or the scan comes to other cells or another verdict.
//!
//! One word is no cell in this: what a travel, measure or spacing judged (`measured`) counts only where it did.
//!
//! **Why one block at a time is enough.** Take any cells, any inputs, and a scan that skips as it likes where guards do not
//! hold. Go through it in order: all along, each operation it does is given the operands that were recorded of it, and
//! cells are as they were there. That is so in the beginning. An operation with the same operands has the same result.
//! At a guard the same bit is asked for. If the block is entered the scan goes on as it was recorded. If
//! not, the guard does not hold, neither here nor in the record; the cells are those of the record at the guard, so that
//! what was proved of this block says (1) that they are those of the record behind it as well. What else is carried on from
//! before a guard are Rust's own variables. They hold what they held in the record, but for what the block hands out: it is
//! the value of the `if`, bound once and never assigned to again, so that every use of it is one in the record, where no
//! block is left out; and there (2) it is worth the same. Blocks within blocks are nothing special: they are left
//! out with the one around them, or are met when that is entered.
//!
//! That a block hands out values in no other way is a rule of the step. A variable that two blocks in turn assign
//! to would break it; [`Scan::without`] takes several blocks as well, so that a suite can leave out many at once.

pub mod machines;
pub mod run;

use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};

use host_tools::prove::frames::{Answer, Frames};
use host_tools::prove::graph::{Graph, Wire};
use logic_rules::cells::{WorkBits, WorkWords};
use logic_rules::step::{Bound, Frame, Inputs, Moved, Reading, Verdict};
use logic_rules::{Gates, Plan, Slices};

use machines::{Block, Counter, Recorder, Stopped, Walker};
use run::{Machine, Run, Value, Word};

/// All cells of a plan.
#[derive(Debug, Clone)]
struct Cells {
    bits: Vec<Wire>,
    words: Vec<Word>,
    work_bits: Vec<Wire>,
    work_words: Vec<Word>,
}

impl Cells {
    /// All of them, in a fixed order.
    fn values(&self) -> Vec<Value> {
        let bits = self.bits.iter().chain(&self.work_bits).map(|bit| Value::Bit(*bit));
        let words = self.words.iter().chain(&self.work_words).map(|word| Value::Word(*word));
        bits.chain(words).collect()
    }
    /// What was judged counts only where something was.
    fn judged(mut self, graph: &mut Graph, plan: &Plan<'_>) -> Self {
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

/// One scan of a plan: from where, with what, and to what end.
struct Task<'p> {
    plan: &'p Plan<'p>,
    before: Cells,
    given: Given,
}

/// What a scan comes to.
struct Came {
    cells: Cells,
    /// None of a scan that was stopped.
    verdict: Vec<Value>,
}

impl<'p> Task<'p> {
    /// Anything may be in any cell and in any input.
    fn anything(graph: &mut Graph, plan: &'p Plan<'p>) -> Self {
        let mut bits = |count: usize| -> Vec<Wire> { (0..count).map(|_| graph.variable()).collect() };
        let mut words = |bits: &mut dyn FnMut(usize) -> Vec<Wire>, count: usize| -> Vec<Word> {
            (0..count).map(|_| Slices::from_bits(&bits(32), Wire::FALSE)).collect()
        };
        let (needs, tables) = (plan.needs(), plan.tables());
        let before = Cells {
            bits: bits(needs.bits),
            words: words(&mut bits, needs.words),
            work_bits: bits(needs.work_bits),
            work_words: words(&mut bits, needs.work_words),
        };
        let gauges = (0..tables.gauges.len()).map(|_| (words(&mut bits, 1)[0], bits(1)[0], bits(1)[0])).collect();
        let sources = (0..tables.head.sources).map(|_| (words(&mut bits, 1)[0], words(&mut bits, 1)[0])).collect();
        let links = (0..tables.links.len()).map(|_| (bits(1)[0], words(&mut bits, 1)[0])).collect();
        let given = Given { channels: bits(usize::from(tables.head.lines)), gauges, sources, links };
        Self { plan, before, given }
    }
    /// The scan, on a machine.
    fn run<M: Machine>(&self, machine: M) -> (M, Came) {
        let (mut cells, mut run) = (self.before.clone(), Run(machine));
        let read = |&(value, good, broken): &(Word, Wire, Wire)| Reading { value, good, broken };
        let (given, moved) = (&self.given, |&(forward, back): &(Word, Word)| Moved { forward, back });
        let gauges: Vec<Reading<Run<M>>> = given.gauges.iter().map(read).collect();
        let sources: Vec<Moved<Run<M>>> = given.sources.iter().map(moved).collect();
        let links: Vec<Frame<Run<M>>> = given.links.iter().map(|&(fresh, order)| Frame { fresh, order }).collect();
        let inputs = Inputs { channels: &given.channels, gauges: &gauges, sources: &sources, links: &links };
        let all = (&mut cells.bits, &mut cells.words, &mut cells.work_bits, &mut cells.work_words);
        let mut bound = Bound::over(self.plan, all.0, all.1, all.2, all.3).expect("room");
        // A stopped scan leaves its cells as they are at that moment, which is what it is stopped for.
        let scanned = catch_unwind(AssertUnwindSafe(|| bound.scan(&mut run, &inputs)));
        let verdict = match scanned {
            Ok(verdict) => {
                let Verdict { answer, permit, reset } = verdict.expect("whole inputs");
                vec![Value::Word(answer), Value::Bit(permit), Value::Bit(reset)]
            }
            Err(why) if why.is::<Stopped>() => Vec::new(),
            Err(why) => resume_unwind(why),
        };
        (run.0, Came { cells, verdict })
    }
}

/// A scan in which every block is entered.
pub struct Scan<'p> {
    task: Task<'p>,
    record: Recorder,
    came: Came,
}

/// What is asked about blocks that are left out.
#[derive(Debug, Clone)]
pub struct Question {
    /// None of their guards holds.
    pub closed: Wire,
    /// Something differs.
    pub differs: Wire,
    /// Ways that are tripped within, for all that can be seen without a solver.
    pub trips: Vec<usize>,
}

impl<'p> Scan<'p> {
    /// Records the scan.
    pub fn new(plan: &'p Plan<'p>) -> Self {
        let mut record = Recorder::default();
        let task = Task::anything(&mut record.circuit.0, plan);
        let (mut record, came) = task.run(record);
        let all = record.done.len();
        for block in &mut record.blocks {
            let (counter, _) = task.run(Counter { count: 0, skip: block.asks });
            // What was not done is the block.
            block.end = block.asks + 1 + (all - counter.count);
        }
        Self { task, record, came }
    }
    /// The blocks, in the order in which they are met.
    pub fn blocks(&self) -> &[Block] {
        &self.record.blocks
    }
    /// Operations of the scan.
    pub fn operations(&self) -> usize {
        self.record.done.len()
    }
    /// The graph.
    pub fn graph(&mut self) -> &mut Graph {
        &mut self.record.circuit.0
    }
    fn walk(&self, skip: &BTreeSet<usize>, stop: usize) -> (Vec<Wire>, Vec<(Value, Value)>, Came) {
        let Recorder { done, blocks, .. } = &self.record;
        let walker = Walker { done, blocks, skip, stop, next: 0, block: 0, skipped: vec![], other: vec![] };
        let (walker, came) = self.task.run(walker);
        (walker.skipped, walker.other, came)
    }
    /// Whether any of the pairs is worth different things.
    fn differ(&mut self, pairs: Vec<(Value, Value)>) -> Wire {
        let mut wires = BTreeSet::new();
        for (one, other) in pairs {
            let (one, other) = (one.bits(), other.bits());
            let bit = |bits: &[Wire], i: usize| bits.get(i).copied().unwrap_or(Wire::FALSE);
            wires.extend((0..one.len().max(other.len())).map(|i| (bit(one, i), bit(other, i))));
        }
        let graph = self.graph();
        wires.into_iter().fold(Wire::FALSE, |any, (one, other)| {
            let differs = graph.xor(one, other);
            graph.or(any, differs)
        })
    }
    /// What is asked about one block: everything that the head of this module says.
    pub fn without(&mut self, number: usize) -> Question {
        let (skip, plan) = (BTreeSet::from([number]), self.task.plan);
        let Block { end, .. } = self.record.blocks[number];
        let mut question = self.without_all(&skip);
        let entered = self.walk(&BTreeSet::new(), end).2.cells;
        let skipped = self.walk(&skip, end).2.cells;
        let trips = |cells: &Cells| -> Vec<Wire> {
            let mut bits = cells.work_bits.clone();
            WorkBits::cut(&mut bits, plan).expect("room").trip.iter().map(|[trip]| *trip).collect()
        };
        let ways = trips(&entered).into_iter().zip(trips(&skipped)).enumerate();
        question.trips = ways.filter(|(_, (one, other))| one != other).map(|(way, _)| way).collect();
        let (entered, skipped) = (entered.judged(self.graph(), plan), skipped.judged(self.graph(), plan));
        let differs = self.differ(entered.values().into_iter().zip(skipped.values()).collect());
        question.differs = self.graph().or(question.differs, differs);
        question
    }
    /// What is asked about several blocks at once: the second of the two things alone.
    pub fn without_all(&mut self, skip: &BTreeSet<usize>) -> Question {
        let plan = self.task.plan;
        let (skipped, mut pairs, came) = self.walk(skip, usize::MAX);
        pairs.extend(self.came.verdict.iter().copied().zip(came.verdict));
        let before = self.came.cells.clone().judged(self.graph(), plan);
        let after = came.cells.judged(self.graph(), plan);
        pairs.extend(before.values().into_iter().zip(after.values()));
        let differs = self.differ(pairs);
        let graph = self.graph();
        let closed = skipped.into_iter().fold(Wire::TRUE, |all, guard| graph.and(all, guard.opposite()));
        Question { closed, differs, trips: Vec::new() }
    }
    /// Is there a case in which all of these hold? For each of several questions.
    pub fn ask(&self, questions: &[Vec<Wire>]) -> Vec<Answer> {
        let mut frames = Frames::free(&self.record.circuit.0);
        let mut answers = Vec::new();
        for question in questions {
            let lits: Vec<_> = question.iter().map(|wire| frames.lit(0, *wire)).collect();
            answers.push(frames.ask(&lits));
        }
        answers
    }
}
