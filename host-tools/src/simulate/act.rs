//! Reads what is done at a time, and the names of the rule file in it.

use super::scenario::{Action, Effect, Fault, GaugeFault, LinkFault, SourceFault, Thing, Which};
use super::words::{Words, Wrong, nearest_name, wrong};
use crate::station::{Gauge, InputKind, Rank, Station};

/// Index of a stop by its name.
pub(super) fn stop(words: &mut Words<'_>, station: &Station) -> Result<usize, Wrong> {
    let name = words.next("the name of a stop")?;
    find(name, "stop", station.stops.iter().map(|s| s.name.text.as_str()))
}

/// Index of an output by its name.
pub(super) fn output(words: &mut Words<'_>, station: &Station) -> Result<usize, Wrong> {
    let name = words.next("the name of an output")?;
    find(name, "output", station.outputs.iter().map(|s| s.name.text.as_str()))
}

/// A gauge by its name.
pub(super) fn gauge<'s>(words: &mut Words<'_>, station: &'s Station) -> Result<&'s Gauge, Wrong> {
    let name = words.next("the name of a gauge")?;
    let gauges = || {
        station.inputs.iter().filter_map(|i| match &i.kind {
            InputKind::Gauge(g) => Some((i.name.text.as_str(), g)),
            _ => None,
        })
    };
    match gauges().find(|g| g.0 == name) {
        Some((_, gauge)) => Ok(gauge),
        None => wrong(format!("there is no gauge `{name}`"), nearest_name(name, gauges().map(|g| g.0))),
    }
}

fn find<'a>(name: &str, what: &str, names: impl Iterator<Item = &'a str> + Clone) -> Result<usize, Wrong> {
    match names.clone().position(|n| n == name) {
        Some(at) => Ok(at),
        None => wrong(format!("there is no {what} `{name}`"), nearest_name(name, names)),
    }
}

/// What stands after the time.
pub(super) fn action(words: &mut Words<'_>, station: &Station) -> Result<Action, Wrong> {
    if words.take("rope to") {
        let speed = words.speed()?;
        let rate = if words.take("at") { Some(words.acceleration()?) } else { None };
        return Ok(Action::RopeTo { speed, rate });
    }
    if words.take("rope stops by") {
        return stop(words, station).map(Action::RopeStops);
    }
    if words.take("carrier put in at") {
        return words.length().map(Action::PutIn);
    }
    if words.take("next carrier") {
        return effect(words, station).map(|e| Action::Carrier(Which::Next, e));
    }
    if words.take("carrier") {
        let word = words.next("the number of a carrier")?;
        let Some(number) = word.parse().ok().filter(|n| *n > 0) else {
            return wrong(format!("`{word}` is no number of a carrier"), "write 1 or more, or `next carrier`");
        };
        return effect(words, station).map(|e| Action::Carrier(Which::Number(number), e));
    }
    if words.take("power lost for") {
        return words.time().map(Action::PowerLost);
    }
    if words.take("mode") {
        let name = words.next("the name of a mode")?;
        return find(name, "mode", station.modes.iter().map(|m| m.name.text.as_str())).map(Action::Mode);
    }
    if words.take("output") {
        let output = output(words, station)?;
        if words.take("sticks") {
            return Ok(Action::Sticks(output, words.lasting()?));
        }
        let off = words.take("off");
        if !off {
            words.expect("on")?;
        }
        return Ok(Action::Output(output, off));
    }
    input(words, station)
}

