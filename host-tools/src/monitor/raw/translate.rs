//! Conditions of a station as conditions of the raw one: what was published is read of channels, and what is asked of an input
//! beside its level is a fault of a copy of it.

use crate::station::{
    Condition, Contact, Detector, Input, InputId, InputKind, Key, Name, Observed, Pair, Rank, Requirement, Scans,
    Settle, Station,
};

/// What the rules published in the scan before, of which a condition speaks, and what a link gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Published {
    /// A bypass was active.
    Active(usize),
    /// The most severe answer was this one.
    Stood(Rank),
    /// An output was off.
    Off(usize),
    /// A link gives no fresh frame, by its terminal.
    Silent(usize),
}

/// What was published in the scan before; slices that are too short say that it was not.
pub struct Before<'s, B> {
    /// Each bypass was active.
    pub active: &'s [B],
    /// At place `r`: an answer of rank `r` or above stood.
    pub answer: &'s [B],
    /// Each output was off.
    pub off: &'s [B],
    /// Each link gives a fresh frame in this scan.
    pub fresh: &'s [B],
}

/// A channel that is there once more, since what is said of one input on it must not touch the other.
pub(super) fn copied(raw: &mut Station, name: &Name, channel: usize, copies: &mut Vec<usize>) -> usize {
    raw.channels.push(name.text.clone());
    copies.push(channel);
    raw.channels.len() - 1
}
/// The channel of a detector as the rules see it: a second one where it settles. `known` are those that are there.
pub(super) fn settled(
    raw: &mut Station,
    station: &Station,
    detector: InputId,
    copies: &mut Vec<usize>,
    known: &mut Vec<(usize, usize)>,
) -> usize {
    let Some(Input { name, kind: InputKind::Detector(own) }) = station.inputs.get(detector) else { return usize::MAX };
    if own.settle == Settle::default() {
        return own.channel;
    }
    if let Some((_, copy)) = known.iter().find(|(channel, _)| *channel == own.channel) {
        return *copy;
    }
    let name = Name { text: format!("{}.settled", name.text), ..name.clone() };
    let channel = copied(raw, &name, own.channel, copies);
    known.push((own.channel, channel));
    let copy = Detector { channel, covered_at_most: None, rises_every: None, ..own.clone() };
    raw.inputs.push(Input { name, kind: InputKind::Detector(copy) });
    channel
}
/// A key once more, whose channels settle in so many scans.
pub(super) fn pressed_key(
    raw: &mut Station,
    station: &Station,
    key: InputId,
    settles: Scans,
    copies: &mut Vec<usize>,
) -> Option<InputId> {
    let Input { name, kind: InputKind::Key(own) } = station.inputs.get(key)? else { return None };
    let name = Name { text: format!("{}.{settles}", name.text), ..name.clone() };
    // No name of a rule file has a point in it.
    if let Some(there) = raw.inputs.iter().position(|input| input.name.text == name.text) {
        return Some(there);
    }
    let mut copy = |channel| copied(raw, &name, channel, copies);
    let channels = (copy(own.channels.0), own.channels.1.map(&mut copy));
    let kind = InputKind::Key(Key { channels, settle: Settle { up: settles, down: settles } });
    raw.inputs.push(Input { name, kind });
    Some(raw.inputs.len() - 1)
}
/// What a requirement asks that was published in the scan before, but for bypasses.
pub(super) fn published(station: &Station, requirement: &Requirement) -> Vec<Published> {
    let told = |observed: Observed| match observed {
        Observed::Stands(rank) => Some(Published::Stood(rank)),
        Observed::Released(output) => Some(Published::Off(output)),
        Observed::Silent(link) => terminal(station, link).map(Published::Silent),
        _ => None,
    };
    requirement.observed().into_iter().filter_map(told).collect()
}

/// The terminal of a link.
fn terminal(station: &Station, link: InputId) -> Option<usize> {
    match station.inputs.get(link)?.kind {
        InputKind::Link(ref link) => Some(link.terminal),
        _ => None,
    }
}

impl Published {
    /// What it is, and of what.
    pub(super) fn name(self, station: &Station) -> (&'static str, String) {
        let (of, name) = match self {
            Self::Active(bypass) => ("bypass", station.bypasses.get(bypass).map_or("", |b| b.name.text.as_str())),
            Self::Stood(rank) => ("was-answer", station.answer(rank)),
            Self::Off(output) => ("was-off", station.outputs.get(output).map_or("", |o| o.name.text.as_str())),
            Self::Silent(link) => ("silent", station.link_terminals.get(link).map_or("", String::as_str)),
        };
        (of, name.to_string())
    }
}

/// A contact that nothing hides.
pub(super) fn bare_contact(channel: usize) -> Contact {
    Contact {
        channel,
        rests_closed: false,
        line_monitored: true,
        shortest_us: None,
        settle: Settle::default(),
        most_changes: None,
    }
}

