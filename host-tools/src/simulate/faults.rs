//! The faults that are there now.

use super::scenario::{Fault, GaugeFault, LinkFault, SourceFault, Thing};
use super::train::Lag;

#[derive(Debug, Clone, Copy)]
struct Active {
    thing: Thing,
    fault: Fault,
    since: u64,
    until: Option<u64>,
}

/// Every fault under way, oldest first: a later one on the same thing hides an earlier one until
/// it is over.
#[derive(Debug, Clone, Default)]
pub(super) struct Faults {
    active: Vec<Active>,
}

impl Faults {
    /// A fault appears. One for good replaces what is on the thing.
    pub(super) fn put(&mut self, now: u64, thing: Thing, fault: Fault, lasting: Option<u64>) {
        let until = lasting.map(|l| now.saturating_add(l));
        if until.is_none() {
            self.mend(thing);
        }
        self.active.push(Active { thing, fault, since: now, until });
    }
    /// Every fault of a thing goes.
    pub(super) fn mend(&mut self, thing: Thing) {
        self.active.retain(|a| a.thing != thing);
    }
    /// What is over goes.
    pub(super) fn expire(&mut self, now: u64) {
        self.active.retain(|a| a.until.is_none_or(|u| now < u));
    }
    fn of(&self, thing: Thing) -> impl Iterator<Item = &Active> {
        self.active.iter().filter(move |a| a.thing == thing)
    }
    /// Puts the channels' faults on their levels.
    pub(super) fn level(&self, now: u64, levels: &mut [bool]) {
        for active in &self.active {
            let Thing::Channel(channel) = active.thing else {
                continue;
            };
            let Some(level) = levels.get_mut(channel) else {
                continue;
            };
            match active.fault {
                Fault::Level(forced) => *level = forced,
                // It begins with the change.
                Fault::Chatter(every) => {
                    *level ^= ((now - active.since) / every.max(1)).is_multiple_of(2);
                }
                _ => {}
            }
        }
    }
    /// Faults of a gauge, oldest first.
    pub(super) fn gauge(&self, gauge: usize) -> impl Iterator<Item = GaugeFault> {
        self.of(Thing::Gauge(gauge)).filter_map(|a| match a.fault {
            Fault::Gauge(f) => Some(f),
            _ => None,
        })
    }
    /// Travel that a source shows of the true one.
    pub(super) fn source(&self, source: usize, travel: f64) -> f64 {
        self.of(Thing::Source(source)).fold(travel, |travel, a| match a.fault {
            Fault::Source(SourceFault::Dead) => 0.0,
            Fault::Source(SourceFault::Share(share)) => travel * share,
            Fault::Source(SourceFault::Reversed) => -travel,
            _ => travel,
        })
    }
    /// Latest fault of a link.
    pub(super) fn link(&self, link: usize) -> Option<LinkFault> {
        let faults = self.of(Thing::Link(link)).filter_map(|a| match a.fault {
            Fault::Link(f) => Some(f),
            _ => None,
        });
        faults.last()
    }
    /// Conveyors that lag.
    pub(super) fn lags(&self, into: &mut Vec<Lag>) {
        into.clear();
        into.extend(self.active.iter().filter_map(|a| match (a.thing, a.fault) {
            (Thing::Conveyor(pace), Fault::Lag(share)) => Some((pace, share)),
            _ => None,
        }));
    }
}
