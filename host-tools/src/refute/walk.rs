//! The same trials for whoever looks for something else than a miss: from power-up on, under the eyes of a [`Watch`].

use super::acts::Act;
use super::boot::{Boots, Shop, boot, dark, first_pace, reset, rests, starts};
use super::contexts::{Context, From};
use super::history::History;
use super::routes::Routes;
use super::stage::Stage;
use super::{period, trials};
use crate::lower::lower;
use crate::sample::Sample;
use crate::station::{Form, Measured, Requirement, Station};
use crate::told::Scanned;
use logic_rules::plan::Fault;

/// What looks at each scan of a trial. A trial that goes on from where another was goes on with a copy.
pub trait Watch: Clone {
    /// Looks at a scan; whether the trial goes on.
    fn scan(&mut self, sample: &Sample, told: &Scanned) -> bool;
    /// The controller starts again with the next scan.
    fn restart(&mut self) {}
}

/// A run, and who has looked at all of it.
struct Walk<'p, W> {
    stage: Stage<'p>,
    watch: W,
}

impl<W: Watch> Walk<'_, W> {
    fn fork(&self) -> Self {
        Self { stage: self.stage.fork(), watch: self.watch.clone() }
    }
    fn play(&mut self, acts: &[Act]) {
        let Self { stage, watch } = self;
        stage.play_while(acts, |sample, told| watch.scan(sample, told));
    }
    fn scans(&self) -> u64 {
        self.stage.history.scans()
    }
    /// Goes on with these acts from here.
    fn then(&self, acts: &[Act]) -> Self {
        let mut walk = self.fork();
        walk.play(acts);
        walk
    }
}

/// Trials of one station, all of which start where the lift was just reset, runs, or has rested for long.
pub struct Trials<'s, 'p, W> {
    shop: &'s Shop<'p>,
    boots: &'s Boots<'p>,
    dark: Walk<'p, W>,
    fresh: Walk<'p, W>,
    running: Walk<'p, W>,
    rested: Option<Walk<'p, W>>,
}

/// Hands the trials of a station to `run`; `None` if it is not got to run.
///
/// # Errors
/// None that a verified plan can cause.
pub fn with_trials<W: Watch, T>(
    station: &Station,
    watch: W,
    run: impl FnOnce(&mut Trials<'_, '_, W>) -> T,
) -> Result<Option<T>, Fault> {
    let program = lower(station);
    let plan = program.plan()?;
    let routes = Routes::of(station, true);
    let span = first_pace(station).map_or(1, |(_, p)| i64::from(p.span.max(1)));
    let shop = Shop { station, program: &program, plan: &plan, routes: &routes, span };
    let Some(boots) = boot(&shop, period(station)) else { return Ok(None) };
    let Some(stage) = dark(&shop, period(station)) else { return Ok(None) };
    let dark = Walk { stage, watch };
    let fresh = dark.then(&reset(&shop));
    let running = fresh.then(&[starts(&shop, boots.cruise), known(station)].concat());
    Ok(Some(run(&mut Trials { shop: &shop, boots: &boots, dark, fresh, running, rested: None })))
}

/// On until it is known who is on the stretches that requirements look at.
fn known(station: &Station) -> Vec<Act> {
    let (mut mm, mut scans) = (0, 0);
    for requirement in &station.requirements {
        match requirement.form {
            Form::After { measured: Measured::Rope(_), latest, .. } => mm = mm.max(latest),
            Form::After { latest, .. } => scans = scans.max(latest),
            _ => {}
        }
    }
    vec![Act::Roll(i64::from(mm) + 100), Act::Wait(scans.saturating_add(2))]
}

