//! What is asked of trials, so that they try what changed statements look at. Nothing depends on it but which are made.

use crate::station::{
    Condition, Form, InputId, Lasting, Measured, Name, Rank, Requirement, Scans, Station, WatchId, WatchKind,
};
use crate::text::place::Place;

/// What a requirement would ask that looks where a watch looks; nothing depends on it but which trials are made.
pub fn question(station: &Station, watch: WatchId) -> Vec<Requirement> {
    let Some(watch) = station.watches.get(watch) else { return Vec::new() };
    let least: Rank = station.worst();
    let within: Scans = 10;
    let whenever =
        |condition: &Condition, lasting| Form::Whenever { condition: condition.clone(), lasting, least, within };
    let forms = match &watch.kind {
        WatchKind::Guard(g) => {
            let lasting = match g.lasting {
                Lasting::Unbroken(scans) => scans,
                Lasting::Total { of, .. } => of,
            };
            vec![whenever(&g.when, lasting)]
        }
        WatchKind::Measure(m) => vec![Form::WhenRises {
            detector: m.detector,
            gauge: m.gauge,
            lowest: m.least,
            highest: m.most,
            least,
            within,
        }],
        WatchKind::Travel(t) => vec![Form::After {
            from: t.from,
            to: t.to,
            measured: t.measured,
            earliest: t.earliest,
            latest: t.latest,
            capacity: t.capacity,
            least,
            within,
        }],
        WatchKind::Spacing(s) => match s.measured {
            Measured::Rope(pace) => {
                vec![whenever(&Condition::High(s.detector), 0), whenever(&Condition::Faster(pace, 1), within)]
            }
            Measured::Time { .. } => vec![whenever(&Condition::High(s.detector), 0)],
        },
        WatchKind::Confirm(c) => vec![whenever(&Condition::Not(Box::new(c.see.clone())), c.within)],
        WatchKind::Count(c) => vec![whenever(&c.when, 0)],
        WatchKind::Exercise(e) => {
            vec![
                whenever(&Condition::High(e.input), 0),
                whenever(&Condition::Not(Box::new(Condition::High(e.input))), 0),
            ]
        }
        WatchKind::Agree(_) => Vec::new(),
    };
    forms.into_iter().map(asks).collect()
}

/// Likewise of an input: that it is high, and that it is not.
pub fn bits(station: &Station, input: InputId) -> Vec<Requirement> {
    let lines = station.channels_of(input);
    let high = Condition::High(input);
    let both = if lines.is_empty() { Vec::new() } else { vec![Condition::Not(Box::new(high.clone())), high] };
    let whenever = |condition| Form::Whenever { condition, lasting: 0, least: station.worst(), within: 10 };
    both.into_iter().map(|condition| asks(whenever(condition))).collect()
}

fn asks(form: Form) -> Requirement {
    Requirement {
        name: Name { text: String::new(), place: Place::default() },
        title: String::new(),
        hazards: Vec::new(),
        form,
        unless: None,
        need_not_arise: None,
        answers: Vec::new(),
        within_us: 0,
    }
}
