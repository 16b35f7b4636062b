//! Writes an and-inverter graph, as text or as bytes.

use super::{Aig, And, Kind, Latch};
use std::collections::HashMap;
use std::fmt::Write as _;

impl Kind {
    /// All kinds, with the letter that a symbol begins with.
    pub(super) const LETTERS: [(Self, u8); 7] = [
        (Self::Input, b'i'),
        (Self::Latch, b'l'),
        (Self::Output, b'o'),
        (Self::Bad, b'b'),
        (Self::Constraint, b'c'),
        (Self::Justice, b'j'),
        (Self::Fairness, b'f'),
    ];
}

impl Aig {
    /// As text (`aag`).
    pub fn text(&self) -> String {
        let mut out = self.header("aag");
        for lit in &self.inputs {
            let _ = writeln!(out, "{lit}");
        }
        for latch in &self.latches {
            let _ = write!(out, "{} ", latch.lit);
            latch.rest(&mut out);
        }
        self.properties(&mut out);
        for and in &self.ands {
            let [one, other] = and.of;
            let _ = writeln!(out, "{} {one} {other}", and.lit);
        }
        self.end(&mut out);
        out
    }
    /// As bytes (`aig`), its variables numbered as that form wants it; `None` if it is not well formed.
    pub fn bytes(&self) -> Option<Vec<u8>> {
        let aig = self.numbered()?;
        let mut text = aig.header("aig");
        for latch in &aig.latches {
            latch.rest(&mut text);
        }
        aig.properties(&mut text);
        let mut out = text.into_bytes();
        for and in &aig.ands {
            let [more, less] = and.of;
            delta(&mut out, and.lit.checked_sub(more)?);
            delta(&mut out, more.checked_sub(less)?);
        }
        let mut text = String::new();
        aig.end(&mut text);
        out.extend(text.into_bytes());
        Some(out)
    }
    /// The same with inputs, latches and gates numbered in a row, each gate after what it is made of, the
    /// larger literal first; `None` if a variable has no meaning or two, or a gate is made of itself.
    pub fn numbered(&self) -> Option<Self> {
        let mut new: HashMap<u32, u32> = HashMap::from([(0, 0)]);
        let mut most = 0_u32;
        let order = self.order()?;
        let made =
            self.inputs.iter().copied().chain(self.latches.iter().map(|l| l.lit)).chain(order.iter().map(|a| a.lit));
        for lit in made {
            most = most.checked_add(1).filter(|most| *most <= u32::MAX / 2)?;
            if lit % 2 == 1 || new.insert(lit / 2, most).is_some() {
                return None;
            }
        }
        // A gate whose literal was given twice has no order.
        if order.len() != self.ands.len() {
            return None;
        }
        let lit = |old: u32| new.get(&(old / 2)).map(|variable| variable * 2 + old % 2);
        let lits = |old: &[u32]| old.iter().map(|&old| lit(old)).collect::<Option<Vec<u32>>>();
        let latches = self
            .latches
            .iter()
            .map(|latch| Some(Latch { lit: lit(latch.lit)?, next: lit(latch.next)?, reset: lit(latch.reset)? }));
        let ands = order.iter().map(|and| {
            let [one, other] = and.of;
            let (one, other) = (lit(one)?, lit(other)?);
            Some(And { lit: lit(and.lit)?, of: [one.max(other), one.min(other)] })
        });
        Some(Self {
            most,
            inputs: lits(&self.inputs)?,
            latches: latches.collect::<Option<_>>()?,
            outputs: lits(&self.outputs)?,
            bad: lits(&self.bad)?,
            constraints: lits(&self.constraints)?,
            justice: self.justice.iter().map(|of| lits(of)).collect::<Option<_>>()?,
            fairness: lits(&self.fairness)?,
            ands: ands.collect::<Option<_>>()?,
            symbols: self.symbols.clone(),
            comment: self.comment.clone(),
        })
    }
    fn header(&self, form: &str) -> String {
        let mut out = form.to_owned();
        let counts = [self.inputs.len(), self.latches.len(), self.outputs.len(), self.ands.len()];
        let more = [self.bad.len(), self.constraints.len(), self.justice.len(), self.fairness.len()];
        let _ = write!(out, " {}", self.most);
        // Of the counts that version 1.9 added, zeros at the end are left out.
        let kept = more.iter().rposition(|&count| count > 0).map_or(0, |last| last + 1);
        for count in counts.iter().chain(more.iter().take(kept)) {
            let _ = write!(out, " {count}");
        }
        out.push('\n');
        out
    }
    fn properties(&self, out: &mut String) {
        for lit in self.outputs.iter().chain(&self.bad).chain(&self.constraints) {
            let _ = writeln!(out, "{lit}");
        }
        for of in &self.justice {
            let _ = writeln!(out, "{}", of.len());
        }
        for lit in self.justice.iter().flatten().chain(&self.fairness) {
            let _ = writeln!(out, "{lit}");
        }
    }
    fn end(&self, out: &mut String) {
        for symbol in &self.symbols {
            let letter =
                Kind::LETTERS.iter().find(|(kind, _)| *kind == symbol.kind).map_or(b'i', |(_, letter)| *letter);
            let name: String = symbol.name.chars().map(plain).collect();
            let _ = writeln!(out, "{}{} {name}", char::from(letter), symbol.at);
        }
        if let Some(comment) = &self.comment {
            out.push_str("c\n");
            for line in comment {
                let _ = writeln!(out, "{}", line.replace('\n', " "));
            }
        }
    }
}

/// Symbols are of printable ASCII.
fn plain(c: char) -> char {
    if c.is_ascii_graphic() || c == ' ' { c } else { '_' }
}

impl Latch {
    fn rest(self, out: &mut String) {
        let _ = match self.reset {
            0 => writeln!(out, "{}", self.next),
            reset => writeln!(out, "{} {reset}", self.next),
        };
    }
}

/// A number in groups of seven bits, the lowest first; each but the last has its top bit set.
pub(super) fn delta(out: &mut Vec<u8>, number: u32) {
    let mut rest = number;
    loop {
        let low = u8::try_from(rest & 0x7f).unwrap_or(0);
        rest >>= 7;
        if rest == 0 {
            out.push(low);
            return;
        }
        out.push(low | 0x80);
    }
}
