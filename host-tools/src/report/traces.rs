//! A history as a picture: inputs as traces, answers as bands, what a gauge may show shaded.

use super::draw::{Axis, WIDE, number, round};
use crate::page::plain;
use crate::refute::Refutation;
use crate::runner::with_runner;
use crate::sample::Sample;
use crate::station::{Form, Gauge, InputId, InputKind, Rank, Station};
use std::collections::BTreeSet;
use std::fmt::Write as _;

use maud::{Markup, html};

/// Scans at the end of a history that are shown.
const SHOWN: u64 = 600;
const ROW: f64 = 30.0;
const LEFT: f64 = 190.0;

/// One row of a picture.
#[derive(Debug)]
pub(super) struct Trace {
    name: String,
    pub(super) shape: Shape,
}

#[derive(Debug)]
pub(super) enum Shape {
    /// A level, by when it began.
    Level(Vec<(u64, bool)>),
    /// A value from 0 to 1 of its range, and what is allowed of it.
    Value(Vec<(u64, f64)>, Option<(f64, f64)>),
    /// An answer stands in these stretches.
    Band(Vec<(u64, u64)>),
}

/// What is looked at, scan by scan.
#[derive(Debug)]
pub(super) enum Look<'s> {
    Channel(usize),
    Gauge(&'s Gauge, Option<(u32, u32)>),
    Answer(Rank),
}

/// The last scans of a history that misses a requirement.
pub(super) fn picture(station: &Station, found: &Refutation) -> Markup {
    let scans = found.history.scans();
    let first = scans.saturating_sub(SHOWN);
    let mut rows = rows(station, found.requirement);
    let looked = with_runner(station, |runner| {
        for (scan, sample) in (0_u64..).zip(found.history.samples()) {
            let stands = runner.scan(sample).stands;
            if scan >= first {
                for (look, trace) in &mut rows {
                    note(look, &mut trace.shape, scan, sample, stands);
                }
            }
        }
    });
    if looked.is_err() {
        return html! { p { "The history could not be drawn." } };
    }
    let traces: Vec<&Trace> = rows.iter().map(|(_, trace)| trace).collect();
    let mark = Mark { what: "History", scan: found.missed_at, is: "missed", counts: false };
    draw(station, &traces, first, scans, &mark)
}

/// What a picture marks.
pub(super) struct Mark<'m> {
    /// What the picture shows, in a word.
    pub(super) what: &'m str,
    /// The scan that is marked.
    pub(super) scan: u64,
    /// What it is, in a word.
    pub(super) is: &'m str,
    /// Time counts from here, not from the first scan.
    pub(super) counts: bool,
}

fn rows(station: &Station, requirement: usize) -> Vec<(Look<'_>, Trace)> {
    let Some(asked) = station.requirements.get(requirement) else { return Vec::new() };
    // The reset key may be one of those that the requirement speaks of.
    let mut inputs: BTreeSet<InputId> = asked.inputs().into_iter().collect();
    inputs.extend(station.reset.as_ref().map(|reset| reset.key));
    rows_of(station, &inputs, |input| match &asked.form {
        Form::WhenRises { gauge, lowest, highest, .. } if *gauge == input => Some((*lowest, *highest)),
        _ => None,
    })
}

/// A row for each of these inputs, with what is allowed of the gauges, and for each answer.
pub(super) fn rows_of<'s>(
    station: &'s Station,
    inputs: &BTreeSet<InputId>,
    allowed: impl Fn(InputId) -> Option<(u32, u32)>,
) -> Vec<(Look<'s>, Trace)> {
    let mut rows = Vec::new();
    for &input in inputs {
        let Some(it) = station.inputs.get(input) else { continue };
        if let InputKind::Gauge(gauge) = &it.kind {
            let name = format!("{}, {}", it.name.text, gauge.unit);
            rows.push((Look::Gauge(gauge, allowed(input)), Trace { name, shape: Shape::Value(Vec::new(), None) }));
        }
        for channel in station.channels_of(input) {
            let terminal = station.channels.get(channel).map_or("", String::as_str);
            let name = format!("{} {terminal}", it.name.text);
            rows.push((Look::Channel(channel), Trace { name, shape: Shape::Level(Vec::new()) }));
        }
    }
    for rank in 1..=station.worst() {
        let name = station.answer(rank).to_owned();
        rows.push((Look::Answer(rank), Trace { name, shape: Shape::Band(Vec::new()) }));
    }
    rows
}

