//! Checks what is claimed of two sides with code that the search has no part in: gates of its own, and another solver.
//!
//! What it shares with the search: the step, how a lemma's text is evaluated, and what counts as a difference, since that is
//! what is claimed.

use super::side::{Difference, any, copy};
use super::twin::Twin;
use crate::prove::lemma::{Claim, Lemma, Sum, Value};
use crate::prove::recheck::Refused;
use crate::prove::recheck::clauses::{Asked, Clauses, Gate, Truth, not};
use logic_rules::{Gates, Sliced, Slices};
use std::collections::HashMap;

/// What is claimed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Claimed {
    /// What stays between the two sides as long as nothing has differed.
    pub lemmas: Vec<Lemma>,
    /// Differences that never are the first.
    pub never: Vec<Difference>,
}

/// Gates that are made once: a gate over the same wires is the same one.
#[derive(Default)]
struct Shared {
    clauses: Clauses,
    made: HashMap<(u8, Truth, Truth, Truth), Truth>,
}

impl Shared {
    /// What was made of these wires before, or is made now.
    fn once(&mut self, kind: u8, [a, b, c]: [Truth; 3], make: impl FnOnce(&mut Clauses) -> Truth) -> Truth {
        if let Some(made) = self.made.get(&(kind, a, b, c)) {
            return *made;
        }
        let made = make(&mut self.clauses);
        self.made.insert((kind, a, b, c), made);
        made
    }
}

/// Two wires in an order that does not depend on how they were given.
fn ordered(a: Truth, b: Truth) -> (Truth, Truth) {
    let place = |truth: Truth| if let Truth::Open(lit) = truth { lit.code() + 1 } else { 0 };
    if place(a) <= place(b) { (a, b) } else { (b, a) }
}

impl Gates for Shared {
    type Bit = Truth;
    fn constant(&mut self, value: bool) -> Truth {
        Truth::Known(value)
    }
    fn not(&mut self, a: Truth) -> Truth {
        not(a)
    }
    fn and(&mut self, a: Truth, b: Truth) -> Truth {
        let (a, b) = ordered(a, b);
        self.once(0, [a, b, b], |clauses| clauses.and(a, b))
    }
    fn or(&mut self, a: Truth, b: Truth) -> Truth {
        not(self.and(not(a), not(b)))
    }
    fn xor(&mut self, a: Truth, b: Truth) -> Truth {
        let (a, b) = ordered(a, b);
        self.once(1, [a, b, b], |clauses| clauses.xor(a, b))
    }
    fn mux(&mut self, c: Truth, t: Truth, e: Truth) -> Truth {
        match (c, t, e) {
            (Truth::Known(known), ..) => {
                if known {
                    t
                } else {
                    e
                }
            }
            (_, Truth::Known(true), _) => self.or(c, e),
            (_, Truth::Known(false), _) => self.and(not(c), e),
            (_, _, Truth::Known(true)) => self.or(not(c), t),
            (_, _, Truth::Known(false)) => self.and(c, t),
            _ => self.once(2, [c, t, e], |clauses| clauses.mux(c, t, e)),
        }
    }
    fn possible(&mut self, a: Truth) -> bool {
        a != Truth::Known(false)
    }
}

type Reading = Sliced<Shared>;

/// Both cells, if all that a lemma says is that they are equal.
fn equality(lemma: &Lemma) -> Option<(usize, usize)> {
    let one = |sum: &Sum| match sum.cells.as_slice() {
        [cell] if sum.gaps.is_empty() && sum.plus == 0 => Some(*cell),
        _ => None,
    };
    match (lemma.when.as_slice(), lemma.then.as_slice()) {
        ([], [Claim::Same(x, y)]) => one(x).zip(one(y)),
        _ => None,
    }
}

/// Any state in which the equalities among the lemmas hold. Only an equality of a cell of the old rules and one of the new
/// ones, each said once, is built in; all others are asked about as any lemma is.
fn anywhere(twin: &Twin<'_>, a: &mut Reading, lemmas: &[Lemma]) -> Vec<Value<Reading>> {
    let mut mates: Vec<Option<usize>> = vec![None; twin.names.len()];
    for (x, y) in lemmas.iter().filter_map(equality) {
        let (x, y) = (x.min(y), x.max(y));
        let free = x < twin.olds && y >= twin.olds && twin.is_bit(x) == twin.is_bit(y);
        let unused = mates.get(x) == Some(&None) && mates.get(y) == Some(&None);
        if free && unused {
            for (cell, mate) in [(x, y), (y, x)] {
                if let Some(cell) = mates.get_mut(cell) {
                    *cell = Some(mate);
                }
            }
        }
    }
    let mut cells: Vec<Value<Reading>> = Vec::new();
    for id in 0..twin.names.len() {
        let mate = mates.get(id).copied().flatten();
        let built = mate.filter(|mate| *mate < id).and_then(|mate| cells.get(mate)).map(copy);
        let width = mate.map_or(twin.width(id), |mate| twin.width(mate).min(twin.width(id)));
        cells.push(built.unwrap_or_else(|| {
            let bits: Vec<Truth> = (0..width).map(|_| a.0.clauses.make(Gate::Free)).collect();
            match bits.first() {
                Some(bit) if twin.is_bit(id) => Value::Bit(*bit),
                _ => Value::Word(Slices::from_bits(&bits, Truth::Known(false))),
            }
        }));
    }
    cells
}

/// Checks a claim: it begins, it is kept by every scan in which nothing differs, and it excludes what it says it excludes.
///
/// # Errors
/// Why it is not accepted.
pub fn check(twin: &Twin<'_>, claimed: &Claimed) -> Result<(), Refused> {
    for (i, lemma) in claimed.lemmas.iter().enumerate() {
        if !twin.begins(lemma) {
            return Err(Refused::NotAtFirst(i));
        }
    }
    let mut a: Reading = Sliced(Shared::default());
    let cells = anywhere(twin, &mut a, &claimed.lemmas);
    let given = twin.given(&mut a, &mut |g| g.clauses.make(Gate::Free));
    let (next, old, new) = twin.scan(&mut a, &cells, &given)?;
    // Any state is any value of these widths, so that no scan may leave them.
    for (id, cell) in next.iter().enumerate() {
        let wide = if let Value::Word(word) = cell { word.bits().len() } else { 1 };
        if next.len() != twin.names.len() || wide > twin.width(id) {
            return Err(Refused::TooNarrow);
        }
    }
    let differences = twin.differ(&mut a, &old, &new);
    let parted = any(&mut a, &differences);
    let mut held = Vec::new();
    let mut after = Vec::new();
    for lemma in &claimed.lemmas {
        held.push(lemma.holds(&mut a, &|id| cells.get(id).map(copy)));
        after.push(lemma.holds(&mut a, &|id| next.get(id).map(copy)));
    }
    let mut solver = Asked::new(None);
    solver.hold(&a.0.clauses, &held);
    for never in &claimed.never {
        let (_, bit) = differences.iter().find(|(difference, _)| difference == never).ok_or(Refused::Nonsense)?;
        if *bit != Truth::Known(false) && solver.possible(&a.0.clauses, &[*bit])? {
            return Err(Refused::NotSafe);
        }
    }
    solver.hold(&a.0.clauses, &[not(parted)]);
    for (i, after) in after.into_iter().enumerate() {
        if after != Truth::Known(true) && solver.possible(&a.0.clauses, &[not(after)])? {
            return Err(Refused::NotKept(i));
        }
    }
    Ok(())
}
