//! What became of all mutants: counted, and told.

use super::make::{Kind, Mutant};
use super::{Fate, Original};
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// What may become of a mutant, in the order of the columns.
pub const FATES: [&str; 7] = ["caught", "surviving", "same", "stricter", "tighter", "refused", "not built"];

/// What became of a mutant.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// Its file.
    pub file: String,
    /// The line of the change.
    pub line: usize,
    /// Keyword and name of the statement.
    pub statement: String,
    /// What is changed, by kind.
    pub kind: String,
    /// The change.
    pub what: String,
    /// One of [`FATES`].
    pub fate: String,
    /// The requirement that catches it, or the finding.
    pub by: Option<String>,
    /// Scans of the history that was replayed.
    pub scans: Option<u64>,
    /// Of one that survives: a history was replayed in which it is milder, while inputs do what is declared and assumed of them.
    /// Otherwise that is undecided.
    pub shown: Option<bool>,
    /// Of one that survives undecided: a history was replayed in which it is milder, while an input does something else.
    #[serde(default)]
    pub strained: Option<bool>,
    /// Of one that survives undecided: a history was replayed in which it is more severe.
    pub severer: Option<bool>,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Table {
    /// The station.
    pub station: String,
    /// Its revision.
    pub revision: u32,
    /// SHA-256 of the rule files, one after the other.
    pub digest: String,
    /// Hundredths by which a limit moved.
    pub step: u32,
    /// How many mutants there are, of which these may be some.
    pub made: usize,
    /// Requirements that are not proved as the rules stand.
    pub not_proved: Vec<String>,
    /// Caught by a requirement.
    pub caught: usize,
    /// Proved to do the same.
    pub same: usize,
    /// Proved never to be milder, and not caught.
    pub stricter: usize,
    /// Proved not to be milder where its statements first do something else, and to keep every requirement.
    #[serde(default)]
    pub tighter: usize,
    /// None of these.
    pub surviving: usize,
    /// Of those that survive, shown in a history to be milder, while inputs do what is declared and assumed of them.
    pub milder: usize,
    /// Of those that survive, shown to be milder only while an input does something else: undecided, and no requirement speaks of it.
    #[serde(default)]
    pub strained: usize,
    /// Of those that survive, shown to be more severe and not to be milder: undecided, since that is no proof.
    pub severer: usize,
    /// Refused by `check`.
    pub refused: usize,
    /// Not readable, or names something that is gone.
    pub not_built: usize,
    /// Hundredths caught of those that are caught or survive; none if there are none.
    pub share: Option<f64>,
    /// Each mutant.
    pub mutants: Vec<Row>,
    /// Exit status.
    pub status: u8,
}

impl Mutant {
    /// It is one of the statement of this name.
    pub fn is_of(&self, name: &str) -> bool {
        self.statement == name || self.statement.split(' ').nth(1) == Some(name)
    }
}

/// So many of them, in their order: those with the least hashes, so that a greater sample holds a smaller one.
pub fn sampled(all: Vec<Mutant>, size: usize, seed: u64) -> Vec<Mutant> {
    let hash = |place: usize| {
        let mut value = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ (place as u64).wrapping_mul(0xD6E8_FEB8_6659_FD93);
        for _ in 0..3 {
            value ^= value >> 32;
            value = value.wrapping_mul(0xD6E8_FEB8_6659_FD93);
        }
        value ^ (value >> 32)
    };
    let mut places: Vec<usize> = (0..all.len()).collect();
    places.sort_by_key(|place| hash(*place));
    places.truncate(size);
    all.into_iter().enumerate().filter(|(place, _)| places.contains(place)).map(|(_, mutant)| mutant).collect()
}

/// A row of the table.
pub fn row(mutant: &Mutant, file: String, fate: Fate) -> Row {
    let mut row = Row {
        file,
        line: mutant.line,
        statement: mutant.statement.clone(),
        kind: mutant.kind.text().into(),
        what: mutant.what.clone(),
        fate: String::new(),
        by: None,
        scans: None,
        shown: None,
        strained: None,
        severer: None,
    };
    let fate = match fate {
        Fate::NotBuilt(code) => {
            row.by = Some(code.into());
            "not built"
        }
        Fate::Refused(code) => {
            row.by = Some(code.into());
            "refused"
        }
        Fate::Caught { by, history } => {
            (row.by, row.scans) = (Some(by), Some(history.scans()));
            "caught"
        }
        Fate::Same => "same",
        Fate::Stricter => "stricter",
        Fate::Tighter => "tighter",
        Fate::Surviving { shown, strained, severer, unproved } => {
            (row.by, row.shown) = (unproved, Some(shown));
            (row.strained, row.severer) = ((!shown).then_some(strained), (!shown).then_some(severer));
            "surviving"
        }
    };
    row.fate = fate.into();
    row
}

impl Row {
    /// What became of it, in words.
    pub fn words(&self) -> String {
        let by = self.by.as_deref().unwrap_or_default();
        match (self.fate.as_str(), self.shown) {
            ("caught", _) => format!("caught by {by}, in a history of {} scans", self.scans.unwrap_or(0)),
            ("refused", _) => format!("check refuses it: {by}"),
            ("not built", _) => format!("cannot be built: {by}"),
            ("same", _) => "the same in every history, proved".into(),
            ("stricter", _) => "not milder where they first differ, and every requirement kept, proved".into(),
            ("tighter", _) => {
                "not milder where statements first do something else, and every requirement kept, proved".into()
            }
            (_, shown) => {
                let differs = match (shown, self.strained, self.severer) {
                    (Some(true), ..) => "milder in a history",
                    (_, Some(true), _) => {
                        "undecided; milder only in a history in which an input does what its declaration or an assumption excludes"
                    }
                    (.., Some(true)) => "undecided whether it is milder; more severe in a history",
                    _ => "undecided whether it is milder",
                };
                if by.is_empty() {
                    differs.into()
                } else {
                    format!("{differs}; {by} is no longer proved, nor is it refuted")
                }
            }
        }
    }
}

