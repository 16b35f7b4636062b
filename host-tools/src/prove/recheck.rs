//! Checks a proof with code that its search has no part in: no graph, no slices, another solver.
//!
//! The step itself writes the clauses, scan after scan, whole and without any cut, so that nothing of the slicing
//! is trusted. What it shares with the search: the step and the monitors, which are what is proved; how a lemma's
//! text is evaluated, since any formula that passes will do; and how wide cells are, which it checks.

use super::circuit;
use super::claim::{Claimed, Subject};
use super::lemma::{CellId, Lemma, Value};
use super::model::{Given, Memory, Model, Told, Visit};
use logic_rules::plan::Fault;
use logic_rules::{Gates, Sliced, Slices};
use varisat::{ExtendFormula, Lit, Solver, Var};

/// A truth value: known, or a literal of the solver.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Truth {
    /// Known.
    Known(bool),
    /// To be found.
    Open(Lit),
}

/// What defines a literal.
#[derive(Debug, Clone, Copy)]
enum Gate {
    Free,
    And(Truth, Truth),
    Xor(Truth, Truth),
    Mux(Truth, Truth, Truth),
}

/// Gates by the variable that stands for them; clauses are written for those that a question reaches.
#[derive(Default)]
pub struct Clauses {
    gates: Vec<Gate>,
}

impl Clauses {
    fn make(&mut self, gate: Gate) -> Truth {
        let var = Var::from_index(self.gates.len());
        self.gates.push(gate);
        Truth::Open(var.positive())
    }
}

/// A solver that knows the gates that its questions reach.
struct Asked {
    solver: Solver<'static>,
    known: Vec<bool>,
}

impl Asked {
    fn new() -> Self {
        Self { solver: Solver::new(), known: Vec::new() }
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
    fn possible(&mut self, clauses: &Clauses, all: &[Truth]) -> Result<bool, Refused> {
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
    fn hold(&mut self, clauses: &Clauses, all: &[Truth]) {
        for &truth in all {
            self.reach(clauses, truth);
            self.clause(&[truth]);
        }
    }
}

fn not(a: Truth) -> Truth {
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
}

type Reading = Sliced<Clauses>;

/// A cell's value after some scans.
#[derive(Clone, Copy)]
#[expect(clippy::large_enum_variant, reason = "most cells of a station are words")]
enum Cell {
    Bit(Truth),
    Word(Slices<Truth>),
}

struct Take<'t>(&'t mut Vec<Cell>);
impl Visit<Reading> for Take<'_> {
    fn bit(&mut self, cell: &mut Truth) {
        self.0.push(Cell::Bit(*cell));
    }
    fn word(&mut self, cell: &mut Slices<Truth>) {
        self.0.push(Cell::Word(*cell));
    }
}
struct Anything<'t> {
    clauses: &'t mut Clauses,
    widths: std::slice::Iter<'t, usize>,
}
impl Visit<Reading> for Anything<'_> {
    fn bit(&mut self, cell: &mut Truth) {
        self.widths.next();
        *cell = self.clauses.make(Gate::Free);
    }
    fn word(&mut self, cell: &mut Slices<Truth>) {
        let width = self.widths.next().copied().unwrap_or(0);
        let bits: Vec<Truth> = (0..width).map(|_| self.clauses.make(Gate::Free)).collect();
        *cell = Slices::from_bits(&bits, Truth::Known(false));
    }
}

/// Why a claim is not accepted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refused {
    /// A lemma does not hold in the first scans after power-up.
    NotAtFirst(usize),
    /// The requirement is missed in the first scans after power-up.
    MissedAtFirst,
    /// A lemma does not follow for the next scan.
    NotKept(usize),
    /// The lemmas do not exclude that the requirement is missed.
    NotSafe,
    /// The solver gave up.
    Unknown(String),
    /// The plan is no plan.
    Plan(Fault),
    /// A cell can become wider than was thought.
    TooNarrow,
    /// There is no such requirement, signal or assumption, or the depth is not between 1 and 8.
    Nonsense,
}

impl From<Fault> for Refused {
    fn from(fault: Fault) -> Self {
        Self::Plan(fault)
    }
}

/// Scans in a row.
struct Course {
    a: Reading,
    states: Vec<Vec<Cell>>,
    told: Vec<Told<Reading>>,
}

/// The most scans that a claim may ask for.
const DEEPEST: usize = 8;

