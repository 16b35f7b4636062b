//! Conditions read backwards: what makes one hold, and where its limits lie.

use super::acts::Act;
use super::history::scans;
use super::world::Rate;
use crate::sample::{Frame, Health, Reading, Sample};
use crate::station::{
    Backing, Condition, Form, Gauge, Guard, InputId, InputKind, Lasting, Observed, Pace, Rank, Station, WatchKind,
};

/// Alternatives that are kept of a condition.
const MOST: usize = 40;

/// A benign value of a gauge.
pub(super) struct Gauged {
    pub(super) terminal: usize,
    pub(super) steps: u32,
}

/// The two bits of a condition on one raw sample, with the rope still.
pub(super) fn bits(station: &Station, condition: &Condition, sample: &Sample) -> (bool, bool) {
    let level = |channel: usize| sample.channels.get(channel).copied().unwrap_or(false);
    match condition {
        Condition::All(parts) => parts.iter().fold((true, true), |(may, must), part| {
            let (x, y) = bits(station, part, sample);
            (may && x, must && y)
        }),
        Condition::Any(parts) => parts.iter().fold((false, false), |(may, must), part| {
            let (x, y) = bits(station, part, sample);
            (may || x, must || y)
        }),
        Condition::Not(part) => {
            let (may, must) = bits(station, part, sample);
            (!must, !may)
        }
        Condition::High(input) => match station.inputs.get(*input).map(|i| &i.kind) {
            Some(InputKind::Contact(c)) => (level(c.channel), level(c.channel)),
            Some(InputKind::Detector(d)) => (level(d.channel), level(d.channel)),
            Some(InputKind::Pair(p)) => {
                let [a, b] = [level(p.channels[0]), level(p.channels[1]) != p.opposed];
                (a || b, a && b)
            }
            Some(InputKind::Key(k)) => {
                let (a, b) = (level(k.channels.0), k.channels.1.is_none_or(level));
                (a || k.channels.1.is_some_and(level), a && b)
            }
            _ => (false, false),
        },
        Condition::AtLeast(gauge, steps) => match station.inputs.get(*gauge).map(|i| &i.kind) {
            Some(InputKind::Gauge(g)) => {
                let reading = sample.gauges.get(g.terminal).copied().unwrap_or_default();
                let is = reading.steps >= *steps;
                if reading.health == Health::Good { (is, is) } else { (true, false) }
            }
            _ => (true, false),
        },
        Condition::Faster(_, mm) | Condition::Back(_, mm) => (*mm == 0, *mm == 0),
        Condition::SeenOff(output) => {
            let off = station.outputs.get(*output).and_then(|o| o.read_back).is_some_and(|(c, _)| level(c));
            (off, off)
        }
        Condition::Observed(Observed::Differing(pair)) => match station.inputs.get(*pair).map(|i| &i.kind) {
            Some(InputKind::Pair(p)) => {
                let differ = level(p.channels[0]) != (level(p.channels[1]) != p.opposed);
                (differ, differ)
            }
            _ => (false, false),
        },
        Condition::Faulty(_) | Condition::Bypassed(_) | Condition::Observed(_) => (false, false),
    }
}

/// Conditions of the guards, and of what is required whenever or never.
pub(super) fn alarms(station: &Station) -> Vec<&Condition> {
    let guards = station.watches.iter().filter_map(|w| match &w.kind {
        WatchKind::Guard(g) => Some(&g.when),
        _ => None,
    });
    let asked = station.requirements.iter().filter_map(|r| match &r.form {
        Form::Whenever { condition, .. } | Form::Never { condition, .. } => Some(condition),
        _ => None,
    });
    guards.chain(asked).collect()
}

/// Steps of a gauge at which something changes, in order.
pub(super) fn cuts(station: &Station, gauge: InputId) -> Vec<u32> {
    let mut all = Vec::new();
    let mut see = |simple: &Condition| {
        if let Condition::AtLeast(of, steps) = simple
            && *of == gauge
        {
            all.push(*steps);
        }
    };
    for alarm in alarms(station) {
        alarm.each(&mut see);
    }
    for requirement in &station.requirements {
        if let Some(unless) = &requirement.unless {
            unless.each(&mut see);
        }
    }
    let mut bounds = Vec::new();
    for watch in &station.watches {
        if let WatchKind::Measure(m) = &watch.kind
            && m.gauge == gauge
        {
            bounds.extend([m.least, m.most.saturating_add(1)]);
        }
    }
    for requirement in &station.requirements {
        if let Form::WhenRises { gauge: of, lowest, highest, .. } = &requirement.form
            && *of == gauge
        {
            bounds.extend([*lowest, highest.saturating_add(1)]);
        }
    }
    all.extend(bounds);
    all.sort_unstable();
    all.dedup();
    all
}