/// Conditions of the station as conditions of the raw one.
pub(super) struct Translate<'t> {
    pub(super) station: &'t Station,
    pub(super) told: &'t [Published],
    /// The input that stands for the first of those; the others follow.
    pub(super) first: InputId,
    pub(super) seen_off: Vec<Option<InputId>>,
    /// Channels that are there once more.
    pub(super) copies: &'t mut Vec<usize>,
    /// Inputs on them, for what is asked.
    pub(super) known: Vec<(Observed, InputId)>,
}
impl Translate<'_> {
    fn published(&self, published: Published) -> Condition {
        let place = self.told.iter().position(|told| *told == published);
        place.map_or(Condition::Any(Vec::new()), |place| Condition::High(self.first + place))
    }
    /// The fault of an input that is read as its channel is, and has this fault alone.
    fn observed(&mut self, raw: &mut Station, observed: Observed) -> Condition {
        let none = Condition::Any(Vec::new());
        let of = |raw: &Station, input: InputId| raw.inputs.get(input).cloned();
        let named = |name: Name, limit: u32| Name { text: format!("{}.{limit}", name.text), ..name };
        if let Some((_, input)) = self.known.iter().find(|(known, _)| *known == observed) {
            return Condition::Faulty(*input);
        }
        let copy = match observed {
            Observed::Stands(rank) => return self.published(Published::Stood(rank)),
            Observed::Released(output) => return self.published(Published::Off(output)),
            Observed::Silent(link) => {
                return terminal(raw, link).map_or(none, |link| self.published(Published::Silent(link)));
            }
            // It stands alone, and has a watch of its own.
            Observed::Apart(..)
            | Observed::Pressed(..)
            | Observed::Closer(..)
            | Observed::Farther(..)
            | Observed::Leaping(..)
            | Observed::Sources(..)
            | Observed::Stray(_)
            | Observed::Miscounting(_)
            | Observed::Crowded(..) => return none,
            Observed::Differing(pair) => {
                let Some(Input { name, kind: InputKind::Pair(pair) }) = of(raw, pair) else { return none };
                // A line of a pair that is opposed is turned round for whoever reads it.
                let [one, other] = pair.channels.map(|channel| {
                    let line = Contact { settle: pair.settle, ..bare_contact(channel) };
                    raw.inputs.push(Input { name: name.clone(), kind: InputKind::Contact(line) });
                    Condition::High(raw.inputs.len() - 1)
                });
                let not = |c: &Condition| Condition::Not(Box::new(c.clone()));
                let alone = |x: &Condition, y: &Condition| Condition::All(vec![x.clone(), not(y)]);
                return Condition::Any(vec![alone(&one, &other), alone(&other, &one)]);
            }
            Observed::Distrusted(pair, scans) => {
                let Some(Input { name, kind: InputKind::Pair(line) }) = self.station.inputs.get(pair).cloned() else {
                    return none;
                };
                let channels = line.channels.map(|channel| {
                    let text = raw.channels.get(channel).cloned().unwrap_or_default();
                    copied(raw, &Name { text, ..name.clone() }, channel, self.copies)
                });
                let kind = InputKind::Pair(Pair { channels, differing: scans, ..line });
                Input { name: named(name, scans), kind }
            }
            Observed::Covered(detector, pace, mm) => {
                let Some(Input { name, kind: InputKind::Detector(line) }) = of(raw, detector) else { return none };
                let channel = copied(raw, &name, line.channel, self.copies);
                let kind = InputKind::Detector(Detector { channel, covered_at_most: Some((pace, mm)), ..line });
                Input { name: named(name, mm), kind }
            }
            Observed::Changing(contact, most) => {
                let Some(Input { name, kind: InputKind::Contact(line) }) = of(raw, contact) else { return none };
                let channel = copied(raw, &name, line.channel, self.copies);
                let kind = InputKind::Contact(Contact { channel, most_changes: Some(most), ..line });
                Input { name: named(name, most), kind }
            }
        };
        raw.inputs.push(copy);
        self.known.push((observed, raw.inputs.len() - 1));
        Condition::Faulty(raw.inputs.len() - 1)
    }
    pub(super) fn condition(&mut self, raw: &mut Station, c: &Condition) -> Condition {
        match c {
            Condition::All(parts) => Condition::All(parts.iter().map(|p| self.condition(raw, p)).collect()),
            Condition::Any(parts) => Condition::Any(parts.iter().map(|p| self.condition(raw, p)).collect()),
            Condition::Not(part) => Condition::Not(Box::new(self.condition(raw, part))),
            Condition::Observed(observed) => self.observed(raw, *observed),
            Condition::Bypassed(b) => self.published(Published::Active(*b)),
            Condition::SeenOff(o) => {
                self.seen_off.get(*o).copied().flatten().map_or(Condition::Any(Vec::new()), Condition::High)
            }
            Condition::High(_)
            | Condition::AtLeast(..)
            | Condition::Faster(..)
            | Condition::Back(..)
            | Condition::Faulty(_) => c.clone(),
        }
    }
}
