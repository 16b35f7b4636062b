//! What `prove` tells beside its proofs: whether what is required is ever asked, and what the assumptions exclude.

use std::io::{self, Write};

use serde::Serialize;

use host_tools::prove::claim::Subject;
use host_tools::station::Station;
use host_tools::witness::excludes::excludes;
use host_tools::witness::ordinary::{Ordinary, ordinary};
use host_tools::witness::{Arises, arise};
use logic_rules::Fault;

/// Whether a requirement arises, for machines and in words.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Arising {
    /// `found`, `not-found` or `need-not`.
    found: &'static str,
    /// Of the witness: its last scan, counting from 0, and the time of that.
    scan: Option<u64>,
    at_us: Option<u64>,
    /// What had to be given up.
    only: Vec<String>,
    /// For people.
    pub(super) words: String,
}

impl Arising {
    fn new(station: &Station, arises: &Arises) -> Self {
        let none = |found, words| Self { found, scan: None, at_us: None, only: Vec::new(), words };
        match arises {
            Arises::Found(witness) => Self {
                scan: Some(witness.asked.scan),
                at_us: Some(witness.asked.at_us(station)),
                only: witness.asked.concessions.iter().map(|it| it.words(station)).collect(),
                ..none("found", witness.asked.words(station))
            },
            Arises::NeedNot(because) => none("need-not", format!("need not arise: {because}")),
            Arises::NotFound => none(
                "not-found",
                "no history was found in which it is asked: it may hold for want of a question".to_owned(),
            ),
        }
    }
}

/// An ordinary morning under the assumptions.
#[derive(Debug, Serialize)]
struct Morning {
    /// `kept`, `broken` or `not-run`.
    assumptions: &'static str,
    /// The assumption that is broken, and when.
    broken: Option<String>,
    at_us: Option<u64>,
    words: String,
    #[serde(skip)]
    fails: bool,
}

/// What an assumption excludes.
#[derive(Debug, Serialize)]
struct Excludes {
    assumption: String,
    /// As a scenario writes them.
    faults: Vec<String>,
}

/// All of it.
#[derive(Debug, Serialize)]
pub(super) struct Questions {
    #[serde(skip)]
    arising: Vec<(usize, Arising)>,
    /// Not run, if none.
    morning: Option<Morning>,
    /// Only if asked for.
    excludes: Option<Vec<Excludes>>,
    /// Faults that were tried, or why none was.
    #[serde(skip)]
    tried: Option<Result<usize, String>>,
}

impl Questions {
    /// Looks for everything that is wanted.
    pub(super) fn ask(station: &Station, wanted: &[Subject], no_witness: bool, faults: bool) -> Result<Self, Fault> {
        let mut all = Self { arising: Vec::new(), morning: None, excludes: None, tried: None };
        if !no_witness {
            let requirement = |subject: &Subject| if let Subject::Requirement(i) = subject { Some(*i) } else { None };
            let requirements: Vec<usize> = wanted.iter().filter_map(requirement).collect();
            let arise = arise(station, &requirements)?;
            all.arising = arise.iter().map(|(i, arises)| (*i, Arising::new(station, arises))).collect();
            all.morning = Some(morning(station, &ordinary(station)?));
        }
        if faults {
            match excludes(station)? {
                Ok(excluded) => {
                    let names = station.assumptions.iter().map(|assumption| assumption.name.text.clone());
                    let of = names.zip(excluded.by).map(|(assumption, faults)| Excludes { assumption, faults });
                    (all.excludes, all.tried) = (Some(of.collect()), Some(Ok(excluded.tried)));
                }
                Err(why) => all.tried = Some(Err(why)),
            }
        }
        Ok(all)
    }
    /// What was found of a subject, if it was looked for.
    pub(super) fn of(&self, subject: Subject) -> Option<Arising> {
        self.arising.iter().find(|(i, _)| subject == Subject::Requirement(*i)).map(|(_, arising)| arising.clone())
    }
    /// The exit status: a requirement that nothing asks for, or assumptions that exclude the morning, fail the run.
    pub(super) fn status(&self) -> u8 {
        let unasked = self.arising.iter().any(|(_, arising)| arising.found == "not-found");
        u8::from(unasked || self.morning.as_ref().is_some_and(|morning| morning.fails))
    }
    /// What is told at the end.
    pub(super) fn say(&self, to: &mut impl Write) -> io::Result<()> {
        match &self.morning {
            Some(morning) => writeln!(to, "{}", morning.words)?,
            None => {
                writeln!(to, "Not run: whether the requirements arise, and whether the assumptions leave a morning.")?;
            }
        }
        match &self.tried {
            Some(Ok(tried)) => writeln!(to, "Of {tried} faults that the simulator knows")?,
            Some(Err(why)) => writeln!(to, "Not run: which faults the assumptions exclude: {why}.")?,
            None => {}
        }
        for excludes in self.excludes.iter().flatten() {
            if excludes.faults.is_empty() {
                writeln!(to, "  {} excludes none", excludes.assumption)?;
            } else {
                writeln!(to, "  {} excludes", excludes.assumption)?;
            }
            for fault in &excludes.faults {
                writeln!(to, "    {fault}")?;
            }
        }
        Ok(())
    }
}

fn morning(station: &Station, ordinary: &Ordinary) -> Morning {
    let seconds = |us: u64| format!("{}.{:03} s", us / 1_000_000, us / 1_000 % 1_000);
    let none = station.assumptions.is_empty();
    match ordinary {
        Ordinary::Kept { carriers, lasted_us } => Morning {
            assumptions: "kept",
            broken: None,
            at_us: None,
            fails: false,
            words: format!(
                "An ordinary morning of {}, in which {carriers} carriers come, {}.",
                seconds(*lasted_us),
                if none { "runs; nothing is assumed of it" } else { "keeps every assumption" }
            ),
        },
        Ordinary::Broken { assumption, at_us } => {
            let name = station.assumptions.get(*assumption).map_or("", |assumption| assumption.name.text.as_str());
            Morning {
                assumptions: "broken",
                broken: Some(name.to_owned()),
                at_us: Some(*at_us),
                fails: true,
                words: format!(
                    "An ordinary morning breaks the assumption {name} at {}: what is proved under it says nothing of a \
                     lift that runs.",
                    seconds(*at_us)
                ),
            }
        }
        Ordinary::NotRun(why) => Morning {
            assumptions: "not-run",
            fails: !none,
            broken: None,
            at_us: None,
            words: format!("No ordinary morning was got to run: {why}."),
        },
    }
}
