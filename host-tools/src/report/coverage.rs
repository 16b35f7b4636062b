//! A published list of safety stops, and what is said of each entry.

use super::Material;
use super::requirements::requirement_id;
use crate::coverage::{Covered, coverage};
use crate::page::plain;
use crate::station::Excuse;
use maud::{Markup, html};

pub(super) fn section(of: &Material<'_>) -> Markup {
    let all = coverage(of.station, of.list);
    let open = all.entries.iter().filter(|covered| covered.is_open()).count();
    html! {
        p { (plain(&of.list.title)) "; " (plain(&of.list.source)) ". Entries in our own words. That one is answered says that the rule file says so; "
            "the competent authority's rules decide." }
        p { "Of " (all.entries.len()) " entries nothing is said of " (open) "." }
        @if !all.unknown.is_empty() { p { strong { "Named in the rule file, but not in the list: " (plain(&all.unknown.join(", "))) "." } } }
        div.wide { table {
            thead { tr { th scope="col" { "Entry" } th scope="col" { "What it asks" } th scope="col" { "What is said of it" } } }
            tbody { @for covered in &all.entries { tr {
                th scope="row" { (plain(&covered.item.name)) }
                td { (plain(&covered.item.text)) }
                td { (said(of, covered)) }
            } } }
        } }
    }
}

fn said(of: &Material<'_>, covered: &Covered<'_>) -> Markup {
    html! {
        @if covered.is_open() { span.verdict.open { "open" } }
        @if covered.is_torn() { strong { "said in two ways: " } }
        @if !covered.by.is_empty() {
            "answered by "
            @for (n, &i) in covered.by.iter().enumerate() {
                @if n > 0 { ", " }
                a href={ "#" (requirement_id(i)) } { (plain(of.station.requirements.get(i).map_or("", |r| &r.name.text))) }
            }
            " "
        }
        @for excuse in &covered.excuses { @match excuse {
            Excuse::NotApplicable(text) => { "not applicable because " (plain(text)) }
            Excuse::Elsewhere(text) => { "answered elsewhere by " (plain(text)) }
        } }
    }
}
