//! Which faults an assumption excludes: each fault that a scenario can put on the station is put on a simulated one that
//! runs, and the monitors say which assumptions it breaks.

use super::keeper::{Keeper, assuming};
use super::ordinary::{morning, runs};
use super::run::Run;
use crate::lower::lower;
use crate::monitor::MonitorPlan;
use crate::refute::with_trials;
use crate::runner::PlainRunner;
use crate::simulate::catalogue::catalogue;
use crate::simulate::scenario::Action;
use crate::simulate::{Scenario, Simulator};
use crate::station::Station;
use logic_rules::plan;
use std::collections::BTreeSet;
use std::time::Duration;

/// What the faults do to the assumptions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Excluded {
    /// Of each assumption, the faults that break it, as a scenario writes them.
    pub by: Vec<Vec<String>>,
    /// Faults that were tried.
    pub tried: usize,
}

/// Microseconds for which a lift runs before a fault comes, and after.
pub(super) const BEFORE: u64 = 90_000_000;
pub(super) const AFTER: u64 = 60_000_000;
/// Each fault comes at so many moments between two carriers.
const MOMENTS: u32 = 3;

/// Tries every fault; why it could not be done, if the station has no lane or does not run.
///
/// # Errors
/// None that a verified plan can cause.
pub fn excludes(station: &Station) -> Result<Result<Excluded, String>, plan::Fault> {
    let (program, assuming) = (lower(station), assuming(station));
    let monitors = MonitorPlan::new(&assuming);
    let (plan, raw) = (program.plan()?, monitors.plan()?);
    let no_room = plan::Fault::TooMany("cells");
    let keeper = Keeper::new(&assuming, &monitors, &raw).ok_or(no_room)?;
    let Some(lane) = &station.lane else { return Ok(Err("the rule files describe no lane to simulate".into())) };
    let Some(speed) = with_trials(station, keeper.clone(), |trials| trials.cruise())? else {
        return Ok(Err("the lift is not got to run".into()));
    };
    let scenario = Scenario { last: u64::MAX, ..morning(station, speed) };
    let runner = PlainRunner::power_up(&program, &plan).ok_or(no_room)?;
    let mut running = Run::new(station, Simulator::new(station, &scenario, 1), runner, keeper);
    if let Some(why) = runs(&mut running, station, BEFORE, |_| {}) {
        return Ok(Err(why));
    }
    let between = Duration::from_secs_f64(f64::from(lane.every) / speed.max(1.0));
    let moments = moments(running, between / MOMENTS);
    let mut excluded = Excluded { by: vec![Vec::new(); station.assumptions.len()], tried: 0 };
    for line in catalogue(station) {
        let Some(action) = action(station, &line) else { continue };
        excluded.tried += 1;
        let broken: BTreeSet<usize> = moments.iter().flat_map(|running| broken_by(running, &action)).collect();
        for (_, by) in excluded.by.iter_mut().enumerate().filter(|(assumption, _)| broken.contains(assumption)) {
            by.push(line.clone());
        }
    }
    Ok(Ok(excluded))
}

/// The run as it goes on, at moments so far apart.
fn moments<'p>(first: Run<'p, Keeper<'p>>, apart: Duration) -> Vec<Run<'p, Keeper<'p>>> {
    let mut all = vec![first];
    while all.len() < MOMENTS as usize
        && let Some(mut next) = all.last().map(Run::fork)
    {
        next.go_on(u64::try_from(apart.as_micros()).unwrap_or(0), |_, _| true);
        all.push(next);
    }
    all
}

/// Assumptions that a fault breaks as it comes now.
fn broken_by(running: &Run<'_, Keeper<'_>>, action: &Action) -> Vec<usize> {
    let mut run = running.fork();
    run.watch.broken.clear();
    run.simulator.suffer(action);
    run.go_on(AFTER, |_, _| true);
    run.watch.broken.into_iter().map(|(assumption, _)| assumption).collect()
}

/// What a line of a scenario does.
pub(super) fn action(station: &Station, line: &str) -> Option<Action> {
    let read = Scenario::read(&format!("at 0 s {line}"), station).ok()?;
    read.events.into_iter().next().map(|event| event.action)
}
