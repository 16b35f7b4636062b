//! From the names in a recording to the places in a sample.

use std::collections::BTreeMap;

use super::fault::{Bad, quoted};
use super::linear::{Linear, Scaling};
use super::top::{Mapped, Top};
use crate::scale::exact_over;
use crate::station::{Gauge, InputKind, Station};

/// What the time column is called, unless a line names another.
const TIME: &str = "time";

/// How the value of a gauge is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Told {
    /// A current; decimal places that turn it into nanoamperes.
    Current(u32),
    /// A value; decimal places that turn it into millionths of the gauge's unit.
    Value(u32),
    /// What a straight line turns into nanoamperes.
    CurrentOn(Linear),
    /// What a straight line turns into millionths of the gauge's unit.
    ValueOn(Linear),
}

/// Where a column or signal goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Slot {
    /// A digital channel.
    Channel(usize),
    /// A gauge.
    Gauge(usize, Told),
    /// A counter, and the millimetres of what it counts.
    Counter(usize, u32),
    /// A counter, and what turns what it counts into millimetres.
    CounterOn(usize, Linear),
    /// A link.
    Link(usize),
    /// Not of this station.
    Ignored,
}

/// The names of a recording.
#[derive(Debug)]
pub(super) struct Columns<'s> {
    station: &'s Station,
    top: Top,
    /// The gauge on each analogue terminal.
    pub(super) gauges: Vec<Option<&'s Gauge>>,
    /// Millimetres a pulse of each counter.
    pulses: Vec<u32>,
    /// Terminals by kind, without unit.
    terminals: BTreeMap<&'s str, Slot>,
}

