//! The rule files as they were read, with numbered lines; what a statement declares leads to what is said of it.

use super::Material;
use super::matrix::watch_id;
use super::requirements::requirement_id;
use crate::page::plain;
use crate::text::place::Place;
use maud::{Markup, html};

pub(super) fn section(of: &Material<'_>) -> Markup {
    let station = of.station;
    let watches = station.watches.iter().enumerate().map(|(i, watch)| (watch.name.place, watch_id(i)));
    let requirements = station.requirements.iter().enumerate();
    let requirements = requirements.map(|(i, requirement)| (requirement.name.place, requirement_id(i)));
    let links: Vec<(Place, String)> = watches.chain(requirements).collect();
    html! {
        p { "As they were read, byte for byte but for marks that would turn text around, which are shown by number. A name leads to what is said of it." }
        @for (number, file) in of.files.iter().enumerate() {
            h3 { (plain(&file.path)) }
            pre.numbered { @for line in lines(number, &file.source, &links) { (line) } }
        }
    }
}

/// The lines of a file.
fn lines(number: usize, source: &str, links: &[(Place, String)]) -> Vec<Markup> {
    let mut out = Vec::new();
    let mut start = 0;
    for (i, line) in source.split_inclusive('\n').enumerate() {
        let text = line.trim_end_matches(['\n', '\r']);
        let end = start + text.len();
        let inside = |place: &Place| {
            let (from, to) = (usize::try_from(place.start).ok()?, usize::try_from(place.end).ok()?);
            (usize::from(place.file) == number && start <= from && to <= end).then(|| (from - start, to - start))
        };
        let link = links.iter().find_map(|(place, id)| Some((inside(place)?, id)));
        let parts =
            link.and_then(|((from, to), id)| Some((text.get(..from)?, text.get(from..to)?, text.get(to..)?, id)));
        let is_note = text.trim_start().starts_with("##");
        out.push(html! {
            span.line.note[is_note] data-line=(i + 1) {
                @if let Some((before, name, after, id)) = parts {
                    (plain(before)) a href={ "#" (id) } { (plain(name)) } (plain(after))
                } @else { (plain(text)) }
            }
        });
        start += line.len();
    }
    out
}
