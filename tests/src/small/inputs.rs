//! All that the inputs of a small plan can do in one scan.

use host_tools::prove::model::{Given, Model};
use host_tools::sample::{self, Health, Sample};
use host_tools::station::{Form, InputKind, Station};
use logic_rules::step::{Frame, Moved, Reading};
use logic_rules::{Lanes, Plain};

use super::cells::{LANES, Many};

/// Every combination of inputs in a scan, and of the carriers that are followed.
///
/// It stands for all there are. A channel is high or low. A gauge shows each of its steps in good health; the step of one
/// that is doubtful or broken is not looked at. A travel beyond a scan's greatest is cut to it and told as too much, so
/// that one such stands for all; of a source that cannot run back any travel back counts as none. A link's order
/// counts only if it is fresh, and each rank beyond the worst as the worst.
pub fn choices(model: &Model<'_>) -> Vec<Given<Plain>> {
    let tables = model.plan.tables();
    let follows = model.station.requirements.iter().any(|r| matches!(r.form, Form::After { .. }));
    let none = Given { channels: vec![], gauges: vec![], sources: vec![], links: vec![], picks: vec![] };
    let mut all = vec![none];
    for _ in 0..tables.head.lines {
        all = each(&all, &[false, true], |given, high| given.channels.push(*high));
    }
    for gauge in 0..tables.gauges.len() {
        let good = |value| Reading { value, good: true, broken: false };
        let mut shown: Vec<Reading<Plain>> = (0..=model.gauge_top(gauge)).map(good).collect();
        shown.extend([false, true].map(|broken| Reading { value: 0, good: false, broken }));
        all = each(&all, &shown, |given, reading| given.gauges.push(*reading));
    }
    for source in 0..usize::from(tables.head.sources) {
        let top = model.source_top(source);
        let back = if is_signed(model.station, source) { top } else { 0 };
        let mut moved: Vec<Moved<Plain>> = (0..=top).map(|forward| Moved { forward, back: 0 }).collect();
        moved.extend((1..=back).map(|back| Moved { forward: 0, back }));
        all = each(&all, &moved, |given, moved| given.sources.push(*moved));
    }
    let worst = u32::from(model.station.worst()) + 1;
    for _ in 0..tables.links.len() {
        let mut frames = vec![Frame { fresh: false, order: 0 }];
        frames.extend((0..=worst).map(|order| Frame { fresh: true, order }));
        all = each(&all, &frames, |given, frame| given.links.push(*frame));
    }
    for _ in &model.station.requirements {
        let picks: &[bool] = if follows { &[false, true] } else { &[false] };
        all = each(&all, picks, |given, pick| given.picks.push(*pick));
    }
    all
}

fn each<T>(all: &[Given<Plain>], values: &[T], put: impl Fn(&mut Given<Plain>, &T)) -> Vec<Given<Plain>> {
    let with = |given: &Given<Plain>, value: &T| {
        let mut given = given.clone();
        put(&mut given, value);
        given
    };
    all.iter().flat_map(|given| values.iter().map(move |value| (given, value))).map(|(g, v)| with(g, v)).collect()
}

fn is_signed(station: &Station, source: usize) -> bool {
    station.inputs.iter().any(|input| match &input.kind {
        InputKind::Pace(p) => {
            let second = matches!(p.backing, host_tools::station::Backing::Source(second, _) if second == source);
            p.signed && (p.source == source || second)
        }
        _ => false,
    })
}

/// Up to 64 combinations, one to a lane; the first one in lanes that are left.
pub fn together(all: &[&Given<Plain>]) -> Given<Many> {
    let bits = |of: &dyn Fn(&Given<Plain>) -> bool| -> u64 {
        all.iter().take(LANES).enumerate().fold(0, |bits, (lane, given)| bits | u64::from(of(given)) << lane)
    };
    let words = |of: &dyn Fn(&Given<Plain>) -> u32| Lanes::word(&all.iter().map(|given| of(given)).collect::<Vec<_>>());
    let first = all[0];
    Given {
        channels: (0..first.channels.len()).map(|i| bits(&|g| g.channels[i])).collect(),
        gauges: (0..first.gauges.len())
            .map(|i| Reading {
                value: words(&|g| g.gauges[i].value),
                good: bits(&|g| g.gauges[i].good),
                broken: bits(&|g| g.gauges[i].broken),
            })
            .collect(),
        sources: (0..first.sources.len())
            .map(|i| Moved { forward: words(&|g| g.sources[i].forward), back: words(&|g| g.sources[i].back) })
            .collect(),
        links: (0..first.links.len())
            .map(|i| Frame { fresh: bits(&|g| g.links[i].fresh), order: words(&|g| g.links[i].order) })
            .collect(),
        picks: (0..first.picks.len()).map(|i| bits(&|g| g.picks[i])).collect(),
    }
}

/// A combination as the sample that a replay reads.
pub fn sample(given: &Given<Plain>) -> Sample {
    let health = |reading: &Reading<Plain>| match (reading.good, reading.broken) {
        (true, _) => Health::Good,
        (false, true) => Health::Broken,
        (false, false) => Health::Doubtful,
    };
    let mm = |mm: u32| i32::try_from(mm).expect("small");
    Sample {
        channels: given.channels.clone(),
        gauges: given.gauges.iter().map(|g| sample::Reading { steps: g.value, health: health(g) }).collect(),
        travel: given.sources.iter().map(|moved| mm(moved.forward) - mm(moved.back)).collect(),
        links: (given.links.iter())
            .map(|link| sample::Frame { fresh: link.fresh, order: u8::try_from(link.order).expect("a rank") })
            .collect(),
    }
}
