//! What of the old rules is what of the new ones: by name, and where a name has gone, by terminal or by what is said.

use super::statements::Said;
use crate::station::{Gauge, Input, InputKind, Name, Rank, Station};
use std::collections::HashMap;

/// An answer of either side, on the common scale of severity.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// Its name, the old one if it has two.
    pub name: String,
    /// Its rank in the old rules.
    pub old: Option<Rank>,
    /// Its rank in the new rules.
    pub new: Option<Rank>,
}

/// Something that has another name in the new rules.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Renamed {
    /// `input`, `watch`, `output`, `mode`, `answer` or `bypass`.
    pub kind: &'static str,
    /// Its old name.
    pub old: String,
    /// Its new name.
    pub new: String,
}

/// What belongs together; each list has a place for each of the new rules, and names one of the old.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Pairs {
    /// Answers of both, mildest first.
    pub answers: Vec<Answer>,
    /// Inputs.
    pub inputs: Vec<Option<usize>>,
    /// Outputs.
    pub outputs: Vec<Option<usize>>,
    /// Watches.
    pub watches: Vec<Option<usize>>,
    /// Channels.
    pub channels: Vec<Option<usize>>,
    /// Gauges.
    pub gauges: Vec<Option<usize>>,
    /// Sources.
    pub sources: Vec<Option<usize>>,
    /// Links.
    pub links: Vec<Option<usize>>,
    /// What has another name.
    pub renamed: Vec<Renamed>,
    /// What only the old rules have: kind and name.
    pub removed: Vec<(&'static str, String)>,
    /// What only the new rules have: kind and name.
    pub added: Vec<(&'static str, String)>,
    /// What cannot be compared, in words.
    pub apart: Vec<String>,
}

/// What belongs together in two stations, and the names of the new one, by their old ones.
pub fn pairs(old: &Station, new: &Station, said: [&[Said]; 2]) -> (Pairs, HashMap<String, String>) {
    let mut making = Making { pairs: Pairs::default(), names: HashMap::new() };
    if old.scan_us != new.scan_us {
        making.pairs.apart.push(format!(
            "a scan takes {} ms in the old rules and {} ms in the new: their histories have no common scans",
            old.ms(1),
            new.ms(1)
        ));
    }
    let inputs = |station: &Station| station.inputs.iter().map(|i| i.name.clone()).collect::<Vec<_>>();
    let same = |i: usize, j: usize| match (old.inputs.get(i), new.inputs.get(j)) {
        (Some(a), Some(b)) => terminals(old, a) == terminals(new, b),
        _ => false,
    };
    making.pairs.inputs = making.pair("input", &inputs(old), &inputs(new), same);
    making.terminals(old, new);
    let outputs = |station: &Station| station.outputs.iter().map(|o| o.name.clone()).collect::<Vec<_>>();
    let same = |i: usize, j: usize| old.outputs.get(i).map(|o| &o.terminal) == new.outputs.get(j).map(|o| &o.terminal);
    making.pairs.outputs = making.pair("output", &outputs(old), &outputs(new), same);
    making.read_backs(old, new);
    let modes = |station: &Station| station.modes.iter().map(|m| m.name.clone()).collect::<Vec<_>>();
    let keys = making.pairs.inputs.clone();
    let same = |i: usize, j: usize| match (old.modes.get(i), new.modes.get(j)) {
        (Some(a), Some(b)) => keys.get(b.key) == Some(&Some(a.key)),
        _ => false,
    };
    making.pair("mode", &modes(old), &modes(new), same);
    making.answers(old, new);
    let bypasses = |station: &Station| station.bypasses.iter().map(|b| b.name.clone()).collect::<Vec<_>>();
    let same = |i: usize, j: usize| match (old.bypasses.get(i), new.bypasses.get(j)) {
        (Some(a), Some(b)) => keys.get(b.key) == Some(&Some(a.key)),
        _ => false,
    };
    making.pair("bypass", &bypasses(old), &bypasses(new), same);
    let watches = |station: &Station| station.watches.iter().map(|w| w.name.clone()).collect::<Vec<_>>();
    let of = |all: &[Said], name: Option<&Name>| {
        all.iter().find(|said| name.is_some_and(|name| said.name == name.text) && is_watch(&said.keyword)).cloned()
    };
    let names = making.names.clone();
    let same = |i: usize, j: usize| {
        let a = of(said[0], old.watches.get(i).map(|w| &w.name));
        let b = of(said[1], new.watches.get(j).map(|w| &w.name)).map(|said| said.renamed(&names));
        a.is_some_and(|a| b.is_some_and(|b| a.body() == b.body()))
    };
    making.pairs.watches = making.pair("watch", &watches(old), &watches(new), same);
    (making.pairs, making.names)
}

/// It declares a watch.
pub fn is_watch(keyword: &str) -> bool {
    ["guard", "travel", "measure", "spacing", "agree", "confirm", "exercise", "count"].contains(&keyword)
}

struct Making {
    pairs: Pairs,
    /// Old names by new ones, where they differ.
    names: HashMap<String, String>,
}

impl Making {
    /// Pairs by name, then by what makes them the same; tells of what is left.
    fn pair(
        &mut self,
        kind: &'static str,
        old: &[Name],
        new: &[Name],
        same: impl Fn(usize, usize) -> bool,
    ) -> Vec<Option<usize>> {
        let mut found: Vec<Option<usize>> =
            new.iter().map(|name| old.iter().position(|other| other.text == name.text)).collect();
        for (j, name) in new.iter().enumerate() {
            if found.get(j) != Some(&None) {
                continue;
            }
            let free = (0..old.len()).find(|i| !found.contains(&Some(*i)) && same(*i, j));
            match free.and_then(|i| old.get(i).map(|other| (i, other))) {
                Some((i, other)) => {
                    if let Some(cell) = found.get_mut(j) {
                        *cell = Some(i);
                    }
                    self.names.insert(name.text.clone(), other.text.clone());
                    self.pairs.renamed.push(Renamed { kind, old: other.text.clone(), new: name.text.clone() });
                }
                None => self.pairs.added.push((kind, name.text.clone())),
            }
        }
        for (i, name) in old.iter().enumerate() {
            if !found.contains(&Some(i)) {
                self.pairs.removed.push((kind, name.text.clone()));
            }
        }
        found
    }
    /// Terminals of inputs that belong together.
    fn terminals(&mut self, old: &Station, new: &Station) {
        let pairs = &mut self.pairs;
        pairs.channels = vec![None; new.channels.len()];
        pairs.gauges = vec![None; new.gauge_terminals.len()];
        pairs.sources = vec![None; new.sources.len()];
        pairs.links = vec![None; new.link_terminals.len()];
        for (input, mate) in new.inputs.iter().zip(&pairs.inputs) {
            let Some(before) = mate.and_then(|i| old.inputs.get(i)) else { continue };
            let (a, b) = (lines(before), lines(input));
            for (x, y) in a.iter().zip(&b) {
                if let Some(cell) = pairs.channels.get_mut(*y) {
                    *cell = Some(*x);
                }
            }
            let tie = |of: &mut Vec<Option<usize>>, x: usize, y: usize| {
                if let Some(cell) = of.get_mut(y) {
                    *cell = Some(x);
                }
            };
            match (&before.kind, &input.kind) {
                (InputKind::Gauge(x), InputKind::Gauge(y)) => {
                    let scale = |g: &Gauge| (g.step_micro, g.points, g.trusted_ua, g.broken_ua, g.lowest, g.top);
                    if scale(x) == scale(y) && x.unit == y.unit {
                        tie(&mut pairs.gauges, x.terminal, y.terminal);
                    } else {
                        pairs.apart.push(format!(
                            "gauge {} is scaled otherwise: its values cannot be compared, and are left free on each side",
                            before.name.text
                        ));
                    }
                }
                (InputKind::Pace(x), InputKind::Pace(y)) => {
                    if x.mm_a_pulse != y.mm_a_pulse {
                        pairs.apart.push(format!(
                            "pace {} has pulses of another length: the same pulses are another travel",
                            before.name.text
                        ));
                    }
                    tie(&mut pairs.sources, x.source, y.source);
                    if let (crate::station::Backing::Source(x, _), crate::station::Backing::Source(y, _)) =
                        (x.backing, y.backing)
                    {
                        tie(&mut pairs.sources, x, y);
                    }
                }
                (InputKind::Link(x), InputKind::Link(y)) => tie(&mut pairs.links, x.terminal, y.terminal),
                (x, y) if std::mem::discriminant(x) == std::mem::discriminant(y) && a.len() == b.len() => {}
                _ => pairs.apart.push(format!("input {} is of another kind", before.name.text)),
            }
        }
    }
    /// Channels on which outputs are read back.
    fn read_backs(&mut self, old: &Station, new: &Station) {
        for (output, mate) in new.outputs.iter().zip(&self.pairs.outputs) {
            let before = mate.and_then(|i| old.outputs.get(i)).and_then(|output| output.read_back);
            if let (Some((x, _)), Some((y, _))) = (before, output.read_back)
                && let Some(cell) = self.pairs.channels.get_mut(y)
            {
                *cell = Some(x);
            }
        }
    }
    /// Answers of both sides on one scale.
    fn answers(&mut self, old: &Station, new: &Station) {
        let slows = |station: &Station| station.slows.iter().map(|s| s.name.clone()).collect::<Vec<_>>();
        let stops = |station: &Station| station.stops.iter().map(|s| s.name.clone()).collect::<Vec<_>>();
        let (a, b) = (slows(old), slows(new));
        let slow = self.pair("answer", &a, &b, |i, j| i == j && a.len() == b.len());
        let (c, d) = (stops(old), stops(new));
        let stop = self.pair("answer", &c, &d, |i, j| i == j && c.len() == d.len());
        let shifted = stop.into_iter().map(|mate| mate.map(|i| i + a.len()));
        let mates: Vec<Option<usize>> = slow.into_iter().chain(shifted).collect();
        let known: Vec<usize> = mates.iter().flatten().copied().collect();
        if !known.is_sorted() {
            self.pairs.apart.push("the order of severity of slow orders or stops has changed".into());
        }
        let rank = |i: usize| Rank::try_from(i + 1).unwrap_or(Rank::MAX);
        let (mut next, total) = (0, a.len() + c.len());
        let mut alone = |pairs: &mut Pairs, upto: usize| {
            let first = next;
            for i in next..upto {
                if !known.contains(&i) {
                    let name = old.answer(rank(i)).to_string();
                    pairs.answers.push(Answer { name, old: Some(rank(i)), new: None });
                }
            }
            next = next.max(upto);
            first < upto && (first..upto).any(|i| !known.contains(&i))
        };
        let mut last_alone = false;
        for (j, mate) in mates.iter().enumerate() {
            if let Some(i) = mate {
                if alone(&mut self.pairs, *i) && last_alone {
                    self.pairs.apart.push("an answer was put in the place of another".into());
                }
                let name = old.answer(rank(*i)).to_string();
                self.pairs.answers.push(Answer { name, old: Some(rank(*i)), new: Some(rank(j)) });
            } else {
                let name = new.answer(rank(j)).to_string();
                self.pairs.answers.push(Answer { name, old: None, new: Some(rank(j)) });
            }
            last_alone = mate.is_none();
        }
        if alone(&mut self.pairs, total) && last_alone {
            self.pairs.apart.push("an answer was put in the place of another".into());
        }
    }
}

/// Channels of an input, in order.
fn lines(input: &Input) -> Vec<usize> {
    match &input.kind {
        InputKind::Contact(c) => vec![c.channel],
        InputKind::Detector(d) => vec![d.channel],
        InputKind::Pair(p) => p.channels.to_vec(),
        InputKind::Key(k) => std::iter::once(k.channels.0).chain(k.channels.1).collect(),
        InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_) => Vec::new(),
    }
}

