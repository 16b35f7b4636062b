//! The station, its answers and inputs, clause by clause; a clause that may be left out is an
//! `Option`.

use super::{Place, Placed, Quantity, Word};

/// `revision`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Revision {
    /// Its number.
    pub number: Placed<u32>,
    /// `temporary until "DATE" because "TEXT"`.
    pub temporary: Option<(Placed<String>, Placed<String>)>,
}
/// `mode NAME selected by KEY [, PACE at most V]`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mode {
    /// Name.
    pub name: Word,
    /// Key.
    pub key: Word,
    /// Pace and limit.
    pub at_most: Option<(Word, Quantity)>,
}
/// `output NAME on TERMINAL, off within T [, read back on TERMINAL within T] [, not together with NAME ...]`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Output {
    /// Name.
    pub name: Word,
    /// Terminal.
    pub terminal: Word,
    /// `off within`.
    pub off_within: Quantity,
    /// `read back on TERMINAL within T`.
    pub read_back: Option<(Word, Quantity)>,
    /// `not together with`.
    pub not_together: Vec<Word>,
}
/// `slow NAME PACE down to V within T`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slow {
    /// Name.
    pub name: Word,
    /// Pace.
    pub pace: Word,
    /// Cap.
    pub down_to: Quantity,
    /// Time to reach it.
    pub within: Quantity,
}
/// `stop NAME ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stop {
    /// Name.
    pub name: Word,
    /// `category N`.
    pub category: Placed<u32>,
    /// `for emergencies`, where written.
    pub for_emergencies: Option<Place>,
    /// `releases`.
    pub releases: Vec<Word>,
    /// `then OUTPUT {and OUTPUT} when PACE still or after T`.
    pub then: Option<Then>,
    /// `bites within`.
    pub bites: Quantity,
    /// `slows at A to A`.
    pub slows: (Quantity, Quantity),
    /// `standstill held by`.
    pub standstill: Option<Word>,
}
/// See [`Stop::then`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Then {
    /// Outputs.
    pub outputs: Vec<Word>,
    /// Pace.
    pub pace: Word,
    /// `at the latest after`.
    pub latest: Quantity,
}
/// `settles T` or `settles T opening and T closing` (the second and third are then set).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Settles {
    /// Both ways.
    Both(Quantity),
    /// Opening, closing.
    Each(Quantity, Quantity),
}
/// `opens for at least T` or `closes for at least T`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shortest {
    /// It says `opens`.
    pub opens: Placed<bool>,
    /// Time.
    pub time: Quantity,
}
/// `contact NAME ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contact {
    /// Name.
    pub name: Word,
    /// Terminal.
    pub terminal: Word,
    /// `rests closed` (true) or `rests open`.
    pub rests_closed: Placed<bool>,
    /// `line monitored`.
    pub line_monitored: Option<Place>,
    /// Shortest excursion.
    pub shortest: Option<Shortest>,
    /// Settling.
    pub settles: Option<Settles>,
    /// `at most N changes a second`.
    pub changes: Option<Placed<u32>>,
}
/// `pair NAME ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    /// Name.
    pub name: Word,
    /// Terminals.
    pub terminals: (Word, Word),
    /// `opposed` (true) or `alike`.
    pub opposed: Placed<bool>,
    /// `rests closed` (true) or `rests open`.
    pub rests_closed: Placed<bool>,
    /// Shortest excursion.
    pub shortest: Option<Shortest>,
    /// Settling.
    pub settles: Option<Settles>,
    /// `differing for T is a fault`.
    pub differing: Quantity,
}
/// `detector NAME ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Detector {
    /// Name.
    pub name: Word,
    /// Terminal.
    pub terminal: Word,
    /// Place on the lane.
    pub at: Quantity,
    /// `pulses at least`.
    pub pulses: Quantity,
    /// Settling.
    pub settles: Option<Settles>,
    /// `covered for at most X of PACE`.
    pub covered: Option<(Quantity, Word)>,
    /// `rises at least every X of PACE`.
    pub rises: Option<(Quantity, Word)>,
}
/// `gauge NAME ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gauge {
    /// Name.
    pub name: Word,
    /// Terminal.
    pub terminal: Word,
    /// `C is V, C is V`.
    pub points: [(Quantity, Quantity); 2],
    /// `in steps of`.
    pub steps: Option<Quantity>,
    /// `trusted from C to C`.
    pub trusted: Option<(Quantity, Quantity)>,
    /// `moves at most V a scan`.
    pub moves: Option<Quantity>,
    /// `rests within V of V when DETECTOR rises`.
    pub rests: Option<(Quantity, Quantity, Word)>,
}
/// What backs a pace's first terminal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Backing {
    /// Nothing.
    None,
    /// `and TERMINAL`.
    Terminal(Word),
    /// `backed by CONTACT`.
    Contact(Word),
}
/// `pace NAME ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pace {
    /// Name.
    pub name: Word,
    /// First terminal.
    pub terminal: Word,
    /// Second opinion.
    pub backing: Backing,
    /// `X a pulse`.
    pub pulse: Quantity,
    /// `signed`.
    pub signed: Option<Place>,
    /// `at most V`.
    pub at_most: Quantity,
    /// `speed over T`.
    pub over: Quantity,
    /// `the two agree within V`.
    pub agree: Option<Quantity>,
    /// `still below V`.
    pub still: Option<Quantity>,
    /// `fault after T`.
    pub fault_after: Quantity,
}
/// `link NAME ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Link {
    /// Name.
    pub name: Word,
    /// Terminal.
    pub terminal: Word,
    /// `silent for at most`.
    pub silent: Quantity,
    /// `else STOP`.
    pub otherwise: Word,
}
/// `key NAME ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Key {
    /// Name.
    pub name: Word,
    /// Terminal.
    pub terminal: Word,
    /// Second terminal.
    pub second: Option<Word>,
    /// Settling.
    pub settles: Option<Settles>,
}
