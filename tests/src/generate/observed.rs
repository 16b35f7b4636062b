//! Requirements that speak of what no rule can ask: for suites that add them to a station.

use host_tools::station::{
    Backing, Condition, Form, InputId, InputKind, Measured, Observed, Pace, Rank, Requirement, Station, Tally,
    UnderWay, WatchKind,
};

use super::inputs::{limit, name};
use super::requirements::slowest;
use super::{Case, Rng, Role};

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
        // A passing lasts no time.
        let lasting = if observed.is_passing() { 0 } else { rng.small(0, 3) };
        let unless = rng.chance(20).then(|| Condition::Observed(Observed::Released(rng.index(station.outputs.len()))));
        let within_us = (within + 2) * station.scan_us + slowest(station, least);
        station.requirements.push(Requirement {
            name: name(format!("O{first}")),
            title: format!("requirement {first}"),
            hazards: Vec::new(),
            form: Form::Whenever { condition, lasting, least, within },
            unless,
            // What has a settling of its own must not heed it.
            bounces: if seed % 2 == 1 { 2 } else { 0 },
            need_not_arise: None,
            answers: Vec::new(),
            within_us,
        });
    }
}

/// Adds requirements of the carriers under way between detectors of the line; apart from the others, whose chances stay as they are.
pub fn ask_under_way(case: &mut Case, seed: u64) {
    let mut rng = Rng::new(seed ^ 0x57A7_0F11);
    let (station, plan) = (&mut case.station, &case.plan);
    for most in [None, Some(rng.small(0, 2))] {
        let first = station.requirements.len();
        let from = rng.index(plan.at.len() - 1);
        let to = rng.size(from + 1, plan.at.len() - 1);
        let way = UnderWay {
            from: plan.id(Role::Detector(from)),
            to: plan.id(Role::Detector(to)),
            pace: plan.id(if rng.chance(80) { Role::Rope } else { Role::Conveyor }),
            latest: limit(plan.at[to] - plan.at[from] + rng.within(-9, 9)),
        };
        let (observed, lasting) = match most {
            None => (Observed::Stray(way), 0),
            Some(most) => (Observed::Crowded(way, most), rng.small(0, 2)),
        };
        let least = Rank::try_from(rng.size(1, usize::from(station.worst()))).expect("few ranks");
        let within = rng.small(0, 6);
        let contacts = of(station, |kind| matches!(kind, InputKind::Contact(_)));
        let unless = rng.chance(30).then(|| Condition::High(rng.pick(&contacts)));
        station.requirements.push(Requirement {
            name: name(format!("O{first}")),
            title: format!("requirement {first}"),
            hazards: Vec::new(),
            form: Form::Whenever { condition: Condition::Observed(observed), lasting, least, within },
            unless,
            bounces: u32::from(seed % 2 == 1),
            need_not_arise: None,
            answers: Vec::new(),
            within_us: (within + 2) * station.scan_us + slowest(station, least),
        });
    }
}

/// Adds requirements of what may follow a stop; with chances of their own too.
pub fn ask_after_stops(case: &mut Case, seed: u64) {
    let mut rng = Rng::new(seed ^ 0x2E5E_7A11);
    let station = &mut case.station;
    let contacts = of(station, |kind| matches!(kind, InputKind::Contact(_)));
    let paces = of(station, |kind| matches!(kind, InputKind::Pace(_)));
    let slow = Condition::Not(Box::new(Condition::Faster(rng.pick(&paces), limit(rng.within(1, 20)))));
    let when = station.reset.as_ref().map(|reset| (reset.when.clone(), reset.lasting)).filter(|_| rng.chance(40));
    let (condition, lasting) = when.unwrap_or_else(|| {
        let contact = Condition::High(rng.pick(&contacts));
        (if rng.chance(50) { slow } else { contact }, rng.small(0, 6))
    });
    let mut forms =
        vec![Form::NeverReleasedBut { condition, lasting }, Form::NeverPermitted { pause: rng.small(1, 12) }];
    let (mildest, worst) = (usize::from(station.first_stop()), usize::from(station.worst()));
    // What is asked for is more severe than what stands.
    for _ in 0..if mildest < worst { 2 } else { 0 } {
        let contact = Condition::High(rng.pick(&contacts));
        let fast = Condition::Faster(rng.pick(&paces), limit(rng.within(1, 20)));
        let condition = match rng.below(3) {
            // With the contact, so that it does not always hold.
            0 => Condition::All(vec![Condition::Not(Box::new(fast)), contact]),
            1 => Condition::All(vec![contact, fast]),
            _ => contact,
        };
        let after = rng.size(mildest, worst - 1);
        let [after, least] = [after, rng.size(after + 1, worst)].map(|rank| Rank::try_from(rank).expect("few ranks"));
        let slower = rng.chance(40).then(|| (rng.pick(&paces), limit(rng.within(1, 12))));
        // Beside a fall of speed a standstill is seen, and nothing else.
        let condition = match slower {
            Some((pace, _)) => Condition::Not(Box::new(moving(station, pace))),
            None => condition,
        };
        forms.push(Form::Effect { after, lasting: rng.small(0, 9), condition, slower, least, within: rng.small(0, 6) });
    }
    for form in forms {
        let first = station.requirements.len();
        let within_us = match form {
            Form::Effect { least, within, .. } => (within + 2) * station.scan_us + slowest(station, least),
            _ => 0,
        };
        let unless = rng.chance(20).then(|| Condition::High(rng.pick(&contacts)));
        station.requirements.push(Requirement {
            name: name(format!("R{first}")),
            title: format!("requirement {first}"),
            hazards: Vec::new(),
            form,
            unless,
            bounces: 0,
            need_not_arise: None,
            answers: Vec::new(),
            within_us,
        });
    }
}

