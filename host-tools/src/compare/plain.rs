//! Both sides in the plain reading, scan by scan, until something that they publish differs.

use super::Both;
use super::side::{Difference, Seen, differ};
use crate::prove::cells::source;
use crate::refute::{History, calm};
use crate::runner::PlainRunner;
use crate::sample::Sample;
use crate::station::ways::{WayOf, ways};
use crate::station::{Rank, Station};
use crate::told::{Runner, Scanned};
use logic_rules::Plain;

/// Which side the inputs are made for; the other one reads what belongs together with them, and is at rest otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lead {
    /// The old rules.
    Old,
    /// The new rules.
    New,
}

/// What is published, on the common scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Published {
    /// Places of the verdict and of what is called for, from 1; 0 is none.
    answer: usize,
    call: usize,
    /// Every answer that stands, and that is called for: a bit for each place, from bit 1.
    stands: u64,
    calls: u64,
    /// Outputs of the old rules that are off.
    off: u64,
    permit: bool,
    reset: bool,
}

/// What does not change from scan to scan.
pub struct Ties<'b> {
    /// Both sides.
    pub both: &'b Both,
    /// Which side the inputs are made for.
    pub lead: Lead,
    ways: [Vec<WayOf>; 2],
    /// Place on the common scale, from 1, of each rank of the old rules and of the new.
    places: [Vec<usize>; 2],
    /// What the other side reads where nothing belongs together.
    rest: Sample,
    channels: Vec<(usize, usize)>,
    gauges: Vec<(usize, usize)>,
    sources: Vec<(usize, usize)>,
    links: Vec<(usize, usize)>,
}

impl<'b> Ties<'b> {
    /// Ties of two revisions.
    pub fn new(both: &'b Both, lead: Lead) -> Self {
        let places = |old: bool, station: &Station| {
            let mut places = vec![0; usize::from(station.worst()) + 1];
            for (place, answer) in (1..).zip(&both.pairs.answers) {
                let rank = if old { answer.old } else { answer.new };
                if let Some(cell) = rank.and_then(|rank| places.get_mut(usize::from(rank))) {
                    *cell = place;
                }
            }
            places
        };
        let tied = |mates: &[Option<usize>]| {
            let all = mates.iter().enumerate().filter_map(|(new, old)| old.map(|old| (old, new)));
            all.map(|(old, new)| if lead == Lead::Old { (old, new) } else { (new, old) }).collect()
        };
        let pairs = &both.pairs;
        Self {
            both,
            lead,
            ways: [ways(&both.old), ways(&both.new)],
            places: [places(true, &both.old), places(false, &both.new)],
            rest: calm(if lead == Lead::Old { &both.new } else { &both.old }),
            channels: tied(&pairs.channels),
            gauges: tied(&pairs.gauges),
            sources: tied(&pairs.sources),
            links: tied(&pairs.links),
        }
    }
    /// What the other side reads.
    pub fn other(&self, sample: &Sample) -> Sample {
        let mut other = self.rest.clone();
        move_to(&self.channels, &sample.channels, &mut other.channels);
        move_to(&self.gauges, &sample.gauges, &mut other.gauges);
        move_to(&self.sources, &sample.travel, &mut other.travel);
        move_to(&self.links, &sample.links, &mut other.links);
        other
    }
    /// A history as both sides read it: the old one, the new one.
    pub fn histories(&self, history: &History) -> [History; 2] {
        let mut other = History::default();
        for stay in history.stays() {
            other.push(&self.other(&stay.sample), stay.scans);
        }
        if self.lead == Lead::Old { [history.clone(), other] } else { [other, history.clone()] }
    }
    fn published(&self, side: usize, told: &Scanned) -> Published {
        let (station, empty) = (if side == 0 { &self.both.old } else { &self.both.new }, Vec::new());
        let (ways, places) = (self.ways.get(side).unwrap_or(&empty), self.places.get(side));
        let first_stop = station.first_stop();
        let place = |rank: Rank| places.and_then(|places| places.get(usize::from(rank))).copied().unwrap_or(0);
        let stands = (1..=station.worst()).filter(|r| told.stands.checked_shr(u32::from(*r)).unwrap_or(0) & 1 == 1);
        // A slow order stands in the scan only in which it is asked for.
        let tripping = told.trips.iter().filter_map(|way| ways.get(usize::from(*way))).map(|way| way.answer);
        let slow = stands.clone().filter(|rank| *rank < first_stop);
        let called: Vec<Rank> = tripping.filter(|rank| *rank >= first_stop).chain(slow).collect();
        let bit = |rank: Rank| u32::try_from(place(rank)).ok().and_then(|place| 1_u64.checked_shl(place)).unwrap_or(0);
        let stands = stands.fold(0, |all, rank| all | bit(rank));
        let calls = called.iter().fold(0, |all, rank| all | bit(*rank));
        let call = called.into_iter().max().unwrap_or(0);
        let off = if side == 0 {
            told.off
        } else {
            let pairs = (0_u32..).zip(&self.both.pairs.outputs);
            let bits = pairs.filter_map(|(new, old)| Some((new, u32::try_from((*old)?).ok()?)));
            bits.fold(0, |off, (new, old)| {
                off | (told.off.checked_shr(new).unwrap_or(0) & 1).checked_shl(old).unwrap_or(0)
            })
        };
        Published {
            answer: place(told.answer),
            call: place(call),
            stands,
            calls,
            off,
            permit: told.permit,
            reset: told.reset,
        }
    }
    /// In what a scan differs.
    pub fn differences(&self, old: &Scanned, new: &Scanned) -> Vec<Difference> {
        let (old, new) = (self.published(0, old), self.published(1, new));
        let compared = self.both.pairs.outputs.iter().flatten();
        let compared = compared.filter_map(|old| u32::try_from(*old).ok());
        let compared = compared.fold(0_u64, |all, old| all | 1_u64.checked_shl(old).unwrap_or(0));
        let same = |seen: Published| Published { off: seen.off & compared, ..seen };
        if same(old) == same(new) {
            return Vec::new();
        }
        let all = differ(&mut Plain, &self.both.pairs, &self.seen(old, false), &self.seen(new, true));
        all.into_iter().filter(|(_, is)| *is).map(|(difference, _)| difference).collect()
    }
    fn seen(&self, published: Published, new: bool) -> Seen<Plain> {
        let up_to = |most: usize| (1..=self.both.pairs.answers.len()).map(|place| most >= place).collect();
        let bit = |all: u64, place: usize| u32::try_from(place).is_ok_and(|p| all.checked_shr(p).unwrap_or(0) & 1 == 1);
        let each = |all: u64| (1..=self.both.pairs.answers.len()).map(|place| bit(all, place)).collect();
        // Each side's outputs by its own numbers.
        let numbers: Vec<Option<usize>> =
            if new { self.both.pairs.outputs.clone() } else { (0..self.both.old.outputs.len()).map(Some).collect() };
        let is_off = |old: &Option<usize>| {
            old.and_then(|old| u32::try_from(old).ok())
                .is_some_and(|old| published.off.checked_shr(old).unwrap_or(0) & 1 == 1)
        };
        let off = numbers.iter().map(is_off);
        Seen {
            answer: up_to(published.answer),
            call: up_to(published.call),
            stands: each(published.stands),
            calls: each(published.calls),
            off: off.collect(),
            permit: published.permit,
            reset: published.reset,
            trips: Vec::new(),
            active: Vec::new(),
            arrives: Vec::new(),
        }
    }
}

