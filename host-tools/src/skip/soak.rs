//! Long rides against the plain reading. The programs are made by chance, but much as rules are: ages grow and begin again when they are over,
//! words stand until something sets them, inputs are copied and compared. So a ride goes round again and again, and for whole periods.

use super::After;
use super::noting::{Noted, Noting};
use super::tests::{Chance, Op, Program, plain, run};
use super::trace::{Ride, Rounds, Trace};
use crate::stays::Room;

const WORDS: usize = 10;
const INPUTS: usize = 3;
/// The first words may be ages.
const AGES: usize = 3;

/// A program that is being made.
struct Draft {
    ops: Vec<Op>,
    words: usize,
    bits: usize,
}

impl Draft {
    fn word(&mut self, op: Op) -> usize {
        self.ops.push(op);
        self.words += 1;
        self.words - 1
    }
    fn bit(&mut self, op: Op) -> usize {
        self.ops.push(op);
        self.bits += 1;
        self.bits - 1
    }
    fn reaches(&mut self, word: usize, limit: u32) -> usize {
        self.bit(Op::AtLeast(word, limit))
    }
    /// A comparison of what is no age.
    fn compares(&mut self, chance: &mut Chance) -> usize {
        let word = AGES + chance.below(WORDS - AGES);
        let other = AGES + chance.below(WORDS + INPUTS - AGES);
        match chance.below(7) {
            0 => {
                let sum = self.word(Op::Add(word, other, u32::MAX));
                self.reaches(sum, chance.number(12))
            }
            1 => {
                let left = self.word(Op::Sub(word, other));
                self.reaches(left, 1 + chance.number(4))
            }
            2..=4 => {
                let one = [word, input(chance)][chance.below(2)];
                let apart = self.word(Op::Difference(one, input(chance)));
                self.reaches(apart, 1 + chance.number(5))
            }
            _ => self.reaches(word, 1 + chance.number(6)),
        }
    }
}

fn input(chance: &mut Chance) -> usize {
    WORDS + chance.below(INPUTS)
}

fn draw(chance: &mut Chance, count: usize, end: u32) -> Vec<u32> {
    (0..count).map(|_| chance.number(end)).collect()
}

fn program(chance: &mut Chance) -> Program {
    let mut draft = Draft { ops: Vec::new(), words: WORDS + INPUTS, bits: 1 };
    let zero = draft.word(Op::Sub(0, 0));
    let mut after: Vec<usize> = (0..WORDS).collect();
    // A top that three divides lets an age grow by one, any other by an input.
    let mut over = Vec::new();
    for age in 0..2 + chance.below(AGES - 1) {
        let top = [9, 99, 12, 999, 100][chance.below(5)];
        after[age] = draft.word(Op::Add(age, input(chance), top));
        let span = [3 + chance.number(4), 7 + chance.number(14), 20 + chance.number(30)][age];
        over.push(draft.reaches(after[age], span));
    }
    let mut bits = over.clone();
    for _ in 0..chance.below(5) {
        let bit = draft.compares(chance);
        bits.push(bit);
        let end = over[chance.below(over.len())];
        match chance.below(4) {
            0 => bits.push(draft.bit(Op::And(end, bit))),
            1 => {
                let not = draft.bit(Op::Not(bit));
                bits.extend([not, draft.bit(Op::And(end, not))]);
            }
            _ => {}
        }
    }
    for (word, becomes) in after.iter_mut().enumerate().skip(AGES) {
        match chance.below(9) {
            0..=2 => *becomes = input(chance),
            3 => *becomes = draft.word(Op::Sub(0, 0)),
            4 => {
                let top = [9, 99, 200, 1000][chance.below(4)];
                *becomes = draft.word(Op::Add(word, input(chance), top));
                if chance.below(2) == 0 {
                    bits.push(draft.reaches(*becomes, 5 + chance.number(60)));
                    draft.ops.push(Op::SetWord(draft.bits - 1, *becomes, zero));
                }
            }
            5 => {
                let left = draft.word(Op::Sub(AGES + chance.below(WORDS - AGES), word));
                *becomes = [word, left][chance.below(2)];
            }
            _ => {}
        }
    }
    for (over, age) in over.iter().zip(&after) {
        if chance.below(8) != 0 {
            draft.ops.push(Op::SetWord(*over, *age, zero));
        }
    }
    for _ in 0..=chance.below(5) {
        let (bit, word) = (bits[chance.below(bits.len())], after[chance.below(WORDS)]);
        let new = [zero, input(chance), chance.below(draft.words), chance.below(draft.words)][chance.below(4)];
        draft.ops.push(Op::SetWord(bit, word, new));
    }
    if chance.below(2) == 0 {
        draft.ops.push(Op::Guarded(bits[chance.below(bits.len())]));
    }
    Program { ops: draft.ops, after }
}

