//! A graph of gates: what the step does in one scan, as a formula.
//!
//! Nodes are created once (structural hashing), so that equal formulas are the same node. Exclusive
//! or and selection are nodes of their own, since solvers take them better so; an and-inverter graph
//! for export writes them out.

use logic_rules::{Cut, Gates};
use std::collections::HashMap;

/// A wire: twice its node, plus one where it is inverted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Wire(u32);

impl Wire {
    /// Never.
    pub const FALSE: Self = Self(0);
    /// Always.
    pub const TRUE: Self = Self(1);
    pub(super) fn of(node: usize) -> Self {
        // A graph of 2^31 nodes would need more memory than there is.
        Self(u32::try_from(node).unwrap_or(u32::MAX >> 1) << 1)
    }
    /// Its node.
    pub fn node(self) -> usize {
        usize::try_from(self.0 >> 1).unwrap_or(usize::MAX)
    }
    /// It is inverted.
    pub fn inverted(self) -> bool {
        self.0 & 1 == 1
    }
    /// The opposite.
    #[must_use]
    pub fn opposite(self) -> Self {
        Self(self.0 ^ 1)
    }
    fn not_if(self, inverted: bool) -> Self {
        Self(self.0 ^ u32::from(inverted))
    }
}

/// A node.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Node {
    /// Never.
    False,
    /// A variable: an input, a cell of state, or a cut.
    Variable,
    /// Both.
    And(Wire, Wire),
    /// Exactly one.
    Xor(Wire, Wire),
    /// The second where the first holds, else the third.
    Select(Wire, Wire, Wire),
}

/// The graph.
#[derive(Debug, Clone)]
pub struct Graph {
    nodes: Vec<Node>,
    made: HashMap<Node, usize>,
    /// Each cut: its place, the variable that follows it, and what was cut off.
    pub cuts: Vec<(Cut, Wire, Wire)>,
    cutting: bool,
}

impl Default for Graph {
    fn default() -> Self {
        Self { nodes: vec![Node::False], made: HashMap::new(), cuts: Vec::new(), cutting: false }
    }
}

impl Graph {
    /// Nodes.
    pub fn len(&self) -> usize {
        self.nodes.len()
    }
    /// It has the constant only.
    pub fn is_empty(&self) -> bool {
        self.nodes.len() <= 1
    }
    /// A node; beyond the graph, never.
    pub fn node(&self, at: usize) -> Node {
        self.nodes.get(at).copied().unwrap_or(Node::False)
    }
    /// A new variable.
    pub fn variable(&mut self) -> Wire {
        self.nodes.push(Node::Variable);
        Wire::of(self.nodes.len() - 1)
    }
    fn make(&mut self, node: Node) -> Wire {
        let next = self.nodes.len();
        let at = *self.made.entry(node).or_insert(next);
        if at == next {
            self.nodes.push(node);
        }
        Wire::of(at)
    }
    /// What every node is, given the variables: one word of 64 cases each. Variables that are not given are 0.
    pub fn evaluate(&self, given: &HashMap<usize, u64>) -> Vec<u64> {
        let mut values: Vec<u64> = Vec::with_capacity(self.nodes.len());
        for (i, node) in self.nodes.iter().enumerate() {
            let of = |w: Wire| {
                let value = values.get(w.node()).copied().unwrap_or(0);
                if w.inverted() { !value } else { value }
            };
            let value = match *node {
                Node::False => 0,
                Node::Variable => given.get(&i).copied().unwrap_or(0),
                Node::And(a, b) => of(a) & of(b),
                Node::Xor(a, b) => of(a) ^ of(b),
                Node::Select(c, t, e) => (of(c) & of(t)) | (!of(c) & of(e)),
            };
            values.push(value);
        }
        values
    }
}

impl Gates for Graph {
    type Bit = Wire;
    fn constant(&mut self, value: bool) -> Wire {
        if value { Wire::TRUE } else { Wire::FALSE }
    }
    fn not(&mut self, a: Wire) -> Wire {
        a.opposite()
    }
    fn and(&mut self, a: Wire, b: Wire) -> Wire {
        if a == Wire::FALSE || b == Wire::FALSE || a == b.opposite() {
            return Wire::FALSE;
        }
        if a == Wire::TRUE || a == b {
            return b;
        }
        if b == Wire::TRUE {
            return a;
        }
        self.make(Node::And(a.min(b), a.max(b)))
    }
    fn or(&mut self, a: Wire, b: Wire) -> Wire {
        self.and(a.opposite(), b.opposite()).opposite()
    }
    fn xor(&mut self, a: Wire, b: Wire) -> Wire {
        let inverted = a.inverted() ^ b.inverted();
        let (a, b) = (a.not_if(a.inverted()), b.not_if(b.inverted()));
        if a == b {
            return Wire::FALSE.not_if(inverted);
        }
        if a == Wire::FALSE {
            return b.not_if(inverted);
        }
        if b == Wire::FALSE {
            return a.not_if(inverted);
        }
        self.make(Node::Xor(a.min(b), a.max(b))).not_if(inverted)
    }
    fn mux(&mut self, c: Wire, t: Wire, e: Wire) -> Wire {
        if c.inverted() {
            return self.mux(c.opposite(), e, t);
        }
        if c == Wire::FALSE || t == e {
            return e;
        }
        if t == e.opposite() {
            return self.xor(c, e);
        }
        if t == Wire::FALSE || t == c.opposite() {
            return self.and(c.opposite(), e);
        }
        if t == Wire::TRUE || t == c {
            return self.or(c, e);
        }
        if e == Wire::FALSE || e == c {
            return self.and(c, t);
        }
        if e == Wire::TRUE || e == c.opposite() {
            return self.or(c.opposite(), t);
        }
        let inverted = t.inverted();
        self.make(Node::Select(c, t.not_if(inverted), e.not_if(inverted))).not_if(inverted)
    }
    fn possible(&mut self, a: Wire) -> bool {
        a != Wire::FALSE
    }
    fn cut(&mut self, place: Cut, a: Wire) -> Wire {
        if !self.cutting {
            return a;
        }
        let after = self.variable();
        self.cuts.push((place, after, a));
        after
    }
    fn cutting(&mut self, on: bool) {
        self.cutting = on;
    }
}

/// A reading that works out nothing but how wide words become.
#[derive(Debug, Clone, Copy, Default)]
pub struct Widths;

impl Gates for Widths {
    type Bit = ();
    fn constant(&mut self, _: bool) {}
    fn not(&mut self, (): ()) {}
    fn and(&mut self, (): (), (): ()) {}
    fn or(&mut self, (): (), (): ()) {}
    fn xor(&mut self, (): (), (): ()) {}
    fn mux(&mut self, (): (), (): (), (): ()) {}
    fn possible(&mut self, (): ()) -> bool {
        true
    }
}
