//! The carriers on the lane.

use std::collections::VecDeque;

use super::number::Random;
use super::scenario::{Effect, Which};
use crate::lane::Course;
use crate::station::{InputId, Lane};

/// A conveyor that lags: its pace and the share of the rope that its carriers still make.
pub(super) type Lag = (InputId, f64);

/// One carrier.
#[derive(Debug, Clone)]
pub(super) struct Carrier {
    number: u32,
    /// Rope that has carried its front along the lane, mm.
    pub(super) run: f64,
    /// A constant of its own in -1 to 1, by which its forces differ from the rated ones.
    pub(super) strength: f64,
    /// Rope to lose (or, negative, to gain), and the run from which on.
    shift: (f64, f64),
    /// Run at which it stays for good.
    stuck: Option<f64>,
    /// Run at which it is gone from the lane.
    gone: Option<f64>,
    /// Gauges it presses with a force of its own, in steps.
    pub(super) presses: Vec<(usize, f64)>,
}

/// The carriers on the lane and the rope that brings the next ones.
#[derive(Debug, Clone)]
pub(super) struct Train {
    pub(super) course: Course,
    /// Front carrier first.
    list: VecDeque<Carrier>,
    /// Run of the place on the rope one distance before which the next carrier hangs.
    tail: f64,
    every: f64,
    length: f64,
    /// Run of the lane's beginning at which carriers are taken in, and of the end at which they go.
    ends: (f64, f64),
    uncouples: f64,
    next: u32,
    /// Greatest deviation of a carrier's place on the rope.
    spread: f64,
    /// Carriers on the rope.
    round: Option<u32>,
    seed: u64,
    /// Effects on carriers that have not come yet, with the lines of their events.
    waiting: Vec<(u32, Effect, usize)>,
}

