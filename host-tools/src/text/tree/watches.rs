//! Watches, clause by clause.

use super::{Condition, Placed, Quantity, Word};

/// A watch: what all have, and what it watches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Watch {
    /// Name.
    pub name: Word,
    /// Title.
    pub title: Option<Placed<String>>,
    /// `hazard H {and H}`.
    pub hazards: Vec<Word>,
    /// `in MODE {and MODE}`.
    pub modes: Vec<Word>,
    /// What it watches.
    pub kind: WatchKind,
}
/// An answer that may be a slow order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// A stop.
    Stop(Word),
    /// A slow order.
    Slow(Word),
}
/// How long a guard's condition lasts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Lasting {
    /// `unbroken for T`.
    Unbroken(Quantity),
    /// `for T in all within T`.
    Total(Quantity, Quantity),
}
/// A window of a travel, spacing or requirement. Bounds in order of writing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Window {
    /// Lengths of a pace; the second bound may be missing in a spacing.
    Rope(Quantity, Option<Quantity>, Word),
    /// Times, pace, and the band of its speed.
    Time(Quantity, Option<Quantity>, Word, Quantity, Quantity),
}
/// When a measure judges.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum When {
    /// `when DETECTOR rises`.
    Rise(Word),
    /// `throughout the T after DETECTOR rises`.
    Time(Quantity, Word),
    /// `throughout the X of PACE after DETECTOR rises`.
    Rope(Quantity, Word, Word),
}
/// How often an input must change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Every {
    /// `with every carrier at DETECTOR`.
    Carrier(Word),
    /// `every X of PACE`.
    Rope(Quantity, Word),
    /// `every T`.
    Time(Quantity),
}
/// The eight kinds of watch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WatchKind {
    /// `guard`
    Guard {
        /// `when CONDITION`.
        when: Condition,
        /// How long; at once if left out.
        lasting: Option<Lasting>,
        /// `stop NAME` or `slow NAME`.
        answer: Answer,
    },
    /// `travel`
    Travel {
        /// `from`.
        from: Word,
        /// `to`.
        to: Word,
        /// `takes`; both bounds are there.
        takes: Window,
        /// `and at most T while PACE runs`.
        backstop: Option<(Quantity, Word)>,
        /// `up to N carriers under way`.
        capacity: Placed<u32>,
        /// `early`.
        early: Word,
        /// `late`.
        late: Word,
        /// `stray`.
        stray: Word,
        /// `crowded`.
        crowded: Word,
        /// `backwards`.
        backwards: Option<Word>,
    },
    /// `measure`
    Measure {
        /// When it judges.
        when: When,
        /// The gauge.
        gauge: Word,
        /// `stays between V and V`.
        between: (Quantity, Quantity),
        /// `else STOP`.
        otherwise: Word,
    },
    /// `spacing`
    Spacing {
        /// The detector.
        detector: Word,
        /// `at least ... apart [and at most ... apart]`.
        apart: Window,
        /// `closer`.
        closer: Word,
        /// `farther`.
        farther: Option<Word>,
    },
    /// `agree`
    Agree {
        /// The two.
        between: (Word, Word),
        /// `agree within V`.
        within: Quantity,
        /// `apart for at most T`.
        apart: Quantity,
        /// `else STOP` or `else slow NAME`.
        otherwise: Answer,
    },
    /// `confirm`
    Confirm {
        /// `after STOP`.
        after: Word,
        /// `see CONDITION` or `see PACE slower by V`.
        see: Effect,
        /// `within T`.
        within: Quantity,
        /// `else STOP`.
        otherwise: Word,
    },
    /// `exercise`
    Exercise {
        /// The input.
        input: Word,
        /// `changes ...`.
        every: Every,
        /// `else STOP`.
        otherwise: Word,
    },
    /// `count`
    Count {
        /// `in by`.
        enter: Word,
        /// `out by`.
        leave: Word,
        /// `at most N carriers`.
        most: Placed<u32>,
        /// `is N when CONDITION`.
        confirmed: (Placed<u32>, Condition),
        /// `over`.
        over: Word,
        /// `below`.
        below: Word,
        /// `wrong`.
        wrong: Word,
    },
}

/// What a confirm waits for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Effect {
    /// `CONDITION`.
    Holds(Condition),
    /// `PACE slower by V`.
    Slower(Word, Quantity),
}
