//! Reset, refill, bypass, requirements, assumptions and the lane, clause by clause.

use super::{Answer, Condition, Place, Placed, Quantity, When, Window, Word};

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
    /// `bounces of up to T aside`.
    pub bounces: Option<Quantity>,
    /// `need not arise because "TEXT"`.
    pub need_not_arise: Option<Placed<String>>,
    /// `answers E {and E}`: entries of a published list.
    pub answers: Vec<Word>,
}
/// Why no requirement answers an entry of a published list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Excuse {
    /// `not applicable because "TEXT"`.
    NotApplicable(Placed<String>),
    /// `answered elsewhere by "TEXT"`.
    Elsewhere(Placed<String>),
}
/// What a requirement asks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Form {
    /// `whenever CONDITION [for T], stop at least S within T` (or `slow at least S`).
    Whenever(Condition, Option<Quantity>, Answer, Quantity),
    /// `whenever GAUGE outside V to V [for T] when DETECTOR rises, stop at least S within T`, or `in the T after DETECTOR rises`, or
    /// `in the X of PACE after DETECTOR rises`.
    WhenRises(Word, (Quantity, Quantity), Option<Quantity>, When, Word, Quantity),
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
    /// `after S stands, within T must be seen EFFECT, else stop at least S within T`.
    Effect {
        /// The stop.
        after: Word,
        /// By when.
        lasting: Quantity,
        /// What must be seen once.
        see: super::Effect,
        /// Stop otherwise.
        least: Word,
        /// `within` of that.
        within: Quantity,
    },
    /// `never less than S while CONDITION`.
    Never(Word, Condition),
    /// `never released without KEY`.
    NeverReleased(Word),
    /// `never released but when CONDITION [for T]`.
    NeverReleasedBut(Condition, Option<Quantity>),
    /// `never permitted within T after a stop`.
    NeverPermitted(Quantity),
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
    /// `at least X apart`.
    pub least: Option<Quantity>,
    /// `at most X apart`.
    pub most: Option<Quantity>,
    /// `X long`: the flag.
    pub long: Quantity,
    /// `bodies X long`.
    pub body: Option<Quantity>,
    /// `loads from X to X, ...`.
    pub loads: Option<Loads>,
    /// `speeds within P`.
    pub speeds: Option<Quantity>,
    /// `detectors within X`.
    pub detectors: Option<Quantity>,
    /// `switching within X`.
    pub switching: Option<Quantity>,
    /// `line speed V`.
    pub line_speed: Option<Quantity>,
    /// `touches CONTACT at X`, in order.
    pub touches: Vec<(Word, Quantity)>,
    /// Stretches in order.
    pub stretches: Vec<Stretch>,
    /// `uncouples at`.
    pub uncouples: Quantity,
    /// `couples at`.
    pub couples: Quantity,
    /// `held until`.
    pub held_until: Quantity,
}
/// `loads from X to X onto open chairs for N | onto closed cabins`
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Loads {
    /// Where people begin to get on.
    pub from: Quantity,
    /// Where they have done so.
    pub to: Quantity,
    /// What they get on.
    pub on: LoadsOn,
}
/// What people get on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LoadsOn {
    /// `open chairs for N`.
    OpenChairs(Placed<u32>),
    /// `closed cabins`.
    ClosedCabins,
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
    /// `steady, carried by PACE | carried with the rope`.
    Carried(Option<Word>),
    /// `speeds up to rope speed`.
    SpeedsUp,
}
