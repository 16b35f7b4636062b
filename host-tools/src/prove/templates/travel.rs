//! A travel, beside a requirement that counts carriers under way, or follows one of them, any one.

use super::Scene;
use crate::prove::lemma::{CellId, Claim, Sum};
use crate::station::{Condition, Form, InputId, Measured, Observed, Travel, WatchKind};

/// Cells of the requirement.
struct Own {
    known: CellId,
    inside: CellId,
    run: CellId,
    carrier: Option<Carrier>,
}
/// Cells of the carrier that is followed.
struct Carrier {
    following: CellId,
    ahead: CellId,
    age: CellId,
}
/// Cells of the rule.
struct Rule {
    taken: Vec<CellId>,
    ages: Vec<CellId>,
    excusing: CellId,
    run: CellId,
    excuses: CellId,
}
/// A rise that the rule has not taken yet.
struct Pending {
    /// The line has settled.
    level: CellId,
    /// The raw sample.
    sample: CellId,
    /// Scans for which they have differed.
    settle: CellId,
    /// Scans by which the rule sees it later.
    lag: u32,
}
impl Pending {
    /// It is pending: the sample is high and the level is not.
    fn yes(&self) -> [Claim; 2] {
        [Claim::Not(self.level), Claim::Is(self.sample)]
    }
    /// It is pending since so many scans.
    fn since(&self, scans: u32) -> impl Iterator<Item = Claim> {
        self.yes().into_iter().chain([Claim::Same(Sum::cell(self.settle), Sum::number(scans))])
    }
    /// How many are pending.
    fn count(&self) -> Sum {
        Sum::gap(self.sample, self.level)
    }
}

/// What a requirement asks of carriers between two detectors: the detectors, how the way is measured, and the latest age.
fn asked(form: &Form) -> Option<([InputId; 2], Measured, u32)> {
    match form {
        Form::After { from, to, measured, latest, .. } => Some(([*from, *to], *measured, *latest)),
        Form::Whenever { condition: Condition::Observed(observed), .. } => {
            let way = observed.under_way()?;
            Some(([way.from, way.to], Measured::Rope(way.pace), way.latest))
        }
        _ => None,
    }
}

/// The detectors between which a requirement speaks of carriers.
pub(super) fn ends(form: &Form) -> Option<[InputId; 2]> {
    asked(form).map(|(ends, ..)| ends)
}

pub(super) fn lemmas(scene: &mut Scene<'_>) {
    let Some(([from, to], measured, latest)) = asked(&scene.requirement.form) else { return };
    let own = |what| scene.own(what);
    let (Some(known), Some(inside), Some(run)) = (own("known"), own("inside"), own("run")) else { return };
    let carrier = || Some(Carrier { following: own("following")?, ahead: own("ahead")?, age: own("age")? });
    let own = Own { known, inside, run, carrier: carrier() };
    scene.always(Claim::below(own.run, latest.saturating_add(1)));
    if let Some(carrier) = &own.carrier {
        scene.always(Claim::below(carrier.age, latest.saturating_add(1)));
    }
    scene.always(Claim::below(own.inside, logic_rules::monitor::MOST_INSIDE));
    for watch in scene.watches.clone() {
        let Some(watch) = scene.model.station.watches.get(watch) else { continue };
        if let WatchKind::Travel(travel) = &watch.kind
            && (travel.from, travel.to) == (from, to)
        {
            let (name, mut travel) = (watch.name.text.clone(), travel.clone());
            let mut count = "age";
            // In time it is the backstop that answers where a window is measured in rope.
            if let (Measured::Time { .. }, Measured::Rope(_), Some(backstop)) =
                (measured, travel.measured, travel.backstop)
            {
                (count, travel.latest) = ("time", backstop);
            }
            if let Some(rule) = rule(scene, &name, &travel, count) {
                window(scene, &own, &rule, &travel, measured, latest);
            }
        }
    }
}

fn rule(scene: &Scene<'_>, name: &str, travel: &Travel, count: &str) -> Option<Rule> {
    let places = 0..travel.capacity;
    let cells =
        |what: &str| places.clone().map(|i| scene.cell(&format!("{name}.{i}"), what)).collect::<Option<Vec<_>>>();
    Some(Rule {
        taken: cells("taken")?,
        ages: cells(count)?,
        excusing: scene.cell(name, "excusing")?,
        run: scene.cell(name, "run")?,
        excuses: scene.cell(name, "excuses")?,
    })
}

fn line(scene: &Scene<'_>, input: InputId) -> Option<Pending> {
    let channel = *scene.model.station.channels_of(input).first()?;
    let name = crate::prove::cells::channel(scene.model.station, channel);
    let (read, (up, _)) = scene.reading(channel);
    Some(Pending {
        level: scene.cell(&name, "level")?,
        sample: scene.cell(&read, "level")?,
        settle: scene.cell(&name, "settle")?,
        lag: up.saturating_sub(1),
    })
}

