//! Circuits as and-inverter graphs in the AIGER format, version 1.9, for model checkers of hardware.
//!
//! A literal is twice its variable, plus one where it is inverted; literal 0 never holds, 1 always.
//! The text form may have its gates in any order, the binary form numbers inputs, latches and gates in
//! a row, and a gate is made of smaller literals alone.

use super::{Role, Roles};
use crate::prove::circuit::System;
use crate::prove::graph::{Node, Wire};
use std::collections::HashMap;

mod read;
mod write;

pub use read::{Fault, read};

/// A latch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Latch {
    /// Its literal.
    pub lit: u32,
    /// What it is in the next step.
    pub next: u32,
    /// What it begins with: 0, 1, or its own literal where nothing is said of that.
    pub reset: u32,
}

/// A gate: both hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct And {
    /// Its literal.
    pub lit: u32,
    /// What it is made of.
    pub of: [u32; 2],
}

/// What a symbol names.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// An input.
    Input,
    /// A latch.
    Latch,
    /// An output.
    Output,
    /// A bad state.
    Bad,
    /// A constraint.
    Constraint,
    /// A justice property.
    Justice,
    /// A fairness constraint.
    Fairness,
}

/// A symbol.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Symbol {
    /// What it names.
    pub kind: Kind,
    /// Its place among those.
    pub at: usize,
    /// The name.
    pub name: String,
}

/// An and-inverter graph.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Aig {
    /// Largest variable.
    pub most: u32,
    /// Literals of the inputs.
    pub inputs: Vec<u32>,
    /// Latches.
    pub latches: Vec<Latch>,
    /// Outputs.
    pub outputs: Vec<u32>,
    /// Bad states.
    pub bad: Vec<u32>,
    /// What holds in every step up to a bad state, and in that.
    pub constraints: Vec<u32>,
    /// Justice properties.
    pub justice: Vec<Vec<u32>>,
    /// Fairness constraints.
    pub fairness: Vec<u32>,
    /// Gates.
    pub ands: Vec<And>,
    /// Symbols.
    pub symbols: Vec<Symbol>,
    /// Lines of the comment, if there is one.
    pub comment: Option<Vec<String>>,
}

impl Aig {
    /// The cone of one bad wire of a system under what is given in every scan.
    pub fn of(system: &System, roles: &Roles, bad: (&str, Wire), given: &[(String, Wire)]) -> Self {
        let roots: Vec<Wire> = given.iter().map(|&(_, wire)| wire).chain([bad.1]).collect();
        let needed = cone(system, roles, &roots);
        let needed = |node: &usize| needed.get(*node) == Some(&true);
        let mut build = Build { aig: Self::default(), lits: HashMap::new(), made: HashMap::new() };
        let variables = || (0..system.graph.len()).filter(needed).filter(|&n| system.graph.node(n) == Node::Variable);
        let name = |build: &mut Build, node: usize, kind: Kind, at: usize| {
            let lit = build.fresh();
            build.lits.insert(node, lit);
            let name = roles.name(node).unwrap_or_default().to_owned();
            build.aig.symbols.push(Symbol { kind, at, name });
            lit
        };
        for node in variables().filter(|&node| roles.role(node) == Role::Free) {
            let at = build.aig.inputs.len();
            let lit = name(&mut build, node, Kind::Input, at);
            build.aig.inputs.push(lit);
        }
        let mut nexts = Vec::new();
        for node in variables() {
            if let Role::Cell(next, first) = roles.role(node) {
                let at = build.aig.latches.len();
                let lit = name(&mut build, node, Kind::Latch, at);
                build.aig.latches.push(Latch { lit, next: 0, reset: u32::from(first) });
                nexts.push(next);
            }
        }
        for node in (0..system.graph.len()).filter(needed) {
            build.gate(system, roles, node);
        }
        for (i, next) in nexts.into_iter().enumerate() {
            let next = build.lit(roles, next);
            if let Some(latch) = build.aig.latches.get_mut(i) {
                latch.next = next;
            }
        }
        let lit = build.lit(roles, bad.1);
        build.aig.bad.push(lit);
        build.aig.symbols.push(Symbol { kind: Kind::Bad, at: 0, name: bad.0.to_owned() });
        for (at, (name, wire)) in given.iter().enumerate() {
            let lit = build.lit(roles, *wire);
            build.aig.constraints.push(lit);
            build.aig.symbols.push(Symbol { kind: Kind::Constraint, at, name: name.clone() });
        }
        build.aig
    }
    /// The gates in an order in which each comes after what it is made of; `None` if there is none.
    pub fn order(&self) -> Option<Vec<And>> {
        let gates: HashMap<u32, &And> = self.ands.iter().map(|and| (and.lit / 2, and)).collect();
        // A gate is there once it was begun, and true once it is done.
        let mut done: HashMap<u32, bool> = HashMap::new();
        let mut out = Vec::with_capacity(self.ands.len());
        for and in &self.ands {
            let mut stack = vec![and.lit / 2];
            while let Some(&variable) = stack.last() {
                let Some(gate) = gates.get(&variable).filter(|_| done.get(&variable) != Some(&true)) else {
                    stack.pop();
                    continue;
                };
                let open = gate.of.map(|lit| lit / 2).into_iter();
                let open: Vec<u32> = open.filter(|v| gates.contains_key(v) && done.get(v) != Some(&true)).collect();
                if open.is_empty() {
                    stack.pop();
                    done.insert(variable, true);
                    out.push(**gate);
                } else if done.insert(variable, false).is_some() {
                    // It was begun before, and what it is made of is still not done.
                    return None;
                } else {
                    stack.extend(open);
                }
            }
        }
        Some(out)
    }
    /// One step in 64 cases at once: what each literal is, given the state and the inputs in their order.
    pub fn values(&self, order: &[And], state: &[u64], inputs: &[u64]) -> Values {
        let mut values = Values::default();
        let latches = self.latches.iter().map(|latch| latch.lit).zip(state);
        for (lit, value) in self.inputs.iter().copied().zip(inputs).chain(latches) {
            values.set(lit, *value);
        }
        for and in order {
            let [one, other] = and.of.map(|lit| values.get(lit));
            values.set(and.lit, one & other);
        }
        values
    }
    /// The state that it begins with; where nothing is said of that, 0.
    pub fn first(&self) -> Vec<u64> {
        self.latches.iter().map(|latch| if latch.reset == 1 { u64::MAX } else { 0 }).collect()
    }
    /// The state of the next step.
    pub fn next(&self, values: &Values) -> Vec<u64> {
        self.latches.iter().map(|latch| values.get(latch.next)).collect()
    }
}

