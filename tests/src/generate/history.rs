//! A lively history that is mostly healthy. It is interactive: each scan is made from the last
//! verdict, since rope and operator react to it.

use std::sync::Arc;

use host_tools::sample::{Frame, Health, Reading, Sample};
use host_tools::station::ways::{Source, Way, WayOf, ways};
use host_tools::station::{Backing, InputKind};

use super::faults::{Fault, draw};
use super::line::Line;
use super::operator::Operator;
use super::{Case, Rng, Role};
use crate::told::Told;

/// A history of one station.
#[derive(Debug, Clone)]
pub struct History {
    case: Arc<Case>,
    ways: Vec<WayOf>,
    rng: Rng,
    line: Line,
    operator: Operator,
    /// Rope in this scan, mm.
    speed: i64,
    faults: Vec<(Fault, i64)>,
    /// Scans without a stop, less those with one: a fault only comes while there is credit.
    credit: i64,
    scan: i64,
    toggle: bool,
    toggle_in: i64,
    frame_in: i64,
    order: u8,
}

impl History {
    /// The history of a seed.
    pub fn new(case: &Case, seed: u64) -> Self {
        let mut rng = Rng::new(seed);
        Self {
            ways: ways(&case.station),
            line: Line::new(&mut rng, &case.plan),
            operator: Operator::new(case),
            rng,
            case: Arc::new(case.clone()),
            speed: 0,
            faults: Vec::new(),
            credit: 0,
            scan: 0,
            toggle: false,
            toggle_in: 0,
            frame_in: 0,
            order: 0,
        }
    }

    /// The next scan after the last verdict (none before the first scan).
    pub fn next_sample(&mut self, last: Option<&Told>) -> Sample {
        self.operator.acts(&mut self.rng, &self.case, &self.ways, last);
        self.repairs(last);
        self.breaks();
        let travel = self.runs(last);
        self.line.runs(&mut self.rng, &self.case.plan, travel);
        let sample = self.sample(travel, last);
        self.scan += 1;
        sample
    }

    fn has(&self, wanted: Fault) -> bool {
        self.faults.iter().any(|(fault, _)| *fault == wanted)
    }

    /// A pair's fault only clears once both channels have changed: somebody works it by hand.
    fn repairs(&mut self, last: Option<&Told>) {
        let Some(told) = last else { return };
        for (i, way) in self.ways.iter().enumerate() {
            let Source::Input(input) = way.source else {
                continue;
            };
            let worked = self.faults.iter().any(|(fault, _)| *fault == Fault::Flip(input));
            if told.trips[i] && way.way == Way::Differs && !worked && self.rng.once_in(4) {
                self.faults.push((Fault::Flip(input), 7));
            }
        }
    }

    /// Faults come and go.
    fn breaks(&mut self) {
        for (_, left) in &mut self.faults {
            *left -= 1;
        }
        self.faults.retain(|(_, left)| *left > 0);
        let cap = 400;
        self.credit = if self.operator.stopped > 0 { self.credit - 1 } else { (self.credit + 1).min(cap) };
        if self.operator.stopped > 0 || self.credit < 0 || self.scan < 30 || !self.rng.once_in(12) {
            return;
        }
        let (fault, length) = draw(&mut self.rng, &self.case);
        let (rng, plan) = (&mut self.rng, &self.case.plan);
        match fault {
            Fault::Shift(by) => self.line.shift(rng, plan, by),
            Fault::Lose => self.line.lose(rng, plan),
            Fault::Appear => self.line.appear(rng, plan),
            Fault::Delay(by) => self.line.delay(by),
            Fault::Double => self.line.double(plan),
            Fault::TurnsMode => {
                self.operator.mode = (self.operator.mode + 1) % self.case.station.modes.len();
            }
            _ => self.faults.push((fault, length)),
        }
    }

    /// Rope in this scan.
    fn runs(&mut self, last: Option<&Told>) -> i64 {
        let plan = &self.case.plan;
        let slows = self.case.station.slows.len();
        let slow_order = last.is_none_or(|told| told.stands[..slows].contains(&true));
        let stopped = self.operator.stopped;
        // Who cannot be reset at standstill is crept on for a while.
        let stands = plan.obeys && stopped > 0 && (stopped / 24) % 2 == 0;
        let mut target = if slow_order || self.operator.mode > 0 { plan.slow } else { plan.speed };
        if self.has(Fault::NotSlowed) {
            target = plan.speed;
        }
        if stands || self.operator.standing > 0 {
            target = 0;
        }
        if self.has(Fault::TooFast) {
            target = plan.speed + 3;
        }
        self.speed += (target - self.speed).clamp(-2, 2);
        if self.has(Fault::Reverse) {
            self.speed = -2;
        }
        if self.speed == plan.speed && self.rng.once_in(4) {
            return self.speed + self.rng.pick(&[-1, 1]);
        }
        self.speed
    }