/// Kind and terminals of an input.
fn terminals<'s>(station: &'s Station, input: &Input) -> (std::mem::Discriminant<InputKind>, Vec<Option<&'s String>>) {
    let mut all: Vec<Option<&String>> = lines(input).into_iter().map(|i| station.channels.get(i)).collect();
    match &input.kind {
        InputKind::Gauge(g) => all.push(station.gauge_terminals.get(g.terminal)),
        InputKind::Pace(p) => all.push(station.sources.get(p.source)),
        InputKind::Link(l) => all.push(station.link_terminals.get(l.terminal)),
        _ => {}
    }
    (std::mem::discriminant(&input.kind), all)
}

impl Pairs {
    /// The new station under the old names and on the old terminals, with nothing that does not act: requirements and
    /// assumptions left out. Its cells have the names of the old ones.
    pub fn aligned(&self, old: &Station, new: &Station, names: &HashMap<String, String>) -> Station {
        let mut station = bare(new);
        for (terminal, mate) in station.channels.iter_mut().zip(&self.channels) {
            if let Some(before) = mate.and_then(|i| old.channels.get(i)) {
                terminal.clone_from(before);
            }
        }
        let mut all: Vec<&mut Name> = station.inputs.iter_mut().map(|i| &mut i.name).collect();
        all.extend(station.outputs.iter_mut().map(|o| &mut o.name));
        all.extend(station.modes.iter_mut().map(|m| &mut m.name));
        all.extend(station.slows.iter_mut().map(|s| &mut s.name));
        all.extend(station.stops.iter_mut().map(|s| &mut s.name));
        all.extend(station.watches.iter_mut().map(|w| &mut w.name));
        all.extend(station.bypasses.iter_mut().map(|b| &mut b.name));
        for name in all {
            if let Some(old) = names.get(&name.text) {
                name.text.clone_from(old);
            }
        }
        station
    }
}

/// A station without requirements and assumptions.
pub fn bare(station: &Station) -> Station {
    Station { requirements: Vec::new(), assumptions: Vec::new(), ..station.clone() }
}
