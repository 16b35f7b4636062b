//! What each answer does: the slow orders and the stops, mildest first.

use super::matrix::answer_id;
use crate::page::plain;
use crate::station::{InputId, InputKind, Station};
use maud::{Markup, html};

pub(super) fn section(station: &Station) -> Markup {
    let outputs = |all: &[usize]| {
        let names = all.iter().filter_map(|&i| station.outputs.get(i)).map(|o| plain(&o.name.text));
        names.collect::<Vec<_>>().join(", ")
    };
    html! {
        div.wide { table {
            thead { tr {
                th scope="col" { "Answer, mildest first" } th scope="col" { "Category (IEC 60204-1)" } th scope="col" { "Releases at once" }
                th scope="col" { "Then" } th scope="col" { "Brake bites within" } th scope="col" { "Slows at" }
            } }
            tbody {
                @for (rank, slow) in (1_u8..).zip(&station.slows) {
                    tr id=(answer_id(rank)) {
                        th scope="row" { (plain(&slow.name.text)) }
                        td { "slow order" } td { "none" }
                        td { (speed(station, slow.pace, slow.down_to)) " or less within " (station.ms(slow.within)) " ms" }
                        td {} td {}
                    }
                }
                @for (rank, stop) in (station.first_stop()..).zip(&station.stops) {
                    tr id=(answer_id(rank)) {
                        th scope="row" { (plain(&stop.name.text)) @if stop.for_emergencies { " (for emergencies)" } }
                        td { (stop.category) }
                        td { (outputs(&stop.releases)) }
                        td { @if let Some(then) = &stop.then {
                            (outputs(&then.outputs)) " at standstill, at the latest after " (station.ms(then.latest)) " ms"
                        } }
                        td { (stop.bites_us.div_ceil(1_000)) " ms" }
                        td { (metres(stop.slows.0)) " to " (metres(stop.slows.1)) " m/s²" }
                    }
                }
            }
        } }
    }
}

/// Travel in a pace's span as a speed.
fn speed(station: &Station, pace: InputId, mm: u32) -> String {
    let Some(InputKind::Pace(kind)) = station.inputs.get(pace).map(|input| &input.kind) else { return String::new() };
    let span_ms = station.ms(kind.span).max(1);
    let name = station.inputs.get(pace).map_or("", |input| input.name.text.as_str());
    let mm_a_second = u64::from(mm) * 1_000 / span_ms;
    format!("{} at {} m/s", plain(name), metres(u32::try_from(mm_a_second).unwrap_or(u32::MAX)))
}

fn metres(mm: u32) -> String {
    super::draw::number(f64::from(mm) / 1_000.0)
}
