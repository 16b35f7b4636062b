//! What passings teach: how each watch that measures was kept in recordings, and in what window a named share of all passings
//! lies.
//!
//! Numbers are whole steps, scans and millimetres, so they are counted one by one: nothing is estimated. Data may only
//! tighten a limit, so no window reaches beyond the limits of the rules, and none is given where a passing broke one.
//!
//! A gauge that is judged over a stretch gives many values in one passing. They belong together, so a passing counts once,
//! with its least and its greatest value: cutting off one passing at each end leaves as much out as it does where each has one
//! value (J. W. Tukey's blocks, 1947; from memory). A passing of which a part was not seen is left out: it has too little spread.

pub mod counts;
pub mod share;
pub mod tolerance;

use crate::replay::event::What;
use crate::replay::{Event, Limits, Seen, Sink};
use crate::sample::Health;
use crate::station::ways::{Source, WayOf, ways};
use crate::station::{InputKind, Station, WatchKind, When};
use counts::Counts;
use std::io;
use tolerance::Wanted;

/// Passings of a station, watch by watch.
#[derive(Debug, Clone)]
pub struct Passings {
    ways: Vec<WayOf>,
    watches: Vec<Option<Watched>>,
    /// Bypasses that mask each watch, a bit for each.
    masks: Vec<u64>,
    /// The scan before was seen.
    seen: bool,
}

/// Passings at a watch.
#[derive(Debug, Clone)]
struct Watched {
    limits: Limits,
    /// Terminal of the gauge that is measured.
    gauge: Option<usize>,
    /// It judges in many scans of one passing.
    throughout: bool,
    least: Counts,
    greatest: Counts,
    /// Passings that broke a limit, or came from nowhere.
    broken: u64,
    breaks: bool,
    state: Passing,
}

/// Where a passing stands that takes many scans.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Passing {
    None,
    /// Some of it was not seen.
    Cut,
    /// Its least and its greatest value.
    Open([u32; 2]),
}

impl Watched {
    /// A scan that was seen, with what was judged in it.
    fn scan(&mut self, judged: Option<u32>) {
        if !self.throughout {
            if let Some(value) = judged {
                self.count([value; 2]);
            }
            return;
        }
        self.state = match (self.state, judged) {
            (Passing::None, Some(value)) => Passing::Open([value; 2]),
            (Passing::Open([least, greatest]), Some(value)) => Passing::Open([least.min(value), greatest.max(value)]),
            (Passing::Cut, Some(_)) => Passing::Cut,
            (Passing::Open(ends), None) => {
                self.count(ends);
                Passing::None
            }
            (Passing::None | Passing::Cut, None) => Passing::None,
        };
    }
    fn count(&mut self, [least, greatest]: [u32; 2]) {
        self.least.add(least);
        self.greatest.add(greatest);
    }
    /// Passings outside the limits, at least.
    fn outside(&self) -> u64 {
        let below = self.limits.least.map_or(0, |limit| self.least.below(limit));
        let above = self.limits.most.map_or(0, |limit| self.greatest.above(limit));
        self.broken.max(below).max(above)
    }
}

/// What is told of a watch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// Its name.
    pub name: String,
    /// Unit of all values, which are in millionths of it.
    pub unit: String,
    /// Limits of the rules, as the controller counts them.
    pub limits: [Option<i64>; 2],
    /// Passings with a value.
    pub judged: u64,
    /// Passings outside the limits, at least; those that never came have no value.
    pub outside: u64,
    /// The least value of a passing, and how often it was that.
    pub least: Vec<(i64, u64)>,
    /// The greatest value of a passing, and how often it was that.
    pub greatest: Vec<(i64, u64)>,
    /// The window that is suggested, or why none is.
    pub window: Result<[i64; 2], NoWindow>,
}

/// Why no window is suggested.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoWindow {
    /// So many passings are needed in all.
    TooFew(u64),
    /// Passings lay outside the limits, which data may not widen.
    Outside,
}

/// A limit that the rules do not have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Other {
    /// A lower one, in millionths of the unit: passings below it would trip.
    Least(i64),
    /// An upper one.
    Most(i64),
}

impl Told {
    /// How many of the passings would have tripped at another limit.
    pub fn at(&self, other: Other) -> u64 {
        let all = match other {
            Other::Least(_) => &self.least,
            Other::Most(_) => &self.greatest,
        };
        let trips = |micro: i64| match other {
            Other::Least(limit) => micro < limit,
            Other::Most(limit) => micro > limit,
        };
        all.iter().filter(|(micro, _)| trips(*micro)).map(|(_, count)| count).sum()
    }
}

