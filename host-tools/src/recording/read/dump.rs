//! A value change dump as a recording: IEEE 1364-2005, clause 18.
//!
//! A dump says what changes; what nothing changes holds. Scans are as far apart as the station's, from the first time at which every
//! channel and counter is known. A scan samples: it sees what is so at its time.

use std::io::BufRead;

use super::Step;
use super::changes::LONGEST_US;
use super::dump_again::Moved;
use super::dump_ids::Ids;
use super::dump_known::{Known, Value};
use super::dump_lines::{Plain, plain};
use super::dump_top::Head;
use super::fault::{Bad, ReadFault, quoted};
use super::foreseen::Foreseen;
use super::mapping::Mapping;
use super::tokens::Tokens;
use super::top::Top;
use crate::sample::Sample;
use crate::station::Station;

/// A dump being read.
#[derive(Debug)]
pub(super) struct Dump<'s, R> {
    pub(super) tokens: Tokens<R>,
    pub(super) head: Head<'s>,
    pub(super) scan_us: u64,
    pub(super) known: Known,
    pub(super) ids: Ids,
    /// A time that was read and whose changes have not been.
    pub(super) ahead: Option<u64>,
    /// The last time of this part, and whether anything changed at it.
    pub(super) last: (u64, bool),
    /// Why there is no time ahead.
    over: Option<Over>,
    pub(super) now_us: Option<u64>,
    /// The first scan of a part waits until everything is known.
    pub(super) fresh: bool,
    pub(super) scan: u64,
    /// Something changed since the last scan.
    changed: bool,
    pub(super) foreseen: Foreseen,
    /// Changes of scans that may be passed over, and what is then read.
    pub(super) moved: Vec<Moved>,
    pub(super) passing: Sample,
}

/// What ends a part of a dump.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Over {
    End,
    PowerUp,
}

impl<'s, R: BufRead> Dump<'s, R> {
    pub(super) fn open(source: R, station: &'s Station, mapping: Option<&Mapping>) -> Result<Self, ReadFault> {
        let mut tokens = Tokens::new(source);
        let mut head = Head::read(&mut tokens, station, mapping)?;
        let (ids, known) = (Ids::new(&mut head), Known::new(&head));
        let scan_us = u64::from(station.scan_us);
        Ok(Self {
            tokens,
            head,
            scan_us,
            known,
            ids,
            ahead: None,
            last: (0, false),
            over: None,
            now_us: None,
            fresh: true,
            scan: 1,
            changed: true,
            foreseen: Foreseen::default(),
            moved: Vec::new(),
            passing: Sample::default(),
        })
    }
    pub(super) fn top(&self) -> &Top {
        self.head.columns.top()
    }
    pub(super) fn bytes(&self) -> u64 {
        self.tokens.bytes()
    }
    pub(super) fn unseen(&self) -> u64 {
        self.known.unseen()
    }

    /// Where this part ends, if no time is ahead: the last time is the end of the last scan; where something changed at it, a scan sees that.
    pub(super) fn end(&self) -> u64 {
        let (last, changed) = self.last;
        if changed { last.saturating_add(self.scan_us) } else { last }
    }

    pub(super) fn advance(&mut self, sample: &mut Sample) -> Result<Step, ReadFault> {
        while self.fresh {
            let Some(first) = self.time_ahead()? else { return Ok(self.ends()) };
            self.changes()?;
            if let Some(unknown) = self.unknown() {
                // Before its first scan a dump may still be finding out.
                if self.time_ahead()?.is_none() && self.over == Some(Over::End) {
                    return Err(self.tokens.blame(unknown));
                }
                continue;
            }
            self.fresh = false;
            return self.scan(first, sample);
        }
        let next = self.now_us.unwrap_or_default() + self.scan_us;
        while let Some(at) = self.time_ahead()? {
            if at > next {
                self.no_gap(at, next)?;
                break;
            }
            self.changes()?;
        }
        if self.ahead.is_none() && next >= self.end() {
            return Ok(self.ends());
        }
        if let Some(unknown) = self.unknown().filter(|_| self.changed) {
            return Err(self.tokens.blame(unknown));
        }
        self.scan(next, sample)
    }

