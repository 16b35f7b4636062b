//! Traces against the plain reading, on programs made by chance: wherever a trace fits, it does what the program does.

use super::After;
use super::noting::{Noted, Noting};
use super::trace::{Ride, Rounds, Trace};
use crate::run::Legible;
use crate::stays::Room;
use logic_rules::Plain;

const WORDS: usize = 6;
const INPUTS: usize = 2;

/// Numbers by chance (xorshift64, Marsaglia 2003).
pub(super) struct Chance(pub(super) u64);

impl Chance {
    pub(super) fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 >> 16).unwrap() % end
    }
    pub(super) fn number(&mut self, end: u32) -> u32 {
        u32::try_from(self.below(usize::try_from(end).unwrap())).unwrap()
    }
}

/// The trace of what was noted.
fn trace_of(noting: &Noting, words: Vec<Noted>) -> Option<Trace> {
    Trace::new(noting.kept(), &After { words, turned: Vec::new() }, INPUTS)
}

#[derive(Debug, Clone, Copy)]
pub(super) enum Op {
    Add(usize, usize, u32),
    Sub(usize, usize),
    Difference(usize, usize),
    AtLeast(usize, u32),
    And(usize, usize),
    Or(usize, usize),
    Xor(usize, usize),
    Not(usize),
    SetWord(usize, usize, usize),
    Guarded(usize),
}

#[derive(Debug)]
pub(super) struct Program {
    pub(super) ops: Vec<Op>,
    /// What each word becomes.
    pub(super) after: Vec<usize>,
}

/// A program of operations as the step makes them: words that grow, words that are set, comparisons that decide.
fn program(chance: &mut Chance) -> Program {
    let (mut words, mut bits, mut ops) = (WORDS + INPUTS, 1, Vec::new());
    for _ in 0..6 + chance.below(14) {
        let (x, y) = (chance.below(words), chance.below(words));
        let (b, c) = (chance.below(bits), chance.below(bits));
        ops.push(match chance.below(14) {
            0..=2 => Op::Add(chance.below(WORDS), WORDS + chance.below(INPUTS), 20 + chance.number(60)),
            3 => Op::Add(x, y, if chance.below(3) == 0 { u32::MAX } else { 10 + chance.number(60) }),
            4 => Op::Sub(x, y),
            5 => Op::Difference(x, y),
            6..=8 => Op::AtLeast(x, chance.number(40)),
            9 => Op::And(b, c),
            10 => Op::Or(b, c),
            11 => [Op::Xor(b, c), Op::Not(b)][chance.below(2)],
            12 => Op::SetWord(b, x, y),
            _ => Op::Guarded(b),
        });
        match ops.last().unwrap() {
            Op::Add(..) | Op::Sub(..) | Op::Difference(..) => words += 1,
            Op::AtLeast(..) | Op::And(..) | Op::Or(..) | Op::Xor(..) | Op::Not(..) => bits += 1,
            Op::SetWord(..) | Op::Guarded(_) => {}
        }
    }
    let becomes = |word| if chance.below(3) == 0 { word } else { chance.below(words) };
    Program { ops, after: (0..WORDS).map(becomes).collect() }
}

/// Runs it; gives the words behind it, and its bits.
pub(super) fn run<A: Legible>(a: &mut A, program: &Program, given: &[A::Word]) -> (Vec<A::Word>, Vec<A::Bit>) {
    let (mut words, mut bits) = (given.to_vec(), vec![a.bit(true)]);
    let (one, mut skips) = (a.word(1), false);
    for op in &program.ops {
        match *op {
            // Every input also counts, now and then, as one.
            Op::Add(x, y, top) => {
                words.push(if top % 3 == 0 { a.add(words[x], one, top) } else { a.add(words[x], words[y], top) });
            }
            Op::Sub(x, y) => words.push(a.sub(words[x], words[y])),
            Op::Difference(x, y) => words.push(a.difference(words[x], words[y])),
            Op::AtLeast(x, limit) => bits.push(a.at_least(words[x], limit)),
            Op::And(b, c) => bits.push(a.and(bits[b], bits[c])),
            Op::Or(b, c) => bits.push(a.or(bits[b], bits[c])),
            Op::Xor(b, c) => bits.push(a.xor(bits[b], bits[c])),
            Op::Not(b) => bits.push(a.not(bits[b])),
            Op::SetWord(b, x, y) if !skips => {
                let (when, new) = (bits[b], words[y]);
                a.set_word(when, &mut words[x], new);
            }
            Op::SetWord(..) => {}
            Op::Guarded(b) => skips = !a.possible(bits[b]),
        }
    }
    (program.after.iter().map(|at| words[*at]).collect(), bits)
}

pub(super) fn plain(program: &Program, words: &[u32], inputs: &[u32]) -> (Vec<u32>, Vec<bool>) {
    run(&mut Plain, program, &[words, inputs].concat())
}

