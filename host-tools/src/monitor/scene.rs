//! What the judges see of a scan, in vectors that are used again.

use super::judge::{Judge, Seen};
use super::raw::{Before, MonitorPlan};
use super::{Published, bit};
use crate::run::Legible;
use crate::sample::Frame;
use logic_rules::Algebra;
use logic_rules::monitor::{Apart, Outcome};
use logic_rules::step::Bound;

/// What the judges see.
#[derive(Clone)]
pub(super) struct Scene<A: Algebra> {
    trips: Vec<A::Bit>,
    rises: Vec<A::Bit>,
    travel: Vec<[A::Word; 2]>,
    speeds: Vec<(A::Word, A::Bit)>,
    readings: Vec<(A::Word, A::Bit)>,
    before: Vec<A::Bit>,
    now: Vec<A::Bit>,
    off: Vec<A::Bit>,
    permit: Option<A::Bit>,
    broken: Vec<A::Bit>,
    active: Vec<A::Bit>,
    were_off: Vec<A::Bit>,
    fresh: Vec<A::Bit>,
    picks: Vec<A::Bit>,
}

impl<A: Algebra> Default for Scene<A> {
    fn default() -> Self {
        let none = Vec::new;
        Self {
            trips: none(),
            rises: none(),
            travel: Vec::new(),
            speeds: Vec::new(),
            readings: Vec::new(),
            before: none(),
            now: none(),
            off: none(),
            permit: None,
            broken: none(),
            active: none(),
            were_off: none(),
            fresh: none(),
            picks: none(),
        }
    }
}

impl<A: Legible> Scene<A> {
    /// Hears what was published, in the scan before and in this one, and which links give a frame.
    pub(super) fn hears(&mut self, a: &mut A, plan: &MonitorPlan, before: Published, now: Published, links: &[Frame]) {
        let ranks = plan.worst.saturating_add(1);
        let mut fill = |cells: &mut Vec<A::Bit>, count: usize, of: &dyn Fn(usize) -> bool| {
            cells.clear();
            cells.extend((0..count).map(|i| a.bit(of(i))));
        };
        fill(&mut self.before, usize::from(ranks), &|rank| usize::from(before.answer) >= rank);
        fill(&mut self.now, usize::from(ranks), &|rank| usize::from(now.answer) >= rank);
        fill(&mut self.active, plan.bypasses, &|i| bit(before.active, i));
        fill(&mut self.were_off, plan.outputs, &|i| bit(before.off, i));
        fill(&mut self.fresh, links.len(), &|i| links.get(i).is_some_and(|frame| frame.fresh));
        fill(&mut self.off, plan.outputs, &|i| bit(now.off, i));
        self.permit = Some(a.bit(now.permit));
    }
    /// What was published in the scan before, and which links give a frame in this one.
    pub(super) fn published(&self) -> Before<'_, A::Bit> {
        Before { active: &self.active, answer: &self.before, off: &self.were_off, fresh: &self.fresh }
    }
    /// Looks at the raw plan behind a scan.
    pub(super) fn looks(
        &mut self,
        a: &mut A,
        plan: &MonitorPlan,
        bound: &Bound<'_, '_, A>,
        distances: &mut [Apart<A>],
    ) {
        plan.trips(a, bound.work.trip, &mut self.trips);
        self.rises.clear();
        self.rises.extend(bound.work.rise.iter().map(|[rise]| *rise));
        self.travel.clear();
        self.travel.extend(bound.levels.travel.iter().copied());
        plan.speeds(bound, &mut self.speeds);
        plan.readings(bound, &mut self.readings);
        let (rises, travel) = (&*bound.work.rise, &*bound.levels.travel);
        plan.broken(a, &self.trips, rises, travel, distances, &mut self.broken);
    }
    /// Asks a judge; carriers are dealt out in turn.
    pub(super) fn asks(&mut self, a: &mut A, judge: &mut Judge<A>, turn: &mut usize) -> Outcome<A> {
        self.picks.clear();
        if let Judge::Follow(follow) = judge {
            let count = follow.followers.len().max(1);
            self.picks.extend((0..count).map(|i| a.bit(i == *turn)));
            if follow.starts(&self.rises) {
                *turn = (*turn + 1) % count;
            }
        }
        let seen = Seen {
            trips: &self.trips,
            rises: &self.rises,
            travel: &self.travel,
            speeds: &self.speeds,
            readings: &self.readings,
            before: &self.before,
            now: &self.now,
            off: &self.off,
            // Without one heard, a start is permitted as far as anybody knows.
            permit: self.permit.unwrap_or_else(|| a.bit(true)),
            broken: &self.broken,
        };
        judge.scan(a, &seen, &self.picks)
    }
    /// Of each assumption, whether it is known not to hold.
    pub(super) fn all_broken(&self) -> &[A::Bit] {
        &self.broken
    }
    /// Assumptions that are known not to hold.
    pub(super) fn broken(&self) -> impl Iterator<Item = u16> + '_ {
        (0..).zip(&self.broken).filter(|(_, broken)| A::truth(**broken)).map(|(i, _)| i)
    }
}
