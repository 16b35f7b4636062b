//! Reset, refill, bypass, requirements, assumptions and the lane.

use super::clause::Clause;
use super::layout::Shape;
use super::watches::window;
use crate::text::tree::{
    Answer, Assume, Bypass, Claim, Excuse, Form, Ground, Lane, LoadsOn, Quantity, Refill, Require, Reset, StretchPace,
    When, Word,
};

pub(super) fn reset(it: &Reset) -> Vec<Clause> {
    let by = Clause::new("reset by").name(&it.key).words("pressed and let go");
    let when = Clause::new("when").condition(&it.when);
    let when = match &it.lasting {
        Some(time) => when.words("for").quantity(time),
        None => when,
    };
    vec![by, when]
}

pub(super) fn refill(it: &Refill) -> Vec<Clause> {
    let head = Clause::new("refill").names(&it.watches).words("by").name(&it.key);
    vec![head, Clause::new("when").condition(&it.when)]
}

pub(super) fn bypass(it: &Bypass) -> Shape {
    let (pace, most) = &it.at_most;
    vec![
        vec![Clause::new("bypass").name(&it.name).words("of").names(&it.of)],
        vec![Clause::new("in").names(&it.modes)],
        vec![Clause::new("while").name(&it.key).words("held")],
        vec![
            Clause::default().name(pace).words("at most").quantity(most),
            Clause::new("for at most").quantity(&it.budget),
            Clause::new("then not again for").quantity(&it.rest),
        ],
    ]
}

pub(super) fn require(it: &Require) -> Shape {
    let mut shape = vec![vec![Clause::new("require").name(&it.name).title(&it.title)]];
    if !it.hazards.is_empty() {
        shape.push(vec![Clause::new("hazard").names(&it.hazards)]);
    }
    shape.push(vec![form(&it.form)]);
    if let Some(unless) = &it.unless {
        shape.push(vec![Clause::new("unless").condition(unless)]);
    }
    if let Some(bounces) = &it.bounces {
        shape.push(vec![Clause::new("bounces of up to").quantity(bounces).words("aside")]);
    }
    if let Some(because) = &it.need_not_arise {
        shape.push(vec![Clause::new("need not arise because").title(because)]);
    }
    if !it.answers.is_empty() {
        shape.push(vec![Clause::new("answers").names(&it.answers)]);
    }
    shape
}
pub(super) fn entry(name: &Word, excuse: &Excuse) -> Clause {
    let clause = Clause::new("entry").name(name);
    match excuse {
        Excuse::NotApplicable(text) => clause.words("not applicable because").title(text),
        Excuse::Elsewhere(text) => clause.words("answered elsewhere by").title(text),
    }
}
fn stop_within(clause: Clause, stop: &Word, within: &Quantity) -> Clause {
    clause.words("stop at least").name(stop).words("within").quantity(within)
}
fn form(it: &Form) -> Clause {
    match it {
        Form::Whenever(condition, lasting, answer, within) => {
            let clause = Clause::new("whenever").condition(condition);
            let clause = match lasting {
                Some(time) => clause.words("for").quantity(time),
                None => clause,
            };
            match answer {
                Answer::Stop(stop) => stop_within(clause.comma(), stop, within),
                Answer::Slow(slow) => {
                    let clause = clause.comma().words("slow at least").name(slow);
                    clause.words("within").quantity(within)
                }
            }
        }
        Form::WhenRises(gauge, (low, high), lasting, when, stop, within) => {
            let clause = Clause::new("whenever").name(gauge).words("outside").range(low, high);
            let clause = match lasting {
                Some(time) => clause.words("for").quantity(time),
                None => clause,
            };
            let (clause, detector) = match when {
                When::Rise(detector) => (clause.words("when"), detector),
                When::Time(time, detector) => (clause.words("in the").quantity(time).words("after"), detector),
                When::Rope(length, pace, detector) => {
                    (clause.words("in the").of(length, pace).words("after"), detector)
                }
            };
            stop_within(clause.name(detector).words("rises").comma(), stop, within)
        }
        Form::After { from, window: bounds, to, least, within, capacity } => {
            let clause = Clause::new("after").name(from).words("rises, in");
            let clause = window(clause, bounds, |clause| clause.words("must rise").name(to));
            let clause = stop_within(clause.comma().words("else"), least, within);
            match capacity {
                Some(count) => clause.comma().words("up to").carriers(count),
                None => clause,
            }
        }
        Form::Effect { after, lasting, see, least, within } => {
            let clause = Clause::new("after").name(after).words("stands, within").quantity(lasting);
            let clause = clause.words("must be seen").effect(see);
            stop_within(clause.comma().words("else"), least, within)
        }
        Form::Never(stop, condition) => {
            let clause = Clause::new("never less than").name(stop).words("while");
            clause.condition(condition)
        }
        Form::NeverReleased(key) => Clause::new("never released without").name(key),
        Form::NeverReleasedBut(condition, lasting) => {
            let clause = Clause::new("never released but when").condition(condition);
            match lasting {
                Some(lasting) => clause.words("for").quantity(lasting),
                None => clause,
            }
        }
        Form::NeverPermitted(pause) => Clause::new("never permitted within").quantity(pause).words("after a stop"),
        Form::NeverTogether(first, second) => Clause::new("never").name(first).words("together with").name(second),
    }
}