fn move_to<T: Copy>(ties: &[(usize, usize)], from: &[T], to: &mut [T]) {
    for (lead, other) in ties {
        if let (Some(value), Some(cell)) = (from.get(*lead), to.get_mut(*other)) {
            *cell = *value;
        }
    }
}

/// The first scan of a history in which the sides differ, and in what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parted {
    /// That scan, counting from 0.
    pub scan: u64,
    /// In what.
    pub differences: Vec<Difference>,
    /// The published answers differ, not only what is called for while a stop stands.
    pub visible: bool,
    /// What trips in that scan in the old rules and not in the new.
    pub only_old: Vec<String>,
    /// What trips in that scan in the new rules and not in the old.
    pub only_new: Vec<String>,
}

/// Runs both sides over a history until they differ.
pub fn parted(ties: &Ties<'_>, sides: &mut [PlainRunner<'_>; 2], history: &History) -> Option<Parted> {
    let [old, new] = sides;
    old.restart();
    new.restart();
    let mut scan = 0;
    for stay in history.stays() {
        let other = ties.other(&stay.sample);
        let (a, b) = if ties.lead == Lead::Old { (&stay.sample, &other) } else { (&other, &stay.sample) };
        for _ in 0..stay.scans {
            let (a, b) = (old.scan(a), new.scan(b));
            if let Some(parted) = ties.parted(scan, a, b) {
                return Some(parted);
            }
            scan += 1;
        }
    }
    None
}

impl Ties<'_> {
    /// What there is to say of a scan in which the sides differ.
    pub fn parted(&self, scan: u64, old: &Scanned, new: &Scanned) -> Option<Parted> {
        let differences = self.differences(old, new);
        if differences.is_empty() {
            return None;
        }
        let (was, is) = (self.tripping(0, old), self.tripping(1, new));
        let only = |these: &[String], others: &[String]| {
            these.iter().filter(|name| !others.contains(name)).cloned().collect::<Vec<_>>()
        };
        Some(Parted {
            scan,
            differences,
            visible: self.published(0, old).answer != self.published(1, new).answer,
            only_old: only(&was, &is),
            only_new: only(&is, &was),
        })
    }
    /// Names of what trips.
    fn tripping(&self, side: usize, told: &Scanned) -> Vec<String> {
        let station = if side == 0 { &self.both.old } else { &self.both.new };
        let ways = self.ways.get(side).map(Vec::as_slice).unwrap_or_default();
        let all = told.trips.iter().filter_map(|way| ways.get(usize::from(*way)));
        all.map(|way| format!("{} {}", source(station, way.source), way.way.text())).collect()
    }
}
