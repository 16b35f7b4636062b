//! Mutants: how much of what the rules do is held by a requirement.
//!
//! The rules are changed in one small place at a time, and everything that is required is judged again. A requirement that was
//! proved and is now missed in a history that was replayed has *caught* the mutant. A mutant that is not caught is compared
//! with the rules as they are: it may be proved to do the *same*, or never to answer more mildly (*stricter*: requirements
//! ask for stops, and none can notice a stop too many). What is left *survives*. A rule that was never written has no mutants.

mod conditions;
pub mod make;
mod optional;
pub mod table;

use crate::compare::histories::{Effort as Trying, Hunt};
use crate::compare::side::{self, Difference};
use crate::compare::{Both, Revision, proved};
use crate::load::load;
use crate::lower::lower;
use crate::prove::attempt::{attempt, attempt_like, own_slice};
use crate::prove::certificate;
use crate::prove::circuit::{System, with_system};
use crate::prove::claim::Subject;
use crate::prove::model::{Model, with_model};
use crate::prove::recheck::Checker;
use crate::prove::verdict::{check, refute};
use crate::refute::{Effort, History, hunt};
use crate::station::Station;
use crate::text::codes::Code;
use crate::text::finding::Level;
use crate::text::parse::Source;
use logic_rules::plan::Fault;
use make::Mutant;

/// What became of a mutant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// It cannot be built: a finding about its text or its names.
    NotBuilt(&'static str),
    /// `check` refuses it: a finding.
    Refused(&'static str),
    /// A requirement that was proved is missed in a history, which was replayed.
    Caught {
        /// The requirement.
        by: String,
        /// The history, as the mutant reads it.
        history: History,
    },
    /// It behaves the same in every history: proved.
    Same,
    /// It is never milder: proved. It may be more severe.
    Stricter,
    /// It is not known to be never milder, and no requirement catches it.
    Surviving {
        /// A history in which it is milder was replayed; otherwise it is undecided.
        shown: bool,
        /// A requirement that is no longer proved, though no history that misses it was found.
        unproved: Option<String>,
    },
}

/// How much is tried with each mutant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tries {
    /// Scans of trials by which a lost requirement is refuted, before a proof is tried with everything.
    pub soon: u64,
    /// Scans of trials after that.
    pub scans: u64,
    /// Scans of trials where a requirement is proved no longer, and those have not refuted it.
    pub last: u64,
    /// Conflicts of the solver that looks for a history.
    pub conflicts: u64,
    /// Scans of trials in which the rules and the mutant are compared.
    pub compared: u64,
}
impl Default for Tries {
    fn default() -> Self {
        Self { soon: 150_000, scans: 300_000, last: 2_000_000, conflicts: 8_000, compared: 16_000 }
    }
}

/// A requirement that is proved of the rules as they are.
struct Held {
    name: String,
    /// Its certificate: cells are named in it, so that it speaks of the same ones in a mutant.
    certificate: String,
    /// All rules were needed, not only its own.
    whole: bool,
    /// Digest of all that the checker was asked.
    asked: String,
}

/// The rules as they are, with what is proved of them.
pub struct Original<'s> {
    sources: &'s [Source],
    revision: Revision,
    plan: String,
    held: Vec<Held>,
    /// Requirements that are not proved of the rules as they are: they catch nothing.
    pub not_proved: Vec<String>,
}

