//! What only the finished station shows: rules that cannot work, that hide something, or that
//! contradict the lane, the requirements or each other.

use crate::lane::words::decimal;
use crate::station::{InputKind, Pace, Station};
use crate::text::finding::Finding;

mod answers;
mod apart;
mod carriers;
mod conditions;
mod faults;
mod holds;
mod inputs;
mod keys;
mod logic;
mod outputs;
mod published;
mod requirements;
mod responses;
mod stops;
mod travels;
mod twice;
mod uses;
mod windows;

/// Every finding about a resolved station, in the order of the checks.
pub fn check(station: &Station) -> Vec<Finding> {
    let mut found = Vec::new();
    stops::check(station, &mut found);
    outputs::check(station, &mut found);
    answers::check(station, &mut found);
    keys::check(station, &mut found);
    inputs::check(station, &mut found);
    faults::check(station, &mut found);
    uses::check(station, &mut found);
    travels::check(station, &mut found);
    twice::check(station, &mut found);
    carriers::check(station, &mut found);
    windows::check(station, &mut found);
    apart::check(station, &mut found);
    published::check(station, &mut found);
    holds::check(station, &mut found);
    conditions::check(station, &mut found);
    requirements::check(station, &mut found);
    responses::check(station, &mut found);
    found
}

/// The pace behind an index, if it is one.
fn pace(station: &Station, at: usize) -> Option<&Pace> {
    match station.inputs.get(at).map(|input| &input.kind) {
        Some(InputKind::Pace(pace)) => Some(pace),
        _ => None,
    }
}

/// The name of an input.
fn named(station: &Station, at: usize) -> &str {
    station.inputs.get(at).map_or("?", |input| input.name.text.as_str())
}

/// Microseconds as text, in ms or s.
fn time(us: u64) -> String {
    let (value, unit, whole) = if us >= 1_000_000 { (us, "s", 1_000_000) } else { (us, "ms", 1_000) };
    decimal(value, whole) + " " + unit
}

/// Millimetres as text, in m or mm.
fn length(mm: u64) -> String {
    if mm >= 1_000 { decimal(mm, 1_000) + " m" } else { format!("{mm} mm") }
}

/// Travel in a span as a speed.
fn speed(station: &Station, pace: &Pace, mm: u32) -> String {
    let span_us = u64::from(pace.span.max(1)) * u64::from(station.scan_us.max(1));
    let rate = u64::from(mm) * 1_000_000 / span_us;
    decimal(rate, 1_000) + " m/s"
}