impl Table {
    /// In this table a mutant that says so survived; where it stands may have moved.
    pub fn survived(&self, mutant: &Mutant) -> bool {
        let is = |row: &Row| row.statement == mutant.statement && row.what == mutant.what;
        self.mutants.iter().any(|row| row.fate == FATES[1] && is(row))
    }
    /// One that survived in it and is none of these.
    pub fn gone(&self, all: &[Mutant]) -> Option<&Row> {
        let here = |row: &&Row| all.iter().any(|mutant| row.statement == mutant.statement && row.what == mutant.what);
        self.mutants.iter().filter(|row| row.fate == FATES[1]).find(|row| !here(row))
    }
    /// Counts.
    pub fn new(original: &Original<'_>, step: u32, made: usize, mutants: Vec<Row>) -> Self {
        let (station, not_proved) = (original.station(), original.not_proved.clone());
        let count = |fate: &str| mutants.iter().filter(|row| row.fate == fate).count();
        let (caught, surviving) = (count("caught"), count("surviving"));
        let number = |count: usize| f64::from(u32::try_from(count).unwrap_or(u32::MAX));
        let share = (caught + surviving > 0).then(|| 100.0 * number(caught) / number(caught + surviving));
        let status = u8::from(surviving > 0 || !not_proved.is_empty());
        Self {
            station: station.title.clone(),
            revision: station.revision,
            digest: original.digest(),
            step,
            made,
            not_proved,
            caught,
            same: count("same"),
            stricter: count("stricter"),
            tighter: count("tighter"),
            surviving,
            milder: mutants.iter().filter(|row| row.shown == Some(true)).count(),
            strained: mutants.iter().filter(|row| row.strained == Some(true)).count(),
            severer: mutants.iter().filter(|row| row.severer == Some(true)).count(),
            refused: count("refused"),
            not_built: count("not built"),
            share,
            mutants,
            status,
        }
    }
    /// Each kind with its counts, in the order of [`FATES`].
    pub fn kinds(&self) -> Vec<(&'static str, [usize; 7])> {
        let count = |kind: Kind| {
            FATES.map(|fate| self.mutants.iter().filter(|row| row.kind == kind.text() && row.fate == fate).count())
        };
        Kind::ALL
            .into_iter()
            .map(|kind| (kind.text(), count(kind)))
            .filter(|(_, counts)| counts.iter().sum::<usize>() > 0)
            .collect()
    }
    /// How many there are, and whether they are all.
    pub fn of(&self) -> String {
        if self.mutants.len() < self.made {
            format!("only {} of all {} mutants", self.mutants.len(), self.made)
        } else {
            format!("{} mutants", self.made)
        }
    }
    /// The shares in words.
    pub fn said(&self) -> String {
        // Rounded down: 95 % are not reached by 94.96.
        let share = |of: usize| {
            let tenths = (self.caught * 1000).checked_div(of).unwrap_or(1000);
            format!("{} of {of}, {}.{} %", self.caught, tenths / 10, tenths % 10)
        };
        match self.share {
            Some(_) => format!(
                "of those that are caught or survive a requirement catches {}; of those shown to be milder, {}",
                share(self.caught + self.surviving),
                share(self.caught + self.milder)
            ),
            None => "none is caught, and none survives".into(),
        }
    }
    /// For people; of every mutant, or of those that survive.
    pub fn text(&self, all: bool) -> String {
        let mut text = String::new();
        for row in self.mutants.iter().filter(|row| all || row.fate == "surviving") {
            let _ = writeln!(text, "{:<10} {}  [{}:{}]", row.fate, row.statement, row.file, row.line);
            let _ = writeln!(text, "           {}\n           {}", row.what, row.words());
        }
        let _ = write!(text, "\n{:<14}", "");
        for fate in FATES {
            let _ = write!(text, " {fate:>9}");
        }
        text.push('\n');
        let sums = [self.caught, self.surviving, self.same, self.stricter, self.tighter, self.refused, self.not_built];
        for (kind, counts) in self.kinds().into_iter().chain([("all", sums)]) {
            let _ = write!(text, "{kind:<14}");
            for count in counts {
                let _ = write!(text, " {count:>9}");
            }
            text.push('\n');
        }
        for name in &self.not_proved {
            let _ = writeln!(text, "not proved as the rules stand, and catches nothing: {name}");
        }
        if self.strained > 0 {
            let _ = writeln!(
                text,
                "seen to be milder only while an input did what its declaration or an assumption excludes, and undecided: {}",
                self.strained
            );
        }
        let of = self.of();
        let _ = writeln!(
            text,
            "\n{}, revision {}: {of}; {}.\n\
             Caught is: a requirement that was proved is missed in a history, which was replayed. A mutant that is stricter,\n\
             tighter, refused or not built stands apart. The share sees no rule that was never written, and permits nothing.\n\
             Local codes and the competent authority decide.",
            self.station,
            self.revision,
            self.said()
        );
        text
    }
}
