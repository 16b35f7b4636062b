//! What the lane says of stops, distances and published limits, as plain text.

use super::apart::{Apart, Holds};
use super::published::Published;
use super::stands::{OfRequirement, OfWatch, Stand};
use super::words::{metres, seconds, signed_metres, speed};
use crate::columns::columns;
use crate::station::{Station, WatchKind};
use std::fmt::Write;

/// Stops of watches and of requirements, to standstill.
pub fn stops(station: &Station, watches: &[OfWatch], requirements: &[OfRequirement]) -> String {
    let mut text = String::new();
    if let Some(top) = super::rope::top_speed(station) {
        let _ = writeln!(
            text,
            "The rope at {}, the slowest response, the latest bite and the least deceleration.\n",
            speed(top)
        );
    }
    let head =
        ["watch", "way", "stop", "responds", "bites", "runs", "stands after", "seen at", "stands at", "held until"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    for run in watches {
        let stop = station.stops.get(run.stop);
        rows.push(
            [
                vec![
                    run.path.name.clone(),
                    run.path.way.text().to_owned(),
                    stop.map_or_else(String::new, |stop| stop.name.text.clone()),
                    seconds(run.path.total_us()),
                    seconds(stop.map_or(0, |stop| stop.bites_us.into())),
                    metres(run.stopping.runs),
                    seconds(run.stopping.lasts_us),
                ],
                placed(run.stand),
            ]
            .concat(),
        );
    }
    text.push_str(&columns(&rows, 3));
    if !requirements.is_empty() {
        text.push_str("\nThe same if a stop comes only as early as a requirement asks for.\n\n");
        let head = ["requirement", "stop", "allows", "runs", "stands after", "seen at", "stands at", "held until"];
        let mut rows = vec![head.map(str::to_owned).to_vec()];
        for run in requirements {
            let name = station.requirements.get(run.requirement).map_or("", |it| it.name.text.as_str());
            let stop = station.stops.get(run.stop).map_or("", |stop| stop.name.text.as_str());
            rows.push(
                [
                    vec![
                        name.to_owned(),
                        stop.to_owned(),
                        seconds(run.allowed_us),
                        metres(run.stopping.runs),
                        seconds(run.stopping.lasts_us),
                    ],
                    placed(run.stand),
                ]
                .concat(),
            );
        }
        text.push_str(&columns(&rows, 2));
    }
    text.push('\n');
    text.push_str(&hardness(station));
    text
}

fn placed(stand: Option<Stand>) -> Vec<String> {
    let Some(stand) = stand else { return Vec::new() };
    let bound = stand
        .bound
        .map_or_else(String::new, |bound| metres(bound.into()) + if stand.passes() { " PASSED" } else { "" });
    vec![metres(stand.from.into()), metres(stand.at.into()), bound]
}

/// How hard stops can be: each by itself and all that can act together.
fn hardness(station: &Station) -> String {
    let head = ["stop", "category", "slows at least", "slows at most", "runs at least"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    let top = super::rope::top_speed(station).unwrap_or(0);
    let decelerates = |mm: u32| super::words::decimal(mm.into(), 1_000) + " m/s2";
    for stop in &station.stops {
        let runs = super::motion::stopping(top, 0, stop.slows.1);
        rows.push(vec![
            stop.name.text.clone(),
            stop.category.to_string(),
            decelerates(stop.slows.0),
            decelerates(stop.slows.1),
            runs.map_or_else(String::new, |runs| metres(runs.runs)),
        ]);
    }
    let mut text = columns(&rows, 2);
    let (acting, most) = super::published::together(station);
    if acting.len() > 1 {
        let names: Vec<&str> =
            acting.iter().filter_map(|&at| station.stops.get(at)).map(|stop| stop.name.text.as_str()).collect();
        let _ = writeln!(text, "{} together: at most {}", names.join(" and "), decelerates(most));
    }
    text
}

/// Carriers kept apart.
pub fn kept_apart(station: &Station, apart: &Apart) -> String {
    let body = station.lane.as_ref().and_then(|lane| lane.body);
    let mut text = String::new();
    match apart.kept {
        None => text
            .push_str("Nothing keeps carriers apart: no spacing that always holds, and no 'at least' of the lane.\n"),
        Some(kept) => {
            let _ = writeln!(
                text,
                "Two carriers come in with {} of rope between them at least, and are kept apart from {} to {} of the lane.",
                metres(kept.enters.into()),
                metres(kept.from.into()),
                metres(kept.to.into()),
            );
            let from = match body {
                Some(_) => "from tail to front",
                None => "from front to front, since no length of bodies is stated",
            };
            let _ = writeln!(
                text,
                "Least that the rules permit there: {} of rope, and {} along the lane {from}, the first one at {}.",
                metres(kept.least_rope.into()),
                signed_metres(kept.least),
                metres(kept.least_at.into()),
            );
        }
    }
    if !apart.complete {
        text.push_str("That is not the whole way: elsewhere NOTHING IS KNOWN of how near carriers come.\n");
    }
    text.push('\n');
    let head = ["travel", "holds", "under way", "of", "apart", "late after", "late at most", "runs into it at"];
    let mut rows = vec![head.map(str::to_owned).to_vec()];
    let unknown = || "not known".to_owned();
    for travel in &apart.travels {
        let Some(watch) = station.watches.get(travel.watch) else { continue };
        let capacity = match &watch.kind {
            WatchKind::Travel(rule) => rule.capacity,
            _ => 0,
        };
        rows.push(vec![
            watch.name.text.clone(),
            match travel.holds {
                Holds::Always => "always",
                Holds::Modes => "in some modes",
                Holds::Band => "within its band",
                Holds::Bypassed => "unless bypassed",
                Holds::OtherPace => "by another pace",
            }
            .to_owned(),
            travel.under_way.map_or_else(unknown, |count| count.to_string()),
            capacity.to_string(),
            travel.rope.map_or_else(unknown, |rope| metres(rope.into())),
            metres(travel.late.into()),
            match travel.late_at_most {
                _ if travel.carried => "any, carried".to_owned(),
                None if travel.rope.is_none() => unknown(),
                None => "calls no stop".to_owned(),
                Some(most) if most < 0 => "none".to_owned(),
                Some(most) => signed_metres(most),
            },
            match travel.contact {
                Some(contact) => speed(contact.speed),
                None if travel.is_safe() => "never".to_owned(),
                None if travel.rope.is_none() => unknown(),
                None => "never, while it holds".to_owned(),
            },
        ]);
    }
    text.push_str(&columns(&rows, 2));
    text
}

/// Published limits.
pub fn limits(published: &[Published]) -> String {
    let mut text = String::new();
    for limit in published {
        let kept = match limit.kept {
            Some(true) => "kept",
            Some(false) => "NOT KEPT",
            None => "NOT KNOWN",
        };
        let _ = writeln!(text, "{kept}: {}", limit.what);
        let _ = writeln!(text, "    {}; here {}", limit.limit, limit.is);
        let _ = writeln!(text, "    {}", limit.source);
    }
    text.push_str("\nPublished limits are a help. Local codes and the competent authority decide.\n");
    text
}
