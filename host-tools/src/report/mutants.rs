//! Which small changes of the rules a requirement catches, from the table that was given.

use super::Material;
use crate::mutants::table::FATES;
use crate::page::plain;
use maud::{Markup, html};

pub(super) fn section(of: &Material<'_>) -> Markup {
    let Some(table) = of.mutants else {
        return html! { p { "No table of mutants was given: how much of the rules is held by a requirement was not asked." } };
    };
    html! {
        p { "The rules were changed in one small place at a time. Caught is a change on which a requirement that was proved is missed in a "
            "history, which was replayed. Stricter and tighter are changes that are proved not to be milder, the latter only up to the first scan in "
            "which a statement does something else. The share sees no rule that was never written, and permits nothing." }
        @if table.digest != of.digest { p { strong { "It was made for other rule files than these: it says nothing of them." } } }
        p { "Tried: " (plain(&table.of())) "; " (table.said()) "." }
        div.wide { table {
            thead { tr {
                th scope="col" { "Change" } @for fate in FATES { th scope="col" { (fate) } }
            } }
            tbody { @for (kind, counts) in table.kinds() {
                tr { th scope="row" { (kind) } @for count in counts { td.number { (count) } } }
            } }
        } }
        @if table.surviving > 0 {
            p { "Changes that no requirement catches:" }
            div.wide { table {
                thead { tr { th scope="col" { "Statement" } th scope="col" { "Change" } th scope="col" { "What is known of it" } } }
                tbody { @for row in table.mutants.iter().filter(|row| row.fate == "surviving") {
                    tr { td { (plain(&row.statement)) } td { (plain(&row.what)) } td { (plain(&row.words())) } }
                } }
            } }
        }
    }
}
