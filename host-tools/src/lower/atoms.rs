//! Conditions as numbered pairs of bits, and the numbers of everything else that rows refer to.

use super::{Program, small};
use crate::station::ways::{Source, Way, WayOf};
use crate::station::{Backing, Condition, InputId, InputKind, Station};
use logic_rules::plan::{BandRow, CompareRow, DifferRow, HeadRow, NONE, NodeRow};

/// Literal of what is always true, and of what never is.
const TRUE: u16 = 0;
const FALSE: u16 = 1;

/// What the rows refer to.
pub(super) struct Atoms {
    /// Condition of each input's level, if it has one.
    level: Vec<Option<u16>>,
    /// Conditions "has this fault" of each input.
    faults: Vec<Vec<u16>>,
    /// Condition "seen off" of each output.
    seen_off: Vec<u16>,
    /// Level of each gauge; first level of each pace.
    analog: Vec<u16>,
    /// Number of each pace.
    pace: Vec<u16>,
    leaves: usize,
    /// Comparisons and bands that there will be.
    expected: (usize, usize),
    compares: Vec<CompareRow>,
    bands: Vec<BandRow>,
    nodes: Vec<NodeRow>,
    differs: Vec<DifferRow>,
    first_differ: usize,
    plan_way: Vec<u16>,
}

impl Atoms {
    /// Numbers the leaves.
    pub(super) fn new(station: &Station, expected: (usize, usize), plan_way: Vec<u16>) -> Self {
        let mut next = 1 + station.channels.len();
        let mut take = || {
            next += 1;
            small(next - 1)
        };
        let line = |channel: usize| small(1 + channel);
        let mut level = Vec::new();
        let mut faults = Vec::new();
        let mut analog = vec![NONE; station.inputs.len()];
        let mut pace = vec![NONE; station.inputs.len()];
        let gauges = station.gauge_terminals.len();
        let mut paces = 0;
        for (i, input) in station.inputs.iter().enumerate() {
            let (own, fault) = match &input.kind {
                InputKind::Contact(c) if c.most_changes.is_some() => (Some(line(c.channel)), vec![take()]),
                InputKind::Contact(c) => (Some(line(c.channel)), vec![]),
                InputKind::Pair(_) => (Some(take()), vec![take()]),
                InputKind::Detector(d) if d.covered_at_most.is_some() => (Some(line(d.channel)), vec![take()]),
                InputKind::Detector(d) => (Some(line(d.channel)), vec![]),
                InputKind::Key(k) if k.channels.1.is_some() => (Some(take()), vec![]),
                InputKind::Key(k) => (Some(line(k.channels.0)), vec![]),
                InputKind::Gauge(g) => {
                    if let Some(cell) = analog.get_mut(i) {
                        *cell = small(g.terminal);
                    }
                    (None, vec![take(), take()])
                }
                InputKind::Pace(_) => {
                    if let (Some(cell), Some(number)) = (analog.get_mut(i), pace.get_mut(i)) {
                        *cell = small(gauges + 3 * paces);
                        *number = small(paces);
                    }
                    paces += 1;
                    (None, vec![take(), take()])
                }
                InputKind::Link(_) => (None, vec![take()]),
            };
            level.push(own);
            faults.push(fault);
        }
        let seen_off = station.outputs.iter().map(|_| take()).collect();
        Self {
            level,
            faults,
            seen_off,
            analog,
            pace,
            leaves: next,
            expected,
            compares: Vec::new(),
            bands: Vec::new(),
            nodes: Vec::new(),
            differs: Vec::new(),
            first_differ: gauges + 3 * paces,
            plan_way,
        }
    }

