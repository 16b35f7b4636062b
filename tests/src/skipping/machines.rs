//! Three machines that a scan is run on: one records, one counts, one goes along a recorded scan and leaves blocks out.

use std::collections::BTreeSet;
use std::panic::{Location, resume_unwind};

use host_tools::prove::graph::{Graph, Wire};
use logic_rules::{Algebra, Sliced, Slices};

use super::run::{Machine, Op, Value};

/// An operation that was done.
#[derive(Debug)]
pub struct Done {
    op: Op,
    operands: Vec<Value>,
    result: Value,
}

/// A block that stands behind a guard.
#[derive(Debug, Clone, Copy)]
pub struct Block {
    /// Where the step asks.
    pub site: &'static Location<'static>,
    /// What it asks for.
    pub guard: Wire,
    /// Number of the operation that asks.
    pub asks: usize,
    /// Number of the first operation behind the block.
    pub end: usize,
}

/// Enters every block, works everything out, and writes down what it did.
#[derive(Debug, Default)]
pub struct Recorder {
    /// The gates.
    pub circuit: Sliced<Graph>,
    /// What was done.
    pub done: Vec<Done>,
    /// The blocks, in the order in which they were asked for. Where they end is not known yet.
    pub blocks: Vec<Block>,
}

impl Machine for Recorder {
    fn result(&mut self, op: Op, operands: &[Value]) -> Value {
        let a = &mut self.circuit;
        let result = match (op, operands) {
            (Op::Not, [x]) => Value::Bit(a.not(x.bit())),
            (Op::And, [x, y]) => Value::Bit(a.and(x.bit(), y.bit())),
            (Op::Or, [x, y]) => Value::Bit(a.or(x.bit(), y.bit())),
            (Op::Xor, [x, y]) => Value::Bit(a.xor(x.bit(), y.bit())),
            (Op::Add(top), [x, y]) => Value::Word(a.add(x.word(), y.word(), top)),
            (Op::Sub, [x, y]) => Value::Word(a.sub(x.word(), y.word())),
            (Op::Difference, [x, y]) => Value::Word(a.difference(x.word(), y.word())),
            (Op::AtLeast(limit), [x]) => Value::Bit(a.at_least(x.word(), limit)),
            (Op::SetBit, [when, old, new]) => {
                let mut cell = old.bit();
                a.set_bit(when.bit(), &mut cell, new.bit());
                Value::Bit(cell)
            }
            (Op::SetWord, [when, old, new]) => {
                let mut cell = old.word();
                a.set_word(when.bit(), &mut cell, new.word());
                Value::Word(cell)
            }
            (Op::Possible | Op::Cut(_), [x]) => *x,
            _ => panic!("{op:?} of {} operands", operands.len()),
        };
        self.done.push(Done { op, operands: operands.to_vec(), result });
        result
    }
    fn enters(&mut self, guard: Wire, site: &'static Location<'static>) -> bool {
        let asks = self.done.len();
        self.blocks.push(Block { site, guard, asks, end: asks });
        self.result(Op::Possible, &[Value::Bit(guard)]);
        true
    }
}

/// Counts operations, with one block left out.
#[derive(Debug)]
pub struct Counter {
    /// So many were done.
    pub count: usize,
    /// The operation that asks for the block.
    pub skip: usize,
}

impl Machine for Counter {
    fn result(&mut self, op: Op, _: &[Value]) -> Value {
        self.count += 1;
        match op {
            Op::Add(_) | Op::Sub | Op::Difference | Op::SetWord => Value::Word(Slices::from_bits(&[], Wire::FALSE)),
            _ => Value::Bit(Wire::FALSE),
        }
    }
    fn enters(&mut self, _: Wire, _: &'static Location<'static>) -> bool {
        self.count += 1;
        self.count != self.skip + 1
    }
}

/// What a walk is ended with before its scan is.
#[derive(Debug)]
pub struct Stopped;

/// What a walk comes upon.
#[derive(Debug, Default)]
pub struct Noted {
    /// Guards of the blocks that were left out.
    pub skipped: Vec<Wire>,
    /// An operation, its recorded operand, and what it was given instead.
    pub other: Vec<(Op, Value, Value)>,
}

/// Goes along a recorded scan, leaves blocks out, and notes where an operation behind them is given something else than
/// was recorded. Each operation comes to what was recorded of it: that the operands are worth the same is what is asked
/// of the notes afterwards.
#[derive(Debug)]
pub struct Walker<'r> {
    /// The recorded scan.
    pub done: &'r [Done],
    /// Its blocks.
    pub blocks: &'r [Block],
    /// Numbers of blocks to be left out.
    pub skip: &'r BTreeSet<usize>,
    /// Stops before this operation.
    pub stop: usize,
    /// The next operation.
    pub next: usize,
    /// The next block.
    pub block: usize,
    /// What it came upon.
    pub noted: Noted,
}

impl Machine for Walker<'_> {
    fn result(&mut self, op: Op, operands: &[Value]) -> Value {
        if self.next == self.stop {
            resume_unwind(Box::new(Stopped));
        }
        let done = &self.done[self.next];
        assert_eq!(done.op, op, "what comes behind a block depends on whether it was entered");
        self.next += 1;
        // Up to the first block that is left out everything is as it was recorded.
        if !self.noted.skipped.is_empty() {
            for (recorded, given) in done.operands.iter().zip(operands) {
                if recorded.bits() != given.bits() {
                    self.noted.other.push((op, *recorded, *given));
                }
            }
        }
        done.result
    }
    fn enters(&mut self, guard: Wire, _: &'static Location<'static>) -> bool {
        let asks = self.next;
        self.result(Op::Possible, &[Value::Bit(guard)]);
        let number = self.block;
        let block = self.blocks[number];
        assert_eq!(block.asks, asks, "a block has another place");
        if !self.skip.contains(&number) {
            self.block += 1;
            return true;
        }
        self.next = block.end;
        while self.blocks.get(self.block).is_some_and(|inner| inner.asks < block.end) {
            self.block += 1;
        }
        self.noted.skipped.push(block.guard);
        false
    }
}