#[test]
fn a_trace_that_fits_does_what_the_program_does() {
    let mut chance = Chance(0x1D87_2B41_C3A5_9F6E);
    let [mut made, mut fitted, mut lapped, mut far] = [0_u32; 4];
    for _ in 0..6_000 {
        let program = program(&mut chance);
        let draw = |chance: &mut Chance, count: usize| -> Vec<u32> { (0..count).map(|_| chance.number(50)).collect() };
        let (words, inputs) = (draw(&mut chance, WORDS), draw(&mut chance, INPUTS));
        let mut noting = Noting::new(WORDS);
        let all = [&words[..], &inputs[..]].concat();
        let given: Vec<Noted> = (0..).zip(&all).map(|(place, now)| Noted::at(place, *now)).collect();
        let (after, bits) = run(&mut noting, &program, &given);
        let told: Vec<bool> = bits.iter().map(|bit| noting.decides(*bit)).collect();
        let expected = plain(&program, &words, &inputs);
        let now: Vec<u32> = after.iter().map(Noted::now).collect();
        assert_eq!((&now, &told), (&expected.0, &expected.1), "{program:?} on {words:?}, {inputs:?}");
        let Some(trace) = trace_of(&noting, after) else { continue };
        made += 1;
        assert!(trace.fits(&words, &inputs), "a trace fits what it is of: {program:?}");
        for _ in 0..30 {
            let mut near = |of: &[u32]| -> Vec<u32> {
                of.iter().map(|now| if chance.below(2) == 0 { *now } else { chance.number(60) }).collect()
            };
            let (mut words, inputs) = (near(&words), near(&inputs));
            if !trace.fits(&words, &inputs) {
                continue;
            }
            fitted += 1;
            let expected = plain(&program, &words, &inputs);
            trace.go(&mut words, &inputs, &mut Vec::new());
            assert_eq!((&words, &told), (&expected.0, &expected.1), "{program:?} on {inputs:?}");
            let (rounds, mut ride) = (Rounds::new(&trace, 0), Ride::default());
            if !trace.begins(&rounds, &words, INPUTS, &mut ride) {
                continue;
            }
            // From here on the program is stepped beside the ride, which writes its words at the end.
            let mut stepped = words.clone();
            for scan in 0..40_u32 {
                let inputs: Vec<u32> =
                    inputs.iter().map(|now| if chance.below(4) == 0 { chance.number(6) } else { *now }).collect();
                if !trace.rides(&rounds, &mut words, &inputs, &mut ride) {
                    break;
                }
                let expected = plain(&program, &stepped, &inputs);
                assert_eq!(told, expected.1, "{program:?} in scan {scan} of a ride");
                stepped = expected.0;
                lapped += 1;
                far += u32::from(scan > 5);
            }
            ride.writes(&trace, &rounds, &mut words);
            assert_eq!(words, stepped, "{program:?} behind its ride");
        }
    }
    assert!(made > 3_000 && fitted > 30_000 && lapped > 10_000 && far > 2_000, "{made} {fitted} {lapped} {far}");
}

/// Traces of one program of which so many bits are told, and the same of each, from words and inputs by chance; and what they tell. Bits that are
/// not told decide what is set and what is done.
fn traces(chance: &mut Chance, program: &Program, bits_told: usize) -> (Vec<Trace>, Vec<bool>) {
    let (mut all, mut told) = (Vec::new(), Vec::new());
    for _ in 0..12 {
        let given: Vec<u32> = (0..WORDS + INPUTS).map(|_| chance.number(50)).collect();
        let mut noting = Noting::new(WORDS);
        let noted: Vec<Noted> = (0..).zip(&given).map(|(place, now)| Noted::at(place, *now)).collect();
        let (after, bits) = run(&mut noting, program, &noted);
        let bits: Vec<bool> = bits.iter().take(bits_told).map(|bit| noting.decides(*bit)).collect();
        if all.is_empty() || bits == told {
            told = bits;
            all.extend(trace_of(&noting, after));
        }
    }
    (all, told)
}

