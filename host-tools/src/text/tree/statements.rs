//! The statements, clause by clause; a clause that may be left out is an `Option`.

use super::{Condition, Place, Placed, Quantity, Word};

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
        /// `see CONDITION`.
        see: Condition,
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

/// `reset by KEY pressed and let go, when CONDITION [for T]`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reset {
    /// Key.
    pub key: Word,
    /// Condition.
    pub when: Condition,
    /// `for T`.
    pub lasting: Option<Quantity>,
}
/// `refill NAME {and NAME} by KEY, when CONDITION`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refill {
    /// Travels and counts.
    pub watches: Vec<Word>,
    /// Key.
    pub key: Word,
    /// Condition.
    pub when: Condition,
}
/// `bypass NAME of WATCH {and WATCH} ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Bypass {
    /// Name.
    pub name: Word,
    /// Watches.
    pub of: Vec<Word>,
    /// `in MODE {and MODE}`.
    pub modes: Vec<Word>,
    /// `while KEY held`.
    pub key: Word,
    /// `PACE at most V`.
    pub at_most: (Word, Quantity),
    /// `for at most T`.
    pub budget: Quantity,
    /// `then not again for T`.
    pub rest: Quantity,
}
/// `require R "TITLE" ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Require {
    /// Name.
    pub name: Word,
    /// Title.
    pub title: Placed<String>,
    /// `hazard H {and H}`.
    pub hazards: Vec<Word>,
    /// What it asks.
    pub form: Form,
    /// `unless CONDITION`.
    pub unless: Option<Condition>,
}
/// What a requirement asks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Form {
    /// `whenever CONDITION [for T], stop at least S within T` (or `slow at least S`).
    Whenever(Condition, Option<Quantity>, Answer, Quantity),
    /// `whenever GAUGE outside V to V when DETECTOR rises, stop at least S within T`.
    WhenRises(Word, Quantity, Quantity, Word, Word, Quantity),
    /// `after A rises, in ... must rise B, else stop at least S within T [up to N carriers]`.
    After {
        /// First detector.
        from: Word,
        /// Window; both bounds are there.
        window: Window,
        /// Second detector.
        to: Word,
        /// Stop.
        least: Word,
        /// `within`.
        within: Quantity,
        /// `up to N carriers`.
        capacity: Option<Placed<u32>>,
    },
    /// `never less than S while CONDITION`.
    Never(Word, Condition),
    /// `never released without KEY`.
    NeverReleased(Word),
    /// `never O together with O`.
    NeverTogether(Word, Word),
}
/// `assume NAME ["TITLE"] ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assume {
    /// Name.
    pub name: Word,
    /// Title.
    pub title: Option<Placed<String>>,
    /// What is assumed.
    pub claim: Claim,
    /// What stands behind it.
    pub ground: Ground,
}
/// What is assumed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Claim {
    /// `DETECTOR rises at least X of PACE apart`.
    RopeApart(Word, Quantity, Word),
    /// `DETECTOR rises at least T apart`.
    TimeApart(Word, Quantity),
    /// `always CONDITION`.
    Always(Condition),
    /// `never CONDITION`.
    Never(Condition),
}
/// What stands behind an assumption.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ground {
    /// `held by WATCH`.
    HeldBy(Word),
    /// `on evidence "TEXT"`.
    Evidence(Placed<String>),
}
/// `lane NAME ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lane {
    /// Name.
    pub name: Word,
    /// `carriers every X of rope` (the first declared pace).
    pub every: Quantity,
    /// `X long`.
    pub long: Quantity,
    /// Stretches in order.
    pub stretches: Vec<Stretch>,
    /// `uncouples at`.
    pub uncouples: Quantity,
    /// `couples at`.
    pub couples: Quantity,
    /// `held until`.
    pub held_until: Quantity,
}
/// `from X to X ...`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stretch {
    /// All of it.
    pub place: Place,
    /// Start.
    pub from: Quantity,
    /// End.
    pub to: Quantity,
    /// What happens on it.
    pub pace: StretchPace,
}
/// What happens on a stretch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StretchPace {
    /// `at rope speed`.
    Rope,
    /// `slows to V at V of rope`.
    Slows(Quantity, Quantity),
    /// `steady [, driven by PACE]`.
    Steady(Option<Word>),
    /// `speeds up to rope speed`.
    SpeedsUp,
}
