//! All states that a small plan can reach from power-up, one after the other, and the shortest history that misses its requirement.

use std::collections::{HashSet, VecDeque};
use std::hash::{BuildHasherDefault, Hasher};

use host_tools::prove::lemma::{Lemma, Value};
use host_tools::prove::model::{Given, Model, Visit};
use logic_rules::{Lanes, Plain, Sliced, Slices};

use super::cells::{LANES, Layout, Many, ROWS, State};
use super::inputs::{choices, together};

/// What is taken for granted in every scan.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Granted {
    /// Signals that do as they are declared.
    pub signals: Vec<usize>,
    /// Assumptions that hold.
    pub assumptions: Vec<usize>,
}

impl Granted {
    /// All that a station declares and assumes.
    pub fn all(model: &Model<'_>) -> Self {
        Self {
            signals: (0..model.signals.len()).collect(),
            assumptions: (0..model.station.assumptions.len()).collect(),
        }
    }
    /// Nothing is granted.
    pub fn is_empty(&self) -> bool {
        self.signals.is_empty() && self.assumptions.is_empty()
    }
}

/// How large a space may become.
#[derive(Debug, Clone, Copy)]
pub struct Room {
    /// States.
    pub states: usize,
    /// Scans.
    pub scans: u64,
}

/// What came of it.
pub enum Explored {
    /// The inputs, scan by scan, that miss the requirement in the last one; by number among the choices.
    Missed(Vec<usize>),
    /// No reachable scan misses it.
    Never(Reached),
    /// There was no room.
    Beyond,
    /// A cell held more than the circuits have room for.
    TooWide,
}

/// The states that were reached.
pub struct Reached {
    layout: Layout,
    /// One of each kind.
    pub states: Vec<State>,
    /// No stop stands in some scan.
    pub runs: bool,
}

/// The space of a model.
pub struct Space<'m> {
    model: &'m Model<'m>,
    /// All that the inputs can do in a scan.
    pub choices: Vec<Given<Plain>>,
    /// The same in lanes: all of them for as many states as there is room for, or some of them for one state.
    lanes: Vec<Given<Many>>,
    /// States at once.
    group: usize,
    /// Scans that were taken.
    pub scans: u64,
}

/// Mixes what it is given; keys are no secrets.
#[derive(Default)]
struct Mix(u64);
impl Hasher for Mix {
    fn finish(&self) -> u64 {
        self.0
    }
    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(u64::from(*byte));
        }
    }
    fn write_u64(&mut self, row: u64) {
        let mixed = (self.0 ^ row).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        self.0 = mixed ^ mixed >> 29;
    }
    fn write_usize(&mut self, _: usize) {}
}

/// A state's key; hashed row by row.
#[derive(PartialEq, Eq)]
struct Key(State);
impl std::hash::Hash for Key {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.0.iter().for_each(|row| hasher.write_u64(*row));
    }
}

