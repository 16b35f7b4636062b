//! Holding a reading of a station against the oracle, and counting what that has exercised.

use std::collections::BTreeMap;
use std::collections::VecDeque;
use std::fmt;

use host_tools::sample::Sample;
use host_tools::station::ways::{Source, Way, WayOf, ways};
use host_tools::station::{InputKind, Station, WatchKind};
use logic_rules::{Eager, Inverted, Lanes, Plain, Sliced, Upright};

use crate::generate::{Case, History, Raw, Rng, case};
use crate::machines::Stepped;
use crate::oracle::Oracle;
use crate::render::{read_back, render};
use crate::told::Told;

/// Anything that takes the scans of a station and tells what it makes of them.
pub trait Reading {
    /// Takes one scan.
    fn scan(&mut self, sample: &Sample) -> Told;

    /// Ends the lead of a field recording; false if this reading cannot.
    fn adopt(&mut self) -> bool {
        false
    }
}

impl Reading for Oracle {
    fn scan(&mut self, sample: &Sample) -> Told {
        Oracle::scan(self, sample)
    }

    fn adopt(&mut self) -> bool {
        Oracle::adopt(self);
        true
    }
}

/// A fresh reading of a station.
pub type Make = fn(&Station) -> Box<dyn Reading>;

/// Every reading there is, by name; suites run over all of them.
pub fn readings() -> Vec<(&'static str, Make)> {
    vec![
        ("oracle", |station| Box::new(Oracle::power_up(station))),
        ("plain", |station| Box::new(Stepped::<Plain>::power_up(station))),
        ("upright", |station| Box::new(Stepped::<Upright>::power_up(station))),
        ("inverted", |station| Box::new(Stepped::<Inverted>::power_up(station))),
        ("eager", |station| Box::new(Stepped::<Eager<Plain>>::power_up(station))),
        ("lanes", |station| Box::new(Stepped::<Sliced<Lanes>>::power_up(station))),
    ]
}

/// Shows a station to every reading in turn, each fresh from power-up.
pub fn on_every_reading(station: &Station, test: &mut dyn FnMut(&str, &mut dyn Reading)) {
    for (name, make) in readings() {
        test(name, make(station).as_mut());
    }
}

/// How a history is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// Mostly healthy, with an operator.
    Lively,
    /// Any value in any scan.
    Raw,
}

/// What a run has exercised.
#[derive(Debug, Clone, Default)]
pub struct Counts {
    /// Scans.
    pub scans: u64,
    /// Scans in whose verdict no stop stands.
    pub free: u64,
    /// Scans in which the reset acted.
    pub resets: u64,
    /// Scans in which a bypass was active.
    pub bypassed: u64,
    /// Times each way of each kind was in a new first-out.
    pub first_outs: BTreeMap<String, u64>,
    /// Scans in which each way of each kind tripped.
    pub trips: BTreeMap<String, u64>,
}

impl Counts {
    /// Takes up what other runs have exercised.
    pub fn add(&mut self, other: &Self) {
        self.scans += other.scans;
        self.free += other.free;
        self.resets += other.resets;
        self.bypassed += other.bypassed;
        for (mine, theirs) in [(&mut self.first_outs, &other.first_outs), (&mut self.trips, &other.trips)] {
            for (key, count) in theirs {
                *mine.entry(key.clone()).or_default() += count;
            }
        }
    }

    /// Zero for every way of the station, so that what never happens is seen.
    fn expect(&mut self, station: &Station, all: &[WayOf]) {
        for way in all {
            self.first_outs.entry(key(station, way)).or_default();
            self.trips.entry(key(station, way)).or_default();
        }
    }

    fn take(&mut self, station: &Station, all: &[WayOf], stopped_before: bool, told: &Told) {
        let first_stop = station.first_stop();
        self.scans += 1;
        self.free += u64::from(told.answer < first_stop);
        self.resets += u64::from(told.reset);
        self.bypassed += u64::from(told.active.contains(&true));
        for (i, way) in all.iter().enumerate() {
            if told.trips[i] {
                *self.trips.entry(key(station, way)).or_default() += 1;
                if !stopped_before && way.answer >= first_stop {
                    *self.first_outs.entry(key(station, way)).or_default() += 1;
                }
            }
        }
    }
}

impl fmt::Display for Counts {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let share = self.free * 1_000 / self.scans.max(1);
        writeln!(f, "{} scans, {}.{} % without a stop", self.scans, share / 10, share % 10)?;
        writeln!(f, "{} resets, {} scans with an active bypass", self.resets, self.bypassed)?;
        for (key, count) in &self.first_outs {
            writeln!(f, "{key:24} {count:>8} first-outs {:>9} trips", self.trips[key])?;
        }
        Ok(())
    }
}

