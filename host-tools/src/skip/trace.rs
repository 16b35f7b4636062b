//! A way through a scan that has been gone before: when it is the way again, what it makes of the words, which bits it turns, and for how
//! many scans it can be gone on and on without asking again.

use super::After;
use super::noting::{Guard, Place, Sum};
use crate::stays::Room;
use std::hash::{Hash, Hasher};

mod free;
mod ride;
mod rounds;
mod steady;

pub(super) use ride::Ride;
pub(super) use rounds::Rounds;

/// What a scan makes of a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Change {
    /// A number.
    Put(u32),
    /// It grows by a number, up to a top.
    Grow(u16, u32),
    /// It grows by an input, up to a top.
    Run(Place, u32),
    /// An input.
    Last(Place),
    /// Another sum, of this number among those of its trace, up to a top.
    Sum(Place, u32),
}

impl Change {
    /// The word grows.
    fn grows(self) -> bool {
        matches!(self, Self::Grow(..) | Self::Run(..))
    }
}

/// Words that change, in order, and what is made of each. Traces are many: they are to be small.
type Changes = Vec<(Place, Change)>;

/// Bounds of a word, or of an input, whose places are those behind the words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Bound {
    place: Place,
    least: u32,
    most: u32,
}

/// Bounds of two places together, of which the first is a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Pair {
    word: usize,
    other: usize,
    least: i64,
    most: i64,
    /// While the trace is gone again and again: the word grows by this input.
    grows: bool,
}

/// Bounds of a sum. Many comparisons are of one sum, as of a speed with all its limits.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Other {
    sum: Sum,
    /// Without its sign.
    apart: bool,
    least: i64,
    most: i64,
}

/// A way through a scan, from bits as they are.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Trace {
    /// Bounds of words and inputs, in order; none of those that are not bounded.
    bounds: Vec<Bound>,
    /// So many of them are those of words.
    of_words: usize,
    pairs: Vec<Pair>,
    /// Bounds of other sums.
    others: Vec<Other>,
    /// The first so many of them are those that inputs can leave.
    given: usize,
    /// Words that change.
    changes: Changes,
    /// Sums that words become.
    sums: Vec<Sum>,
    /// Those that become an input, and which.
    follow: Vec<(usize, usize)>,
    words: usize,
    inputs: usize,
    /// It can be gone again and again.
    lasts: bool,
    /// Bits that it turns, in order.
    turns: Box<[usize]>,
}

fn number(value: i64) -> u32 {
    u32::try_from(value.max(0)).unwrap_or(u32::MAX)
}

impl Trace {
    /// From what a scan noted; none if a word behind it is no sum.
    pub(super) fn new(guards: &[Guard], after: &After, inputs: usize) -> Option<Self> {
        let words = after.words.len();
        let mut trace = Self {
            bounds: Vec::new(),
            of_words: 0,
            pairs: Vec::new(),
            others: Vec::new(),
            given: 0,
            changes: Vec::new(),
            sums: Vec::new(),
            follow: Vec::new(),
            words,
            inputs,
            lasts: false,
            turns: after.turned.as_slice().into(),
        };
        let mut bounds = vec![Room::ALL; words + inputs];
        for guard in guards {
            trace.take(guard, &mut bounds);
        }
        let bounded = (0..).zip(&bounds).filter(|(_, room)| **room != Room::ALL);
        trace.bounds = bounded.map(|(place, room)| Bound { place, least: room.least, most: room.most }).collect();
        for (word, noted) in after.words.iter().enumerate() {
            let place = Place::try_from(word).ok()?;
            let (sum, top) = noted.sum()?;
            if sum != Sum::at(place) || top < u32::MAX {
                let change = if let Some(change) = change(&sum, top, place, words) {
                    change
                } else {
                    trace.sums.push(sum);
                    Change::Sum(Place::try_from(trace.sums.len() - 1).ok()?, top)
                };
                if let Change::Last(input) = change {
                    trace.follow.push((word, usize::from(input)));
                }
                trace.changes.push((place, change));
            }
        }
        let (mut given, rest): (Vec<Other>, Vec<Other>) = trace.others.iter().partition(|other| trace.is_given(other));
        trace.given = given.len();
        given.extend(rest);
        trace.others = given;
        trace.of_words = trace.bounds.partition_point(|bound| usize::from(bound.place) < words);
        trace.bounds.shrink_to_fit();
        trace.changes.shrink_to_fit();
        trace.pairs.shrink_to_fit();
        trace.others.shrink_to_fit();
        trace.sums.shrink_to_fit();
        trace.follow.shrink_to_fit();
        for at in 0..trace.pairs.len() {
            let grows = trace.pairs.get(at).is_some_and(|pair| trace.change(pair.word).is_some_and(Change::grows));
            if let Some(pair) = trace.pairs.get_mut(at) {
                pair.grows = grows;
            }
        }
        trace.lasts = trace.turns.is_empty() && trace.can_last();
        Some(trace)
    }

