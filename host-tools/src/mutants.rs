//! Mutants: how much of what the rules do is held by a requirement.
//!
//! The rules are changed in one small place at a time, and everything that is required is judged again. A requirement that was
//! proved and is now missed in a history that was replayed has *caught* the mutant. A mutant that is not caught is compared
//! with the rules as they are: it may be proved to do the *same*, or never to answer more mildly (*stricter*: requirements
//! ask for stops, and none can notice a stop too many), or that much of its statements rather than of what is published
//! (*tighter*). What is left *survives*. A rule that was never written has no mutants.

mod conditions;
mod judge;
pub mod make;
mod optional;
pub mod table;

use crate::compare::histories::{Effort as Trying, Hunt};
use crate::compare::side::{self, Difference};
use crate::compare::{Both, Revision, proved};
use crate::load::load;
use crate::lower::lower;
use crate::prove::attempt::{attempt, own_slice};
use crate::prove::certificate;
use crate::prove::circuit::with_system;
use crate::prove::claim::Subject;
use crate::prove::model::{Model, with_model};
use crate::prove::recheck::Checker;
use crate::prove::templates::own_watches;
use crate::refute::History;
use crate::runner::with_runner;
use crate::station::{InputId, Requirement, Station};
use crate::text::codes::Code;
use crate::text::finding::Level;
use crate::text::parse::Source;
use crate::told::Runner;
use judge::{Judge, Missed};
use logic_rules::plan::Fault;
use make::Mutant;
use std::cell::Cell;
use std::collections::BTreeSet;

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
    /// It is not milder in the first scan in which the two differ, and keeps every requirement: proved. It may be more severe.
    Stricter,
    /// It keeps every requirement, and is not milder up to and with the first scan in which one of its statements does something
    /// else than in the rules as they are, though nothing that is published differs by it: proved. What that leads to later,
    /// when another stop that hid it has been cleared, is not known, so that this is less than being stricter. None that was seen
    /// to be milder, if only while an input did something else than is declared or assumed.
    Tighter,
    /// None of these is known of it, and no requirement catches it.
    Surviving {
        /// A history in which it is milder was replayed, in which inputs do what is declared and assumed of them; otherwise it is
        /// undecided.
        shown: bool,
        /// Of one that is undecided: a history in which it is milder was replayed, in which an input does something else than is
        /// declared or assumed of it. No requirement speaks of these.
        strained: bool,
        /// Of one that is undecided: a history in which it is more severe was replayed.
        severer: bool,
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
    /// Conflicts after that, where a requirement is proved no longer.
    pub longer: u64,
    /// Scans of trials in which the rules and the mutant are compared, around each changed statement.
    pub compared: u64,
    /// Conflicts of the solver that looks for a history in which the mutant is milder.
    pub solved: u64,
}
impl Default for Tries {
    fn default() -> Self {
        Self {
            soon: 150_000,
            scans: 300_000,
            last: 2_000_000,
            conflicts: 8_000,
            longer: 100_000,
            compared: 100_000,
            solved: 8_000,
        }
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
    /// Inputs that it speaks of, the watches that answer it, and theirs.
    near: BTreeSet<String>,
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
                    let near = near(model, requirement);
                    Some(Held { name: name.clone(), certificate, whole: proof.whole, asked, near })
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
        let Some(revision) = Revision::of(&loaded) else { return Ok(Fate::undecided()) };
        with_model(station, |model| self.judged(model, mutant, &revision, tries))?
    }
    /// What is near the change is asked first; then whether the mutant can be milder at all; then everything else.
    fn judged(&self, model: &Model<'_>, mutant: &Mutant, revision: &Revision, tries: Tries) -> Result<Fate, Fault> {
        let mut judge = Judge::new(self, model, mutant, tries)?;
        if let Some(missed) = judge.soon(NEAR)? {
            return Ok(missed.into());
        }
        let both = Both::new(&self.revision, revision);
        let mut open: Option<Vec<Difference>> = None;
        if both.pairs.apart.is_empty() {
            let never = both.with_twin(|twin| proved(twin, &both).map(|(claimed, _)| claimed.never))??;
            open = Some(side::all(&both.pairs).into_iter().filter(|d| !never.contains(d)).collect());
        }
        if open.as_ref().is_some_and(Vec::is_empty) {
            return Ok(Fate::Same);
        }
        if let Some(missed) = judge.soon(usize::MAX)? {
            return Ok(missed.into());
        }
        // Proved up to the first scan in which the two differ, and no further: behind it a requirement may still be lost.
        let is_stricter = open.as_ref().is_some_and(|open| !open.iter().any(|difference| difference.milder));
        let may_be_milder = open.is_some() && !is_stricter;
        // Where the two differ a requirement may be missed, so that this comes before the long hunts.
        let differing = open.filter(|_| !is_stricter).map(|open| self.differing(model.station, &both, &open, tries));
        let seen = differing.transpose()?.unwrap_or_default();
        for history in &seen.milder {
            if let Some(missed) = judge.goes_on(self, history)? {
                return Ok(missed.into());
            }
        }
        let unproved = match judge.late()? {
            Ok(missed) => return Ok(missed.into()),
            Err(unproved) => unproved,
        };
        if is_stricter && unproved.is_none() {
            return Ok(Fate::Stricter);
        }
        let shown = !seen.milder.is_empty();
        if may_be_milder && !shown && !seen.strained && unproved.is_none() && is_tighter(&both)? {
            return Ok(Fate::Tighter);
        }
        Ok(Fate::Surviving { shown, strained: seen.strained, severer: seen.severer, unproved })
    }
    /// Histories in which the mutant is the milder one, as it reads them, and whether there is one in which it is more severe.
    fn differing(&self, station: &Station, both: &Both, open: &[Difference], tries: Tries) -> Result<Seen, Fault> {
        let mut seen = Seen::default();
        let admissible = Admissible::new(station);
        let admits = |history: &History| admissible.tells(history);
        for milder in [true, false] {
            let wanted: Vec<Difference> = open.iter().copied().filter(|d| d.milder == milder).collect();
            if wanted.is_empty() || (!milder && !seen.milder.is_empty()) {
                continue;
            }
            let trying = Trying { scans: tries.compared, replays: 0, conflicts: if milder { tries.solved } else { 0 } };
            let mut hunt = Hunt::new(both, wanted.clone(), trying).admitting(&admits);
            hunt.trials([&self.revision.station.requirements, &self.revision.station.requirements])?;
            hunt.solve()?;
            seen.strained |= milder && hunt.is_strained();
            for shown in hunt.shown()? {
                if shown.parted.differences.iter().any(|d| wanted.contains(d)) {
                    let [_, new] = shown.histories;
                    if milder { seen.milder.push(new) } else { seen.severer = true }
                }
            }
        }
        Ok(seen)
    }
}