fn window(scene: &mut Scene<'_>, own: &Own, rule: &Rule, travel: &Travel, measured: Measured, latest: u32) {
    let (Some(from), Some(to)) = (line(scene, travel.from), line(scene, travel.to)) else { return };
    let unserved = scene.unserved();
    let with = |more: &[Claim]| -> Vec<Claim> { unserved.iter().chain(more).cloned().collect() };
    let step = match measured {
        Measured::Time { .. } => 1,
        Measured::Rope(pace) => scene.pace_step(pace),
    };
    let places = Sum::of(&rule.taken);
    // W1, W2, W3: the rule alone.
    for (i, (&taken, &age)) in rule.taken.iter().zip(&rule.ages).enumerate() {
        scene.always(Claim::below(age, travel.latest.saturating_add(1)));
        scene.when(&with(&[Claim::Is(taken)]), &[Claim::below(age, travel.latest)]);
        if let (Some(&next), Some(&younger)) = (rule.taken.get(i + 1), rule.ages.get(i + 1)) {
            scene.when(&[Claim::Is(next)], &[Claim::Is(taken)]);
            scene.when(&[Claim::Is(next)], &[Claim::AtMost(Sum::cell(younger), Sum::cell(age))]);
        }
    }
    scene.always(Claim::below(rule.excuses, travel.capacity));
    scene.when(&[Claim::Is(rule.excusing)], &[Claim::below(rule.run, travel.run.saturating_sub(1))]);
    // The refill is over when the requirement begins to know who is on the stretch.
    scene.when(&unserved, &[Claim::AtMost(Sum::cell(own.run), Sum::cell(rule.run)), Claim::Not(rule.excusing)]);
    scene.when(&with(&[Claim::Is(own.known)]), &[Claim::Not(rule.excusing)]);
    scene.when(&with(&[Claim::from(own.run, latest.saturating_add(1))]), &[Claim::Is(own.known)]);
    if let Some(carrier) = &own.carrier {
        scene.when(&[Claim::Is(carrier.following)], &[Claim::Is(own.known)]);
    }
    // Most that a carrier goes while its start settles.
    let slack = step.saturating_mul(from.lag);
    let now = |more: &[Claim]| -> Vec<Claim> { unserved.iter().chain(more).cloned().collect() };
    let (starting, coming) = (from.count(), to.count());
    // W4: both count the same carriers, but for those that are just settling.
    let counted = Sum::cell(own.inside).with(&coming);
    let there = places.clone().with(&starting);
    let same = Claim::Same(there.clone(), counted);
    // An arrival while nobody was there is in nobody's count; the rule will call it stray.
    let nobody = Claim::Same(there.clone(), Sum::cell(own.inside));
    let few = Claim::AtMost(Sum::cell(own.inside), starting.clone());
    scene.when(&now(&[Claim::Is(own.known)]), &[same.clone(), nobody.clone()]);
    scene.when(&now(&[Claim::Is(own.known)]), &[same, few.clone()]);
    scene.when(&unserved, &[Claim::AtMost(Sum::cell(own.inside), there.clone())]);
    scene.when(&now(&[Claim::Not(own.known)]), &[few, Claim::Same(coming.clone(), Sum::number(0))]);
    for (place, (&taken, &age)) in (0_u32..).zip(rule.taken.iter().zip(&rule.ages)) {
        // A carrier that nobody counted is as old as the count at least.
        let uncounted = Claim::AtMost(Sum::cell(own.inside).plus(place + 1), there.clone());
        let when = now(&[Claim::Not(own.known), uncounted, Claim::Is(taken)]);
        scene.when(&when, &[Claim::AtMost(Sum::cell(own.run), Sum::cell(age).plus(slack))]);
    }
    for scans in 1..=from.lag {
        // A start that settles still is counted, unless the count began anew since.
        let mut when = now(&[Claim::Not(own.known), Claim::below(own.inside, 0)]);
        when.extend(from.since(scans));
        scene.when(&when, &[Claim::below(own.run, step.saturating_mul(scans - 1))]);
    }
    if let Some(carrier) = &own.carrier {
        followed(scene, own, carrier, rule, (&from, &to), step);
        due(scene, own, rule, &to, step);
    }
    match scene.requirement.form {
        Form::Whenever { condition: Condition::Observed(Observed::Stray(_)), .. } => {
            stray(scene, own, rule, &from, &to);
        }
        Form::Whenever { condition: Condition::Observed(Observed::Crowded(_, most)), .. } => {
            crowded(scene, own, rule, (&from, &to), most);
        }
        _ => {}
    }
}

