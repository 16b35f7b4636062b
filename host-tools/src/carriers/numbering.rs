//! Which carrier each passing was: the likeliest way round the loop.
//!
//! Carriers keep their order on the rope, so one passing is followed by that of the next place of the loop. What else can
//! have happened has its price: a place from which its carrier is gone, a carrier that nobody knows, a force or a distance unlike the
//! one known. The way with the least sum is found by going through all of them at once (R. E. Bellman's dynamic programming, as in the
//! decoder of A. J. Viterbi, 1967). Prices are negative logarithms of likelihoods.

use std::collections::BTreeMap;

use super::View;
use super::robust::{median, real};

/// A place on the loop, and the carrier that hangs there.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Place {
    pub(super) number: u32,
    /// Its force, less the median of its fleet.
    pub(super) force: f64,
    /// Rope since the place before.
    pub(super) gap: Option<f64>,
    /// It hangs there no longer.
    pub(super) out: bool,
}

/// What is known of all of them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Loop {
    /// In the order in which they pass.
    pub(super) places: Vec<Place>,
    /// Standard deviation of one carrier's force from round to round.
    pub(super) force_by: f64,
    /// The same of a distance.
    pub(super) gap_by: f64,
}

/// Whose passing one was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Whose {
    /// That of the carrier of this place.
    Of(usize),
    /// Nobody's that is known, after this place.
    Unknown(usize),
}

/// A way round the loop.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Way {
    pub(super) whose: Vec<Whose>,
    /// Its price.
    pub(super) price: f64,
}

impl Way {
    /// Places whose carriers did not come, and how often.
    pub(super) fn skipped(&self, places: usize) -> BTreeMap<usize, u32> {
        let mut all = BTreeMap::new();
        let mut last: Option<usize> = None;
        for whose in &self.whose {
            let Whose::Of(place) = *whose else { continue };
            for skipped in last.into_iter().flat_map(|last| between(last, place, places)) {
                *all.entry(skipped).or_default() += 1;
            }
            last = Some(place);
        }
        all
    }
}

/// Places between two, in the order in which they pass.
pub(super) fn between(from: usize, to: usize, places: usize) -> impl Iterator<Item = usize> {
    (1..places).map(move |by| (from + by) % places).take_while(move |place| *place != to)
}

/// A carrier that hangs there does not come.
const SKIPPED: f64 = 10.0;
/// One comes that nobody knows.
const UNKNOWN: f64 = 12.0;
/// No force is more unlike than this: more than for an unknown and a distance, less than for one gone and an unknown.
const FORCE_AT_MOST: f64 = 18.0;
/// The same of a distance, which changes where a neighbour was taken out or spacing was set anew.
const GAP_AT_MOST: f64 = 4.0;
/// So many that hang there are skipped at once at most.
const AT_ONCE: u32 = 3;
/// The turn of the loop that fits best must be better by this than any other, which makes that about 400 times as unlikely.
const CLEAR: f64 = 6.0;
/// At this mean price passings are not those of this loop.
const STRANGE: f64 = 5.0;

impl Loop {
    /// Lays passings along the loop; none if more than one turn of it fits, or none does.
    pub(super) fn lay(&self, view: &View) -> Option<Way> {
        let places = self.places.len();
        let middle = median(view.forces().flatten())?;
        let forces: Vec<Option<f64>> = view.forces().map(|force| Some(force? - middle)).collect();
        let gaps = view.gaps();
        let here: Vec<(Option<f64>, Option<f64>)> = forces.into_iter().zip(gaps).collect();
        let next: Vec<Vec<Step>> = (0..places).map(|from| self.steps(from)).collect();
        let starts = |start: Option<usize>| -> Vec<f64> {
            let first = here.first().and_then(|first| first.0);
            let price = |place: usize| {
                if start.is_none_or(|start| start == place) { self.force(place, first) } else { f64::INFINITY }
            };
            (0..places).map(price).collect()
        };
        // Two rounds are enough to see which turn of the loop it is.
        let two_rounds = here.get(..(2 * places).min(here.len()))?;
        let turns: Vec<(usize, f64)> =
            (0..places).filter_map(|start| end(&self.run(starts(Some(start)), two_rounds, &next, None))).collect();
        let best = turns.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        // Two that come to the same place differ in whose the first passings were, and are one turn.
        if turns.iter().any(|other| other.0 != best.0 && other.1 - best.1 < CLEAR) {
            return None;
        }
        let mut back = Vec::with_capacity(here.len());
        let ends = self.run(starts(None), &here, &next, Some(&mut back));
        let (mut at, price) = end(&ends)?;
        if price > STRANGE * real(here.len()) {
            return None;
        }
        let mut whose = Vec::with_capacity(here.len());
        for came in back.iter().rev() {
            let from = *came.get(at)?;
            whose.push(if from == at { Whose::Unknown(at) } else { Whose::Of(at) });
            at = from;
        }
        whose.push(Whose::Of(at));
        whose.reverse();
        Some(Way { whose, price })
    }