/// Traces of scans of a program, first the one of those that last which most scans fit; none if none lasts.
fn traces(chance: &mut Chance, program: &Program) -> Option<Vec<Trace>> {
    let (mut all, mut fitted): (Vec<Trace>, Vec<u32>) = (Vec::new(), Vec::new());
    let (calm, mut words) = (draw(chance, INPUTS, 5), Vec::new());
    for scan in 0..200 {
        let mut inputs = calm.clone();
        if chance.below(4) == 0 {
            inputs[chance.below(INPUTS)] = chance.number(5);
        }
        if scan % 60 == 0 {
            words = draw(chance, WORDS, 8);
        }
        if let Some(at) = all.iter().position(|trace| trace.fits(&words, &inputs)) {
            fitted[at] += 1;
        } else if all.len() < 12 {
            let mut noting = Noting::new(WORDS);
            let given = words.iter().chain(&inputs);
            let given: Vec<Noted> = (0..).zip(given).map(|(place, now)| Noted::at(place, *now)).collect();
            let (words, _) = run(&mut noting, program, &given);
            all.extend(Trace::new(noting.kept(), &After { words, turned: Vec::new() }, INPUTS));
            fitted.resize(all.len(), 1);
        }
        words = plain(program, &words, &inputs).0;
    }
    let first = (0..all.len()).filter(|at| all[*at].lasts()).max_by_key(|at| fitted[*at])?;
    all.swap(0, first);
    Some(all)
}

/// What is ridden, and how often what came to pass.
struct Known {
    program: Program,
    traces: Vec<Trace>,
    rounds: Rounds,
}

#[derive(Debug, Default)]
struct Counts {
    round: u32,
    once: u32,
    periods: u32,
    /// Scans gone on over at once, and in whole periods, in which inputs moved.
    moved: [u32; 2],
}

impl Known {
    /// What somebody sees who looks is what stepping gives.
    fn compare(&self, ride: &Ride, words: &[u32], stepped: &[u32], behind: &str) {
        let mut now = words.to_vec();
        ride.clone().writes(&self.traces[0], &self.rounds, &mut now);
        assert_eq!(now, stepped, "behind {behind} of {:?}", self.program);
    }
    /// Rides from words behind a scan that fits; gives those behind the ride, and takes up the way that it ended at.
    fn rides(&mut self, chance: &mut Chance, mut words: Vec<u32>, inputs: &mut [u32], counts: &mut Counts) -> Vec<u32> {
        let (trace, mut ride, mut stepped) = (&self.traces[0], Ride::default(), words.clone());
        if !trace.begins(&self.rounds, &words, INPUTS, &mut ride) {
            return words;
        }
        let (lazy, jumpy) = (1 + chance.below(20), [3, 20, 200][chance.below(3)]);
        for _ in 0..150 {
            if chance.below(jumpy) == 0 {
                inputs[chance.below(INPUTS)] = chance.number(5);
            }
            if !trace.rides(&self.rounds, &mut words, inputs, &mut ride) {
                if !trace.goes_round(&self.rounds, &self.traces, &mut words, inputs, &mut ride) {
                    break;
                }
                counts.round += 1;
            }
            stepped = plain(&self.program, &stepped, inputs).0;
            self.compare(&ride, &words, &stepped, "a scan");
            if chance.below(lazy) != 0 {
                continue;
            }
            let mut rooms = vec![Room::ALL; INPUTS];
            let stays = trace.stays(&self.rounds, &words, inputs, &ride, &mut rooms);
            let scans = stays.most(1 + chance.number(60));
            if scans == 0 {
                continue;
            }
            let periods = scans > stays.once;
            *(if periods { &mut counts.periods } else { &mut counts.once }) += 1;
            let moves = chance.below(2) == 0;
            for _ in 0..scans {
                for (input, room) in inputs.iter_mut().zip(&rooms).filter(|_| moves) {
                    let most = room.most.min(room.least.saturating_add(9));
                    let to = [room.least, most, room.least / 2 + most.div_ceil(2), *input][chance.below(4)];
                    counts.moved[usize::from(periods)] += u32::from(to != *input);
                    *input = to;
                }
                stepped = plain(&self.program, &stepped, inputs).0;
            }
            ride.goes_on(&self.rounds, &mut words, inputs, (scans, stays));
            self.compare(&ride, &words, &stepped, &format!("{scans} more, of {stays:?},"));
        }
        ride.writes(trace, &self.rounds, &mut words);
        let way = self.traces.iter().position(|trace| trace.fits(&words, inputs));
        if let Some(way) = way.filter(|way| *way > 0) {
            self.rounds.take(trace, &self.traces, way);
        }
        words
    }
}

#[test]
fn long_rides_do_what_the_program_does() {
    let mut chance = Chance(0x1715_609F_7C74_6C69);
    let mut counts = Counts::default();
    for _ in 0..1_500 {
        let program = program(&mut chance);
        let Some(traces) = traces(&mut chance, &program) else { continue };
        let mut known = Known { rounds: Rounds::new(&traces[0], 0), program, traces };
        let (mut words, mut inputs) = (draw(&mut chance, WORDS, 8), draw(&mut chance, INPUTS, 5));
        for _ in 0..12 {
            if chance.below(2) == 0 {
                words = draw(&mut chance, WORDS, 8);
            }
            if chance.below(6) == 0 {
                inputs[chance.below(INPUTS)] = chance.number(5);
            }
            for _ in 0..40 {
                if known.traces[0].fits(&words, &inputs) {
                    break;
                }
                words = plain(&known.program, &words, &inputs).0;
            }
            if known.traces[0].fits(&words, &inputs) {
                known.traces[0].go(&mut words, &inputs, &mut Vec::new());
                words = known.rides(&mut chance, words, &mut inputs, &mut counts);
            }
        }
    }
    let Counts { round, once, periods, moved } = counts;
    assert!(round > 30_000 && once > 9_000 && periods > 10_000, "{counts:?}");
    assert!(moved[0] > 50_000 && moved[1] > 150_000, "{counts:?}");
}