impl<'s> Columns<'s> {
    pub(super) fn new(station: &'s Station, top: Top) -> Self {
        let mut gauges = vec![None; station.gauge_terminals.len()];
        let mut pulses = vec![1; station.sources.len()];
        for input in &station.inputs {
            match &input.kind {
                InputKind::Gauge(gauge) => {
                    if let Some(cell) = gauges.get_mut(gauge.terminal) {
                        *cell = Some(gauge);
                    }
                }
                InputKind::Pace(pace) => {
                    let second = match pace.backing {
                        crate::station::Backing::Source(source, _) => Some(source),
                        crate::station::Backing::None | crate::station::Backing::Running(_) => None,
                    };
                    for source in [Some(pace.source), second].into_iter().flatten() {
                        if let Some(cell) = pulses.get_mut(source) {
                            *cell = pace.mm_a_pulse;
                        }
                    }
                }
                InputKind::Contact(_)
                | InputKind::Pair(_)
                | InputKind::Detector(_)
                | InputKind::Link(_)
                | InputKind::Key(_) => {}
            }
        }
        let mut terminals = BTreeMap::new();
        let mut all = |names: &'s [String], slot: fn(usize) -> Slot| {
            for (i, name) in names.iter().enumerate() {
                terminals.insert(name.as_str(), slot(i));
            }
        };
        all(&station.channels, Slot::Channel);
        all(&station.gauge_terminals, |i| Slot::Gauge(i, Told::Current(6)));
        all(&station.sources, |i| Slot::Counter(i, 1));
        all(&station.link_terminals, Slot::Link);
        Self { station, top, gauges, pulses, terminals }
    }

    pub(super) fn top(&self) -> &Top {
        &self.top
    }

    /// Every `column` line must speak of a terminal of the station.
    pub(super) fn lines_fit(&self) -> Result<(), Bad> {
        self.top.columns.all().iter().try_for_each(|mapped| self.fits(mapped))
    }

    /// A `column` line must speak of a terminal of the station, or of the time.
    pub(super) fn fits(&self, Mapped { name, terminal, held_us, .. }: &Mapped) -> Result<(), Bad> {
        if held_us.is_some() && !self.station.gauge_terminals.contains(terminal) {
            return Err(Bad::new(
                format!("`{name}` is held, and is no gauge"),
                "`held for` of a gauge: a channel, a counter and a link are read in every scan",
                "leave it out",
            ));
        }
        if terminal == TIME || self.terminals.contains_key(terminal.as_str()) {
            return Ok(());
        }
        Err(self.no_terminal(&format!("`# column {name} is {terminal}`"), terminal))
    }

    /// The slot of a name as it stands in the header row or in a `signal` field.
    pub(super) fn slot(&self, written: &[u8]) -> Result<Slot, Bad> {
        let text = std::str::from_utf8(written)
            .map_err(|_| Bad::new("this name is no UTF-8", "text in UTF-8", "save it as UTF-8"))?;
        let (name, unit) = parts(text);
        if self.top.ignored.iter().any(|n| n == name || n == text) {
            return Ok(Slot::Ignored);
        }
        let mapped = self.top.mapped(text, name);
        let terminal = mapped.map_or(name, |mapped| mapped.terminal.as_str());
        let said = mapped.and_then(|mapped| mapped.unit.as_deref());
        let Some(slot) = self.terminals.get(terminal) else {
            return Err(self.no_terminal(&quoted(written), name));
        };
        // The whole of a name may look as if it had a unit: that of a channel or a link has none, and a line may say another.
        let has_unit = said.is_none() && matches!(slot, Slot::Gauge(..) | Slot::Counter(..));
        let bracketed = unit.filter(|_| has_unit || mapped.is_none_or(|mapped| mapped.name != text));
        if let (Some(said), Some(bracketed)) = (said, bracketed)
            && said != bracketed
        {
            return Err(Bad::new(
                format!("`{name}` is in {bracketed} by its name and in {said} by its line at the top"),
                "one unit",
                "correct the line",
            ));
        }
        let unit = said.or(bracketed);
        let scaling = mapped.and_then(|mapped| mapped.scaling);
        match (*slot, unit) {
            (Slot::Gauge(i, _), unit) => self.told(i, name, unit, scaling).map(|told| Slot::Gauge(i, told)),
            (Slot::Counter(i, _), Some("mm")) => counter(name, i, 1, scaling),
            (Slot::Counter(i, _), Some("pulses")) => {
                counter(name, i, self.pulses.get(i).copied().unwrap_or(1), scaling)
            }
            (Slot::Counter(..), unit) => Err(no_unit(name, unit, "`[mm]` or `[pulses]`", "mm")),
            (_, None) if scaling.is_some() => Err(Bad::new(
                format!("`{name}` is scaled, and is neither a gauge nor a counter"),
                "nothing behind its terminal: a channel is 0 or 1, a link a rank",
                format!("write `# column {name} is {terminal}`"),
            )),
            (slot, None) => Ok(slot),
            (_, Some(unit)) => Err(Bad::new(
                format!("`{name}` has the unit `{unit}`"),
                "no unit: a channel is 0 or 1, a link a rank",
                format!("write `{name}`"),
            )),
        }
    }

    /// How long the line of this very name says that a value holds, in microseconds; none where it says nothing of that.
    pub(super) fn held_us(&self, written: &[u8]) -> Option<u64> {
        let text = std::str::from_utf8(written).ok()?;
        self.top.mapped(text, parts(text).0)?.held_us
    }

    /// This column is the time.
    pub(super) fn is_time(&self, written: &[u8]) -> bool {
        let mapped = || std::str::from_utf8(written).ok().and_then(|name| self.top.columns.called(name));
        written == TIME.as_bytes() || mapped().is_some_and(|mapped| mapped.terminal == TIME)
    }

    fn told(&self, index: usize, name: &str, unit: Option<&str>, scaling: Option<Scaling>) -> Result<Told, Bad> {
        let gauge = self.gauges.get(index).copied().flatten();
        let own = gauge.map_or("", |g| g.unit.as_str());
        let expected = || format!("`[mA]`, `[uA]` or `[{own}]`");
        let told = match unit {
            Some("mA") => Told::Current(6),
            Some("uA") => Told::Current(3),
            Some(unit) => {
                let factor = power(unit)
                    .zip(power(own))
                    .and_then(|((kind, p), (own_kind, own_p))| (kind == own_kind).then_some(p - own_p));
                let factor = if unit == own { Some(0) } else { factor };
                let places = factor.and_then(|f| u32::try_from(6 + f).ok());
                places.map(Told::Value).ok_or_else(|| no_unit(name, Some(unit), &expected(), "mA"))?
            }
            None => return Err(no_unit(name, None, &expected(), "mA")),
        };
        let Some(scaling) = scaling else { return Ok(told) };
        let on = |places: u32| {
            let fits = |line: &Linear| gauge.is_none_or(|gauge| exact_over(gauge, line.over()));
            scaling.into_places(places).filter(fits).ok_or_else(|| too_fine(name))
        };
        match told {
            Told::Current(places) => on(places).map(Told::CurrentOn),
            Told::Value(places) => on(places).map(Told::ValueOn),
            told @ (Told::CurrentOn(_) | Told::ValueOn(_)) => Ok(told),
        }
    }

    /// The name of a slot's terminal.
    pub(super) fn terminal(&self, slot: Slot) -> &str {
        let name = match slot {
            Slot::Channel(i) => self.station.channels.get(i),
            Slot::Gauge(i, _) => self.station.gauge_terminals.get(i),
            Slot::Counter(i, _) | Slot::CounterOn(i, _) => self.station.sources.get(i),
            Slot::Link(i) => self.station.link_terminals.get(i),
            Slot::Ignored => None,
        };
        name.map_or("", String::as_str)
    }

    /// A terminal that no slot of the list covers, or that two do.
    pub(super) fn complete(&self, slots: &[Slot]) -> Result<(), Bad> {
        for &terminal in self.terminals.values() {
            match slots.iter().filter(|s| same(**s, terminal)).count() {
                1 => {}
                0 => {
                    let name = self.terminal(terminal);
                    return Err(Bad::new(
                        format!("terminal {name} is missing"),
                        "every terminal that the rule file reads",
                        format!("record {name}, or name its column with `# column NAME is {name}`"),
                    ));
                }
                _ => {
                    let name = self.terminal(terminal);
                    return Err(Bad::new(
                        format!("terminal {name} has two columns"),
                        "each terminal once",
                        "pass one over with `# ignore NAME`",
                    ));
                }
            }
        }
        Ok(())
    }

    /// A channel or gauge that the first scan of a change list leaves without a value.
    pub(super) fn first_complete(&self, given: &[Slot]) -> Result<(), Bad> {
        for &terminal in self.terminals.values() {
            let needed = matches!(terminal, Slot::Channel(_) | Slot::Gauge(..));
            if needed && !given.iter().any(|s| same(*s, terminal)) {
                let name = self.terminal(terminal);
                return Err(Bad::new(
                    format!("{name} has no value when the recording starts"),
                    "a row for every channel and gauge at the first time",
                    format!("add a row for {name} at the first time"),
                ));
            }
        }
        Ok(())
    }

    fn no_terminal(&self, what: &str, near: &str) -> Bad {
        let close = self.terminals.keys().min_by_key(|t| distance(t, near)).copied();
        let expected = close.map_or_else(
            || "a terminal of the rule file".to_owned(),
            |t| format!("a terminal of the rule file; the nearest name is {t}"),
        );
        Bad::new(
            format!("{what} is no signal of this station"),
            expected,
            if near.is_empty() {
                "a column without a name is passed over with `# ignore` alone"
            } else {
                "name it with `# column NAME is TERMINAL`, or pass it over with `# ignore NAME`"
            },
        )
    }
}

