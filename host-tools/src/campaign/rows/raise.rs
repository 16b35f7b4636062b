//! What makes a guard trip: a single input that leaves its rest, and returns to it.

use super::super::calm::leaves;
use super::{Act, Plan, Script};
use crate::bench::named;
use crate::station::ways::{Source, Way};
use crate::station::{Condition, Guard, Rank, Scans, Watch, WatchId, WatchKind};

/// Levels of channels that trip a guard at once, or after so many scans.
pub(super) struct Raise {
    pub(super) watch: WatchId,
    acts: Vec<Act>,
    back: Vec<Act>,
    /// Scans from the first that shows it to the trip.
    pub(super) after: Scans,
    /// Scans for which it goes on to trip once it is taken back.
    pub(super) again: Scans,
    pub(super) what: String,
}

impl Raise {
    /// It begins with the next scan; gives the scan of the trip.
    pub(super) fn begin(&self, script: &mut Script) -> Scans {
        self.acts.iter().for_each(|act| script.set(*act));
        script.now() + self.after
    }
    /// It ends with the next scan; gives the last scan in which it trips.
    pub(super) fn end(&self, script: &mut Script) -> Scans {
        self.back.iter().for_each(|act| script.set(*act));
        (script.now() + self.again).saturating_sub(1)
    }
}

impl Plan<'_> {
    /// The first guard of those wanted that a single input trips.
    pub(super) fn raise(&self, wanted: impl Fn(WatchId, &Watch, &Guard) -> bool) -> Option<Raise> {
        self.station.watches.iter().enumerate().find_map(|(id, watch)| {
            let WatchKind::Guard(guard) = &watch.kind else { return None };
            if !wanted(id, watch, guard) || self.calm.holds(&guard.when, None) {
                return None;
            }
            let mut found = None;
            leaves(&guard.when, &mut |leaf| {
                if let Condition::High(input) = leaf
                    && found.is_none()
                    && self.calm.holds(&guard.when, Some(leaf))
                    && let Some(turn) = self.turns(*input).into_iter().next()
                {
                    let (after, again) = (turn.there + Self::borne(guard.lasting), turn.again);
                    let (acts, back, what) = (turn.acts, turn.back, turn.what);
                    found = Some(Raise { watch: id, acts, back, after, again, what });
                }
            });
            found
        })
    }
    /// A guard with this answer, in every mode.
    pub(super) fn raise_rank(&self, rank: Rank) -> Option<Raise> {
        self.raise(|_, watch, guard| guard.answer == rank && watch.modes.is_empty())
    }
    /// The way of a watch that trips in one way, and its name.
    pub(super) fn tripped(&self, watch: WatchId) -> Option<(usize, String)> {
        let mut ways = self.ways.iter().enumerate();
        let (way, of) = ways.find(|(_, of)| of.source == Source::Watch(watch) && of.way == Way::Tripped)?;
        Some((way, named(self.station, *of)))
    }
}