/// The carrier that is followed, beside those of the rule.
fn followed(
    scene: &mut Scene<'_>,
    own: &Own,
    carrier: &Carrier,
    rule: &Rule,
    (from, to): (&Pending, &Pending),
    step: u32,
) {
    let unserved = scene.unserved();
    let now = |more: &[Claim]| -> Vec<Claim> { unserved.iter().chain(more).cloned().collect() };
    let slack = step.saturating_mul(from.lag);
    let (places, coming) = (Sum::of(&rule.taken), to.count());
    let there = places.clone().with(&from.count());
    let nobody = Claim::Same(there.clone(), Sum::cell(own.inside));
    // W5: the carrier is one of those.
    let position = Sum::cell(carrier.ahead).with(&coming);
    let one = Claim::AtMost(position.clone().plus(1), there);
    let settled = Claim::Same(coming, Sum::number(0));
    scene.when(&now(&[Claim::Is(carrier.following)]), &[one.clone(), nobody]);
    scene.when(&now(&[Claim::Is(carrier.following), settled]), &[one]);
    for (place, (&taken, &age)) in (0_u32..).zip(rule.taken.iter().zip(&rule.ages)) {
        let here = Claim::Same(position.clone(), Sum::number(place));
        let when = now(&[Claim::Is(carrier.following), here, Claim::Is(taken)]);
        // W6: its age is that of its place, up to what it went while its start settled.
        scene.when(&when, &[Claim::AtMost(Sum::cell(age), Sum::cell(carrier.age))]);
        scene.when(&when, &[Claim::AtMost(Sum::cell(carrier.age), Sum::cell(age).plus(slack))]);
    }
    for scans in 1..=from.lag {
        // Its own start is settling still: it is last, and young.
        let mut when = now(&[Claim::Is(carrier.following), Claim::Same(position.clone(), places.clone())]);
        when.extend(from.since(scans));
        scene.when(&when, &[Claim::below(carrier.age, step.saturating_mul(scans - 1))]);
    }
}

/// A detector rose though nobody is under way; the rule will see it as soon as it has settled, and has nobody either.
fn stray(scene: &mut Scene<'_>, own: &Own, rule: &Rule, from: &Pending, to: &Pending) {
    let (Some(due), Some(&front)) = (scene.own("due"), rule.taken.first()) else { return };
    let mut when = scene.unserved();
    when.push(Claim::from(due, 1));
    for claim in to.yes() {
        scene.when(&when, &[claim]);
    }
    scene.when(&when, &[Claim::AtMost(Sum::cell(due), Sum::cell(to.settle))]);
    scene.when(&when, &[Claim::Not(front)]);
    scene.when(&when, &[Claim::Is(own.known)]);
    // Who starts in the meantime settles no sooner.
    when.extend(from.yes());
    scene.when(&when, &[Claim::AtMost(Sum::cell(from.settle), Sum::cell(to.settle))]);
}

/// One carrier too many started; the rule will see it as soon as it has settled, and all its places are taken.
fn crowded(scene: &mut Scene<'_>, own: &Own, rule: &Rule, (from, to): (&Pending, &Pending), most: u32) {
    for counts in ["held", "due"] {
        let (Some(scans), Some(&last)) = (scene.own(counts), rule.taken.last()) else { continue };
        let mut when = scene.unserved();
        when.push(Claim::from(scans, 1));
        for claim in from.yes() {
            scene.when(&when, &[claim]);
        }
        scene.when(&when, &[Claim::AtMost(Sum::cell(scans), Sum::cell(from.settle))]);
        scene.when(&when, &[Claim::Is(last)]);
        scene.when(&when, &[Claim::Is(own.known)]);
        scene.when(&when, &[Claim::from(own.inside, most.saturating_add(1))]);
        scene.when(&when, &[Claim::Same(to.count(), Sum::number(0))]);
    }
}

/// An arrival that is too early has been seen raw, and the rule will see it as soon as it has settled.
fn due(scene: &mut Scene<'_>, own: &Own, rule: &Rule, to: &Pending, step: u32) {
    let Form::After { earliest, .. } = scene.requirement.form else { return };
    let (Some(due), Some(&front), Some(&age)) = (scene.own("due"), rule.taken.first(), rule.ages.first()) else {
        return;
    };
    let mut when = scene.unserved();
    when.push(Claim::from(due, 1));
    for claim in to.yes() {
        scene.when(&when, &[claim]);
    }
    scene.when(&when, &[Claim::AtMost(Sum::cell(due), Sum::cell(to.settle))]);
    scene.when(&when, &[Claim::Is(front)]);
    scene.when(&when, &[Claim::Is(own.known)]);
    let young = earliest.saturating_sub(1);
    scene.when(&when, &[Claim::below(age, young.saturating_add(step.saturating_mul(to.lag.saturating_sub(1))))]);
}
