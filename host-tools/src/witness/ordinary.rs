//! The ordinary morning: a lift that is reset, started and runs, with carriers that pass. Assumptions that exclude it would
//! prove anything.

use super::keeper::{Keeper, assuming};
use super::run::Run;
use crate::lower::lower;
use crate::monitor::MonitorPlan;
use crate::refute::{Watch, benign, with_trials};
use crate::replay::cause;
use crate::runner::PlainRunner;
use crate::sample::Sample;
use crate::simulate::Simulator;
use crate::simulate::scenario::{Action, Behaviour, Event, Fault, Scenario, Thing};
use crate::station::ways::ways;
use crate::station::{InputKind, Measured, Station, WatchKind};
use logic_rules::plan;

/// What came of an ordinary morning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ordinary {
    /// It ran, and every assumption was kept.
    Kept {
        /// Carriers that came to the first detector.
        carriers: u32,
        /// Microseconds from power-up.
        lasted_us: u64,
    },
    /// An assumption is broken in it.
    Broken {
        /// Its index.
        assumption: usize,
        /// Microseconds from power-up.
        at_us: u64,
    },
    /// No lift was got to run, with what is known of why not.
    NotRun(String),
}

/// For how long it runs, microseconds.
const RUNS: u64 = 180_000_000;
/// Times from power-up to the reset, and from there to the start, beside what the rules ask for, microseconds.
const PAUSE: u64 = 5_000_000;
/// Distance of carriers where nothing tells it, mm.
const APART: u32 = 60_000;

/// Runs an ordinary morning: simulated along the lane if there is one, or else as its travels and spacings tell.
///
/// # Errors
/// None that a verified plan can cause.
pub fn ordinary(station: &Station) -> Result<Ordinary, plan::Fault> {
    let (program, assuming) = (lower(station), assuming(station));
    let monitors = MonitorPlan::new(&assuming);
    let (plan, raw) = (program.plan()?, monitors.plan()?);
    let no_room = plan::Fault::TooMany("cells");
    let keeper = Keeper::new(&assuming, &monitors, &raw).ok_or(no_room)?;
    let us = |scans: u64| scans.saturating_mul(u64::from(station.scan_us));
    let judged = |keeper: &Keeper<'_>, lasted_us: u64, why: Option<String>| match (keeper.broken.first(), why) {
        (Some(&(assumption, scan)), _) => Ordinary::Broken { assumption, at_us: us(scan) },
        (None, Some(why)) => Ordinary::NotRun(why),
        (None, None) => Ordinary::Kept { carriers: keeper.passed, lasted_us },
    };
    let around = with_trials(station, keeper.clone(), |trials| {
        let speed = trials.cruise();
        if station.lane.is_none() {
            let scans = RUNS / u64::from(station.scan_us.max(1));
            let (history, keeper, runs) = trials.ordinary(apart(station), scans);
            let why = (!runs).then(|| "it comes to a stop".to_owned());
            return (speed, Some(judged(&keeper, us(history.scans()), why)));
        }
        (speed, None)
    })?;
    let Some((speed, around)) = around else {
        return Ok(Ordinary::NotRun("the trials do not bring it to run".into()));
    };
    if let Some(around) = around {
        return Ok(around);
    }
    let scenario = morning(station, speed);
    let runner = PlainRunner::power_up(&program, &plan).ok_or(no_room)?;
    let mut run = Run::new(station, Simulator::new(station, &scenario, 1), runner, keeper);
    let why = runs(&mut run, station, scenario.last, |_| {});
    Ok(judged(&run.watch, run.simulator.progress().1, why))
}

/// Runs a morning; why it does not run at its end, if so.
pub(super) fn runs<W: Watch>(
    run: &mut Run<'_, W>,
    station: &Station,
    us: u64,
    mut see: impl FnMut(&Sample),
) -> Option<String> {
    let mut tripped = Vec::new();
    run.go_on(us, |sample, told| {
        see(sample);
        if !told.trips.is_empty() {
            tripped.clone_from(&told.trips);
        }
        true
    });
    if run.told.answer < station.first_stop() && run.simulator.rope_speed() > 0.0 {
        return None;
    }
    let all = ways(station);
    let causes = tripped.iter().filter_map(|way| all.get(usize::from(*way)));
    let causes: Vec<String> = causes.map(|way| cause(station, *way).words).collect();
    Some(if causes.is_empty() { "it does not start".into() } else { causes.join("; ") })
}

/// It is powered up, reset and started as soon as the rules permit, and runs.
pub(super) fn morning(station: &Station, speed: f64) -> Scenario {
    let us = |scans: u32| u64::from(scans) * u64::from(station.scan_us);
    let (mut events, mut now) = (Vec::new(), PAUSE);
    if let Some(reset) = &station.reset {
        now += us(reset.lasting);
        let settles = match station.inputs.get(reset.key).map(|input| &input.kind) {
            Some(InputKind::Key(key)) => key.settle.up.max(key.settle.down),
            _ => 0,
        };
        let pressed = station.channels_of(reset.key).into_iter().map(|c| (Thing::Channel(c), Fault::Level(true)));
        let press = us(reset.shortest.saturating_add(settles).saturating_add(2));
        events.push(Event { line: 0, at: now, every: None, action: Action::Faults(pressed.collect(), Some(press)) });
        now += press;
    }
    now += PAUSE + us(station.restart);
    events.push(Event { line: 0, at: now, every: None, action: Action::RopeTo { speed, rate: None } });
    let measured = |terminal: usize| {
        let is = |input: usize| matches!(station.inputs.get(input).map(|i| &i.kind), Some(InputKind::Gauge(g)) if g.terminal == terminal);
        station.watches.iter().any(|watch| matches!(&watch.kind, WatchKind::Measure(m) if is(m.gauge)))
    };
    let quiet = benign(station).into_iter().filter(|(terminal, _)| !measured(*terminal));
    Scenario {
        last: now + RUNS,
        powers_up: true,
        gauges: quiet.map(|(gauge, at)| (gauge, Behaviour::Lies { at: f64::from(at), noise: 0.0 })).collect(),
        events,
        ..Scenario::default()
    }
}

/// Rope from carrier to carrier: a little more than the least that the rules want to see.
fn apart(station: &Station) -> u32 {
    let least = station.watches.iter().filter_map(|watch| match &watch.kind {
        WatchKind::Spacing(s) if matches!(s.measured, Measured::Rope(_)) => {
            Some(s.least.saturating_add(s.least / 5).min(s.most.unwrap_or(u32::MAX)))
        }
        _ => None,
    });
    least.max().unwrap_or(APART)
}
