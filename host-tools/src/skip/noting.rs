//! The reading that notes what it goes by.
//!
//! Bits are those of the plain reading. A word carries, beside its number, the sum of words before and inputs that it is, and each comparison
//! notes how it came out. From the same bits, any words and inputs of which every comparison noted comes out so again take the same way
//! through the scan: its bits are the same, and its words are those sums. What is no such sum is held to the number it has.

use logic_rules::Algebra;

/// A word before the scan, or an input; words come first.
pub(super) type Place = u16;
const NONE: Place = Place::MAX;
/// Places that one sum can hold, on either side.
const ROOM: usize = 4;

/// A sum of places and a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Sum {
    plus: [Place; ROOM],
    minus: [Place; ROOM],
    rest: i64,
}

impl Sum {
    fn fixed(value: u32) -> Self {
        Self { plus: [NONE; ROOM], minus: [NONE; ROOM], rest: i64::from(value) }
    }
    /// What stands at a place.
    pub(super) fn at(place: Place) -> Self {
        let [_, others @ ..] = [NONE; ROOM];
        let [b, c, d] = others;
        Self { plus: [place, b, c, d], minus: [NONE; ROOM], rest: 0 }
    }
    fn is_fixed(&self) -> bool {
        self.plus().next().is_none() && self.minus().next().is_none()
    }
    /// Places that are added.
    pub(super) fn plus(&self) -> impl Iterator<Item = Place> + '_ {
        self.plus.iter().copied().filter(|place| *place != NONE)
    }
    /// Places that are taken off.
    pub(super) fn minus(&self) -> impl Iterator<Item = Place> + '_ {
        self.minus.iter().copied().filter(|place| *place != NONE)
    }
    /// The number beside the places.
    pub(super) fn rest(&self) -> i64 {
        self.rest
    }
    /// Both sums; none if there is no room.
    fn and(self, other: &Self) -> Option<Self> {
        let mut sum = Self { rest: self.rest.checked_add(other.rest)?, ..self };
        for place in other.plus() {
            put(&mut sum.plus, &mut sum.minus, place)?;
        }
        for place in other.minus() {
            put(&mut sum.minus, &mut sum.plus, place)?;
        }
        Some(sum)
    }
    fn negative(self) -> Self {
        Self { plus: self.minus, minus: self.plus, rest: self.rest.saturating_neg() }
    }
    /// Its value.
    pub(super) fn value(&self, words: &[u32], inputs: &[u32]) -> i64 {
        let at = |place: Place| value(words, inputs, place);
        let plus: i64 = self.plus().map(at).sum();
        let minus: i64 = self.minus().map(at).sum();
        self.rest + plus - minus
    }
}

/// What stands at a place.
pub(super) fn value(words: &[u32], inputs: &[u32], place: Place) -> i64 {
    let place = usize::from(place);
    let found = words.get(place).or_else(|| inputs.get(place.checked_sub(words.len())?));
    found.map_or(0, |word| i64::from(*word))
}

/// Adds a place on one side, or takes it off on the other.
fn put(here: &mut [Place; ROOM], there: &mut [Place; ROOM], place: Place) -> Option<()> {
    if let Some(same) = there.iter_mut().find(|other| **other == place) {
        *same = NONE;
    } else {
        *here.iter_mut().find(|free| **free == NONE)? = place;
    }
    Some(())
}

/// A word of the reading.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Noted {
    now: u32,
    sum: Sum,
    /// The sum without its sign.
    apart: bool,
}

impl Noted {
    pub(super) fn fixed(value: u32) -> Self {
        Self { now: value, sum: Sum::fixed(value), apart: false }
    }
    /// What stands at a place, and its number now.
    pub(super) fn at(place: Place, now: u32) -> Self {
        Self { now, sum: Sum::at(place), apart: false }
    }
    /// Its number in this scan.
    pub(super) fn now(&self) -> u32 {
        self.now
    }
    /// The sum that it is, if it is one.
    pub(super) fn sum(&self) -> Option<Sum> {
        (!self.apart).then_some(self.sum)
    }
    fn is_fixed(&self) -> bool {
        self.sum.is_fixed()
    }
}

