//! What passings teach: how each watch that measures was kept in recordings, and in what window a named share of all passings
//! lies.
//!
//! Numbers are whole steps, scans and millimetres, so they are counted one by one: nothing is estimated. Data may only
//! tighten a limit, so no window reaches beyond the limits of the rules.
//!
//! A gauge that is judged over a stretch gives many values in one passing. They belong together, so a passing counts once,
//! with its least and its greatest value: cutting off one passing at each end leaves as much out as it does where each has one
//! value (J. W. Tukey's blocks, 1947; from memory).

pub mod counts;
pub mod tolerance;

use crate::replay::{Event, Limits, Seen, Sink};
use crate::station::Station;
use crate::told::Judged;
use counts::Counts;
use std::io;
use tolerance::Wanted;

/// Passings of a station, watch by watch.
#[derive(Debug, Clone)]
pub struct Passings {
    watches: Vec<Option<Watched>>,
    scan: u64,
}

/// Passings at a watch.
#[derive(Debug, Clone)]
struct Watched {
    limits: Limits,
    least: Counts,
    greatest: Counts,
    /// A passing that goes on: the last scan of it, its least and its greatest value.
    open: Option<(u64, [u32; 2])>,
}

impl Watched {
    fn judge(&mut self, scan: u64, value: u32) {
        match &mut self.open {
            Some((last, [least, greatest])) if *last + 1 == scan => {
                (*last, *least, *greatest) = (scan, value.min(*least), value.max(*greatest));
            }
            _ => {
                self.close();
                self.open = Some((scan, [value; 2]));
            }
        }
    }
    fn close(&mut self) {
        if let Some((_, [least, greatest])) = self.open.take() {
            self.least.add(least);
            self.greatest.add(greatest);
        }
    }
}

/// What is told of a watch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Told {
    /// Its name.
    pub name: String,
    /// Unit of all values, which are in millionths of it.
    pub unit: String,
    /// Limits of the rules.
    pub limits: [Option<i64>; 2],
    /// Passings.
    pub judged: u64,
    /// Passings outside the limits.
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

impl Passings {
    /// None yet.
    pub fn new(station: &Station) -> Self {
        let none = Counts::default;
        let of = |limits| Watched { limits, least: none(), greatest: none(), open: None };
        Self { watches: station.watches.iter().map(|watch| Limits::of(station, watch).map(of)).collect(), scan: 0 }
    }
    fn judge(&mut self, judged: Judged) {
        if let Some(Some(watched)) = self.watches.get_mut(usize::from(judged.watch)) {
            watched.judge(self.scan, judged.measured);
        }
    }
    /// A recording is over.
    pub fn close(&mut self) {
        self.watches.iter_mut().flatten().for_each(Watched::close);
    }
    /// What was counted, and the windows in which the wanted share lies.
    pub fn told(&self, station: &Station, wanted: Wanted) -> Vec<Told> {
        let needed = wanted.passings();
        let named = station.watches.iter().zip(&self.watches);
        named
            .filter_map(|(watch, of)| {
                let Watched { limits, least, greatest, .. } = of.as_ref()?;
                let [low, high] = [limits.least, limits.most];
                let outside = least.below(low.unwrap_or(0)) + greatest.above(high.unwrap_or(u32::MAX));
                let window = match least.ends().zip(greatest.ends()) {
                    Some(_) if outside > 0 => Err(NoWindow::Outside),
                    Some(((low, _), (_, high))) if least.sum() >= needed => Ok([limits.micro(low), limits.micro(high)]),
                    _ => Err(NoWindow::TooFew(needed)),
                };
                let micro = |counts: &Counts| counts.all().map(|(value, count)| (limits.micro(value), count)).collect();
                Some(Told {
                    name: watch.name.text.clone(),
                    unit: limits.unit.clone(),
                    limits: [low, high].map(|limit| limit.map(|limit| limits.micro(limit))),
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
    fn event(&mut self, _: &Event) -> io::Result<()> {
        Ok(())
    }
    /// What happened only because the recording did not stop where the rules would have is left out.
    fn scan(&mut self, seen: &Seen<'_>) -> io::Result<()> {
        self.scan += 1;
        if let (Some(scanned), false) = (seen.scanned, seen.counterfactual) {
            scanned.judged.iter().for_each(|judged| self.judge(*judged));
        }
        Ok(())
    }
}
