//! A value change dump as a recording: IEEE 1364-2005, clause 18.
//!
//! A dump says what changes; what nothing changes holds. Scans are as far apart as the station's, from the first time at which every
//! channel and counter is known. A scan samples: it sees what is so at its time.

use std::collections::HashMap;
use std::io::BufRead;

use super::Step;
use super::cells;
use super::changes::LONGEST_US;
use super::columns::Slot;
use super::dump_top::{Head, Target, Variable};
use super::fault::{Bad, ReadFault, quoted};
use super::mapping::Mapping;
use super::tokens::Tokens;
use super::top::Top;
use crate::sample::{Frame, Health, Reading, Sample};
use crate::scale::{scale, scale_value};
use crate::station::Station;

/// A gauge of which nobody knows what it shows.
const DOUBT: Reading = Reading { steps: 0, health: Health::Doubtful };

/// What a variable says.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Value {
    Number(f64),
    /// `x` or `z`: nobody knows.
    Unknown,
}

/// A dump being read.
#[derive(Debug)]
pub(super) struct Dump<'s, R> {
    tokens: Tokens<R>,
    head: Head<'s>,
    scan_us: u64,
    /// What each variable is, and the scan that saw it last change.
    now: Vec<(Value, u64)>,
    /// Variables by identifier.
    by_id: HashMap<Box<[u8]>, Vec<usize>>,
    /// A time that was read and whose changes have not been.
    ahead: Option<u64>,
    /// The last time of this part, and whether anything changed at it.
    last: (u64, bool),
    /// Why there is no time ahead.
    over: Option<Over>,
    now_us: Option<u64>,
    /// The first scan of a part waits until everything is known.
    fresh: bool,
    scan: u64,
    /// Something changed since the last scan.
    changed: bool,
    /// Changes that came and went between two scans.
    unseen: u64,
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
        let head = Head::read(&mut tokens, station, mapping)?;
        let mut by_id: HashMap<Box<[u8]>, Vec<usize>> = HashMap::new();
        for (number, variable) in head.variables.iter().enumerate() {
            by_id.entry(variable.id.clone()).or_default().push(number);
        }
        let now = vec![(Value::Unknown, 0); head.variables.len()];
        let scan_us = u64::from(station.scan_us);
        Ok(Self {
            tokens,
            head,
            scan_us,
            now,
            by_id,
            ahead: None,
            last: (0, false),
            over: None,
            now_us: None,
            fresh: true,
            scan: 1,
            changed: true,
            unseen: 0,
        })
    }
    pub(super) fn top(&self) -> &Top {
        self.head.columns.top()
    }
    pub(super) fn bytes(&self) -> u64 {
        self.tokens.bytes()
    }
    pub(super) fn unseen(&self) -> u64 {
        self.unseen
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
        // The last time is the end of the last scan; where something changed at it, a scan sees that.
        let (last, changed) = self.last;
        let end = if changed { last.saturating_add(self.scan_us) } else { last };
        if self.ahead.is_none() && next >= end {
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
        while self.tokens.advance()? {
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
                    let signed = self.by_id.get(&id).and_then(|of| self.head.variables.get(*of.first()?));
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
        self.over = Some(Over::End);
        Ok(())
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
        let Some(variables) = self.by_id.get(id) else {
            if self.head.others.contains(id) {
                return Ok(());
            }
            return Err(self.tokens.blame(Bad::new(
                format!("{} is the identifier of no variable", quoted(id)),
                "an identifier that `$var` declares",
                "copy the dump anew: something is missing",
            )));
        };
        for &variable in variables {
            let Some((now, seen)) = self.now.get_mut(variable) else { continue };
            if *now != value {
                // It changed before in this very scan: nobody saw what it was.
                self.unseen += u64::from(*seen == self.scan && !self.fresh);
                (*now, *seen) = (value, self.scan);
            }
        }
        Ok(())
    }

    /// A channel or counter that nobody knows, in words.
    fn unknown(&self) -> Option<Bad> {
        let variables = self.head.variables.iter().zip(&self.now);
        let mut unknown = variables.filter(|(variable, (now, _))| variable.must_be_known() && *now == Value::Unknown);
        unknown.next().map(|(Variable { name, .. }, _)| {
            Bad::new(
                format!("`{name}` is unknown here (x or z), or has never had a value"),
                "0 or 1 of a channel, and a number of a counter: a doubt in these cannot be replayed",
                "cut the dump where the signal is not known; a gauge or link may be x",
            )
        })
    }

    /// What a scan sees now.
    fn sample(&mut self, sample: &mut Sample) -> Result<(), ReadFault> {
        let mut bad = None;
        sample.travel.fill(0);
        for (variable, (value, _)) in self.head.variables.iter().zip(&self.now) {
            let number = match value {
                Value::Number(number) => Some(*number),
                Value::Unknown => None,
            };
            if !put(variable, number, &self.head, sample) {
                bad = Some(variable.name.clone());
            }
        }
        // Its three variables together say what a gauge of our own dumps is.
        for doubt in &self.head.doubts {
            let is = |place: Option<usize>| {
                place.and_then(|place| self.now.get(place)).is_some_and(|(now, _)| *now != Value::Number(0.0))
            };
            if let Some(reading) = sample.gauges.get_mut(doubt.gauge) {
                let health = [(doubt.broken, Health::Broken), (doubt.doubtful, Health::Doubtful)];
                if let Some((_, health)) = health.into_iter().find(|(place, _)| is(*place)) {
                    (reading.steps, reading.health) = (0, health);
                }
            }
        }
        match bad {
            None => Ok(()),
            Some(name) => Err(self.tokens.blame(Bad::new(
                format!("`{name}` has a value that it cannot have"),
                "a level of 0 or 1, a rank of 0 to 255, whole millimetres of a counter, what a gauge can show",
                "is the variable that of this terminal, and in its unit?",
            ))),
        }
    }
}

/// Puts a value into its place; false if it does not fit.
fn put(variable: &Variable, number: Option<f64>, head: &Head<'_>, sample: &mut Sample) -> bool {
    let bit = |number: f64| match whole(number) {
        Some(0) => Some(false),
        Some(1) => Some(true),
        _ => None,
    };
    match variable.target {
        Target::Level(i) => {
            let level = number.and_then(bit);
            if let (Some(level), Some(cell)) = (level, sample.channels.get_mut(i)) {
                *cell = level;
            }
            level.is_some()
        }
        Target::Travel(i, mm) => {
            let travel = number.and_then(|number| whole(number * f64::from(mm))).and_then(|mm| i32::try_from(mm).ok());
            if let (Some(travel), Some(cell)) = (travel, sample.travel.get_mut(i)) {
                *cell = travel;
            }
            travel.is_some()
        }
        Target::Scaled(slot) => match (number, slot) {
            (Some(number), _) => cells::put(
                slot,
                number.to_string().as_bytes(),
                &head.columns.gauges,
                &mut cells::Said::default(),
                sample,
            )
            .is_ok(),
            (None, Slot::Gauge(i, _)) => {
                if let Some(cell) = sample.gauges.get_mut(i) {
                    *cell = DOUBT;
                }
                true
            }
            (None, _) => false,
        },
        Target::Value(i, _) | Target::Current(i, _) | Target::Steps(i) => {
            let (Some(gauge), Some(cell)) = (head.columns.gauges.get(i).copied().flatten(), sample.gauges.get_mut(i))
            else {
                return true;
            };
            let Some(number) = number else {
                *cell = DOUBT;
                return true;
            };
            let times = |by: f64| whole((number * by).round());
            *cell = match variable.target {
                Target::Current(_, nano) => match times(nano) {
                    Some(na) => scale(gauge, na),
                    None => return false,
                },
                Target::Value(_, millionths) => match times(millionths) {
                    Some(micro) => scale_value(gauge, micro),
                    None => return false,
                },
                _ => {
                    let steps = times(1e6).map(|micro| micro.div_euclid(gauge.step_micro) - gauge.lowest);
                    match steps.and_then(|steps| u32::try_from(steps).ok()).filter(|steps| *steps <= gauge.top) {
                        Some(steps) => Reading { steps, health: Health::Good },
                        None => DOUBT,
                    }
                }
            };
            true
        }
        Target::Fresh(i) => {
            if let Some(cell) = sample.links.get_mut(i) {
                cell.fresh = number.and_then(bit) == Some(true);
            }
            true
        }
        Target::Order(i) => {
            let order = number.and_then(whole).and_then(|order| u8::try_from(order).ok());
            if let Some(cell) = sample.links.get_mut(i) {
                match order {
                    Some(order) => cell.order = order,
                    // Nobody knows what was ordered, and a rank that nobody knows is the most severe.
                    None => cell.order = u8::MAX,
                }
            }
            order.is_some() || number.is_none()
        }
        Target::Rank(i) => {
            let order = number.and_then(whole).and_then(|order| u8::try_from(order).ok());
            if let Some(cell) = sample.links.get_mut(i) {
                *cell = order.map_or_else(Frame::default, |order| Frame { fresh: true, order });
            }
            order.is_some() || number.is_none()
        }
        Target::Health => true,
    }
}

/// A whole number, if it is one and not too large for one.
#[expect(clippy::cast_possible_truncation, reason = "it is whole and below two to the power of 53")]
fn whole(number: f64) -> Option<i64> {
    (number.fract() == 0.0 && number.abs() < 9e15).then_some(number as i64)
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