    /// Whether it can be gone again and again.
    pub(super) fn lasts(&self) -> bool {
        self.lasts
    }
    /// Bits that it turns, in order.
    pub(super) fn turns(&self) -> &[usize] {
        &self.turns
    }
    /// Bytes that it takes.
    pub(super) fn size(&self) -> usize {
        fn of<T>(all: &[T]) -> usize {
            size_of_val(all)
        }
        let (bounds, guards) = (of(&self.bounds), of(&self.others) + of(&self.sums));
        size_of::<Self>() + bounds + guards + of(&self.turns) + of(&self.pairs) + of(&self.changes) + of(&self.follow)
    }

    /// Takes up what a comparison demands.
    fn take(&mut self, guard: &Guard, bounds: &mut [Room]) {
        // A number less what is taken off: from the other side.
        let turned = guard.turned();
        let guard = turned.as_ref().unwrap_or(guard);
        let (mut plus, mut minus) = (guard.sum.plus(), guard.sum.minus());
        let places = (plus.next(), plus.next(), plus.next(), minus.next());
        let bound = guard.least.saturating_sub(guard.sum.rest());
        let here = |place: Place| usize::from(place);
        match places {
            _ if guard.apart => self.other(guard),
            (Some(place), None, None, None) => {
                if let Some(room) = bounds.get_mut(here(place)) {
                    *room = room.and(reached(bound, guard.holds));
                }
            }
            (Some(a), Some(b), None, None) if here(a.min(b)) < self.words => {
                self.pair(here(a.min(b)), here(a.max(b)), bound, guard.holds);
            }
            _ => self.other(guard),
        }
    }
    fn other(&mut self, guard: &Guard) {
        let (least, most) = reach(guard.least, guard.holds);
        let same = |other: &&mut Other| other.sum == guard.sum && other.apart == guard.apart;
        if let Some(other) = self.others.iter_mut().find(same) {
            (other.least, other.most) = (other.least.max(least), other.most.min(most));
        } else {
            self.others.push(Other { sum: guard.sum, apart: guard.apart, least, most });
        }
    }
    fn pair(&mut self, word: usize, other: usize, bound: i64, reaches: bool) {
        let (least, most) = reach(bound, reaches);
        if let Some(pair) = self.pairs.iter_mut().find(|pair| (pair.word, pair.other) == (word, other)) {
            (pair.least, pair.most) = (pair.least.max(least), pair.most.min(most));
        } else {
            self.pairs.push(Pair { word, other, least, most, grows: false });
        }
    }
    fn change(&self, word: usize) -> Option<Change> {
        let at = self.changes.binary_search_by_key(&word, |(word, _)| usize::from(*word)).ok()?;
        self.changes.get(at).map(|(_, change)| *change)
    }
    /// Whether bounds of all scans to come can be told from here on.
    fn can_last(&self) -> bool {
        let grows = |place: usize| self.change(place).is_some_and(Change::grows);
        let stands = |place: usize| matches!(self.change(place), Some(Change::Put(_)) | None) && place < self.words;
        // A sum of words that stand is the same in every scan to come.
        let settles = |sum: Place| self.sums.get(usize::from(sum)).is_some_and(|sum| sum.places().all(stands));
        let stays = |place: usize| stands(place) || matches!(self.change(place), Some(Change::Sum(..)));
        let known = |change: &Change| match change {
            Change::Sum(sum, _) => settles(*sum),
            Change::Put(_) | Change::Grow(..) | Change::Run(..) | Change::Last(_) => true,
        };
        let bounded = |pair: &Pair| match (self.change(pair.word), pair.other.checked_sub(self.words)) {
            (Some(Change::Run(grown, _)), Some(input)) => usize::from(grown) == input,
            (_, Some(_)) => stays(pair.word),
            (_, None) => stays(pair.word) && stays(pair.other),
        };
        self.changes.iter().all(|(_, change)| known(change))
            && self.pairs.iter().all(bounded)
            && !self.others.iter().any(|other| other.sum.places().any(grows))
    }
    /// Those of the other sums that inputs can leave.
    fn given(&self) -> &[Other] {
        self.others.get(..self.given).unwrap_or_default()
    }
    /// Whether a comparison can come out otherwise while what grows is not asked.
    fn is_given(&self, other: &Other) -> bool {
        other.sum.places().any(|place| place >= self.words || matches!(self.change(place), Some(Change::Last(_))))
    }

