//! Which faults an assumption excludes: each fault that a scenario can put on the station is put on a simulated one that
//! runs, and the monitors say which assumptions it breaks.

use super::keeper::{Keeper, Run, assuming};
use super::ordinary::{morning, runs};
use crate::lower::lower;
use crate::monitor::MonitorPlan;
use crate::refute::with_trials;
use crate::runner::PlainRunner;
use crate::simulate::catalogue::catalogue;
use crate::simulate::scenario::Action;
use crate::simulate::{Scenario, Simulator};
use crate::station::Station;
use logic_rules::plan;

/// What the faults do to the assumptions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Excluded {
    /// Of each assumption, the faults that break it, as a scenario writes them.
    pub by: Vec<Vec<String>>,
    /// Faults that were tried.
    pub tried: usize,
}

/// Microseconds for which a lift runs before a fault comes, and after.
const BEFORE: u64 = 90_000_000;
const AFTER: u64 = 120_000_000;

/// Tries every fault; why it could not be done, if the station has no lane or does not run.
///
/// # Errors
/// None that a verified plan can cause.
pub fn excludes(station: &Station) -> Result<Result<Excluded, String>, plan::Fault> {
    if station.lane.is_none() {
        return Ok(Err("the rule files describe no lane to simulate".into()));
    }
    let (program, assuming) = (lower(station), assuming(station));
    let monitors = MonitorPlan::new(&assuming);
    let (plan, raw) = (program.plan()?, monitors.plan()?);
    let no_room = plan::Fault::TooMany("cells");
    let keeper = Keeper::new(&assuming, &monitors, &raw).ok_or(no_room)?;
    let Some(speed) = with_trials(station, keeper.clone(), |trials| trials.cruise())? else {
        return Ok(Err("the lift is not got to run".into()));
    };
    let scenario = Scenario { last: u64::MAX, ..morning(station, speed) };
    let runner = PlainRunner::power_up(&program, &plan).ok_or(no_room)?;
    let mut running = Run::new(Simulator::new(station, &scenario, 1), runner, keeper);
    if let Some(why) = runs(&mut running, station, BEFORE) {
        return Ok(Err(why));
    }
    let mut excluded = Excluded { by: vec![Vec::new(); station.assumptions.len()], tried: 0 };
    for line in catalogue(station) {
        let Some(action) = action(station, &line) else { continue };
        let mut run = running.fork();
        run.keeper.broken.clear();
        run.simulator.suffer(&action);
        run.go_on(AFTER, |_| true);
        excluded.tried += 1;
        for (broken, _) in &run.keeper.broken {
            if let Some(by) = excluded.by.get_mut(*broken) {
                by.push(line.clone());
            }
        }
    }
    Ok(Ok(excluded))
}

/// What a line of a scenario does.
fn action(station: &Station, line: &str) -> Option<Action> {
    let read = Scenario::read(&format!("at 0 s {line}"), station).ok()?;
    read.events.into_iter().next().map(|event| event.action)
}