    /// Fills the head, but for the number of conditions.
    pub(super) fn head(&mut self, station: &Station, program: &mut Program) {
        let ways = &program.ways;
        let find = |source, way| self.way(ways, source, way);
        let first_stop = ways.iter().filter(|w| w.answer < station.first_stop()).count();
        program.head = HeadRow {
            lines: small(station.channels.len()),
            sources: small(station.sources.len()),
            ways: small(ways.len()),
            first_stop: small(first_stop),
            way_started: find(Source::PowerUp, Way::Started),
            way_unselected: find(Source::Modes, Way::Unselected),
            way_changed: find(Source::Modes, Way::Changed),
            restart: station.restart,
            reset_key: NONE,
            ..HeadRow::default()
        };
        let first_pace = station.inputs.iter().position(|i| matches!(i.kind, InputKind::Pace(_)));
        program.head.mode_still = first_pace.map_or(FALSE, |pace| self.still(station, pace));
        if let Some(reset) = &station.reset {
            program.head.reset_key = self.level(reset.key);
            program.head.reset_when = self.literal(&reset.when);
            program.head.reset_lasting = reset.lasting;
            program.head.reset_shortest = reset.shortest;
            program.head.reset_longest = reset.longest;
        }
    }

    /// Writes what has been collected.
    pub(super) fn finish(self, program: &mut Program) {
        program.head.atoms = small(self.leaves + self.compares.len() + self.bands.len() + self.nodes.len());
        program.compares = self.compares.iter().map(CompareRow::write).collect();
        program.bands = self.bands.iter().map(BandRow::write).collect();
        program.nodes = self.nodes.iter().map(NodeRow::write).collect();
        program.differs = self.differs.iter().map(DifferRow::write).collect();
    }

    /// A way's number in the plan; none if the station has no such way.
    pub(super) fn way(&self, ways: &[WayOf], source: Source, way: Way) -> u16 {
        let at = ways.iter().position(|w| w.source == source && w.way == way);
        at.and_then(|i| self.plan_way.get(i).copied()).unwrap_or(NONE)
    }
    /// Condition of an input's level.
    pub(super) fn level(&self, input: InputId) -> u16 {
        self.level.get(input).copied().flatten().unwrap_or(NONE)
    }
    /// Condition number `which` of an input's faults.
    pub(super) fn fault(&self, input: InputId, which: usize) -> u16 {
        self.faults.get(input).and_then(|f| f.get(which)).copied().unwrap_or(NONE)
    }
    /// Condition that an output is seen off.
    pub(super) fn seen_off(&self, output: usize) -> u16 {
        self.seen_off.get(output).copied().unwrap_or(NONE)
    }
    /// Number of a pace.
    pub(super) fn pace(&self, input: InputId) -> u16 {
        self.pace.get(input).copied().unwrap_or(NONE)
    }
    /// Level of a gauge, or the forward level of a pace.
    pub(super) fn analog(&self, input: InputId) -> u16 {
        self.analog.get(input).copied().unwrap_or(NONE)
    }

    fn compare(&mut self, level: u16, limit: u32) -> u16 {
        let row = CompareRow { level, limit, spare: 0 };
        let at = self.compares.iter().position(|known| *known == row).unwrap_or_else(|| {
            self.compares.push(row);
            self.compares.len() - 1
        });
        small((self.leaves + at) * 2)
    }
    /// "This level lies in the band".
    fn inside(&mut self, level: u16, least: u32, most: u32) -> u16 {
        let row = BandRow { level, spare: 0, least, most };
        let at = self.bands.iter().position(|known| *known == row).unwrap_or_else(|| {
            self.bands.push(row);
            self.bands.len() - 1
        });
        small((self.leaves + self.expected.0 + at) * 2)
    }
    fn both(&mut self, a: u16, b: u16) -> u16 {
        match (a, b) {
            (TRUE, other) | (other, TRUE) => return other,
            (FALSE, _) | (_, FALSE) => return FALSE,
            _ => {}
        }
        let row = NodeRow { a: a.min(b), b: a.max(b) };
        let at = self.nodes.iter().position(|known| *known == row).unwrap_or_else(|| {
            self.nodes.push(row);
            self.nodes.len() - 1
        });
        small((self.leaves + self.expected.0 + self.expected.1 + at) * 2)
    }
    fn either(&mut self, a: u16, b: u16) -> u16 {
        self.both(a ^ 1, b ^ 1) ^ 1
    }

