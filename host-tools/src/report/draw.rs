//! What the pictures share: an axis with round marks.

use maud::{Markup, html};

/// Width of a picture, in its own units.
pub(super) const WIDE: f64 = 960.0;

/// A stretch of numbers laid out from left to right.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    from: f64,
    to: f64,
    left: f64,
    right: f64,
}

impl Axis {
    /// From a number at the left edge to another at the right; an empty stretch is widened.
    pub(super) fn new(from: f64, to: f64, left: f64) -> Self {
        let to = if to > from { to } else { from + 1.0 };
        Self { from, to, left, right: WIDE - 20.0 }
    }
    /// Where a number lies, held to the picture.
    pub(super) fn x(&self, value: f64) -> f64 {
        let share = ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        round(self.left + share * (self.right - self.left))
    }
    /// Five to ten round numbers.
    pub(super) fn marks(&self) -> Vec<f64> {
        let span = self.to - self.from;
        let power = 10_f64.powf((span / 5.0).log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * power).into_iter().find(|step| span / step <= 8.0);
        let step = step.unwrap_or(span);
        let mut marks = Vec::new();
        let mut mark = (self.from / step).ceil() * step;
        while mark <= self.to + step / 1_000.0 && marks.len() < 20 {
            marks.push(mark);
            mark += step;
        }
        marks
    }
    /// Thin lines at the marks, with their numbers below.
    pub(super) fn grid(&self, top: f64, bottom: f64, unit: &str) -> Markup {
        html! {
            @for mark in self.marks() {
                line x1=(self.x(mark)) x2=(self.x(mark)) y1=(top) y2=(bottom) stroke="#d4d8dc" {}
                text.soft x=(self.x(mark)) y=(bottom + 14.0) text-anchor="middle" { (number(mark)) " " (unit) }
            }
        }
    }
}

/// A number without needless digits.
pub(super) fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// To a tenth, so that a picture holds no more digits than can be seen.
pub(super) fn round(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_round() {
        let texts = |from, to| Axis::new(from, to, 0.0).marks().into_iter().map(number).collect::<Vec<_>>();
        assert_eq!(texts(0.0, 7.2), ["0", "1", "2", "3", "4", "5", "6", "7"]);
        assert_eq!(texts(-0.5, 0.5), ["-0.4", "-0.2", "0", "0.2", "0.4"]);
        assert_eq!(texts(3.0, 3.0).len(), 6);
    }
}
