//! Witnesses from simulated faults, where trials find none: each fault that a scenario can put on the station is put on one
//! that runs.

use super::asked::Eye;
use super::excludes::{AFTER, BEFORE, action};
use super::ordinary::{morning, runs};
use super::run::Run;
use crate::lower::lower;
use crate::refute::History;
use crate::runner::PlainRunner;
use crate::simulate::catalogue::catalogue;
use crate::simulate::{Scenario, Simulator};
use crate::station::Station;
use logic_rules::plan::Fault;

/// Runs the station with each fault, until it is enough; `enough` is asked after each. Nothing is run without a lane.
///
/// # Errors
/// None that a verified plan can cause.
pub(super) fn faults(
    station: &Station,
    speed: f64,
    eye: Eye<'_>,
    mut enough: impl FnMut(&History, &Eye<'_>) -> bool,
) -> Result<(), Fault> {
    if station.lane.is_none() {
        return Ok(());
    }
    let program = lower(station);
    let plan = program.plan()?;
    let runner = PlainRunner::power_up(&program, &plan).ok_or(Fault::TooMany("cells"))?;
    let scenario = Scenario { last: u64::MAX, ..morning(station, speed) };
    let mut running = Run::new(station, Simulator::new(station, &scenario, 1), runner, eye);
    let mut way = History::default();
    if runs(&mut running, station, BEFORE, |sample| way.push(sample, 1)).is_some() {
        return Ok(());
    }
    // A history goes from power-up to power-up.
    let lines = catalogue(station).into_iter().filter(|line| !line.starts_with("power lost"));
    for action in lines.filter_map(|line| action(station, &line)) {
        let (mut run, mut history) = (running.fork(), way.clone());
        run.simulator.suffer(&action);
        run.go_on(AFTER, |sample, _| {
            history.push(sample, 1);
            true
        });
        if enough(&history, &run.watch) {
            break;
        }
    }
    Ok(())
}
