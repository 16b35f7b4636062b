//! Requirements that speak of what no rule can ask: for suites that add them to a station.

use host_tools::station::{Condition, Form, InputId, InputKind, Observed, Rank, Requirement, Station};

use super::inputs::{limit, name};
use super::requirements::slowest;
use super::{Case, Rng};

/// Adds a requirement of each kind that the station has inputs for, some of them joined with another condition.
pub fn ask_observed(case: &mut Case, seed: u64) {
    let mut rng = Rng::new(seed ^ 0x0B5E_47ED);
    let station = &mut case.station;
    let all: Vec<Observed> = kinds(&mut rng, station);
    for observed in all {
        let first = station.requirements.len();
        let least = Rank::try_from(rng.size(1, usize::from(station.worst()))).expect("few ranks");
        let within = rng.small(0, 6);
        let mut condition = Condition::Observed(observed);
        if !observed.stands_alone() && rng.chance(40) {
            let other = Condition::High(rng.pick(&of(station, |kind| matches!(kind, InputKind::Contact(_)))));
            condition = match rng.below(3) {
                0 => Condition::All(vec![condition, other]),
                1 => Condition::Any(vec![other, Condition::Not(Box::new(condition))]),
                _ => Condition::Not(Box::new(condition)),
            };
        }
        let unless = rng.chance(20).then(|| Condition::Observed(Observed::Released(rng.index(station.outputs.len()))));
        let within_us = (within + 2) * station.scan_us + slowest(station, least);
        station.requirements.push(Requirement {
            name: name(format!("O{first}")),
            title: format!("requirement {first}"),
            hazards: Vec::new(),
            form: Form::Whenever { condition, lasting: rng.small(0, 3), least, within },
            unless,
            need_not_arise: None,
            answers: Vec::new(),
            within_us,
        });
    }
}

fn of(station: &Station, is: impl Fn(&InputKind) -> bool) -> Vec<InputId> {
    (0..station.inputs.len()).filter(|&input| is(&station.inputs[input].kind)).collect()
}

fn kinds(rng: &mut Rng, station: &Station) -> Vec<Observed> {
    let mut all = vec![
        Observed::Stands(Rank::try_from(rng.size(1, usize::from(station.worst()))).expect("few ranks")),
        Observed::Released(rng.index(station.outputs.len())),
    ];
    let contacts = of(station, |kind| matches!(kind, InputKind::Contact(_)));
    let pairs = of(station, |kind| matches!(kind, InputKind::Pair(_)));
    let detectors = of(station, |kind| matches!(kind, InputKind::Detector(_)));
    let paces = of(station, |kind| matches!(kind, InputKind::Pace(_)));
    if !contacts.is_empty() {
        // Twice, with other limits, of what may be the same contact.
        all.push(Observed::Changing(rng.pick(&contacts), rng.small(1, 6)));
        all.push(Observed::Changing(rng.pick(&contacts), rng.small(2, 9)));
    }
    if !pairs.is_empty() {
        all.push(Observed::Differing(rng.pick(&pairs)));
    }
    if !detectors.is_empty() && !paces.is_empty() {
        all.push(Observed::Covered(rng.pick(&detectors), rng.pick(&paces), rng.small(1, 60)));
        all.push(Observed::Covered(rng.pick(&detectors), rng.pick(&paces), rng.small(1, 60)));
        all.push(Observed::Closer(rng.pick(&detectors), rng.pick(&paces), rng.small(1, 200)));
        all.push(Observed::Farther(rng.pick(&detectors), rng.pick(&paces), rng.small(1, 200)));
    }
    for (i, &one) in paces.iter().enumerate() {
        for &other in &paces[i + 1..] {
            if let (InputKind::Pace(a), InputKind::Pace(b)) = (&station.inputs[one].kind, &station.inputs[other].kind)
                && a.span == b.span
            {
                all.push(Observed::Apart([one, other], limit(rng.within(1, 12))));
            }
        }
    }
    let gauges = of(station, |kind| matches!(kind, InputKind::Gauge(_)));
    for pair in gauges.windows(2) {
        if let (InputKind::Gauge(a), InputKind::Gauge(b)) =
            (&station.inputs[pair[0]].kind, &station.inputs[pair[1]].kind)
            && (&a.unit, a.step_micro) == (&b.unit, b.step_micro)
        {
            all.push(Observed::Apart([pair[0], pair[1]], rng.small(1, 6)));
        }
    }
    all
}
