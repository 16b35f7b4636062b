//! Timing windows as bars: from when to when a carrier may come, and what recordings measured.

use super::Material;
use super::draw::{Axis, WIDE, number};
use super::matrix::watch_id;
use crate::lane;
use crate::page::plain;
use crate::station::{InputId, InputKind, Lane, Measured, Station, WatchId, WatchKind};
use maud::{Markup, html};

/// A window, in metres of rope or in seconds.
struct Window {
    watch: WatchId,
    between: String,
    least: f64,
    most: Option<f64>,
    measured: Option<(f64, f64)>,
    /// What the lane comes to, with its tolerances: each end where it could be derived.
    derived: [Option<f64>; 2],
}

const ROW: f64 = 34.0;
const LEFT: f64 = 250.0;

pub(super) fn section(of: &Material<'_>) -> Markup {
    let station = of.station;
    let [rope, time] = [true, false].map(|rope| all(of, rope));
    html! {
        @if let Some(lane) = &station.lane { (strip(station, lane)) }
        @if rope.is_empty() && time.is_empty() { p { "No watch has a window." } }
        @if !rope.is_empty() { h3 { "In rope" } (bars(station, &rope, "m")) }
        @if !time.is_empty() { h3 { "In time, while the pace runs in its band" } (bars(station, &time, "s")) }
        @if rope.iter().chain(&time).any(|window| window.measured.is_some()) {
            p { "The dark line in a bar is what the recordings given measured, from least to greatest." }
        }
        @if rope.iter().chain(&time).any(|window| window.derived.iter().any(Option::is_some)) {
            p.soft { "The thin marks in a bar are the ends of what carriers come to that keep to the lane and its tolerances "
                "(" code { "haltproof lane windows" } " says what takes which part)." }
        }
    }
}

/// The windows in one unit.
fn all(of: &Material<'_>, rope: bool) -> Vec<Window> {
    let station = of.station;
    let lane = lane::windows::windows(station);
    let name = |input: InputId| station.inputs.get(input).map_or("", |input| input.name.text.as_str());
    let mut out = Vec::new();
    for (watch, it) in station.watches.iter().enumerate() {
        let (between, unit, least, most) = match &it.kind {
            WatchKind::Travel(t) => {
                (format!("{} to {}", name(t.from), name(t.to)), t.measured, t.earliest, Some(t.latest))
            }
            WatchKind::Spacing(s) => (format!("{}, one to the next", name(s.detector)), s.measured, s.least, s.most),
            _ => continue,
        };
        if matches!(unit, Measured::Rope(_)) != rope {
            continue;
        }
        let one = if rope { 0.001 } else { f64::from(station.scan_us) / 1_000_000.0 };
        let (least, most) = (f64::from(least) * one, most.map(|most| f64::from(most) * one));
        let derived = lane.iter().find(|derived| derived.watch == watch).map_or([None; 2], |derived| {
            [&derived.least, &derived.most].map(|end| end.as_ref().ok().map(|end| f64::from(end.counted) * one))
        });
        out.push(Window { watch, between, least, most, measured: measured(of, &it.name.text), derived });
    }
    out
}

/// Least and greatest value that the recordings measured.
#[expect(
    clippy::cast_precision_loss,
    reason = "millionths of metres and seconds stay far below two to the power of 53"
)]
fn measured(of: &Material<'_>, watch: &str) -> Option<(f64, f64)> {
    let told = of.replays.iter().flat_map(|replay| &replay.summary.watches).filter(|told| told.name == watch);
    let ends = told.filter_map(|told| Some((told.least? as f64 / 1e6, told.greatest? as f64 / 1e6)));
    ends.reduce(|(least, most), (a, b)| (least.min(a), most.max(b)))
}

/// A bar for each window, those that are long in a picture of their own.
fn bars(station: &Station, windows: &[Window], unit: &str) -> Markup {
    let end = |window: &Window| {
        let end = window.most.unwrap_or(window.least * 1.5);
        window.measured.map_or(end, |(_, most)| most.max(end))
    };
    // On one axis with a window of sixty metres, one of six is a stroke.
    let mut sorted: Vec<&Window> = windows.iter().collect();
    sorted.sort_by(|a, b| end(a).total_cmp(&end(b)));
    let mut groups: Vec<Vec<&Window>> = Vec::new();
    for window in sorted {
        match groups.last_mut() {
            Some(group) if group.first().is_some_and(|first| end(window) <= 3.0 * end(first)) => group.push(window),
            _ => groups.push(vec![window]),
        }
    }
    html! { @for group in &groups { (picture(station, group, unit, group.iter().map(|w| end(w)).fold(0.0, f64::max))) } }
}