/// A value of each gauge at which nothing is alarmed, where there is one: zero if that will do, or the
/// middle of the widest stretch that does.
pub(super) fn benign_gauges(station: &Station) -> Vec<Gauged> {
    let mut chosen: Vec<Gauged> = Vec::new();
    for (i, input) in station.inputs.iter().enumerate() {
        let InputKind::Gauge(gauge) = &input.kind else { continue };
        let alarmed = |steps: u32| {
            let mut sample = Sample {
                channels: vec![false; station.channels.len()],
                gauges: vec![Reading { steps: 0, health: Health::Good }; station.gauge_terminals.len()],
                ..Sample::default()
            };
            if let Some(cell) = sample.gauges.get_mut(gauge.terminal) {
                cell.steps = steps;
            }
            let speaks = |c: &&Condition| {
                let mut it = false;
                c.each(&mut |simple| it |= matches!(simple, Condition::AtLeast(of, _) if *of == i));
                it
            };
            alarms(station).into_iter().filter(speaks).filter(|c| only(station, c, i, &sample)).count()
        };
        let zero = u32::try_from(-gauge.lowest).unwrap_or(0).min(gauge.top);
        let mut options = vec![(alarmed(zero), 0, zero)];
        if let Some((_, least, most)) = gauge.rests {
            options.insert(0, (0, 0, u32::midpoint(least, most)));
        }
        let mut edges = vec![0];
        edges.extend(cuts(station, i));
        edges.push(gauge.top.saturating_add(1));
        for pair in edges.windows(2) {
            if let [from, to] = pair
                && from < to
            {
                let middle = from + (to - from) / 2;
                options.push((alarmed(middle), i64::from(*from) - i64::from(*to), middle));
            }
        }
        // The fewest alarms, zero before the others, the widest stretch first.
        let zero_first = |o: &(usize, i64, u32)| (o.0, i64::from(o.1 != 0), o.1);
        if let Some((_, _, steps)) = options.into_iter().min_by_key(zero_first) {
            chosen.push(Gauged { terminal: gauge.terminal, steps });
        }
    }
    chosen
}

/// Whether the gauge alone makes the condition possible; what speaks of others does not count.
fn only(station: &Station, condition: &Condition, gauge: InputId, sample: &Sample) -> bool {
    sided(station, condition, gauge, sample, true).unwrap_or(false)
}

/// Whether the condition may be so (or not so), as far as it speaks of the gauge.
fn sided(station: &Station, condition: &Condition, gauge: InputId, sample: &Sample, so: bool) -> Option<bool> {
    match condition {
        Condition::All(parts) | Condition::Any(parts) => {
            let every = matches!(condition, Condition::All(_)) == so;
            let said = parts.iter().filter_map(|p| sided(station, p, gauge, sample, so));
            let said: Vec<bool> = said.collect();
            let holds = if every { said.iter().all(|x| *x) } else { said.contains(&true) };
            (!said.is_empty()).then_some(holds)
        }
        Condition::Not(part) => sided(station, part, gauge, sample, !so),
        Condition::AtLeast(of, _) if *of == gauge => Some(bits(station, condition, sample).0 == so),
        _ => None,
    }
}

