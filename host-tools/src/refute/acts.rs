//! What a trial does, one thing after the other.

use super::routes::Left;
use super::world::{Rate, World};
use crate::sample::{Frame, Reading};
use crate::station::Rank;
use crate::told::Scanned;

/// A thing that is done, or a wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Act {
    /// Holds a channel, or lets it go.
    Channel(usize, Option<bool>),
    /// Holds a gauge, or lets it go.
    Gauge(usize, Option<Reading>),
    /// Holds a link, or lets it go.
    Link(usize, Option<Frame>),
    /// The speed of everything.
    Speed(Rate),
    /// The speed of one source.
    Source(usize, Option<Rate>),
    /// A carrier comes to a detector.
    Carrier(usize),
    /// The next carrier from one detector to another needs so much, or never comes.
    Deviate(usize, usize, Option<Left>),
    /// So many scans.
    Wait(u32),
    /// Until the rope has run so far.
    Roll(i64),
    /// Until the first carrier to a detector needs at most so much.
    Near(usize, i64),
    /// Until a detector rises.
    Rise(usize),
    /// Until no stop stands, or so many scans.
    Free(u32),
}

/// A wait that ends by what happens ends after so many scans at the latest.
const PATIENCE: u32 = 6_000;

impl Act {
    /// Does it; what waits is told how to.
    pub(super) fn does(self, world: &mut World<'_>) -> Option<Waits> {
        match self {
            Self::Channel(channel, level) => world.hold(channel, level),
            Self::Gauge(gauge, reading) => world.gauge(gauge, reading),
            Self::Link(link, frame) => world.link(link, frame),
            Self::Speed(rate) => world.speed(rate),
            Self::Source(source, rate) => world.source(source, rate),
            Self::Carrier(detector) => world.carrier(detector),
            Self::Deviate(from, to, left) => world.deviate(from, to, left),
            Self::Wait(scans) => return Some(Waits { until: Until::Over, left: scans }),
            Self::Roll(mm) => return Some(Waits { until: Until::Run(world.run + mm), left: PATIENCE }),
            Self::Near(detector, mm) => return Some(Waits { until: Until::Near(detector, mm), left: PATIENCE }),
            Self::Rise(detector) => return Some(Waits { until: Until::Rise(detector), left: PATIENCE }),
            Self::Free(scans) => return Some(Waits { until: Until::Free, left: scans }),
        }
        None
    }
    /// What lets go of it.
    pub(super) fn undone(self, cruise: Rate) -> Option<Self> {
        Some(match self {
            Self::Channel(channel, Some(_)) => Self::Channel(channel, None),
            Self::Gauge(gauge, Some(_)) => Self::Gauge(gauge, None),
            Self::Link(link, Some(_)) => Self::Link(link, None),
            Self::Source(source, Some(_)) => Self::Source(source, None),
            Self::Speed(_) => Self::Speed(cruise),
            _ => return None,
        })
    }
}

/// What is waited for.
#[derive(Debug, Clone, Copy)]
enum Until {
    Over,
    Run(i64),
    Near(usize, i64),
    Rise(usize),
    Free,
}

/// A wait that is under way.
#[derive(Debug, Clone, Copy)]
pub(super) struct Waits {
    until: Until,
    left: u32,
}
impl Waits {
    /// Asked before each scan: whether it goes on.
    pub(super) fn goes_on(&mut self, world: &World<'_>, told: &Scanned, first_stop: Rank) -> bool {
        let more = self.left > 0
            && match self.until {
                Until::Over => true,
                Until::Run(mark) => world.run < mark && world.rate().mm > 0,
                Until::Near(detector, mm) => {
                    let far = world.to_come(detector).map_or_else(|| world.is_busy(), |left| left > mm);
                    world.rate().mm > 0 && far
                }
                Until::Rise(detector) => world.rate().mm > 0 && world.is_busy() && !world.rises(detector),
                Until::Free => told.answer >= first_stop,
            };
        self.left = self.left.saturating_sub(1);
        more
    }
}
