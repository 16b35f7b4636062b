//! What has changed of a carrier, day by day, against itself and against its fleet.
//!
//! A day's value of a carrier is the mean of its passings. What all of them have in common (a cold morning, a gauge that was set anew) is taken off: the
//! median of what changed. What is left is held against the mean of the carrier's days before, times the root of n / (n + 1): such recursive
//! residuals scatter alike and do not depend on one another, however few days there were (R. L. Brown, J. Durbin and J. M. Evans, 1975;
//! as self-starting charts, D. M. Hawkins, 1987). Their scatter is that of the whole fleet.

use std::collections::BTreeMap;

use super::charts::{Cusum, Ewma, Side};
use super::robust::{mean, median, real, spread};

/// Allowance of a CUSUM, in standard deviations: half of the smallest shift that is looked for.
const ALLOWANCE: f64 = 0.5;
/// Its limit. Of a carrier that does not change one of its sides passes it once in about a million days (D. Siegmund's
/// approximation, 1985: (exp(2kb) - 2kb - 1) / 2k² days, b = h + 1.166).
const LIMIT: f64 = 12.0;
/// Weight of a day in an EWMA.
const WEIGHT: f64 = 0.3;
/// Its limit, in its own standard deviations: one day alone that is this far off passes it.
const WIDTH: f64 = 6.0;
/// Days of a carrier before it is judged.
const DAYS: usize = 2;
/// Residuals from which a scatter is told.
const ENOUGH: usize = 20;
/// Carriers that make a fleet, in which one can stand out.
const FLEET: usize = 10;
/// A carrier stands out of its fleet beyond so many robust standard deviations, in two days one after the other.
const STANDS_OUT: f64 = 6.0;
/// Standard deviation of the means of days at the least: half a step of a gauge, half a millimetre of rope.
const FINEST: f64 = 0.5;
/// A trend is that of so many days.
const TREND: usize = 7;

/// What became clear of a carrier on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// It moved away from what it was.
    Moves(Side),
    /// It is far from all others.
    StandsOut(Side),
}

impl Found {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Moves(Side::Low) => "falls",
            Self::Moves(Side::High) => "rises",
            Self::StandsOut(Side::Low) => "far below its fleet",
            Self::StandsOut(Side::High) => "far above its fleet",
        }
    }
}

/// One value of one carrier, over the days.
#[derive(Debug, Clone)]
pub struct Own {
    /// The day, the mean of its passings, and that mean with what all have in common taken off.
    pub days: Vec<(usize, f64, f64)>,
    /// The same with what all have in common taken off: mean and number.
    before: (f64, usize),
    moves: Cusum,
    level: Ewma,
    /// The smoothed value.
    smooth: Ewma,
    /// Days in which it stood out, one after the other.
    out: u32,
    /// What was found, and on which day, each once.
    pub found: Vec<(Found, usize)>,
    /// How far it is from the middle of its fleet, in robust standard deviations; none without a fleet.
    pub against_fleet: Option<f64>,
}

impl Own {
    fn new(value: f64) -> Self {
        Self {
            days: Vec::new(),
            before: (0.0, 0),
            moves: Cusum::new(0.0, ALLOWANCE, LIMIT),
            level: Ewma::new(WEIGHT, 0.0),
            smooth: Ewma::new(WEIGHT, value),
            out: 0,
            found: Vec::new(),
            against_fleet: None,
        }
    }
    /// The smoothed value.
    pub fn smooth(&self) -> f64 {
        self.smooth.value()
    }
    /// Its change a day against its fleet, by least squares over its last days; none of a single one.
    pub fn slope(&self) -> Option<f64> {
        let last: Vec<(f64, f64)> = self.last().map(|(day, _, own)| (real(*day), *own)).collect();
        let middle = |of: fn(&(f64, f64)) -> f64| mean(&last.iter().map(of).collect::<Vec<_>>());
        let (x, y) = (middle(|p| p.0)?, middle(|p| p.1)?);
        let across: f64 = last.iter().map(|p| (p.0 - x) * (p.1 - y)).sum();
        let along: f64 = last.iter().map(|p| (p.0 - x) * (p.0 - x)).sum();
        (last.len() > 1).then(|| across / along)
    }
    /// Its value today, as the trend of its last days has it, and what all have in common as it was in their mean; none of a single day.
    pub fn today(&self) -> Option<f64> {
        let days: Vec<f64> = self.last().map(|(day, ..)| real(*day)).collect();
        let values: Vec<f64> = self.last().map(|(_, value, _)| *value).collect();
        Some(mean(&values)? + self.slope()? * (days.first()? - mean(&days)?))
    }
    /// Days until it is at a limit, from [`Own::today`] on, if it goes on as it does; none if it does not go there.
    pub fn days_to(&self, least: Option<f64>, most: Option<f64>) -> Option<f64> {
        let (slope, now) = (self.slope()?, self.today()?);
        let limit = if slope < 0.0 { least? } else { most? };
        Some(((limit - now) / slope).max(0.0)).filter(|days| days.is_finite())
    }
    /// Its last days, the last one first.
    fn last(&self) -> impl Iterator<Item = &(usize, f64, f64)> {
        self.days.iter().rev().take(TREND)
    }
    fn find(&mut self, found: Found, day: usize) {
        if !self.found.iter().any(|(before, _)| *before == found) {
            self.found.push((found, day));
        }
    }
}

