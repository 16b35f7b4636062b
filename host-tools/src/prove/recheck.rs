//! Checks a proof with code that its search has no part in: no graph, no slices, another solver.
//!
//! The step itself writes the clauses, scan after scan, whole and without any cut, so that nothing of the slicing
//! is trusted. What it shares with the search: the step and the monitors, which are what is proved; how a lemma's
//! text is evaluated, since any formula that passes will do; and how wide cells are, which it checks.

use super::circuit;
use super::claim::{Claimed, Subject};
use super::lemma::{CellId, Lemma, Value};
use super::model::{Given, Memory, Model, Told, Visit};
use crate::station::Form;
use clauses::{Asked, Gate, not};
use logic_rules::plan::Fault;
use logic_rules::{Sliced, Slices};

pub use clauses::{Clauses, Closed, Truth};

pub(crate) mod clauses;
mod same;

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
    /// What holds an assumption is proved without any.
    Circular,
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

/// What is put to the solver: after what is held from then on, the case must not exist.
struct Question {
    held: Vec<Truth>,
    asked: Vec<Truth>,
    /// What it means if there is such a case.
    otherwise: Refused,
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
        self.check_slice(claimed, None)
    }
    /// Checks a claim of a slice: as [`Self::check`], but only these rules are looked at, and all others may trip or not as
    /// they like. What holds of the slice holds of the whole.
    ///
    /// # Errors
    /// Why it is not accepted.
    pub fn check_slice(&mut self, claimed: &Claimed, closed: Closed<'_>) -> Result<(), Refused> {
        for (course, questions) in self.questions(claimed)? {
            let mut solver = Asked::new(closed);
            for question in questions {
                solver.hold(&course.a.0, &question.held);
                if solver.possible(&course.a.0, &question.asked)? {
                    return Err(question.otherwise);
                }
            }
        }
        Ok(())
    }
    /// SHA-256 of all that [`Self::check_slice`] would ask of the claim. Where it is the same, the answers are.
    ///
    /// # Errors
    /// Why the claim cannot be asked about.
    pub fn same(&mut self, claimed: &Claimed, closed: Closed<'_>) -> Result<String, Refused> {
        let all = self.questions(claimed)?;
        let all = all.each_ref().map(|(course, questions)| (&course.a.0, questions.as_slice()));
        Ok(same::digest(&all, closed))
    }
    fn questions(&mut self, claimed: &Claimed) -> Result<[(&Course, Vec<Question>); 2], Refused> {
        let depth = claimed.depth;
        if !(1..=DEEPEST).contains(&depth) {
            return Err(Refused::Nonsense);
        }
        let held =
            |i: usize| self.model.station.requirements.get(i).is_some_and(|r| matches!(r.form, Form::Held { .. }));
        if !claimed.assumptions.is_empty() && matches!(claimed.subject, Subject::Requirement(i) if held(i)) {
            return Err(Refused::Circular);
        }
        while self.courses.len() <= depth {
            self.courses.push(None);
        }
        let slot = self.courses.get_mut(depth).ok_or(Refused::Nonsense)?;
        if slot.is_none() {
            *slot = Some((Course::new(self.model, depth, false)?, Course::new(self.model, depth, true)?));
        }
        let (first, any) = slot.as_mut().ok_or(Refused::Nonsense)?;
        let (begins, keeps) = (begins(first, claimed)?, keeps(any, claimed)?);
        Ok([(&*first, begins), (&*any, keeps)])
    }
}

/// It begins: the lemmas hold in the first scans after power-up, and the subject is not missed.
fn begins(course: &mut Course, claimed: &Claimed) -> Result<Vec<Question>, Refused> {
    let mut out = Vec::new();
    for at in 0..claimed.depth {
        for (i, lemma) in claimed.lemmas.iter().enumerate() {
            let mut all = course.given(claimed, at)?;
            all.push(not(course.lemma(at, lemma)));
            out.push(Question { held: Vec::new(), asked: all, otherwise: Refused::NotAtFirst(i) });
        }
        let mut all = course.given(claimed, at.saturating_add(1))?;
        all.push(course.missed(at, claimed.subject)?);
        out.push(Question { held: Vec::new(), asked: all, otherwise: Refused::MissedAtFirst });
    }
    Ok(out)
}

/// It is safe, and it keeps: from any state in which the lemmas hold, nothing is missed, and they hold after it.
fn keeps(course: &mut Course, claimed: &Claimed) -> Result<Vec<Question>, Refused> {
    let depth = claimed.depth;
    let mut held = course.given(claimed, depth)?;
    for at in 0..depth {
        for lemma in &claimed.lemmas {
            held.push(course.lemma(at, lemma));
        }
    }
    for at in 0..depth.saturating_sub(1) {
        held.push(not(course.missed(at, claimed.subject)?));
    }
    let last = course.missed(depth.saturating_sub(1), claimed.subject)?;
    let mut out = vec![Question { held, asked: vec![last], otherwise: Refused::NotSafe }];
    let mut held = vec![not(last)];
    for (i, lemma) in claimed.lemmas.iter().enumerate() {
        let asked = vec![not(course.lemma(depth, lemma))];
        out.push(Question { held: std::mem::take(&mut held), asked, otherwise: Refused::NotKept(i) });
    }
    Ok(out)
}
