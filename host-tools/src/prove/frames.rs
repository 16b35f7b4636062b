//! Consecutive scans of a circuit, in clauses, as far as a question needs them.

use super::circuit::{Cell, System};
use super::graph::{Graph, Node, Wire};
use batsat::{Callbacks, ClauseKind, Lit, Solver, SolverInterface, SolverOpts, lbool};
use logic_rules::Cut;

/// What a variable of the graph stands for.
#[derive(Debug, Clone, Copy)]
enum Role {
    /// An input, or a cut left open: anything in each scan.
    Free,
    /// A wire that is the same in every scan.
    Fixed(bool),
    /// A wire that changes only after each so many scans.
    Steady(usize),
    /// A bit of a cell, and what it is next.
    Cell(Wire, bool),
    /// A cut that is closed: what was cut off.
    Same(Wire),
}

/// How the first frame begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Begin<'v> {
    /// In any state.
    Anywhere,
    /// At power-up.
    PowerUp,
    /// With these values in the cells.
    In(&'v [u32]),
}

/// Stops the solver after so many conflicts, if there is a limit.
#[derive(Debug, Clone, Copy, Default)]
struct Limit(Option<u64>);

impl Callbacks for Limit {
    fn on_new_clause(&mut self, _: &[Lit], kind: ClauseKind) {
        if kind == ClauseKind::Learnt {
            self.0 = self.0.map(|left| left.saturating_sub(1));
        }
    }
    fn stop(&self) -> bool {
        self.0 == Some(0)
    }
}

/// Scans in a row over one solver.
pub struct Frames<'s> {
    graph: &'s Graph,
    solver: Solver<Limit>,
    roles: Vec<Role>,
    made: Vec<Vec<Option<Lit>>>,
    yes: Lit,
    anywhere: bool,
    /// Cells that some question needed.
    pub asked: usize,
}

/// An answer of the solver.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// There is such a case.
    Found,
    /// There is none.
    None,
    /// It gave up.
    Unknown,
}

