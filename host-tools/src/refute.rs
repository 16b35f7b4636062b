//! Looks for histories on which a requirement is missed: trials from a
//! booted station, driven by what the requirement speaks of. What is found is replayed from power-up
//! through the whole plan, so that it is real by construction; that nothing is found proves nothing, and says where a
//! closer search may start.

use crate::cores;
use crate::lower::lower;
use crate::monitor::{MonitorPlan, Monitors};
use crate::runner::with_runner;
use crate::sample::Sample;
use crate::station::{Condition, Form, InputKind, Rank, Station, When};
use logic_rules::plan::Fault;

mod acts;
mod boot;
mod contexts;
mod history;
pub mod missed;
mod mutate;
mod rng;
mod routes;
mod shorten;
mod solve;
mod stage;
mod starts;
mod trials;
pub mod walk;
mod world;

pub use history::{History, Stay};
pub use walk::{Trials, Watch, with_trials};

use acts::Act;
use boot::{Boots, Shop, boot, first_pace};
use rng::Rng;
use routes::Routes;
use stage::{Stage, Wanted, trial};

/// How much is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Effort {
    /// Scans of trials for each requirement.
    pub scans: u64,
    /// Only histories count in which the inputs do what they are declared to.
    pub clean: bool,
    /// Seed of what is left to chance.
    pub seed: u64,
    /// Requirements that are hunted at once.
    pub threads: usize,
    /// Replays by which a find may be shortened.
    pub replays: usize,
    /// Conflicts that a solver may take for each requirement.
    pub conflicts: u64,
}
impl Default for Effort {
    fn default() -> Self {
        Self { scans: 2_000_000, clean: true, seed: 1, threads: 2, replays: 60, conflicts: 150_000 }
    }
}

/// A history that misses a requirement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refutation {
    /// Index of the requirement.
    pub requirement: usize,
    /// It ends with the scan in which the requirement is missed.
    pub history: History,
    /// That scan, counting from 0.
    pub missed_at: u64,
}

/// The scan (counting from 0) of a replay from power-up in which the requirement is missed, if no assumption is
/// broken before, unless that is what it asks about.
///
/// # Errors
/// As [`with_runner`].
pub fn confirm(station: &Station, history: &History, requirement: usize) -> Result<Option<u64>, Fault> {
    let held = station.requirements.get(requirement).is_some_and(|asked| matches!(asked.form, Form::Held { .. }));
    with_runner(station, |runner| {
        for (scan, sample) in (0..).zip(history.samples()) {
            let told = runner.scan(sample);
            if told.missed.iter().any(|missed| usize::from(*missed) == requirement) {
                return Some(scan);
            }
            if !told.broken.is_empty() && !held {
                return None;
            }
        }
        None
    })
}

/// What came of the trials for one requirement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Sought {
    /// A history misses it.
    Missed(Refutation),
    /// None of those that were tried. These end where a closer search may start.
    Near(Vec<History>),
}

/// Looks for a history that misses each of these requirements.
///
/// # Errors
/// As [`with_runner`].
pub fn hunt(station: &Station, wanted: &[usize], effort: Effort) -> Result<Vec<Option<Refutation>>, Fault> {
    let missed = |sought| if let Sought::Missed(refutation) = sought { Some(refutation) } else { None };
    Ok(seek(station, wanted, effort)?.into_iter().map(missed).collect())
}

/// As [`hunt`], and tells where a closer search may start where nothing is found.
///
/// # Errors
/// As [`with_runner`].
pub fn seek(station: &Station, wanted: &[usize], effort: Effort) -> Result<Vec<Sought>, Fault> {
    let all = search(station, wanted, effort)?;
    let mut found = Vec::new();
    for (&requirement, came) in wanted.iter().zip(all) {
        found.push(match came {
            Hunted::Missed(history) => match missed_by(station, &history, requirement)? {
                Some(refutation) => Sought::Missed(refutation.shorten(station, effort.clean, effort.replays)?),
                None => Sought::Near(Vec::new()),
            },
            Hunted::Near(near) => Sought::Near(near),
        });
    }
    Ok(found)
}

/// The refutation that a history is, if it is one.
///
/// # Errors
/// As [`with_runner`].
pub fn missed_by(station: &Station, history: &History, requirement: usize) -> Result<Option<Refutation>, Fault> {
    let missed = confirm(station, history, requirement)?;
    Ok(missed.map(|missed_at| Refutation { requirement, history: history.first(missed_at + 1), missed_at }))
}

/// What the hunt for one requirement came to.
#[derive(Clone)]
enum Hunted {
    Missed(History),
    Near(Vec<History>),
}

