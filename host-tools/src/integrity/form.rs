//! What a file of safety functions says, with the places in it that later stages may have to show.

use std::ops::Range;

use super::iec61508::{Architecture, Channels, Edition};
use super::iso13849::{Category, DANGEROUS_HALF, mttfd_by_use, t10d};
use super::levels::{Pl, Sil};

/// A stretch of the text, in bytes.
pub type Place = Range<usize>;

/// A file of safety functions.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    /// What they are functions of.
    pub title: String,
    /// Where the data come from.
    pub source: String,
    /// The functions, in order.
    pub functions: Vec<Function>,
}

/// A level.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Of ISO 13849-1.
    Pl(Pl),
    /// Of IEC 61508.
    Sil(Sil),
}

impl Level {
    /// As a performance level, the best that corresponds.
    pub fn pl(self) -> Pl {
        match self {
            Self::Pl(pl) => pl,
            Self::Sil(sil) => sil.pl(),
        }
    }
    /// As a safety integrity level, or none.
    pub fn sil(self) -> Option<Sil> {
        match self {
            Self::Pl(pl) => pl.sil(),
            Self::Sil(sil) => Some(sil),
        }
    }
}

impl std::fmt::Display for Level {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Pl(pl) => pl.fmt(to),
            Self::Sil(sil) => sil.fmt(to),
        }
    }
}

/// How often the function is demanded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Demand {
    /// By every carrier.
    EveryCarrier,
    /// So many times a year.
    Yearly(f64),
}

impl Demand {
    /// More than once a year: failures per hour count, and a mean probability on demand says nothing. IEC 61508-4, 3.5.16 (edition 2, from
    /// memory).
    pub fn is_high(self) -> bool {
        match self {
            Self::EveryCarrier => true,
            Self::Yearly(times) => times > 1.0,
        }
    }
    /// What is worked out for it.
    pub fn measure(self) -> Measure {
        if self.is_high() { Measure::Pfh } else { Measure::PfdAvg }
    }
}

/// What a probability of failure is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Dangerous failures per hour.
    Pfh,
    /// Mean probability on demand.
    PfdAvg,
}

impl Measure {
    /// As it is written.
    pub fn word(self) -> &'static str {
        match self {
            Self::Pfh => "PFHd",
            Self::PfdAvg => "PFDavg",
        }
    }
    /// With its unit behind it.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Pfh => " per hour",
            Self::PfdAvg => "",
        }
    }
}

/// A safety function.
#[derive(Debug, Clone, PartialEq)]
pub struct Function {
    /// Its name.
    pub name: String,
    /// What it does.
    pub title: String,
    /// Requirements of the rule files that it serves, each with its place.
    pub serves: Vec<(String, Place)>,
    /// The level that is required of it.
    pub required: Level,
    /// How often it is demanded.
    pub demand: Demand,
    /// What it goes through, in series.
    pub subsystems: Vec<Subsystem>,
}

/// A part of the function that all of it depends on.
#[derive(Debug, Clone, PartialEq)]
pub struct Subsystem {
    /// `input`, `logic` or `output`.
    pub role: &'static str,
    /// What it is.
    pub title: String,
    /// How it is judged.
    pub method: Method,
    /// A value that somebody else stands for.
    pub stated: Option<Stated>,
    /// The best level that it may be used for.
    pub at_most: Option<Level>,
}

/// How a subsystem is judged.
#[derive(Debug, Clone, PartialEq)]
pub enum Method {
    /// By category.
    Iso13849 {
        /// The category that is claimed.
        category: Category,
        /// Its functional channels.
        channels: Vec<Channel>,
        /// Points against failures of common cause.
        common_cause: Option<u32>,
    },
    /// By the simplified formulas.
    Iec61508 {
        /// Which.
        edition: Edition,
        /// How many must answer.
        architecture: Architecture,
        /// Of what kind.
        channels: Channels,
        /// Where the channels were given as failures of all kinds, half of them dangerous.
        halved: bool,
    },
    /// By what is stated alone.
    Statement,
}

/// A value that somebody else stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// Of what.
    pub measure: Measure,
    /// The value.
    pub value: f64,
    /// Who says so, and where.
    pub source: String,
}

/// A functional channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Its name.
    pub name: String,
    /// Its parts, each of which it needs.
    pub parts: Vec<Part>,
}

/// A part of a channel.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What it is.
    pub name: String,
    /// How long it lives.
    pub life: Life,
    /// Share of its dangerous failures that is found, 0 to 1.
    pub coverage: f64,
}

/// How the life of a part is given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Life {
    /// Mean years to a dangerous failure.
    Mttfd(f64),
    /// Mean years to a failure.
    Mttf(f64),
    /// Operations after which a tenth have failed (dangerously, or at all), and operations a year.
    Wears {
        /// How many.
        cycles: f64,
        /// They are B10d, not B10.
        dangerously: bool,
        /// Operations a year.
        a_year: f64,
    },
}

impl Life {
    /// Mean years to a dangerous failure.
    pub fn mttfd(self) -> f64 {
        match self {
            Self::Mttfd(years) => years,
            Self::Mttf(years) => DANGEROUS_HALF * years,
            Self::Wears { a_year, .. } => mttfd_by_use(self.b10d(), a_year),
        }
    }
    /// Years after which the part is to be replaced, if it wears.
    pub fn t10d(self) -> Option<f64> {
        match self {
            Self::Wears { a_year, .. } => Some(t10d(self.b10d(), a_year)),
            Self::Mttfd(_) | Self::Mttf(_) => None,
        }
    }
    fn b10d(self) -> f64 {
        match self {
            Self::Wears { cycles, dangerously: true, .. } => cycles,
            Self::Wears { cycles, .. } => DANGEROUS_HALF * cycles,
            Self::Mttfd(_) | Self::Mttf(_) => f64::NAN,
        }
    }
}
