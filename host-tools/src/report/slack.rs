//! How far each limit lies from a lost requirement, from the table that was given.

use super::Material;
use super::draw::round;
use crate::page::plain;
use crate::slack::table::Row;
use maud::{Markup, html};

/// Size of a bar.
const LONG: f64 = 300.0;
const HIGH: f64 = 16.0;

pub(super) fn section(of: &Material<'_>) -> Markup {
    let Some(table) = of.slack else {
        return html! { p { "No table of slack was given: how far limits lie from a lost requirement was not asked." } };
    };
    html! {
        p { "Slack is the distance of a limit to a lost requirement. It permits nothing: it sees only what requirements ask, and the numbers "
            "of a station come from its mechanics, its tests and the authority. The bar reaches as far as all was proved and checked; the mark is the limit." }
        @if table.digest != of.digest { p { strong { "It was made for other rule files than these: it says nothing of them." } } }
        @if table.limits.len() < table.in_all {
            p { strong { "Only " (table.limits.len()) " of all " (table.in_all) " limits were looked at." } }
        }
        div.wide { table {
            thead { tr { th scope="col" { "Watch" } th scope="col" { "Limit" } th scope="col" { "Slack" } th scope="col" { "What ends it" } } }
            tbody { @for row in &table.limits {
                tr {
                    td { (plain(&row.watch)) }
                    td { (plain(&row.sentence)) ": " strong { (plain(&row.limit)) } }
                    td { (bar(row)) }
                    td {
                        @if row.held_by_none {
                            "No requirement depends on this limit: either the rule is idle, or a requirement is missing."
                        } @else {
                            "down to " (plain(&row.down.to)) "; " (plain(&row.down.words())) ". up to " (plain(&row.up.to)) "; "
                            (plain(&row.up.words())) "."
                        }
                    }
                }
            } }
        } }
    }
}

/// The limits at whose movement a requirement is lost.
pub(super) fn beside(of: &Material<'_>, requirement: &str) -> Markup {
    let rows = of.slack.filter(|table| table.digest == of.digest).map_or(&[][..], |table| table.limits.as_slice());
    let all = rows.iter().flat_map(|row| [&row.down, &row.up].map(|way| (row, way)));
    let lost: Vec<_> = all.filter(|(_, way)| way.loses(requirement)).collect();
    html! {
        @if !lost.is_empty() {
            p.soft { "Distance to its loss, which permits nothing:" }
            ul.soft { @for (row, way) in &lost {
                li { (plain(&row.watch)) ", " (plain(&row.sentence)) ": " (plain(&row.limit)) "; it holds to " (plain(&way.to)) }
            } }
        }
    }
}

/// From the least to the greatest value at which all was proved, with the limit on it.
#[expect(clippy::cast_precision_loss, reason = "a picture needs no more digits")]
fn bar(row: &Row) -> Markup {
    let (from, to, at) = (row.down.micro as f64, row.up.micro as f64, row.micro as f64);
    // The limit in the middle; what reaches farther than its own size ends at the edge.
    let size = at.abs().max(1.0);
    let x = |value: f64| round(((value - at) / size / 2.0 + 0.5).clamp(0.0, 1.0) * LONG);
    let says = format!("proved from {} to {}, the limit is {}", row.down.to, row.up.to, row.limit);
    html! {
        svg role="img" aria-label=(plain(&says)) viewBox={ "0 0 " (LONG) " " (HIGH) } width=(LONG) height=(HIGH) {
            rect x="0" y="6" width=(LONG) height="4" fill="#e4e7ea" {}
            rect x=(x(from)) y="3" width=(round((x(to) - x(from)).max(1.0))) height="10" fill="#8fa3b5" {}
            line x1=(x(at)) x2=(x(at)) y1="0" y2=(HIGH) stroke="#1a1d21" stroke-width="2" {}
        }
    }
}
