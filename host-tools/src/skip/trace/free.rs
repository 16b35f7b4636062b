//! Inputs that are free to move: nothing is made of them in any of some traces but a copy, and each is compared with numbers, with copies and with
//! others of its kind alone. As long as each keeps within its room, all these comparisons come out as they do; so whatever else there is goes its way
//! as if they stood still.

use super::{Change, Other, Pair, Trace};
use crate::stays::Room;

/// The inputs that are free in some traces.
#[derive(Debug, Default)]
pub(super) struct Free {
    /// Of each input: bounds of it and of its copies in all of the traces, if it is free.
    rooms: Vec<Option<Room>>,
    /// Words that are copies of one in all of the traces, and of which.
    copies: Vec<(usize, usize)>,
    /// Comparisons of several of them and of their copies.
    spans: Vec<Span>,
}

/// A comparison, and the input that each place of it is or copies.
#[derive(Debug)]
struct Span {
    sum: Other,
    inputs: Vec<usize>,
}

impl Free {
    /// Of all of these traces, which are of one place.
    pub(super) fn of(traces: &[&Trace]) -> Self {
        let Some(first) = traces.first() else { return Self::default() };
        let (words, places) = (first.words, first.words + first.inputs);
        // The input that each place is, or copies in all traces.
        let mut input: Vec<Option<usize>> = vec![None; words];
        input.extend((0..places.saturating_sub(words)).map(Some));
        for (word, of) in &first.follow {
            if let (true, Some(copies)) =
                (traces.iter().all(|trace| trace.follow.contains(&(*word, *of))), input.get_mut(*word))
            {
                *copies = Some(*of);
            }
        }
        let mut free = Self { rooms: vec![Some(Room::ALL); places.saturating_sub(words)], ..Self::default() };
        for trace in traces {
            trace.holds_still(&input, &mut free.rooms);
        }
        // What is compared with one that is held still is held still as well.
        let sums = |trace: &Trace| {
            trace.pairs.iter().map(Other::of_pair).chain(trace.others.iter().copied()).collect::<Vec<_>>()
        };
        let mut sums: Vec<Other> = traces.iter().flat_map(|trace| sums(trace)).collect();
        let of = |place: usize| input.get(place).copied().flatten();
        loop {
            let is_free = |place: usize| of(place).is_some_and(|input| free.is_free(input));
            let mixed = |sum: &Other| sum.sum.places().any(is_free) && !sum.sum.places().all(is_free);
            let Some(held) = sums.iter().position(mixed) else { break };
            for place in sums.swap_remove(held).sum.places() {
                if let Some(room) = of(place).and_then(|input| free.rooms.get_mut(input)) {
                    *room = None;
                }
            }
        }
        for sum in sums {
            let inputs: Vec<usize> = sum.sum.places().filter_map(of).filter(|input| free.is_free(*input)).collect();
            if !inputs.is_empty() {
                free.spans.push(Span { sum, inputs });
            }
        }
        for trace in traces {
            for bound in &trace.bounds {
                if let Some(Some(room)) = of(bound.place.into()).and_then(|input| free.rooms.get_mut(input)) {
                    *room = room.and(Room { least: bound.least, most: bound.most });
                }
            }
        }
        let copies = (0..words).filter_map(|word| Some((word, of(word)?)));
        free.copies = copies.filter(|(_, input)| free.is_free(*input)).collect();
        free
    }
    fn is_free(&self, input: usize) -> bool {
        self.rooms.get(input).is_some_and(Option::is_some)
    }
    /// A word is a copy of one of them.
    pub(super) fn copies(&self, word: usize) -> bool {
        self.copies.iter().any(|(copy, _)| *copy == word)
    }
    /// Writes the copies, behind a scan with these inputs.
    pub(super) fn writes(&self, words: &mut [u32], inputs: &[u32]) {
        for (word, input) in &self.copies {
            if let (Some(cell), Some(input)) = (words.get_mut(*word), inputs.get(*input)) {
                *cell = *input;
            }
        }
    }
    /// From one sample to the other something moves that is not free, or moves out of its room or into it.
    pub(super) fn others_differ(&self, one: &[u32], other: &[u32]) -> bool {
        let pairs = one.iter().zip(other).zip(&self.rooms);
        let within = |room: &Option<Room>, a: u32, b: u32| room.is_some_and(|room| room.has(a) && room.has(b));
        pairs.fold(false, |differ, ((a, b), room)| differ | (a != b && !within(room, *a, *b)))
    }
    /// Narrows rooms to those in which all comparisons come out as they do; false, and to what stands still, if some do not come out here as in
    /// all of the traces, or if no words are given. The last scan had these inputs, and the copies in the words are theirs.
    pub(super) fn narrows(&self, words: Option<&[u32]>, inputs: &[u32], rooms: &mut [Room]) -> bool {
        let inside = |(room, now): (&Option<Room>, &u32)| room.is_none_or(|room| room.has(*now));
        let fits = |words: &&[u32]| {
            self.rooms.iter().zip(inputs).all(inside) && self.spans.iter().all(|span| span.sum.fits(words, inputs))
        };
        let Some(words) = words.filter(fits) else {
            for (room, now) in rooms.iter_mut().zip(inputs) {
                *room = room.and(Room::still(*now));
            }
            return false;
        };
        for ((room, own), now) in rooms.iter_mut().zip(&self.rooms).zip(inputs) {
            *room = room.and(own.unwrap_or(Room::still(*now)));
        }
        for span in &self.spans {
            // What is left is shared among all places.
            let left = span.sum.left(words, inputs) / i64::try_from(span.inputs.len()).unwrap_or(i64::MAX).max(1);
            let left = u32::try_from(left).unwrap_or(u32::MAX);
            for input in &span.inputs {
                if let (Some(room), Some(now)) = (rooms.get_mut(*input), inputs.get(*input)) {
                    *room = room.and(Room { least: now.saturating_sub(left), most: now.saturating_add(left) });
                }
            }
        }
        true
    }
    /// Bytes that it takes.
    pub(super) fn size(&self) -> usize {
        let spans: usize = self.spans.iter().map(|span| size_of_val(span) + size_of_val(&*span.inputs)).sum();
        size_of_val(&*self.rooms) + size_of_val(&*self.copies) + spans
    }
}

impl Trace {
    /// Inputs of which words are made that are no copies cannot move without a consequence.
    fn holds_still(&self, input: &[Option<usize>], rooms: &mut [Option<Room>]) {
        let mut hold = |input: Option<usize>| {
            if let Some(room) = input.and_then(|input| rooms.get_mut(input)) {
                *room = None;
            }
        };
        let of = |place: usize| input.get(place).copied().flatten();
        for (word, change) in &self.changes {
            match *change {
                Change::Last(last) if of(usize::from(*word)) == Some(usize::from(last)) => {}
                Change::Last(last) | Change::Run(last, _) => hold(Some(usize::from(last))),
                Change::Sum(..) | Change::Put(_) | Change::Grow(..) => {}
            }
        }
        for place in self.sums.iter().flat_map(super::Sum::places) {
            hold(of(place));
        }
    }
}

impl Other {
    fn of_pair(pair: &Pair) -> Self {
        Self { sum: super::Sum::both(pair.word, pair.other), apart: false, least: pair.least, most: pair.most }
    }
    /// By how much it may change, either way, where it fits.
    fn left(&self, words: &[u32], inputs: &[u32]) -> i64 {
        let value = self.value(words, inputs);
        self.most.saturating_sub(value).min(value.saturating_sub(self.least))
    }
}
