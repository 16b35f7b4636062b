//! Reads an and-inverter graph, from text or from bytes. Whatever it is given, it is a graph or a fault.

use super::{Aig, And, Kind, Latch, Symbol};
use std::collections::HashSet;
use std::fmt;

/// Largest variable that is read: a header costs nothing, what it promises would.
const LIMIT: u32 = 1 << 24;

/// Why something is no and-inverter graph.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Line, from 1; in the gates of the binary form, that on which they begin.
    pub line: usize,
    /// Byte, from 0.
    pub byte: usize,
    /// What is wrong there.
    pub what: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, byte {}: {}", self.line, self.byte, self.what)
    }
}

impl std::error::Error for Fault {}

/// Reads either form.
///
/// # Errors
/// The first thing that is wrong.
pub fn read(bytes: &[u8]) -> Result<Aig, Fault> {
    let mut reader = Reader { bytes, at: 0, line: 1, most: 0, defined: HashSet::from([0]), used: Vec::new() };
    let binary = match bytes.get(..3) {
        Some(b"aag") => false,
        Some(b"aig") => true,
        _ => return Err(reader.fault("it begins with neither `aag` nor `aig`")),
    };
    reader.at = 3;
    let mut counts = Vec::new();
    while reader.peek() == Some(b' ') && counts.len() < 9 {
        reader.at += 1;
        counts.push(reader.number()?);
    }
    if counts.len() < 5 {
        return Err(reader.fault("the header has fewer than five numbers"));
    }
    let count = |i: usize| counts.get(i).copied().unwrap_or(0);
    if count(0) > LIMIT {
        return Err(reader.fault(&format!("more than {LIMIT} variables are not read")));
    }
    let named = [1, 2, 4].iter().fold(0_u64, |sum, &i| sum + u64::from(count(i)));
    if named > u64::from(count(0)) || (binary && named < u64::from(count(0))) {
        return Err(reader.fault("the largest variable does not go with inputs, latches and gates"));
    }
    reader.end_line()?;
    reader.most = count(0);
    let mut aig = Aig { most: count(0), ..Aig::default() };
    for i in 0..count(1) {
        aig.inputs.push(if binary { reader.define((i + 1) * 2)? } else { reader.own()? });
        if !binary {
            reader.end_line()?;
        }
    }
    for i in 0..count(2) {
        aig.latches.push(reader.latch(binary.then_some((count(1) + i + 1) * 2))?);
    }
    aig.outputs = reader.lines(count(3))?;
    aig.bad = reader.lines(count(5))?;
    aig.constraints = reader.lines(count(6))?;
    let mut sizes = Vec::new();
    for _ in 0..count(7) {
        sizes.push(reader.number()?);
        reader.end_line()?;
    }
    for size in sizes {
        aig.justice.push(reader.lines(size)?);
    }
    aig.fairness = reader.lines(count(8))?;
    for i in 0..count(4) {
        let next = (count(1) + count(2) + i + 1) * 2;
        aig.ands.push(if binary { reader.packed(next)? } else { reader.and()? });
    }
    reader.check(&aig)?;
    reader.symbols(&mut aig)?;
    Ok(aig)
}

struct Reader<'b> {
    bytes: &'b [u8],
    at: usize,
    line: usize,
    most: u32,
    /// Variables that have a meaning.
    defined: HashSet<u32>,
    /// Variables that are used, and where.
    used: Vec<(u32, usize, usize)>,
}