/// A comparison, and how it came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Guard {
    /// What is compared.
    pub(super) sum: Sum,
    /// Without its sign.
    pub(super) apart: bool,
    /// With what.
    pub(super) least: i64,
    /// It reaches it.
    pub(super) holds: bool,
}

impl Guard {
    /// It comes out so again.
    pub(super) fn again(&self, words: &[u32], inputs: &[u32]) -> bool {
        let value = self.sum.value(words, inputs);
        let value = if self.apart { value.saturating_abs() } else { value };
        (value >= self.least) == self.holds
    }
}

/// The reading.
#[derive(Debug, Default)]
pub(crate) struct Noting {
    /// Every comparison that was made.
    pub(super) guards: Vec<Guard>,
}

impl Noting {
    fn guard(&mut self, sum: Sum, apart: bool, least: i64, holds: bool) -> bool {
        if !sum.is_fixed() {
            self.guards.push(Guard { sum, apart, least, holds });
        }
        holds
    }
    /// Holds a word to the number that it has.
    fn pin(&mut self, word: Noted) -> Noted {
        let now = i64::from(word.now);
        self.guard(word.sum, word.apart, now, true);
        self.guard(word.sum, word.apart, now.saturating_add(1), false);
        Noted::fixed(word.now)
    }
    /// Both words, their sum if there is one, or both held to their numbers.
    fn sum(&mut self, a: Noted, b: Noted, sign: fn(Sum) -> Sum) -> Sum {
        let [a, b] = [a, b].map(|word| if word.apart { self.pin(word) } else { word });
        a.sum.and(&sign(b.sum)).unwrap_or_else(|| {
            let [a, b] = [self.pin(a), self.pin(b)];
            let both = i64::from(a.now).saturating_add(sign(b.sum).rest);
            Sum { rest: both, ..Sum::fixed(0) }
        })
    }
}

impl Algebra for Noting {
    type Bit = bool;
    type Word = Noted;
    fn bit(&mut self, value: bool) -> bool {
        value
    }
    fn not(&mut self, a: bool) -> bool {
        !a
    }
    fn and(&mut self, a: bool, b: bool) -> bool {
        a && b
    }
    fn or(&mut self, a: bool, b: bool) -> bool {
        a || b
    }
    fn xor(&mut self, a: bool, b: bool) -> bool {
        a != b
    }
    fn word(&mut self, value: u32) -> Noted {
        Noted::fixed(value)
    }
    fn add(&mut self, a: Noted, b: Noted, top: u32) -> Noted {
        let now = a.now.saturating_add(b.now).min(top);
        if a.is_fixed() && b.is_fixed() {
            return Noted::fixed(now);
        }
        let sum = self.sum(a, b, |sum| sum);
        let full = u64::from(a.now) + u64::from(b.now) >= u64::from(top);
        if self.guard(sum, false, i64::from(top), full) { Noted::fixed(top) } else { Noted { now, sum, apart: false } }
    }
    fn sub(&mut self, a: Noted, b: Noted) -> Noted {
        let now = a.now.saturating_sub(b.now);
        if b.is_fixed() && b.now == 0 {
            return a;
        }
        if a.is_fixed() && b.is_fixed() {
            return Noted::fixed(now);
        }
        let sum = self.sum(a, b, Sum::negative);
        if self.guard(sum, false, 0, a.now >= b.now) { Noted { now, sum, apart: false } } else { Noted::fixed(0) }
    }
    fn difference(&mut self, a: Noted, b: Noted) -> Noted {
        let now = a.now.abs_diff(b.now);
        if a.is_fixed() && b.is_fixed() {
            return Noted::fixed(now);
        }
        Noted { now, sum: self.sum(a, b, Sum::negative), apart: true }
    }
    fn at_least(&mut self, a: Noted, limit: u32) -> bool {
        self.guard(a.sum, a.apart, i64::from(limit), a.now >= limit)
    }
    fn set_bit(&mut self, when: bool, cell: &mut bool, new: bool) {
        if when {
            *cell = new;
        }
    }
    fn set_word(&mut self, when: bool, cell: &mut Noted, new: Noted) {
        if when {
            *cell = new;
        }
    }
    fn possible(&mut self, a: bool) -> bool {
        a
    }
}
