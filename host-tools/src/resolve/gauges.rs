//! Gauges: scale, bands and bounds.

use super::context::{Cx, GaugeFacts};
use super::exact::Exact;
use super::inputs::millionths;
use super::names::Sort;
use super::units::{MOST, Side, base, text};
use crate::station::{Gauge, InputId};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::tree::{self, Dimension, Quantity};

/// Trusted currents of NAMUR NE 43, microampere.
const TRUSTED: (i32, i32) = (3_800, 20_500);
/// Currents of NAMUR NE 43 at or beyond which the loop has failed.
const BROKEN: (i32, i32) = (3_600, 21_000);

impl Cx {
    fn current(&mut self, q: &Quantity) -> Option<i32> {
        let value = self.natural(q, Dimension::Current)?;
        let value = self.held(value.over(Exact::whole(1_000)), q)?;
        let whole = self.whole(q, value, "a microampere")?;
        self.held(i32::try_from(whole).ok().filter(|ua| *ua < 1_000_000), q)
    }
    /// Millionths of a gauge's unit.
    fn micro(&mut self, q: &Quantity, unit: tree::Unit) -> Option<i64> {
        let value = self.exact(q, unit.dimension())?;
        let value = self.held(millionths(value, unit.base()), q)?;
        let whole = self.whole(q, value, &format!("a millionth of 1 {}", unit.text()))?;
        self.held(i64::try_from(whole).ok(), q)
    }
    fn trusted(&mut self, written: Option<&(Quantity, Quantity)>) -> Option<(i32, i32)> {
        let Some((from, to)) = written else { return Some(TRUSTED) };
        let (low, high) = (self.current(from), self.current(to));
        let (low, high) = (low?, high?);
        self.ordered(from, to)?;
        if low == high {
            self.empty(from.place, to.place, &text(from), &text(to), "no current is trusted");
            return None;
        }
        for (q, bad) in [(from, low <= BROKEN.0), (to, high >= BROKEN.1)] {
            if bad {
                let finding = Finding::new(
                    Code::NumberSenseless,
                    format!("{} cannot be trusted: at 3.6 mA or 21 mA the loop counts as broken", text(q)),
                )
                .at(q.place, "inside the band that tells a failed loop")
                .help("trust only currents above 3.6 mA and below 21 mA");
                self.findings.push(finding);
                return None;
            }
        }
        Some((low, high))
    }
    /// Facts of a gauge's scale; rest and movement see [`Cx::gauge`].
    fn scale(&mut self, g: &tree::Gauge) -> Option<(Gauge, GaugeFacts)> {
        let [(c0, v0), (c1, v1)] = &g.points;
        let unit = v0.unit;
        let (ua0, ua1) = (self.current(c0), self.current(c1));
        let (at0, at1) = (self.micro(v0, unit), self.micro(v1, unit));
        let trusted = self.trusted(g.trusted.as_ref());
        let step_micro = match &g.steps {
            None => Some(1_000_000),
            Some(q) => self.positive(q, unit.dimension()).and_then(|_| self.micro(q, unit)),
        };
        let (ua0, ua1, at0, at1, trusted, step_micro) = (ua0?, ua1?, at0?, at1?, trusted?, step_micro?);
        if ua0 == ua1 || at0 == at1 {
            let same = if ua0 == ua1 { "current" } else { "value" };
            let finding =
                Finding::new(Code::NumberSenseless, format!("the two points of the scale have the same {same}"))
                    .at(c1.place, "second point")
                    .at(c0.place, "first point")
                    .help("give two points that differ in current and in value");
            self.findings.push(finding);
            return None;
        }
        let value_at = |ua: i32| -> Option<Exact> {
            let rise = Exact::new(i128::from(at1) - i128::from(at0), i128::from(ua1) - i128::from(ua0))?;
            let run = Exact::whole(i128::from(ua) - i128::from(ua0));
            rise.times(run)?.plus(Exact::whole(i128::from(at0)))?.over(Exact::whole(i128::from(step_micro)))
        };
        let ends = value_at(trusted.0).zip(value_at(trusted.1));
        let (a, b) = self.held(ends, v1)?;
        let order = a.order(b);
        let (low, high) = if self.held(order, v1)?.is_gt() { (b, a) } else { (a, b) };
        let (lowest, top) = (low.floor(), high.ceil().saturating_sub(low.floor()));
        let fits = u32::try_from(top).ok().filter(|n| *n < MOST).zip(i64::try_from(lowest).ok());
        let (top, lowest) = self.held(fits, v1)?;
        let step_base = match &g.steps {
            Some(q) => base(q),
            None => Some(Exact::whole(i128::from(unit.base()))),
        };
        let facts = GaugeFacts {
            dimension: unit.dimension(),
            unit: unit.text(),
            step: self.held(step_base, v0)?,
            step_text: g.steps.as_ref().map_or_else(|| format!("1 {}", unit.text()), text),
            step_micro,
            lowest: i128::from(lowest),
            top,
            place: g.name.place,
        };
        let gauge = Gauge {
            terminal: 0,
            unit: unit.text().to_owned(),
            step_micro,
            points: [(ua0, at0), (ua1, at1)],
            trusted_ua: trusted,
            broken_ua: BROKEN,
            lowest,
            top,
            moves_at_most: None,
            rests: None,
        };
        Some((gauge, facts))
    }
    /// A gauge.
    pub(super) fn gauge(&mut self, g: &tree::Gauge, id: InputId, terminal: usize) -> Option<Gauge> {
        let (gauge, facts) = self.scale(g)?;
        let top = facts.top;
        self.gauges.insert(id, facts);
        let moves = match &g.moves {
            None => Some(None),
            Some(q) => {
                self.natural(q, q.unit.dimension())?;
                let steps = self.steps_from_zero(q, id, Side::Trip)?;
                self.fit(steps, q).map(Some)
            }
        };
        let rests = match &g.rests {
            None => Some(None),
            Some((within, of, detector)) => {
                let detector = self.one(detector, Sort::Detector);
                let bounds = self.rest_bounds(within, of, id, top);
                detector.zip(bounds).map(|(detector, (least, most))| Some((detector, least, most)))
            }
        };
        Some(Gauge { terminal, moves_at_most: moves?, rests: rests?, ..gauge })
    }
    fn rest_bounds(&mut self, within: &Quantity, of: &Quantity, id: InputId, top: u32) -> Option<(u32, u32)> {
        let facts = self.gauges.get(&id)?.clone();
        let (width, middle) = (self.natural(within, facts.dimension)?, self.exact(of, facts.dimension)?);
        let ends = middle.minus(width).zip(middle.plus(width));
        let steps = ends.and_then(|(low, high)| low.over(facts.step).zip(high.over(facts.step)));
        let (low, high) = self.held(steps, of)?;
        let (least, most) = (low.ceil().saturating_sub(facts.lowest), high.floor().saturating_sub(facts.lowest));
        if !low.is_whole() || !high.is_whole() {
            let (low, high) = (facts.value_text(low.ceil()), facts.value_text(high.floor()));
            let message = format!(
                "{} of {} does not end at whole steps of {}; {low} to {high} is taken, rounded inwards, so that the window is no wider than written",
                text(within),
                text(of),
                facts.step_text
            );
            self.findings
                .push(Finding::new(Code::LimitRounded, message).at(within.place, format!("becomes {low} to {high}")));
        }
        if least > most || least > i128::from(top) || most < 0 {
            self.empty(
                within.place,
                of.place,
                "the lower rest bound",
                "the upper one",
                "no step of the gauge lies between them",
            );
            return None;
        }
        Some((self.fit(least.max(0), within)?, self.fit(most.min(i128::from(top)), within)?))
    }
}