impl<'s> Original<'s> {
    /// Proves the rules as they are, and checks the proofs; none if the files make no station.
    ///
    /// # Errors
    /// None that a station which was checked can cause.
    pub fn new(sources: &'s [Source]) -> Result<Option<Self>, Fault> {
        let Some(revision) = Revision::of(&load(sources.to_vec())) else { return Ok(None) };
        let (mut held, mut not_proved) = (Vec::new(), Vec::new());
        with_system(&revision.station, |model, system| {
            let mut checker = Checker::new(model);
            for (number, requirement) in model.station.requirements.iter().enumerate() {
                let name = requirement.name.text.clone();
                match attempt(model, system, number).and_then(|proof| {
                    let own = own_slice(model, proof.claimed.subject);
                    let closed = (!proof.whole).then_some(&own);
                    checker.check_slice(&proof.claimed, closed).ok()?;
                    let asked = checker.same(&proof.claimed, closed).ok()?;
                    let certificate = certificate::write(model, "", &proof.claimed);
                    Some(Held { name: name.clone(), certificate, whole: proof.whole, asked })
                }) {
                    Some(proof) => held.push(proof),
                    None => not_proved.push(name),
                }
            }
        })?;
        let plan = tables(&revision.station)?;
        Ok(Some(Self { sources, revision, plan, held, not_proved }))
    }
    /// The station.
    pub fn station(&self) -> &Station {
        &self.revision.station
    }
    /// SHA-256 of the rule files, one after the other.
    pub fn digest(&self) -> String {
        let parts: Vec<&[u8]> = self.sources.iter().map(|source| source.bytes.as_slice()).collect();
        certificate::digest(&parts)
    }
    /// What becomes of a mutant.
    ///
    /// # Errors
    /// None that a station which was checked can cause.
    pub fn fate(&self, mutant: &Mutant, tries: Tries) -> Result<Fate, Fault> {
        let loaded = load(mutant.applied(self.sources));
        let Some(station) = &loaded.station else {
            let mut errors = loaded.findings.iter().filter(|finding| finding.level == Level::Error);
            let code = errors.next().map_or(Code::WordUnexpected, |finding| finding.code);
            let text = code.text();
            return Ok(if is_of_writing(code) { Fate::NotBuilt(text) } else { Fate::Refused(text) });
        };
        // The very tables: nothing runs otherwise.
        if tables(station)? == self.plan {
            return Ok(Fate::Same);
        }
        let lost = with_model(station, |model| self.lost(model, tries))??;
        if let Some(Lost { by, history: Some(history) }) = lost {
            return Ok(Fate::Caught { by, history });
        }
        let unproved = lost.map(|lost| lost.by);
        let Some(revision) = Revision::of(&loaded) else { return Ok(Fate::Surviving { shown: false, unproved }) };
        self.compared(&revision, unproved, tries)
    }
    /// The first requirement that is missed, or else the first that is no longer proved.
    fn lost(&self, model: &Model<'_>, tries: Tries) -> Result<Option<Lost>, Fault> {
        let mut checker = Checker::new(model);
        let changed: Vec<&Held> = self.held.iter().filter(|held| !held.stands(model, &mut checker)).collect();
        if changed.is_empty() {
            return Ok(None);
        }
        let mut system = System::new(model)?;
        let mut open = Vec::new();
        for held in changed {
            let Some(number) = model.station.requirements.iter().position(|r| r.name.text == held.name) else {
                continue;
            };
            let like = certificate::recall(model, &held.certificate)
                .ok()
                .and_then(|claimed| attempt_like(model, &mut system, &claimed));
            if like.is_none_or(|proof| check(model, &mut checker, &proof.claimed).is_err()) {
                open.push((held, number));
            }
        }
        // A history that is soon found makes a longer search for a proof needless.
        let soon = effort(tries.soon, 0);
        for (held, number) in &open {
            if let Some(found) = hunt(model.station, &[*number], soon)?.into_iter().flatten().next() {
                return Ok(Some(Lost { by: held.name.clone(), history: Some(found.history) }));
            }
        }
        let mut unproved = Vec::new();
        for (held, number) in open {
            let proof = attempt(model, &mut system, number);
            if proof.is_some_and(|proof| check(model, &mut checker, &proof.claimed).is_ok()) {
                continue;
            }
            let full = effort(tries.scans, tries.conflicts);
            let by = held.name.clone();
            if let Some(found) = refute(model, &mut system, number, full)? {
                return Ok(Some(Lost { by, history: Some(found.history) }));
            }
            unproved.push((by, number));
        }
        // What is proved no longer is likely to be missed.
        for (by, number) in &unproved {
            if let Some(found) = hunt(model.station, &[*number], effort(tries.last, 0))?.into_iter().flatten().next() {
                return Ok(Some(Lost { by: by.clone(), history: Some(found.history) }));
            }
        }
        Ok(unproved.into_iter().next().map(|(by, _)| Lost { by, history: None }))
    }
    /// What a mutant does that no requirement has caught.
    fn compared(&self, mutant: &Revision, unproved: Option<String>, tries: Tries) -> Result<Fate, Fault> {
        let both = Both::new(&self.revision, mutant);
        if !both.pairs.apart.is_empty() {
            return Ok(Fate::Surviving { shown: false, unproved });
        }
        let never = both.with_twin(|twin| proved(twin, &both).map(|(claimed, _)| claimed.never))??;
        let open: Vec<Difference> = side::all(&both.pairs).into_iter().filter(|d| !never.contains(d)).collect();
        let milder: Vec<Difference> = open.iter().copied().filter(|difference| difference.milder).collect();
        if open.is_empty() {
            return Ok(Fate::Same);
        }
        if milder.is_empty() && unproved.is_none() {
            return Ok(Fate::Stricter);
        }
        let trying = Trying { scans: tries.compared, replays: 0, conflicts: 0 };
        let mut hunt = Hunt::new(&both, milder.clone(), trying);
        hunt.trials([&[], &[]])?;
        let shown = hunt.shown()?;
        let shown = shown.iter().any(|shown| shown.parted.differences.iter().any(|d| milder.contains(d)));
        Ok(Fate::Surviving { shown, unproved })
    }
}

/// A requirement that is no longer proved.
struct Lost {
    by: String,
    /// A history that misses it, if one was found.
    history: Option<History>,
}

impl Held {
    /// The checker would be asked of a mutant what it has answered of the rules as they are.
    fn stands(&self, model: &Model<'_>, checker: &mut Checker<'_>) -> bool {
        let Ok(claimed) = certificate::recall(model, &self.certificate) else { return false };
        let Subject::Requirement(_) = claimed.subject else { return false };
        let own = own_slice(model, claimed.subject);
        checker.same(&claimed, (!self.whole).then_some(&own)).is_ok_and(|asked| asked == self.asked)
    }
}

fn effort(scans: u64, conflicts: u64) -> Effort {
    Effort { scans, clean: true, seed: 1, threads: 1, replays: 0, conflicts }
}

/// All rows of the tables that the controller runs.
fn tables(station: &Station) -> Result<String, Fault> {
    Ok(format!("{:?}", lower(station).plan()?.tables()))
}

/// The finding says that the text cannot be read, or that a name is missing.
fn is_of_writing(code: Code) -> bool {
    matches!(
        code,
        Code::WordUnexpected
            | Code::StatementUnknown
            | Code::ClauseTwice
            | Code::ClauseMissing
            | Code::NumberBad
            | Code::NumberSenseless
            | Code::MixedAndOr
            | Code::NameTwice
            | Code::NameUnknown
            | Code::NameKind
            | Code::StatementMissing
    )
}