impl<'m> Space<'m> {
    /// Of a model with one requirement.
    pub fn new(model: &'m Model<'m>) -> Self {
        let choices = choices(model);
        let group = (LANES / choices.len()).max(1);
        let repeated: Vec<&Given<Plain>> = (0..group).flat_map(|_| &choices).collect();
        let lanes = repeated.chunks(LANES).map(together).collect();
        Self { model, choices, lanes, group, scans: 0 }
    }
    /// Goes through all states.
    pub fn explore(&mut self, granted: &Granted, room: Room) -> Explored {
        let Some(layout) = Layout::new(self.model, &granted.signals) else { return Explored::Beyond };
        let mut a: Many = Sliced(Lanes);
        let start = self.model.power_up(&mut a).expect("a verified plan");
        let (mut memory, mut after) = (start.clone(), [[0; ROWS]; LANES]);
        if layout.store(&mut memory, &mut after).is_none() {
            return Explored::TooWide;
        }
        let mut seen: HashSet<Key, BuildHasherDefault<Mix>> = HashSet::default();
        let mut states = vec![after[0]];
        seen.insert(Key(layout.key(&states[0])));
        let mut from: Vec<(usize, usize)> = vec![(0, 0)];
        // A requirement asks nothing while its answer stands: what runs is looked at before what stands.
        let (mut running, mut standing) = (VecDeque::new(), VecDeque::from([0]));
        let (mut spent, mut runs) = (0, false);
        loop {
            let next = || running.pop_front().or_else(|| standing.pop_front());
            let now: Vec<usize> = std::iter::from_fn(next).take(self.group).collect();
            let Some(last) = now.last() else { break };
            let group = now.len();
            let of = |lane: usize| *now.get(lane / self.choices.len()).unwrap_or(last);
            let before: [State; LANES] = std::array::from_fn(|lane| states[of(lane)]);
            for (chunk, given) in self.lanes.iter().enumerate() {
                let count = if self.lanes.len() == 1 {
                    group * self.choices.len()
                } else {
                    LANES.min(self.choices.len() - chunk * LANES)
                };
                layout.load(&before, &mut memory);
                let told = self.model.scan(&mut a, &mut memory, given).expect("a verified plan");
                spent += count as u64;
                let valid = u64::MAX >> (LANES - count);
                let kept = granted.signals.iter().fold(valid, |all, &signal| all & told.kept[signal]);
                let kept = granted.assumptions.iter().fold(kept, |all, &i| all & !told.broken[i]);
                let choice = |lane: usize| (chunk * LANES + lane) % self.choices.len();
                let missed = kept & told.outcomes[0].missed;
                if missed != 0 {
                    let lane = missed.trailing_zeros() as usize;
                    self.scans += spent;
                    return Explored::Missed(path(&from, of(lane), choice(lane)));
                }
                if layout.store(&mut memory, &mut after).is_none() {
                    return Explored::TooWide;
                }
                let stands = told.now[usize::from(self.model.station.first_stop())];
                runs |= kept & !stands != 0;
                for (lane, state) in after.iter().enumerate().filter(|(lane, _)| kept >> lane & 1 == 1) {
                    if seen.insert(Key(layout.key(state))) {
                        let queue = if stands >> lane & 1 == 1 { &mut standing } else { &mut running };
                        queue.push_back(states.len());
                        states.push(*state);
                        from.push((of(lane), choice(lane)));
                    }
                }
            }
            if states.len() > room.states || spent > room.scans {
                self.scans += spent;
                return Explored::Beyond;
            }
        }
        self.scans += spent;
        Explored::Never(Reached { layout, states, runs })
    }
    /// The first of these lemmas that does not hold in some reachable state.
    pub fn violated<'l>(&self, reached: &Reached, lemmas: &'l [Lemma]) -> Option<&'l Lemma> {
        let mut a: Many = Sliced(Lanes);
        let mut memory = self.model.power_up(&mut a).expect("a verified plan");
        let mut wrong = vec![false; lemmas.len()];
        for states in reached.states.chunks(LANES) {
            let all = std::array::from_fn(|lane| states[lane.min(states.len() - 1)]);
            reached.layout.load(&all, &mut memory);
            let mut cells = Cells(Vec::new());
            memory.visit(&mut cells);
            for (lemma, wrong) in lemmas.iter().zip(&mut wrong) {
                *wrong |= lemma.holds(&mut a, &|id| cells.0.get(id).copied()) != u64::MAX;
            }
        }
        lemmas.iter().zip(wrong).find(|(_, wrong)| *wrong).map(|(lemma, _)| lemma)
    }
    /// The scan (counting from 0) in which the plain reading misses the requirement, and whether what is granted
    /// held until then; these are the inputs of each scan.
    pub fn replay(&self, granted: &Granted, path: &[usize]) -> Option<(usize, bool)> {
        let mut memory = self.model.power_up(&mut Plain).expect("a verified plan");
        let mut kept = true;
        for (scan, &choice) in path.iter().enumerate() {
            let told = self.model.scan(&mut Plain, &mut memory, &self.choices[choice]).expect("a verified plan");
            kept &= granted.signals.iter().all(|&signal| told.kept[signal]);
            kept &= granted.assumptions.iter().all(|&i| !told.broken[i]);
            if told.outcomes[0].missed {
                return Some((scan, kept));
            }
        }
        None
    }
}

/// The choices that lead to a state, and one more.
fn path(from: &[(usize, usize)], mut state: usize, last: usize) -> Vec<usize> {
    let mut path = vec![last];
    while state > 0 {
        let (before, choice) = from[state];
        path.push(choice);
        state = before;
    }
    path.reverse();
    path
}

struct Cells(Vec<Value<Many>>);
impl Visit<Many> for Cells {
    fn bit(&mut self, cell: &mut u64) {
        self.0.push(Value::Bit(*cell));
    }
    fn word(&mut self, cell: &mut Slices<u64>) {
        self.0.push(Value::Word(*cell));
    }
}
