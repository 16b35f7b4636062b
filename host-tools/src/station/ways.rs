//! Ways: every single thing that can trip, in one order that all parts of the program share.
//!
//! The order is: power-up; modes; outputs; slow orders; inputs; watches; each in order of
//! declaration, and within one of them in the order of [`Way`]'s variants.

use super::{InputKind, Rank, Station, WatchKind};

/// What tripped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Source {
    /// The controller started.
    PowerUp,
    /// Selection of the mode.
    Modes,
    /// A mode's own limit.
    Mode(usize),
    /// An output.
    Output(usize),
    /// A slow order.
    Slow(usize),
    /// An input.
    Input(usize),
    /// A watch.
    Watch(usize),
}

/// In what way it tripped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Way {
    /// The controller started.
    Started,
    /// Not exactly one mode is selected.
    Unselected,
    /// The mode changed while a pace was not known to be still.
    Changed,
    /// Faster than the mode allows.
    TooFast,
    /// An output's read-back contradicts it.
    Contradicted,
    /// A slow order was not reached, or not kept.
    NotSlowed,
    /// Too many changes.
    Chatter,
    /// Channels of a pair differ.
    Differs,
    /// A detector stays covered.
    Stuck,
    /// A detector has not risen.
    Missing,
    /// A gauge's loop is broken or shorted.
    Broken,
    /// A gauge's current is in a band that is neither measurement nor fault.
    Doubtful,
    /// A gauge moved faster than it can.
    Leap,
    /// A gauge did not return to rest.
    Unrested,
    /// Sources of a pace disagree, or pulses are missing while the drive runs.
    Unsure,
    /// Faster than a pace can be.
    OverTop,
    /// A link is silent.
    Silent,
    /// A link orders this answer (index of the rank, from 1).
    Ordered(Rank),
    /// A guard, agree, measure, exercise or confirm tripped.
    Tripped,
    /// A carrier came early.
    Early,
    /// A carrier is late.
    Late,
    /// An arrival that nobody explains.
    Stray,
    /// One carrier too many.
    Crowded,
    /// A detector's edge while the pace runs backwards.
    Backwards,
    /// Two passings too close.
    Closer,
    /// Two passings too far apart.
    Farther,
    /// More in a zone than may be.
    Over,
    /// One left an empty zone.
    Below,
    /// The count contradicts its confirmation.
    Wrong,
}

impl Way {
    /// Its name, for people and for machines (`manual/json.md`).
    pub fn text(self) -> &'static str {
        match self {
            Way::Started => "started",
            Way::Unselected => "unselected",
            Way::Changed => "changed",
            Way::TooFast => "too-fast",
            Way::Contradicted => "contradicted",
            Way::NotSlowed => "not-slowed",
            Way::Chatter => "chatter",
            Way::Differs => "differs",
            Way::Stuck => "stuck",
            Way::Missing => "missing",
            Way::Broken => "broken",
            Way::Doubtful => "doubtful",
            Way::Leap => "leap",
            Way::Unrested => "unrested",
            Way::Unsure => "unsure",
            Way::OverTop => "over-top",
            Way::Silent => "silent",
            Way::Ordered(_) => "ordered",
            Way::Tripped => "tripped",
            Way::Early => "early",
            Way::Late => "late",
            Way::Stray => "stray",
            Way::Crowded => "crowded",
            Way::Backwards => "backwards",
            Way::Closer => "closer",
            Way::Farther => "farther",
            Way::Over => "over",
            Way::Below => "below",
            Way::Wrong => "wrong",
        }
    }
}

/// One thing that can trip, and its answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WayOf {
    /// What.
    pub source: Source,
    /// How.
    pub way: Way,
    /// The answer.
    pub answer: Rank,
    /// It lasts as long as its cause; otherwise it is an event of one scan.
    pub level: bool,
}

/// Every way of a station, in the common order.
pub fn ways(station: &Station) -> Vec<WayOf> {
    let mut all = Vec::new();
    let worst = station.worst();
    let fault = station.on_fault;
    let mut add = |source, way, answer, level| all.push(WayOf { source, way, answer, level });
    add(Source::PowerUp, Way::Started, worst, false);
    if !station.modes.is_empty() {
        add(Source::Modes, Way::Unselected, worst, true);
        add(Source::Modes, Way::Changed, worst, false);
    }
    for (i, mode) in station.modes.iter().enumerate() {
        if mode.at_most.is_some() {
            add(Source::Mode(i), Way::TooFast, fault, true);
        }
    }
    for (i, output) in station.outputs.iter().enumerate() {
        if output.read_back.is_some() {
            add(Source::Output(i), Way::Contradicted, fault, true);
        }
    }
    for (i, _) in station.slows.iter().enumerate() {
        let next = Rank::try_from(i + 2).unwrap_or(Rank::MAX);
        add(Source::Slow(i), Way::NotSlowed, next, true);
    }
    for (i, input) in station.inputs.iter().enumerate() {
        let source = Source::Input(i);
        match &input.kind {
            InputKind::Contact(c) => {
                if c.most_changes.is_some() {
                    add(source, Way::Chatter, fault, true);
                }
            }
            InputKind::Pair(_) => add(source, Way::Differs, fault, true),
            InputKind::Detector(d) => {
                if d.covered_at_most.is_some() {
                    add(source, Way::Stuck, fault, true);
                }
                if d.rises_every.is_some() {
                    add(source, Way::Missing, fault, false);
                }
            }
            InputKind::Gauge(g) => {
                add(source, Way::Broken, fault, true);
                add(source, Way::Doubtful, fault, true);
                if g.moves_at_most.is_some() {
                    add(source, Way::Leap, fault, false);
                }
                if g.rests.is_some() {
                    add(source, Way::Unrested, fault, false);
                }
            }
            InputKind::Pace(p) => {
                if p.backing != super::Backing::None {
                    add(source, Way::Unsure, fault, true);
                }
                add(source, Way::OverTop, fault, true);
            }
            InputKind::Link(l) => {
                add(source, Way::Silent, l.otherwise, true);
                for rank in 1..=worst {
                    add(source, Way::Ordered(rank), rank, true);
                }
            }
            InputKind::Key(_) => {}
        }
    }
    for (i, watch) in station.watches.iter().enumerate() {
        let source = Source::Watch(i);
        match &watch.kind {
            WatchKind::Guard(g) => add(source, Way::Tripped, g.answer, true),
            WatchKind::Agree(g) => add(source, Way::Tripped, g.answer, true),
            WatchKind::Confirm(c) => add(source, Way::Tripped, c.answer, true),
            WatchKind::Measure(m) => add(source, Way::Tripped, m.answer, false),
            WatchKind::Exercise(e) => add(source, Way::Tripped, e.answer, false),
            WatchKind::Travel(t) => {
                add(source, Way::Early, t.early, false);
                add(source, Way::Late, t.late, false);
                add(source, Way::Stray, t.stray, false);
                add(source, Way::Crowded, t.crowded, false);
                add(source, Way::Backwards, t.backwards, false);
            }
            WatchKind::Spacing(s) => {
                add(source, Way::Closer, s.closer, false);
                if s.most.is_some() {
                    add(source, Way::Farther, s.farther, false);
                }
            }
            WatchKind::Count(c) => {
                add(source, Way::Over, c.over, true);
                add(source, Way::Below, c.below, false);
                add(source, Way::Wrong, c.wrong, false);
            }
        }
    }
    all
}