fn effect(words: &mut Words<'_>, station: &Station) -> Result<Effect, Wrong> {
    let late = words.take("late by");
    if late || words.take("early by") {
        let by = words.length()?;
        let from = if words.take("from") { Some(words.length()?) } else { None };
        return Ok(Effect::Shift { by: if late { by } else { -by }, from });
    }
    if words.take("lost") {
        return Ok(Effect::Lost { at: place(words)? });
    }
    if words.take("stays") {
        return Ok(Effect::Stays { at: place(words)? });
    }
    if words.take("doubled") {
        let behind = words.length()?;
        words.expect("behind")?;
        if station.lane.as_ref().is_some_and(|l| behind <= 0.0 || behind >= f64::from(l.every)) {
            return wrong(
                "the second carrier would not hang between two others",
                "write a length below the distance of the carriers",
            );
        }
        return Ok(Effect::Doubled { behind });
    }
    if words.take("presses") {
        let gauge = gauge(words, station)?;
        words.expect("with")?;
        return Ok(Effect::Presses { gauge: gauge.terminal, steps: words.steps(gauge, false)? });
    }
    if words.take("taken out") || words.take("missing") {
        return Ok(Effect::TakenOut);
    }
    let word = words.next("what happens to the carrier")?;
    wrong(
        format!("a carrier cannot be `{word}`"),
        "write late by, early by, lost, stays, doubled, presses, taken out or missing",
    )
}

/// A place after `at`, if there is one.
fn place(words: &mut Words<'_>) -> Result<Option<f64>, Wrong> {
    if words.take("at") { words.length().map(Some) } else { Ok(None) }
}

/// What a name stands for: channels (and whether they read inverted), or something else.
struct Found<'s> {
    channels: Vec<(usize, bool)>,
    other: Option<Thing>,
    gauge: Option<&'s Gauge>,
    /// The lag that this pace can have: it drives a stretch of the lane.
    conveyor: Option<Thing>,
}

impl Found<'_> {
    fn things(&self) -> Vec<Thing> {
        let channels = self.channels.iter().map(|c| Thing::Channel(c.0));
        channels.chain(self.other).chain(self.conveyor).collect()
    }
}

fn look_up<'s>(name: &str, station: &'s Station) -> Result<Found<'s>, Wrong> {
    let mut found = Found { channels: Vec::new(), other: None, gauge: None, conveyor: None };
    let at = |terminals: &[String]| terminals.iter().position(|t| t == name);
    if let Some(channel) = at(&station.channels) {
        found.channels.push((channel, false));
        return Ok(found);
    }
    found.other = at(&station.sources).map(Thing::Source).or(at(&station.link_terminals).map(Thing::Link));
    if found.other.is_some() {
        return Ok(found);
    }
    let terminal = at(&station.gauge_terminals);
    for (i, input) in station.inputs.iter().enumerate() {
        let named = input.name.text == name;
        match &input.kind {
            InputKind::Gauge(g) if named || terminal == Some(g.terminal) => {
                found.other = Some(Thing::Gauge(g.terminal));
                found.gauge = Some(g);
            }
            _ if !named => continue,
            InputKind::Contact(c) => found.channels.push((c.channel, false)),
            InputKind::Detector(d) => found.channels.push((d.channel, false)),
            InputKind::Pair(p) => found.channels.extend(p.channels.into_iter().zip([false, p.opposed])),
            InputKind::Key(k) => {
                found.channels.push((k.channels.0, false));
                found.channels.extend(k.channels.1.map(|c| (c, false)));
            }
            InputKind::Pace(p) => {
                found.other = Some(Thing::Source(p.source));
                let drives = station.lane.iter().flat_map(|l| &l.stretches).any(|s| s.driven_by == Some(i));
                found.conveyor = drives.then_some(Thing::Conveyor(i));
            }
            InputKind::Link(l) => found.other = Some(Thing::Link(l.terminal)),
            InputKind::Gauge(_) => continue,
        }
        return Ok(found);
    }
    let names = station.inputs.iter().map(|i| i.name.text.as_str());
    let terminals = station.channels.iter().chain(&station.sources).map(String::as_str);
    wrong(format!("there is no input or terminal `{name}`"), nearest_name(name, names.chain(terminals)))
}

/// A state or a fault of an input or a terminal.
fn input(words: &mut Words<'_>, station: &Station) -> Result<Action, Wrong> {
    const KINDS: [&str; 9] = ["contact", "pair", "detector", "key", "gauge", "pace", "link", "input", "terminal"];
    for kind in KINDS {
        if words.take(kind) {
            break;
        }
    }
    let name = words.next("what is to happen")?;
    let found = look_up(name, station)?;
    if words.take("mends") {
        return Ok(Action::Mend(found.things()));
    }
    let faults = faults(words, station, name, &found)?;
    Ok(Action::Faults(faults, words.lasting()?))
}

