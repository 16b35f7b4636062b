//! Quantities to whole scans, millimetres and steps, rounded to the strict side and said so.

use super::context::Cx;
use super::exact::Exact;
use crate::station::InputId;
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Place;
use crate::text::tree::{Dimension, Quantity};

/// The greatest limit: two of them and a scan's travel still add up in a step.
pub(super) const MOST: u32 = 1 << 28;

/// Why a limit is rounded the way it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    /// Settling.
    Settle,
    /// Hold of a permission, restart delay, rest of a bypass, shortest press.
    Permission,
    /// Hold or tolerance of a trip.
    Trip,
    /// What may be used or allowed: a budget, a speed limit.
    Allowed,
    /// Lower bound of a window or band.
    Least,
    /// Upper bound of a window or band.
    Greatest,
    /// Gauge `above V`.
    Above,
    /// Gauge `below V`.
    Below,
    /// Length over which something is judged.
    Judged,
    /// Distance that is assumed.
    Assumed,
    /// A time of the plant that a stop needs, or its greatest deceleration.
    PlantMost,
    /// A shortest time or least deceleration of the plant.
    PlantLeast,
}

impl Side {
    fn up(self) -> bool {
        matches!(self, Side::Settle | Side::Permission | Side::Least | Side::Below | Side::Judged | Side::PlantMost)
    }
    fn why(self) -> &'static str {
        match self {
            Side::Settle => "nothing shorter than written is taken for a change",
            Side::Permission => "the permission comes no sooner than written",
            Side::Trip => "it trips no later than written",
            Side::Allowed => "no more is allowed than written",
            Side::Least | Side::Greatest => "the window is no wider than written",
            Side::Above => "it trips at the first step above",
            Side::Below => "it trips at the last step below",
            Side::Judged => "it is judged for no less than written",
            Side::Assumed => "no more is assumed than written",
            Side::PlantMost => "no less than written is reckoned with",
            Side::PlantLeast => "no more than written is reckoned with",
        }
    }
}

/// A quantity as it is written.
pub(super) fn text(q: &Quantity) -> String {
    let digits = q.mantissa.unsigned_abs().to_string();
    let decimals = usize::from(q.decimals);
    let padded = format!("{digits:0>width$}", width = decimals + 1);
    let (whole, rest) = padded.split_at(padded.len().saturating_sub(decimals));
    let point = if decimals == 0 { "" } else { "." };
    let sign = if q.mantissa < 0 { "-" } else { "" };
    format!("{sign}{whole}{point}{rest} {}", q.unit.text())
}

/// How many base units a quantity is.
pub(super) fn base(q: &Quantity) -> Option<Exact> {
    let num = i128::from(q.mantissa).checked_mul(i128::from(q.unit.base()))?;
    Exact::new(num, 10_i128.checked_pow(u32::from(q.decimals))?)
}

