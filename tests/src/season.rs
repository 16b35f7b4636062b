//! A season of carriers, passing by passing, made from a seed. Every number of it is invented: it is of a plausible kind, and measured nowhere.

use crate::generate::Rng;
use host_tools::carriers::{Passing, View};

/// What happens in a season.
#[derive(Debug, Clone)]
pub struct Season {
    /// It decides everything that is not said here.
    pub seed: u64,
    /// On the rope.
    pub carriers: usize,
    /// How many.
    pub days: usize,
    /// Rounds of a day.
    pub rounds: usize,
    /// The carrier whose spring gives way from the second day on, and the share of its force that goes each day.
    pub weakens: Option<(usize, f64)>,
    /// A carrier that is out from one day on, and back on another.
    pub out: Option<(usize, usize, usize)>,
    /// One that comes back is as it was; else it has this much more force, N.
    pub changed: f64,
    /// A carrier whose way takes so much more rope each day, mm.
    pub drags: Option<(usize, f64)>,
    /// All grips close alike: nothing tells them apart.
    pub alike: bool,
}

impl Season {
    /// Sixty carriers, and nothing happens.
    pub fn quiet(seed: u64) -> Self {
        Self {
            seed,
            carriers: 60,
            days: 18,
            rounds: 40,
            weakens: None,
            out: None,
            changed: 0.0,
            drags: None,
            alike: false,
        }
    }
    /// A carrier weakens by a hundredth a day, and another is out on day 9 and back on day 12.
    pub fn of_the_issue(seed: u64, weak: usize, out: usize) -> Self {
        Self { weakens: Some((weak, 0.01)), out: Some((out, 9, 12)), ..Self::quiet(seed) }
    }
    /// The days, one after the other: each is one view. Carriers are numbered from 1.
    pub fn days(&self) -> Vec<View> {
        let mut rng = Rng::new(self.seed);
        let rated: Vec<f64> =
            (0..self.carriers).map(|_| 7_300.0 + if self.alike { 0.0 } else { 150.0 * normal(&mut rng) }).collect();
        let mut order: Vec<usize> = (1..=self.carriers).collect();
        (1..=self.days)
            .map(|day| {
                let there =
                    |carrier: usize| self.out.is_none_or(|(out, from, to)| carrier != out || day < from || day >= to);
                let days_before = f64::from(u32::try_from(day - 1).unwrap());
                // The weather moves all of them.
                let weather = 40.0 * normal(&mut rng);
                let today: Vec<f64> = (0..self.carriers).map(|_| 12.0 * normal(&mut rng)).collect();
                // Nobody has written down where the rope stood, but for the first day.
                let turn = if day == 1 {
                    0
                } else {
                    usize::try_from(rng.below(u64::try_from(self.carriers).unwrap())).unwrap()
                };
                order.rotate_left(turn);
                let (mut passings, mut rope, mut at_us) = (Vec::new(), 0, 0_u64);
                for _ in 0..self.rounds {
                    for carrier in order.iter().copied() {
                        rope += 60_000;
                        at_us += 12_000_000;
                        if !there(carrier) {
                            continue;
                        }
                        let lost = match self.weakens {
                            Some((weak, share)) if weak == carrier => share * days_before,
                            _ => 0.0,
                        };
                        let mended = self.out.is_some_and(|(out, _, to)| carrier == out && day >= to);
                        let mut force = rated[carrier - 1] * (1.0 - lost) + weather + today[carrier - 1];
                        force += 15.0 * normal(&mut rng) + if mended { self.changed } else { 0.0 };
                        // Now and then a grip closes oddly, or its gauge is in doubt.
                        if rng.below(1_000) == 0 {
                            force -= 150.0;
                        }
                        let known = rng.below(500) > 0;
                        let drag = match self.drags {
                            Some((drags, mm)) if drags == carrier => mm * days_before,
                            _ => 0.0,
                        };
                        let way = 4_900.0 + drag + 25.0 * normal(&mut rng);
                        passings.push(Passing {
                            at_us,
                            rope_mm: rope + rng.within(-400, 400),
                            values: vec![known.then(|| (force / 10.0).floor()), Some(way.round())],
                        });
                    }
                }
                View { passings }
            })
            .collect()
    }
    /// The first day on which this carrier once closes with less than so many newtons.
    pub fn trips(&self, days: &[View], carrier_passes: impl Fn(f64) -> bool) -> Option<usize> {
        days.iter()
            .position(|day| {
                day.passings.iter().any(|passing| passing.values[0].is_some_and(|force| carrier_passes(force * 10.0)))
            })
            .map(|day| day + 1)
    }
}

/// Nearly normal: the sum of twelve even numbers.
fn normal(rng: &mut Rng) -> f64 {
    (0..12).map(|_| f64::from(rng.small(0, 1 << 30)) / f64::from(1 << 30)).sum::<f64>() - 6.0
}
