//! What the functions of a form come to, number by number, each with its source.

use serde::Serialize;

use super::form::{Channel, Demand, Form, Function, Level, Life as Given, Measure, Method, Stated, Subsystem};
use super::iec61508::{Architecture, Channels, Edition};
use super::iso13849::{
    COMMON_CAUSE_LEAST, Category, Diagnosis, HOURS_PER_YEAR, Life, average_coverage, channel, pfhd_of_one, symmetrised,
};
use super::levels::{Pl, Sil};

/// A number, with what it is and where its formula stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Figure {
    /// What it is.
    pub what: String,
    /// The number.
    pub value: f64,
    /// Its unit; empty of a plain number.
    pub unit: &'static str,
    /// Its class, where the standard has one.
    pub class: Option<&'static str>,
    /// Where its formula or limit stands, or who states it.
    pub source: String,
}

/// What a subsystem comes to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Part {
    /// `input`, `logic` or `output`.
    pub role: &'static str,
    /// What it is.
    pub title: String,
    /// How it is judged.
    pub method: String,
    /// The numbers on the way.
    pub figures: Vec<Figure>,
    /// `PFHd` per hour or `PFDavg`, or none if it is not known.
    pub value: Option<f64>,
    /// The best level that the function may have for its sake.
    pub at_most: Option<String>,
    /// What is against it, or why it is not known.
    pub findings: Vec<String>,
    #[serde(skip)]
    limits: Vec<Level>,
}

/// How required and computed stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The level is reached.
    Reached,
    /// It is not.
    NotReached,
    /// It cannot be told.
    NotComputed,
}

impl Verdict {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Reached => "reached",
            Self::NotReached => "NOT REACHED",
            Self::NotComputed => "NOT COMPUTED",
        }
    }
}

/// What a function comes to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Assessed {
    /// Its name.
    pub function: String,
    /// What it does.
    pub title: String,
    /// Requirements that it serves.
    pub serves: Vec<String>,
    /// How often it is demanded, in words.
    pub demand: String,
    /// `PFHd` or `PFDavg`.
    pub measure: &'static str,
    /// The level that is required.
    pub required: String,
    /// Its subsystems.
    pub subsystems: Vec<Part>,
    /// The sum over its subsystems; none if one is not known.
    pub value: Option<f64>,
    /// The performance level that it comes to.
    pub pl: Option<String>,
    /// The safety integrity level that it comes to.
    pub sil: Option<String>,
    /// Required beside computed.
    pub verdict: Verdict,
    /// Why the verdict is what it is, where the sum alone does not say it.
    pub reasons: Vec<String>,
}

/// What a file of safety functions comes to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sheet {
    /// The file, as given.
    pub file: String,
    /// What it is about.
    pub title: String,
    /// Where its data come from.
    pub source: String,
    /// Its functions, in order.
    pub functions: Vec<Assessed>,
}

impl Sheet {
    /// Works out all functions of a form.
    pub fn of(file: &str, form: &Form) -> Self {
        let (title, source) = (form.title.clone(), form.source.clone());
        Self { file: file.to_owned(), title, source, functions: form.functions.iter().map(function).collect() }
    }
    /// Every function reaches what is required of it.
    pub fn is_reached(&self) -> bool {
        self.functions.iter().all(|of| of.verdict == Verdict::Reached)
    }
}

fn function(function: &Function) -> Assessed {
    let measure = function.demand.measure();
    let subsystems: Vec<Part> = function.subsystems.iter().map(|s| part(s, measure)).collect();
    let known: f64 = subsystems.iter().filter_map(|part| part.value).sum();
    let all = subsystems.iter().all(|part| part.value.is_some());
    let limits: Vec<Level> = subsystems.iter().flat_map(|part| part.limits.iter().copied()).collect();
    let (pl, sil) = levels(known, measure, &limits);
    let reached = match function.required {
        Level::Pl(wanted) => pl.is_some_and(|pl| pl >= wanted),
        Level::Sil(wanted) => sil.is_some_and(|sil| sil >= wanted),
    };
    // What is not known can only make it worse.
    let verdict = match (reached, all) {
        (false, _) => Verdict::NotReached,
        (true, false) => Verdict::NotComputed,
        (true, true) => Verdict::Reached,
    };
    let mut reasons = Vec::new();
    if !all {
        reasons.push("the value of a subsystem is not known".to_owned());
        if verdict == Verdict::NotReached {
            reasons.push("what is known alone does not reach what is required".to_owned());
        }
    }
    let (free_pl, free_sil) = levels(known, measure, &[]);
    if all && (pl, sil) != (free_pl, free_sil) {
        reasons.push("a subsystem may be used for no better level, whatever the sum".to_owned());
    }
    let told = |there: bool, level: Option<String>| level.filter(|_| there && all);
    Assessed {
        function: function.name.clone(),
        title: function.title.clone(),
        serves: function.serves.iter().map(|(name, _)| name.clone()).collect(),
        demand: match function.demand {
            Demand::EveryCarrier => "every carrier".to_owned(),
            Demand::Yearly(times) => format!("{times} per year"),
        },
        measure: measure.word(),
        required: function.required.to_string(),
        subsystems,
        value: all.then_some(known),
        pl: told(measure == Measure::Pfh, pl.map(|pl| pl.to_string())),
        sil: told(true, sil.map(|sil| sil.to_string())),
        verdict,
        reasons,
    }
}

