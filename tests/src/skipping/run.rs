//! A reading over the wires of a graph that hands each operation to a machine, which may work it out or merely look.

use std::panic::Location;

use host_tools::prove::graph::Wire;
use logic_rules::{Algebra, Cut, Slices};

/// A word of the circuit.
pub type Word = Slices<Wire>;

/// A bit or a word.
#[derive(Debug, Clone, Copy)]
pub enum Value {
    /// A bit.
    Bit(Wire),
    /// A word.
    Word(Word),
}

impl Value {
    /// Its bits, least first; what a word has beyond them is false.
    pub fn bits(&self) -> &[Wire] {
        match self {
            Self::Bit(bit) => std::slice::from_ref(bit),
            Self::Word(word) => word.bits(),
        }
    }
    /// The bit that it is.
    pub fn bit(&self) -> Wire {
        let Self::Bit(bit) = self else { panic!("a word where a bit was expected") };
        *bit
    }
    /// The word that it is.
    pub fn word(&self) -> Word {
        let Self::Word(word) = self else { panic!("a bit where a word was expected") };
        *word
    }
}

/// An operation. Constants are none: they depend on nothing, and may be asked for anywhere.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Op {
    /// Not.
    Not,
    /// Both.
    And,
    /// Either.
    Or,
    /// Exactly one.
    Xor,
    /// The sum, up to a top.
    Add(u32),
    /// What is left.
    Sub,
    /// How far apart.
    Difference,
    /// At least so much.
    AtLeast(u32),
    /// What a bit is after it was set; operands are when, the old and the new one.
    SetBit,
    /// What a word is after it was set; operands are when, the old and the new one.
    SetWord,
    /// May it hold?
    Possible,
    /// A place where a prover may cut.
    Cut(Cut),
}

/// What works operations out.
pub trait Machine {
    /// The result of an operation.
    fn result(&mut self, op: Op, operands: &[Value]) -> Value;
    /// Is the block entered that this guard stands before?
    fn enters(&mut self, guard: Wire, site: &'static Location<'static>) -> bool;
}

/// The reading.
#[derive(Debug)]
pub struct Run<M>(pub M);

impl<M: Machine> Run<M> {
    fn bits(&mut self, op: Op, operands: &[Wire]) -> Wire {
        let mut values = [Value::Bit(Wire::FALSE); 3];
        for (value, operand) in values.iter_mut().zip(operands) {
            *value = Value::Bit(*operand);
        }
        self.0.result(op, &values[..operands.len()]).bit()
    }
}

impl<M: Machine> Algebra for Run<M> {
    type Bit = Wire;
    type Word = Word;
    fn bit(&mut self, value: bool) -> Wire {
        if value { Wire::TRUE } else { Wire::FALSE }
    }
    fn not(&mut self, a: Wire) -> Wire {
        self.bits(Op::Not, &[a])
    }
    fn and(&mut self, a: Wire, b: Wire) -> Wire {
        self.bits(Op::And, &[a, b])
    }
    fn or(&mut self, a: Wire, b: Wire) -> Wire {
        self.bits(Op::Or, &[a, b])
    }
    fn xor(&mut self, a: Wire, b: Wire) -> Wire {
        self.bits(Op::Xor, &[a, b])
    }
    fn word(&mut self, value: u32) -> Word {
        let bits: Vec<Wire> = (0..u32::BITS - value.leading_zeros()).map(|i| self.bit(value >> i & 1 == 1)).collect();
        Slices::from_bits(&bits, Wire::FALSE)
    }
    fn add(&mut self, a: Word, b: Word, top: u32) -> Word {
        self.0.result(Op::Add(top), &[Value::Word(a), Value::Word(b)]).word()
    }
    fn sub(&mut self, a: Word, b: Word) -> Word {
        self.0.result(Op::Sub, &[Value::Word(a), Value::Word(b)]).word()
    }
    fn difference(&mut self, a: Word, b: Word) -> Word {
        self.0.result(Op::Difference, &[Value::Word(a), Value::Word(b)]).word()
    }
    fn at_least(&mut self, a: Word, limit: u32) -> Wire {
        self.0.result(Op::AtLeast(limit), &[Value::Word(a)]).bit()
    }
    fn set_bit(&mut self, when: Wire, cell: &mut Wire, new: Wire) {
        *cell = self.bits(Op::SetBit, &[when, *cell, new]);
    }
    fn set_word(&mut self, when: Wire, cell: &mut Word, new: Word) {
        *cell = self.0.result(Op::SetWord, &[Value::Bit(when), Value::Word(*cell), Value::Word(new)]).word();
    }
    #[track_caller]
    fn possible(&mut self, a: Wire) -> bool {
        self.0.enters(a, Location::caller())
    }
    fn cut(&mut self, place: Cut, a: Wire) -> Wire {
        self.bits(Op::Cut(place), &[a])
    }
}
