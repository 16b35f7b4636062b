//! Inputs, outputs and modes of a resolved station.

use super::{InputId, Mm, Name, Rank, Scans};

/// Scans by which a change must outlast its first sample before it is taken: it is taken in the
/// sample `n` scans after the first one that shows it, if all between show it too.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Settle {
    /// For a change to high (closed, covered, held).
    pub up: Scans,
    /// For a change to low (open, clear, free).
    pub down: Scans,
}

/// An operating mode.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mode {
    /// Its name.
    pub name: Name,
    /// The key that selects it.
    pub key: InputId,
    /// Pace and greatest travel over that pace's span, in mm.
    pub at_most: Option<(InputId, Mm)>,
}

/// An output; de-energised acts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Output {
    /// Its name.
    pub name: Name,
    /// Terminal.
    pub terminal: String,
    /// Microseconds until it has let go.
    pub off_within_us: u32,
    /// Channel that reads high while the output is off, and the scans allowed for it to follow.
    pub read_back: Option<(usize, Scans)>,
    /// Indices of outputs that must never be off together with this one.
    pub not_together: Vec<usize>,
}

/// A declared input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Input {
    /// Its name.
    pub name: Name,
    /// What it is.
    pub kind: InputKind,
}

/// The kinds of input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum InputKind {
    /// A contact: closed is high.
    Contact(Contact),
    /// Two channels that say the same thing.
    Pair(Pair),
    /// A proximity detector: covered is high.
    Detector(Detector),
    /// A measured value.
    Gauge(Gauge),
    /// Rope (or conveyor) travel.
    Pace(Pace),
    /// The other station.
    Link(Link),
    /// A key or button: held is high.
    Key(Key),
}

/// See [`InputKind::Contact`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contact {
    /// Channel number.
    pub channel: usize,
    /// Level at rest: true is closed.
    pub rests_closed: bool,
    /// A broken wire is told apart from an open contact.
    pub line_monitored: bool,
    /// Shortest excursion from rest, microseconds.
    pub shortest_us: Option<u32>,
    /// Settling.
    pub settle: Settle,
    /// Greatest number of raw changes in a span of one second; more is a fault.
    pub most_changes: Option<u32>,
}

/// See [`InputKind::Pair`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pair {
    /// First and second channel.
    pub channels: [usize; 2],
    /// The second channel reads inverted.
    pub opposed: bool,
    /// Level at rest, told by the first channel: true is closed.
    pub rests_closed: bool,
    /// Shortest excursion from rest, microseconds.
    pub shortest_us: Option<u32>,
    /// Settling of each channel by its own level (an opposed channel settles by its inverted level,
    /// so that `up` is always the way to "closed").
    pub settle: Settle,
    /// Scans for which the channels may differ.
    pub differing: Scans,
}

impl Pair {
    /// Scans of differing that stand for "for ever": the pair has no fault then.
    pub const NEVER_FAULTY: Scans = Scans::MAX;
}

/// See [`InputKind::Detector`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Detector {
    /// Channel number.
    pub channel: usize,
    /// Place on the lane, mm.
    pub at: Mm,
    /// Shortest pulse, microseconds.
    pub pulse_us: u32,
    /// Settling.
    pub settle: Settle,
    /// Pace, and rope for which it may stay covered.
    pub covered_at_most: Option<(InputId, Mm)>,
    /// Pace, and rope within which it must rise again.
    pub rises_every: Option<(InputId, Mm)>,
}

/// Scale and bounds of a gauge. The value of a sample is `steps` above `lowest`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gauge {
    /// Gauge number in a sample.
    pub terminal: usize,
    /// Unit of the value as written (`N`, `mm`, `%` ...).
    pub unit: String,
    /// Value of one step, in millionths of the unit; positive.
    pub step_micro: i64,
    /// Two points of the straight line: current in microampere, value in millionths of the unit.
    pub points: [(i32, i64); 2],
    /// Currents between which the value is trusted, microampere (NE 43: 3 800 to 20 500).
    pub trusted_ua: (i32, i32),
    /// Currents at or beyond which the loop is broken or shorted (NE 43: 3 600 and 21 000).
    pub broken_ua: (i32, i32),
    /// Value of step 0, in steps (may be negative): the value at the lower trusted current, rounded down.
    pub lowest: i64,
    /// Greatest step: the value at the upper trusted current, rounded up, less `lowest`.
    pub top: u32,
    /// Greatest movement in one scan, steps.
    pub moves_at_most: Option<u32>,
    /// Detector at whose rise the value must lie between the two steps.
    pub rests: Option<(InputId, u32, u32)>,
}

/// What backs the first source of a pace.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Backing {
    /// Nothing.
    None,
    /// A second source, and the greatest difference of travel over the span, mm.
    Source(usize, Mm),
    /// A contact that is closed while the drive runs.
    Running(InputId),
}

/// See [`InputKind::Pace`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pace {
    /// Source number in a sample.
    pub source: usize,
    /// The second opinion.
    pub backing: Backing,
    /// Millimetres a pulse.
    pub mm_a_pulse: u32,
    /// The source tells direction; an unsigned source never gives backward travel.
    pub signed: bool,
    /// Greatest travel in a span, mm: more is a fault.
    pub top: Mm,
    /// Greatest travel one scan can give, mm: `top` over the span, rounded up to pulses, plus one pulse.
    /// A sample beyond is cut to it, and the scan counts as over the top.
    pub top_scan: Mm,
    /// Length of the span.
    pub span: Scans,
    /// Travel in a span, either way, at or under which the pace is still, mm.
    pub still: Mm,
    /// Scans for which a disagreement (or missing pulses) may last.
    pub fault_after: Scans,
}

/// See [`InputKind::Link`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Link {
    /// Link number in a sample.
    pub terminal: usize,
    /// Scans without a good frame that are borne.
    pub silent: Scans,
    /// Rank of the stop that answers longer silence.
    pub otherwise: Rank,
}

/// See [`InputKind::Key`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Key {
    /// First and, for a two-channel key, second channel: held is both.
    pub channels: (usize, Option<usize>),
    /// Settling.
    pub settle: Settle,
}
