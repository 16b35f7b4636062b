//! Proof that skipping changes nothing: a scan that leaves out any blocks whose guards do not hold comes to the same as
//! one that enters every block, from any cells and with any inputs.
//!
//! **What is proved.** One scan in which every block is entered is recorded over a graph of gates, from cells of state and
//! of work and from inputs that are variables, all words with all of their 32 bits. Its operations are numbered. Then each
//! block that stands behind a guard is left out of it, and a solver finds no case in which the guard does not hold, and yet
//!
//! 1. some cell is another, before the first operation behind the block, than it is there when the block was entered, or
//! 2. some operation behind the block is given another operand, or the scan comes to other cells or another verdict.
//!
//! One word is no cell in this: what a travel, measure or spacing judged (`measured`) counts only where it did.
//!
//! **Why one block at a time is enough.** Take any cells, any inputs, and a scan that skips as it likes where guards do
//! not hold. All along, each operation that it does is given the operands that were recorded of it, and the cells are what
//! they were there. It begins so, and the same operation on the same operands comes to the same; nor can the step branch
//! on a bit but by asking whether it is possible. At a guard the same bit is asked for. If the block is entered the scan goes
//! on as it was recorded. If not, its guard does not hold, here or in the record; and since the cells are those of the
//! record before the block, they are those of the record behind it (1). What else is carried past a block are Rust's own
//! variables. They hold what they held in the record, but for what the block hands out. That is the value of its `if`, bound
//! once, and used in operations and in the verdict: whatever other blocks are left out, each use of it is one of the record,
//! and there it is worth the same (2). Blocks within a block are left out with it, or met when it is entered.
//!
//! That a block hands out values in no other way is a rule of the step. A variable, or a cell that such a value is merely
//! moved to, which one block after another assigns to would break it; so [`Scan::without_all`] leaves out many blocks at
//! once, and asks (2) of them.
//!
//! What holds over the circuit holds in every reading, since their operations agree (`tests/suites/meaning/algebra.rs`).

pub mod machines;
pub mod run;
pub mod task;

use std::collections::BTreeSet;

use host_tools::prove::frames::{Answer, Frames};
use host_tools::prove::graph::{Node, Wire};
use logic_rules::{Gates, Plan};

use machines::{Block, Counter, Noted, Recorder, Walker};
use run::{Op, Value};
use task::{Came, Task};

/// A scan in which every block is entered.
#[derive(Debug)]
pub struct Scan<'p> {
    task: Task<'p>,
    record: Recorder,
    came: Came,
}

/// Where two scans may differ.
#[derive(Debug, Clone, Copy)]
enum Place {
    /// What an operation is given.
    Operand(Op),
    /// A cell right behind the block.
    Behind(usize),
    /// A cell in the end.
    Cell(usize),
    /// What the scan publishes.
    Verdict,
}