/// Requirements of what the rules of a station watch themselves, each once as the rules may keep it and once a little more than
/// they do.
pub fn kept_observed(station: &Station) -> Vec<Requirement> {
    let whenever = |observed, lasting, least| (Condition::Observed(observed), lasting, least);
    let mut all: Vec<(Condition, u32, Rank)> = Vec::new();
    for watch in &station.watches {
        match &watch.kind {
            WatchKind::Agree(agree) => {
                for by in [agree.within, agree.within.saturating_sub(1)] {
                    all.push(whenever(Observed::Apart(agree.between, by), agree.apart, agree.answer));
                }
            }
            WatchKind::Spacing(spacing) => {
                let Measured::Rope(pace) = spacing.measured else { continue };
                let (detector, least) = (spacing.detector, spacing.least);
                all.extend(
                    [least, least + 9].map(|mm| whenever(Observed::Closer(detector, pace, mm), 0, spacing.closer)),
                );
                for mm in spacing.most.into_iter().flat_map(|most| [most, most.saturating_sub(9)]) {
                    all.push(whenever(Observed::Farther(detector, pace, mm), 0, spacing.farther));
                }
            }
            WatchKind::Travel(travel) => {
                let Measured::Rope(pace) = travel.measured else { continue };
                let InputKind::Pace(of) = &station.inputs[pace].kind else { panic!("no pace") };
                let latest = travel.latest + 3 * of.top_scan;
                let way = UnderWay { from: travel.from, to: travel.to, pace, latest };
                let least = [travel.early, travel.late, travel.stray].into_iter().min().expect("three");
                all.push(whenever(Observed::Stray(way), 0, least));
                let lasting = (0..=1).chain([u32::from(travel.capacity > 1)]);
                all.extend(lasting.map(|lasting| {
                    whenever(Observed::Crowded(way, travel.capacity), lasting, travel.crowded.min(least))
                }));
                all.push(whenever(Observed::Crowded(way, travel.capacity.saturating_sub(1)), 0, travel.crowded));
            }
            _ => {}
        }
    }
    for (i, output) in station.outputs.iter().enumerate() {
        let Some((_, within)) = output.read_back else { continue };
        let on = Condition::Not(Box::new(Condition::SeenOff(i)));
        let contradicted = Condition::All(vec![Condition::Observed(Observed::Released(i)), on]);
        all.extend([within, within.saturating_sub(1)].map(|scans| (contradicted.clone(), scans, station.on_fault)));
    }
    for (i, input) in station.inputs.iter().enumerate() {
        match &input.kind {
            InputKind::Contact(contact) => {
                for most in contact.most_changes.into_iter().flat_map(|most| [most, most.saturating_sub(1)]) {
                    all.push(whenever(Observed::Changing(i, most), 0, station.on_fault));
                }
            }
            InputKind::Detector(detector) => {
                let Some((pace, mm)) = detector.covered_at_most else { continue };
                let InputKind::Pace(of) = &station.inputs[pace].kind else { panic!("no pace") };
                for mm in [mm + detector.settle.up.saturating_sub(1) * of.top_scan, mm.saturating_sub(3)] {
                    all.push(whenever(Observed::Covered(i, pace, mm), 0, station.on_fault));
                }
            }
            InputKind::Key(key) => {
                let slow = station.slows.len();
                if let (Some(_), Ok(least)) =
                    (station.refills.iter().find(|refill| refill.key == i), Rank::try_from(slow))
                {
                    all.push(whenever(Observed::Pressed(i, key.settle.up), 0, least.max(1)));
                }
            }
            InputKind::Pair(pair) => {
                all.push(whenever(Observed::Differing(i), pair.differing + 2, station.on_fault));
                for scans in [pair.differing, pair.differing.saturating_sub(1)] {
                    all.push(whenever(Observed::Distrusted(i, scans), 0, station.on_fault));
                }
            }
            InputKind::Gauge(gauge) => {
                for steps in gauge.moves_at_most.into_iter().flat_map(|most| [most, most.saturating_sub(1)]) {
                    all.push(whenever(Observed::Leaping(i, steps), 0, station.on_fault));
                }
            }
            InputKind::Pace(pace) => {
                let Backing::Source(_, within) = pace.backing else { continue };
                for mm in [within, within.saturating_sub(1)] {
                    all.push(whenever(Observed::Sources(i, mm), pace.fault_after, station.on_fault));
                }
            }
            InputKind::Link(link) => {
                all.extend([0, 1].map(|more| whenever(Observed::Silent(i), link.silent + more, link.otherwise)));
            }
        }
    }
    for (slow, rank) in station.slows.iter().zip(1..) {
        let fast = Condition::Faster(slow.pace, slow.down_to + 1);
        let held = Condition::All(vec![Condition::Observed(Observed::Stands(rank)), fast]);
        all.push((held, slow.within + 1, station.on_fault));
    }
    let requirement = |(i, (condition, lasting, least)): (usize, (Condition, u32, Rank))| Requirement {
        name: name(format!("K{i}")),
        title: format!("requirement {i}"),
        hazards: Vec::new(),
        form: Form::Whenever { condition, lasting, least, within: 1 },
        unless: None,
        bounces: 0,
        need_not_arise: None,
        answers: Vec::new(),
        within_us: 0,
    };
    all.into_iter().enumerate().map(requirement).collect()
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
    let keys = of(station, |kind| matches!(kind, InputKind::Key(_)));
    if !keys.is_empty() {
        all.push(Observed::Pressed(rng.pick(&keys), rng.small(0, 4)));
    }
    if !pairs.is_empty() {
        all.push(Observed::Differing(rng.pick(&pairs)));
    }
    all.extend(of(station, |kind| matches!(kind, InputKind::Link(_))).into_iter().map(Observed::Silent));
    if !detectors.is_empty() && !paces.is_empty() {
        all.push(Observed::Covered(rng.pick(&detectors), rng.pick(&paces), rng.small(1, 60)));
        all.push(Observed::Covered(rng.pick(&detectors), rng.pick(&paces), rng.small(1, 60)));
        all.push(Observed::Closer(rng.pick(&detectors), rng.pick(&paces), rng.small(1, 200)));
        all.push(Observed::Farther(rng.pick(&detectors), rng.pick(&paces), rng.small(1, 200)));
    }
    if !pairs.is_empty() {
        all.push(Observed::Distrusted(rng.pick(&pairs), rng.small(0, 4)));
        all.push(Observed::Distrusted(rng.pick(&pairs), rng.small(1, 6)));
    }
    let backed = of(station, |kind| matches!(kind, InputKind::Pace(Pace { backing: Backing::Source(..), .. })));
    if !backed.is_empty() {
        all.push(Observed::Sources(rng.pick(&backed), limit(rng.within(1, 9))));
        all.push(Observed::Sources(rng.pick(&backed), limit(rng.within(1, 9))));
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
    if !gauges.is_empty() {
        all.push(Observed::Leaping(rng.pick(&gauges), rng.small(2, 9)));
    }
    for pair in gauges.windows(2) {
        if let (InputKind::Gauge(a), InputKind::Gauge(b)) =
            (&station.inputs[pair[0]].kind, &station.inputs[pair[1]].kind)
            && (&a.unit, a.step_micro) == (&b.unit, b.step_micro)
        {
            all.push(Observed::Apart([pair[0], pair[1]], rng.small(1, 6)));
        }
    }
    // Without a chance, so that the others stay as they are.
    if let ([from, .., to], [.., unknown, key]) = (detectors.as_slice(), keys.as_slice()) {
        let (key, unknown) = ((*key, 1), Some((*unknown, 2)));
        all.push(Observed::Miscounting(Tally { from: *from, to: *to, most: 1, confirmed: 0, key, unknown }));
    }
    all
}

/// A pace is not still.
fn moving(station: &Station, pace: InputId) -> Condition {
    let InputKind::Pace(scale) = &station.inputs[pace].kind else { panic!("it is a pace") };
    Condition::Faster(pace, scale.still + 1)
}