/// Acts that may make a condition so (or not so): alternatives, the plainest first.
pub(super) fn ways_to(station: &Station, condition: &Condition, so: bool) -> Vec<Vec<Act>> {
    let mut all = match condition {
        Condition::All(parts) | Condition::Any(parts) => {
            if matches!(condition, Condition::All(_)) == so {
                let mut ways: Vec<Vec<Act>> = vec![Vec::new()];
                for part in parts {
                    let more = ways_to(station, part, so);
                    let joined = ways.iter().flat_map(|way| {
                        more.iter().map(move |next| way.iter().chain(next).copied().collect::<Vec<Act>>())
                    });
                    ways = joined.take(MOST).collect();
                }
                ways
            } else {
                let each: Vec<Vec<Vec<Act>>> = parts.iter().map(|part| ways_to(station, part, so)).collect();
                let longest = each.iter().map(Vec::len).max().unwrap_or(0);
                // In turn, so that the cut takes from all of them.
                (0..longest).flat_map(|i| each.iter().filter_map(move |ways| ways.get(i).cloned())).collect()
            }
        }
        Condition::Not(part) => ways_to(station, part, !so),
        Condition::High(input) => level(station, *input, so),
        Condition::AtLeast(gauge, steps) => match station.inputs.get(*gauge).map(|i| &i.kind) {
            Some(InputKind::Gauge(g)) => reads(g, *steps, so),
            _ => Vec::new(),
        },
        Condition::Faster(pace, mm) => match station.inputs.get(*pace).map(|i| &i.kind) {
            Some(InputKind::Pace(p)) => runs(p, i64::from(*mm), so, false),
            _ => Vec::new(),
        },
        Condition::Back(pace, mm) => match station.inputs.get(*pace).map(|i| &i.kind) {
            Some(InputKind::Pace(p)) => runs(p, i64::from(*mm), so, true),
            _ => Vec::new(),
        },
        Condition::SeenOff(output) => match station.outputs.get(*output).and_then(|o| o.read_back) {
            Some((channel, _)) => vec![vec![Act::Channel(channel, Some(so))]],
            None => Vec::new(),
        },
        Condition::Faulty(input) => match station.inputs.get(*input).map(|i| &i.kind) {
            Some(InputKind::Gauge(g)) if so => ill(g),
            Some(InputKind::Pair(p)) if so => vec![vec![Act::Channel(p.channels[0], Some(!p.rests_closed))]],
            _ => vec![Vec::new()],
        },
        Condition::Observed(observed) if so => observed_ways(station, *observed),
        // What surrounds the trial sees to it.
        Condition::Bypassed(_) | Condition::Observed(_) => vec![Vec::new()],
    };
    all.truncate(MOST);
    all
}