    /// Whether it is the way of a scan with these words and inputs.
    pub(super) fn fits(&self, words: &[u32], inputs: &[u32]) -> bool {
        let (of_words, of_inputs) = self.halves();
        of_words.iter().all(|bound| bound.holds(words))
            && of_inputs.iter().all(|bound| bound.holds_input(words.len(), inputs))
            && self.pairs.iter().all(|pair| pair.fits(words, inputs))
            && self.others.iter().all(|other| other.fits(words, inputs))
    }
    /// Bounds of words, then of inputs.
    fn halves(&self) -> (&[Bound], &[Bound]) {
        self.bounds.split_at_checked(self.of_words).unwrap_or((&self.bounds, &[]))
    }
    /// One scan along it.
    pub(super) fn go(&self, words: &mut [u32], inputs: &[u32], sums: &mut Vec<u32>) {
        go(&self.changes, &self.sums, words, inputs, sums);
    }
}

/// Makes of words what a scan does.
fn go(changes: &[(Place, Change)], all: &[Sum], words: &mut [u32], inputs: &[u32], sums: &mut Vec<u32>) {
    let at = |input: Place| inputs.get(usize::from(input)).copied().unwrap_or(0);
    sums.clear();
    for (_, change) in changes {
        if let Change::Sum(sum, top) = change {
            let value = all.get(usize::from(*sum)).map_or(0, |sum| sum.value(words, inputs));
            sums.push(number(value).min(*top));
        }
    }
    let mut sums = sums.iter();
    for (word, change) in changes {
        let Some(cell) = words.get_mut(usize::from(*word)) else { continue };
        *cell = match *change {
            Change::Put(number) => number,
            Change::Grow(by, top) => cell.saturating_add(by.into()).min(top),
            Change::Run(input, top) => cell.saturating_add(at(input)).min(top),
            Change::Last(input) => at(input),
            Change::Sum(..) => sums.next().copied().unwrap_or(0),
        };
    }
}

impl Hash for Trace {
    /// By its bounds: whoever has the same is compared.
    fn hash<H: Hasher>(&self, state: &mut H) {
        let sum = self.bounds.iter().fold(0_u64, |sum, bound| {
            let bound = u64::from(bound.place) << 48 ^ u64::from(bound.least) << 16 ^ u64::from(bound.most);
            sum.rotate_left(7) ^ bound
        });
        state.write_u64(sum);
    }
}

impl Bound {
    /// A word is within it.
    fn holds(&self, words: &[u32]) -> bool {
        words.get(usize::from(self.place)).is_some_and(|now| (self.least..=self.most).contains(now))
    }
    /// An input is, where there are so many words.
    fn holds_input(&self, words: usize, inputs: &[u32]) -> bool {
        let now = usize::from(self.place).checked_sub(words).and_then(|input| inputs.get(input));
        now.is_some_and(|now| (self.least..=self.most).contains(now))
    }
}

impl Pair {
    /// The word grows by the other, and both together stay below a bound.
    fn is_bound(&self) -> bool {
        self.grows && self.least == i64::MIN
    }
    fn fits(&self, words: &[u32], inputs: &[u32]) -> bool {
        let at = |place: usize| words.get(place).or_else(|| inputs.get(place.checked_sub(words.len())?));
        let both = [self.word, self.other].map(|place| at(place).map_or(0, |word| i64::from(*word)));
        (self.least..=self.most).contains(&both.iter().sum())
    }
}

impl Other {
    fn value(&self, words: &[u32], inputs: &[u32]) -> i64 {
        let value = self.sum.value(words, inputs);
        if self.apart { value.saturating_abs() } else { value }
    }
    fn fits(&self, words: &[u32], inputs: &[u32]) -> bool {
        (self.least..=self.most).contains(&self.value(words, inputs))
    }
}

/// Bounds of what reaches a bound, or does not.
fn reach(bound: i64, reaches: bool) -> (i64, i64) {
    if reaches { (bound, i64::MAX) } else { (i64::MIN, bound.saturating_sub(1)) }
}

/// Within what a place is that reaches a bound, or does not.
fn reached(bound: i64, reaches: bool) -> Room {
    if reaches {
        Room { least: number(bound), ..Room::ALL }
    } else {
        Room { most: number(bound.saturating_sub(1)), ..Room::ALL }
    }
}

/// What a sum makes of the word at a place, if it is none of its own kind.
fn change(sum: &Sum, top: u32, place: Place, words: usize) -> Option<Change> {
    let mut added = sum.plus();
    let first = [added.next(), added.next(), added.next()];
    let input = |at: Place| Place::try_from(usize::from(at).checked_sub(words)?).ok();
    match (first, sum.minus().next()) {
        ([None, ..], None) => Some(Change::Put(number(sum.rest()))),
        ([Some(one), None, _], None) if one == place && sum.rest() >= 0 => {
            u16::try_from(sum.rest()).ok().map(|by| Change::Grow(by, top))
        }
        ([Some(one), None, _], None) if sum.rest() == 0 && top == u32::MAX => input(one).map(Change::Last),
        ([Some(one), Some(other), None], None) if sum.rest() == 0 && (one == place || other == place) => {
            let other = if one == place { other } else { one };
            input(other).map(|input| Change::Run(input, top))
        }
        _ => None,
    }
}
