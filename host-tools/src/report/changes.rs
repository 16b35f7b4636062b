//! What differs from the revision that was approved last: in what is published, in what is approved beside it, and line by line.

use super::Material;
use crate::compare::Comparison;
use crate::compare::side::Difference;
use crate::page::plain;
use maud::{Markup, html};
use similar::{ChangeTag, TextDiff};

/// What the change does to all that is published.
fn judged(compared: &Comparison) -> Markup {
    let said = |difference: &Difference| {
        if compared.never.contains(difference) {
            ("never", false)
        } else if compared.is_shown(*difference) {
            ("yes, a history shows it", true)
        } else {
            ("undecided", true)
        }
    };
    let verdict = |difference: &Difference| {
        let (words, open) = said(difference);
        html! { span.verdict.open[open] { (words) } }
    };
    let milder = compared.words.iter().filter(|(difference, _)| difference.milder);
    html! {
        p { @if compared.is_equal() {
            strong { "The two behave the same in every history of inputs: proved, and checked by another solver." }
        } @else if compared.is_never_milder() {
            strong { "The new rules are never the milder ones, in any history of inputs: proved, and checked by another solver." }
        } @else {
            strong { "It is not proved that the new rules are never milder." }
        } }
        p { "Both run side by side from power-up; the first scan in which anything differs is judged, for their histories part there." }
        @for reason in &compared.both.pairs.apart { p { strong { "Not comparable: " (plain(reason)) } } }
        div.wide { table {
            thead { tr { th scope="col" { "What" } th scope="col" { "Can the new rules be milder?" } th scope="col" { "More severe?" } } }
            tbody { @for (difference, words) in milder { tr {
                th scope="row" { (plain(words.split_once(' ').map_or("", |(_, what)| what))) }
                td { (verdict(difference)) }
                td { (verdict(&Difference { milder: false, ..*difference })) }
            } } }
        } }
        p.soft { code { "haltproof compare --histories" } " writes the histories." }
    }
}

/// What is approved beside behaviour, and is not the same.
fn matters(compared: &Comparison) -> Markup {
    html! {
        @if compared.matters.is_empty() { p { "Requirements, assumptions, hazards, wiring, scaling and all else that is approved with the rules are the same." } } @else {
            h3 { "Not the same beside behaviour" }
            div.wide { table {
                thead { tr { th scope="col" { "Statement" } th scope="col" { "Part" } th scope="col" { "Was" } th scope="col" { "Is" } } }
                tbody { @for matter in &compared.matters { tr {
                    th scope="row" { (plain(&matter.keyword)) " " (plain(&matter.name)) }
                    td { (matter.part) }
                    @for side in [&matter.old, &matter.new] {
                        td { @if let Some((line, text)) = side { "line " (line) ": " (plain(text)) } @else { "not there" } }
                    }
                } } }
            } }
        }
    }
}

/// Lines that are shown around a change.
const AROUND: usize = 2;

pub(super) fn section(of: &Material<'_>) -> Markup {
    if of.approved.is_empty() {
        return html! { p { "No approved revision was given: nothing was compared." } };
    }
    let joined = |files: &mut dyn Iterator<Item = &str>| files.collect::<Vec<_>>().concat();
    let old = joined(&mut of.approved.iter().map(|(_, text)| text.as_str()));
    let new = joined(&mut of.files.iter().map(|file| file.source.as_str()));
    let diff = TextDiff::from_lines(&old, &new);
    let names: Vec<String> = of.approved.iter().map(|(path, _)| plain(path)).collect();
    html! {
        p { "Against " (names.join(", ")) "." }
        @match of.compared {
            None => { p { strong { "What the change does to the stops was not judged: the approved files make no station." } } }
            Some(compared) => { (judged(compared)) (matters(compared)) }
        }
        h3 { "Line by line" }
        @if old == new { p { "No line differs." } } @else {
            pre { @for (n, group) in diff.grouped_ops(AROUND).iter().enumerate() {
                @if n > 0 { "…\n" }
                @for change in group.iter().flat_map(|op| diff.iter_changes(op)) {
                    @let line = plain(change.value().trim_end_matches(['\n', '\r']));
                    @match change.tag() {
                        ChangeTag::Equal => { "  " (line) }
                        ChangeTag::Delete => { del { "- " (line) } }
                        ChangeTag::Insert => { ins { "+ " (line) } }
                    }
                    "\n"
                }
            } }
        }
    }
}
