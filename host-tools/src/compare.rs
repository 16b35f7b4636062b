//! Two revisions of rules compared by what they do, not by what they say.
//!
//! Both run side by side on the same inputs from power-up. As long as nothing that they publish has differed, they are one
//! lift; the first scan in which something differs is judged, and after it their histories part. Of each answer it is said
//! whether the new rules can be the milder ones in that scan, and whether they can be the more severe ones: never, with a
//! proof that a second solver has checked; or so, with a history that was replayed through both; or it is left undecided.

pub mod certificate;
pub mod pairs;
pub mod product;
pub mod recheck;
pub mod search;
pub mod side;
pub mod statements;
pub mod twin;

use crate::load::Loaded;
use crate::prove::model::with_model;
use crate::station::{Every, Lasting, Station, WatchKind, When};
use logic_rules::plan::Fault;
use pairs::{Pairs, bare, pairs};
use statements::{Said, statements};
use std::collections::{BTreeSet, HashMap};
use twin::Twin;

/// A revision of the rules.
#[derive(Debug, Clone)]
pub struct Revision {
    /// The station, whole.
    pub station: Station,
    /// What its files say.
    pub said: Vec<Said>,
}

impl Revision {
    /// A revision that was read; none if it makes no station.
    pub fn of(loaded: &Loaded) -> Option<Self> {
        Some(Self { station: loaded.station.clone()?, said: statements(&loaded.files) })
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
        let aligned = pairs.aligned(&new.station, &names);
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
    /// Numbers at which counts of statements that differ may end.
    pub fn numbers(&self) -> Vec<u32> {
        let mut all = BTreeSet::new();
        for (at, mate) in self.pairs.watches.iter().enumerate() {
            let (Some(new), old) = (self.new.watches.get(at), mate.and_then(|i| self.old.watches.get(i))) else {
                continue;
            };
            let text = |said: &[Said]| said.iter().find(|s| s.name == new.name.text).map(|s| s.tokens.clone());
            if text(&self.olds) != text(&self.news) {
                for kind in old.map(|w| &w.kind).into_iter().chain([&new.kind]) {
                    all.extend(ends(kind).into_iter().flat_map(|n| [n, n.saturating_add(1)]));
                }
            }
        }
        all.into_iter().collect()
    }
}

/// Numbers at which the counts of a watch may end, in scans, mm or steps.
fn ends(kind: &WatchKind) -> Vec<u32> {
    match kind {
        WatchKind::Guard(g) => match g.lasting {
            Lasting::Unbroken(scans) => vec![scans],
            Lasting::Total { of, within } => vec![of, within],
        },
        WatchKind::Travel(t) => [t.earliest, t.latest, t.run].into_iter().chain(t.backstop).collect(),
        WatchKind::Measure(m) => match m.when {
            When::Rise => Vec::new(),
            When::Scans(scans) => vec![scans],
            When::Rope(_, mm) => vec![mm],
        },
        WatchKind::Spacing(s) => std::iter::once(s.least).chain(s.most).collect(),
        WatchKind::Agree(a) => vec![a.apart],
        WatchKind::Confirm(c) => vec![c.within],
        WatchKind::Exercise(e) => match e.every {
            Every::Carrier(_) => Vec::new(),
            Every::Rope(_, mm) => vec![mm],
            Every::Scans(scans) => vec![scans],
        },
        WatchKind::Count(c) => vec![c.most, c.confirmed],
    }
}
