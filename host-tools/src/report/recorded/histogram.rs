//! What a watch measured, as a histogram with its limits drawn in.

use super::super::draw::{Axis, WIDE, number, round};
use crate::page::plain;
use crate::passings::counts::Counts;
use crate::replay::Limits;
use crate::station::Watch;
use maud::{Markup, html};

/// Bars at most.
const BARS: u32 = 60;
const LEFT: f64 = 60.0;
const BASE: f64 = 120.0;

/// The histogram; a sentence where nothing was measured.
#[expect(clippy::cast_precision_loss, reason = "counts and millionths stay far below two to the power of 53")]
pub(super) fn picture(watch: &Watch, limits: &Limits, counts: &Counts) -> Markup {
    let name = plain(&watch.name.text);
    let (counts, beyond) = counts.split(|judged| limits.measured(judged).is_some());
    let end = limits.measured_to().map_or(0.0, |end| end as f64 / 1e6);
    let unmeasured = html! { @if beyond > 0 {
        p { (beyond) " of " (counts.sum() + beyond) " lay at " (number(end)) " " (plain(&limits.unit)) " or beyond; farther is not measured." }
    } };
    let Some((least, most)) = counts.ends() else {
        return html! { h3 { (name) } @if beyond > 0 { (unmeasured) } @else { p { "Nothing was measured." } } };
    };
    let value = |ones: u32| limits.micro(ones) as f64 / 1e6;
    let from = limits.least.unwrap_or(least).min(least);
    let to = limits.most.unwrap_or(most).max(most);
    let wide = (to - from) / BARS + 1;
    let mut bars = vec![0_u64; 1 + ((to - from) / wide) as usize];
    for (ones, count) in counts.all() {
        if let Some(bar) = bars.get_mut(((ones - from) / wide) as usize) {
            *bar += count;
        }
    }
    let (low, high) = (value(from), value(to));
    let edge = (high - low).abs().max(value(1) - value(0)) * 0.04;
    let axis = Axis::new(low - edge, high + edge, LEFT);
    let tallest = bars.iter().copied().max().unwrap_or(1).max(1);
    let outside =
        limits.least.map_or(0, |least| counts.below(least)) + limits.most.map_or(0, |most| counts.above(most));
    let all = counts.sum();
    let ends = [limits.least, limits.most];
    let words: Vec<String> =
        ends.iter().flatten().map(|ones| format!("{} {}", number(value(*ones)), limits.unit)).collect();
    let label = format!(
        "{name}: {all} measured from {} to {} {}, limits {}, {outside} outside",
        number(value(least)),
        number(value(most)),
        limits.unit,
        words.join(" and ")
    );
    html! {
        h3 { (name) }
        p { (plain(&watch.title)) ": " (all) " measured, from " (number(value(least))) " to " (number(value(most))) " " (plain(&limits.unit))
            "; limits " (words.join(" and ")) @if outside > 0 { strong { "; " (outside) " outside" } } "." }
        (unmeasured)
        div.wide { svg viewBox={ "0 0 " (WIDE) " " (BASE + 26.0) } role="img" aria-label=(label) {
            (axis.grid(8.0, BASE, &plain(&limits.unit)))
            text x="0" y="20" { "up to " (tallest) }
            @for (bar, count) in (0_u32..).zip(&bars) {
                @if *count > 0 {
                    @let left = axis.x(value(from + bar * wide));
                    // A few passings among many are to be seen.
                    @let high = round((100.0 * *count as f64 / tallest as f64).max(1.5));
                    rect x=(left) width=(round((axis.x(value(from + (bar + 1) * wide)) - left).max(1.5))) y=(round(BASE - high)) height=(high) fill="#5b6670" {}
                }
            }
            @for limit in ends.iter().flatten() {
                line x1=(axis.x(value(*limit))) x2=(axis.x(value(*limit))) y1="8" y2=(BASE) stroke="#16191d" stroke-width="2" stroke-dasharray="5 3" {}
            }
        } }
    }
}
