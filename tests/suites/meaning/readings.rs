//! Every reading of a station against the oracle, on random stations and histories.
//!
//! What the generator has really exercised is counted and must not fall below a floor. The ordinary
//! run is short; with `HALTPROOF_HEAVY=2` it is as long as the floors of the release want it.
#![allow(
    clippy::indexing_slicing,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::panic,
    reason = "counts are what one wants to read of this suite; a difference is a failed test"
)]

use cross_tests::effort::by_effort;
use cross_tests::generate::case;
use cross_tests::oracle::Oracle;
use cross_tests::reading::{Counts, Named, Reading, Style, compare, readings};
use cross_tests::render::{read_back, render, without_places};
use cross_tests::told::Told;
use host_tools::sample::Sample;
use host_tools::station::Station;
use std::thread;

/// How much is run, and what it must reach.
struct Tried {
    stations: u64,
    scans: u64,
    /// Least first-outs of each way of each kind of watch.
    watch_floor: u64,
    /// Least first-outs of everything else that can be first.
    other_floor: u64,
    /// Least trips of each way of each kind of watch.
    trip_floor: u64,
}

fn tried() -> Tried {
    by_effort([
        // A confirm is only first-out when a reset comes just before it would trip: too seldom for a short run.
        Tried { stations: 24, scans: 1_000, watch_floor: 0, other_floor: 0, trip_floor: 5 },
        Tried { stations: 250, scans: 2_000, watch_floor: 15, other_floor: 3, trip_floor: 15 },
        Tried { stations: 2_000, scans: 2_000, watch_floor: 200, other_floor: 50, trip_floor: 200 },
    ])
}

/// Runs the stations of these seeds through the oracle and every reading; counts of lively and of raw histories.
fn run(seeds: impl Iterator<Item = u64>, tried: &Tried) -> [Counts; 2] {
    let make = |station: &Station| readings().into_iter().map(|(name, make)| (name, make(station))).collect();
    let [mut lively, mut raw] = [Counts::default(), Counts::default()];
    for seed in seeds {
        let run = compare(seed, tried.scans, Style::Lively, &make, &mut lively)
            .and_then(|()| compare(seed, tried.scans / 4, Style::Raw, &make, &mut raw));
        if let Err(difference) = run {
            panic!("{difference}");
        }
    }
    [lively, raw]
}

/// Prints the counts and enforces the floors. The oracle is among the readings: it gets there what the text means.
#[test]
fn every_reading_agrees_with_the_oracle() {
    let tried = tried();
    let half = |first: u64| run((first..tried.stations).step_by(2), &tried);
    let ([mut lively, mut raw], other) = thread::scope(|scope| {
        let other = scope.spawn(|| half(1));
        (half(0), other.join().expect("no difference"))
    });
    lively.add(&other[0]);
    raw.add(&other[1]);
    println!("lively histories: {lively}");
    println!("raw histories: {} scans", raw.scans);
    assert!(lively.free * 2 >= lively.scans, "half of all scans stand without a stop");
    for (key, &count) in &lively.first_outs {
        // Power-up is latched without a trip.
        let floor = match key.as_str() {
            "power-up Started" => 0,
            watch if watch.starts_with("watch ") => tried.watch_floor,
            _ => tried.other_floor,
        };
        assert!(count >= floor, "{key} was first-out {count} times, and {floor} are wanted");
        let trips = lively.trips[key];
        assert!(trips >= tried.trip_floor || !key.starts_with("watch "), "{key} tripped {trips} times");
    }
}

/// The reader of rule files makes of the text of a station the very station it was written from: names, units,
/// rounding and defaults.
#[test]
fn the_text_of_a_station_means_that_station() {
    for seed in 0..tried().stations * 4 {
        let station = case(seed).station;
        let text = render(&station, seed);
        match read_back(&text) {
            Ok(read) => {
                let read = without_places(read);
                for (mine, theirs) in station.watches.iter().zip(&read.watches) {
                    assert_eq!(mine, theirs, "seed {seed}\n{text}");
                }
                for (mine, theirs) in station.inputs.iter().zip(&read.inputs) {
                    assert_eq!(mine, theirs, "seed {seed}\n{text}");
                }
                assert_eq!(station, read, "seed {seed}\n{text}");
            }
            Err(errors) => panic!("seed {seed} is refused: {errors}"),
        }
    }
}

/// An oracle that loses one trip, to see that a difference is found and told.
struct Forgetful {
    oracle: Oracle,
    scans: u64,
}

impl Reading for Forgetful {
    fn scan(&mut self, sample: &Sample) -> Told {
        let mut told = self.oracle.scan(sample);
        self.scans += 1;
        if self.scans > 40
            && let Some(trip) = told.trips.iter_mut().find(|trip| **trip)
        {
            *trip = false;
        }
        told
    }
}

#[test]
fn a_lost_trip_is_found_and_told() {
    let make = |station: &Station| -> Named {
        vec![("forgetful", Box::new(Forgetful { oracle: Oracle::power_up(station), scans: 0 }))]
    };
    let mut counts = Counts::default();
    let found = compare(7, 500, Style::Raw, &make, &mut counts);
    let Err(difference) = found else { panic!("the lost trip was not seen") };
    let text = difference.to_string();
    assert!(text.contains("oracle against reading: trips"), "{text}");
    assert!(text.contains("seed 7, Raw history, scan 40"), "{text}");
    assert!(text.contains("0 scans before: Sample") && text.contains("reading: forgetful"), "{text}");
}