impl Train {
    /// Carriers at their distance over the lane up to `watched`, behind which nothing sees them, or none yet.
    pub(super) fn new(lane: &Lane, watched: f64, full: bool, spread: f64, round: Option<u32>, seed: u64) -> Self {
        let course = Course::new(lane);
        let (every, length) = (f64::from(lane.every).max(1.0), f64::from(lane.carrier));
        let margin = 2_000.0 + length;
        let ends = (-margin, course.run_to(watched + margin));
        let uncouples = course.run_to(f64::from(lane.uncouples));
        // The place where the rope stood when it all began: the middle between two carriers lies at
        // the beginning of the lane.
        let mut tail = every / 2.0;
        if full {
            while tail < ends.1 {
                tail += every;
            }
        }
        let list = VecDeque::new();
        let waiting = Vec::new();
        let mut train =
            Self { course, list, tail, every, length, ends, uncouples, next: 1, spread, round, seed, waiting };
        train.take_in();
        train
    }
    /// The carriers, front one first.
    pub(super) fn carriers(&self) -> impl Iterator<Item = &Carrier> {
        self.list.iter()
    }
    /// Moves everything by so much rope.
    pub(super) fn advance(&mut self, travel: f64, lags: &[Lag]) {
        self.tail += travel;
        let mut ahead: Option<f64> = None;
        for carrier in &mut self.list {
            let mut step = travel;
            if let Some(pace) = self.course.pace_at(carrier.run).filter(|_| !lags.is_empty()) {
                step *= lags.iter().filter(|l| l.0 == pace).map(|l| l.1).product::<f64>();
            }
            if carrier.shift.0 != 0.0 && travel > 0.0 && carrier.run >= carrier.shift.1 {
                let moved = carrier.shift.0.clamp(-step / 2.0, step / 2.0);
                carrier.shift.0 -= moved;
                step -= moved;
            }
            let mut run = carrier.run + step;
            if let Some(stuck) = carrier.stuck {
                run = run.min(stuck.max(carrier.run));
            }
            if let Some(ahead) = ahead.filter(|a| travel > 0.0 && a - run < self.length / self.course.slowest()) {
                let behind = self.course.place_at(ahead) - self.length;
                if self.course.place_at(run) > behind {
                    run = self.course.run_to(behind).max(carrier.run);
                }
            }
            carrier.run = run;
            ahead = Some(run);
        }
        let end = self.ends.1;
        self.list.retain(|c| c.run < c.gone.unwrap_or(end).min(end));
        self.take_in();
    }
    /// Takes in the carriers that have come near.
    fn take_in(&mut self) {
        while self.tail - self.every >= self.ends.0 {
            self.tail -= self.every;
            let number = self.next;
            self.next = self.next.saturating_add(1);
            // Counted from 1: the first of the next round is the first one again.
            let whose = self.round.map_or(number, |round| (number - 1) % round + 1);
            let mut own = Random::new(self.seed ^ (u64::from(whose) << 20));
            let strength = own.wobble();
            let run = self.tail + own.wobble() * self.spread;
            let (shift, stuck, gone, presses) = ((0.0, 0.0), None, None, Vec::new());
            self.list.push_back(Carrier { number, run, strength, shift, stuck, gone, presses });
            if self.waiting.iter().any(|w| w.0 == number) {
                let mut waiting = std::mem::take(&mut self.waiting);
                for (_, effect, _) in waiting.extract_if(.., |w| w.0 == number) {
                    self.put(number, &effect);
                }
                self.waiting = waiting;
            }
        }
    }
    /// Lines of events whose carriers have not come.
    pub(super) fn waiting(&self) -> impl Iterator<Item = usize> {
        self.waiting.iter().map(|w| w.2)
    }
    /// Lets something happen to a carrier, told by a line; false if it has already gone.
    pub(super) fn happen(&mut self, which: Which, effect: &Effect, line: usize) -> bool {
        let number = match which {
            Which::Next => self.next,
            Which::Number(number) => number,
        };
        if number >= self.next {
            self.waiting.push((number, effect.clone(), line));
            return true;
        }
        self.put(number, effect)
    }
    fn put(&mut self, number: u32, effect: &Effect) -> bool {
        let start = self.uncouples;
        let run_to = |course: &Course, place: &Option<f64>| place.map_or(start, |p| course.run_to(p));
        let Some(at) = self.list.iter().position(|c| c.number == number) else {
            return false;
        };
        let Some(carrier) = self.list.get_mut(at) else {
            return false;
        };
        match effect {
            Effect::Shift { by, from } => carrier.shift = (*by, run_to(&self.course, from)),
            Effect::Lost { at } => carrier.gone = Some(run_to(&self.course, at)),
            Effect::Stays { at } => carrier.stuck = Some(run_to(&self.course, at)),
            Effect::Presses { gauge, steps } => carrier.presses.push((*gauge, *steps)),
            Effect::TakenOut => {
                self.list.remove(at);
            }
            Effect::Doubled { behind } => {
                let mut twin = carrier.clone();
                twin.run -= behind;
                self.list.insert(at + 1, twin);
            }
        }
        true
    }
    /// Puts a carrier on the lane that did not come with the rope.
    pub(super) fn put_in(&mut self, place: f64) {
        let run = self.course.run_to(place);
        let at = self.list.iter().position(|c| c.run < run).unwrap_or(self.list.len());
        let carrier =
            Carrier { number: 0, run, strength: 0.0, shift: (0.0, 0.0), stuck: None, gone: None, presses: Vec::new() };
        self.list.insert(at, carrier);
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::tiny_station;
    use super::*;

    fn train() -> Train {
        Train::new(tiny_station().lane.as_ref().unwrap(), 12_000.0, true, 0.0, None, 1)
    }
    fn runs(train: &Train) -> Vec<f64> {
        train.carriers().map(|c| c.run).collect()
    }

    #[test]
    fn carriers_keep_their_distance_in_rope() {
        let mut train = train();
        for _ in 0..10_000 {
            train.advance(47.0, &[]);
            let runs = runs(&train);
            assert!(runs.windows(2).all(|w| (w[0] - w[1] - 40_000.0).abs() < 1e-6), "{runs:?}");
            assert!(runs.len() <= 2);
        }
        // 470 m of rope; the foremost one was there, 20 m in.
        assert_eq!(train.next, 14);
    }

    #[test]
    fn late_and_early_carriers_shift_by_what_was_told() {
        for by in [400.0, -400.0] {
            let (mut plain, mut shifted) = (train(), train());
            shifted.happen(Which::Number(2), &Effect::Shift { by, from: None }, 0);
            while plain.next < 3 || runs(&plain)[0] < 20_000.0 {
                plain.advance(10.0, &[]);
                shifted.advance(10.0, &[]);
            }
            assert!((runs(&plain)[0] - runs(&shifted)[0] - by).abs() < 1e-6);
        }
    }

    #[test]
    fn lost_stuck_doubled_taken_and_put_in() {
        let mut train = train();
        let count = |t: &Train| t.list.len();
        assert!(train.happen(Which::Next, &Effect::Doubled { behind: 1_500.0 }, 0));
        assert!(train.happen(Which::Next, &Effect::Stays { at: Some(5_000.0) }, 0));
        while runs(&train).first() != Some(&train.course.run_to(5_000.0)) {
            train.advance(10.0, &[]);
        }
        for _ in 0..1_000 {
            train.advance(10.0, &[]);
        }
        // The twin has closed up and stands behind it.
        let places: Vec<f64> = train.carriers().map(|c| train.course.place_at(c.run)).collect();
        assert!((places[0] - places[1] - 600.0).abs() < 1.0, "{places:?}");
        let before = count(&train);
        assert!(train.happen(Which::Number(train.next - 1), &Effect::TakenOut, 0));
        assert_eq!(count(&train), before - 1);
        train.put_in(6_000.0);
        assert_eq!(count(&train), before);
    }

    #[test]
    fn the_rope_runs_back_and_forth_without_loss() {
        let mut train = train();
        let before = runs(&train);
        for step in [700.0, -1_400.0, 700.0] {
            train.advance(step, &[]);
        }
        for (a, b) in before.iter().zip(runs(&train)) {
            assert!((a - b).abs() < 1e-6);
        }
    }
}