/// Kind and way, as counted.
pub fn key(station: &Station, way: &WayOf) -> String {
    let kind = match way.source {
        Source::PowerUp => "power-up",
        Source::Modes => "modes",
        Source::Mode(_) => "mode",
        Source::Output(_) => "output",
        Source::Slow(_) => "slow",
        Source::Input(i) => match station.inputs[i].kind {
            InputKind::Contact(_) => "contact",
            InputKind::Pair(_) => "pair",
            InputKind::Detector(_) => "detector",
            InputKind::Gauge(_) => "gauge",
            InputKind::Pace(_) => "pace",
            InputKind::Link(_) => "link",
            InputKind::Key(_) => "key",
        },
        Source::Watch(i) => match station.watches[i].kind {
            WatchKind::Guard(_) => "watch guard",
            WatchKind::Travel(_) => "watch travel",
            WatchKind::Measure(_) => "watch measure",
            WatchKind::Spacing(_) => "watch spacing",
            WatchKind::Agree(_) => "watch agree",
            WatchKind::Confirm(_) => "watch confirm",
            WatchKind::Exercise(_) => "watch exercise",
            WatchKind::Count(_) => "watch count",
        },
    };
    match way.way {
        Way::Ordered(_) => format!("{kind} Ordered"),
        other => format!("{kind} {other:?}"),
    }
}

/// The first scan in which a reading differs from the oracle.
#[derive(Debug, Clone)]
pub struct Difference {
    reading: &'static str,
    case: Case,
    text: String,
    seed: u64,
    scan: u64,
    style: Style,
    last: VecDeque<Sample>,
    fields: Vec<String>,
    differing_ways: Vec<WayOf>,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "station: {:#?}", self.case.station)?;
        writeln!(f, "rules:\n{}", self.text)?;
        writeln!(f, "plan: {:?}", self.case.plan)?;
        for (back, sample) in self.last.iter().rev().enumerate().rev() {
            writeln!(f, "{back} scans before: {sample:?}")?;
        }
        for way in &self.differing_ways {
            writeln!(f, "a trip, latch or first-out differs: {} {way:?}", key(&self.case.station, way))?;
        }
        for field in &self.fields {
            writeln!(f, "oracle against reading: {field}")?;
        }
        writeln!(f, "seed {}, {:?} history, scan {} (from 0)", self.seed, self.style, self.scan)?;
        writeln!(f, "reading: {}", self.reading)
    }
}

/// Fresh readings of a station, by name.
pub type Named = Vec<(&'static str, Box<dyn Reading>)>;

/// Runs the station and the history of one seed through the oracle and readings. The oracle gets the station as it was
/// made, each reading what the text of its rule file means.
pub fn compare(
    seed: u64,
    scans: u64,
    style: Style,
    make: &dyn Fn(&Station) -> Named,
    counts: &mut Counts,
) -> Result<(), Box<Difference>> {
    let case = case(seed);
    let station = &case.station;
    let all = ways(station);
    counts.expect(station, &all);
    let mut oracle = Oracle::power_up(station);
    let text = render(station, seed);
    let read =
        read_back(&text).unwrap_or_else(|errors| panic!("seed {seed}: a generated station is refused\n{errors}"));
    assert_eq!(ways(&read), all, "seed {seed}: the ways are others in the text\n{text}");
    let mut readings = make(&read);
    let mut lively = History::new(&case, seed ^ 0x5DEE_CE66);
    let mut raw = Raw::new(station, seed ^ 0x5DEE_CE66);
    // Some runs are field recordings: their lead ends after so many scans.
    let mut rng = Rng::new(seed ^ 0x1EAD);
    let lead = if rng.chance(40) { Some(rng.below(scans)) } else { None };
    let mut told: Option<Told> = None;
    let mut last = VecDeque::new();
    for scan in 0..scans {
        let sample = match style {
            Style::Lively => lively.next_sample(told.as_ref()),
            Style::Raw => raw.next_sample(),
        };
        last.push_back(sample.clone());
        if last.len() > 5 {
            last.pop_front();
        }
        let stopped_before = told.as_ref().is_none_or(|told| told.latched.contains(&true));
        let mine = oracle.scan(&sample);
        for (name, reading) in &mut readings {
            let theirs = reading.scan(&sample);
            if mine != theirs {
                let differs = |i: &usize| {
                    [&mine.trips, &mine.latched, &mine.first].map(|bits| bits.get(*i))
                        != [&theirs.trips, &theirs.latched, &theirs.first].map(|bits| bits.get(*i))
                };
                let differing_ways = (0..all.len()).filter(differs).map(|i| all[i]).collect();
                let (reading, fields) = (*name, mine.differences(&theirs));
                return Err(Box::new(Difference {
                    reading,
                    case,
                    text,
                    seed,
                    scan,
                    style,
                    last,
                    fields,
                    differing_ways,
                }));
            }
        }
        counts.take(station, &all, stopped_before, &mine);
        told = Some(mine);
        if lead == Some(scan) {
            let adopt: Vec<bool> = readings.iter_mut().map(|(_, reading)| reading.adopt()).collect();
            assert!(adopt.windows(2).all(|two| two[0] == two[1]), "some end a lead, others cannot");
            if adopt.contains(&true) {
                oracle.adopt();
            }
        }
    }
    Ok(())
}
