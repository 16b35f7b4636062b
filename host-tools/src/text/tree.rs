//! The syntax tree: what is written, name by name, with places; nothing is resolved.

use super::place::{Place, Placed};

pub mod quantity;
pub mod rules;
pub mod statements;
pub mod watches;

pub use quantity::*;
pub use rules::*;
pub use statements::*;
pub use watches::*;

/// A name as written.
pub type Word = Placed<String>;

/// One file of a reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    /// Path as given.
    pub path: String,
    /// Its text.
    pub source: String,
    /// Its statements, in order.
    pub statements: Vec<Statement>,
    /// Comments after the last statement, without `#`.
    pub trailing: Vec<String>,
}

/// A statement with what stands around it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// From its keyword to its last word.
    pub place: Place,
    /// `##` lines right above it, without the marks.
    pub note: Vec<String>,
    /// Ordinary comment lines above it, without the mark; an empty entry is an empty line between comments.
    pub before: Vec<String>,
    /// Comments inside it or at the ends of its lines, in order, without the mark.
    pub inside: Vec<String>,
    /// What it says.
    pub kind: Kind,
}

/// The statements of the language; see `manual/language.md`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Kind {
    /// `station "TITLE"`
    Station(Placed<String>),
    /// `revision N [, temporary until "DATE" because "TEXT"]`
    Revision(Revision),
    /// `scan T`
    Scan(Quantity),
    /// `on fault STOP`
    OnFault(Word),
    /// `mode ...`
    Mode(Mode),
    /// `output ...`
    Output(Output),
    /// `slow ...`
    Slow(Slow),
    /// `stop ...`
    Stop(Stop),
    /// `contact ...`
    Contact(Contact),
    /// `pair ...`
    Pair(Pair),
    /// `detector ...`
    Detector(Detector),
    /// `gauge ...`
    Gauge(Gauge),
    /// `pace ...`
    Pace(Pace),
    /// `link ...`
    Link(Link),
    /// `key ...`
    Key(Key),
    /// `guard`, `travel`, `measure`, `spacing`, `agree`, `confirm`, `exercise`, `count`
    Watch(Watch),
    /// `reset ...`
    Reset(Reset),
    /// `restart no sooner than T after a stop`
    Restart(Quantity),
    /// `refill ...`
    Refill(Refill),
    /// `bypass ...`
    Bypass(Bypass),
    /// `hazard H "TITLE"`
    Hazard(Word, Placed<String>),
    /// `require ...`
    Require(Require),
    /// `entry E not applicable because "TEXT"`, or `entry E answered elsewhere by "TEXT"`
    Entry(Word, Excuse),
    /// `assume ...`
    Assume(Assume),
    /// `lane ...`
    Lane(Lane),
}