/// What the variables are in a step, 64 cases each.
#[derive(Debug, Clone, Default)]
pub struct Values(Vec<u64>);

impl Values {
    fn set(&mut self, lit: u32, value: u64) {
        let at = usize::try_from(lit / 2).unwrap_or(usize::MAX);
        if self.0.len() <= at {
            self.0.resize(at.saturating_add(1), 0);
        }
        if let Some(place) = self.0.get_mut(at) {
            *place = if lit % 2 == 1 { !value } else { value };
        }
    }
    /// What a literal is; of a variable that is not there, 0.
    pub fn get(&self, lit: u32) -> u64 {
        let value = usize::try_from(lit / 2).ok().and_then(|at| self.0.get(at)).copied().unwrap_or(0);
        if lit % 2 == 1 { !value } else { value }
    }
}

/// Which nodes some wires need, in any step.
fn cone(system: &System, roles: &Roles, roots: &[Wire]) -> Vec<bool> {
    let mut needed = vec![false; system.graph.len()];
    let mut stack: Vec<usize> = roots.iter().map(|&wire| roles.through(wire).node()).collect();
    while let Some(node) = stack.pop() {
        let Some(place) = needed.get_mut(node).filter(|place| !**place) else { continue };
        *place = true;
        stack.extend(roles.parts(system, node).into_iter().map(Wire::node));
        if let (Node::Variable, Role::Cell(next, _)) = (system.graph.node(node), roles.role(node)) {
            stack.push(roles.through(next).node());
        }
    }
    needed
}

struct Build {
    aig: Aig,
    /// Literals of nodes.
    lits: HashMap<usize, u32>,
    made: HashMap<[u32; 2], u32>,
}

impl Build {
    fn fresh(&mut self) -> u32 {
        self.aig.most += 1;
        self.aig.most * 2
    }
    fn lit(&self, roles: &Roles, wire: Wire) -> u32 {
        let wire = roles.through(wire);
        self.lits.get(&wire.node()).copied().unwrap_or(0) ^ u32::from(wire.inverted())
    }
    fn and(&mut self, a: u32, b: u32) -> u32 {
        let (less, more) = (a.min(b), a.max(b));
        if less == 0 || less ^ 1 == more {
            return 0;
        }
        if less == 1 || less == more {
            return more;
        }
        if let Some(&lit) = self.made.get(&[more, less]) {
            return lit;
        }
        let lit = self.fresh();
        self.made.insert([more, less], lit);
        self.aig.ands.push(And { lit, of: [more, less] });
        lit
    }
    /// `t` where `c` holds, else `e`.
    fn select(&mut self, c: u32, t: u32, e: u32) -> u32 {
        let (one, other) = (self.and(c, t), self.and(c ^ 1, e));
        self.and(one ^ 1, other ^ 1) ^ 1
    }
    fn gate(&mut self, system: &System, roles: &Roles, node: usize) {
        let parts: Vec<u32> = roles.parts(system, node).into_iter().map(|wire| self.lit(roles, wire)).collect();
        let lit = match (system.graph.node(node), parts.as_slice()) {
            (Node::And(..), &[a, b]) => self.and(a, b),
            (Node::Xor(..), &[a, b]) => self.select(a, b ^ 1, b),
            (Node::Select(..), &[c, t, e]) => self.select(c, t, e),
            _ => return,
        };
        self.lits.insert(node, lit);
    }
}