    fn scan(&mut self, at_us: u64, sample: &mut Sample) -> Result<Step, ReadFault> {
        if std::mem::take(&mut self.changed) {
            self.sample(sample)?;
        }
        self.now_us = Some(at_us);
        self.scan += 1;
        self.foreseen.read();
        Ok(Step::Scan { at_us })
    }

    /// A part is over: the dump, or what there is of it before the controller starts anew.
    fn ends(&mut self) -> Step {
        match self.over {
            Some(Over::PowerUp) => {
                (self.over, self.fresh, self.last.1) = (None, true, false);
                Step::PowerUp
            }
            _ => Step::End,
        }
    }

    /// The next time, if there is one in this part.
    fn time_ahead(&mut self) -> Result<Option<u64>, ReadFault> {
        if self.ahead.is_none() && self.over.is_none() {
            self.changes()?;
        }
        Ok(self.ahead)
    }

    fn no_gap(&self, at: u64, next: u64) -> Result<(), ReadFault> {
        if at <= next + LONGEST_US {
            return Ok(());
        }
        Err(self.tokens.blame(Bad::new(
            "a gap: nothing is recorded for more than a day before this time",
            format!("a time within a day of {next} us"),
            "is `$timescale` right? Cut the dump here, or write `$comment power-up $end` before the time",
        )))
    }

    /// Takes the changes of the time ahead, up to the next time or the end of the part.
    fn changes(&mut self) -> Result<(), ReadFault> {
        self.ahead = None;
        while !self.plain() && self.tokens.advance()? {
            let word = self.tokens.word();
            match word.first().copied() {
                Some(b'#') => {
                    let at = self.time()?;
                    if at < self.last.0 {
                        let expected = format!("a time of at least {} us", self.last.0);
                        let bad =
                            Bad::new("time runs backwards", expected, "sort the dump by time; was the clock set?");
                        return Err(self.tokens.blame(bad));
                    }
                    self.last = (at, false);
                    self.ahead = Some(at);
                    return Ok(());
                }
                Some(b'0' | b'1' | b'x' | b'X' | b'z' | b'Z') => {
                    let value = bits(word.get(..1).unwrap_or_default(), false);
                    let id: Box<[u8]> = word.get(1..).unwrap_or_default().into();
                    self.change(&id, value)?;
                }
                Some(b'b' | b'B') => {
                    let digits: Box<[u8]> = word.get(1..).unwrap_or_default().into();
                    if bits(&digits, false).is_none() {
                        return Err(self.tokens.blame(no_value(word)));
                    }
                    let id: Box<[u8]> = self.tokens.expect("the identifier of a variable")?.into();
                    // An integer of 32 bits has a sign.
                    let signed = self.ids.of(&id).and_then(|of| self.head.variables.get(*of.first()?));
                    self.change(&id, bits(&digits, signed.is_some_and(|variable| variable.signed)))?;
                }
                Some(b'r' | b'R') => {
                    let number = std::str::from_utf8(word.get(1..).unwrap_or_default()).ok();
                    let number = number.and_then(|text| text.parse::<f64>().ok()).filter(|number| number.is_finite());
                    let Some(number) = number else { return Err(self.tokens.blame(no_value(word))) };
                    let id: Box<[u8]> = self.tokens.expect("the identifier of a variable")?.into();
                    self.change(&id, Some(Value::Number(number)))?;
                }
                Some(b'$') => match word {
                    b"$comment" => {
                        if self.tokens.until_end()? == b"power-up" {
                            self.over = Some(Over::PowerUp);
                            return Ok(());
                        }
                    }
                    b"$dumpvars" | b"$dumpall" | b"$dumpon" | b"$dumpoff" | b"$end" => {}
                    _ => return Err(self.tokens.blame(no_value(word))),
                },
                _ => return Err(self.tokens.blame(no_value(word))),
            }
        }
        if self.ahead.is_none() {
            self.over = Some(Over::End);
        }
        Ok(())
    }