    /// The literal of a condition.
    pub(super) fn literal(&mut self, condition: &Condition) -> u16 {
        match condition {
            Condition::All(parts) => match band_of(parts) {
                Some((gauge, least, most)) => self.inside(self.analog(gauge), least, most),
                None => parts.iter().fold(TRUE, |so_far, part| {
                    let part = self.literal(part);
                    self.both(so_far, part)
                }),
            },
            Condition::Any(parts) => parts.iter().fold(FALSE, |so_far, part| {
                let part = self.literal(part);
                self.either(so_far, part)
            }),
            Condition::Not(part) => self.literal(part) ^ 1,
            Condition::High(input) => self.level(*input).saturating_mul(2),
            Condition::AtLeast(gauge, steps) => self.compare(self.analog(*gauge), *steps),
            Condition::Faster(pace, mm) => self.compare(self.speed(*pace), *mm),
            Condition::Back(pace, mm) => self.compare(self.analog(*pace).saturating_add(1), *mm),
            Condition::Faulty(input) => {
                let faults = self.faults.get(*input).cloned().unwrap_or_default();
                faults.into_iter().fold(FALSE, |so_far, fault| self.either(so_far, fault * 2))
            }
            Condition::SeenOff(output) => self.seen_off(*output).saturating_mul(2),
            // Only requirements speak of bypasses and of these; they are not lowered into the plan.
            Condition::Bypassed(_) | Condition::Observed(_) => FALSE,
        }
    }
    /// "This pace is still".
    pub(super) fn still(&mut self, station: &Station, pace: InputId) -> u16 {
        let still = match station.inputs.get(pace).map(|i| &i.kind) {
            Some(InputKind::Pace(p)) => p.still,
            _ => 0,
        };
        self.literal(&Condition::Faster(pace, still.saturating_add(1))) ^ 1
    }
    /// Level of a pace's speed in either direction.
    pub(super) fn speed(&self, pace: InputId) -> u16 {
        self.analog(pace).saturating_add(2)
    }
    /// "This pace's speed is forward and in the band".
    pub(super) fn band(&mut self, pace: InputId, least: u32, most: u32) -> u16 {
        let level = self.analog(pace);
        let inside = self.inside(level, least, most);
        if least > 0 {
            // What runs forward does not run backward.
            return inside;
        }
        let back = self.compare(level.saturating_add(1), 1);
        self.both(inside, back ^ 1)
    }
    /// "This gauge is outside its bounds".
    pub(super) fn outside(&mut self, gauge: InputId, least: u32, most: u32) -> u16 {
        self.inside(self.analog(gauge), least, most) ^ 1
    }
    /// "These two differ by more than so much".
    pub(super) fn apart(&mut self, station: &Station, between: [InputId; 2], within: u32) -> u16 {
        let [a, b] = between;
        let paces = matches!(station.inputs.get(a).map(|i| &i.kind), Some(InputKind::Pace(_)));
        let row = if paces {
            DifferRow { a: self.analog(a), b: self.analog(b), paces: 1, ..DifferRow::default() }
        } else {
            let lowest = |gauge: InputId| match station.inputs.get(gauge).map(|i| &i.kind) {
                Some(InputKind::Gauge(g)) => g.lowest,
                _ => 0,
            };
            let offset = |from: i64| u32::try_from(from.max(0)).unwrap_or(u32::MAX);
            let (above, below) =
                (offset(lowest(a).saturating_sub(lowest(b))), offset(lowest(b).saturating_sub(lowest(a))));
            DifferRow { a: self.analog(a), b: self.analog(b), above, below, ..DifferRow::default() }
        };
        self.differs.push(row);
        let level = small(self.first_differ + self.differs.len() - 1);
        self.compare(level, within.saturating_add(1))
    }
    /// The contact that says that a pace's drive runs.
    pub(super) fn running(&self, backing: Backing) -> u16 {
        match backing {
            Backing::Running(contact) => self.level(contact),
            Backing::None | Backing::Source(..) => NONE,
        }
    }
}

/// A conjunction that is a band of a gauge: at least so much, and not at least so much more.
fn band_of(parts: &[Condition]) -> Option<(InputId, u32, u32)> {
    let [Condition::AtLeast(gauge, least), Condition::Not(other)] = parts else { return None };
    match **other {
        Condition::AtLeast(same, beyond) if same == *gauge && *least < beyond => Some((same, *least, beyond - 1)),
        _ => None,
    }
}
