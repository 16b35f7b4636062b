//! What happens in a simulated run: how things stand, and what is done to them when.

use crate::station::{InputId, Rank, Station};

/// Something a scenario file says that cannot be done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong.
    pub wrong: String,
    /// What would be right.
    pub mend: String,
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {}: {}; {}", self.line, self.wrong, self.mend)
    }
}

/// Which carrier.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// The next one that comes to the lane.
    Next,
    /// The n-th of the run; 1 is the foremost one at its beginning.
    Number(u32),
}

/// What happens to a carrier. Places are mm of lane, shifts mm of rope.
#[derive(Debug, Clone, PartialEq)]
pub enum Effect {
    /// It falls behind (or, negative, gains), from a place on: left out, where it uncouples.
    Shift {
        /// Rope.
        by: f64,
        /// Place.
        from: Option<f64>,
    },
    /// It disappears at a place.
    Lost {
        /// Place.
        at: Option<f64>,
    },
    /// It stays at a place.
    Stays {
        /// Place.
        at: Option<f64>,
    },
    /// A second one follows it.
    Doubled {
        /// Rope between the two.
        behind: f64,
    },
    /// It presses a gauge with its own force.
    Presses {
        /// Gauge number in a sample.
        gauge: usize,
        /// Value, in steps of the gauge.
        steps: f64,
    },
    /// It is taken off the rope or the lane.
    TakenOut,
}

/// What may be wrong with a gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GaugeFault {
    /// Broken wire.
    Wire,
    /// Short circuit.
    Short,
    /// A current that is neither measurement nor fault.
    Doubtful,
    /// Shows one value, in steps.
    At(f64),
    /// Shows so many steps too much.
    OffBy(f64),
}

/// What may be wrong with a source of pulses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SourceFault {
    /// Gives none.
    Dead,
    /// Gives this share of them.
    Share(f64),
    /// Tells the wrong direction.
    Reversed,
}

/// What may be wrong with a link.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LinkFault {
    /// No frames.
    Silent,
    /// Orders an answer (0: nothing).
    Orders(Rank),
}

/// Anything of the station that a fault can be put on and taken off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Thing {
    /// A digital channel.
    Channel(usize),
    /// A gauge.
    Gauge(usize),
    /// A source of pulses.
    Source(usize),
    /// A link.
    Link(usize),
    /// A conveyor, by its pace.
    Conveyor(InputId),
}

/// A fault, or a state that somebody puts on an input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// A channel shows this level.
    Level(bool),
    /// A channel flickers, changing after so many microseconds.
    Chatter(u64),
    /// See [`GaugeFault`].
    Gauge(GaugeFault),
    /// See [`SourceFault`].
    Source(SourceFault),
    /// See [`LinkFault`].
    Link(LinkFault),
    /// A conveyor makes this share of the rope.
    Lag(f64),
}

/// What is done at a time.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// The drive is asked for a speed, mm/s, with an acceleration of its own, mm/s².
    RopeTo {
        /// Speed; negative is backwards.
        speed: f64,
        /// Acceleration, if told.
        rate: Option<f64>,
    },
    /// The drive stops as a stop of the rule file has it (by its index).
    RopeStops(usize),
    /// Something happens to a carrier.
    Carrier(Which, Effect),
    /// A carrier is put on the lane, mm.
    PutIn(f64),
    /// Faults appear; for so many microseconds, or for good.
    Faults(Vec<(Thing, Fault)>, Option<u64>),
    /// Faults go.
    Mend(Vec<Thing>),
    /// Another mode is selected.
    Mode(usize),
    /// An output is switched (heeded in a run that obeys no rules): true is off.
    Output(usize, bool),
    /// An output does not let go, for so many microseconds or for good.
    Sticks(usize, Option<u64>),
    /// The controller has no power, for so many microseconds.
    PowerLost(u64),
}

/// An action and its time.
#[derive(Debug, Clone, PartialEq)]
pub struct Event {
    /// Line of the file.
    pub line: usize,
    /// Microseconds from the beginning.
    pub at: u64,
    /// It is done again after so many microseconds.
    pub every: Option<u64>,
    /// What is done.
    pub action: Action,
}

/// How a gauge behaves; values in steps.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Behaviour {
    /// A carrier presses it between two places of the lane, mm.
    Pressed {
        /// Places.
        between: (f64, f64),
        /// Value of a usual carrier.
        rated: f64,
        /// Value without carrier.
        rest: f64,
        /// By how much carriers differ.
        spread: f64,
        /// Noise.
        noise: f64,
        /// Rope over which the value rises and falls, mm.
        over: f64,
    },
    /// It shows one value.
    Lies {
        /// Value.
        at: f64,
        /// Noise.
        noise: f64,
    },
}

/// What a contact follows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum While {
    /// An output is off (or on), this many microseconds later.
    Output(usize, bool, u64),
    /// The rope moves (or stands), this many microseconds later.
    Moves(bool, u64),
    /// A carrier's front is between two places of the lane, mm.
    Carrier(f64, f64),
}

/// A rule by which a channel gets its level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Follow {
    /// Channel.
    pub channel: usize,
    /// Level while it holds; the opposite otherwise.
    pub level: bool,
    /// What must hold.
    pub when: While,
}

/// A whole scenario, its names resolved for one station.
#[derive(Debug, Clone, PartialEq)]
pub struct Scenario {
    /// Its title.
    pub title: String,
    /// Length of the run, microseconds.
    pub last: u64,
    /// The controller starts with the first scan.
    pub powers_up: bool,
    /// Carriers hang over the whole lane at the beginning.
    pub full: bool,
    /// Speed of the rope at the beginning, mm/s.
    pub speed: f64,
    /// Accelerations away from and towards standstill, mm/s².
    pub rates: (f64, f64),
    /// Greatest deviation of a carrier's place on the rope, mm.
    pub spread: f64,
    /// Carriers on the rope: after so many the first one comes again, with its place and its forces. Without, each is a new one.
    pub round: Option<u32>,
    /// Gauges that do not behave as usual; one gauge may have several.
    pub gauges: Vec<(usize, Behaviour)>,
    /// Contacts that follow something.
    pub follows: Vec<Follow>,
    /// Deceleration of a stop (by its index), mm/s²; otherwise the middle of its bounds.
    pub brakes: Vec<(usize, f64)>,
    /// What is done when.
    pub events: Vec<Event>,
}

impl Default for Scenario {
    fn default() -> Self {
        Self {
            title: String::new(),
            last: 600_000_000,
            powers_up: false,
            full: true,
            speed: 0.0,
            rates: (300.0, 500.0),
            spread: 0.0,
            round: None,
            gauges: Vec::new(),
            follows: Vec::new(),
            brakes: Vec::new(),
            events: Vec::new(),
        }
    }
}

impl Scenario {
    /// Reads a scenario file. `manual/scenarios.md` has its language.
    pub fn read(text: &str, station: &Station) -> Result<Self, Vec<Problem>> {
        super::read::read(text, station)
    }
}
