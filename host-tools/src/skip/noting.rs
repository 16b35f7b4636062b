//! The reading that notes what it goes by.
//!
//! A word carries, beside its number, the sum of words before and inputs that it is. A bit carries, beside its value, the comparisons that
//! it comes from; those of bits that decide anything are kept, with how they came out. From the same bits, any words and inputs of which
//! every comparison kept comes out so again take the same way through the scan: its bits are the same, and its words are those sums. What is
//! no such sum is held to the number it has.

use crate::run::Legible;
use logic_rules::Algebra;

/// A word before the scan, or an input; words come first.
pub(super) type Place = u16;
const NONE: Place = Place::MAX;
/// The place of a number; none if there are too many, since the last stands for nothing.
pub(super) fn place(number: usize) -> Option<Place> {
    Place::try_from(number).ok().filter(|place| *place != NONE)
}
/// Places that one sum can hold, on either side.
const ROOM: usize = 4;

/// A sum of places and a number. On either side places stand before those where there is none.
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
    /// What stands at two places; nothing at those that there are not.
    pub(super) fn both(one: usize, other: usize) -> Self {
        let place = |at: usize| Place::try_from(at).unwrap_or(NONE);
        let [_, _, others @ ..] = [NONE; ROOM];
        let [c, d] = others;
        Self { plus: [place(one), place(other), c, d], minus: [NONE; ROOM], rest: 0 }
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
    /// All places.
    pub(super) fn places(&self) -> impl Iterator<Item = usize> + '_ {
        self.plus().chain(self.minus()).map(usize::from)
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
        let all = |places: &[Place; ROOM]| {
            let places = places.iter().take_while(|place| **place != NONE);
            places.fold(0, |sum, place| sum + value(words, inputs, *place))
        };
        self.rest + all(&self.plus) - all(&self.minus)
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
    if let Some(rest) = there.iter().position(|other| *other == place).and_then(|same| there.get_mut(same..)) {
        rest.rotate_left(1);
        if let Some(last) = rest.last_mut() {
            *last = NONE;
        }
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
    /// At most this.
    top: u32,
}

impl Noted {
    pub(super) fn fixed(value: u32) -> Self {
        Self { now: value, sum: Sum::fixed(value), apart: false, top: u32::MAX }
    }
    /// What stands at a place, and its number now.
    pub(super) fn at(place: Place, now: u32) -> Self {
        Self { now, sum: Sum::at(place), apart: false, top: u32::MAX }
    }
    /// Its number in this scan.
    pub(super) fn now(&self) -> u32 {
        self.now
    }
    /// The sum that it is, if it is one, and the most that it can be.
    pub(super) fn sum(&self) -> Option<(Sum, u32)> {
        (!self.apart).then_some((self.sum, self.top))
    }
    fn is_fixed(&self) -> bool {
        self.sum.is_fixed()
    }
}

/// A bit of the reading, and what it comes from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bit {
    now: bool,
    why: Option<usize>,
}

/// What a bit comes from.
#[derive(Debug, Clone, Copy)]
enum Why {
    Guard(Guard),
    Both(usize, usize),
    /// It is kept already.
    Kept,
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
    /// The same from the other side, if nothing but a number is added: a number less a sum reaches a bound where the sum does not go beyond what is left.
    pub(super) fn turned(&self) -> Option<Self> {
        let below = !self.apart && self.sum.plus().next().is_none();
        below.then(|| Self {
            sum: self.sum.negative(),
            least: self.least.saturating_neg().saturating_add(1),
            holds: !self.holds,
            ..*self
        })
    }
}

/// The reading.
#[derive(Debug)]
pub(crate) struct Noting {
    /// Words of the state: places behind them are inputs.
    words: usize,
    whys: Vec<Why>,
    /// Every comparison by which something was decided.
    kept: Vec<Guard>,
    /// What is still to be looked at.
    left: Vec<usize>,
}