fn picture(station: &Station, windows: &[&Window], unit: &str, end: f64) -> Markup {
    let axis = Axis::new(0.0, end * 1.08, LEFT);
    let rows = windows.iter().fold(0.0, |rows, _| rows + 1.0);
    let bottom = 8.0 + rows * ROW;
    let names: Vec<String> = windows.iter().map(|window| said(station, window, unit)).collect();
    html! {
        div.wide { svg viewBox={ "0 0 " (WIDE) " " (bottom + 22.0) } role="img" aria-label={ "Windows: " (names.join("; ")) } {
            (axis.grid(8.0, bottom, unit))
            @for (i, window) in (0_u32..).zip(windows) {
                @let y = 8.0 + f64::from(i) * ROW;
                @let right = axis.x(window.most.unwrap_or(f64::INFINITY));
                a href={ "#" (watch_id(window.watch)) } {
                    text x="0" y=(y + 14.0) { (plain(station.watches.get(window.watch).map_or("", |watch| &watch.name.text))) }
                }
                text.soft x="0" y=(y + 28.0) { (plain(&window.between)) }
                rect x=(axis.x(window.least)) y=(y + 5.0) width=(right - axis.x(window.least)) height="16" fill="#c9d3dc" stroke="#16191d" {}
                text x=(axis.x(window.least) - 4.0) y=(y + 18.0) text-anchor="end" { (number(window.least)) }
                @if let Some(most) = window.most { text x=(right + 4.0) y=(y + 18.0) { (number(most)) } }
                @for end in window.derived.iter().flatten() {
                    line x1=(axis.x(*end)) x2=(axis.x(*end)) y1=(y + 5.0) y2=(y + 21.0) stroke="#16191d" stroke-dasharray="2 2" {}
                }
                @if let Some((least, most)) = window.measured {
                    line x1=(axis.x(least)) x2=(axis.x(most).max(axis.x(least) + 1.5)) y1=(y + 13.0) y2=(y + 13.0) stroke="#16191d" stroke-width="4" {}
                }
            }
        } }
    }
}

/// A window in words.
fn said(station: &Station, window: &Window, unit: &str) -> String {
    let name = station.watches.get(window.watch).map_or("", |watch| watch.name.text.as_str());
    let most = window.most.map_or_else(|| "on".to_owned(), |most| format!("to {}", number(most)));
    let measured = window
        .measured
        .map_or_else(String::new, |(least, most)| format!(", measured {} to {}", number(least), number(most)));
    let end = |end: Option<f64>| end.map_or_else(|| "not derived".to_owned(), number);
    let lane = match window.derived {
        [None, None] => String::new(),
        [least, most] => format!(", from the lane {} to {}", end(least), end(most)),
    };
    format!("{} from {} {most} {unit}{measured}{lane}", plain(name), number(window.least))
}

/// The lane with its detectors.
fn strip(station: &Station, lane: &Lane) -> Markup {
    let metres = |mm: u32| f64::from(mm) / 1_000.0;
    let (from, to) = lane.stretches.iter().fold((u32::MAX, 0), |(from, to), s| (from.min(s.from), to.max(s.to)));
    let axis = Axis::new(metres(from.min(to)), metres(to), 20.0);
    let mut detectors: Vec<(u32, &str)> = Vec::new();
    for input in &station.inputs {
        if let InputKind::Detector(detector) = &input.kind {
            detectors.push((detector.at, &input.name.text));
        }
    }
    detectors.sort_unstable();
    let told: Vec<String> =
        detectors.iter().map(|(at, name)| format!("{} at {}", plain(name), number(metres(*at)))).collect();
    // Names stand on three lines, one after the other, so that neighbours do not cover each other.
    let level = |i: usize| 14.0 * f64::from(u8::try_from(i % 4).unwrap_or(0));
    html! {
        h3 { "The lane " (plain(&lane.name.text)) }
        div.wide { svg viewBox={ "0 0 " (WIDE) " 166" } role="img" aria-label={ "Detectors along the lane, in metres: " (told.join(", ")) } {
            (axis.grid(96.0, 128.0, "m"))
            @for stretch in &lane.stretches {
                @let (x, end) = (axis.x(metres(stretch.from)), axis.x(metres(stretch.to)));
                @let slow = stretch.share.0.min(stretch.share.1) < 1_000_000;
                rect x=(x) y="104" width=(end - x) height="12" stroke="#16191d" fill=(if slow { "#c9d3dc" } else { "#ffffff" }) {}
            }
            @for (i, (at, name)) in detectors.iter().enumerate() {
                @let x = axis.x(metres(*at));
                line x1=(x) x2=(x) y1=(18.0 + level(i)) y2="116" stroke="#16191d" {}
                text x=(x + 3.0) y=(18.0 + level(i)) { (plain(name)) }
            }
            @for (at, what) in [(lane.uncouples, "uncouples"), (lane.couples, "couples")] {
                @let x = axis.x(metres(at));
                path d={ "M" (x) " 118 l-5 9 h10 z" } fill="#16191d" {}
                text.soft x=(x) y="158" text-anchor="middle" { (what) }
            }
        } }
        p.soft { "Shaded: carriers run slower than the rope, or are off it." }
    }
}
