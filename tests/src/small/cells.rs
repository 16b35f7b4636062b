//! States of a small plan as rows of bits, and 64 of them as the cells of a lanes reading.

use std::ops::Range;

use host_tools::prove::circuit::widths;
use host_tools::prove::model::{Memory, Model, Visit};
use host_tools::station::Form;
use logic_rules::cells::{Bits, Words};
use logic_rules::plan::{PaceRow, Plan};
use logic_rules::{Lanes, Sliced, Slices};

/// Cases at once.
pub const LANES: usize = 64;
/// Rows of 64 bits in a state.
pub const ROWS: usize = 5;

/// The bits of all cells, one after the other.
pub type State = [u64; ROWS];
/// Sixty-four cases.
pub type Many = Sliced<Lanes>;

/// Where cells lie in a state, and what of it tells two states apart.
///
/// Two states are the same if they go on alike. So what nothing reads is left out: which stop tripped first, how long
/// there has been none, and what the bare plan makes of its trips. Of the latches of one answer it matters only
/// whether any of them is set, since all are cleared together. A speed that is taken anew in every scan is none to
/// remember, and the age of nobody, or the run of a stretch that does not refill, means nothing. What is left out
/// wrongly could hide a state and never make one up: whatever is explored was reached.
pub struct Layout {
    widths: Vec<usize>,
    tells: State,
    answers: Vec<State>,
    /// Where none of the first bits is set, the others mean nothing.
    idle: Vec<[State; 2]>,
    places: Vec<Range<usize>>,
}

impl Layout {
    /// The layout of a model in which these signals do as they are declared; `None` if its states need more room.
    pub fn new(model: &Model<'_>, signals: &[usize]) -> Option<Self> {
        let widths = widths(model).expect("a verified plan");
        let mut places: Vec<Range<usize>> = Vec::new();
        for width in &widths {
            let end = places.last().map_or(0, |place| place.end);
            places.push(end..end + width);
        }
        if places.last().is_some_and(|place| place.end > ROWS * LANES) {
            return None;
        }
        let mut at: Vec<usize> = (0..places.len()).collect();
        let mut layout = Self { widths, tells: [0; ROWS], answers: Vec::new(), idle: Vec::new(), places };
        layout.tells = layout.mask(&at);
        let (needs, raw) = (model.plan.needs(), model.raw.needs());
        let (own, rest) = at.split_at_mut(needs.bits + needs.words);
        let (bare, rest) = rest.split_at_mut(raw.bits + raw.words);
        let (bits, words) = rows(model.plan, own);
        let mut dropped: Vec<usize> = Vec::new();
        dropped.extend(bits.first.iter().chain(bits.latch.iter()).chain(words.rest.iter()).map(|[cell]| *cell));
        let count = usize::from(model.station.worst()) + 1;
        let mut latches = vec![Vec::new(); count];
        for ([latch], &way) in bits.latch.iter().zip(&model.program.by_severity) {
            latches[usize::from(model.program.ways[way].answer)].push(*latch);
        }
        layout.answers = latches.iter().map(|latches| layout.mask(latches)).collect();
        dropped.extend(renewed(model.plan, &words));
        for (stretch, counts) in bits.stretch.iter().zip(words.stretch.iter()) {
            layout.idle.push([layout.mask(stretch), layout.mask(counts)]);
        }
        for (taken, age) in bits.under_way.iter().zip(words.age.iter()) {
            layout.idle.push([layout.mask(taken), layout.mask(age)]);
        }
        let (bits, words) = rows(model.raw, bare);
        dropped.extend(bits.first.iter().chain(bits.latch.iter()).chain(bits.published.iter()).map(|[cell]| *cell));
        dropped.extend(words.stop.iter().chain(words.rest.iter()).map(|[cell]| *cell));
        dropped.extend(renewed(model.raw, &words));
        // A signal that may do what it likes is not followed: its level and how long it has stood.
        let (judges, followed) = rest.split_at(rest.len() - 2 * model.signals.len());
        if let (Some(Form::After { .. }), [.., following, ahead, age]) =
            (model.station.requirements.first().map(|r| &r.form), judges)
        {
            layout.idle.push([layout.mask(&[*following]), layout.mask(&[*ahead, *age])]);
        }
        let free = followed.chunks(2).enumerate().filter(|(signal, _)| !signals.contains(signal));
        dropped.extend(free.flat_map(|(_, cells)| cells).copied());
        let dropped = layout.mask(&dropped);
        layout.tells.iter_mut().zip(dropped).for_each(|(row, dropped)| *row &= !dropped);
        Some(layout)
    }
    /// The bits of some cells.
    fn mask(&self, cells: &[usize]) -> State {
        let mut mask = [0; ROWS];
        for bit in cells.iter().flat_map(|&cell| self.places[cell].clone()) {
            mask[bit / LANES] |= 1 << (bit % LANES);
        }
        mask
    }
    /// What tells a state from others.
    pub fn key(&self, state: &State) -> State {
        let mut key: State = std::array::from_fn(|row| state[row] & self.tells[row]);
        for [guard, idle] in &self.idle {
            if guard.iter().zip(state).all(|(guard, state)| guard & state == 0) {
                key.iter_mut().zip(idle).for_each(|(key, idle)| *key &= !idle);
            }
        }
        for latches in &self.answers {
            let (row, lowest) = match latches.iter().position(|row| *row != 0) {
                Some(row) => (row, latches[row] & latches[row].wrapping_neg()),
                None => continue,
            };
            if latches.iter().zip(state).any(|(latches, state)| latches & state != 0) {
                key[row] |= lowest;
            }
        }
        key
    }
    /// States into the cells of a memory, one to a lane.
    pub fn load(&self, states: &[State; LANES], memory: &mut Memory<Many>) {
        let planes = turned(states);
        memory.visit(&mut Load { planes: planes.as_flattened(), widths: self.widths.iter() });
    }
    /// The states that the cells of a memory hold; `None` if a cell holds more than its width.
    pub fn store(&self, memory: &mut Memory<Many>, states: &mut [State; LANES]) -> Option<()> {
        let mut planes = [[0; LANES]; ROWS];
        let mut store = Store { planes: planes.as_flattened_mut(), at: 0, widths: self.widths.iter(), fits: true };
        memory.visit(&mut store);
        let fits = store.fits;
        for (row, planes) in planes.iter_mut().enumerate() {
            transpose(planes);
            for (state, plane) in states.iter_mut().zip(planes.iter()) {
                state[row] = *plane;
            }
        }
        fits.then_some(())
    }
}