/// The levels of a sum, none better than each limit. A performance level is about failures per hour only.
fn levels(sum: f64, measure: Measure, limits: &[Level]) -> (Option<Pl>, Option<Sil>) {
    let (pl, sil) = match measure {
        Measure::Pfh => (Pl::of_pfhd(sum), Sil::of_pfh(sum)),
        Measure::PfdAvg => (None, Sil::of_pfd(sum)),
    };
    let pl = pl.map(|pl| limits.iter().fold(pl, |pl, limit| pl.min(limit.pl())));
    // A limit that corresponds to no SIL leaves none.
    let sil = limits.iter().fold(sil, |sil, limit| sil.min(limit.sil()));
    (pl, sil)
}

fn part(of: &Subsystem, measure: Measure) -> Part {
    let mut part = Part {
        role: of.role,
        title: of.title.clone(),
        method: String::new(),
        figures: Vec::new(),
        value: None,
        at_most: None,
        findings: Vec::new(),
        limits: of.at_most.into_iter().collect(),
    };
    match &of.method {
        Method::Iso13849 { category, channels, common_cause } => {
            part.method = format!("ISO 13849-1, category {}", category.word());
            by_category(&mut part, *category, channels, *common_cause, of.stated.as_ref(), measure);
        }
        Method::Iec61508 { edition, architecture, channels, halved } => {
            part.method = format!("IEC 61508-6, edition {}, Annex B, {}", edition.number(), architecture.word());
            by_formula(&mut part, *edition, *architecture, channels, *halved, measure);
        }
        Method::Statement => {
            part.method.push_str("as stated");
            if let Some(stated) = &of.stated {
                take(&mut part, stated, measure);
            }
        }
    }
    part.at_most = part.limits.iter().min_by_key(|limit| limit.pl()).map(ToString::to_string);
    part
}

impl Part {
    fn figure(&mut self, what: impl Into<String>, value: f64, unit: &'static str, source: impl Into<String>) {
        self.figures.push(Figure { what: what.into(), value, unit, class: None, source: source.into() });
    }
    fn classed(&mut self, what: &str, value: f64, unit: &'static str, class: &'static str, source: &str) {
        self.figures.push(Figure { what: what.into(), value, unit, class: Some(class), source: source.into() });
    }
}

/// Takes a value that somebody states, if it is of what is asked.
fn take(part: &mut Part, stated: &Stated, measure: Measure) {
    let unit = if stated.measure == Measure::Pfh { "per hour" } else { "" };
    part.figure(format!("{} as stated", stated.measure.word()), stated.value, unit, stated.source.clone());
    if stated.measure == measure {
        part.value = Some(stated.value);
    } else {
        let (given, asked) = (stated.measure.word(), measure.word());
        part.findings.push(format!("{given} is stated, where the demand on the function asks for {asked}"));
    }
}

