//! Campaigns on a controller, from the records that were given.

use super::Material;
use crate::campaign::html::{table, told};
use crate::campaign::{CAUTIONS, Result};
use maud::{Markup, html};

pub(super) fn section(of: &Material<'_>) -> Markup {
    html! {
        @if of.campaigns.is_empty() { p { "No record of a campaign was given: nothing is said of a controller." } } @else {
            ul { @for caution in CAUTIONS { li { (caution) } } }
        }
        @for record in of.campaigns {
            (told(record))
            @if record.digest != of.digest { p { strong { "It was made for other rule files than these: it says nothing of them." } } }
            @if record.rows.iter().any(|row| row.result != Result::Passed) {
                p { "Rows that did not pass:" }
                (table(record.rows.iter().filter(|row| row.result != Result::Passed)))
            }
        }
    }
}