    /// Takes plain lines, as far as they lie in one piece; true if the next time was among them.
    fn plain(&mut self) -> bool {
        let Self { tokens, head, known, ids, last, ahead, changed, scan, fresh, .. } = self;
        let lines = tokens.lines();
        let (mut count, mut bytes, mut column) = (0, 0, 1);
        while let Some(line) = lines.get(bytes..).and_then(plain) {
            match line.plain {
                Plain::Time(time) => match head.microseconds(time).filter(|at| *at >= last.0) {
                    Some(at) => (*last, *ahead) = ((at, false), Some(at)),
                    None => break,
                },
                Plain::Change(id, value) => {
                    let Some(variables) = ids.of(id) else { break };
                    for &variable in variables {
                        known.change(variable, Value::Number(value), *scan, *fresh, head);
                    }
                    (last.1, *changed) = (true, true);
                }
            }
            (count, bytes, column) = (count + 1, bytes + line.bytes, line.column);
            if ahead.is_some() {
                break;
            }
        }
        tokens.take_lines(count, bytes, column);
        ahead.is_some()
    }

    fn time(&self) -> Result<u64, ReadFault> {
        let word = self.tokens.word();
        let digits = word.get(1..).filter(|digits| digits.iter().all(u8::is_ascii_digit));
        let number = digits.and_then(|digits| std::str::from_utf8(digits).ok()?.parse::<u64>().ok());
        number.and_then(|number| self.head.microseconds(number)).ok_or_else(|| {
            self.tokens.blame(Bad::new(
                format!("{} is no time", quoted(word)),
                "`#` and a whole number of the unit that `$timescale` gives",
                "count from the start of the recording",
            ))
        })
    }

    fn change(&mut self, id: &[u8], value: Option<Value>) -> Result<(), ReadFault> {
        let Some(value) = value else { return Err(self.tokens.blame(no_value(self.tokens.word()))) };
        (self.last.1, self.changed) = (true, true);
        let Some(variables) = self.ids.of(id) else {
            return Err(self.tokens.blame(Bad::new(
                format!("{} is the identifier of no variable", quoted(id)),
                "an identifier that `$var` declares",
                "copy the dump anew: something is missing",
            )));
        };
        for &variable in variables {
            self.known.change(variable, value, self.scan, self.fresh, &self.head);
        }
        Ok(())
    }

    /// A channel or counter that nobody knows, in words.
    fn unknown(&self) -> Option<Bad> {
        let name = &self.known.unknown(&self.head)?.name;
        Some(Bad::new(
            format!("`{name}` is unknown here (x or z), or has never had a value"),
            "0 or 1 of a channel, and a number of a counter: a doubt in these cannot be replayed",
            "cut the dump where the signal is not known; a gauge or link may be x",
        ))
    }

    /// What a scan sees now.
    fn sample(&mut self, sample: &mut Sample) -> Result<(), ReadFault> {
        match self.known.sample(&self.head, sample) {
            None => Ok(()),
            Some(variable) => Err(self.tokens.blame(Bad::new(
                format!("`{}` has a value that it cannot have", variable.name),
                "a level of 0 or 1, a rank of 0 to 255, whole millimetres of a counter, what a gauge can show",
                "is the variable that of this terminal, and in its unit?",
            ))),
        }
    }
}

/// Binary digits as a number: what is left out at the left is 0. None of what are no digits, or more than 53.
fn bits(digits: &[u8], signed: bool) -> Option<Value> {
    if digits.is_empty() {
        return None;
    }
    let mut value: i64 = 0;
    for digit in digits {
        match digit {
            b'0' | b'1' => value = value.checked_mul(2)?.checked_add(i64::from(digit - b'0'))?,
            b'x' | b'X' | b'z' | b'Z' => return Some(Value::Unknown),
            _ => return None,
        }
    }
    if signed && digits.len() == 32 && digits.first() == Some(&b'1') {
        value -= 1 << 32;
    }
    (value < 1 << 53).then(|| Value::Number(exact(value)))
}

#[expect(clippy::cast_precision_loss, reason = "below two to the power of 53")]
fn exact(value: i64) -> f64 {
    value as f64
}

fn no_value(word: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no value change", quoted(word)),
        "`0!`, `x!`, `b101 !`, `r1.5 !`, `#100`, `$dumpvars`, `$comment ... $end`, where `!` is an identifier",
        "copy the dump anew; `haltproof manual recordings` says what is read of one",
    )
}