    fn sample(&mut self, travel: i64, last: Option<&Told>) -> Sample {
        let case = Arc::clone(&self.case);
        let station = &case.station;
        let mut sample = Sample {
            channels: vec![false; station.channels.len()],
            gauges: vec![Reading::default(); station.gauge_terminals.len()],
            travel: vec![0; station.sources.len()],
            links: vec![Frame::default(); station.link_terminals.len()],
        };
        for (input, declared) in station.inputs.iter().enumerate() {
            match &declared.kind {
                InputKind::Pace(pace) => {
                    let rope = i32::try_from(travel).expect("small");
                    self.source(&mut sample, pace.source, rope);
                    if let Backing::Source(second, _) = pace.backing {
                        self.source(&mut sample, second, rope);
                    }
                }
                InputKind::Gauge(gauge) => {
                    sample.gauges[gauge.terminal] = self.gauge(input, gauge.lowest, gauge.top);
                }
                InputKind::Link(link) => {
                    sample.links[link.terminal] = self.frame(i64::from(link.silent));
                }
                kind => self.digital(&mut sample, input, kind, travel),
            }
        }
        for (i, output) in station.outputs.iter().enumerate() {
            if let Some((channel, _)) = output.read_back {
                let off = last.is_none_or(|told| told.off[i]);
                sample.channels[channel] = match () {
                    () if self.has(Fault::ReadBackStays(i, true)) => true,
                    () if self.has(Fault::ReadBackStays(i, false)) => false,
                    () => off,
                };
            }
        }
        sample
    }

    fn source(&mut self, sample: &mut Sample, source: usize, rope: i32) {
        let mut counted = rope;
        for (fault, _) in &self.faults {
            match fault {
                Fault::SourceOff(broken, by) if *broken == source => counted += by,
                Fault::SourceDead(broken) if *broken == source => counted = 0,
                _ => {}
            }
        }
        sample.travel[source] = counted;
    }

    fn gauge(&mut self, input: usize, lowest: i64, top: u32) -> Reading {
        let mut value = self.case.plan.nominal - lowest;
        if self.rng.once_in(5) {
            value += self.rng.pick(&[-1, 1]);
        }
        let mut health = Health::Good;
        for (fault, left) in &self.faults {
            match fault {
                Fault::GaugeOff(broken, by) if *broken == input => value += by,
                Fault::GaugeSwings(broken, by) if *broken == input && left % 2 == 0 => value += by,
                Fault::GaugeHealth(broken, how) if *broken == input => health = *how,
                _ => {}
            }
        }
        let steps = u32::try_from(value.clamp(0, i64::from(top))).expect("not negative");
        Reading { steps, health }
    }

    fn frame(&mut self, silent: i64) -> Frame {
        let ordered = self.faults.iter().find_map(|(fault, _)| match fault {
            Fault::LinkOrders(rank) => Some(*rank),
            _ => None,
        });
        let order = ordered.unwrap_or(0);
        self.frame_in -= 1;
        if self.has(Fault::LinkSilent) || (self.frame_in > 0 && order == self.order) {
            return Frame { fresh: false, order: 0 };
        }
        self.order = order;
        self.frame_in = self.rng.within(1, silent);
        Frame { fresh: true, order }
    }

    fn digital(&mut self, sample: &mut Sample, input: usize, kind: &InputKind, travel: i64) {
        let plan = &self.case.plan;
        let high = match (plan.roles[input], kind) {
            (Role::Detector(at), _) => self.line.covers(plan, at),
            (Role::Contact(_), InputKind::Contact(contact)) => contact.rests_closed,
            (Role::Pair(_), InputKind::Pair(pair)) => pair.rests_closed,
            (Role::Toggle, _) => self.toggles(),
            (Role::Clear, _) => self.line.clear(plan),
            (Role::Running, _) => travel != 0,
            (Role::ModeKey(mode), _) => mode == self.operator.mode && !self.has(Fault::NoMode),
            _ => self.operator.holds(input),
        };
        let (first, second, opposed) = match kind {
            InputKind::Contact(contact) => (contact.channel, None, false),
            InputKind::Pair(pair) => (pair.channels[0], Some(pair.channels[1]), pair.opposed),
            InputKind::Detector(detector) => (detector.channel, None, false),
            InputKind::Key(key) => (key.channels.0, key.channels.1, false),
            _ => return,
        };
        let (mut one, mut other) = (high, high);
        for (fault, left) in &self.faults {
            match fault {
                Fault::Flip(broken) if *broken == input => (one, other) = (!one, !other),
                Fault::Chatter(broken) if *broken == input && left % 2 == 0 => one = !one,
                Fault::Half(broken, true) if *broken == input => one = !one,
                Fault::Half(broken, false) if *broken == input => other = !other,
                Fault::Stays(broken, level) if *broken == input => (one, other) = (*level, *level),
                _ => {}
            }
        }
        sample.channels[first] = one;
        if let Some(second) = second {
            sample.channels[second] = other != opposed;
        }
    }

    fn toggles(&mut self) -> bool {
        self.toggle_in -= 1;
        if self.toggle_in <= 0 && !self.has(Fault::Lazy) {
            self.toggle = !self.toggle;
            self.toggle_in = self.rng.within(4, 9);
        }
        self.toggle
    }
}
