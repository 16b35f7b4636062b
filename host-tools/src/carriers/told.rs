//! How the values of carriers are told: their names, their units, and the limits that the rules set them.

use super::trend::Own;
use crate::replay::{Limits, in_words};
use crate::station::{InputKind, Measure, Station};

/// How a value is told.
#[derive(Debug, Clone)]
pub struct Told {
    /// Name of its watch.
    pub name: String,
    /// Unit.
    pub unit: String,
    /// Least and greatest that its watch lets pass, as the value itself.
    pub limits: [Option<f64>; 2],
    /// It is a grip's force, of which the limits are looked ahead to.
    is_force: bool,
    /// Millionths of the unit in one, and the value of 0 in ones.
    one: f64,
    zero: f64,
}

impl Told {
    /// The force that this measure judges, then each travel of these names, in metres of rope.
    pub fn all(station: &Station, number: usize, measure: &Measure, travels: Vec<String>) -> Vec<Self> {
        let name = station.watches.get(number).map(|watch| watch.name.text.clone()).unwrap_or_default();
        let mut all = Vec::new();
        if let Some(InputKind::Gauge(gauge)) = station.inputs.get(measure.gauge).map(|input| &input.kind) {
            let limits = [Some(f64::from(measure.least)), Some(f64::from(measure.most))];
            #[expect(clippy::cast_precision_loss, reason = "steps of a gauge stay far below two to the power of 53")]
            let (one, zero) = (gauge.step_micro as f64, gauge.lowest as f64);
            all.push(Self { name, unit: gauge.unit.clone(), limits, is_force: true, one, zero });
        }
        for name in travels {
            let watch = station.watches.iter().find(|watch| watch.name.text == name);
            // A window in time says nothing of rope.
            let window = watch.and_then(|watch| Limits::of(station, watch)).filter(|limits| limits.rope.is_some());
            let limits = window.map_or([None; 2], |window| [window.least, window.most].map(|end| end.map(f64::from)));
            all.push(Self { name, unit: "m".into(), limits, is_force: false, one: 1_000.0, zero: 0.0 });
        }
        all
    }
    /// A value in words.
    pub fn in_unit(&self, value: f64) -> String {
        micro((value + self.zero) * self.one, &self.unit)
    }
    /// A value as a number of its unit, in words, without the unit.
    pub fn bare(&self, value: f64) -> String {
        micro((value + self.zero) * self.one, "")
    }
    /// A difference of values in words.
    pub fn apart(&self, value: f64) -> String {
        micro(value * self.one, &self.unit)
    }
    /// The same without the unit.
    pub fn bare_apart(&self, value: f64) -> String {
        micro(value * self.one, "")
    }
    /// A value as a number of its unit.
    pub fn number(&self, value: f64) -> f64 {
        (value + self.zero) * self.one / 1e6
    }
    /// Days until a force is at its limit, if it goes on so.
    pub fn days_to_limit(&self, own: &Own) -> Option<f64> {
        self.is_force.then(|| own.days_to(self.limits[0], self.limits[1]))?
    }
}

/// Millionths in words; a carrier's values are means, so they are rounded.
#[expect(clippy::cast_possible_truncation, reason = "`as` saturates, which is what is wanted here")]
fn micro(value: f64, unit: &str) -> String {
    in_words(value.round() as i64, unit).trim_end().to_owned()
}
