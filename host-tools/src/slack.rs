//! Slack: how far each limit could move before a requirement is no longer proved.
//!
//! It is a distance to a lost requirement, and permits nothing. A limit is moved in the text, the whole file is read and
//! checked anew, and every requirement whose rules include the watch is proved again. The move is doubled until something is
//! lost, and then halved: what lies between two tries was not tried. The value that is given was proved, and its proofs
//! were checked; those of values on the way to it are not, since nothing is said of them.

pub mod limits;
pub mod table;

use crate::load::load;
use crate::prove::attempt::{Proof, attempt, attempt_like, own_slice};
use crate::prove::certificate;
use crate::prove::circuit::{System, with_system};
use crate::prove::claim::Subject;
use crate::prove::model::{Model, with_model};
use crate::prove::recheck::Checker;
use crate::prove::templates::own_watches;
use crate::prove::verdict::check;
use crate::refute::{Effort, hunt};
use crate::station::{Station, ways};
use crate::text::finding::Level;
use crate::text::parse::Source;
use limits::{Limit, limits};
use logic_rules::Cut;
use logic_rules::plan::Fault;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, PoisonError};

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
    /// For each watch of a limit, which proofs do without its trips.
    apart: BTreeMap<String, Mutex<Option<Vec<Option<String>>>>>,
}

