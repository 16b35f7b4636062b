//! What can be moved on a station, and how often it is.

use super::bench::For;
use super::course::{Course, GRIP, Move, WELL, mode_keys, reads};
use crate::generate::Rng;
use host_tools::sample::{Frame, Health, Reading};
use host_tools::station::ways::{Way, ways};
use host_tools::station::{InputKind, Settle, Station};

/// Something that can be moved and put back.
#[derive(Debug, Clone)]
pub(super) struct Lever {
    pub(super) moved: Vec<Move>,
    pub(super) back: Vec<Move>,
    /// Scans until it is taken, there and back.
    pub(super) settle: Settle,
}

/// Everything that can be moved.
#[derive(Debug, Clone)]
pub(super) struct Levers {
    /// With its weight in a draw.
    all: Vec<(u64, Lever)>,
    pub(super) reset: Lever,
    /// What trips while a pair is faulty, and what heals it.
    pub(super) differs: Option<(u16, Lever)>,
    /// Channel of the contact that may change so often, and its changes.
    pub(super) chatter: Option<(usize, u32)>,
    /// The contact that confirms a count.
    pub(super) confirms: Option<Lever>,
}

impl Levers {
    /// Of a station at rest.
    pub(super) fn new(station: &Station, what: For, course: &Course) -> Self {
        let weigh = |[carriers, keys, signals]: [u64; 3]| match what {
            For::Carriers => carriers,
            For::Keys => keys,
            For::Signals => signals,
        };
        let (mut levers, mut reset, mut chatter, mut differs, mut confirms) = (Vec::new(), None, None, None, None);
        let way = ways(station).iter().position(|way| way.way == Way::Differs).and_then(|way| u16::try_from(way).ok());
        for (id, input) in station.inputs.iter().enumerate() {
            let moved = |channels: &[usize], settle: Settle| {
                let to = |turned: bool| {
                    channels
                        .iter()
                        .map(|at| Move::Channel(*at, course.sample.channels[*at] != turned))
                        .collect::<Vec<_>>()
                };
                Lever { moved: to(true), back: to(false), settle }
            };
            match &input.kind {
                InputKind::Contact(contact) => {
                    levers.push((weigh([5, 22, 4]), moved(&[contact.channel], contact.settle)));
                    // It is the last one.
                    confirms = Some(moved(&[contact.channel], contact.settle));
                    chatter = chatter.or(contact.most_changes.map(|most| (contact.channel, most)));
                }
                InputKind::Pair(pair) if what == For::Keys => {
                    levers.push((6, moved(&pair.channels, pair.settle)));
                    differs = way.map(|way| (way, moved(&pair.channels, pair.settle)));
                    levers.push((220, moved(&pair.channels[..1], pair.settle)));
                }
                InputKind::Detector(detector) => {
                    levers.push((weigh([12, 2, 1]), moved(&[detector.channel], detector.settle)));
                }
                InputKind::Key(key) => {
                    let channels: Vec<usize> = std::iter::once(key.channels.0).chain(key.channels.1).collect();
                    let lever = moved(&channels, key.settle);
                    if station.reset.as_ref().is_some_and(|reset| reset.key == id) {
                        reset = Some(lever);
                    } else if station.refills.iter().any(|refill| refill.key == id) {
                        levers.push((3, lever));
                    } else if station.bypasses.iter().any(|bypass| bypass.key == id) {
                        levers.push((weigh([16, 80, 16]), lever));
                    }
                }
                _ => {}
            }
        }
        let keys = mode_keys(station);
        let (run, service) = (|on| Move::Channel(keys[0], on), |on| Move::Channel(keys[1], on));
        let at_once = Settle::default();
        levers.push((
            weigh([2, 64, 4]),
            Lever { moved: vec![run(false), service(true)], back: vec![run(true), service(false)], settle: at_once },
        ));
        levers.push((weigh([1, 54, 2]), Lever { moved: vec![run(false)], back: vec![run(true)], settle: at_once }));
        for (weight, rope) in [(4, 0), (4, 6), (4, 16), (weigh([1, 60, 4]), 33)] {
            levers.push((
                weight,
                Lever { moved: vec![Move::Rope(rope)], back: vec![Move::Rope(course.rope)], settle: at_once },
            ));
        }
        if what == For::Signals {
            let mut pull = |weight, moved, back| {
                levers.push((weight, Lever { moved: vec![moved], back: vec![back], settle: at_once }));
            };
            pull(60, Move::Slips(6), Move::Slips(0));
            pull(70, Move::Link(Frame { fresh: false, order: 0 }), Move::Link(WELL));
            for order in 1..=station.worst() {
                pull(18, Move::Link(Frame { fresh: true, order }), Move::Link(WELL));
            }
            for gauge in 0..2 {
                for (weight, steps, health) in [
                    (3, 500, Health::Good),
                    (8, 300, Health::Good),
                    (24, 60, Health::Good),
                    (24, GRIP, Health::Doubtful),
                    (22, GRIP, Health::Broken),
                ] {
                    pull(weight, Move::Gauge(gauge, Reading { steps, health }), Move::Gauge(gauge, reads(GRIP)));
                }
            }
        }
        Self { all: levers, reset: reset.expect("a reset key"), differs, chatter, confirms }
    }
    /// One of them.
    pub(super) fn draw(&self, rng: &mut Rng) -> Lever {
        let all: u64 = self.all.iter().map(|(weight, _)| weight).sum();
        let mut left = rng.below(all);
        for (weight, lever) in &self.all {
            if left < *weight {
                return lever.clone();
            }
            left -= weight;
        }
        panic!("some lever is drawn")
    }
}