/// Whether the mutant is not milder up to and with the first scan in which the two do something else: a statement trips, a bypass
/// is active, or a carrier is taken as arrived, on one side alone. Then no statement trips in the rules as they are alone, and
/// no bypass is active and nobody arrives in the mutant alone.
fn is_tighter(both: &Both) -> Result<bool, Fault> {
    both.with_close_twin(|twin| {
        let (claimed, _) = proved(twin, both)?;
        Ok(twin.all().into_iter().filter(|d| d.milder).all(|d| claimed.never.contains(&d)))
    })?
}

/// So many requirements are asked before it is looked whether the mutant can be milder at all.
const NEAR: usize = 8;

/// What was seen of the differences between the rules and a mutant.
#[derive(Default)]
struct Seen {
    milder: Vec<History>,
    strained: bool,
    severer: bool,
}

/// Histories in which inputs do what is declared of them and nothing that is assumed is broken: those of which proofs speak.
struct Admissible {
    /// The station, of which only its assumptions are judged.
    assuming: Station,
    /// So many histories may still be replayed to see whether they break one.
    left: Cell<u32>,
}

/// Histories that are replayed to see whether they break an assumption; each search may meet many that do.
const ASSUMED: u32 = 200;

impl Admissible {
    fn new(station: &Station) -> Self {
        Self { assuming: Station { requirements: Vec::new(), ..station.clone() }, left: Cell::new(ASSUMED) }
    }
    /// Whether this is one; none where so many were replayed before that it cannot be told.
    fn tells(&self, history: &History) -> Option<bool> {
        if !history.is_clean(&self.assuming, false) {
            return Some(false);
        }
        if self.assuming.assumptions.is_empty() {
            return Some(true);
        }
        self.left.set(self.left.get().checked_sub(1)?);
        let holds = |runner: &mut dyn Runner| history.samples().all(|sample| runner.scan(sample).broken.is_empty());
        with_runner(&self.assuming, holds).ok()
    }
}

impl Fate {
    fn undecided() -> Self {
        Self::Surviving { shown: false, strained: false, severer: false, unproved: None }
    }
}
impl From<Missed> for Fate {
    fn from(missed: Missed) -> Self {
        Self::Caught { by: missed.by, history: missed.history }
    }
}

/// Names of what a requirement is near to.
fn near(model: &Model<'_>, requirement: &Requirement) -> BTreeSet<String> {
    let station = model.station;
    let input = |input: &InputId| station.inputs.get(*input).map(|input| input.name.text.clone());
    let mut near: BTreeSet<String> = requirement.inputs().iter().filter_map(input).collect();
    for watch in own_watches(model, requirement).into_iter().filter_map(|watch| station.watches.get(watch)) {
        near.insert(watch.name.text.clone());
        near.extend(watch.kind.inputs().iter().filter_map(input));
    }
    near
}

impl Held {
    /// The checker would be asked of a mutant what it has answered of the rules as they are.
    fn stands(&self, model: &Model<'_>, checker: &mut Checker<'_>) -> bool {
        let Ok(claimed) = certificate::recall(model, &self.certificate) else { return false };
        let Subject::Requirement(_) = claimed.subject else { return false };
        let own = own_slice(model, claimed.subject);
        checker.same(&claimed, (!self.whole).then_some(&own)).is_ok_and(|asked| asked == self.asked)
    }
    /// How far it is from what a mutant changes: the fewer things a requirement is near to, the nearer is each.
    fn distance(&self, mutant: &Mutant) -> usize {
        // Of a statement without a name it is not known what is near.
        let name = mutant.statement.split(' ').nth(1).unwrap_or_default();
        if self.near.contains(name) { self.near.len() } else { usize::MAX }
    }
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