fn faults(
    words: &mut Words<'_>,
    station: &Station,
    name: &str,
    found: &Found<'_>,
) -> Result<Vec<(Thing, Fault)>, Wrong> {
    let levels = |level: bool, as_pair: bool| {
        let one = |c: &(usize, bool)| (Thing::Channel(c.0), Fault::Level(level != (as_pair && c.1)));
        Ok(found.channels.iter().map(one).collect())
    };
    if !found.channels.is_empty() {
        if words.take("opens") || words.take("clear") || words.take("free") {
            return levels(false, true);
        }
        if words.take("closes") || words.take("covered") || words.take("pressed") || words.take("held") {
            return levels(true, true);
        }
        if words.take("stuck low") || words.take("wire breaks") {
            return levels(false, false);
        }
        if words.take("stuck high") || words.take("shorted") {
            return levels(true, false);
        }
        if words.take("chatters") {
            let every = if words.take("every") { words.time()? } else { 20_000 };
            let one = |c: &(usize, bool)| (Thing::Channel(c.0), Fault::Chatter(every.max(1_000)));
            return Ok(found.channels.iter().map(one).collect());
        }
        return verb(
            words,
            name,
            "opens, closes, covered, clear, pressed, held, free, stuck high, stuck low, wire breaks, shorted, chatters or mends",
        );
    }
    let Some(thing) = found.other else {
        return wrong(format!("`{name}` is nothing"), "write another name");
    };
    let one = |fault| Ok(vec![(thing, fault)]);
    if let Some(gauge) = found.gauge {
        let is = |fault| one(Fault::Gauge(fault));
        if words.take("wire breaks") {
            return is(GaugeFault::Wire);
        }
        if words.take("shorted") {
            return is(GaugeFault::Short);
        }
        if words.take("doubtful") {
            return is(GaugeFault::Doubtful);
        }
        if words.take("at") {
            return is(GaugeFault::At(words.steps(gauge, false)?));
        }
        if words.take("off by") {
            return is(GaugeFault::OffBy(words.steps(gauge, true)?));
        }
        return verb(words, name, "wire breaks, shorted, doubtful, at, off by or mends");
    }
    if matches!(thing, Thing::Source(_)) {
        if words.take("dies") {
            return one(Fault::Source(SourceFault::Dead));
        }
        if words.take("slips") {
            return one(Fault::Source(SourceFault::Share(1.0 - words.share()?)));
        }
        if words.take("reversed") {
            return one(Fault::Source(SourceFault::Reversed));
        }
        if words.take("lags") {
            let Some(conveyor) = found.conveyor else {
                return wrong(
                    format!("`{name}` drives no stretch of the lane"),
                    "write `slips`, or name the pace of a conveyor",
                );
            };
            return Ok(vec![(conveyor, Fault::Lag(1.0 - words.share()?))]);
        }
        return verb(words, name, "dies, slips, reversed, lags or mends");
    }
    if words.take("silent") {
        return one(Fault::Link(LinkFault::Silent));
    }
    if words.take("orders") {
        let name = words.next("the name of an answer")?;
        let answers = station.slows.iter().map(|s| &s.name).chain(station.stops.iter().map(|s| &s.name));
        let answers = std::iter::once("nothing").chain(answers.map(|n| n.text.as_str()));
        let rank = Rank::try_from(find(name, "answer", answers)?).unwrap_or(Rank::MAX);
        return one(Fault::Link(LinkFault::Orders(rank)));
    }
    verb(words, name, "silent, orders or mends")
}

fn verb<T>(words: &mut Words<'_>, name: &str, known: &str) -> Result<T, Wrong> {
    let word = words.next("what is to happen")?;
    wrong(format!("`{word}` cannot happen to `{name}`"), format!("write {known}"))
}