impl Course {
    fn new(model: &Model<'_>, depth: usize, anywhere: bool) -> Result<Self, Refused> {
        let mut a = Sliced(Clauses::default());
        let widths = circuit::widths(model)?;
        let mut memory: Memory<Reading> = model.power_up(&mut a)?;
        if anywhere {
            memory.visit(&mut Anything { clauses: &mut a.0, widths: widths.iter() });
        }
        let mut course = Self { a, states: Vec::new(), told: Vec::new() };
        course.look(&mut memory, &widths)?;
        for _ in 0..depth {
            let given: Given<Reading> = circuit::given(model, &mut course.a, &mut |g| g.make(Gate::Free));
            course.told.push(model.scan(&mut course.a, &mut memory, &given)?);
            course.look(&mut memory, &widths)?;
        }
        Ok(course)
    }
    fn look(&mut self, memory: &mut Memory<Reading>, widths: &[usize]) -> Result<(), Refused> {
        let mut cells = Vec::new();
        memory.visit(&mut Take(&mut cells));
        // Any state is any value of these widths, so that no scan may leave them.
        let wide = |cell: &Cell| if let Cell::Word(word) = cell { word.bits().len() } else { 1 };
        if cells.len() != widths.len() || cells.iter().zip(widths).any(|(cell, width)| wide(cell) > *width) {
            return Err(Refused::TooNarrow);
        }
        self.states.push(cells);
        Ok(())
    }
    fn lemma(&mut self, at: usize, lemma: &Lemma) -> Truth {
        let Some(cells) = self.states.get(at) else { return Truth::Known(false) };
        let value = |id: CellId| {
            cells.get(id).map(|cell| match cell {
                Cell::Bit(bit) => Value::Bit(*bit),
                Cell::Word(word) => Value::Word(*word),
            })
        };
        lemma.holds(&mut self.a, &value)
    }
    /// Assumptions in the first so many scans.
    fn given(&self, claimed: &Claimed, scans: usize) -> Result<Vec<Truth>, Refused> {
        let mut out = Vec::new();
        for told in self.told.iter().take(scans) {
            for &signal in &claimed.signals {
                out.push(*told.kept.get(signal).ok_or(Refused::Nonsense)?);
            }
            for &assumption in &claimed.assumptions {
                out.push(not(*told.broken.get(assumption).ok_or(Refused::Nonsense)?));
            }
        }
        Ok(out)
    }
    fn missed(&self, at: usize, subject: Subject) -> Result<Truth, Refused> {
        self.told.get(at).and_then(|told| told.bad(subject)).ok_or(Refused::Nonsense)
    }
}

/// A checker: courses are made once for each depth.
pub struct Checker<'m> {
    model: &'m Model<'m>,
    courses: Vec<Option<(Course, Course)>>,
}

impl<'m> Checker<'m> {
    /// A checker for a station.
    pub fn new(model: &'m Model<'m>) -> Self {
        Self { model, courses: Vec::new() }
    }
    /// Checks a claim: it begins, it keeps, it is safe.
    ///
    /// # Errors
    /// Why it is not accepted.
    pub fn check(&mut self, claimed: &Claimed) -> Result<(), Refused> {
        let depth = claimed.depth;
        if !(1..=DEEPEST).contains(&depth) {
            return Err(Refused::Nonsense);
        }
        while self.courses.len() <= depth {
            self.courses.push(None);
        }
        let slot = self.courses.get_mut(depth).ok_or(Refused::Nonsense)?;
        if slot.is_none() {
            *slot = Some((Course::new(self.model, depth, false)?, Course::new(self.model, depth, true)?));
        }
        let (first, any) = slot.as_mut().ok_or(Refused::Nonsense)?;
        Self::begins(first, claimed)?;
        Self::keeps(any, claimed)
    }
    fn begins(course: &mut Course, claimed: &Claimed) -> Result<(), Refused> {
        let mut asked = Asked::new();
        for at in 0..claimed.depth {
            for (i, lemma) in claimed.lemmas.iter().enumerate() {
                let mut all = course.given(claimed, at)?;
                all.push(not(course.lemma(at, lemma)));
                if asked.possible(&course.a.0, &all)? {
                    return Err(Refused::NotAtFirst(i));
                }
            }
            let mut all = course.given(claimed, at.saturating_add(1))?;
            all.push(course.missed(at, claimed.subject)?);
            if asked.possible(&course.a.0, &all)? {
                return Err(Refused::MissedAtFirst);
            }
        }
        Ok(())
    }
    fn keeps(course: &mut Course, claimed: &Claimed) -> Result<(), Refused> {
        let depth = claimed.depth;
        let mut asked = Asked::new();
        let mut all = course.given(claimed, depth)?;
        for at in 0..depth {
            for lemma in &claimed.lemmas {
                all.push(course.lemma(at, lemma));
            }
        }
        for at in 0..depth.saturating_sub(1) {
            all.push(not(course.missed(at, claimed.subject)?));
        }
        asked.hold(&course.a.0, &all);
        let last = course.missed(depth.saturating_sub(1), claimed.subject)?;
        if asked.possible(&course.a.0, &[last])? {
            return Err(Refused::NotSafe);
        }
        asked.hold(&course.a.0, &[not(last)]);
        for (i, lemma) in claimed.lemmas.iter().enumerate() {
            let after = course.lemma(depth, lemma);
            if asked.possible(&course.a.0, &[not(after)])? {
                return Err(Refused::NotKept(i));
            }
        }
        Ok(())
    }
}