fn search(station: &Station, wanted: &[usize], effort: Effort) -> Result<Vec<Hunted>, Fault> {
    let program = lower(station);
    let plan = program.plan()?;
    let routes = Routes::of(station, effort.clean);
    let span = first_pace(station).map_or(1, |(_, p)| i64::from(p.span.max(1)));
    let shop = Shop { station, program: &program, plan: &plan, routes: &routes, span };
    let Some(boots) = boot(&shop, period(station)) else {
        return Ok(vec![Hunted::Near(Vec::new()); wanted.len()]);
    };
    let hunt = |(): &mut (), &requirement: &usize| Hunter { shop: &shop, boots: &boots, requirement, effort }.hunt();
    let mut found = Vec::new();
    cores::in_order(
        wanted,
        effort.threads,
        || (),
        hunt,
        |came| -> Result<(), Fault> {
            found.push(came?);
            Ok(())
        },
    )?;
    Ok(found)
}

/// What the inputs read when nothing is wrong and nothing moves.
pub fn calm(station: &Station) -> Sample {
    Routes::of(station, true).base
}

/// A reading of each gauge, by terminal, at which nothing is alarmed.
pub fn benign(station: &Station) -> Vec<(usize, u32)> {
    solve::benign_gauges(station).into_iter().map(|gauged| (gauged.terminal, gauged.steps)).collect()
}

/// Scans after which the spans of all paces begin together.
fn period(station: &Station) -> usize {
    let mut all = 1_usize;
    for input in &station.inputs {
        if let InputKind::Pace(p) = &input.kind {
            let (mut a, mut b) = (all, p.span as usize);
            while b > 0 {
                (a, b) = (b, a % b);
            }
            all = all / a.max(1) * (p.span.max(1) as usize);
        }
    }
    all.max(1)
}

/// The search for one requirement.
struct Hunter<'s, 'p> {
    shop: &'s Shop<'p>,
    boots: &'s Boots<'p>,
    requirement: usize,
    effort: Effort,
}

/// What setting up a trial costs, in scans.
const SETTING_UP: u64 = 30;

/// How a trial began that ended before its time: these acts, and then a wait of which so many scans came to pass.
struct Known {
    acts: Vec<Act>,
    waited: u32,
}
impl Known {
    fn of(acts: &[Act], (at, waited): (usize, u32)) -> Self {
        Self { acts: acts.iter().take(at).copied().collect(), waited }
    }
    /// A trial begins so too, so that nothing new can come of it.
    fn begins(&self, acts: &[Act]) -> bool {
        acts.starts_with(&self.acts)
            && matches!(acts.get(self.acts.len()), Some(Act::Wait(scans)) if *scans >= self.waited)
    }
}

/// False suspicions after which a search gives up.
const SUSPICIONS: u32 = 200;
/// Trials that are kept to be changed.
const KEPT: usize = 12;