impl Reader<'_> {
    fn fault(&self, what: &str) -> Fault {
        Fault { line: self.line, byte: self.at, what: what.into() }
    }
    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }
    fn byte(&mut self, wanted: u8, name: &str) -> Result<(), Fault> {
        if self.peek() != Some(wanted) {
            return Err(self.fault(&format!("{name} is missing")));
        }
        self.at += 1;
        Ok(())
    }
    fn end_line(&mut self) -> Result<(), Fault> {
        self.byte(b'\n', "the end of the line")?;
        self.line += 1;
        Ok(())
    }
    fn number(&mut self) -> Result<u32, Fault> {
        let start = self.at;
        let mut value = 0_u32;
        while let Some(digit) = self.peek().filter(u8::is_ascii_digit) {
            let digit = u32::from(digit - b'0');
            let more = value.checked_mul(10).and_then(|tens| tens.checked_add(digit));
            value = more.ok_or_else(|| self.fault("a number is too large"))?;
            self.at += 1;
        }
        match self.bytes.get(start..self.at) {
            None | Some([]) => Err(self.fault("a number is missing")),
            Some([b'0', _, ..]) => Err(self.fault("a number begins with 0")),
            Some(_) => Ok(value),
        }
    }
    /// A literal that is used.
    fn lit(&mut self) -> Result<u32, Fault> {
        let (line, byte) = (self.line, self.at);
        let lit = self.number()?;
        if lit / 2 > self.most {
            return Err(Fault { line, byte, what: format!("literal {lit} is beyond the largest variable") });
        }
        self.used.push((lit / 2, line, byte));
        Ok(lit)
    }
    /// A literal that is given its meaning.
    fn own(&mut self) -> Result<u32, Fault> {
        let lit = self.number()?;
        self.define(lit)
    }
    fn define(&mut self, lit: u32) -> Result<u32, Fault> {
        if lit % 2 == 1 || lit / 2 > self.most {
            return Err(self.fault(&format!("literal {lit} is inverted or beyond the largest variable")));
        }
        if !self.defined.insert(lit / 2) {
            return Err(self.fault(&format!("literal {lit} has a meaning already")));
        }
        Ok(lit)
    }
    fn lines(&mut self, count: u32) -> Result<Vec<u32>, Fault> {
        let mut out = Vec::new();
        for _ in 0..count {
            out.push(self.lit()?);
            self.end_line()?;
        }
        Ok(out)
    }
    /// A latch; in the binary form its own literal is known.
    fn latch(&mut self, known: Option<u32>) -> Result<Latch, Fault> {
        let lit = if let Some(lit) = known {
            self.define(lit)?
        } else {
            let lit = self.own()?;
            self.byte(b' ', "a space")?;
            lit
        };
        let next = self.lit()?;
        let mut reset = 0;
        if self.peek() == Some(b' ') {
            self.at += 1;
            reset = self.number()?;
            if reset > 1 && reset != lit {
                return Err(self.fault("a latch begins with 0, 1 or itself"));
            }
        }
        self.end_line()?;
        Ok(Latch { lit, next, reset })
    }
    fn and(&mut self) -> Result<And, Fault> {
        let lit = self.own()?;
        self.byte(b' ', "a space")?;
        let one = self.lit()?;
        self.byte(b' ', "a space")?;
        let other = self.lit()?;
        self.end_line()?;
        Ok(And { lit, of: [one, other] })
    }
    /// A gate of the binary form.
    fn packed(&mut self, lit: u32) -> Result<And, Fault> {
        self.define(lit)?;
        let more = match self.delta()? {
            0 => return Err(self.fault("a gate is made of itself")),
            delta => lit.checked_sub(delta).ok_or_else(|| self.fault("a difference is too large"))?,
        };
        let less = self.delta()?;
        let less = more.checked_sub(less).ok_or_else(|| self.fault("a difference is too large"))?;
        Ok(And { lit, of: [more, less] })
    }
    fn delta(&mut self) -> Result<u32, Fault> {
        let mut value = 0_u64;
        for shift in [0, 7, 14, 21, 28] {
            let byte = self.peek().ok_or_else(|| self.fault("the file ends in a gate"))?;
            self.at += 1;
            value |= u64::from(byte & 0x7f) << shift;
            if byte & 0x80 == 0 {
                return u32::try_from(value).map_err(|_| self.fault("a difference is too large"));
            }
        }
        Err(self.fault("a difference is too large"))
    }
    fn check(&self, aig: &Aig) -> Result<(), Fault> {
        if let Some(&(variable, line, byte)) = self.used.iter().find(|(variable, ..)| !self.defined.contains(variable))
        {
            return Err(Fault { line, byte, what: format!("literal {} has no meaning", u64::from(variable) * 2) });
        }
        // The order of the binary form leaves no room for a circle.
        aig.order().map(|_| ()).ok_or_else(|| self.fault("gates are made of each other in a circle"))
    }
    fn symbols(&mut self, aig: &mut Aig) -> Result<(), Fault> {
        let mut seen = HashSet::new();
        while let Some(letter) = self.peek() {
            if letter == b'c' && self.bytes.get(self.at + 1) == Some(&b'\n') {
                self.at += 1;
                self.end_line()?;
                return self.comment(aig);
            }
            let kind = Kind::LETTERS.iter().find(|(_, l)| *l == letter).map(|(kind, _)| *kind);
            let kind = kind.ok_or_else(|| self.fault("neither a symbol nor a comment"))?;
            self.at += 1;
            let at = usize::try_from(self.number()?).unwrap_or(usize::MAX);
            let count = match kind {
                Kind::Input => aig.inputs.len(),
                Kind::Latch => aig.latches.len(),
                Kind::Output => aig.outputs.len(),
                Kind::Bad => aig.bad.len(),
                Kind::Constraint => aig.constraints.len(),
                Kind::Justice => aig.justice.len(),
                Kind::Fairness => aig.fairness.len(),
            };
            if at >= count || !seen.insert((kind, at)) {
                return Err(self.fault("a symbol names what is not there, or names it again"));
            }
            self.byte(b' ', "a space")?;
            let mut name = String::new();
            while let Some(byte) = self.peek().filter(|byte| byte.is_ascii_graphic() || *byte == b' ') {
                name.push(char::from(byte));
                self.at += 1;
            }
            self.end_line()?;
            aig.symbols.push(Symbol { kind, at, name });
        }
        Ok(())
    }
    fn comment(&mut self, aig: &mut Aig) -> Result<(), Fault> {
        let mut lines = Vec::new();
        while self.peek().is_some() {
            let rest = self.bytes.get(self.at..).unwrap_or_default();
            let length = rest.iter().position(|byte| *byte == b'\n').unwrap_or(rest.len());
            lines.push(String::from_utf8_lossy(rest.get(..length).unwrap_or_default()).into_owned());
            self.at += length;
            self.end_line()?;
        }
        aig.comment = Some(lines);
        Ok(())
    }
}
