//! Reads a scenario file, one statement a line.

use super::act;
use super::scenario::{Behaviour, Event, Follow, Problem, Scenario, While};
use super::words::{Words, Wrong, nearest_name, wrong};
use crate::station::{Gauge, InputKind, Station};

/// Reads a whole file; every line that cannot be read is told.
pub(super) fn read(text: &str, station: &Station) -> Result<Scenario, Vec<Problem>> {
    let mut scenario = Scenario::default();
    let mut problems = Vec::new();
    for (line, all) in (1..).zip(text.lines()) {
        let said = all.split('#').next().unwrap_or("");
        if let Err((wrong, mend)) = statement(said, line, station, &mut scenario) {
            problems.push(Problem { line, wrong, mend });
        }
    }
    let end = scenario.last;
    for event in scenario.events.iter().filter(|e| e.at >= end) {
        let wrong = "this would happen after the end of the run".to_owned();
        let mend = "write an earlier time, or a longer `last`".to_owned();
        problems.push(Problem { line: event.line, wrong, mend });
    }
    problems.sort_by_key(|p| p.line);
    // Stable: what is written first is done first.
    scenario.events.sort_by_key(|e| e.at);
    if problems.is_empty() { Ok(scenario) } else { Err(problems) }
}

fn statement(said: &str, line: usize, station: &Station, to: &mut Scenario) -> Result<(), Wrong> {
    let mut words = Words::new(said);
    let Some(first) = words.peek() else {
        return Ok(());
    };
    if first == "scenario" {
        let title = said.trim().trim_start_matches("scenario").trim();
        let inner = title.strip_prefix('"').and_then(|t| t.strip_suffix('"'));
        let Some(inner) = inner else {
            return wrong("the title has no quotation marks", "write scenario \"TITLE\"");
        };
        inner.clone_into(&mut to.title);
        return Ok(());
    }
    let words = &mut words;
    if words.take("at") {
        let at = words.time()?;
        let action = act::action(words, station)?;
        to.events.push(Event { line, at, every: None, action });
    } else if words.take("every") {
        let every = words.time()?;
        if every == 0 {
            return wrong("every 0 s has no end", "write a time above zero");
        }
        let at = if words.take("from") { words.time()? } else { every };
        let action = act::action(words, station)?;
        to.events.push(Event { line, at, every: Some(every), action });
    } else if words.take("last") {
        to.last = words.time()?;
    } else if words.take("controller starts") {
        to.powers_up = words.take("powered up");
        if !to.powers_up {
            words.expect("running")?;
        }
    } else if words.take("lane starts") {
        to.full = words.take("full");
        if !to.full {
            words.expect("empty")?;
        }
    } else if words.take("carriers spread by") {
        to.spread = words.length()?;
    } else if words.take("carriers come round after") {
        let word = words.next("how many carriers hang on the rope")?;
        let Some(round) = word.parse().ok().filter(|round| *round > 0) else {
            return wrong(format!("`{word}` is no number of carriers"), "write 1 or more");
        };
        to.round = Some(round);
    } else if words.take("rope starts at") {
        to.speed = words.speed()?;
    } else if words.take("rope speeds up at") {
        to.rates.0 = words.acceleration()?;
    } else if words.take("rope slows at") {
        to.rates.1 = words.acceleration()?;
    } else if words.take("stop") {
        let stop = act::stop(words, station)?;
        words.expect("slows at")?;
        to.brakes.push((stop, words.acceleration()?));
    } else if words.take("gauge") {
        let gauge = act::gauge(words, station)?;
        to.gauges.push((gauge.terminal, behaviour(words, gauge)?));
    } else if words.take("contact") || words.take("pair") {
        follow(words, station, to)?;
    } else {
        return wrong(
            format!("what begins with `{first}` is no line of a scenario"),
            "begin with `scenario`, `at TIME`, `every TIME`, `last TIME`, `controller starts`, `lane starts`, `carriers spread by`, `carriers come round after`, \
             `rope starts at`, `rope speeds up at`, `rope slows at`, `stop NAME`, `gauge NAME`, `contact NAME` or `pair NAME`; `haltproof manual scenarios` has all of them",
        );
    }
    words.end()
}

fn behaviour(words: &mut Words<'_>, gauge: &Gauge) -> Result<Behaviour, Wrong> {
    // Half a per mille of the range: what a good amplifier leaves.
    let mut noise = f64::from(gauge.top) / 2_000.0;
    if words.take("lies at") {
        let at = words.steps(gauge, false)?;
        if words.take("noise") {
            noise = words.steps(gauge, true)?;
        }
        return Ok(Behaviour::Lies { at, noise });
    }
    words.expect("pressed from")?;
    let from = words.length()?;
    words.expect("to")?;
    let between = (from, words.length()?);
    let (mut rated, mut rest) = (None, super::gauges::rest(gauge));
    let (mut spread, mut over) = (0.0, 400.0);
    loop {
        if words.take("rated") {
            rated = Some(words.steps(gauge, false)?);
        } else if words.take("at rest") {
            rest = words.steps(gauge, false)?;
        } else if words.take("spread") {
            spread = words.steps(gauge, true)?;
        } else if words.take("noise") {
            noise = words.steps(gauge, true)?;
        } else if words.take("over") {
            over = words.length()?.max(1.0);
        } else {
            break;
        }
    }
    let Some(rated) = rated else {
        return wrong("the rated value is missing", "write `rated` and the value");
    };
    Ok(Behaviour::Pressed { between, rated, rest, spread, noise, over })
}

fn follow(words: &mut Words<'_>, station: &Station, to: &mut Scenario) -> Result<(), Wrong> {
    let name = words.next("the name of a contact or pair")?;
    let input = station.inputs.iter().find(|i| i.name.text == name);
    let channels = match input.map(|i| &i.kind) {
        Some(InputKind::Contact(c)) => vec![(c.channel, false)],
        Some(InputKind::Pair(p)) => p.channels.into_iter().zip([false, p.opposed]).collect(),
        _ => {
            let contacts =
                station.inputs.iter().filter(|i| matches!(i.kind, InputKind::Contact(_) | InputKind::Pair(_)));
            let mend = nearest_name(name, contacts.map(|i| i.name.text.as_str()));
            return wrong(format!("`{name}` is no contact or pair of the rule file"), mend);
        }
    };
    let closed = words.take("closed");
    if !closed {
        words.expect("open")?;
    }
    words.expect("while")?;
    let when = if words.take("rope") {
        let moves = words.take("moves");
        if !moves {
            words.expect("stands")?;
        }
        While::Moves(moves, after(words)?)
    } else if words.take("a carrier is from") {
        let from = words.length()?;
        words.expect("to")?;
        While::Carrier(from, words.length()?)
    } else {
        let output = act::output(words, station)?;
        let off = words.take("off");
        if !off {
            words.expect("on")?;
        }
        While::Output(output, off, after(words)?)
    };
    let level = |opposed: bool| closed != opposed;
    to.follows.extend(channels.into_iter().map(|(channel, opposed)| Follow { channel, level: level(opposed), when }));
    Ok(())
}

/// A delay after `after`, or none.
fn after(words: &mut Words<'_>) -> Result<u64, Wrong> {
    if words.take("after") { words.time() } else { Ok(0) }
}
