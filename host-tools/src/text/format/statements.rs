//! The station and its inputs.

use super::clause::Clause;
use super::layout::Shape;
use super::{rules, watches};
use crate::text::tree::{
    Backing, Contact, Detector, Gauge, Key, Kind, Link, Mode, Output, Pace, Pair, Revision, Settles, Shortest, Slow,
    Stop,
};

/// The clauses of a statement in canonical order.
pub(super) fn shape(kind: &Kind) -> Shape {
    let one = |clause| vec![vec![clause]];
    match kind {
        Kind::Station(title) => one(Clause::new("station").title(title)),
        Kind::Revision(it) => vec![revision(it)],
        Kind::Scan(time) => one(Clause::new("scan").quantity(time)),
        Kind::OnFault(stop) => one(Clause::new("on fault").name(stop)),
        Kind::Mode(it) => vec![mode(it)],
        Kind::Output(it) => vec![output(it)],
        Kind::Slow(it) => vec![slow(it)],
        Kind::Stop(it) => stop(it),
        Kind::Contact(it) => contact(it),
        Kind::Pair(it) => pair(it),
        Kind::Detector(it) => detector(it),
        Kind::Gauge(it) => gauge(it),
        Kind::Pace(it) => pace(it),
        Kind::Link(it) => vec![link(it)],
        Kind::Key(it) => vec![key(it)],
        Kind::Watch(it) => watches::watch(it),
        Kind::Reset(it) => vec![rules::reset(it)],
        Kind::Restart(time) => one(Clause::new("restart no sooner than").quantity(time).words("after a stop")),
        Kind::Refill(it) => vec![rules::refill(it)],
        Kind::Bypass(it) => rules::bypass(it),
        Kind::Hazard(name, title) => one(Clause::new("hazard").name(name).title(title)),
        Kind::Require(it) => rules::require(it),
        Kind::Entry(name, excuse) => one(rules::entry(name, excuse)),
        Kind::Assume(it) => rules::assume(it),
        Kind::Lane(it) => rules::lane(it),
    }
}

fn revision(it: &Revision) -> Vec<Clause> {
    let number = Clause::new("revision").count(&it.number);
    match &it.temporary {
        Some((until, because)) => {
            vec![number, Clause::new("temporary until").title(until).words("because").title(because)]
        }
        None => vec![number],
    }
}
fn mode(it: &Mode) -> Vec<Clause> {
    let mut head = vec![Clause::new("mode").name(&it.name).words("selected by").name(&it.key)];
    if let Some((pace, most)) = &it.at_most {
        head.push(Clause::default().name(pace).words("at most").quantity(most));
    }
    head
}

fn output(it: &Output) -> Vec<Clause> {
    let mut head = vec![
        Clause::new("output").name(&it.name).words("on").name(&it.terminal),
        Clause::new("off within").quantity(&it.off_within),
    ];
    if let Some((terminal, within)) = &it.read_back {
        head.push(Clause::new("read back on").name(terminal).words("within").quantity(within));
    }
    if !it.not_together.is_empty() {
        head.push(Clause::new("not together with").names(&it.not_together));
    }
    head
}

fn slow(it: &Slow) -> Vec<Clause> {
    let down = Clause::new("slow").name(&it.name).name(&it.pace).words("down to");
    vec![down.quantity(&it.down_to).words("within").quantity(&it.within)]
}

fn stop(it: &Stop) -> Shape {
    let mut head = vec![Clause::new("stop").name(&it.name).words("category").count(&it.category)];
    head.extend(it.for_emergencies.map(|place| Clause::new("for emergencies").at(place)));
    let mut shape = vec![head, vec![Clause::new("releases").names(&it.releases)]];
    if let Some(then) = &it.then {
        let outputs = Clause::new("then").names(&then.outputs).words("when").name(&then.pace);
        let latest = outputs.words("still, at the latest after").quantity(&then.latest);
        shape.push(vec![latest]);
    }
    shape.push(vec![
        Clause::new("bites within").quantity(&it.bites),
        Clause::new("slows at").range(&it.slows.0, &it.slows.1),
    ]);
    if let Some(guard) = &it.standstill {
        shape.push(vec![Clause::new("standstill held by").name(guard)]);
    }
    shape
}

fn rests(closed: &crate::text::place::Placed<bool>) -> Clause {
    Clause::new(if closed.value { "rests closed" } else { "rests open" }).at(closed.place)
}
fn shortest(it: &Shortest) -> Clause {
    let word = if it.opens.value { "opens" } else { "closes" };
    Clause::new(word).at(it.opens.place).words("for at least").quantity(&it.time)
}
fn settles(it: &Settles) -> Clause {
    let clause = Clause::new("settles");
    match it {
        Settles::Both(time) => clause.quantity(time),
        Settles::Each(opening, closing) => {
            clause.quantity(opening).words("opening and").quantity(closing).words("closing")
        }
    }
}

