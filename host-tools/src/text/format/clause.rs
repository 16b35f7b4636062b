//! The text of a clause, word by word.

use crate::text::place::{Place, Placed};
use crate::text::tree::{Condition, ConditionKind, Effect, Quantity, Said, Tally, UnderWay, Word};

/// A clause: its text and where it stood.
#[derive(Debug, Default)]
pub(super) struct Clause {
    /// Its text, on one line.
    pub(super) text: String,
    /// The first byte that is known of it.
    pub(super) start: Option<u32>,
}

impl Clause {
    /// Begins with fixed words.
    pub(super) fn new(words: &str) -> Self {
        Self::default().words(words)
    }
    /// Notes where a part of it stood.
    pub(super) fn at(mut self, place: Place) -> Self {
        self.start = Some(self.start.map_or(place.start, |start| start.min(place.start)));
        self
    }
    /// Fixed words.
    pub(super) fn words(mut self, words: &str) -> Self {
        if !self.text.is_empty() && !words.is_empty() {
            self.text.push(' ');
        }
        self.text.push_str(words);
        self
    }
    /// A comma.
    pub(super) fn comma(mut self) -> Self {
        self.text.push(',');
        self
    }
    /// A name.
    pub(super) fn name(self, name: &Word) -> Self {
        self.words(&name.value).at(name.place)
    }
    /// Names joined by `and`.
    pub(super) fn names(mut self, names: &[Word]) -> Self {
        for (i, name) in names.iter().enumerate() {
            if i > 0 {
                self = self.words("and");
            }
            self = self.name(name);
        }
        self
    }
    /// A title.
    pub(super) fn title(self, title: &Placed<String>) -> Self {
        self.words(&format!("\"{}\"", title.value)).at(title.place)
    }
    /// A title, if there is one.
    pub(super) fn maybe_title(self, title: Option<&Placed<String>>) -> Self {
        match title {
            Some(title) => self.title(title),
            None => self,
        }
    }
    /// A number without unit.
    pub(super) fn count(self, count: &Placed<u32>) -> Self {
        self.words(&count.value.to_string()).at(count.place)
    }
    /// A number of carriers.
    pub(super) fn carriers(self, count: &Placed<u32>) -> Self {
        let word = if count.value == 1 { "carrier" } else { "carriers" };
        self.count(count).words(word)
    }
    /// `under way from DETECTOR for at most X of PACE`.
    fn under_way(self, way: &UnderWay) -> Self {
        let UnderWay { from, length, pace } = way;
        self.words("under way from").name(from).words("for at most").quantity(length).words("of").name(pace)
    }
    /// `miscounts carriers from DETECTOR, at most N and N when KEY pressed for T`.
    fn tally(self, tally: &Tally) -> Self {
        let clause =
            self.words("miscounts carriers from").name(&tally.from).comma().words("at most").count(&tally.most);
        let clause = clause.words("and").count(&tally.confirmed).words("when").name(&tally.key);
        let clause = clause.words("pressed for").quantity(&tally.pressed);
        match &tally.unknown {
            Some((key, time)) => clause.comma().words("unknown once").name(key).words("pressed for").quantity(time),
            None => clause,
        }
    }
    /// A quantity.
    pub(super) fn quantity(self, quantity: &Quantity) -> Self {
        self.words(&number(quantity)).at(quantity.place)
    }
    /// `V to V`.
    pub(super) fn range(self, low: &Quantity, high: &Quantity) -> Self {
        self.quantity(low).words("to").quantity(high)
    }
    /// `X of PACE`.
    pub(super) fn of(self, length: &Quantity, pace: &Word) -> Self {
        self.quantity(length).words("of").name(pace)
    }
    /// A condition.
    pub(super) fn condition(self, condition: &Condition) -> Self {
        let clause = self.at(condition.place);
        match &condition.kind {
            ConditionKind::All(parts) => clause.joined(parts, "and"),
            ConditionKind::Any(parts) => clause.joined(parts, "or"),
            ConditionKind::Not(inner) => clause.words("not").part(inner),
            ConditionKind::Simple(name, said) => clause.name(name).said(said),
        }
    }
    /// What a confirm waits for.
    pub(super) fn effect(self, effect: &Effect) -> Self {
        match effect {
            Effect::Holds(condition) => self.condition(condition),
            Effect::Slower(pace, drop) => self.name(pace).words("slower by").quantity(drop),
        }
    }
    fn joined(mut self, parts: &[Condition], joint: &str) -> Self {
        for (i, part) in parts.iter().enumerate() {
            if i > 0 {
                self = self.words(joint);
            }
            self = self.part(part);
        }
        self
    }
    /// A condition within another.
    fn part(self, condition: &Condition) -> Self {
        match condition.kind {
            ConditionKind::All(_) | ConditionKind::Any(_) => {
                let inner = Clause::default().condition(condition);
                self.words(&format!("({})", inner.text)).at(condition.place)
            }
            ConditionKind::Not(_) | ConditionKind::Simple(..) => self.condition(condition),
        }
    }
    fn said(self, said: &Said) -> Self {
        match said {
            Said::Open => self.words("open"),
            Said::Closed => self.words("closed"),
            Said::Covered => self.words("covered"),
            Said::Clear => self.words("clear"),
            Said::Held => self.words("held"),
            Said::Free => self.words("free"),
            Said::Above(value) => self.words("above").quantity(value),
            Said::Below(value) => self.words("below").quantity(value),
            Said::Between(low, high) => self.words("between").quantity(low).words("and").quantity(high),
            Said::Outside(low, high) => self.words("outside").range(low, high),
            Said::Faster(value) => self.words("faster than").quantity(value),
            Said::AtMost(value) => self.words("at most").quantity(value),
            Said::Still => self.words("still"),
            Said::Moving => self.words("moving"),
            Said::RollsBack(value) => self.words("rolls back faster than").quantity(value),
            Said::Faulty => self.words("faulty"),
            Said::SeenOff => self.words("seen off"),
            Said::Active => self.words("active"),
            Said::Stands => self.words("stands"),
            Said::Released => self.words("released"),
            Said::Differing => self.words("differing"),
            Said::DifferedOver(time) => self.words("differed for over").quantity(time),
            Said::Silent => self.words("silent"),
            Said::Pressed(time) => self.words("pressed for").quantity(time),
            Said::CoveredOver(length, pace) => self.words("covered for over").quantity(length).words("of").name(pace),
            Said::Changes(count) => self.words("changes over").count(count).words("times a second"),
            Said::Miscounts(tally) => self.tally(tally),
            Said::MovesOver(by) => self.words("moves over").quantity(by).words("a scan"),
            Said::SourcesDiffer(by) => self.words("has sources that differ by more than").quantity(by),
            Said::RisesCloser(length, pace) => {
                self.words("rises less than").quantity(length).words("of").name(pace).words("apart")
            }
            Said::RisesFarther(length, pace) => {
                self.words("rises more than").quantity(length).words("of").name(pace).words("apart")
            }
            Said::RisesUnawaited(way) => self.words("rises with no carrier").under_way(way),
            Said::Awaits(count, way) => self.words("awaits over").carriers(count).under_way(way),
            Said::DiffersFrom(other, by) => self.words("differs from").name(other).words("by more than").quantity(by),
        }
    }
}

/// A quantity with as many decimals as were written.
fn number(quantity: &Quantity) -> String {
    let decimals = usize::from(quantity.decimals);
    let sign = if quantity.mantissa < 0 { "-" } else { "" };
    let digits = format!("{:0>1$}", quantity.mantissa.unsigned_abs(), decimals + 1);
    let (whole, part) = digits.split_at(digits.len() - decimals);
    let point = if decimals > 0 { "." } else { "" };
    format!("{sign}{whole}{point}{part} {}", quantity.unit.text())
}
