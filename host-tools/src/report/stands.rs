//! Where carriers come to stand, how near they come to each other, and limits from published rules.

use super::draw::{Axis, WIDE, number};
use super::matrix::watch_id;
use crate::lane::apart::apart;
use crate::lane::published::{Published, published};
use crate::lane::stands::{OfWatch, Stand, of_watches};
use crate::lane::text;
use crate::page::plain;
use crate::station::{Lane, Station};
use maud::{Markup, html};

const ROW: f64 = 24.0;
const LEFT: f64 = 190.0;

pub(super) fn section(station: &Station) -> Markup {
    let stops = of_watches(station);
    html! {
        p { "Each stop in its worst case: the rope at the greatest speed of its pace, the slowest response, the latest bite of the brake "
            "and its least deceleration. Conveyors follow the rope. It says nothing of a brake that does less than is stated here: "
            "that is measured on the lift." }
        @match &station.lane {
            Some(lane) => {
                (picture(station, lane, &stops))
                h3 { "Carriers kept apart" }
                @match apart(station) {
                    Some(kept) => pre { (plain(&text::kept_apart(station, &kept))) },
                    None => p { "Nothing on the lane is watched." },
                }
            }
            None => p { "No lane is described, so that no stop has a place." },
        }
        h3 { "Each stop" }
        pre { (plain(&text::stops(station, &stops, &crate::lane::stands::of_requirements(station)))) }
        h3 { "Published limits" }
        (limits(&published(station)))
    }
}

/// The stops of watches with a place, as bars along the lane.
fn picture(station: &Station, lane: &Lane, stops: &[OfWatch]) -> Markup {
    let mut placed: Vec<(&OfWatch, Stand)> = stops.iter().filter_map(|run| Some((run, run.stand?))).collect();
    placed.sort_by_key(|(run, stand)| (stand.from, run.path.watch));
    let metres = |mm: u32| f64::from(mm) / 1_000.0;
    let from = lane.stretches.first().map_or(0, |stretch| stretch.from);
    let end = placed.iter().map(|(_, stand)| stand.at).chain([lane.held_until]).max().unwrap_or(lane.held_until);
    let axis = Axis::new(metres(from), metres(end) * 1.04, LEFT);
    let bottom = placed.iter().fold(40.0, |bottom, _| bottom + ROW);
    let name = |run: &OfWatch| station.watches.get(run.path.watch).map_or("", |watch| watch.name.text.as_str());
    let told: Vec<String> = placed.iter().map(|(run, stand)| said(name(run), *stand)).collect();
    let points = [(lane.uncouples, "uncouples"), (lane.couples, "couples"), (lane.held_until, "held until")];
    html! {
        div.wide { svg viewBox={ "0 0 " (WIDE) " " (bottom + 22.0) } role="img" aria-label={ "Stops along the lane: " (told.join("; ")) } {
            (axis.grid(34.0, bottom, "m"))
            @for (at, what) in points {
                @let x = axis.x(metres(at));
                line x1=(x) x2=(x) y1="18" y2=(bottom) stroke="#16191d" stroke-dasharray="5 3" {}
                text.soft x=(x) y="12" text-anchor="middle" { (what) " " (number(metres(at))) }
            }
            @for (i, (run, stand)) in (0_u32..).zip(&placed) {
                @let y = 36.0 + f64::from(i) * ROW;
                @let (first, bites, last) = (axis.x(metres(stand.from)), axis.x(metres(stand.bites)), axis.x(metres(stand.at)));
                a href={ "#" (watch_id(run.path.watch)) } { text x="0" y=(y + 15.0) { (plain(name(run))) } }
                rect x=(first) y=(y + 4.0) width=((bites - first).max(1.0)) height="14" fill="#16191d" {}
                rect x=(bites) y=(y + 4.0) width=((last - bites).max(1.0)) height="14" stroke="#16191d" fill=(if stand.passes() { "#ffffff" } else { "#c9d3dc" }) {}
                text x=(last + 4.0) y=(y + 15.0) stroke="#ffffff" stroke-width="4" paint-order="stroke" { (number(metres(stand.at))) @if stand.passes() { " past the hold" } }
            }
        } }
        p.soft { "Dark: the rope runs on until the brake bites. Light: it slows. A white bar ends behind the place to which a badly closed grip is held." }
    }
}

fn said(name: &str, stand: Stand) -> String {
    let metres = |mm: u32| number(f64::from(mm) / 1_000.0);
    let past = if stand.passes() { ", past where a badly closed grip is held" } else { "" };
    format!("{} seen at {} m, stands at {} m{past}", plain(name), metres(stand.from), metres(stand.at))
}

fn limits(published: &[Published]) -> Markup {
    html! {
        p { "Limits from published rules, in our own words. They are a help: local codes and the competent authority decide." }
        div.wide { table {
            thead { tr { th scope="col" { "What" } th scope="col" { "Limit" } th scope="col" { "Here" } th scope="col" { "Kept" } th scope="col" { "Source" } } }
            tbody { @for limit in published {
                tr {
                    td { (limit.what) }
                    td { (limit.limit) }
                    td { (plain(&limit.is)) }
                    td { @match limit.kept { Some(true) => "yes", Some(false) => strong { "NO" }, None => strong { "not known" } } }
                    td { (limit.source) }
                }
            } }
        } }
    }
}
