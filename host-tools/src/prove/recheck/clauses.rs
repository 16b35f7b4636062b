//! The checker's gates, and the clauses of those that a question reaches.

use super::Refused;
use logic_rules::{Cut, Gates};
use std::collections::BTreeSet;
use varisat::{ExtendFormula, Lit, Solver, Var};

/// A truth value: known, or a literal of the solver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Truth {
    /// Known.
    Known(bool),
    /// To be found.
    Open(Lit),
}

/// What defines a literal.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Gate {
    Free,
    And(Truth, Truth),
    Xor(Truth, Truth),
    Mux(Truth, Truth, Truth),
    /// The same, but anything where the cut is open.
    Same(Truth, Cut),
}

/// Gates by the variable that stands for them; clauses are written for those that a question reaches.
#[derive(Default)]
pub struct Clauses {
    cutting: bool,
    pub(super) gates: Vec<Gate>,
}

impl Clauses {
    pub(crate) fn make(&mut self, gate: Gate) -> Truth {
        let var = Var::from_index(self.gates.len());
        self.gates.push(gate);
        Truth::Open(var.positive())
    }
}

/// Cuts that are closed: all, or these. An open one says nothing of what it cut off, so that a question without an answer
/// has none with it closed.
pub type Closed<'c> = Option<&'c BTreeSet<Cut>>;

/// Whether a cut is closed.
pub(super) fn is_closed(closed: Closed<'_>, cut: Cut) -> bool {
    closed.is_none_or(|these| these.contains(&cut))
}

/// A solver that knows the gates that its questions reach.
pub(crate) struct Asked<'c> {
    closed: Closed<'c>,
    solver: Solver<'static>,
    known: Vec<bool>,
}

impl<'c> Asked<'c> {
    pub(crate) fn new(closed: Closed<'c>) -> Self {
        Self { closed, solver: Solver::new(), known: Vec::new() }
    }
    fn clause(&mut self, lits: &[Truth]) {
        if lits.contains(&Truth::Known(true)) {
            return;
        }
        let open: Vec<Lit> =
            lits.iter().filter_map(|truth| if let Truth::Open(lit) = truth { Some(*lit) } else { None }).collect();
        self.solver.add_clause(&open);
    }
    /// Writes the clauses of everything that a truth rests on.
    fn reach(&mut self, clauses: &Clauses, truth: Truth) {
        self.known.resize(clauses.gates.len().max(self.known.len()), false);
        let mut stack = vec![truth];
        while let Some(truth) = stack.pop() {
            let Truth::Open(lit) = truth else { continue };
            let index = lit.var().index();
            let Some(known) = self.known.get_mut(index) else { continue };
            if std::mem::replace(known, true) {
                continue;
            }
            let out = Truth::Open(lit.var().positive());
            match clauses.gates.get(index).copied().unwrap_or(Gate::Free) {
                Gate::Free => {}
                Gate::Same(_, cut) if !is_closed(self.closed, cut) => {}
                Gate::Same(a, _) => {
                    self.clause(&[not(out), a]);
                    self.clause(&[out, not(a)]);
                    stack.push(a);
                }
                Gate::And(a, b) => {
                    self.clause(&[not(out), a]);
                    self.clause(&[not(out), b]);
                    self.clause(&[out, not(a), not(b)]);
                    stack.extend([a, b]);
                }
                Gate::Xor(a, b) => {
                    self.clause(&[not(out), a, b]);
                    self.clause(&[not(out), not(a), not(b)]);
                    self.clause(&[out, not(a), b]);
                    self.clause(&[out, a, not(b)]);
                    stack.extend([a, b]);
                }
                Gate::Mux(c, t, e) => {
                    self.clause(&[not(c), not(t), out]);
                    self.clause(&[not(c), t, not(out)]);
                    self.clause(&[c, not(e), out]);
                    self.clause(&[c, e, not(out)]);
                    stack.extend([c, t, e]);
                }
            }
        }
    }
    /// Whether all of these can hold together.
    pub(crate) fn possible(&mut self, clauses: &Clauses, all: &[Truth]) -> Result<bool, Refused> {
        if all.contains(&Truth::Known(false)) {
            return Ok(false);
        }
        let mut open = Vec::new();
        for &truth in all {
            self.reach(clauses, truth);
            if let Truth::Open(lit) = truth {
                open.push(lit);
            }
        }
        self.solver.assume(&open);
        self.solver.solve().map_err(|error| Refused::Unknown(error.to_string()))
    }
    /// These hold from now on.
    pub(crate) fn hold(&mut self, clauses: &Clauses, all: &[Truth]) {
        for &truth in all {
            self.reach(clauses, truth);
            self.clause(&[truth]);
        }
    }
}

pub(crate) fn not(a: Truth) -> Truth {
    match a {
        Truth::Known(value) => Truth::Known(!value),
        Truth::Open(lit) => Truth::Open(!lit),
    }
}

impl Gates for Clauses {
    type Bit = Truth;
    fn constant(&mut self, value: bool) -> Truth {
        Truth::Known(value)
    }
    fn not(&mut self, a: Truth) -> Truth {
        not(a)
    }
    fn and(&mut self, a: Truth, b: Truth) -> Truth {
        match (a, b) {
            (Truth::Known(known), other) | (other, Truth::Known(known)) => {
                if known {
                    other
                } else {
                    Truth::Known(false)
                }
            }
            _ if a == b => a,
            _ if a == not(b) => Truth::Known(false),
            _ => self.make(Gate::And(a, b)),
        }
    }
    fn or(&mut self, a: Truth, b: Truth) -> Truth {
        not(self.and(not(a), not(b)))
    }
    fn xor(&mut self, a: Truth, b: Truth) -> Truth {
        match (a, b) {
            (Truth::Known(known), other) | (other, Truth::Known(known)) => {
                if known {
                    not(other)
                } else {
                    other
                }
            }
            _ if a == b => Truth::Known(false),
            _ if a == not(b) => Truth::Known(true),
            _ => self.make(Gate::Xor(a, b)),
        }
    }
    fn mux(&mut self, c: Truth, t: Truth, e: Truth) -> Truth {
        if let Truth::Known(known) = c {
            return if known { t } else { e };
        }
        if t == e {
            return t;
        }
        self.make(Gate::Mux(c, t, e))
    }
    fn possible(&mut self, a: Truth) -> bool {
        a != Truth::Known(false)
    }
    fn cut(&mut self, place: Cut, a: Truth) -> Truth {
        if self.cutting && matches!(a, Truth::Open(_)) { self.make(Gate::Same(a, place)) } else { a }
    }
    fn cutting(&mut self, on: bool) {
        self.cutting = on;
    }
}
