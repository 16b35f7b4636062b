//! Slack: how far each limit could move before a requirement is no longer proved.
//!
//! It is a distance to a lost requirement, and permits nothing. A limit is moved in the text, the whole file is read and
//! checked anew, and every requirement whose rules include the watch is proved again. The move is doubled until something is
//! lost, and then halved: what lies between two tries was not tried. The value that is given was proved, and its proofs
//! were checked.

pub mod limits;
pub mod table;

use crate::load::load;
use crate::prove::attempt::{attempt, attempt_like};
use crate::prove::certificate;
use crate::prove::circuit::with_system;
use crate::prove::claim::Subject;
use crate::prove::recheck::Checker;
use crate::prove::templates::own_watches;
use crate::prove::verdict::check;
use crate::refute::{Effort, hunt};
use crate::station::Station;
use crate::text::finding::Level;
use crate::text::parse::Source;
use limits::Limit;
use logic_rules::plan::Fault;

/// Where a move ends.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum End {
    /// At the next value tried a requirement is missed: a history was replayed.
    Refuted(String),
    /// At the next value tried a requirement is not proved, and no history was found.
    Unproved(String),
    /// `check` refuses the next value tried: a finding's code.
    Refused(&'static str),
    /// Nothing was lost up to there, and no farther was tried.
    Never,
}

/// How far a limit can move one way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Way {
    /// The farthest value at which all was proved, in base units.
    pub to: i64,
    /// The nearest value tried at which it was not; none if it never was.
    pub beyond: Option<i64>,
    /// What ends it.
    pub end: End,
}

/// How far a limit can move.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slack {
    /// Down, and up.
    pub ways: [Way; 2],
    /// Requirements whose rules include the watch.
    pub asked: Vec<String>,
}

/// A requirement that is proved of the rules as they are.
struct Proved {
    subject: Subject,
    /// Its certificate: cells are named in it, so that it speaks of the same ones in another file.
    certificate: String,
    /// All rules were needed, not only its own.
    whole: bool,
    /// Names of the watches in its slice.
    watches: Vec<String>,
}

/// What is proved of the rules as they are.
pub struct Base<'s> {
    sources: &'s [Source],
    station: &'s Station,
    proofs: Vec<Proved>,
}

/// How far a limit may grow before no farther is tried: so many times itself.
const FARTHEST: i64 = 64;
/// Trials by which a lost requirement is refuted.
const EFFORT: Effort = Effort { scans: 2_000_000, clean: true, seed: 1, threads: 1, replays: 0, conflicts: 0 };

impl<'s> Base<'s> {
    /// Proves the rules as they are, and checks the proofs. Requirements without one are left out, with their names.
    ///
    /// # Errors
    /// None that a station which was checked can cause.
    pub fn new(sources: &'s [Source], station: &'s Station) -> Result<(Self, Vec<String>), Fault> {
        let (mut proofs, mut left_out) = (Vec::new(), Vec::new());
        with_system(station, |model, system| {
            let mut checker = Checker::new(model);
            for (i, requirement) in station.requirements.iter().enumerate() {
                let proof =
                    attempt(model, system, i).filter(|proof| check(model, &mut checker, &proof.claimed).is_ok());
                let Some(proof) = proof else {
                    left_out.push(requirement.name.text.clone());
                    continue;
                };
                let own = own_watches(model, requirement);
                let names = own.iter().filter_map(|&watch| station.watches.get(watch)).map(|w| w.name.text.clone());
                proofs.push(Proved {
                    subject: proof.claimed.subject,
                    certificate: certificate::write(model, "", &proof.claimed),
                    whole: proof.whole,
                    watches: names.collect(),
                });
            }
        })?;
        Ok((Self { sources, station, proofs }, left_out))
    }
    /// How far a limit can move.
    ///
    /// # Errors
    /// None that a station which was checked can cause.
    pub fn slack(&self, limit: &Limit) -> Result<Slack, Fault> {
        let concerned = |proved: &&Proved| proved.whole || proved.watches.contains(&limit.watch);
        let concerned: Vec<&Proved> = self.proofs.iter().filter(concerned).collect();
        let asked = concerned.iter().map(|proved| proved.subject.name(self.station).to_string()).collect();
        let step = limit.step(self.station.scan_us);
        let ways = [self.way(limit, -step, &concerned)?, self.way(limit, step, &concerned)?];
        Ok(Slack { ways, asked })
    }
    fn way(&self, limit: &Limit, step: i64, concerned: &[&Proved]) -> Result<Way, Fault> {
        let farthest = limit.value.saturating_abs().max(step.saturating_abs()).saturating_mul(FARTHEST);
        let least = if limit.value < 0 { farthest.saturating_neg() } else { 0 };
        let (mut good, mut bad, mut moves) = (limit.value, None, step);
        loop {
            let next = limit.value.saturating_add(moves).clamp(least, farthest);
            if next == good {
                break;
            }
            match self.lost(limit, next, concerned)? {
                None => good = next,
                Some(end) => {
                    bad = Some((next, end));
                    break;
                }
            }
            moves = moves.saturating_mul(2);
        }
        let Some((mut beyond, mut end)) = bad else { return Ok(Way { to: good, beyond: None, end: End::Never }) };
        while beyond.abs_diff(good) > step.unsigned_abs() {
            let steps = (beyond - good) / step / 2;
            let middle = good.saturating_add(step.saturating_mul(steps.max(1)));
            match self.lost(limit, middle, concerned)? {
                None => good = middle,
                Some(what) => (beyond, end) = (middle, what),
            }
        }
        if let End::Unproved(name) = &end
            && self.is_missed(limit, beyond, name)?
        {
            end = End::Refuted(name.clone());
        }
        Ok(Way { to: good, beyond: Some(beyond), end })
    }
    /// A history misses the requirement at a value.
    fn is_missed(&self, limit: &Limit, value: i64, name: &str) -> Result<bool, Fault> {
        let Some(station) = load(limit.moved(self.sources, value)).station else { return Ok(false) };
        let Some(number) = station.requirements.iter().position(|r| r.name.text == name) else { return Ok(false) };
        Ok(hunt(&station, &[number], EFFORT)?.into_iter().flatten().next().is_some())
    }
    /// What is lost at a value: nothing, if `check` accepts it and all that is concerned is proved and checked.
    fn lost(&self, limit: &Limit, value: i64, concerned: &[&Proved]) -> Result<Option<End>, Fault> {
        let loaded = load(limit.moved(self.sources, value));
        let Some(station) = loaded.station else {
            let first = loaded.findings.iter().find(|finding| finding.level == Level::Error);
            return Ok(Some(End::Refused(first.map_or("", |finding| finding.code.text()))));
        };
        let missing = with_system(&station, |model, system| {
            let mut checker = Checker::new(model);
            let mut proves = |proved: &Proved| {
                let like = certificate::recall(model, &proved.certificate)
                    .map(|claimed| attempt_like(model, system, &claimed));
                // A lemma that speaks of a place in a queue that is gone, or a longer queue: then there is more to find.
                let proof = match (like, proved.subject) {
                    (Ok(proof), _) if limit.unit.is_some() => proof,
                    (_, Subject::Requirement(number)) => attempt(model, system, number),
                    (_, Subject::Standing(_)) => None,
                };
                proof.is_some_and(|proof| check(model, &mut checker, &proof.claimed).is_ok())
            };
            concerned.iter().find(|proved| !proves(proved)).map(|proved| proved.subject)
        })?;
        Ok(missing.map(|subject| End::Unproved(subject.name(&station).to_string())))
    }
}