impl Noting {
    /// For a state of so many words.
    pub(super) fn new(words: usize) -> Self {
        Self { words, whys: Vec::new(), kept: Vec::new(), left: Vec::new() }
    }
    /// Every comparison by which something was decided.
    pub(super) fn kept(&self) -> &[Guard] {
        &self.kept
    }
    fn why(&mut self, why: Why) -> usize {
        self.whys.push(why);
        self.whys.len() - 1
    }
    fn both(&mut self, a: Bit, b: Bit) -> Option<usize> {
        match (a.why, b.why) {
            (Some(a), Some(b)) if a != b => Some(self.why(Why::Both(a, b))),
            (a, b) => a.or(b),
        }
    }
    /// Something is decided by a bit: what it comes from is kept.
    pub(crate) fn decides(&mut self, bit: Bit) -> bool {
        self.left.extend(bit.why);
        while let Some(at) = self.left.pop() {
            let Some(why) = self.whys.get_mut(at) else { continue };
            match std::mem::replace(why, Why::Kept) {
                Why::Guard(guard) => self.kept.push(guard),
                Why::Both(a, b) => self.left.extend([a, b]),
                Why::Kept => {}
            }
        }
        bit.now
    }
    fn guard(&mut self, sum: Sum, apart: bool, least: i64, holds: bool) -> Bit {
        if sum.is_fixed() {
            return Bit { now: holds, why: None };
        }
        Bit { now: holds, why: Some(self.why(Why::Guard(Guard { sum, apart, least, holds }))) }
    }
    /// A comparison that decides at once.
    fn decided(&mut self, sum: Sum, apart: bool, least: i64, holds: bool) -> bool {
        let bit = self.guard(sum, apart, least, holds);
        self.decides(bit)
    }
    /// Holds a word to the number that it has.
    fn pin(&mut self, word: Noted) -> Noted {
        let now = i64::from(word.now);
        self.decided(word.sum, word.apart, now, true);
        self.decided(word.sum, word.apart, now.saturating_add(1), false);
        Noted::fixed(word.now)
    }
    /// A word that is the sum itself.
    fn bare(&mut self, word: Noted) -> Noted {
        let top = word.top;
        if top < u32::MAX && self.decided(word.sum, word.apart, i64::from(top), word.now >= top) {
            Noted::fixed(top)
        } else if word.apart {
            self.pin(word)
        } else {
            Noted { top: u32::MAX, ..word }
        }
    }
    /// The sum of two bare words if there is one, or of the numbers that they are held to.
    fn sum(&mut self, a: Noted, b: Noted, sign: fn(Sum) -> Sum) -> Sum {
        a.sum.and(&sign(b.sum)).unwrap_or_else(|| {
            let [a, b] = [self.pin(a), self.pin(b)];
            Sum { rest: i64::from(a.now).saturating_add(sign(b.sum).rest), ..Sum::fixed(0) }
        })
    }
    /// A word of the state as it stands.
    fn is_state(&self, word: &Noted) -> bool {
        let mut places = word.sum.plus();
        let own = places.next().is_some_and(|place| usize::from(place) < self.words);
        own && places.next().is_none() && word.sum.minus().next().is_none() && word.top == u32::MAX && !word.apart
    }
    /// A number, or an input as it is.
    fn is_given(&self, word: &Noted) -> bool {
        let mut places = word.sum.plus();
        let given = places.next().is_none_or(|place| usize::from(place) >= self.words && word.sum.rest == 0);
        given && places.next().is_none() && word.sum.minus().next().is_none() && word.top == u32::MAX && !word.apart
    }
}

impl Legible for Noting {
    fn truth(bit: Bit) -> bool {
        bit.now
    }
    fn number(word: Noted) -> u32 {
        word.now
    }
}

impl Algebra for Noting {
    type Bit = Bit;
    type Word = Noted;
    fn bit(&mut self, value: bool) -> Bit {
        Bit { now: value, why: None }
    }
    fn not(&mut self, a: Bit) -> Bit {
        Bit { now: !a.now, ..a }
    }
    fn and(&mut self, a: Bit, b: Bit) -> Bit {
        match (a.now, b.now) {
            (true, true) => Bit { now: true, why: self.both(a, b) },
            // One that does not hold is enough; best is one that comes from nothing.
            (false, false) if b.why.is_none() => b,
            (false, _) => a,
            (true, false) => b,
        }
    }
    fn or(&mut self, a: Bit, b: Bit) -> Bit {
        match (a.now, b.now) {
            (false, false) => Bit { now: false, why: self.both(a, b) },
            (true, true) if b.why.is_none() => b,
            (true, _) => a,
            (false, true) => b,
        }
    }
    fn xor(&mut self, a: Bit, b: Bit) -> Bit {
        Bit { now: a.now != b.now, why: self.both(a, b) }
    }
    fn word(&mut self, value: u32) -> Noted {
        Noted::fixed(value)
    }
    fn add(&mut self, a: Noted, b: Noted, top: u32) -> Noted {
        let now = a.now.saturating_add(b.now).min(top);
        if a.is_fixed() && b.is_fixed() {
            return Noted::fixed(now);
        }
        // What grows up to a top does so whether it is there already or not.
        if top < u32::MAX
            && self.is_state(&a)
            && self.is_given(&b)
            && let Some(sum) = a.sum.and(&b.sum)
        {
            return Noted { now, sum, apart: false, top };
        }
        let (a, b) = (self.bare(a), self.bare(b));
        let sum = self.sum(a, b, |sum| sum);
        let full = u64::from(a.now) + u64::from(b.now) >= u64::from(top);
        if self.decided(sum, false, i64::from(top), full) {
            Noted::fixed(top)
        } else {
            Noted { now, sum, apart: false, top: u32::MAX }
        }
    }
    fn sub(&mut self, a: Noted, b: Noted) -> Noted {
        if b.is_fixed() && b.now == 0 {
            return a;
        }
        let (a, b) = (self.bare(a), self.bare(b));
        let now = a.now.saturating_sub(b.now);
        let sum = self.sum(a, b, Sum::negative);
        if self.decided(sum, false, 0, a.now >= b.now) {
            Noted { now, sum, apart: false, top: u32::MAX }
        } else {
            Noted::fixed(0)
        }
    }
    fn difference(&mut self, a: Noted, b: Noted) -> Noted {
        let (a, b) = (self.bare(a), self.bare(b));
        let (now, sum) = (a.now.abs_diff(b.now), self.sum(a, b, Sum::negative));
        if sum.is_fixed() { Noted::fixed(now) } else { Noted { now, sum, apart: true, top: u32::MAX } }
    }
    fn at_least(&mut self, a: Noted, limit: u32) -> Bit {
        if limit > a.top {
            return Bit { now: false, why: None };
        }
        self.guard(a.sum, a.apart, i64::from(limit), a.now >= limit)
    }
    fn set_bit(&mut self, when: Bit, cell: &mut Bit, new: Bit) {
        if self.decides(when) {
            *cell = new;
        }
    }
    fn set_word(&mut self, when: Bit, cell: &mut Noted, new: Noted) {
        if self.decides(when) {
            *cell = new;
        }
    }
    fn possible(&mut self, a: Bit) -> bool {
        self.decides(a)
    }
}