impl Passings {
    /// None yet.
    pub fn new(station: &Station) -> Self {
        let watched = station.watches.iter().map(|watch| {
            let limits = Limits::of(station, watch)?;
            let (gauge, throughout) = match &watch.kind {
                WatchKind::Measure(measure) => (terminal(station, measure.gauge), measure.when != When::Rise),
                _ => (None, false),
            };
            let (least, greatest) = (Counts::default(), Counts::default());
            let state = Passing::Cut;
            Some(Watched { limits, gauge, throughout, least, greatest, broken: 0, breaks: false, state })
        });
        let masks = (0..station.watches.len()).map(|watch| {
            let masking = station.bypasses.iter().enumerate().filter(|(_, bypass)| bypass.of.contains(&watch));
            masking.fold(0, |all, (bypass, _)| all | bit(bypass))
        });
        Self { ways: ways(station), watches: watched.collect(), masks: masks.collect(), seen: false }
    }
    /// Whatever goes on is not seen to its end: a recording is over, or the controller restarts.
    pub fn cut(&mut self) {
        self.seen = false;
        for watched in self.watches.iter_mut().flatten() {
            (watched.state, watched.breaks) = (Passing::Cut, false);
        }
    }
    /// What was counted, and the windows in which the wanted share lies.
    pub fn told(&self, station: &Station, wanted: Wanted) -> Vec<Told> {
        let needed = wanted.passings();
        let named = station.watches.iter().zip(&self.watches);
        named
            .filter_map(|(watch, of)| {
                let watched = of.as_ref()?;
                let Watched { limits, least, greatest, .. } = watched;
                let outside = watched.outside();
                let window = match least.ends().zip(greatest.ends()) {
                    _ if outside > 0 => Err(NoWindow::Outside),
                    Some(((low, _), (_, high))) if least.sum() >= needed => Ok([limits.micro(low), limits.micro(high)]),
                    _ => Err(NoWindow::TooFew(needed)),
                };
                let micro = |counts: &Counts| counts.all().map(|(value, count)| (limits.micro(value), count)).collect();
                Some(Told {
                    name: watch.name.text.clone(),
                    unit: limits.unit.clone(),
                    limits: [limits.least, limits.most].map(|limit| limit.map(|limit| limits.micro(limit))),
                    judged: least.sum(),
                    outside,
                    least: micro(least),
                    greatest: micro(greatest),
                    window,
                })
            })
            .collect()
    }
}

impl Sink for Passings {
    fn event(&mut self, event: &Event) -> io::Result<()> {
        if matches!(event.what, What::PowerUp | What::Gap { .. }) {
            self.cut();
        }
        Ok(())
    }
    /// What happened only because the recording did not stop where the rules would have is not seen, nor is what a bypass masks
    /// or a gauge in doubt shows.
    fn scan(&mut self, seen: &Seen<'_>) -> io::Result<()> {
        let Some(scanned) = seen.scanned.filter(|_| !seen.counterfactual) else {
            self.cut();
            return Ok(());
        };
        // The first scan that counts again may still tell of what came about before.
        if !std::mem::replace(&mut self.seen, true) {
            return Ok(());
        }
        for (number, watched) in self.watches.iter_mut().enumerate() {
            let Some(watched) = watched else { continue };
            let doubtful = watched.gauge.is_some_and(|gauge| {
                seen.sample.gauges.get(gauge).is_none_or(|reading| reading.health != Health::Good)
            });
            if doubtful || self.masks.get(number).is_some_and(|mask| mask & scanned.active != 0) {
                watched.state = Passing::Cut;
                continue;
            }
            let own = scanned.judged.iter().find(|judged| usize::from(judged.watch) == number);
            watched.scan(own.map(|judged| judged.measured));
            let mut tripped = scanned.trips.iter().filter_map(|way| self.ways.get(usize::from(*way)));
            let breaks = tripped.any(|way| way.source == Source::Watch(number));
            watched.broken += u64::from(breaks && !watched.breaks);
            watched.breaks = breaks;
        }
        Ok(())
    }
}

fn bit(place: usize) -> u64 {
    u32::try_from(place).ok().and_then(|place| 1_u64.checked_shl(place)).unwrap_or(0)
}

fn terminal(station: &Station, gauge: usize) -> Option<usize> {
    match &station.inputs.get(gauge)?.kind {
        InputKind::Gauge(gauge) => Some(gauge.terminal),
        _ => None,
    }
}