fn contact(it: &Contact) -> Shape {
    let mut more = Vec::new();
    let mut head = vec![Clause::new("contact").name(&it.name).words("on").name(&it.terminal), rests(&it.rests_closed)];
    head.extend(it.line_monitored.map(|place| Clause::new("line monitored").at(place)));
    more.extend(it.shortest.as_ref().map(shortest));
    more.extend(it.settles.as_ref().map(settles));
    if let Some(most) = &it.changes {
        more.push(Clause::new("at most").count(most).words("changes a second"));
    }
    vec![head, more]
}

fn pair(it: &Pair) -> Shape {
    let (first, second) = &it.terminals;
    let on = Clause::new("pair").name(&it.name).words("on").name(first).words("and").name(second);
    let opposed = Clause::new(if it.opposed.value { "opposed" } else { "alike" });
    let head = vec![on, opposed.at(it.opposed.place), rests(&it.rests_closed)];
    let mut more: Vec<Clause> = it.shortest.as_ref().map(shortest).into_iter().collect();
    more.extend(it.settles.as_ref().map(settles));
    let differing = Clause::new("differing for").quantity(&it.differing).words("is a fault");
    vec![head, more, vec![differing]]
}

fn detector(it: &Detector) -> Shape {
    let head = vec![
        Clause::new("detector").name(&it.name).words("on").name(&it.terminal),
        Clause::new("at").quantity(&it.at),
        Clause::new("pulses at least").quantity(&it.pulses),
    ];
    let mut more: Vec<Clause> = it.settles.as_ref().map(settles).into_iter().collect();
    if let Some((length, pace)) = &it.covered {
        more.push(Clause::new("covered for at most").of(length, pace));
    }
    if let Some((length, pace)) = &it.rises {
        more.push(Clause::new("rises at least every").of(length, pace));
    }
    vec![head, more]
}

fn gauge(it: &Gauge) -> Shape {
    let [(low, low_is), (high, high_is)] = &it.points;
    let points = Clause::default().quantity(low).words("is").quantity(low_is).comma();
    let head = vec![
        Clause::new("gauge").name(&it.name).words("on").name(&it.terminal),
        points.quantity(high).words("is").quantity(high_is),
    ];
    let mut more = Vec::new();
    if let Some(steps) = &it.steps {
        more.push(Clause::new("in steps of").quantity(steps));
    }
    if let Some((low, high)) = &it.trusted {
        more.push(Clause::new("trusted from").range(low, high));
    }
    if let Some(moves) = &it.moves {
        more.push(Clause::new("moves at most").quantity(moves).words("a scan"));
    }
    if let Some((within, value, detector)) = &it.rests {
        let rests = Clause::new("rests within").quantity(within).words("of").quantity(value);
        more.push(rests.words("when").name(detector).words("rises"));
    }
    vec![head, more]
}

fn pace(it: &Pace) -> Shape {
    let on = Clause::new("pace").name(&it.name).words("on").name(&it.terminal);
    let on = match &it.backing {
        Backing::None => on,
        Backing::Terminal(second) => on.words("and").name(second),
        Backing::Contact(contact) => on.words("backed by").name(contact),
    };
    let head = vec![on, Clause::default().quantity(&it.pulse).words("a pulse")];
    let signed = it.signed.map(|place| Clause::new("signed").at(place));
    let mut more: Vec<Clause> = signed.into_iter().collect();
    more.push(Clause::new("at most").quantity(&it.at_most));
    more.push(Clause::new("speed over").quantity(&it.over));
    let mut shape = vec![head];
    let mut last = Vec::new();
    if let Some(agree) = &it.agree {
        shape.push(std::mem::take(&mut more));
        last.push(Clause::new("the two agree within").quantity(agree));
    }
    if let Some(still) = &it.still {
        last.push(Clause::new("still below").quantity(still));
    }
    last.push(Clause::new("fault after").quantity(&it.fault_after));
    more.extend(last);
    shape.push(more);
    shape
}

fn link(it: &Link) -> Vec<Clause> {
    vec![
        Clause::new("link").name(&it.name).words("on").name(&it.terminal),
        Clause::new("silent for at most").quantity(&it.silent),
        Clause::new("else").name(&it.otherwise),
    ]
}

fn key(it: &Key) -> Vec<Clause> {
    let on = Clause::new("key").name(&it.name).words("on").name(&it.terminal);
    let on = match &it.second {
        Some(second) => on.words("and").name(second),
        None => on,
    };
    let mut head = vec![on];
    head.extend(it.settles.as_ref().map(settles));
    head
}
