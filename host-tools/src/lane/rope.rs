//! The rope of a lane: the pace that is declared first, and how fast it runs.

use crate::station::{InputId, InputKind, Mm, Pace, Station};

/// The pace in whose rope the lane is told: the first that is declared.
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

/// The greatest speed that the rope can have, mm/s, rounded up: any faster is a fault of its pace. `at most` is kept over a
/// span, rounded down, and over a scan, rounded up: the smaller of what either leaves open.
pub fn top_speed(station: &Station) -> Option<u32> {
    let (_, pace) = rope(station)?;
    let by_span = speed(station, pace, pace.top.saturating_add(1));
    let by_scan = (u64::from(a_scan(pace)) * 1_000_000).div_ceil(u64::from(station.scan_us.max(1)));
    Some(by_span.min(u32::try_from(by_scan).unwrap_or(u32::MAX)))
}

/// The speed at which the lift is run, mm/s: the lane's line speed, or the greatest where it states none.
pub fn line_speed(station: &Station) -> Option<u32> {
    let stated = station.lane.as_ref().and_then(|lane| lane.line_speed);
    stated.or_else(|| rope(station).map(|(_, pace)| speed(station, pace, pace.top)))
}

/// Greatest travel of a scan, mm: `at most` times the scan, rounded up. The pace keeps that limit over its span, rounded down,
/// and in whole pulses, rounded up: the smaller of what either leaves open.
pub fn a_scan(pace: &Pace) -> Mm {
    let by_span = pace.top.saturating_add(1).div_ceil(pace.span.max(1));
    by_span.min(pace.top_scan.saturating_sub(pace.mm_a_pulse).max(1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::small_station;

    #[test]
    fn what_a_span_is_rounded_down_by_is_not_lost() {
        let mut station = small_station();
        let at = rope(&station).unwrap().0;
        for (top, span, top_scan, most) in [(550, 10, 60, 5_500), (555, 10, 65, 5_560), (1_100, 20, 65, 5_505)] {
            if let InputKind::Pace(pace) = &mut station.inputs[at].kind {
                (pace.top, pace.span, pace.top_scan) = (top, span, top_scan);
            }
            assert_eq!(top_speed(&station), Some(most), "{top} in {span}");
        }
    }
}