#[test]
fn a_way_round_does_what_the_program_does() {
    let mut chance = Chance(0x51C6_07E3_9D2B_884F);
    let [mut ridden, mut round, mut back, mut once, mut periods] = [0_u32; 5];
    let mut moved = [0_u32; 2];
    for _ in 0..40_000 {
        let program = program(&mut chance);
        let bits_told = chance.below(8);
        let (traces, told) = traces(&mut chance, &program, bits_told);
        let Some(trace) = traces.first() else { continue };
        let mut rounds = Rounds::new(trace, 0);
        for number in 1..traces.len() {
            rounds.take(trace, &traces, number);
        }
        for _ in 0..10 {
            let mut words: Vec<u32> = (0..WORDS).map(|_| chance.number(40)).collect();
            let mut ride = Ride::default();
            if !trace.begins(&rounds, &words, INPUTS, &mut ride) {
                continue;
            }
            let (mut stepped, mut went_round) = (words.clone(), false);
            let calm: Vec<u32> = (0..INPUTS).map(|_| chance.number(4)).collect();
            let steady = chance.below(2) == 0;
            for scan in 0..60 {
                // Right behind a way round the rope often stands.
                let stands = went_round && chance.below(2) == 0;
                let input = |now: &u32| match chance.below(6) {
                    _ if steady => *now,
                    _ if stands => 0,
                    0 => chance.number(40),
                    _ => *now,
                };
                let inputs: Vec<u32> = calm.iter().map(input).collect();
                if trace.rides(&rounds, &mut words, &inputs, &mut ride) {
                    ridden += 1;
                    back += u32::from(went_round);
                    went_round = false;
                } else if trace.goes_round(&rounds, &traces, &mut words, &inputs, &mut ride) {
                    round += 1;
                    went_round = true;
                } else {
                    break;
                }
                let expected = plain(&program, &stepped, &inputs);
                assert_eq!(told, expected.1[..told.len()], "{program:?} in scan {scan} of a ride");
                stepped = expected.0;
                // Somebody may look at any time.
                let mut now = words.clone();
                ride.clone().writes(trace, &rounds, &mut now);
                assert_eq!(now, stepped, "{program:?} behind scan {scan} of a ride");
                // The same inputs again and again.
                let mut rooms = vec![Room::ALL; INPUTS];
                let stays = trace.stays(&rounds, &words, &inputs, &ride, &mut rooms);
                let scans = stays.most(chance.number(60));
                if scans == 0 || chance.below(3) == 0 {
                    continue;
                }
                let periods_only = scans > stays.once;
                went_round = false;
                once += u32::from(!periods_only);
                periods += u32::from(periods_only);
                // Or what is within its room.
                let (mut last, moves) = (inputs.clone(), chance.below(3) == 0);
                for again in 0..scans {
                    for (input, room) in last.iter_mut().zip(&rooms).filter(|_| moves) {
                        assert!(room.has(*input), "{room:?} of {program:?}");
                        let before = *input;
                        let most = room.most.min(room.least.saturating_add(50));
                        *input = [room.least, most, room.least / 2 + most.div_ceil(2), *input][chance.below(4)];
                        moved[usize::from(periods_only)] += u32::from(*input != before);
                    }
                    let expected = plain(&program, &stepped, &last);
                    assert_eq!(told, expected.1[..told.len()], "{program:?} in scan {scan} and {again} more");
                    stepped = expected.0;
                }
                ride.goes_on(&rounds, &mut words, &last, (scans, stays));
                let mut now = words.clone();
                ride.clone().writes(trace, &rounds, &mut now);
                assert_eq!(now, stepped, "{program:?} behind scan {scan} and {scans} more");
            }
        }
    }
    assert!(ridden > 20_000 && round > 3_000 && back > 80, "{ridden} {round} {back} {once} {periods} {moved:?}");
    assert!(once > 5_000 && periods > 500, "{once} {periods} {moved:?}");
    assert!(moved[0] > 1_000 && moved[1] > 100, "{moved:?}");
}

#[test]
fn a_way_round_copies_a_word_as_it_has_grown() {
    // One word counts up; another is set to it as soon as a third, which counts up too, has come to 5.
    let ops = vec![Op::Add(0, 6, 999), Op::AtLeast(1, 5), Op::SetWord(1, 2, 8), Op::Add(1, 6, 12)];
    let program = Program { ops, after: vec![8, 9, 2, 3, 4, 5] };
    let trace = |third: u32| {
        let mut noting = Noting::new(WORDS);
        let given = [100, third, 0, 0, 0, 0, 0, 0];
        let noted: Vec<Noted> = (0..).zip(given).map(|(place, now)| Noted::at(place, now)).collect();
        let (after, _) = run(&mut noting, &program, &noted);
        trace_of(&noting, after).unwrap()
    };
    let traces = [trace(0), trace(6)];
    let mut rounds = Rounds::new(&traces[0], 0);
    rounds.take(&traces[0], &traces, 1);
    let (mut words, mut ride, inputs) = (vec![100, 0, 0, 0, 0, 0], Ride::default(), [0, 0]);
    let mut stepped = words.clone();
    assert!(traces[0].begins(&rounds, &words, INPUTS, &mut ride));
    for scan in 0..10 {
        let goes = traces[0].rides(&rounds, &mut words, &inputs, &mut ride)
            || traces[0].goes_round(&rounds, &traces, &mut words, &inputs, &mut ride);
        assert!(goes || scan > 5, "no way in scan {scan}");
        if !goes {
            break;
        }
        stepped = plain(&program, &stepped, &inputs).0;
        let mut now = words.clone();
        ride.clone().writes(&traces[0], &rounds, &mut now);
        assert_eq!(now, stepped, "behind scan {scan}");
    }
}