impl<'p, W: Watch> Trials<'_, 'p, W> {
    /// Speed at which the lift runs, mm/s.
    pub fn cruise(&self) -> f64 {
        let cruise = self.boots.cruise;
        let whole = |n: i64| f64::from(i32::try_from(n).unwrap_or(i32::MAX));
        let us = whole(cruise.scans.max(1)) * f64::from(self.shop.station.scan_us.max(1));
        whole(cruise.mm) * 1e6 / us
    }
    /// A lift that runs for so long, with carriers that come so much rope apart, and whether nothing stopped it.
    pub fn ordinary(&self, apart: u32, scans: u64) -> (History, W, bool) {
        let detectors = &self.shop.routes.detectors;
        let reached = |at: usize| detectors.iter().any(|stand| stand.legs.iter().any(|leg| leg.to == at));
        let mut acts: Vec<Act> = (0..detectors.len()).filter(|&at| !reached(at)).map(Act::Carrier).collect();
        acts.push(Act::Roll(i64::from(apart)));
        let (mut walk, first_stop) = (self.running.fork(), self.shop.station.first_stop());
        let end = walk.scans() + scans;
        while walk.scans() < end && walk.stage.told.answer < first_stop {
            let before = walk.scans();
            walk.play(&acts);
            if walk.scans() == before {
                break;
            }
        }
        let runs = walk.stage.told.answer < first_stop;
        (walk.stage.history, walk.watch, runs)
    }
    /// Tries what may bring a requirement about, for so many scans at most; `ready` prepares who looks, `enough` is asked
    /// after each trial. Where passengers ride comes first, unless the requirement asks for a bypass.
    pub fn search(
        &mut self,
        requirement: &Requirement,
        scans: u64,
        ready: impl Fn(&mut W),
        mut enough: impl FnMut(&History, &W) -> bool,
    ) {
        if [&self.fresh, &self.running].into_iter().any(|walk| enough(&walk.stage.history, &walk.watch)) {
            return;
        }
        let plan = trials::plan(self.shop, self.boots, requirement);
        let (riding, others): (Vec<_>, Vec<_>) = plan.contexts.iter().partition(|context| context.is_riding());
        let (rested, others): (Vec<_>, Vec<_>) = others.into_iter().partition(|context| context.from == From::Rested);
        let order = if asks_for_bypass(requirement) { [rested, riding] } else { [riding, others] };
        for contexts in order {
            if self.around(&contexts, &plan.trials, scans / 2, &ready, &mut enough) {
                return;
            }
        }
    }
    /// The plainest trials in the plainest contexts first, and both get odder together. Whether it was enough.
    fn around(
        &mut self,
        contexts: &[&Context],
        trials: &[Vec<Act>],
        mut scans: u64,
        ready: &impl Fn(&mut W),
        enough: &mut impl FnMut(&History, &W) -> bool,
    ) -> bool {
        let first_stop = self.shop.station.first_stop();
        let mut settings: Vec<Option<Walk<'p, W>>> = Vec::new();
        for odd in 0..contexts.len() + trials.len() {
            for (at, context) in contexts.iter().enumerate().take(odd + 1) {
                let Some(acts) = trials.get(odd - at) else { continue };
                if settings.len() <= at {
                    let Some(start) = self.start(context.from) else { return false };
                    let mut walk = start.fork();
                    ready(&mut walk.watch);
                    walk.play(&context.acts);
                    scans = scans.saturating_sub(walk.scans() - start.scans());
                    if enough(&walk.stage.history, &walk.watch) {
                        return true;
                    }
                    settings.push(Some(walk).filter(|walk| walk.stage.told.answer < first_stop));
                }
                let Some(Some(setting)) = settings.get(at) else { continue };
                let walk = setting.then(acts);
                if enough(&walk.stage.history, &walk.watch) {
                    return true;
                }
                scans = scans.saturating_sub(walk.scans() - setting.scans() + super::SETTING_UP);
                if scans == 0 {
                    return false;
                }
            }
        }
        false
    }
    fn start(&mut self, from: From) -> Option<&Walk<'p, W>> {
        match from {
            From::Fresh => Some(&self.fresh),
            From::Running => Some(&self.running),
            From::Rested => {
                if self.rested.is_none() {
                    self.rested = Some(self.dark.then(&rests(self.shop)?));
                }
                self.rested.as_ref()
            }
        }
    }
}

fn asks_for_bypass(requirement: &Requirement) -> bool {
    match &requirement.form {
        Form::Whenever { condition, .. } | Form::Never { condition, .. } | Form::Effect { condition, .. } => {
            !condition.bypasses().is_empty()
        }
        _ => false,
    }
}