impl Cx {
    /// Base units of a quantity that must have this dimension.
    pub(super) fn exact(&mut self, q: &Quantity, dimension: Dimension) -> Option<Exact> {
        let own = q.unit.dimension();
        if own != dimension {
            let finding = Finding::new(
                Code::UnitWrong,
                format!("{} is {}; {} is needed here", text(q), own.text(), dimension.text()),
            )
            .at(q.place, format!("{} is needed here", dimension.text()))
            .help(format!("write {}", dimension.text()));
            self.findings.push(finding);
            return None;
        }
        let value = base(q);
        if value.is_none() {
            self.too_large(q.place, &text(q));
        }
        value
    }
    /// As [`Cx::exact`], not negative.
    pub(super) fn natural(&mut self, q: &Quantity, dimension: Dimension) -> Option<Exact> {
        let value = self.exact(q, dimension)?;
        if value.sign() < 0 {
            let finding = Finding::new(Code::NumberSenseless, format!("{} is less than nothing", text(q)))
                .at(q.place, "must not be negative")
                .help("write it without the minus sign; directions are said in words");
            self.findings.push(finding);
            return None;
        }
        Some(value)
    }
    /// As [`Cx::exact`], more than zero.
    pub(super) fn positive(&mut self, q: &Quantity, dimension: Dimension) -> Option<Exact> {
        let value = self.natural(q, dimension)?;
        if value.sign() == 0 {
            self.zero(q.place, &text(q));
            return None;
        }
        Some(value)
    }
    /// Finding: something that must be more than zero is not.
    pub(super) fn zero(&mut self, place: Place, what: &str) {
        let finding = Finding::new(Code::NumberSenseless, format!("{what} has no meaning here"))
            .at(place, "must be more than nothing");
        self.findings.push(finding.help("write a value of at least one scan, millimetre or step"));
    }
    /// Finding: beyond what the program can hold.
    pub(super) fn too_large(&mut self, place: Place, what: &str) {
        let finding = Finding::new(Code::TooLarge, format!("{what} is more than can be kept"))
            .at(place, format!("the greatest limit is {MOST} scans, millimetres or steps"));
        self.findings.push(finding.help("write a smaller value; one that is never reached can be left out"));
    }
    /// Unwraps what could not be held.
    pub(super) fn held<T>(&mut self, value: Option<T>, q: &Quantity) -> Option<T> {
        if value.is_none() {
            self.too_large(q.place, &text(q));
        }
        value
    }
    /// Rounds, notes that it did, and keeps the sign.
    fn round(&mut self, q: &Quantity, value: Exact, side: Side, unit: &str) -> i128 {
        let whole = if side.up() { value.ceil() } else { value.floor() };
        if !value.is_whole() {
            let message = format!(
                "{} is {} {unit}; {whole} is taken, rounded {}, so that {}",
                text(q),
                value.text(),
                if side.up() { "up" } else { "down" },
                side.why()
            );
            self.findings
                .push(Finding::new(Code::LimitRounded, message).at(q.place, format!("becomes {whole} {unit}")));
        }
        whole
    }
    /// A whole number within the limits.
    pub(super) fn fit(&mut self, whole: i128, q: &Quantity) -> Option<u32> {
        let fits = u32::try_from(whole).ok().filter(|n| *n < MOST);
        self.held(fits, q)
    }
    /// Scans of a time.
    pub(super) fn scans(&mut self, q: &Quantity, side: Side) -> Option<u32> {
        let time = self.natural(q, Dimension::Time)?;
        let value = self.held(time.over(Exact::whole(self.scan)), q)?;
        let unit = format!("scans of {}", self.scan_text());
        let whole = self.round(q, value, side, &unit);
        self.fit(whole, q)
    }
    /// Scans of a time, at least one.
    pub(super) fn some_scans(&mut self, q: &Quantity, side: Side) -> Option<u32> {
        let scans = self.scans(q, side)?;
        if scans == 0 {
            self.zero(q.place, &format!("{}, less than a scan of {},", text(q), self.scan_text()));
            return None;
        }
        Some(scans)
    }
    /// Millimetres of a length.
    pub(super) fn mm(&mut self, q: &Quantity, side: Side) -> Option<u32> {
        let length = self.natural(q, Dimension::Length)?;
        let value = self.held(length.over(Exact::whole(1_000)), q)?;
        let whole = self.round(q, value, side, "mm");
        self.fit(whole, q)
    }
    /// Microseconds of a time.
    pub(super) fn us(&mut self, q: &Quantity, side: Side) -> Option<u32> {
        let time = self.natural(q, Dimension::Time)?;
        let whole = self.round(q, time, side, "microseconds");
        self.held(u32::try_from(whole).ok(), q)
    }
    /// mm/s² of a deceleration.
    pub(super) fn deceleration(&mut self, q: &Quantity, side: Side) -> Option<u32> {
        let value = self.positive(q, Dimension::Acceleration)?;
        let value = self.held(value.over(Exact::whole(1_000)), q)?;
        let whole = self.round(q, value, side, "mm/s2");
        self.fit(whole, q)
    }
    /// A length that must be whole millimetres.
    pub(super) fn whole_mm(&mut self, q: &Quantity) -> Option<u32> {
        let length = self.natural(q, Dimension::Length)?;
        let value = self.held(length.over(Exact::whole(1_000)), q)?;
        self.whole(q, value, "a millimetre").and_then(|whole| self.fit(whole, q))
    }
    /// A value that must be a whole number of something.
    pub(super) fn whole(&mut self, q: &Quantity, value: Exact, of: &str) -> Option<i128> {
        if value.is_whole() {
            return Some(value.floor());
        }
        let finding = Finding::new(Code::NumberSenseless, format!("{} is finer than {of}", text(q)))
            .at(q.place, format!("must be a whole multiple of {of}"));
        self.findings.push(finding.help("round it here, where a reviewer sees it"));
        None
    }
    /// Exact travel in mm of a speed over so many scans.
    pub(super) fn travel(&mut self, q: &Quantity, speed: Exact, scans: u32) -> Option<Exact> {
        let time = i128::from(scans).checked_mul(self.scan).map(Exact::whole);
        let value =
            time.and_then(|time| speed.times(time)).and_then(|product| product.over(Exact::whole(1_000_000_000)));
        self.held(value, q)
    }
    /// Millimetres that a speed is in the span of a pace.
    pub(super) fn in_span(&mut self, q: &Quantity, pace: InputId, side: Side) -> Option<u32> {
        let speed = self.natural(q, Dimension::Speed)?;
        let span = self.paces.get(&pace)?.span;
        let value = self.travel(q, speed, span)?;
        let unit = format!("mm in the span of {span} scans");
        let whole = self.round(q, value, side, &unit);
        self.fit(whole, q)
    }
    /// Signed steps of a value of a gauge, counted from value 0.
    pub(super) fn steps_from_zero(&mut self, q: &Quantity, gauge: InputId, side: Side) -> Option<i128> {
        let facts = self.gauges.get(&gauge)?.clone();
        let value = self.exact(q, facts.dimension)?;
        let value = self.held(value.over(facts.step), q)?;
        let unit = format!("steps of {}", facts.step_text);
        Some(self.round(q, value, side, &unit))
    }
    /// Steps above a gauge's lowest. Those that cannot be reached are cut to one beyond the range, and told.
    pub(super) fn steps(&mut self, q: &Quantity, gauge: InputId, side: Side) -> Option<i128> {
        let from_zero = self.steps_from_zero(q, gauge, side)?;
        let facts = self.gauges.get(&gauge)?.clone();
        let steps = self.held(from_zero.checked_sub(facts.lowest), q)?;
        let top = i128::from(facts.top);
        let never = match side {
            Side::Above => steps < 0 || steps >= top,
            Side::Below => steps <= 0 || steps > top,
            _ => steps < 0 || steps > top,
        };
        if never {
            let (low, high) = (facts.value_text(facts.lowest), facts.value_text(facts.lowest.saturating_add(top)));
            let finding = Finding::new(
                Code::LimitOutOfReach,
                format!("{} is outside what the gauge can show, {low} to {high}", text(q)),
            )
            .at(q.place, "makes no difference while the current is trusted")
            .at(facts.place, format!("shows {low} to {high}"))
            .help("correct the limit, or the two points of the gauge's scale");
            self.findings.push(finding);
        }
        Some(steps.clamp(-1, top + 1))
    }
    /// Least and greatest step of `V to V`.
    pub(super) fn bounds(&mut self, low: &Quantity, high: &Quantity, gauge: InputId) -> Option<(u32, u32)> {
        let top = i128::from(self.gauges.get(&gauge)?.top);
        self.ordered(low, high)?;
        let (least, most) = (self.steps(low, gauge, Side::Least), self.steps(high, gauge, Side::Greatest));
        let (least, most) = (least?, most?);
        if least > most || least > top || most < 0 {
            self.empty(low.place, high.place, &text(low), &text(high), "no step of the gauge lies between them");
            return None;
        }
        Some((self.fit(least.max(0), low)?, self.fit(most.min(top), high)?))
    }
    /// Refuses bounds that stand the wrong way round.
    pub(super) fn ordered(&mut self, low: &Quantity, high: &Quantity) -> Option<()> {
        let dimension = low.unit.dimension();
        let (a, b) = (self.exact(low, dimension)?, self.exact(high, dimension)?);
        let order = a.order(b);
        if self.held(order, high)?.is_gt() {
            let finding = Finding::new(
                Code::BoundsReversed,
                format!("the first bound, {}, is greater than the second, {}", text(low), text(high)),
            )
            .at(low.place, "the greater one")
            .at(high.place, "the smaller one")
            .help(format!("write {} first", text(high)));
            self.findings.push(finding);
            return None;
        }
        Some(())
    }
    /// Finding: nothing lies between two bounds.
    pub(super) fn empty(&mut self, low: Place, high: Place, from: &str, to: &str, why: &str) {
        let finding = Finding::new(Code::WindowEmpty, format!("nothing fits between {from} and {to}: {why}"))
            .at(high, "upper bound")
            .at(low, "lower bound")
            .help("widen the window, shorten the scan, or narrow the greatest speed of the pace");
        self.findings.push(finding);
    }
}
