//! Two revisions of rules compared by what they do, not by what they say.
//!
//! Both run side by side on the same inputs from power-up. As long as nothing that they publish has differed, they are one
//! lift; the first scan in which something differs is judged, and after it their histories part. Of each answer it is said
//! whether the new rules can be the milder ones in that scan, and whether they can be the more severe ones: never, with a
//! proof that a second solver has checked; or so, with a history that was replayed through both; or it is left undecided.

pub mod causes;
pub mod certificate;
pub mod histories;
pub mod matters;
mod numbers;
pub mod pairs;
pub mod plain;
pub mod product;
pub mod questions;
pub mod recheck;
pub mod search;
pub mod side;
pub mod solve;
pub mod statements;
pub mod timeline;
pub mod twin;

use crate::load::Loaded;
use crate::prove::model::with_model;
use crate::station::{InputId, Station, WatchId};
use crate::text::parse::Source;
use crate::text::tree::File;
use causes::Cause;
use histories::{Effort, Hunt, Shown};
use logic_rules::plan::Fault;
use matters::Matter;
use pairs::{Pairs, bare, is_watch, pairs};
use plain::Lead;
use recheck::Claimed;
use side::Difference;
use statements::{Said, statements};
use std::collections::{BTreeSet, HashMap};
use std::time::{Duration, Instant};
use twin::Twin;

/// A revision of the rules.
#[derive(Debug, Clone)]
pub struct Revision {
    /// The station, whole.
    pub station: Station,
    /// What its files say.
    pub said: Vec<Said>,
    /// Its files.
    pub files: Vec<Source>,
}

impl Revision {
    /// A revision that was read; none if it makes no station.
    pub fn of(loaded: &Loaded) -> Option<Self> {
        let source = |file: &File| Source { path: file.path.clone(), bytes: file.source.clone().into_bytes() };
        let files = loaded.files.iter().map(source).collect();
        Some(Self { station: loaded.station.clone()?, said: statements(&loaded.files), files })
    }
}

/// Two revisions, and what belongs together in them.
#[derive(Debug, Clone)]
pub struct Both {
    /// The old rules, without requirements and assumptions.
    pub old: Station,
    /// The new ones likewise, with the names of the old.
    pub new: Station,
    /// What belongs together.
    pub pairs: Pairs,
    /// Names of the old rules by those of the new, where they differ.
    pub names: HashMap<String, String>,
    /// Statements of the old rules.
    pub olds: Vec<Said>,
    /// Statements of the new rules, with the names of the old.
    pub news: Vec<Said>,
}