/// One value of all carriers.
#[derive(Debug, Clone, Default)]
pub struct Trend {
    /// By the number of the carrier.
    pub own: BTreeMap<u32, Own>,
    /// Residuals of all carriers so far.
    residuals: Vec<f64>,
    /// What one passing can tell apart.
    resolution: f64,
}

impl Trend {
    /// Days and carriers are enough to tell what is usual from day to day, and so whether one changes.
    pub fn is_judging(&self) -> bool {
        self.residuals.len() >= ENOUGH && self.own.values().any(|own| own.days.len() > DAYS)
    }
    /// Nothing yet; `resolution` is what one passing can tell apart: a step of a gauge, the rope of a scan.
    pub fn new(resolution: f64) -> Self {
        Self { resolution, ..Self::default() }
    }
    /// Takes the mean of each carrier's passings of a day. Days are numbered upwards.
    pub fn day(&mut self, day: usize, means: &BTreeMap<u32, f64>) {
        for (number, value) in means {
            self.own.entry(*number).or_insert_with(|| Own::new(*value));
        }
        let residual = |number: &u32, value: &f64| {
            self.own.get(number).filter(|own| own.before.1 > 0).map(|own| value - own.before.0)
        };
        let common = median(means.iter().filter_map(|(number, value)| residual(number, value))).unwrap_or(0.0);
        // Of few carriers one alone can be what they have in common.
        let common = if means.len() >= FLEET { common } else { 0.0 };
        let mut today = BTreeMap::new();
        for (number, value) in means {
            let Some(own) = self.own.get_mut(number) else { continue };
            let (before, days) = own.before;
            let own_value = value - common;
            if days > 0 {
                let known = real(days);
                today.insert(*number, (own_value - before) * (known / (known + 1.0)).sqrt());
            }
            own.before = (before + (own_value - before) / real(days + 1), days + 1);
            own.days.push((day, *value, own_value));
            own.smooth.add(*value);
        }
        self.residuals.extend(today.values());
        let scatter = spread(self.residuals.iter().copied()).unwrap_or(0.0).max(FINEST);
        let enough = self.residuals.len() >= ENOUGH && scatter > 0.0;
        for (number, residual) in today {
            let Some(own) = self.own.get_mut(&number).filter(|_| enough) else { continue };
            let off = residual / scatter;
            let moves = own.moves.add(off);
            let level = own.level.add(off);
            let jumps =
                (level.abs() > own.level.reach(1.0, WIDTH)).then_some(if level > 0.0 { Side::High } else { Side::Low });
            if let Some(side) = moves.or(jumps).filter(|_| own.days.len() > DAYS) {
                own.find(Found::Moves(side), day);
            }
        }
        self.against_fleet(day, means);
    }
    fn against_fleet(&mut self, day: usize, means: &BTreeMap<u32, f64>) {
        let Some(middle) = median(means.values().copied()).filter(|_| means.len() >= FLEET) else { return };
        // What differs by less than a passing can tell may differ always in the same way.
        let wide = spread(means.values().map(|value| value - middle)).unwrap_or(0.0).max(self.resolution);
        for (number, value) in means {
            let Some(own) = self.own.get_mut(number).filter(|_| wide > 0.0) else { continue };
            let off = (value - middle) / wide;
            own.against_fleet = Some(off);
            own.out = if off.abs() > STANDS_OUT { own.out + 1 } else { 0 };
            if own.out > 1 {
                own.find(Found::StandsOut(if off > 0.0 { Side::High } else { Side::Low }), day);
            }
        }
    }
}