pub(super) fn assume(it: &Assume) -> Shape {
    let claim = match &it.claim {
        Claim::RopeApart(detector, length, pace) => {
            let clause = Clause::default().name(detector).words("rises at least");
            clause.of(length, pace).words("apart")
        }
        Claim::TimeApart(detector, time) => {
            let clause = Clause::default().name(detector).words("rises at least");
            clause.quantity(time).words("apart")
        }
        Claim::Always(condition) => Clause::new("always").condition(condition),
        Claim::Never(condition) => Clause::new("never").condition(condition),
    };
    let ground = match &it.ground {
        Ground::HeldBy(watch) => Clause::new("held by").name(watch),
        Ground::Evidence(text) => Clause::new("on evidence").title(text),
    };
    let head = Clause::new("assume").name(&it.name).maybe_title(it.title.as_ref());
    vec![vec![head], vec![claim], vec![ground]]
}

pub(super) fn lane(it: &Lane) -> Shape {
    let mut shape = vec![
        vec![Clause::new("lane").name(&it.name)],
        vec![Clause::new("carriers every").quantity(&it.every).words("of rope")],
    ];
    if let Some(carriers) = shape.last_mut() {
        for (words, apart) in [("at least", &it.least), ("at most", &it.most)] {
            carriers.extend(apart.iter().map(|apart| Clause::new(words).quantity(apart).words("apart")));
        }
        carriers.push(Clause::default().quantity(&it.long).words("long"));
        carriers.extend(it.body.iter().map(|body| Clause::new("bodies").quantity(body).words("long")));
    }
    if let Some(loads) = &it.loads {
        let clause = Clause::new("loads from").range(&loads.from, &loads.to);
        shape.push(vec![match &loads.on {
            LoadsOn::OpenChairs(seats) => clause.words("onto open chairs for").count(seats),
            LoadsOn::ClosedCabins => clause.words("onto closed cabins"),
        }]);
    }
    let within = |words, limit: &Option<Quantity>| limit.as_ref().map(|q| Clause::new(words).quantity(q));
    let tolerances = [
        within("speeds within", &it.speeds),
        within("detectors within", &it.detectors),
        within("switching within", &it.switching),
    ];
    shape.push(tolerances.into_iter().flatten().collect());
    shape.push(it.line_speed.iter().map(|speed| Clause::new("line speed").quantity(speed)).collect());
    for stretch in &it.stretches {
        let clause = Clause::new("from").at(stretch.place).range(&stretch.from, &stretch.to);
        shape.push(vec![match &stretch.pace {
            StretchPace::Rope => clause.words("at rope speed"),
            StretchPace::Slows(to, of) => {
                let clause = clause.words("slows to").quantity(to).words("at");
                clause.quantity(of).words("of rope")
            }
            StretchPace::Steady(None) => clause.words("steady"),
            StretchPace::Steady(Some(pace)) => clause.words("steady, driven by").name(pace),
            StretchPace::Carried(None) => clause.words("steady, carried with the rope"),
            StretchPace::Carried(Some(pace)) => clause.words("steady, carried by").name(pace),
            StretchPace::SpeedsUp => clause.words("speeds up to rope speed"),
        }]);
    }
    shape.push(vec![
        Clause::new("uncouples at").quantity(&it.uncouples),
        Clause::new("couples at").quantity(&it.couples),
        Clause::new("held until").quantity(&it.held_until),
    ]);
    shape
        .push(it.touches.iter().map(|(name, at)| Clause::new("touches").name(name).words("at").quantity(at)).collect());
    shape
}