    /// Least price of having come to each place with all passings seen, after the first. `back` gets where each was come from: a place
    /// that was come to from itself stands for an unknown carrier.
    fn run(
        &self,
        mut now: Vec<f64>,
        here: &[(Option<f64>, Option<f64>)],
        next: &[Vec<Step>],
        mut back: Option<&mut Vec<Vec<usize>>>,
    ) -> Vec<f64> {
        for (force, gap) in here.iter().skip(1) {
            let mut then: Vec<f64> = now.iter().map(|price| price + UNKNOWN).collect();
            let mut from: Vec<usize> = (0..now.len()).collect();
            let alike: Vec<f64> = (0..now.len()).map(|place| self.force(place, *force)).collect();
            for (place, (price, steps)) in now.iter().zip(next).enumerate().filter(|(_, (price, _))| price.is_finite())
            {
                for step in steps {
                    let sum =
                        price + step.price + alike.get(step.to).copied().unwrap_or(0.0) + self.gap(step.gap, *gap);
                    if let (Some(least), Some(from)) = (then.get_mut(step.to), from.get_mut(step.to))
                        && sum < *least
                    {
                        (*least, *from) = (sum, place);
                    }
                }
            }
            now = then;
            if let Some(back) = &mut back {
                back.push(from);
            }
        }
        now
    }

    /// Where the next passing can be of, and what it costs: every place up to some that are skipped. A place that is empty costs nothing.
    fn steps(&self, from: usize) -> Vec<Step> {
        let (mut steps, mut price, mut skipped, mut rope) = (Vec::new(), 0.0, 0, Some(0.0));
        let round = (1..self.places.len()).map(|by| (from + by) % self.places.len());
        for to in round {
            let Some(place) = self.places.get(to) else { break };
            rope = rope.zip(place.gap).map(|(rope, gap)| rope + gap);
            steps.push(Step { to, price, gap: rope });
            if !place.out {
                price += SKIPPED;
                skipped += 1;
            }
            if skipped > AT_ONCE {
                break;
            }
        }
        steps
    }

    fn force(&self, place: usize, force: Option<f64>) -> f64 {
        match (force, self.places.get(place)) {
            (Some(force), Some(place)) => half_square((force - place.force) / self.force_by).min(FORCE_AT_MOST),
            _ => 0.0,
        }
    }
    fn gap(&self, known: Option<f64>, gap: Option<f64>) -> f64 {
        known.zip(gap).map_or(0.0, |(known, gap)| half_square((gap - known) / self.gap_by).min(GAP_AT_MOST))
    }
}

/// A passing that may follow another.
#[derive(Debug, Clone, Copy)]
struct Step {
    to: usize,
    price: f64,
    /// Rope between the two, where it is known.
    gap: Option<f64>,
}

fn half_square(x: f64) -> f64 {
    x * x / 2.0
}

/// The place at which it is likeliest to have come, and its price.
fn end(prices: &[f64]) -> Option<(usize, f64)> {
    prices.iter().copied().enumerate().min_by(|a, b| a.1.total_cmp(&b.1))
}
