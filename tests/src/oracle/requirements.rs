//! Requirements and assumptions, judged over a history that lies whole before us.
//!
//! Nothing is carried from scan to scan: what a sentence of the manual says of earlier or later scans is asked of
//! those scans.

mod apart;
mod carriers;
mod observed;
mod raw;
mod steady;

use host_tools::sample::Sample;
use host_tools::station::{Condition, Form, InputKind, Measure, Observed, Rank, Requirement, Station};

use super::conditions::View;
use super::watches::MeasureState;

/// One scan of a history: what was read, and what the rules made of it.
#[derive(Debug, Clone)]
pub struct Record {
    /// What was read.
    pub sample: Sample,
    /// The most severe answer.
    pub answer: Rank,
    /// Per output: it is off.
    pub off: Vec<bool>,
    /// Per bypass: it is active.
    pub active: Vec<bool>,
    /// A start is permitted.
    pub permit: bool,
}

/// What was judged in one scan.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Judgement {
    /// Requirements that were met, with the scans it took.
    pub met: Vec<(usize, usize)>,
    /// Requirements that were missed.
    pub missed: Vec<usize>,
    /// Assumptions that were broken.
    pub broken: Vec<usize>,
}

/// What was judged in a history.
#[derive(Debug, Clone, Default)]
pub struct Judged {
    /// Each judged scan.
    pub scans: Vec<Judgement>,
    /// Per requirement: how often it asked for something.
    pub armed: Vec<u64>,
    /// Per assumption: how often it could have been broken.
    pub claimed: Vec<u64>,
}

/// A history, judged from one of its scans on.
pub(super) struct Past<'h> {
    pub(super) station: &'h Station,
    pub(super) records: &'h [Record],
    /// What each scan shows of the raw inputs.
    pub(super) views: Vec<View>,
    /// The first scan that is judged.
    pub(super) from: usize,
    /// It is the first one after power-up; otherwise the first of a field recording that is judged.
    power_up: bool,
}

/// Judges a history from the scan `from` on, which is the first one after power-up, or the first after the lead of a
/// field recording.
pub fn judge(station: &Station, records: &[Record], from: usize) -> Judged {
    let mut past = Past { station, records, views: raw::views(station, records, from), from, power_up: from == 0 };
    past.observe();
    let mut judged =
        Judged { scans: vec![Judgement::default(); records.len() - from], armed: Vec::new(), claimed: Vec::new() };
    for (i, requirement) in station.requirements.iter().enumerate() {
        let found = past.requirement(requirement);
        judged.armed.push(found.armed);
        for (scan, waited) in found.met {
            judged.scans[scan - from].met.push((i, waited));
        }
        for scan in found.missed {
            judged.scans[scan - from].missed.push(i);
        }
    }
    for (i, assumption) in station.assumptions.iter().enumerate() {
        let (claimed, broken) = past.claim(&assumption.claim);
        judged.claimed.push(claimed.len() as u64);
        for scan in broken {
            judged.scans[scan - from].broken.push(i);
        }
    }
    judged
}

/// What became of one requirement: scans, and for the met ones how long it took.
#[derive(Debug, Clone, Default)]
struct Found {
    armed: u64,
    met: Vec<(usize, usize)>,
    missed: Vec<usize>,
}

/// What must be so in each scan in which it is asked.
fn at_once(asked: Vec<usize>, kept: impl Fn(usize) -> bool) -> Found {
    let armed = asked.len() as u64;
    Found { armed, met: Vec::new(), missed: asked.into_iter().filter(|&scan| !kept(scan)).collect() }
}

