//! Carriers that the rules let come too near, and stops that come too late for a badly closed grip.

use super::length;
use crate::lane::apart::apart;
use crate::lane::stands::of_watches;
use crate::lane::words::{signed_metres, speed};
use crate::lane::{nominal_run, place_of};
use crate::station::{LoadsOn, Station, WatchKind};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    let Some(lane) = &station.lane else { return };
    near(station, found);
    for run in of_watches(station) {
        let (Some(stand), Some(watch)) = (run.stand, station.watches.get(run.path.watch)) else { continue };
        let Some(bound) = stand.bound.filter(|_| stand.passes()) else { continue };
        let message = format!(
            "a carrier that '{}' stops comes to stand {} behind where a badly closed grip is held",
            watch.name.text,
            length(u64::from(stand.at - bound))
        );
        let stop = station.stops.get(run.stop).map_or("", |stop| stop.name.text.as_str());
        found.push(
            Finding::new(Code::StopsPastHold, message)
                .at(
                    watch.name.place,
                    format!(
                        "seen at {} at the latest, and the rope runs {} until stop '{stop}' has brought it to standstill",
                        length(stand.from.into()),
                        length(run.stopping.runs)
                    ),
                )
                .at(lane.name.place, format!("held until {}", length(bound.into())))
                .help("look at the grip earlier, shorten the path, brake harder, or correct the lane"),
        );
    }
}

fn near(station: &Station, found: &mut Vec<Finding>) {
    let (Some(lane), Some(apart)) = (&station.lane, apart(station)) else { return };
    // Where a lane says how long carriers are or where people get on, it is asked whether they touch.
    if lane.body.is_none() && lane.loads.is_none() {
        return;
    }
    if !apart.complete {
        let reached = apart.kept.map_or_else(
            || "nothing keeps carriers apart on the lane".to_owned(),
            |kept| {
                format!(
                    "carriers are known to be kept apart from {} to {} only",
                    length(kept.from.into()),
                    length(kept.to.into())
                )
            },
        );
        found.push(
            Finding::new(Code::ApartUnknown, reached)
                .at(lane.name.place, "elsewhere nothing is known of how near they come")
                .help("let a spacing and travels in rope, in every mode and under no bypass, follow each other over the lane"),
        );
    }
    if let Some(kept) = apart.kept.filter(|kept| kept.least <= 0) {
        let message = format!(
            "two carriers that keep every limit touch: {} apart, the first at {}",
            signed_metres(kept.least),
            length(kept.least_at.into())
        );
        let body =
            lane.body.map_or_else(|| "without length".to_owned(), |body| format!("{} long", length(body.into())));
        found.push(
            Finding::new(Code::CarriersTouch, message)
                .at(lane.name.place, format!("a carrier is taken to be {body}"))
                .help("widen the spacing, or narrow the windows of the travels up to there"),
        );
        return;
    }
    // Cabins are held to the speed at which they may touch, among the published limits.
    let cabins = lane.loads.is_some_and(|loads| loads.kind == LoadsOn::ClosedCabins);
    for travel in &apart.travels {
        let Some(watch) = station.watches.get(travel.watch) else { continue };
        if let (Some(most), Some(contact), false) = (travel.late_at_most, travel.contact, cabins) {
            let message = format!(
                "'{}' finds a carrier that stands still after {} of rope, and the next one has come to it by then",
                watch.name.text,
                length(travel.late.into())
            );
            let latest = if most > 0 {
                format!("with a late limit of {} or less it would stand in time", signed_metres(most))
            } else {
                "no late limit is early enough".to_owned()
            };
            found.push(
                Finding::new(Code::LatePastContact, message)
                    .at(watch.name.place, format!("at up to {}; {latest}", speed(contact.speed)))
                    .help("lower the late limit, widen the spacing, or brake harder"),
            );
        }
        let WatchKind::Travel(rule) = &watch.kind else { continue };
        let run = place_of(station, rule.from)
            .zip(place_of(station, rule.to))
            .and_then(|(from, to)| nominal_run(lane, from, to));
        let told = run.is_some_and(|run| (run / f64::from(lane.every.max(1)) - 1e-9).ceil() > f64::from(rule.capacity));
        if let (Some(under_way), Some(rope), false) = (travel.under_way, travel.rope, told)
            && under_way > rule.capacity
        {
            let message = format!(
                "travel '{}' follows no more than {} at once, and up to {under_way} slow ones are under way",
                watch.name.text, rule.capacity
            );
            found.push(
                Finding::new(Code::CapacityExceeded, message)
                    .at(watch.name.place, format!("each takes up to {} of rope", length(travel.late.into())))
                    .at(lane.name.place, format!("as near as {}", length(rope.into())))
                    .help(format!("write 'up to {under_way} carriers under way'")),
            );
        }
    }
}
