//! What happens in a replay, one thing after another. The names are those of the JSON schema
//! (`manual/json.md`).

use serde::{Serialize, Serializer};

/// Something that happened, and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Event {
    /// Time on the recording's clock, microseconds.
    pub at_us: u64,
    /// Number of the scan, from 1.
    pub scan: u64,
    /// The recording had gone on after a stop that it did not make, or started without a reset: this would not have happened so.
    pub counterfactual: bool,
    /// What.
    #[serde(flatten)]
    pub what: What,
}

/// What can happen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "event", rename_all = "kebab-case")]
pub enum What {
    /// Judging begins.
    Begins {
        /// `power-up` or `running`.
        starts: &'static str,
    },
    /// The controller of the recording restarted.
    PowerUp,
    /// Nothing is known between the scan before and the next one. Judging begins anew behind it.
    Gap {
        /// Time of the scan before, microseconds.
        from_us: u64,
        /// Time of the next one; not later, if the clock was set back.
        to_us: u64,
    },
    /// The next recording of several begins.
    Recording {
        /// Its name as given.
        name: String,
    },
    /// A stop, with what was first to call for it.
    Stop {
        /// Name of the stop.
        answer: String,
        /// First-out.
        causes: Vec<Cause>,
        /// Every input in that scan.
        inputs: Vec<InputTold>,
        /// Outputs that are off.
        off: Vec<String>,
    },
    /// A more severe stop was called for while one stood.
    Raised {
        /// Name of the stop.
        answer: String,
        /// What called for it.
        causes: Vec<Cause>,
    },
    /// More that tripped while a stop stood.
    Also {
        /// What tripped, each for the first time since the stop.
        causes: Vec<Cause>,
    },
    /// The recording came to a standstill after the stop, as it should.
    Standstill {
        /// Since the stop, microseconds.
        after_us: u64,
    },
    /// The recording moved on although a stop stood: what follows is counterfactual.
    WentOn,
    /// The recording had made the stop, and started again although it stood and was not reset: what follows is counterfactual.
    Started,
    /// Standstill of the recording after it had gone on: judging begins anew.
    Adopted,
    /// The stop was reset.
    Reset,
    /// A slow order began.
    Slow {
        /// Its name.
        answer: String,
        /// What called for it; empty if stretches refill.
        causes: Vec<Cause>,
    },
    /// A slow order ended.
    SlowEnds {
        /// Its name.
        answer: String,
    },
    /// Another mode is selected.
    Mode {
        /// Its name.
        mode: String,
    },
    /// A bypass became active.
    Bypass {
        /// Its name.
        bypass: String,
    },
    /// A bypass ended.
    BypassEnds {
        /// Its name.
        bypass: String,
        /// How long it was active, microseconds.
        lasted_us: u64,
    },
    /// A requirement was met.
    Met {
        /// Its name.
        requirement: String,
        /// From the sample that called for it to the verdict, microseconds.
        delay_us: u64,
    },
    /// A requirement was missed.
    Missed {
        /// Its name.
        requirement: String,
        /// Its title.
        title: String,
    },
    /// The answer of a missed requirement came after its time.
    Answered {
        /// Its name.
        requirement: String,
        /// Beyond its time, microseconds.
        late_us: u64,
    },
    /// The answer of a missed requirement did not come as long as anybody waited for it.
    Unanswered {
        /// Its name.
        requirement: String,
        /// Beyond its time so far, microseconds.
        late_us: u64,
        /// What ended the wait: `end` of the recording, `restart` of the controller, `standstill` after
        /// which judging begins anew, a `gap`, or `condition` that holds no longer.
        by: &'static str,
    },
    /// An assumption was broken.
    Broken {
        /// Its name.
        assumption: String,
        /// Its title.
        title: String,
    },
}

/// Why something tripped.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Cause {
    /// Kind of what tripped: `watch`, `input`, `output`, `mode`, `slow` or `controller`.
    pub source: &'static str,
    /// Its name, or an empty one.
    pub name: String,
    /// Its title, or an empty one.
    pub title: String,
    /// In what way: `tripped`, `early`, `late` ...
    pub way: &'static str,
    /// The answer.
    pub answer: String,
    /// The same in words.
    pub words: String,
    /// It tripped because these inputs are not known; empty if what it watches for is known to be so.
    pub unknown: Vec<String>,
    /// By how much, where it was measured in this scan.
    pub margin: Option<Margin>,
}

/// What tells kinds of stops apart: the answer, and of its first cause what it was, its name and its way. Words alone may be those of several.
pub type Kind = (String, &'static str, String, &'static str);

/// It is that of the controller's start, at which a stop stands in any case.
pub fn is_start((_, source, ..): &Kind) -> bool {
    *source == "controller"
}

impl Cause {
    /// The kind of a stop with this answer and this first cause.
    pub fn kind(&self, answer: &str) -> Kind {
        (answer.to_owned(), self.source, self.name.clone(), self.way)
    }
}

/// A measured value against its limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Margin {
    /// Measured.
    #[serde(serialize_with = "as_number")]
    pub measured: i64,
    /// The limit that is nearer, or was missed.
    #[serde(serialize_with = "as_number")]
    pub limit: i64,
    /// What is left to the limit; negative if it was missed.
    #[serde(serialize_with = "as_number")]
    pub left: i64,
    /// Unit of the three, which are held in millionths of it.
    pub unit: String,
}

/// An input as it was sampled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct InputTold {
    /// Its name.
    pub name: String,
    /// Its value in words, as it was sampled.
    pub value: String,
    /// The rules know its value; else it counts as whatever is worse.
    pub known: bool,
    /// A cause looked at it.
    pub concerned: bool,
}

/// Millionths as a number of the unit.
#[expect(
    clippy::cast_precision_loss,
    clippy::trivially_copy_pass_by_ref,
    reason = "values stay far below two to the power of 53; serde hands over a reference"
)]
pub(super) fn as_number<S: Serializer>(micro: &i64, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_f64(*micro as f64 / 1_000_000.0)
}

/// The same for a value that may be missing.
#[expect(clippy::ref_option, reason = "serde hands over a reference")]
pub(super) fn as_maybe<S: Serializer>(micro: &Option<i64>, to: S) -> Result<S::Ok, S::Error> {
    match micro {
        Some(micro) => as_number(micro, to),
        None => to.serialize_none(),
    }
}