impl Past<'_> {
    /// The judged scans.
    fn scans(&self) -> std::ops::Range<usize> {
        self.from..self.records.len()
    }

    /// Rank of the published verdict: that of the scan before.
    pub(super) fn published(&self, scan: usize) -> Rank {
        match scan {
            _ if scan > self.from => self.records[scan - 1].answer,
            // At power-up it is the most severe stop alone; of a field recording it is cleared.
            _ if self.power_up => self.station.worst(),
            _ => 0,
        }
    }

    /// While it is known to hold, nothing is asked.
    pub(super) fn excused(&self, scan: usize, unless: Option<&Condition>) -> bool {
        unless.is_some_and(|unless| self.views[scan].bits(unless).must)
    }

    /// Scans in which a condition is known not to hold.
    fn never(&self, condition: &Condition) -> Vec<usize> {
        self.scans().filter(|&scan| !self.views[scan].bits(condition).may).collect()
    }

    fn requirement(&self, requirement: &Requirement) -> Found {
        if requirement.bounces > 0 {
            let asked = Requirement { bounces: 0, ..requirement.clone() };
            return self.steady(requirement.bounces).requirement(&asked);
        }
        let unless = requirement.unless.as_ref();
        let holds =
            |scan: usize, condition: &Condition| self.views[scan].bits(condition).may && !self.excused(scan, unless);
        match &requirement.form {
            Form::Whenever {
                condition: Condition::Observed(Observed::Farther(detector, pace, mm)),
                lasting,
                least,
                within,
            } => {
                let gone = self.farther(*detector, *pace, *mm, *least);
                let asked = |scan: usize| gone.contains(&scan) && !self.excused(scan, unless);
                self.obliged(&asked, *lasting as usize, *least, *within as usize)
            }
            Form::Whenever {
                condition: Condition::Observed(observed @ (Observed::Stray(way) | Observed::Crowded(way, _))),
                lasting,
                least,
                within,
            } => {
                let most = if let Observed::Crowded(_, most) = observed { Some(*most) } else { None };
                let counted = self.counted(*way, most, *least, unless);
                let asked = |scan: usize| counted.binary_search(&scan).is_ok();
                self.obliged(&asked, *lasting as usize, *least, *within as usize)
            }
            Form::Whenever { condition, lasting, least, within } => {
                let asked = |scan: usize| holds(scan, condition);
                self.obliged(&asked, *lasting as usize, *least, *within as usize)
            }
            Form::WhenRises { detector, lasting: lasting @ 1.., gauge, lowest, highest, least, within, .. } => {
                let outside = |scan: usize| {
                    let steps = self.views[scan].inputs[*gauge].steps;
                    !steps.is_some_and(|steps| (i64::from(*lowest)..=i64::from(*highest)).contains(&steps))
                };
                let mut at = Vec::new();
                let mut free = self.from;
                for rise in self.scans().filter(|&scan| self.views[scan].inputs[*detector].rises) {
                    let last = rise + *lasting as usize;
                    // Who rises while another one is asked about is not.
                    if rise < free || last >= self.records.len() {
                        continue;
                    }
                    if let Some(inside) = (rise..=last).find(|&scan| !outside(scan)) {
                        free = inside;
                    } else {
                        at.push(last);
                        free = last + 1;
                    }
                }
                let asked = |scan: usize| at.contains(&scan) && !self.excused(scan, unless);
                self.obliged(&asked, 0, *least, *within as usize)
            }
            Form::WhenRises { detector, when, gauge, lowest, highest, least, within, .. } => {
                let (detector, when, gauge) = (*detector, *when, *gauge);
                let measure = Measure { detector, when, gauge, least: *lowest, most: *highest, answer: *least };
                let mut state = MeasureState::default();
                let outside: Vec<bool> = self.views.iter().map(|view| !state.scan(&measure, view).is_empty()).collect();
                let asked = |scan: usize| outside[scan] && !self.excused(scan, unless);
                self.obliged(&asked, 0, *least, *within as usize)
            }
            Form::After { least, within, .. } => {
                let wrong = self.wrong_carriers(&requirement.form, unless);
                let asked = |scan: usize| wrong.at.contains(&scan);
                let found = self.obliged(&asked, 0, *least, *within as usize);
                // A carrier that is followed is asked for, even if it comes in time.
                Found { armed: wrong.followed, ..found }
            }
            Form::Held { claim, least, within, .. } => {
                let (_, broken) = self.claim(claim);
                self.obliged(&|scan| broken.contains(&scan), 0, *least, *within as usize)
            }
            Form::Effect { after, lasting, condition, slower, least, within } => {
                // It has been seen, beyond doubt, in one of the scans since the stop stands, or one more severe.
                // A speed has fallen so far from that of the first scan, or from the greatest since a more severe answer stood.
                let fallen = |first: usize, scan: usize| {
                    let speed = |scan: usize, pace: usize| self.views[scan].inputs[pace].speed.map(i64::abs);
                    slower.is_some_and(|(pace, drop)| {
                        let covered = (first..=scan).find(|&scan| self.published(scan) > *after);
                        let since = covered.map_or(scan + 1..=scan, |covered| covered..=scan);
                        let fastest = since.chain([first]).filter_map(|scan| speed(scan, pace)).max();
                        fastest.zip(speed(scan, pace)).is_some_and(|(most, now)| most - now >= i64::from(drop))
                    })
                };
                let unseen = |scan: usize| {
                    let since = || (self.from..=scan).rev().take_while(|&scan| self.published(scan) >= *after);
                    let first = since().last().unwrap_or(scan);
                    self.published(scan) == *after
                        && !since().any(|scan| self.views[scan].bits(condition).must || fallen(first, scan))
                };
                let asked = |scan: usize| unseen(scan) && !self.excused(scan, unless);
                self.obliged(&asked, *lasting as usize, *least, *within as usize)
            }
            Form::Never { condition, least } => {
                let asked: Vec<usize> = self.scans().filter(|&scan| holds(scan, condition)).collect();
                at_once(asked, |scan| self.records[scan].answer >= *least)
            }
            Form::NeverReleased { key } => {
                let first_stop = self.station.first_stop();
                let released = |scan: usize| {
                    self.published(scan) >= first_stop
                        && self.records[scan].answer < first_stop
                        && !self.excused(scan, unless)
                };
                let window = self.press(*key);
                at_once(self.scans().filter(|&scan| released(scan)).collect(), |scan| {
                    let first = scan.saturating_sub(window).max(self.from);
                    (first..=scan).any(|scan| self.views[scan].inputs[*key].high.may)
                })
            }
            Form::NeverReleasedBut { condition, lasting } => {
                let first_stop = self.station.first_stop();
                let released = |scan: usize| {
                    self.published(scan) >= first_stop
                        && self.records[scan].answer < first_stop
                        && !self.excused(scan, unless)
                };
                let held = *lasting as usize + 1;
                at_once(self.scans().filter(|&scan| released(scan)).collect(), |scan| {
                    scan >= self.from + held
                        && (scan - held..scan).all(|before| self.views[before].bits(condition).must)
                })
            }
            Form::NeverPermitted { pause } => {
                let permitted = |scan: &usize| self.records[*scan].permit && !self.excused(*scan, unless);
                let pause = *pause as usize;
                at_once(self.scans().filter(permitted).collect(), |scan| {
                    let first = (scan + 1).saturating_sub(pause);
                    // A recording of a lift that runs begins long after a stop.
                    (!self.power_up || scan + 1 >= self.from + pause)
                        && (first.max(self.from)..=scan)
                            .all(|scan| self.records[scan].answer < self.station.first_stop())
                })
            }
            Form::NeverTogether(one, other) => {
                let asked = self.scans().filter(|&scan| !self.excused(scan, unless)).collect();
                at_once(asked, |scan| !(self.records[scan].off[*one] && self.records[scan].off[*other]))
            }
        }
    }

    /// Scans in which a key may have been held for a reset: the longest press, its settling, and the two scans from
    /// the last in which it was held to the first without a stop.
    fn press(&self, key: usize) -> usize {
        let InputKind::Key(key) = &self.station.inputs[key].kind else { panic!("no key") };
        let longest = self.station.reset.as_ref().map_or(0, |reset| reset.longest);
        (longest + key.settle.up.max(key.settle.down) + 2) as usize
    }

    /// An answer within so many scans of a condition that has lasted.
    fn obliged(&self, asked: &dyn Fn(usize) -> bool, lasting: usize, least: Rank, within: usize) -> Found {
        let counts: Vec<bool> = (0..self.records.len())
            .map(|scan| scan >= self.from && asked(scan) && self.published(scan) < least)
            .collect();
        // It has held for more than `lasting` scans, this one included.
        let complete = |scan: usize| scan >= self.from + lasting && (scan - lasting..=scan).all(|scan| counts[scan]);
        let answered = |scan: usize| self.records[scan].answer >= least;
        let mut found = Found::default();
        for scan in self.scans().filter(|&scan| complete(scan)) {
            // It is owed already if it was complete before, and no answer has come since.
            if (self.from..scan).rev().take_while(|&before| !answered(before)).any(complete) {
                continue;
            }
            found.armed += 1;
            match (scan..=scan + within).find(|&scan| scan >= self.records.len() || answered(scan)) {
                None => found.missed.push(scan + within),
                Some(answer) if answer < self.records.len() => found.met.push((answer, answer - scan)),
                // The history ends before the time is over.
                Some(_) => {}
            }
        }
        found
    }
}
