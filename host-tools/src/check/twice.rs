//! Rules over two things that are the same thing, or stand in the wrong order.

use super::{length, named};
use crate::lane::place_of;
use crate::station::{Condition, Form, Name, Observed, Station, WatchKind};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    for watch in &station.watches {
        match &watch.kind {
            WatchKind::Travel(travel) => along(station, &watch.name, travel.from, travel.to, found),
            WatchKind::Count(count) => along(station, &watch.name, count.enter, count.leave, found),
            WatchKind::Agree(agree) if agree.between[0] == agree.between[1] => {
                same(&watch.name, named(station, agree.between[0]), found);
            }
            _ => {}
        }
    }
    for requirement in &station.requirements {
        match &requirement.form {
            Form::After { from, to, .. } => along(station, &requirement.name, *from, *to, found),
            Form::Whenever { condition: Condition::Observed(observed), .. } => {
                if let Some(way) = observed.under_way() {
                    along(station, &requirement.name, way.from, way.to, found);
                }
                if let Observed::Miscounting(tally) = observed {
                    along(station, &requirement.name, tally.from, tally.to, found);
                }
            }
            &Form::NeverTogether(a, b) if a == b => {
                let output = station.outputs.get(a).map_or("?", |output| output.name.text.as_str());
                same(&requirement.name, output, found);
            }
            _ => {}
        }
    }
    for (at, output) in station.outputs.iter().enumerate() {
        if output.not_together.contains(&at) {
            same(&output.name, &output.name.text, found);
        }
    }
}

fn same(name: &Name, twice: &str, found: &mut Vec<Finding>) {
    found.push(
        Finding::new(Code::SameTwice, format!("'{}' names '{twice}' on both sides", name.text))
            .at(name.place, "says something of one thing and itself")
            .help("name the other of the two"),
    );
}

/// Two detectors of which a carrier passes the first one first.
fn along(station: &Station, name: &Name, first: usize, second: usize, found: &mut Vec<Finding>) {
    if first == second {
        same(name, named(station, first), found);
        return;
    }
    let (Some(from), Some(to)) = (place_of(station, first), place_of(station, second)) else { return };
    if to <= from {
        let message = format!(
            "'{}' goes from '{}' to '{}', which lies no farther on",
            name.text,
            named(station, first),
            named(station, second)
        );
        found.push(
            Finding::new(Code::PlacesReversed, message)
                .at(name.place, format!("from {} to {}", length(u64::from(from)), length(u64::from(to))))
                .help("name the detectors in the order in which a carrier passes them, or correct their places"),
        );
    }
}
