//! What one scan shows of every input and output, and the two bits of a condition on it.

use std::collections::BTreeMap;

use host_tools::station::ways::Way;
use host_tools::station::{Condition, InputId, Observed};

use super::bits::Bits;

/// What one scan shows of one input; what does not fit its kind stays at its default.
#[derive(Debug, Clone)]
pub(crate) struct Seen {
    /// Closed, covered or held.
    pub(crate) high: Bits,
    /// Its level rose in this scan (detector).
    pub(crate) rises: bool,
    /// Its level fell in this scan (detector).
    pub(crate) falls: bool,
    /// A level of any of its channels changed in this scan.
    pub(crate) changes: bool,
    /// A press began in this scan (key).
    pub(crate) pressed: bool,
    /// Steps of a gauge, if they can be believed.
    pub(crate) steps: Option<i64>,
    /// Signed travel of a pace in this scan.
    pub(crate) travel: i64,
    /// Net travel of a pace in its last whole span, if known.
    pub(crate) speed: Option<i64>,
    /// Greatest net travel at which a pace is still.
    pub(crate) still: i64,
    /// A fault that lasts is there in this scan.
    pub(crate) faulty: bool,
    /// Its own ways that trip in this scan.
    pub(crate) ways: Vec<Way>,
}

impl Default for Seen {
    fn default() -> Self {
        Self {
            high: Bits::UNKNOWN,
            rises: false,
            falls: false,
            changes: false,
            pressed: false,
            steps: None,
            travel: 0,
            speed: None,
            still: 0,
            faulty: false,
            ways: Vec::new(),
        }
    }
}

/// What one scan shows.
#[derive(Debug, Clone, Default)]
pub(crate) struct View {
    /// Each input.
    pub(crate) inputs: Vec<Seen>,
    /// Each output: seen off.
    pub(crate) seen_off: Vec<Bits>,
    /// Each bypass: active (in conditions of requirements only).
    pub(crate) active: Vec<bool>,
    /// What no rule can ask (in conditions of requirements only).
    pub(crate) observed: BTreeMap<Observed, Bits>,
}

impl View {
    /// The two bits of a condition.
    pub(crate) fn bits(&self, condition: &Condition) -> Bits {
        match condition {
            Condition::All(parts) => parts.iter().fold(Bits::known(true), |all, part| all.and(self.bits(part))),
            Condition::Any(parts) => parts.iter().fold(Bits::known(false), |any, part| any.or(self.bits(part))),
            Condition::Not(part) => self.bits(part).not(),
            Condition::High(input) => self.inputs[*input].high,
            Condition::AtLeast(gauge, steps) => match self.inputs[*gauge].steps {
                Some(value) => Bits::known(value >= i64::from(*steps)),
                None => Bits::UNKNOWN,
            },
            Condition::Faster(pace, mm) => match self.inputs[*pace].speed {
                Some(speed) => Bits::known(speed.abs() >= i64::from(*mm)),
                None => Bits::UNKNOWN,
            },
            Condition::Back(pace, mm) => match self.inputs[*pace].speed {
                Some(speed) => Bits::known(-speed >= i64::from(*mm)),
                None => Bits::UNKNOWN,
            },
            Condition::Faulty(input) => Bits::known(self.inputs[*input].faulty),
            Condition::SeenOff(output) => self.seen_off[*output],
            Condition::Bypassed(bypass) => Bits::known(self.active[*bypass]),
            Condition::Observed(observed) => self.observed[observed],
        }
    }

    /// The detector rises in this scan.
    pub(crate) fn rises(&self, detector: InputId) -> bool {
        self.inputs[detector].rises
    }

    /// Forward travel of the pace in this scan.
    pub(crate) fn forward(&self, pace: InputId) -> i64 {
        self.inputs[pace].travel.max(0)
    }

    /// Backward travel of the pace in this scan.
    pub(crate) fn backward(&self, pace: InputId) -> i64 {
        (-self.inputs[pace].travel).max(0)
    }

    /// The pace is known to be still.
    pub(crate) fn still(&self, pace: InputId) -> bool {
        match self.inputs[pace].speed {
            Some(speed) => speed.abs() <= self.inputs[pace].still,
            None => false,
        }
    }

    /// The pace may be faster than so many mm in its span, in either direction.
    pub(crate) fn may_exceed(&self, pace: InputId, mm: u32) -> bool {
        match self.inputs[pace].speed {
            Some(speed) => speed.abs() > i64::from(mm),
            None => true,
        }
    }

    /// The speed is known to lie in a band of forward travel, both ends included.
    pub(crate) fn in_band(&self, pace: InputId, least: u32, most: u32) -> bool {
        match self.inputs[pace].speed {
            Some(speed) => speed >= i64::from(least) && speed <= i64::from(most),
            None => false,
        }
    }

    /// The value of the gauge may lie outside its bounds, which are allowed themselves.
    pub(crate) fn may_be_outside(&self, gauge: InputId, least: u32, most: u32) -> bool {
        match self.inputs[gauge].steps {
            Some(value) => value < i64::from(least) || value > i64::from(most),
            None => true,
        }
    }
}
