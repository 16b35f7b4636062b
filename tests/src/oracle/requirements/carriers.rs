//! Carriers that a requirement follows from one detector to the other.

use host_tools::station::{Condition, Form, InputId, Measured, Rank, UnderWay};

use super::Past;

/// What became of the carriers.
pub(super) struct Wrong {
    /// How many were followed.
    pub(super) followed: u64,
    /// Scans in which one was wrong.
    pub(super) at: Vec<usize>,
}

/// How many are under way, where that is known.
#[derive(Debug, Clone, Copy, Default)]
struct Count {
    /// Before this scan.
    before: Option<u32>,
    /// Ahead of a carrier that starts in this scan.
    ahead: Option<u32>,
    /// After this scan.
    after: Option<u32>,
}

/// Who is followed: from which scan on, until which, and whether it was wrong in that.
struct Followed {
    place: usize,
    until: usize,
    wrong: bool,
}

impl Past<'_> {
    /// Scans in which a carrier arrives before its window, or has not arrived within it.
    pub(super) fn wrong_carriers(&self, form: &Form, unless: Option<&Condition>) -> Wrong {
        let Form::After { from, to, measured, earliest, latest, capacity, least, .. } = form else {
            panic!("no carrier is followed")
        };
        let (earliest, latest) = (i64::from(*earliest), i64::from(*latest));
        let (Measured::Rope(pace) | Measured::Time { pace, .. }) = measured;
        let in_rope = matches!(measured, Measured::Rope(_));
        let forward = |scan: usize| if in_rope { self.views[scan].forward(*pace) } else { 1 };
        let backward = |scan: usize| if in_rope { self.views[scan].backward(*pace) } else { 0 };
        let answered = |scan: usize| self.published(scan) >= *least;
        let out_of_band = |scan: usize| match measured {
            Measured::Rope(_) => false,
            Measured::Time { pace, least, most } => !self.views[scan].in_band(*pace, *least, *most),
        };
        let lost = |scan: usize| answered(scan) || out_of_band(scan) || self.excused(scan, unless);
        let forwards: Vec<i64> = (0..self.records.len()).map(forward).collect();
        let backwards: Vec<i64> = (0..self.records.len()).map(backward).collect();
        let counts = self.under_way([*from, *to], &forwards, &backwards, latest, &lost);
        let known = |start: usize| counts[start].ahead.is_some();
        let ahead = |start: usize| counts[start].ahead.unwrap_or(0);
        let mut followed: Vec<Followed> = Vec::new();
        let starts = self.scans().filter(|&scan| self.views[scan].rises(*from));
        for (number, start) in starts.enumerate() {
            // The carriers are dealt to so many places in turn.
            let place = number % *capacity as usize;
            let taken = followed.iter().any(|other| other.place == place && other.until > start);
            if taken || lost(start) || !known(start) {
                continue;
            }
            let (mut left, mut age) = (ahead(start), 0);
            let mut end = Followed { place, until: usize::MAX, wrong: false };
            for scan in start + 1..self.records.len() {
                age = ((age + forward(scan)).min(latest + 1) - backward(scan)).max(0);
                let arrives = self.views[scan].rises(*to);
                if lost(scan) {
                    end = Followed { place, until: scan, wrong: false };
                    break;
                }
                if age > latest || arrives && left == 0 {
                    end = Followed { place, until: scan, wrong: age > latest || age < earliest };
                    break;
                }
                left -= u32::from(arrives);
            }
            followed.push(end);
        }
        let mut at: Vec<usize> = followed.iter().filter(|one| one.wrong).map(|one| one.until).collect();
        at.sort_unstable();
        at.dedup();
        Wrong { followed: followed.len() as u64, at }
    }

    /// Who is under way in each scan. Back runs are taken off as from an age.
    fn under_way(
        &self,
        [from, to]: [InputId; 2],
        forwards: &[i64],
        backwards: &[i64],
        latest: i64,
        lost: &dyn Fn(usize) -> bool,
    ) -> Vec<Count> {
        let (mut inside, mut run, mut sure) = (0_u32, 0, false);
        let mut counts = Vec::new();
        for scan in 0..self.records.len() {
            if scan < self.from {
                counts.push(Count::default());
                continue;
            }
            let before = sure.then_some(inside);
            let (starts, arrives) = (self.views[scan].rises(from), self.views[scan].rises(to));
            run = ((run + forwards[scan]).min(latest + 1) - backwards[scan]).max(0);
            let could_be_either = arrives && inside > 0 && !sure;
            if lost(scan) || could_be_either {
                (inside, run, sure) = (0, 0, false);
            } else if arrives {
                inside = inside.saturating_sub(1);
            }
            sure |= run > latest;
            let ahead = sure.then_some(inside);
            inside += u32::from(starts && !lost(scan));
            if inside >= 100 {
                (inside, run, sure) = (0, 0, false);
            }
            counts.push(Count { before, ahead, after: sure.then_some(inside) });
        }
        counts
    }

    /// Scans in which somebody comes from nowhere, or more than so many are under way.
    pub(super) fn counted(
        &self,
        way: UnderWay,
        most: Option<u32>,
        least: Rank,
        unless: Option<&Condition>,
    ) -> Vec<usize> {
        let lost = |scan: usize| self.published(scan) >= least || self.excused(scan, unless);
        let run = |run: &dyn Fn(usize) -> i64| (0..self.records.len()).map(run).collect::<Vec<i64>>();
        let forwards = run(&|scan| self.views[scan].forward(way.pace));
        let backwards = run(&|scan| self.views[scan].backward(way.pace));
        let counts = self.under_way([way.from, way.to], &forwards, &backwards, i64::from(way.latest), &lost);
        let asked = |scan: &usize| match most {
            Some(most) => counts[*scan].after.is_some_and(|inside| inside > most),
            None => self.views[*scan].rises(way.to) && counts[*scan].before == Some(0) && !lost(*scan),
        };
        self.scans().filter(asked).collect()
    }
}