/// Notes a scan in a row.
pub(super) fn note(look: &Look<'_>, shape: &mut Shape, scan: u64, sample: &Sample, stands: u64) {
    match (look, shape) {
        (Look::Channel(channel), Shape::Level(levels)) => {
            let level = sample.channels.get(*channel).copied().unwrap_or(false);
            if levels.last().is_none_or(|(_, last)| *last != level) {
                levels.push((scan, level));
            }
        }
        (Look::Gauge(gauge, allowed), Shape::Value(values, shaded)) => {
            let share = |steps: u32| f64::from(steps.min(gauge.top)) / f64::from(gauge.top.max(1));
            *shaded = allowed.map(|(least, most)| (share(least), share(most)));
            let value = sample.gauges.get(gauge.terminal).map_or(0.0, |reading| share(reading.steps));
            if values.last().is_none_or(|(_, last)| (*last - value).abs() > f64::EPSILON) {
                values.push((scan, value));
            }
        }
        (Look::Answer(rank), Shape::Band(bands)) if stands >> rank & 1 == 1 => match bands.last_mut() {
            Some((_, end)) if *end == scan => *end = scan + 1,
            _ => bands.push((scan, scan + 1)),
        },
        _ => {}
    }
}

/// Draws rows from one scan to another.
#[expect(clippy::cast_precision_loss, reason = "scans of a history stay far below two to the power of 53")]
pub(super) fn draw(station: &Station, traces: &[&Trace], first: u64, scans: u64, mark: &Mark<'_>) -> Markup {
    let origin = if mark.counts { mark.scan } else { 0 };
    let seconds = |scan: u64| (scan as f64 - origin as f64) * f64::from(station.scan_us) / 1_000_000.0;
    let axis = Axis::new(seconds(first), seconds(scans), LEFT);
    let bottom = 20.0 + traces.iter().fold(0.0, |height, _| height + ROW);
    let x = |scan: u64| axis.x(seconds(scan));
    let names: Vec<String> = traces.iter().map(|trace| plain(&trace.name)).collect();
    html! {
        div.wide { svg viewBox={ "0 0 " (WIDE) " " (bottom + 22.0) } role="img"
            aria-label={ (mark.what) " from " (number(seconds(first))) " s to " (number(seconds(scans))) " s, " (mark.is) " at " (number(seconds(mark.scan))) " s; rows: " (names.join(", ")) } {
            (axis.grid(16.0, bottom, "s"))
            @for (i, trace) in (0_u32..).zip(traces) {
                @let y = 20.0 + f64::from(i) * ROW;
                text x="0" y=(y + 18.0) { (plain(&trace.name)) }
                @match &trace.shape {
                    Shape::Level(levels) => {
                        path fill="none" stroke="#16191d" stroke-width="1.6"
                            d=(steps(levels.iter().map(|&(scan, level)| (x(scan), y + if level { 5.0 } else { 24.0 })), x(scans))) {}
                    }
                    Shape::Value(values, allowed) => {
                        @let height = |share: f64| round(y + 26.0 - share * 22.0);
                        @if let Some((least, most)) = allowed {
                            rect x=(x(first)) width=(x(scans) - x(first)) y=(height(*most)) height=(height(*least) - height(*most)) fill="#c9d3dc" {}
                        }
                        path fill="none" stroke="#16191d" stroke-width="1.6"
                            d=(steps(values.iter().map(|&(scan, share)| (x(scan), height(share))), x(scans))) {}
                    }
                    Shape::Band(bands) => { @for (from, to) in bands {
                        rect x=(x(*from)) width=((x(*to) - x(*from)).max(1.0)) y=(y + 6.0) height="18" fill="#5b6670" {}
                    } }
                }
            }
            line x1=(x(mark.scan)) x2=(x(mark.scan)) y1="12" y2=(bottom) stroke="#16191d" stroke-width="2" stroke-dasharray="5 3" {}
            text x=(x(mark.scan) - 4.0) y="12" text-anchor="end" { (mark.is) }
        } }
    }
}

/// A stair through points, held to the end.
fn steps(points: impl Iterator<Item = (f64, f64)>, end: f64) -> String {
    let mut path = String::new();
    for (i, (x, y)) in points.enumerate() {
        let _ = if i == 0 { write!(path, "M{x} {y}") } else { write!(path, "H{x}V{y}") };
    }
    let _ = write!(path, "H{end}");
    path
}
