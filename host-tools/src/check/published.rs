//! Limits from published rules that the station does not keep.

use crate::lane::published::{Matter, published};
use crate::station::Station;
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    for limit in published(station) {
        let (Some(false), Some(place)) = (limit.kept, limit.place) else { continue };
        // What concerns people who get on is told where the lane says that they do.
        if limit.matter == Matter::Monitored && station.lane.as_ref().is_none_or(|lane| lane.loads.is_none()) {
            continue;
        }
        let (code, help) = match limit.matter {
            Matter::LineSpeed => (Code::LineFast, "lower the line speed, or note which rules allow more"),
            Matter::LoadingSpeed => (Code::LoadingFast, "slow carriers more, or correct where people get on"),
            Matter::Interval => {
                (Code::IntervalShort, "widen the spacing, narrow the windows on the way, or note why less is right")
            }
            Matter::Monitored => (Code::IntervalUnwatched, "add a spacing watch where carriers arrive"),
            Matter::LoadingMonitored => {
                (Code::LoadingUnwatched, "let travels that hold in every mode follow each other over it")
            }
            Matter::Impact => {
                (Code::ImpactHard, "lower the late limits of the travels that `haltproof lane apart` names")
            }
            Matter::BothBrakes => (
                Code::BrakesTooHard,
                "let them brake less, or see to it that no single failure stacks them and note how",
            ),
            Matter::LevelRope => (Code::HoldShort, "correct the lane, or note which rules allow less"),
            // Told by checks of their own: restart-short, the stop categories, stops-past-hold.
            Matter::Restart | Matter::Emergency | Matter::LastCheck => continue,
        };
        let message = format!("{}: {}. Asked for: {} ({})", limit.what, limit.is, limit.limit, limit.source);
        found.push(Finding::new(code, message).at(place, "stated here").help(format!("{help}; local rules decide")));
    }
}
