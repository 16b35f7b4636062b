//! Histories with stretches in which nothing changes but rope and gauges, run with and without skipping over scans.

use std::collections::BTreeMap;

use crate::generate::{Case, History, Rng};
use crate::machines::Stepped;
use crate::reading::Reading;
use host_tools::lower::lower;
use host_tools::monitor::{MonitorPlan, Monitors};
use host_tools::runner::{Counts, PlainRunner};
use host_tools::sample::Sample;
use host_tools::station::ways::ways;
use host_tools::station::{Station, WatchKind};
use host_tools::told::{Runner, Scanned};
use logic_rules::Plain;

/// How often something happened in a scan right behind one that was skipped.
pub type Ties = BTreeMap<String, u64>;

/// Two runs of a station, one of which skips; they must tell the same of every scan.
///
/// # Panics
/// If they do not.
pub fn side_by_side(
    station: &Station,
    scans: usize,
    mut next: impl FnMut(&Scanned) -> (Sample, bool),
    ties: &mut Ties,
) -> [Counts; 2] {
    let (program, monitors) = (lower(station), MonitorPlan::new(station));
    let (plan, raw) = (program.plan().expect("a plan"), monitors.plan().expect("a plan"));
    let start = || {
        let judges = Monitors::start(station, &monitors, &raw).expect("room");
        PlainRunner::power_up(&program, &plan).expect("room").judging(station, judges)
    };
    let (mut steps, mut skips) = (start(), start().skipping());
    let all = ways(station);
    let (mut last, mut skipped) = (Scanned::default(), 0);
    for scan in 0..scans {
        let (sample, adopts) = next(&last);
        let before = skipped;
        let (told, mine) = (steps.scan(&sample).clone(), skips.scan(&sample));
        assert_eq!(told, *mine, "scan {scan}");
        skipped = skips.counts()[0].skipped;
        // The scan before was skipped, this one was not.
        if before > 0 && skipped == before {
            let mut tie = |what: String| *ties.entry(what).or_default() += 1;
            for way in told.trips.iter().filter_map(|way| all.get(usize::from(*way))) {
                tie(format!("{:?}", way.way));
            }
            for judged in &told.judged {
                if let Some(WatchKind::Travel(travel)) = station.watches.get(usize::from(judged.watch)).map(|w| &w.kind)
                    && judged.measured.abs_diff(travel.latest) <= 12
                {
                    tie("arrives at its limit".to_owned());
                }
            }
            for (is, what) in [
                (told.reset, "reset"),
                (told.active & !last.active != 0, "bypass begins"),
                (last.active & !told.active != 0, "bypass ends"),
                (told.answer != last.answer, "answer changes"),
                (told.permit != last.permit, "permit changes"),
                (!told.missed.is_empty(), "missed"),
                (!told.met.is_empty(), "met"),
                (!told.broken.is_empty(), "broken"),
            ] {
                if is {
                    tie(what.to_owned());
                }
            }
        }
        last = told;
        if adopts {
            steps.adopt();
            skips.adopt();
        }
    }
    skips.counts()
}

/// A lively history that holds its channels still for a while now and then.
///
/// # Panics
/// If the two runs differ.
pub fn held_still(case: &Case, seed: u64, scans: usize, ties: &mut Ties) -> [Counts; 2] {
    let mut rng = Rng::new(seed ^ 0x5717);
    let mut history = History::new(case, seed);
    let mut stepped = Stepped::<Plain>::power_up(&case.station);
    let (mut told, mut held, mut left) = (None, None::<Sample>, 0_u64);
    let next = |_: &Scanned| {
        let mut sample = history.next_sample(told.as_ref());
        if left > 0
            && let Some(held) = &held
        {
            sample.channels.clone_from(&held.channels);
            sample.links.clone_from(&held.links);
        }
        left = if left > 0 { left - 1 } else { u64::from(rng.once_in(6)) * rng.below(90) };
        held = Some(sample.clone());
        let adopts = rng.once_in(2_000);
        told = Some(stepped.scan(&sample));
        if adopts {
            stepped.adopt();
        }
        (sample, adopts)
    };
    side_by_side(&case.station, scans, next, ties)
}