/// Acts that may bring about what only requirements speak of.
fn observed_ways(station: &Station, observed: Observed) -> Vec<Vec<Act>> {
    let kind = |input: InputId| station.inputs.get(input).map(|i| &i.kind);
    match observed {
        Observed::Stands(rank) => {
            let ways = answered(station, &|answer| answer == rank);
            // What no guard orders, a stretch that refills may: the surroundings see to it.
            if ways.is_empty() { vec![Vec::new()] } else { ways }
        }
        Observed::Released(output) => {
            let first = station.first_stop();
            let releases = |rank: Rank| {
                let stop = usize::from(rank).checked_sub(usize::from(first)).and_then(|i| station.stops.get(i));
                stop.is_some_and(|stop| stop.releases.contains(&output))
            };
            answered(station, &releases)
        }
        Observed::Differing(pair) => match kind(pair) {
            Some(InputKind::Pair(p)) => {
                let second = Act::Channel(p.channels[1], Some(p.rests_closed == p.opposed));
                vec![vec![Act::Channel(p.channels[0], Some(!p.rests_closed))], vec![second]]
            }
            _ => Vec::new(),
        },
        // Nothing is asked until the stop that differing channels bring has been reset; see the trials.
        Observed::Distrusted(pair, differ) => match kind(pair) {
            Some(InputKind::Pair(p)) => {
                let [one, other] = p.channels;
                let (rests, rests_too) = (p.rests_closed, p.rests_closed != p.opposed);
                let differ = Act::Wait(differ.saturating_add(1));
                let settles = p.settle.up.max(p.settle.down).saturating_add(2);
                let shortest = p.shortest_us.map_or(0, |us| scans(station, us));
                let away = [Act::Channel(one, Some(!rests)), Act::Channel(other, Some(!rests_too))];
                let [first, second] = away;
                let (first_back, second_back) = (Act::Channel(one, None), Act::Channel(other, None));
                let mut ways = Vec::new();
                for (goes, comes, stays) in [(first, first_back, second_back), (second, second_back, first_back)] {
                    // One alone; or both, for as long as is declared, of which one comes back sooner.
                    ways.push(vec![goes, differ, comes, Act::Wait(settles)]);
                    let long = Act::Wait(shortest.max(settles));
                    ways.push([away.to_vec(), vec![long, comes, differ, stays, Act::Wait(settles)]].concat());
                }
                ways
            }
            _ => Vec::new(),
        },
        Observed::Leaping(gauge, by) => match kind(gauge) {
            Some(InputKind::Gauge(g)) => {
                let benign = benign_gauges(station);
                let rest = benign.iter().find(|own| own.terminal == g.terminal).map_or(0, |own| own.steps);
                let reads = |steps| Act::Gauge(g.terminal, Some(Reading { steps, health: Health::Good }));
                let by = by.saturating_add(1);
                let leaps =
                    [(rest, rest.checked_add(by)), (rest, rest.checked_sub(by)), (0, Some(by)), (0, Some(g.top))];
                let fits = leaps.into_iter().filter_map(|(from, to)| Some((from, to.filter(|to| *to <= g.top)?)));
                fits.map(|(from, to)| vec![reads(from), Act::Wait(2), reads(to)]).collect()
            }
            _ => Vec::new(),
        },
        Observed::Sources(pace, by) => match kind(pace) {
            Some(InputKind::Pace(p)) => {
                let Backing::Source(second, _) = p.backing else { return Vec::new() };
                let by = i64::from(by) + 1;
                let pulse = i64::from(p.mm_a_pulse.max(1));
                let up = (by + pulse - 1).div_euclid(pulse) * pulse;
                let alone = |source: usize, mm: i64| Act::Source(source, Some(Rate { mm, scans: i64::from(p.span) }));
                let half = i64::from(p.top) / 2 / pulse * pulse;
                let mut ways = vec![vec![alone(second, 0)], vec![alone(p.source, 0)]];
                for (x, y) in [(p.source, second), (second, p.source)] {
                    ways.push(vec![alone(x, half), alone(y, half + up)]);
                    ways.push(vec![alone(x, up), alone(y, 0)]);
                }
                ways
            }
            _ => Vec::new(),
        },
        Observed::Silent(link) => match kind(link) {
            Some(InputKind::Link(l)) => vec![vec![Act::Link(l.terminal, Some(Frame { fresh: false, order: 0 }))]],
            _ => Vec::new(),
        },
        Observed::Pressed(key, scans) => {
            let hold =
                |level| station.channels_of(key).into_iter().map(move |channel| Act::Channel(channel, Some(level)));
            let down: Vec<Act> = hold(true).chain([Act::Wait(scans.saturating_add(1))]).collect();
            let up: Vec<Act> = hold(false).chain([Act::Wait(scans.saturating_add(4))]).collect();
            vec![down.clone(), [up, down].concat()]
        }
        Observed::Covered(detector, _, mm) => match kind(detector) {
            Some(InputKind::Detector(d)) => {
                vec![vec![Act::Channel(d.channel, Some(true)), Act::Roll(i64::from(mm) + 1)]]
            }
            _ => Vec::new(),
        },
        // What comes to a detector is for whoever plans the trial.
        Observed::Closer(..)
        | Observed::Farther(..)
        | Observed::Stray(_)
        | Observed::Crowded(..)
        | Observed::Miscounting(_) => vec![Vec::new()],
        Observed::Changing(contact, most) => match kind(contact) {
            Some(InputKind::Contact(c)) => {
                let away = c.shortest_us.map_or(1, |us| scans(station, us));
                let once = [
                    Act::Channel(c.channel, Some(!c.rests_closed)),
                    Act::Wait(away),
                    Act::Channel(c.channel, Some(c.rests_closed)),
                    Act::Wait(1),
                ];
                let times = usize::try_from(most / 2 + 1).unwrap_or(1);
                let few: Vec<Act> = once.iter().copied().cycle().take(4 * times).collect();
                vec![few.clone(), [few, once.to_vec(), once.to_vec()].concat()]
            }
            _ => Vec::new(),
        },
        Observed::Apart([one, other], by) => match (kind(one), kind(other)) {
            (Some(InputKind::Pace(a)), Some(InputKind::Pace(b))) => {
                let by = i64::from(by) + i64::from(b.mm_a_pulse.max(1));
                let alone = |p: &Pace, mm: i64| Act::Source(p.source, Some(Rate { mm, scans: i64::from(p.span) }));
                let half = i64::from(a.top.min(b.top)) / 2;
                // One of them dies, or runs away; or both run a little apart.
                let mut ways = vec![vec![alone(b, 0)], vec![alone(b, i64::from(b.top))]];
                for (x, y) in [(a, b), (b, a)] {
                    ways.push(vec![alone(x, half), alone(y, half + by)]);
                    ways.push(vec![alone(x, by), alone(y, 0)]);
                }
                ways
            }
            (Some(InputKind::Gauge(a)), Some(InputKind::Gauge(b))) => {
                let benign = benign_gauges(station);
                let at = |g: &Gauge| benign.iter().find(|own| own.terminal == g.terminal).map_or(0, |own| own.steps);
                let reads = |g: &Gauge, steps: u32| {
                    Act::Gauge(g.terminal, Some(Reading { steps: steps.min(g.top), health: Health::Good }))
                };
                let by = by.saturating_add(1);
                let apart = |from: u32| [from.saturating_add(by), from.saturating_sub(by)];
                let second = apart(at(a)).map(|steps| vec![reads(a, at(a)), reads(b, steps)]);
                let first = apart(at(b)).map(|steps| vec![reads(b, at(b)), reads(a, steps)]);
                second.into_iter().chain(first).collect()
            }
            _ => Vec::new(),
        },
    }
}