impl Hunter<'_, '_> {
    fn hunt(&self) -> Result<Hunted, Fault> {
        let mut station = self.shop.station.clone();
        let Some(asked) = station.requirements.get(self.requirement).cloned() else {
            return Ok(Hunted::Near(Vec::new()));
        };
        station.requirements = vec![asked.clone()];
        let monitor_plan = MonitorPlan::new(&station);
        let raw_plan = monitor_plan.plan()?;
        let no_room = Fault::TooMany("cells");
        let mut monitors = Monitors::start(&station, &monitor_plan, &raw_plan).ok_or(no_room)?;
        // A requirement that is missed on the way to a running lift needs no trial.
        for stage in [&self.boots.running, &self.boots.fresh] {
            if let Some(history) = self.judged(&stage.history, false)? {
                return Ok(Hunted::Missed(history));
            }
        }
        let racing = matches!(asked.form, Form::Whenever { .. }) && speaks_of_speed(&asked.form);
        let plan = trials::plan(self.shop, self.boots, &asked);
        let mut stages: Vec<Option<Stage<'_>>> = Vec::new();
        let lead = match asked.form {
            Form::Whenever { lasting, .. } | Form::Effect { lasting, .. } => {
                2 * period(&station) + lasting as usize + 4
            }
            // A window that is measured in rope may be open for as long as one likes.
            Form::WhenRises { when: When::Rope(..), .. } => usize::MAX,
            Form::WhenRises { when: When::Scans(scans), .. } => 2 * period(&station) + scans as usize + 4,
            Form::WhenRises { lasting, .. } => 2 * period(&station) + lasting as usize + 4,
            Form::Never { .. } => 2 * period(&station) + 4,
            _ => usize::MAX,
        };
        let broken = matches!(asked.form, Form::Held { .. });
        let wanted = Wanted { least: asked.form.least().unwrap_or(Rank::MAX), lead, broken };
        let (mut spent, mut suspicions) = (0_u64, 0_u32);
        let mut best: Vec<(u32, usize, Vec<Act>)> = Vec::new();
        let mut rng = Rng::new(self.effort.seed ^ ((self.requirement as u64) << 32));
        let mut nearest: Vec<Option<(u32, Vec<Act>)>> = vec![None; plan.contexts.len()];
        let mut known: Vec<Vec<Known>> = plan.contexts.iter().map(|_| Vec::new()).collect();
        let mut round = 0;
        // Each context in turn gives its next trial; what is left of the effort changes the best ones.
        while spent < self.effort.scans && suspicions < SUSPICIONS {
            let planned = round < plan.trials.len() && spent < self.effort.scans / 4 * 3;
            if !planned && best.is_empty() {
                break;
            }
            for at in 0..plan.contexts.len() {
                if stages.len() <= at {
                    let stage = plan.contexts.get(at).and_then(|c| c.stage(self.boots));
                    stages.push(stage.filter(|s| s.told.answer < wanted.least));
                }
                let (at, acts) = if planned {
                    let Some(acts) = plan.trials.get(round) else { break };
                    (at, acts.clone())
                } else {
                    let Some((_, at, acts)) = best.get(rng.below(best.len())) else { break };
                    (*at, mutate::changed(acts, &mut rng, self.shop))
                };
                let Some(Some(stage)) = stages.get(at) else { continue };
                let Some(known) = known.get_mut(at) else { continue };
                if known.iter().any(|known| known.begins(&acts)) {
                    continue;
                }
                let came = trial(stage, &station, &mut monitors, &acts, wanted, None);
                spent += came.scans + SETTING_UP;
                if planned {
                    known.extend(came.ended.map(|ended| Known::of(&acts, ended)));
                }
                if came.missed && !came.broken {
                    let mut history = stage.history.clone();
                    trial(stage, &station, &mut monitors, &acts, wanted, Some(&mut history));
                    let history_scans = history.scans();
                    if let Some(history) = self.judged(&history, racing)? {
                        return Ok(Hunted::Missed(history));
                    }
                    spent += history_scans / 4;
                    suspicions += 1;
                } else if !came.broken {
                    let waited = came.met.unwrap_or(0);
                    if let Some(nearest) = nearest.get_mut(at)
                        && nearest.as_ref().is_none_or(|(most, _)| waited > *most)
                    {
                        *nearest = Some((waited, acts.clone()));
                    }
                    if planned {
                        keep(&mut best, waited, at, acts);
                    }
                }
                if spent >= self.effort.scans {
                    break;
                }
            }
            round += 1;
        }
        let mut near: Vec<(u32, History)> = Vec::new();
        for (stage, nearest) in stages.iter().zip(nearest) {
            if let (Some(stage), Some((waited, acts))) = (stage, nearest) {
                let mut history = stage.history.clone();
                trial(stage, &station, &mut monitors, &acts, wanted, Some(&mut history));
                near.push((waited, history));
            }
        }
        near.sort_by_key(|(waited, _)| std::cmp::Reverse(*waited));
        let stages: Vec<&Stage<'_>> = stages.iter().flatten().collect();
        let near = near.into_iter().map(|(_, history)| history);
        Ok(Hunted::Near(starts::starts(self.shop, self.boots, &asked, &stages, near)))
    }
    /// The find, replayed from power-up; none if it was none.
    fn judged(&self, history: &History, racing: bool) -> Result<Option<History>, Fault> {
        if self.effort.clean && !history.is_clean(self.shop.station, racing) {
            return Ok(None);
        }
        Ok(confirm(self.shop.station, history, self.requirement)?.map(|scan| history.first(scan + 1)))
    }
}

fn keep(best: &mut Vec<(u32, usize, Vec<Act>)>, waited: u32, at: usize, acts: Vec<Act>) {
    if best.len() >= KEPT && best.iter().all(|(least, ..)| *least >= waited) {
        return;
    }
    best.push((waited, at, acts));
    best.sort_by_key(|(waited, ..)| std::cmp::Reverse(*waited));
    best.truncate(KEPT);
}

fn speaks(form: &Form, of: impl Fn(&Condition) -> bool) -> bool {
    let mut it = false;
    if let Form::Whenever { condition, .. } | Form::Never { condition, .. } = form {
        condition.each(&mut |simple| it |= of(simple));
    }
    it
}
fn speaks_of_speed(form: &Form) -> bool {
    speaks(form, |simple| matches!(simple, Condition::Faster(..)))
}
