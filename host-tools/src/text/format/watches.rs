//! Watches.

use super::clause::Clause;
use super::layout::Shape;
use crate::text::tree::{Answer, Every, Lasting, Quantity, Watch, WatchKind, When, Window, Word};

/// The clauses of a watch.
pub(super) fn watch(it: &Watch) -> Shape {
    let (keyword, body) = kind(&it.kind);
    let head = Clause::new(keyword).name(&it.name).maybe_title(it.title.as_ref());
    let mut shape = vec![vec![head], Vec::new()];
    if let Some(common) = shape.last_mut() {
        if !it.hazards.is_empty() {
            common.push(Clause::new("hazard").names(&it.hazards));
        }
        if !it.modes.is_empty() {
            common.push(Clause::new("in").names(&it.modes));
        }
    }
    shape.extend(body);
    shape
}

/// `with PACE at V to V throughout`.
pub(super) fn band(clause: Clause, pace: &Word, slow: &Quantity, fast: &Quantity) -> Clause {
    let clause = clause.comma().words("with").name(pace).words("at");
    clause.range(slow, fast).words("throughout")
}
/// `V to V`, of a pace or with its band, with words behind the bounds.
pub(super) fn window(clause: Clause, window: &Window, words: impl Fn(Clause) -> Clause) -> Clause {
    let bounds = |clause: Clause, low: &Quantity, high: Option<&Quantity>| match high {
        Some(high) => clause.range(low, high),
        None => clause.quantity(low),
    };
    match window {
        Window::Rope(low, high, pace) => words(bounds(clause, low, high.as_ref()).words("of").name(pace)),
        Window::Time(low, high, pace, slow, fast) => band(words(bounds(clause, low, high.as_ref())), pace, slow, fast),
    }
}
fn apart(clause: Clause, window: &Window) -> Clause {
    match window {
        Window::Rope(low, high, pace) => {
            let clause = clause.of(low, pace).words("apart");
            match high {
                Some(high) => clause.words("and at most").of(high, pace).words("apart"),
                None => clause,
            }
        }
        Window::Time(low, high, pace, slow, fast) => {
            let clause = clause.quantity(low).words("apart");
            let clause = match high {
                Some(high) => clause.words("and at most").quantity(high).words("apart"),
                None => clause,
            };
            band(clause, pace, slow, fast)
        }
    }
}

fn otherwise(stop: &Word) -> Vec<Clause> {
    vec![Clause::new("else").name(stop)]
}

fn kind(kind: &WatchKind) -> (&'static str, Shape) {
    match kind {
        WatchKind::Guard { when, lasting, answer } => {
            let mut shape = vec![vec![Clause::new("when").condition(when)]];
            match lasting {
                Some(Lasting::Unbroken(time)) => {
                    shape.push(vec![Clause::new("unbroken for").quantity(time)]);
                }
                Some(Lasting::Total(of, within)) => {
                    let total = Clause::new("for").quantity(of).words("in all within");
                    shape.push(vec![total.quantity(within)]);
                }
                None => {}
            }
            shape.push(vec![match answer {
                Answer::Stop(stop) => Clause::new("stop").name(stop),
                Answer::Slow(slow) => Clause::new("slow").name(slow),
            }]);
            ("guard", shape)
        }
        WatchKind::Travel { from, to, takes, backstop, capacity, early, late, stray, crowded, backwards } => {
            let mut takes = window(Clause::new("takes"), takes, |clause| clause);
            if let Some((time, pace)) = backstop {
                takes = takes.comma().words("and at most").quantity(time);
                takes = takes.words("while").name(pace).words("runs");
            }
            let mut answers = vec![
                Clause::new("early").name(early),
                Clause::new("late").name(late),
                Clause::new("stray").name(stray),
                Clause::new("crowded").name(crowded),
            ];
            answers.extend(backwards.as_ref().map(|stop| Clause::new("backwards").name(stop)));
            let shape = vec![
                vec![Clause::new("from").name(from).words("to").name(to)],
                vec![takes],
                vec![Clause::new("up to").carriers(capacity).words("under way")],
                answers,
            ];
            ("travel", shape)
        }
        WatchKind::Measure { when, gauge, between, otherwise: stop } => {
            let when = match when {
                When::Rise(detector) => Clause::new("when").name(detector).words("rises"),
                When::Time(time, detector) => {
                    let clause = Clause::new("throughout the").quantity(time).words("after");
                    clause.name(detector).words("rises")
                }
                When::Rope(length, pace, detector) => {
                    let clause = Clause::new("throughout the").of(length, pace).words("after");
                    clause.name(detector).words("rises")
                }
            };
            let stays = Clause::default().name(gauge).words("stays between").quantity(&between.0);
            let stays = stays.words("and").quantity(&between.1);
            ("measure", vec![vec![when], vec![stays], otherwise(stop)])
        }
        WatchKind::Spacing { detector, apart: window, closer, farther } => {
            let rises = Clause::default().name(detector).words("rises at least");
            let mut answers = vec![Clause::new("closer").name(closer)];
            answers.extend(farther.as_ref().map(|stop| Clause::new("farther").name(stop)));
            ("spacing", vec![vec![apart(rises, window)], answers])
        }
        WatchKind::Agree { between, within, apart, otherwise } => {
            let (first, second) = between;
            let two = Clause::default().name(first).words("and").name(second);
            let answer = match otherwise {
                Answer::Stop(stop) => Clause::new("else").name(stop),
                Answer::Slow(slow) => Clause::new("else slow").name(slow),
            };
            let shape = vec![
                vec![two.words("agree within").quantity(within)],
                vec![Clause::new("apart for at most").quantity(apart)],
                vec![answer],
            ];
            ("agree", shape)
        }
        WatchKind::Confirm { after, see, within, otherwise: stop } => {
            let shape = vec![
                vec![Clause::new("after").name(after)],
                vec![Clause::new("see").effect(see)],
                vec![Clause::new("within").quantity(within)],
                otherwise(stop),
            ];
            ("confirm", shape)
        }
        WatchKind::Exercise { input, every, otherwise: stop } => {
            let changes = Clause::default().name(input).words("changes");
            let changes = match every {
                Every::Carrier(detector) => changes.words("with every carrier at").name(detector),
                Every::Rope(length, pace) => changes.words("every").of(length, pace),
                Every::Time(time) => changes.words("every").quantity(time),
            };
            ("exercise", vec![vec![changes], otherwise(stop)])
        }
        WatchKind::Count { enter, leave, most, confirmed, over, below, wrong } => {
            let (number, when) = confirmed;
            let shape = vec![
                vec![Clause::new("in by").name(enter), Clause::new("out by").name(leave)],
                vec![Clause::new("at most").carriers(most)],
                vec![Clause::new("is").count(number).words("when").condition(when)],
                vec![
                    Clause::new("over").name(over),
                    Clause::new("below").name(below),
                    Clause::new("wrong").name(wrong),
                ],
            ];
            ("count", shape)
        }
    }
}
