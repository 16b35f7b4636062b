//! What differs from the revision that was approved last, line by line.

use super::Material;
use crate::page::plain;
use maud::{Markup, html};
use similar::{ChangeTag, TextDiff};

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
        p { "Against " (names.join(", ")) ". Lines, not meaning: what a change does to the stops is not said here." }
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
