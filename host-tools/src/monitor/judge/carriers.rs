//! Requirements of carriers on a stretch: who is under way is counted, or one is followed.

use super::{Seen, Shape, pace_number};
use crate::run::Legible;
use crate::station::{Measured, Rank, Station};
use logic_rules::Algebra;
use logic_rules::monitor::{Deadline, Follower, Obligation, Outcome, Passing, Traffic, Window};

/// The stretch that carriers of a requirement pass.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stretch {
    rises: [usize; 2],
    pace: usize,
    rope: bool,
    band: Option<usize>,
    unless: Option<usize>,
}

impl Stretch {
    pub(super) fn of(station: &Station, measured: Measured, shape: Shape) -> Self {
        Self {
            rises: shape.ends.unwrap_or([usize::MAX; 2]),
            pace: pace_number(station, measured.pace()),
            rope: matches!(measured, Measured::Rope(_)),
            band: shape.band,
            unless: shape.unless,
        }
    }
    /// What happens on it; nobody is followed while the answer stood.
    fn passing<A: Algebra>(&self, a: &mut A, seen: &Seen<'_, A>, stood: A::Bit) -> Passing<A> {
        let (no, one, zero) = (a.bit(false), a.word(1), a.word(0));
        let [starts, arrives] = self.rises.map(|channel| seen.rises.get(channel).copied().unwrap_or(no));
        let mut lost = stood;
        // The guard of an `unless` trips while it is not known to hold; that of a band trips while the speed may be outside.
        if let Some(unless) = self.unless {
            let open = seen.trip(a, unless);
            let excused = a.not(open);
            lost = a.or(lost, excused);
        }
        if let Some(band) = self.band {
            let outside = seen.trip(a, band);
            lost = a.or(lost, outside);
        }
        let [forward, back] =
            if self.rope { seen.travel.get(self.pace).copied().unwrap_or([zero; 2]) } else { [one, zero] };
        Passing { starts, arrives, forward, back, lost }
    }
}

/// A requirement of the carriers under way.
#[derive(Clone)]
pub struct Counted<A: Algebra> {
    pub(super) stretch: Stretch,
    pub(super) window: Window,
    /// So many may be under way; none where an arrival of nobody is asked for.
    pub(super) most: Option<u32>,
    pub(super) least: Rank,
    pub(super) deadline: Deadline,
    /// What is due.
    pub state: Obligation<A>,
    /// Who is on the stretch.
    pub traffic: Traffic<A>,
}

impl<A: Algebra> Counted<A> {
    pub(super) fn scan(&mut self, a: &mut A, seen: &Seen<'_, A>) -> Outcome<A> {
        let stood = seen.stood(a, self.least);
        let passing = self.stretch.passing(a, seen, stood);
        let stray = self.traffic.stray(a, &passing);
        self.traffic.scan(a, self.window, &passing);
        let asked = match self.most {
            None => stray,
            Some(most) => self.traffic.more_than(a, most),
        };
        let stands = seen.stands(a, self.least);
        self.state.scan(a, self.deadline, asked, stood, stands)
    }
}

/// A requirement that follows carriers.
#[derive(Clone)]
pub struct Follow<A: Algebra> {
    pub(super) stretch: Stretch,
    pub(super) window: Window,
    pub(super) least: Rank,
    pub(super) deadline: Deadline,
    /// What is due.
    pub state: Obligation<A>,
    /// Each follows one carrier.
    pub followers: Vec<Follower<A>>,
    /// Who is on the stretch.
    pub traffic: Traffic<A>,
}

impl<A: Legible> Follow<A> {
    /// A carrier starts in a scan with these rises.
    pub(in crate::monitor) fn starts(&self, rises: &[A::Bit]) -> bool {
        rises.get(self.stretch.rises[0]).is_some_and(|rise| A::truth(*rise))
    }
}

impl<A: Algebra> Follow<A> {
    pub(super) fn scan(&mut self, a: &mut A, seen: &Seen<'_, A>, picks: &[A::Bit]) -> Outcome<A> {
        let no = a.bit(false);
        let served = seen.stood(a, self.least);
        let passing = self.stretch.passing(a, seen, served);
        let (ahead, known) = self.traffic.scan(a, self.window, &passing);
        let mut wrong = no;
        for (i, follower) in self.followers.iter_mut().enumerate() {
            let pick = picks.get(i).copied().unwrap_or(no);
            let pick = a.and(pick, known);
            let own = follower.scan(a, self.window, &passing, ahead, pick);
            wrong = a.or(wrong, own);
        }
        let stands = seen.stands(a, self.least);
        self.state.scan(a, self.deadline, wrong, served, stands)
    }
}
