//! What is asked of trials, so that they try what changed statements look at. Nothing depends on it but which are made.

use crate::station::{
    Condition, Form, InputId, InputKind, Lasting, Measured, Name, Observed, Rank, Requirement, Scans, Station, WatchId,
    WatchKind,
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
            when: m.when,
            lasting: 0,
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

/// Likewise of an input: what it is watched for itself, that it is high, and that it is not.
pub fn bits(station: &Station, input: InputId) -> Vec<Requirement> {
    let high = Condition::High(input);
    let mut all: Vec<(Condition, Scans)> = Vec::new();
    let observed = |observed| (Condition::Observed(observed), 0);
    match station.inputs.get(input).map(|input| &input.kind) {
        Some(InputKind::Detector(detector)) => {
            all.extend(detector.covered_at_most.map(|(pace, mm)| observed(Observed::Covered(input, pace, mm))));
            all.extend(detector.rises_every.map(|(pace, mm)| observed(Observed::Farther(input, pace, mm))));
        }
        Some(InputKind::Contact(contact)) => {
            all.extend(contact.most_changes.map(|most| observed(Observed::Changing(input, most))));
        }
        Some(InputKind::Gauge(gauge)) => {
            all.extend(gauge.moves_at_most.map(|steps| observed(Observed::Leaping(input, steps))));
        }
        Some(InputKind::Pair(pair)) => all.push((Condition::Observed(Observed::Differing(input)), pair.differing)),
        _ => {}
    }
    if !station.channels_of(input).is_empty() {
        all.extend([(Condition::Not(Box::new(high.clone())), 0), (high, 0)]);
    }
    let whenever = |(condition, lasting)| Form::Whenever { condition, lasting, least: station.worst(), within: 10 };
    all.into_iter().map(|of| asks(whenever(of))).collect()
}

fn asks(form: Form) -> Requirement {
    Requirement {
        name: Name { text: String::new(), place: Place::default() },
        title: String::new(),
        hazards: Vec::new(),
        form,
        unless: None,
        bounces: 0,
        need_not_arise: None,
        answers: Vec::new(),
        within_us: 0,
    }
}