/// Acts that make a guard trip whose answer is one of these, a few for each, and the wait until it does.
fn answered(station: &Station, is_one: &dyn Fn(Rank) -> bool) -> Vec<Vec<Act>> {
    let guards = station.watches.iter().filter_map(|watch| match &watch.kind {
        WatchKind::Guard(guard) if is_one(guard.answer) => Some(guard),
        _ => None,
    });
    let trips = |guard: &Guard| {
        let hold = if let Lasting::Unbroken(scans) = guard.lasting { scans } else { 0 };
        let ways = ways_to(station, &guard.when, true).into_iter().take(2);
        ways.map(|way| [way, vec![Act::Wait(hold.saturating_add(4))]].concat()).collect::<Vec<_>>()
    };
    guards.flat_map(trips).collect()
}

fn level(station: &Station, input: InputId, so: bool) -> Vec<Vec<Act>> {
    let set = |channel: usize, level: bool| Act::Channel(channel, Some(level));
    match station.inputs.get(input).map(|i| &i.kind) {
        Some(InputKind::Contact(c)) => vec![vec![set(c.channel, so)]],
        Some(InputKind::Detector(d)) => vec![vec![set(d.channel, so)]],
        Some(InputKind::Pair(p)) => {
            let (first, second) = (set(p.channels[0], so), set(p.channels[1], so != p.opposed));
            vec![vec![first, second], vec![first], vec![second]]
        }
        Some(InputKind::Key(_)) => {
            vec![station.channels_of(input).into_iter().map(|channel| set(channel, so)).collect()]
        }
        _ => Vec::new(),
    }
}

/// Readings that nobody can believe.
fn ill(g: &Gauge) -> Vec<Vec<Act>> {
    let reading = |health| vec![Act::Gauge(g.terminal, Some(Reading { steps: 0, health }))];
    vec![reading(Health::Doubtful), reading(Health::Broken)]
}

fn reads(g: &Gauge, steps: u32, so: bool) -> Vec<Vec<Act>> {
    let values = if so {
        [steps, steps.saturating_add(1), steps.saturating_add(g.top) / 2, g.top]
    } else {
        let below = steps.saturating_sub(1);
        [below, below.saturating_sub(1), below / 2, 0]
    };
    let good =
        |steps: u32| vec![Act::Gauge(g.terminal, Some(Reading { steps: steps.min(g.top), health: Health::Good }))];
    let mut all: Vec<Vec<Act>> = values.into_iter().map(good).collect();
    all.extend(ill(g));
    all
}

/// Speeds at, just beyond and far beyond a limit, in whole pulses; of everything, then of the first source alone.
fn runs(p: &Pace, mm: i64, so: bool, back: bool) -> Vec<Vec<Act>> {
    let pulse = i64::from(p.mm_a_pulse.max(1));
    let up = |mm: i64| (mm + pulse - 1).div_euclid(pulse) * pulse;
    let (top, span) = (i64::from(p.top), i64::from(p.span));
    let limit = if so { up(mm) } else { (mm - 1).max(0) / pulse * pulse };
    let mut values = if so { vec![limit, limit + pulse, limit.max(top)] } else { vec![limit, 0] };
    let sign = if back && so { -1 } else { 1 };
    for mm in &mut values {
        *mm *= sign;
    }
    let mut all: Vec<Vec<Act>> = values.iter().map(|&mm| vec![Act::Speed(Rate { mm, scans: span })]).collect();
    if so && !back {
        all.push(vec![Act::Speed(Rate { mm: -limit, scans: span })]);
    }
    // What it counts need not be what the rope runs.
    if so {
        all.push(vec![Act::Source(p.source, Some(Rate { mm: limit * sign, scans: span }))]);
    }
    all
}
