//! The rope of a lane: the pace that is declared first, and how fast it runs.

use crate::station::{InputId, InputKind, Pace, Station};

/// The pace that measures the lane's rope.
pub fn rope(station: &Station) -> Option<(InputId, &Pace)> {
    station.inputs.iter().enumerate().find_map(|(at, input)| match &input.kind {
        InputKind::Pace(pace) => Some((at, pace)),
        _ => None,
    })
}

/// Travel in a pace's span as a speed, mm/s, rounded up.
pub fn speed(station: &Station, pace: &Pace, travel: u32) -> u32 {
    let span_us = u64::from(pace.span.max(1)) * u64::from(station.scan_us.max(1));
    u32::try_from((u64::from(travel) * 1_000_000).div_ceil(span_us)).unwrap_or(u32::MAX)
}

/// The greatest speed that the rope can have, mm/s: any faster is a fault of its pace.
pub fn top_speed(station: &Station) -> Option<u32> {
    rope(station).map(|(_, pace)| speed(station, pace, pace.top))
}

/// The speed at which the lift is run, mm/s: the lane's line speed, or the greatest where it states none.
pub fn line_speed(station: &Station) -> Option<u32> {
    station.lane.as_ref().and_then(|lane| lane.line_speed).or_else(|| top_speed(station))
}