/// A name as it is written, and what looks like its unit.
fn parts(text: &str) -> (&str, Option<&str>) {
    match text.strip_suffix(']').and_then(|text| text.split_once('[')) {
        Some((name, unit)) => (name, Some(unit)),
        None => (text, None),
    }
}

/// The same terminal, whatever the unit.
pub(super) fn same(a: Slot, b: Slot) -> bool {
    match (a, b) {
        (Slot::Channel(a), Slot::Channel(b))
        | (Slot::Gauge(a, _), Slot::Gauge(b, _))
        | (Slot::Counter(a, _) | Slot::CounterOn(a, _), Slot::Counter(b, _) | Slot::CounterOn(b, _))
        | (Slot::Link(a), Slot::Link(b)) => a == b,
        _ => false,
    }
}

/// The slot of a counter that counts millimetres, or pulses of so many.
fn counter(name: &str, index: usize, mm: u32, scaling: Option<Scaling>) -> Result<Slot, Bad> {
    let Some(scaling) = scaling else { return Ok(Slot::Counter(index, mm)) };
    if !scaling.is_proportional() {
        return Err(Bad::new(
            format!("`{name}` is moved on in every scan, also where it stands"),
            "`times NUMBER` alone: a counter tells how far it moved since the scan before",
            "leave `plus` or `minus` out",
        ));
    }
    let line = scaling.times(mm).into_places(0).ok_or_else(|| too_fine(name))?;
    Ok(Slot::CounterOn(index, line))
}

/// A unit as its kind and the power of ten over the kind's base.
fn power(unit: &str) -> Option<(&'static str, i32)> {
    Some(match unit {
        "N" => ("N", 0),
        "kN" => ("N", 3),
        "mm" => ("m", -3),
        "m" => ("m", 0),
        "mm/s" => ("m/s", -3),
        "m/s" => ("m/s", 0),
        "m/s2" => ("m/s2", 0),
        "%" => ("%", 0),
        "ms" => ("s", -3),
        "s" => ("s", 0),
        _ => return None,
    })
}

fn no_unit(name: &str, unit: Option<&str>, expected: &str, example: &str) -> Bad {
    let what = match unit {
        Some(unit) => {
            format!("`{name}` is in `{unit}`, by its name or by its line at the top, and cannot be read in that")
        }
        None => format!("`{name}` has no unit"),
    };
    Bad::new(what, expected, format!("write `{name}[{example}]`, or `in {example}` in a `# column` line"))
}

fn too_fine(name: &str) -> Bad {
    Bad::new(
        format!("the numbers by which `{name}` is scaled are too long to be reckoned with exactly"),
        "numbers of a few digits",
        "write a fraction of small whole numbers: `16/27648`",
    )
}

/// Letters to change, put in or take out to make one word of the other.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, ca) in a.chars().enumerate() {
        let mut corner = i;
        let mut left = i + 1;
        let mut next = vec![left];
        for (cb, &above) in b.iter().zip(row.iter().skip(1)) {
            let cell = (corner + usize::from(ca != *cb)).min(above + 1).min(left + 1);
            corner = above;
            left = cell;
            next.push(cell);
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}