impl<'s> Frames<'s> {
    /// Frames of a system in which the cuts that `keep` names are closed, and the others open.
    pub fn new(system: &'s System, keep: &dyn Fn(Cut) -> bool, begin: Begin<'_>) -> Self {
        Self::over(&system.graph, &system.cells, keep, begin)
    }
    /// Likewise, of a graph with such cells.
    pub fn over(graph: &'s Graph, cells: &[Cell], keep: &dyn Fn(Cut) -> bool, begin: Begin<'_>) -> Self {
        let mut frames = Self::free(graph);
        frames.anywhere = begin == Begin::Anywhere;
        for (id, cell) in cells.iter().enumerate() {
            let first = if let Begin::In(values) = begin { values.get(id).copied() } else { None };
            let first = first.unwrap_or(cell.first);
            for ((now, next), i) in cell.now.iter().zip(&cell.next).zip(0_u32..) {
                if let Some(role) = frames.roles.get_mut(now.node()) {
                    *role = Role::Cell(*next, first.checked_shr(i).unwrap_or(0) & 1 == 1);
                }
            }
        }
        for (place, after, before) in &graph.cuts {
            if keep(*place)
                && let Some(role) = frames.roles.get_mut(after.node())
            {
                *role = Role::Same(*before);
            }
        }
        frames
    }
    /// A single frame of a graph, whose variables may be anything.
    pub fn free(graph: &'s Graph) -> Self {
        let mut solver = Solver::new(SolverOpts::default(), Limit::default());
        let yes = Lit::new(solver.new_var_default(), true);
        solver.add_clause_reuse(&mut vec![yes]);
        let roles = vec![Role::Free; graph.len()];
        Self { graph, solver, roles, made: Vec::new(), yes, anywhere: true, asked: 0 }
    }
    /// A wire is the same in every scan.
    pub fn fix(&mut self, wire: Wire, value: bool) {
        if let Some(role) = self.roles.get_mut(wire.node()) {
            *role = Role::Fixed(value != wire.inverted());
        }
    }
    /// A wire is what another is.
    pub fn tie(&mut self, wire: Wire, other: Wire) {
        let other = if wire.inverted() { other.opposite() } else { other };
        if wire.node() != other.node()
            && let Some(role) = self.roles.get_mut(wire.node())
        {
            *role = Role::Same(other);
        }
    }
    /// A wire changes only after each so many scans.
    pub fn steady(&mut self, wire: Wire, scans: usize) {
        if let Some(role @ Role::Free) = self.roles.get_mut(wire.node()) {
            *role = Role::Steady(scans.max(1));
        }
    }
    fn constant(&self, value: bool) -> Lit {
        if value { self.yes } else { !self.yes }
    }
    fn get(&self, frame: usize, wire: Wire) -> Option<Lit> {
        let lit = (*self.made.get(frame)?.get(wire.node())?)?;
        Some(if wire.inverted() { !lit } else { lit })
    }
    /// The literal of a wire in a frame; its cone is put into clauses.
    pub fn lit(&mut self, frame: usize, wire: Wire) -> Lit {
        while self.made.len() <= frame {
            self.made.push(vec![None; self.graph.len()]);
        }
        let mut stack = vec![(frame, wire.node())];
        while let Some(&(at, node)) = stack.last() {
            if self.made.get(at).and_then(|f| f.get(node)).is_none_or(Option::is_some) {
                stack.pop();
                continue;
            }
            let mut missing = Vec::new();
            let mut need = |this: &Self, frame: usize, wire: Wire| {
                let lit = this.get(frame, wire);
                if lit.is_none() {
                    missing.push((frame, wire.node()));
                }
                lit.unwrap_or(this.yes)
            };
            let role = self.roles.get(node).copied().unwrap_or(Role::Free);
            let lit = match (self.graph.node(node), role) {
                (_, Role::Fixed(value)) => self.constant(value),
                (_, Role::Same(wire)) => need(self, at, wire),
                (Node::False, _) => self.constant(false),
                (_, Role::Steady(scans)) if at % scans != 0 => need(self, at - at % scans, Wire::of(node)),
                (Node::Variable, Role::Free | Role::Steady(_)) => Lit::new(self.solver.new_var_default(), true),
                (Node::Variable, Role::Cell(next, first)) => match at.checked_sub(1) {
                    Some(before) => need(self, before, next),
                    None if self.anywhere => {
                        self.asked += 1;
                        Lit::new(self.solver.new_var_default(), true)
                    }
                    None => self.constant(first),
                },
                (Node::And(x, y), _) => {
                    let (x, y) = (need(self, at, x), need(self, at, y));
                    if missing.is_empty() { self.and(x, y) } else { self.yes }
                }
                (Node::Xor(x, y), _) => {
                    let (x, y) = (need(self, at, x), need(self, at, y));
                    if missing.is_empty() { self.xor(x, y) } else { self.yes }
                }
                (Node::Select(c, t, e), _) => {
                    let (c, t, e) = (need(self, at, c), need(self, at, t), need(self, at, e));
                    if missing.is_empty() { self.select(c, t, e) } else { self.yes }
                }
            };
            if missing.is_empty() {
                if let Some(cell) = self.made.get_mut(at).and_then(|f| f.get_mut(node)) {
                    *cell = Some(lit);
                }
                stack.pop();
            } else {
                stack.append(&mut missing);
            }
        }
        self.get(frame, wire).unwrap_or(self.yes)
    }
    fn clause(&mut self, lits: &[Lit]) {
        self.solver.add_clause_reuse(&mut lits.to_vec());
    }
    fn and(&mut self, x: Lit, y: Lit) -> Lit {
        let (yes, no) = (self.yes, !self.yes);
        if x == no || y == no || x == !y {
            return no;
        }
        if x == yes || x == y {
            return y;
        }
        if y == yes {
            return x;
        }
        let z = Lit::new(self.solver.new_var_default(), true);
        self.clause(&[!z, x]);
        self.clause(&[!z, y]);
        self.clause(&[z, !x, !y]);
        z
    }
    fn xor(&mut self, x: Lit, y: Lit) -> Lit {
        let (yes, no) = (self.yes, !self.yes);
        if x == y {
            return no;
        }
        if x == !y {
            return yes;
        }
        if x == no || x == yes {
            return if x == yes { !y } else { y };
        }
        if y == no || y == yes {
            return if y == yes { !x } else { x };
        }
        let z = Lit::new(self.solver.new_var_default(), true);
        self.clause(&[!z, x, y]);
        self.clause(&[!z, !x, !y]);
        self.clause(&[z, !x, y]);
        self.clause(&[z, x, !y]);
        z
    }
    fn select(&mut self, c: Lit, t: Lit, e: Lit) -> Lit {
        let (yes, no) = (self.yes, !self.yes);
        if c == yes || t == e {
            return t;
        }
        if c == no {
            return e;
        }
        if t == yes || t == no || e == yes || e == no || t == !e {
            if t == !e {
                return self.xor(c, e);
            }
            let (one, other) = (self.and(c, t), self.and(!c, e));
            return !self.and(!one, !other);
        }
        let z = Lit::new(self.solver.new_var_default(), true);
        self.clause(&[!c, !t, z]);
        self.clause(&[!c, t, !z]);
        self.clause(&[c, !e, z]);
        self.clause(&[c, e, !z]);
        self.clause(&[!t, !e, z]);
        self.clause(&[t, e, !z]);
        z
    }
    /// A new literal that nothing says anything of.
    pub fn switch(&mut self) -> Lit {
        Lit::new(self.solver.new_var_default(), true)
    }
    /// Where the switch is on, the wire holds in the frame.
    pub fn under(&mut self, switch: Lit, frame: usize, wire: Wire) {
        let lit = self.lit(frame, wire);
        self.clause(&[!switch, lit]);
    }
    /// The wire holds in the frame.
    pub fn hold(&mut self, frame: usize, wire: Wire) {
        let lit = self.lit(frame, wire);
        self.clause(&[lit]);
    }
    /// The literal holds in no case from now on.
    pub fn never(&mut self, lit: Lit) {
        self.clause(&[!lit]);
    }
    /// So many conflicts more, and the solver gives up.
    pub fn limit(&mut self, conflicts: u64) {
        self.solver.cb_mut().0 = Some(conflicts);
    }
    /// Conflicts that are left of a limit.
    pub fn left(&self) -> u64 {
        self.solver.cb().0.unwrap_or(0)
    }
    /// Literals that were made.
    pub fn literals(&self) -> usize {
        usize::try_from(self.solver.num_vars()).unwrap_or(usize::MAX)
    }
    /// Is there a case in which all of these hold?
    pub fn ask(&mut self, all: &[Lit]) -> Answer {
        match self.solver.solve_limited(all) {
            answer if answer == lbool::TRUE => Answer::Found,
            answer if answer == lbool::FALSE => Answer::None,
            _ => Answer::Unknown,
        }
    }
    /// After [`Answer::None`]: a literal that was asked is needed for that.
    pub fn needed(&self, lit: Lit) -> bool {
        self.solver.unsat_core_contains_var(lit.var())
    }
    /// After [`Answer::Found`]: a literal holds in the case.
    pub fn holds(&self, lit: Lit) -> bool {
        self.solver.value_lit(lit) == lbool::TRUE
    }
    /// After [`Answer::Found`]: a wire holds in the case, if a question put it into clauses.
    pub fn value(&self, frame: usize, wire: Wire) -> Option<bool> {
        self.get(frame, wire).map(|lit| self.holds(lit))
    }
}
