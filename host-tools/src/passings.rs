//! What passings teach: how each watch that measures was kept in recordings, and in what window a named share of all passings
//! lies.
//!
//! Numbers are whole steps, scans and millimetres, so they are counted one by one: nothing is estimated. Data may only
//! tighten a limit, so no window reaches beyond the limits of the rules, and none is given where a passing broke one.
//!
//! A gauge that is judged over a stretch gives many values in one passing. They belong together, so a passing counts once,
//! with its least and its greatest value: cutting off one passing at each end leaves as much out as it does where each has one
//! value (J. W. Tukey's blocks, 1947; from memory). A passing of which a part was not seen is left out, since it has too little spread,
//! unless what was seen of it broke a limit.
//!
//! The controller's counters end behind the last limit that they are held against. What lay there or beyond, or came too late, has no
//! value: it is counted, and nothing is suggested from it.

pub mod counts;
pub mod share;
pub mod tolerance;

use crate::replay::event::What;
use crate::replay::{Event, Limits, Seen, Sink};
use crate::sample::Health;
use crate::station::ways::{Source, Way, WayOf, ways};
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
    /// Passings beyond what is measured, or too late.
    beyond: u64,
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
    /// A scan that was seen, with what was judged in it, and whether somebody came too late or has not come by now.
    fn scan(&mut self, judged: Option<u32>, late: bool) {
        if !self.throughout {
            match judged.and_then(|judged| self.limits.measured(judged)) {
                Some(value) if !late => self.count([value; 2]),
                _ => self.beyond += u64::from(late || judged.is_some()),
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
    /// What is under way is not seen to its end. What broke a limit by then has broken it.
    fn cut(&mut self) {
        if let Passing::Open([least, greatest]) = std::mem::replace(&mut self.state, Passing::Cut)
            && (self.limits.least.is_some_and(|limit| least < limit)
                || self.limits.most.is_some_and(|limit| greatest > limit))
        {
            self.count([least, greatest]);
        }
    }
    /// Passings outside the limits, at least.
    fn outside(&self) -> u64 {
        let below = self.limits.least.map_or(0, |limit| self.least.below(limit));
        let above = self.limits.most.map_or(0, |limit| self.greatest.above(limit) + self.beyond);
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
    /// Passings, with a value or without.
    pub judged: u64,
    /// Those of them without: beyond what is measured, or too late.
    pub beyond: u64,
    /// Where measuring ends; none of a gauge.
    pub measured_to: Option<i64>,
    /// Passings outside the limits, at least.
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
    /// Passings lay beyond what is measured.
    Beyond,
}

/// A limit that the rules do not have.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Other {
    /// A lower one, in millionths of the unit: passings below it would trip.
    Least(i64),
    /// An upper one.
    Most(i64),
}

/// Passings at another limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct At {
    /// Would have tripped.
    pub trips: u64,
    /// Cannot be told: they, and the limit, lie beyond what is measured.
    pub untold: u64,
}

impl Told {
    /// How many of the passings would have tripped at another limit.
    pub fn at(&self, other: Other) -> At {
        let all = match other {
            Other::Least(_) => &self.least,
            Other::Most(_) => &self.greatest,
        };
        let trips = |micro: i64| match other {
            Other::Least(limit) => micro < limit,
            Other::Most(limit) => micro > limit,
        };
        let valued: u64 = all.iter().filter(|(micro, _)| trips(*micro)).map(|(_, count)| count).sum();
        // Whoever comes too late trips at every limit that lies within what is measured.
        let [late, untold] = match (other, self.measured_to) {
            (Other::Most(limit), Some(end)) if limit < end => [self.beyond, 0],
            (Other::Least(limit), Some(end)) if limit <= end => [0, 0],
            _ => [0, self.beyond],
        };
        At { trips: valued + late, untold }
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
            Some(Watched { limits, gauge, throughout, least, greatest, beyond: 0, broken: 0, breaks: false, state })
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
            watched.cut();
            watched.breaks = false;
        }
    }
    /// What was counted, and the windows in which the wanted share lies.
    pub fn told(&self, station: &Station, wanted: Wanted) -> Vec<Told> {
        let needed = wanted.passings();
        let named = station.watches.iter().zip(&self.watches);
        named
            .filter_map(|(watch, of)| {
                let watched = of.as_ref()?;
                let Watched { limits, least, greatest, beyond, .. } = watched;
                let (beyond, outside) = (*beyond, watched.outside());
                let window = match least.ends().zip(greatest.ends()) {
                    _ if outside > 0 => Err(NoWindow::Outside),
                    _ if beyond > 0 => Err(NoWindow::Beyond),
                    Some(((low, _), (_, high))) if least.sum() >= needed => Ok([limits.micro(low), limits.micro(high)]),
                    _ => Err(NoWindow::TooFew(needed)),
                };
                let micro = |counts: &Counts| counts.all().map(|(value, count)| (limits.micro(value), count)).collect();
                Some(Told {
                    name: watch.name.text.clone(),
                    unit: limits.unit.clone(),
                    limits: [limits.least, limits.most].map(|limit| limit.map(|limit| limits.micro(limit))),
                    judged: least.sum() + beyond,
                    beyond,
                    measured_to: limits.measured_to(),
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
                watched.cut();
                continue;
            }
            let own = scanned.judged.iter().find(|judged| usize::from(judged.watch) == number);
            let tripped = scanned.trips.iter().filter_map(|way| self.ways.get(usize::from(*way)));
            let (mut breaks, mut late) = (false, false);
            for way in tripped.filter(|way| way.source == Source::Watch(number)) {
                breaks = true;
                late |= matches!(way.way, Way::Late | Way::Farther);
            }
            watched.scan(own.map(|judged| judged.measured), late);
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
