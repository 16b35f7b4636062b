//! Ways in words: what tripped, by the names and titles of the rule file.

use super::event::Cause;
use crate::station::ways::{Source, Way, WayOf};
use crate::station::{InputId, Station, WatchKind};

/// The cause that a way is, without its margin.
pub(crate) fn cause(station: &Station, of: WayOf) -> Cause {
    let input = |id: InputId| station.inputs.get(id).map_or("", |i| i.name.text.as_str());
    let (source, name, title) = match of.source {
        Source::PowerUp => ("controller", "", ""),
        Source::Modes => ("mode", "", ""),
        Source::Mode(i) => ("mode", station.modes.get(i).map_or("", |m| m.name.text.as_str()), ""),
        Source::Output(i) => ("output", station.outputs.get(i).map_or("", |o| o.name.text.as_str()), ""),
        Source::Slow(i) => ("slow", station.slows.get(i).map_or("", |s| s.name.text.as_str()), ""),
        Source::Input(i) => ("input", input(i), ""),
        Source::Watch(i) => {
            station.watches.get(i).map_or(("watch", "", ""), |w| ("watch", w.name.text.as_str(), w.title.as_str()))
        }
    };
    let words = match of.way {
        Way::Started => "the controller started".to_owned(),
        Way::Unselected => "not exactly one mode is selected".to_owned(),
        Way::Changed => "the mode changed while not at a standstill".to_owned(),
        Way::TooFast => format!("faster than mode {name} allows"),
        Way::Contradicted => format!("the read-back of output {name} contradicts it"),
        Way::NotSlowed => format!("slow order {name} was not reached or not kept"),
        Way::Chatter => format!("contact {name} chatters"),
        Way::Differs => format!("the channels of pair {name} differ"),
        Way::Stuck => format!("detector {name} stays covered"),
        Way::Missing => format!("detector {name} has seen no carrier for too long"),
        Way::Broken => format!("gauge {name}: broken wire or short circuit"),
        Way::Doubtful => format!("gauge {name}: its current is not trustworthy"),
        Way::Leap => format!("gauge {name} moved faster than it can"),
        Way::Unrested => format!("gauge {name} was not at rest"),
        Way::Unsure => format!("pace {name}: its sources disagree, or pulses are missing"),
        Way::OverTop => format!("pace {name} is faster than it can be"),
        Way::Silent => format!("link {name} is silent"),
        Way::Ordered(rank) => {
            format!("the other station orders {} by link {name}", station.answer(rank))
        }
        _ => watch_words(station, of, name, title),
    };
    Cause {
        source,
        name: name.to_owned(),
        title: title.to_owned(),
        way: of.way.text(),
        answer: station.answer(of.answer).to_owned(),
        words,
        unknown: Vec::new(),
        margin: None,
    }
}

/// A watch's way in words.
fn watch_words(station: &Station, of: WayOf, name: &str, title: &str) -> String {
    let Source::Watch(index) = of.source else {
        return name.to_owned();
    };
    let input = |id: InputId| station.inputs.get(id).map_or("", |i| i.name.text.as_str());
    match (of.way, station.watches.get(index).map(|w| &w.kind)) {
        (way, Some(WatchKind::Travel(t))) => {
            let (from, to) = (input(t.from), input(t.to));
            match way {
                Way::Early => format!("a carrier came early from {from} to {to}"),
                Way::Late => format!("a carrier is late from {from} to {to}"),
                Way::Stray => format!("a carrier at {to} that did not come from {from}"),
                Way::Crowded => {
                    format!("more than {} carriers between {from} and {to}", t.capacity)
                }
                _ => format!("{from} or {to} changed while the rope ran backwards"),
            }
        }
        (Way::Closer, Some(WatchKind::Spacing(s))) => {
            format!("two carriers too close at {}", input(s.detector))
        }
        (Way::Farther, Some(WatchKind::Spacing(s))) => {
            format!("no carrier for too long at {}", input(s.detector))
        }
        (way, Some(WatchKind::Count(c))) => {
            let (enter, leave) = (input(c.enter), input(c.leave));
            match way {
                Way::Over => format!("more than {} carriers between {enter} and {leave}", c.most),
                Way::Below => format!("a carrier left at {leave} that had not come by {enter}"),
                _ => format!("the carriers between {enter} and {leave} are not {}", c.confirmed),
            }
        }
        (_, Some(WatchKind::Measure(m))) => format!("{} out of bounds", input(m.gauge)),
        (_, Some(WatchKind::Agree(a))) => {
            format!("{} and {} disagree", input(a.between[0]), input(a.between[1]))
        }
        (_, Some(WatchKind::Exercise(e))) => format!("{} did not change in time", input(e.input)),
        (_, Some(WatchKind::Confirm(c))) => {
            format!("the effect of {} was not seen in time", station.answer(c.after))
        }
        _ if title.is_empty() => name.to_owned(),
        _ => title.to_owned(),
    }
}

/// Inputs that a way looks at.
pub(super) fn looks_at(station: &Station, of: WayOf) -> Vec<InputId> {
    let mut all = Vec::new();
    match of.source {
        Source::PowerUp | Source::Output(_) => {}
        Source::Modes => all.extend(station.modes.iter().map(|m| m.key)),
        Source::Mode(i) => {
            all.extend(station.modes.get(i).and_then(|m| m.at_most).map(|(pace, _)| pace));
        }
        Source::Slow(i) => all.extend(station.slows.get(i).map(|s| s.pace)),
        Source::Input(i) => all.push(i),
        Source::Watch(i) => {
            if let Some(watch) = station.watches.get(i) {
                all.extend(watch.kind.inputs());
            }
        }
    }
    all
}
