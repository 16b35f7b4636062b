//! The cause-and-effect matrix: everything that can trip, against what answers it.

use crate::page::plain;
use crate::station::Rank;
use crate::station::Station;
use crate::station::ways::{Source, WayOf, ways};
use maud::{Markup, html};

/// Anchor of a watch's row.
pub(super) fn watch_id(watch: usize) -> String {
    format!("watch-{watch}")
}

/// Anchor of an answer.
pub(super) fn answer_id(rank: Rank) -> String {
    format!("answer-{rank}")
}

/// What trips, with all of its ways.
struct Cause {
    source: Source,
    ways: Vec<WayOf>,
}

pub(super) fn section(station: &Station) -> Markup {
    let mut causes: Vec<Cause> = Vec::new();
    for way in ways(station) {
        match causes.last_mut() {
            Some(last) if last.source == way.source => last.ways.push(way),
            _ => causes.push(Cause { source: way.source, ways: vec![way] }),
        }
    }
    let ranks: Vec<Rank> = (1..=station.worst()).collect();
    html! {
        p { "Each row is something that can trip; a cell names the ways in which it does, under the answer that it then calls for. "
            "The most severe answer that is called for stands." }
        div.wide { table {
            thead { tr {
                th scope="col" { "Cause" } th scope="col" { "Kind" } th scope="col" { "Active in" }
                @for &rank in &ranks { th scope="col" { a href={ "#" (answer_id(rank)) } { (plain(station.answer(rank))) } } }
                th scope="col" { "Masked by" }
            } }
            tbody { @for cause in &causes { (row(station, cause, &ranks)) } }
        } }
    }
}

fn row(station: &Station, cause: &Cause, ranks: &[Rank]) -> Markup {
    let (name, kind, id) = match cause.source {
        Source::PowerUp => ("power-up".to_owned(), "controller", None),
        Source::Modes => ("selection".to_owned(), "modes", None),
        Source::Mode(i) => (station.modes.get(i).map_or("", |it| &it.name.text).to_owned(), "mode", None),
        Source::Output(i) => (station.outputs.get(i).map_or("", |it| &it.name.text).to_owned(), "output", None),
        Source::Slow(i) => (station.slows.get(i).map_or("", |it| &it.name.text).to_owned(), "slow order", None),
        Source::Input(i) => (station.inputs.get(i).map_or("", |it| &it.name.text).to_owned(), "input", None),
        Source::Watch(i) => station
            .watches
            .get(i)
            .map_or((String::new(), "watch", None), |watch| (watch.name.text.clone(), watch.kind.word(), Some(i))),
    };
    let watch = id.and_then(|i| station.watches.get(i));
    let modes = watch.map_or(String::new(), |watch| {
        let names = watch.modes.iter().filter_map(|&i| station.modes.get(i)).map(|mode| plain(&mode.name.text));
        let names: Vec<String> = names.collect();
        if names.is_empty() { "all modes".into() } else { names.join(", ") }
    });
    let masks = station.bypasses.iter().filter(|bypass| id.is_some_and(|i| bypass.of.contains(&i)));
    let masks: Vec<String> = masks.map(|bypass| plain(&bypass.name.text)).collect();
    let cell = |rank: Rank| {
        let texts = cause.ways.iter().filter(|way| way.answer == rank).map(|way| way.way.text());
        texts.collect::<Vec<_>>().join(", ")
    };
    html! {
        tr id=[id.map(watch_id)] {
            th scope="row" { (plain(&name)) @if let Some(watch) = watch { @if !watch.title.is_empty() { br; span.soft { (plain(&watch.title)) } } } }
            td { (kind) }
            td { (modes) }
            @for &rank in ranks { td { (cell(rank)) } }
            td { (masks.join(", ")) }
        }
    }
}