/// What is asked about blocks that are left out.
#[derive(Debug, Clone)]
pub struct Question {
    /// None of their guards holds.
    pub closed: Wire,
    /// Something differs.
    pub differs: Wire,
    /// Ways that may trip within, as far as can be seen without a solver.
    pub trips: Vec<usize>,
    pairs: Vec<(Place, Value, Value)>,
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
    /// The two bits of which a guard is either; none if it is put together otherwise.
    pub fn parts(&self, guard: Wire) -> Vec<Wire> {
        match self.record.circuit.0.node(guard.node()) {
            Node::And(x, y) if guard.inverted() => vec![x.opposite(), y.opposite()],
            _ => Vec::new(),
        }
    }
    /// What is asked about one block: all that the head of this file says.
    pub fn without(&mut self, number: usize) -> Question {
        let (skip, plan) = (BTreeSet::from([number]), self.task.plan);
        let end = self.record.blocks[number].end;
        let (guards, mut pairs) = self.flows(&skip);
        let (mut entered, mut skipped) = (self.walk(&BTreeSet::new(), end).1.cells, self.walk(&skip, end).1.cells);
        let ways = entered.trips(plan).into_iter().zip(skipped.trips(plan)).enumerate();
        let trips = ways.filter(|(_, (one, other))| one != other).map(|(way, _)| way).collect();
        let graph = &mut self.record.circuit.0;
        let (entered, skipped) = (entered.judged(graph, plan), skipped.judged(graph, plan));
        let cells = entered.values().into_iter().zip(skipped.values()).enumerate();
        pairs.extend(cells.map(|(i, (one, other))| (Place::Behind(i), one, other)));
        self.question(&guards, pairs, trips)
    }
    /// What is asked about several blocks at once: the second of the two things alone.
    pub fn without_all(&mut self, skip: &BTreeSet<usize>) -> Question {
        let (guards, pairs) = self.flows(skip);
        self.question(&guards, pairs, Vec::new())
    }
    /// A case in which all of these hold: what differs in it.
    ///
    /// # Errors
    /// There is none, or the solver gave up.
    pub fn case(&self, question: &Question, all: &[Wire]) -> Result<Vec<String>, Answer> {
        let mut frames = Frames::free(&self.record.circuit.0);
        let lits: Vec<_> = all.iter().map(|wire| frames.lit(0, *wire)).collect();
        let answer = frames.ask(&lits);
        if answer != Answer::Found {
            return Err(answer);
        }
        let number = |value: &Value| {
            let bits = value.bits().iter().enumerate();
            bits.map(|(i, bit)| u64::from(frames.value(0, *bit) == Some(true)) << i).sum::<u64>()
        };
        let differing = question.pairs.iter().filter(|(_, one, other)| number(one) != number(other));
        let cells = &self.came.cells;
        let told = differing.map(|(place, entered, skipped)| {
            let what = match place {
                Place::Operand(op) => format!("operand of {op:?}"),
                Place::Behind(cell) => format!("{} behind the block", cells.name(*cell)),
                Place::Cell(cell) => cells.name(*cell),
                Place::Verdict => "verdict".into(),
            };
            format!("{what}: {} when entered, {} when skipped", number(entered), number(skipped))
        });
        Ok(told.collect())
    }
    /// Goes along the record with blocks left out.
    fn walk(&self, skip: &BTreeSet<usize>, stop: usize) -> (Noted, Came) {
        let Recorder { done, blocks, .. } = &self.record;
        let walker = Walker { done, blocks, skip, stop, next: 0, block: 0, noted: Noted::default() };
        let (walker, came) = self.task.run(walker);
        (walker.noted, came)
    }
    /// Guards of the blocks that are left out, and what of the scan may then differ.
    fn flows(&mut self, skip: &BTreeSet<usize>) -> (Vec<Wire>, Vec<(Place, Value, Value)>) {
        let (noted, came) = self.walk(skip, usize::MAX);
        let (plan, graph) = (self.task.plan, &mut self.record.circuit.0);
        let operands = noted.other.into_iter().map(|(op, one, other)| (Place::Operand(op), one, other));
        let verdicts = self.came.verdict.iter().zip(came.verdict).map(|(one, other)| (Place::Verdict, *one, other));
        let (entered, skipped) = (self.came.cells.clone().judged(graph, plan), came.cells.judged(graph, plan));
        let cells = entered.values().into_iter().zip(skipped.values()).enumerate();
        let cells = cells.map(|(i, (one, other))| (Place::Cell(i), one, other));
        (noted.skipped, operands.chain(verdicts).chain(cells).collect())
    }
    fn question(&mut self, guards: &[Wire], pairs: Vec<(Place, Value, Value)>, trips: Vec<usize>) -> Question {
        let graph = &mut self.record.circuit.0;
        let mut wires = BTreeSet::new();
        for (_, one, other) in &pairs {
            let (one, other) = (one.bits(), other.bits());
            let bit = |bits: &[Wire], i: usize| bits.get(i).copied().unwrap_or(Wire::FALSE);
            wires.extend((0..one.len().max(other.len())).map(|i| (bit(one, i), bit(other, i))));
        }
        let mut differs = Wire::FALSE;
        for (one, other) in wires {
            let differ = graph.xor(one, other);
            differs = graph.or(differs, differ);
        }
        let closed = guards.iter().fold(Wire::TRUE, |all, guard| graph.and(all, guard.opposite()));
        Question { closed, differs, trips, pairs }
    }
}
