//! What safety functions come to, beside what is required of them.

use super::Material;
use super::requirements::requirement_id;
use crate::integrity::NOTICE;
use crate::integrity::assess::{Assessed, Sheet, Verdict};
use crate::integrity::text::{levels, number};
use crate::page::plain;
use maud::{Markup, html};

pub(super) fn section(of: &Material<'_>) -> Markup {
    html! {
        @if of.integrity.is_empty() {
            p { "No file of safety functions was given: their integrity was not worked out." }
        } @else {
            p { (NOTICE) }
            @for sheet in of.integrity { (sheet_of(of, sheet)) }
        }
    }
}

fn sheet_of(of: &Material<'_>, sheet: &Sheet) -> Markup {
    html! {
        h3 { (plain(&sheet.title)) }
        p { "From " (plain(&sheet.file)) ". Data: " (plain(&sheet.source)) "." }
        div.wide { table {
            thead { tr {
                th scope="col" { "Function" } th scope="col" { "Serves" } th scope="col" { "Demand" } th scope="col" { "Required" }
                th scope="col" { "Computed" } th scope="col" { "Level" } th scope="col" { "Result" }
            } }
            tbody { @for function in &sheet.functions { (row(of, function)) } }
        } }
        @for function in &sheet.functions { (numbers(function)) }
    }
}

fn row(of: &Material<'_>, function: &Assessed) -> Markup {
    let value =
        function.value.map_or_else(|| "not known".to_owned(), |value| format!("{} {value:.2e}", function.measure));
    html! { tr {
        th scope="row" { (plain(&function.function)) }
        td { @for (n, name) in function.serves.iter().enumerate() { @if n > 0 { ", " } (served(of, name)) } }
        td { (plain(&function.demand)) }
        td { (function.required) }
        td.number { (value) }
        td { (levels(function)) }
        td { @if function.verdict == Verdict::Reached { "reached" } @else { span.verdict.open { (function.verdict.words()) } } }
    } }
}

/// A requirement, with a link to what is said of it.
fn served(of: &Material<'_>, name: &str) -> Markup {
    let at = of.station.requirements.iter().position(|requirement| requirement.name.text == name);
    html! { @if let Some(i) = at { a href={ "#" (requirement_id(i)) } { (plain(name)) } } @else { (plain(name)) } }
}

/// Every number on the way, with its source.
fn numbers(function: &Assessed) -> Markup {
    html! { div.together {
        h4 { (plain(&function.function)) ": " (plain(&function.title)) }
        div.wide { table {
            thead { tr { th scope="col" { "Part" } th scope="col" { "What" } th scope="col" { "Number" } th scope="col" { "Source" } } }
            tbody { @for part in &function.subsystems {
                tr {
                    th scope="rowgroup" rowspan=(part.figures.len() + 1) { (part.role) ": " (plain(&part.title)) }
                    td colspan="3" {
                        (part.method)
                        @if let Some(level) = &part.at_most { "; usable for " (level) " at most" }
                        @for finding in &part.findings { "; " strong { (plain(finding)) } }
                    }
                }
                @for figure in &part.figures { tr {
                    td { (plain(&figure.what)) }
                    td.number { (number(figure)) }
                    td { (plain(&figure.source)) }
                } }
            } }
        } }
        @for reason in &function.reasons { p { (plain(reason)) "." } }
    } }
}
