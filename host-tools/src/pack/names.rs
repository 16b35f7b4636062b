//! What the numbers of a plan are called: the log of a controller speaks in numbers.

use crate::lower::Program;
use crate::prove::cells::channel;
use crate::station::ways::{Source, Way, WayOf};
use crate::station::{InputKind, Rank, Station};
use serde::Serialize;

/// Names by number; each number is the place in its list, but for answers, which count from 1.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Names {
    /// Ways, mildest answer first.
    pub ways: Vec<WayName>,
    /// Answers, mildest first; the first has rank 1.
    pub answers: Vec<String>,
    /// Modes.
    pub modes: Vec<String>,
    /// Bypasses.
    pub bypasses: Vec<String>,
    /// Paces.
    pub paces: Vec<String>,
    /// Watches that measure: travels, measures, spacings.
    pub measured: Vec<String>,
    /// Outputs.
    pub outputs: Vec<Wired>,
    /// Digital channels.
    pub channels: Vec<Wired>,
    /// Gauges.
    pub gauges: Vec<Wired>,
    /// Sources of travel.
    pub sources: Vec<Wired>,
    /// Links.
    pub links: Vec<Wired>,
}

/// A way.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WayName {
    /// `watch`, `input`, `output`, `mode`, `slow` or `controller`.
    pub source: &'static str,
    /// Name of what trips, or an empty one.
    pub name: String,
    /// In what way.
    pub way: &'static str,
    /// The answer.
    pub answer: String,
    /// Title of the watch, or an empty one.
    pub title: String,
}

/// Something at a terminal.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Wired {
    /// Name of the input or output.
    pub name: String,
    /// The terminal.
    pub terminal: String,
}

impl Names {
    /// Names of a station, in the numbers of its program.
    pub(super) fn new(station: &Station, program: &Program) -> Self {
        let watch = |&i: &usize| station.watches.get(i).map_or_else(String::new, |w| w.name.text.clone());
        let ways = program.by_severity.iter().filter_map(|&place| program.ways.get(place));
        let outputs = station.outputs.iter().map(|o| Wired { name: o.name.text.clone(), terminal: o.terminal.clone() });
        let paces = station.inputs.iter().filter(|input| matches!(input.kind, InputKind::Pace(_)));
        Self {
            ways: ways.map(|of| way(station, *of)).collect(),
            answers: (1..=station.worst()).map(|rank: Rank| station.answer(rank).to_owned()).collect(),
            modes: station.modes.iter().map(|m| m.name.text.clone()).collect(),
            bypasses: station.bypasses.iter().map(|b| b.name.text.clone()).collect(),
            paces: paces.map(|input| input.name.text.clone()).collect(),
            measured: program.judged.iter().map(watch).collect(),
            outputs: outputs.collect(),
            channels: channels(station),
            gauges: wired(
                station,
                &station.gauge_terminals,
                |kind, i| matches!(kind, InputKind::Gauge(g) if g.terminal == i),
            ),
            sources: wired(station, &station.sources, |kind, i| {
                let InputKind::Pace(pace) = kind else { return false };
                pace.source == i || matches!(pace.backing, crate::station::Backing::Source(second, _) if second == i)
            }),
            links: wired(
                station,
                &station.link_terminals,
                |kind, i| matches!(kind, InputKind::Link(l) if l.terminal == i),
            ),
        }
    }
}

/// Channels; one that an output is read back by has the name of that output.
fn channels(station: &Station) -> Vec<Wired> {
    let read_back = |i| station.outputs.iter().find(|o| o.read_back.is_some_and(|(by, _)| by == i));
    let named = station.channels.iter().enumerate().map(|(i, terminal)| Wired {
        name: read_back(i).map_or_else(|| channel(station, i), |output| format!("{} read back", output.name.text)),
        terminal: terminal.clone(),
    });
    named.collect()
}

/// Terminals with the names of the inputs that they are of.
fn wired(station: &Station, terminals: &[String], of: impl Fn(&InputKind, usize) -> bool) -> Vec<Wired> {
    let named = terminals.iter().enumerate().map(|(i, terminal)| {
        let input = station.inputs.iter().find(|input| of(&input.kind, i));
        Wired { name: input.map_or_else(String::new, |input| input.name.text.clone()), terminal: terminal.clone() }
    });
    named.collect()
}

fn way(station: &Station, of: WayOf) -> WayName {
    let text = |name: Option<&crate::station::Name>| name.map_or_else(String::new, |name| name.text.clone());
    let mut title = String::new();
    let (source, name) = match of.source {
        Source::PowerUp => ("controller", String::new()),
        Source::Modes => ("mode", String::new()),
        Source::Mode(i) => ("mode", text(station.modes.get(i).map(|m| &m.name))),
        Source::Output(i) => ("output", text(station.outputs.get(i).map(|o| &o.name))),
        Source::Slow(i) => ("slow", text(station.slows.get(i).map(|s| &s.name))),
        Source::Input(i) => ("input", text(station.inputs.get(i).map(|input| &input.name))),
        Source::Watch(i) => {
            let watch = station.watches.get(i);
            title = watch.map_or_else(String::new, |watch| watch.title.clone());
            ("watch", text(watch.map(|watch| &watch.name)))
        }
    };
    let way: Way = of.way;
    WayName { source, name, way: way.text(), answer: station.answer(of.answer).to_owned(), title }
}