/// A proof that may depend on a limit.
#[derive(Clone, Copy)]
struct Concerned<'b> {
    proved: &'b Proved,
    /// Digest of what the checker answered with the watch of the limit free to trip or not, if that is proved as well: where
    /// it would be asked the same of a moved limit, nothing is lost there.
    apart: Option<&'b str>,
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
        let apart = limits(sources).into_iter().map(|limit| (limit.watch, Mutex::new(None))).collect();
        Ok((Self { sources, station, proofs, apart }, left_out))
    }
    /// For each proof, what the checker answered with a watch free to trip or not as it likes, if it accepts it so.
    fn apart(&self, watch: &str) -> Result<Vec<Option<String>>, Fault> {
        let Some(kept) = self.apart.get(watch) else { return Ok(vec![None; self.proofs.len()]) };
        // The limits of a watch are looked at by all cores at once: the first of them works, the others wait.
        let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(all) = &*kept {
            return Ok(all.clone());
        }
        let all = with_model(self.station, |model| {
            let mut checker = Checker::new(model);
            let mut of = |proved: &Proved| {
                if proved.whole || !proved.watches.iter().any(|name| name == watch) {
                    return None;
                }
                let claimed = certificate::recall(model, &proved.certificate).ok()?;
                let closed = slice_without(model, proved.subject, watch);
                checker.check_slice(&claimed, Some(&closed)).ok()?;
                checker.same(&claimed, Some(&closed)).ok()
            };
            self.proofs.iter().map(&mut of).collect()
        })?;
        Ok(kept.insert(all).clone())
    }
    /// How far a limit can move.
    ///
    /// # Errors
    /// None that a station which was checked can cause.
    pub fn slack(&self, limit: &Limit) -> Result<Slack, Fault> {
        let apart = self.apart(&limit.watch)?;
        let all = self.proofs.iter().zip(&apart);
        let concerned: Vec<Concerned<'_>> = all
            .filter(|(proved, _)| proved.whole || proved.watches.contains(&limit.watch))
            .map(|(proved, apart)| Concerned { proved, apart: apart.as_deref() })
            .collect();
        let asked = concerned.iter().map(|it| it.proved.subject.name(self.station).to_string()).collect();
        let step = limit.step(self.station.scan_us);
        let ways = [self.way(limit, -step, &concerned)?, self.way(limit, step, &concerned)?];
        Ok(Slack { ways, asked })
    }
    fn way(&self, limit: &Limit, step: i64, concerned: &[Concerned<'_>]) -> Result<Way, Fault> {
        let farthest = limit.value.saturating_abs().max(step.saturating_abs()).saturating_mul(FARTHEST);
        let least = if limit.value < 0 { farthest.saturating_neg() } else { 0 };
        let (mut good, mut bad, mut moves) = (limit.value, None, step);
        // What was lost once is lost again a little nearer, more often than not: it is asked first.
        let mut order = concerned.to_vec();
        loop {
            let next = limit.value.saturating_add(moves).clamp(least, farthest);
            if next == good {
                break;
            }
            match self.lost(limit, next, &mut order)? {
                None => good = next,
                Some(end) => {
                    bad = Some((next, end));
                    break;
                }
            }
            moves = moves.saturating_mul(2);
        }
        let Some((mut beyond, mut end)) = bad else {
            let end = self.unchecked(limit, good, concerned)?;
            return Ok(end.map_or(Way { to: good, beyond: None, end: End::Never }, |end| Way {
                to: limit.value,
                beyond: Some(good),
                end,
            }));
        };
        while beyond.abs_diff(good) > step.unsigned_abs() {
            let steps = (beyond - good) / step / 2;
            let middle = good.saturating_add(step.saturating_mul(steps.max(1)));
            match self.lost(limit, middle, &mut order)? {
                None => good = middle,
                Some(what) => (beyond, end) = (middle, what),
            }
        }
        if let Some(end) = self.unchecked(limit, good, concerned)? {
            return Ok(Way { to: limit.value, beyond: Some(good), end });
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
    /// What is lost at a value: nothing, if `check` accepts it and all that is concerned is proved. What is lost comes first in
    /// the order from then on.
    fn lost(&self, limit: &Limit, value: i64, order: &mut [Concerned<'_>]) -> Result<Option<End>, Fault> {
        let station = match self.at(limit, value) {
            Ok(station) => station,
            Err(refused) => return Ok(Some(refused)),
        };
        let lost = with_system(&station, |model, system| {
            let mut checker = Checker::new(model);
            order.iter().position(|it| {
                !it.is_apart(model, &mut checker, limit) && proof_like(model, system, limit, it.proved).is_none()
            })
        })?;
        let Some(lost) = lost else { return Ok(None) };
        if let Some(before) = order.get_mut(..=lost) {
            before.rotate_right(1);
        }
        Ok(order.first().map(|it| End::Unproved(it.proved.subject.name(&station).to_string())))
    }
    /// What has no proof that the checker accepts, at a value where all has one.
    fn unchecked(&self, limit: &Limit, value: i64, concerned: &[Concerned<'_>]) -> Result<Option<End>, Fault> {
        // There the proofs were checked to begin with.
        if value == limit.value {
            return Ok(None);
        }
        let station = match self.at(limit, value) {
            Ok(station) => station,
            Err(refused) => return Ok(Some(refused)),
        };
        let missing = with_system(&station, |model, system| {
            let mut checker = Checker::new(model);
            let mut stands = |it: &Concerned<'_>| {
                it.is_apart(model, &mut checker, limit)
                    || proof_like(model, system, limit, it.proved)
                        .is_some_and(|proof| check(model, &mut checker, &proof.claimed).is_ok())
            };
            concerned.iter().find(|it| !stands(it)).map(|it| it.proved.subject)
        })?;
        Ok(missing.map(|subject| End::Unproved(subject.name(&station).to_string())))
    }
    /// The station with a limit at another value, or why `check` refuses it.
    fn at(&self, limit: &Limit, value: i64) -> Result<Station, End> {
        let loaded = load(limit.moved(self.sources, value));
        loaded.station.ok_or_else(|| {
            let first = loaded.findings.iter().find(|finding| finding.level == Level::Error);
            End::Refused(first.map_or("", |finding| finding.code.text()))
        })
    }
}

impl Concerned<'_> {
    /// The checker would be asked what it answered of the rules as they are, with the watch of the limit left free.
    fn is_apart(&self, model: &Model<'_>, checker: &mut Checker<'_>, limit: &Limit) -> bool {
        let (Some(apart), Ok(claimed)) = (self.apart, certificate::recall(model, &self.proved.certificate)) else {
            return false;
        };
        let closed = slice_without(model, self.proved.subject, &limit.watch);
        checker.same(&claimed, Some(&closed)).is_ok_and(|asked| asked == apart)
    }
}

/// The cuts of a subject's own rules, without those of a watch.
fn slice_without(model: &Model<'_>, subject: Subject, watch: &str) -> BTreeSet<Cut> {
    let mut closed = own_slice(model, subject);
    for (plan_way, &way) in model.program.by_severity.iter().enumerate() {
        let source = model.program.ways.get(way).map(|way| way.source);
        let of = if let Some(ways::Source::Watch(number)) = source { model.station.watches.get(number) } else { None };
        if of.is_some_and(|of| of.name.text == watch) {
            closed.remove(&Cut::Way(plan_way));
        }
    }
    closed
}

/// A proof like the one of the rules as they are, of a station with a limit at another value.
fn proof_like(model: &Model<'_>, system: &mut System, limit: &Limit, proved: &Proved) -> Option<Proof> {
    let like = certificate::recall(model, &proved.certificate).map(|claimed| attempt_like(model, system, &claimed));
    // A lemma that speaks of a place in a queue that is gone, or a longer queue: then there is more to find.
    match (like, proved.subject) {
        (Ok(proof), _) if limit.unit.is_some() => proof,
        (_, Subject::Requirement(number)) => attempt(model, system, number),
        (_, Subject::Standing(_)) => None,
    }
}