impl Both {
    /// Puts two revisions beside each other.
    pub fn new(old: &Revision, new: &Revision) -> Self {
        let (pairs, names) = pairs(&old.station, &new.station, [&old.said, &new.said]);
        let aligned = pairs.aligned(&old.station, &new.station, &names);
        let news = new.said.iter().map(|said| said.renamed(&names)).collect();
        Self { old: bare(&old.station), new: aligned, pairs, names, olds: old.said.clone(), news }
    }
    /// Hands both sides on as one machine.
    ///
    /// # Errors
    /// None that stations which were checked can cause.
    pub fn with_twin<T>(&self, run: impl FnOnce(&Twin<'_>) -> T) -> Result<T, Fault> {
        with_model(&self.old, |old| with_model(&self.new, |new| Ok(run(&Twin::new(old, new, &self.pairs)?))))??
    }
    /// Likewise, told apart by their statements too: [`Twin::closely`].
    ///
    /// # Errors
    /// As [`with_twin`](Self::with_twin).
    pub fn with_close_twin<T>(&self, run: impl FnOnce(&Twin<'_>) -> T) -> Result<T, Fault> {
        with_model(&self.old, |old| {
            with_model(&self.new, |new| Ok(run(&Twin::new(old, new, &self.pairs)?.closely())))
        })??
    }
    /// The watch says the same on both sides; false of one that only one side has.
    fn is_same(&self, name: &str) -> bool {
        let said = |all: &[Said]| {
            all.iter().find(|said| said.name == name && is_watch(&said.keyword)).map(|said| said.tokens.clone())
        };
        let old = said(&self.olds);
        old.is_some() && old == said(&self.news)
    }
    /// Watches of one side that say something else on the other, or are not there.
    pub fn changed(&self, lead: Lead) -> Vec<WatchId> {
        let station = if lead == Lead::Old { &self.old } else { &self.new };
        let all = station.watches.iter().enumerate();
        all.filter(|(_, watch)| !self.is_same(&watch.name.text)).map(|(id, _)| id).collect()
    }
    /// Inputs of one side whose statements say something else on the other, or are not there.
    pub fn rewired(&self, lead: Lead) -> Vec<InputId> {
        let (station, own, others) = match lead {
            Lead::Old => (&self.old, &self.olds, &self.news),
            Lead::New => (&self.new, &self.news, &self.olds),
        };
        let kinds = ["contact", "pair", "detector", "gauge", "pace", "link", "key"];
        let said = |all: &[Said], name: &str| {
            let mut inputs = all.iter().filter(|said| kinds.contains(&said.keyword.as_str()));
            inputs.find(|said| said.name == name).map(|said| said.tokens.clone())
        };
        let differs = |name: &str| said(own, name) != said(others, name);
        let all = station.inputs.iter().enumerate();
        all.filter(|(_, input)| differs(&input.name.text)).map(|(id, _)| id).collect()
    }
    /// Watches of one side that say something else, or look at an input that does.
    pub fn touched(&self, lead: Lead) -> Vec<WatchId> {
        let station = if lead == Lead::Old { &self.old } else { &self.new };
        let (mut all, inputs) = (self.changed(lead), self.rewired(lead));
        for (id, watch) in station.watches.iter().enumerate() {
            if !all.contains(&id) && watch.kind.inputs().iter().any(|input| inputs.contains(input)) {
                all.push(id);
            }
        }
        all
    }
    /// Inputs of one side that changed statements look at.
    pub fn concerned(&self, lead: Lead) -> BTreeSet<InputId> {
        let station = if lead == Lead::Old { &self.old } else { &self.new };
        let watches = self.changed(lead).into_iter().filter_map(|id| station.watches.get(id));
        watches.flat_map(|watch| watch.kind.inputs()).chain(self.rewired(lead)).collect()
    }
    /// Numbers at which counts of statements that differ may end.
    pub fn numbers(&self) -> Vec<u32> {
        numbers::differing(self)
    }
}

/// What came of a comparison.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// Both sides.
    pub both: Both,
    /// Differences that are never the first in any history; the checker agreed.
    pub never: Vec<Difference>,
    /// Histories in which the sides differ.
    pub shown: Vec<Shown>,
    /// Differences of which neither is known.
    pub open: Vec<Difference>,
    /// What was checked; nothing if nothing could be proved.
    pub certificate: Option<String>,
    /// What an approval covers beside behaviour, and is not the same.
    pub matters: Vec<Matter>,
    /// Statements of the rules that are not the same, and what each of them does alone.
    pub causes: Vec<Cause>,
    /// Each difference in a few words, in the order of [`side::all`].
    pub words: Vec<(Difference, String)>,
    /// Times: the search for a proof, its check, histories.
    pub took: [Duration; 3],
}

impl Comparison {
    /// Whether a difference was shown in a history.
    pub fn is_shown(&self, difference: Difference) -> bool {
        self.shown.iter().any(|shown| shown.parted.differences.contains(&difference))
    }
    /// Nothing that the new rules publish is ever milder: proved, and everything could be compared.
    pub fn is_never_milder(&self) -> bool {
        self.is_never(true)
    }
    /// Nothing that the new rules publish is ever more severe, likewise.
    pub fn is_never_more_severe(&self) -> bool {
        self.is_never(false)
    }
    fn is_never(&self, milder: bool) -> bool {
        let gone = |list: &[(&str, String)]| list.iter().any(|(kind, _)| *kind == "output");
        let pairs = &self.both.pairs;
        let comparable = pairs.apart.is_empty() && !gone(&pairs.removed) && !gone(&pairs.added);
        let mut asked = self.words.iter().filter(|(difference, _)| difference.milder == milder);
        self.certificate.is_some() && comparable && asked.all(|(difference, _)| self.never.contains(difference))
    }
    /// The two behave the same in every history, proved.
    pub fn is_equal(&self) -> bool {
        self.is_never_milder() && self.is_never_more_severe()
    }
}

/// Compares two revisions.
///
/// # Errors
/// None that stations which were checked can cause.
pub fn compare(old: &Revision, new: &Revision, effort: Effort) -> Result<Comparison, Fault> {
    let both = Both::new(old, new);
    let matters = matters::matters(&both, old, new);
    let started = Instant::now();
    let outcome = both.with_twin(|twin| {
        let words: Vec<(Difference, String)> =
            side::all(&both.pairs).into_iter().map(|d| (d, certificate::says(twin, d))).collect();
        if !both.pairs.apart.is_empty() {
            return Ok((words, Vec::new(), None, [Duration::ZERO; 2]));
        }
        let (claimed, searched) = proved(twin, &both)?;
        let certificate = (!claimed.never.is_empty()).then(|| certificate::write(twin, &claimed));
        let never = claimed.never;
        Ok((words, never, certificate, [searched, started.elapsed().saturating_sub(searched)]))
    })?;
    let (words, never, certificate, [searched, checked]) = outcome?;
    let started = Instant::now();
    let all = words.iter().map(|(difference, _)| *difference);
    let wanted: Vec<Difference> = all.filter(|difference| !never.contains(difference)).collect();
    let mut shown = Vec::new();
    if both.pairs.apart.is_empty() && !wanted.is_empty() {
        let mut hunt = Hunt::new(&both, wanted.clone(), effort);
        if effort.scans > 0 {
            hunt.trials([&old.station.requirements, &new.station.requirements])?;
        }
        hunt.solve()?;
        shown = hunt.shown()?;
    }
    let is_shown = |d: &Difference| shown.iter().any(|shown: &Shown| shown.parted.differences.contains(d));
    let open = wanted.into_iter().filter(|difference| !is_shown(difference)).collect();
    let took = [searched, checked, started.elapsed()];
    let causes = causes::causes(&both, [old, new], &never, words.len())?;
    Ok(Comparison { both, never, shown, open, certificate, matters, causes, words, took })
}

/// What the search found and the checker accepted; nothing, if it did not. And the time of the search.
pub(crate) fn proved(twin: &Twin<'_>, both: &Both) -> Result<(Claimed, Duration), Fault> {
    let started = Instant::now();
    let found = search::search(twin, &both.numbers())?;
    let (searched, claimed) = (started.elapsed(), Claimed { lemmas: found.lemmas, never: found.never });
    let accepted = recheck::check(twin, &claimed).is_ok();
    Ok((if accepted { claimed } else { Claimed::default() }, searched))
}