fn by_category(
    part: &mut Part,
    category: Category,
    channels: &[Channel],
    common_cause: Option<u32>,
    stated: Option<&Stated>,
    measure: Measure,
) {
    let mut lives = Vec::new();
    for one in channels {
        for piece in &one.parts {
            let source = match piece.life {
                Given::Mttfd(_) => "as given",
                Given::Mttf(_) => "twice the MTTF as given, ISO 13849-1, C.4",
                Given::Wears { dangerously: true, .. } => "from B10d by use, ISO 13849-1, C.4.2",
                Given::Wears { .. } => "from twice the B10 by use, ISO 13849-1, C.4",
            };
            part.figure(format!("{}, {}: MTTFd", one.name, piece.name), piece.life.mttfd(), "years", source);
            if let Some(replace) = piece.life.t10d() {
                part.figure(
                    format!("{}, {}: T10d, to be replaced then", one.name, piece.name),
                    replace,
                    "years",
                    "ISO 13849-1, C.4.2",
                );
            }
        }
        let life = channel(&one.parts.iter().map(|piece| piece.life.mttfd()).collect::<Vec<_>>());
        part.figure(format!("{}: MTTFd of the channel", one.name), life, "years", "ISO 13849-1, D.1");
        if life > category.cap() {
            let source = "ISO 13849-1, 4.5.2";
            part.figure(format!("{}: counts for no more than", one.name), category.cap(), "years", source);
        }
        lives.push(life.min(category.cap()));
    }
    let life = match lives.as_slice() {
        [one, other] => symmetrised(*one, *other),
        [one, ..] => *one,
        [] => f64::NAN,
    };
    let class = Life::of(life);
    let source = if lives.len() == 2 { "ISO 13849-1, D.2 and Table 4" } else { "ISO 13849-1, Table 4" };
    part.classed("MTTFd", life, "years", class.map_or("below low", Life::word), source);
    let parts = channels.iter().flat_map(|one| &one.parts).map(|piece| (piece.coverage, piece.life.mttfd()));
    let coverage = average_coverage(&parts.collect::<Vec<_>>());
    let found = Diagnosis::of(coverage);
    part.classed("DCavg", coverage * 100.0, "%", found.word(), "ISO 13849-1, E.2 and Table 5");

    let (least, diagnosis, counted) = category.asks();
    let word = category.word();
    if class.is_none_or(|class| class < least) {
        part.findings.push(format!("category {word} asks for an MTTFd that is {} at least", least.word()));
    }
    if found < diagnosis {
        part.findings.push(format!("category {word} asks for a DCavg that is {} at least", diagnosis.word()));
    }
    if counted {
        match common_cause {
            Some(points) => {
                part.figure("points against common causes", f64::from(points), "points", "ISO 13849-1, Annex F");
            }
            None => part.findings.push("points against common causes were not counted (Annex F)".to_owned()),
        }
        if common_cause.is_some_and(|points| points < COMMON_CAUSE_LEAST) {
            let what = format!(
                "category {word} asks for {COMMON_CAUSE_LEAST} points against common causes at least (Annex F)"
            );
            part.findings.push(what);
        }
    }
    part.limits.push(Level::Pl(category.best()));
    if !part.findings.is_empty() {
        part.findings.push("the category is not kept: its PFHd is not computed".to_owned());
    } else if measure == Measure::PfdAvg {
        part.findings.push("ISO 13849-1 speaks of failures per hour only: PFDavg is not computed".to_owned());
    } else if category.channels() == 1 && !counted {
        part.value = Some(pfhd_of_one(life));
        part.figure(
            "PFHd",
            pfhd_of_one(life),
            "per hour",
            format!("1 / (MTTFd x {HOURS_PER_YEAR} h), ISO 13849-1, Table K.1"),
        );
    } else if let Some(stated) = stated {
        take(part, stated, measure);
    } else {
        part.findings.push(format!(
            "PFHd is not computed: it stands in Table K.1 of ISO 13849-1, of which this program has no copy; look it up for category {word}, \
             MTTFd {life:.1} years and DCavg {}, and write: stated PFHd ... per hour from \"SOURCE\"",
            found.word()
        ));
    }
}

fn by_formula(
    part: &mut Part,
    edition: Edition,
    architecture: Architecture,
    channels: &Channels,
    halved: bool,
    measure: Measure,
) {
    let source = if halved { "IEC 61508-6, Annex B: half of all failures" } else { "as given" };
    part.figure("dangerous failures of a channel", channels.dangerous, "per hour", source);
    let product = channels.dangerous * channels.proof_test;
    part.figure("dangerous failures between proof tests", product, "", "product of the two as given; 0.1 at most");
    let value = match measure {
        Measure::Pfh => channels.pfh(architecture, edition),
        Measure::PfdAvg => channels.pfd_avg(architecture),
    };
    match value {
        Ok(value) => {
            let unit = if measure == Measure::Pfh { "per hour" } else { "" };
            part.figure(measure.word(), value, unit, part.method.clone());
            part.value = Some(value);
        }
        Err(refused) => part.findings.push(format!("{} is refused: {refused}", measure.word())),
    }
}