/// Numbers of cells by their names.
fn rows<'c>(plan: &Plan<'_>, cells: &'c mut [usize]) -> (Bits<'c, usize>, Words<'c, usize>) {
    let (bits, words) = cells.split_at_mut(plan.needs().bits);
    (Bits::cut(bits, plan).expect("as many as it needs"), Words::cut(words, plan).expect("as many as it needs"))
}

/// The speeds of paces whose span is one scan.
fn renewed(plan: &Plan<'_>, words: &Words<'_, usize>) -> Vec<usize> {
    let paces = plan.tables().paces.iter().zip(words.pace.iter());
    let short = paces.filter(|(row, _)| PaceRow::read(row).span == 1);
    short.flat_map(|(_, [.., speed, speed_back, _])| [*speed, *speed_back]).collect()
}

fn turned(states: &[State; LANES]) -> [[u64; LANES]; ROWS] {
    std::array::from_fn(|row| {
        let mut planes = std::array::from_fn(|lane| states[lane][row]);
        transpose(&mut planes);
        planes
    })
}

/// Bit `i` of row `j` becomes bit `j` of row `i`: squares of 32, 16, .. 1 change places across the diagonal.
pub fn transpose(rows: &mut [u64; LANES]) {
    let mut side = LANES / 2;
    let mut low = u64::MAX >> side;
    while side > 0 {
        for at in (0..LANES).filter(|at| at & side == 0) {
            let (one, other) = (rows[at], rows[at + side]);
            let swapped = (one >> side ^ other) & low;
            rows[at] = one ^ swapped << side;
            rows[at + side] = other ^ swapped;
        }
        side /= 2;
        low ^= low << side;
    }
}

struct Load<'l> {
    planes: &'l [u64],
    widths: std::slice::Iter<'l, usize>,
}
impl<'l> Load<'l> {
    fn next(&mut self) -> &'l [u64] {
        let width = self.widths.next().copied().expect("as many widths as cells");
        let (own, rest) = self.planes.split_at(width);
        self.planes = rest;
        own
    }
}
impl Visit<Many> for Load<'_> {
    fn bit(&mut self, cell: &mut u64) {
        *cell = self.next()[0];
    }
    fn word(&mut self, cell: &mut Slices<u64>) {
        *cell = Slices::from_bits(self.next(), 0);
    }
}

struct Store<'s> {
    planes: &'s mut [u64],
    at: usize,
    widths: std::slice::Iter<'s, usize>,
    fits: bool,
}
impl Store<'_> {
    fn put(&mut self, bits: &[u64]) {
        let width = self.widths.next().copied().expect("as many widths as cells");
        let (own, over) = bits.split_at(width.min(bits.len()));
        self.fits &= over.iter().all(|bit| *bit == 0);
        self.planes[self.at..self.at + own.len()].copy_from_slice(own);
        self.at += width;
    }
}
impl Visit<Many> for Store<'_> {
    fn bit(&mut self, cell: &mut u64) {
        self.put(&[*cell]);
    }
    fn word(&mut self, cell: &mut Slices<u64>) {
        self.put(cell.bits());
    }
}
