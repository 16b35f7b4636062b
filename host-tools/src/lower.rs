//! From a resolved station to the tables of a plan.

use crate::station::ways::{WayOf, ways};
use crate::station::{Station, WatchId};
use logic_rules::plan::{Fault, HeadRow, Plan, Tables};

mod answers;
mod atoms;
mod doubts;
mod inputs;
mod watches;

use atoms::Atoms;
pub use doubts::Doubts;

/// Tables that own their rows, and how a plan's ways relate to the station's.
#[derive(Debug, Clone, Default)]
pub struct Program {
    head: HeadRow,
    line_up: Vec<[u8; 4]>,
    line_down: Vec<[u8; 4]>,
    line_invert: Vec<[u8; 1]>,
    chatters: Vec<[u8; 16]>,
    pairs: Vec<[u8; 16]>,
    stucks: Vec<[u8; 16]>,
    missings: Vec<[u8; 12]>,
    gauges: Vec<[u8; 32]>,
    paces: Vec<[u8; 48]>,
    links: Vec<[u8; 16]>,
    orders: Vec<[u8; 2]>,
    differs: Vec<[u8; 16]>,
    compares: Vec<[u8; 8]>,
    bands: Vec<[u8; 12]>,
    nodes: Vec<[u8; 4]>,
    modes: Vec<[u8; 8]>,
    mode_sets: Vec<[u8; 4]>,
    bypasses: Vec<[u8; 24]>,
    holds: Vec<[u8; 8]>,
    totals: Vec<[u8; 16]>,
    travels: Vec<[u8; 48]>,
    grows: Vec<[u8; 4]>,
    age_tops: Vec<[u8; 4]>,
    times: Vec<[u8; 4]>,
    time_tops: Vec<[u8; 4]>,
    measures: Vec<[u8; 16]>,
    spacings: Vec<[u8; 24]>,
    confirms: Vec<[u8; 16]>,
    exercises: Vec<[u8; 16]>,
    counts: Vec<[u8; 24]>,
    gates: Vec<[u8; 8]>,
    ranks: Vec<[u8; 2]>,
    slows: Vec<[u8; 8]>,
    stops: Vec<[u8; 16]>,
    outputs: Vec<[u8; 12]>,
    refills: Vec<[u8; 8]>,
    targets: Vec<[u8; 4]>,
    /// The station's ways, in their common order.
    pub ways: Vec<WayOf>,
    /// Of each way in the plan's order: its place in the common order.
    pub by_severity: Vec<usize>,
    /// Watch of each travel, measure and spacing, in the order in which the work records them.
    pub judged: Vec<WatchId>,
    /// Watch of each travel row.
    pub travel_watches: Vec<WatchId>,
    /// What a scan does not know.
    pub doubts: Doubts,
}

impl Program {
    /// The tables, to be verified.
    pub fn tables(&self) -> Tables<'_> {
        Tables {
            head: self.head,
            line_up: &self.line_up,
            line_down: &self.line_down,
            line_invert: &self.line_invert,
            chatters: &self.chatters,
            pairs: &self.pairs,
            stucks: &self.stucks,
            missings: &self.missings,
            gauges: &self.gauges,
            paces: &self.paces,
            links: &self.links,
            orders: &self.orders,
            differs: &self.differs,
            compares: &self.compares,
            bands: &self.bands,
            nodes: &self.nodes,
            modes: &self.modes,
            mode_sets: &self.mode_sets,
            bypasses: &self.bypasses,
            holds: &self.holds,
            totals: &self.totals,
            travels: &self.travels,
            grows: &self.grows,
            age_tops: &self.age_tops,
            times: &self.times,
            time_tops: &self.time_tops,
            measures: &self.measures,
            spacings: &self.spacings,
            confirms: &self.confirms,
            exercises: &self.exercises,
            counts: &self.counts,
            gates: &self.gates,
            ranks: &self.ranks,
            slows: &self.slows,
            stops: &self.stops,
            outputs: &self.outputs,
            refills: &self.refills,
            targets: &self.targets,
        }
    }
    /// The verified plan.
    ///
    /// # Errors
    /// A [`Fault`] here is a fault of this program, or a station beyond the capacities.
    pub fn plan(&self) -> Result<Plan<'_>, Fault> {
        Plan::verify(self.tables())
    }
}

/// A number that a row holds in 16 bits. Stations beyond that are refused by `verify`, since
/// [`u16::MAX`] is in no table's range.
fn small(number: usize) -> u16 {
    u16::try_from(number).unwrap_or(u16::MAX)
}

/// Lowers a station. The conditions are numbered in two goes: the first tells how many comparisons and bands there are.
pub fn lower(station: &Station) -> Program {
    let trial = lower_with(station, (0, 0));
    lower_with(station, (trial.compares.len(), trial.bands.len()))
}

fn lower_with(station: &Station, expected: (usize, usize)) -> Program {
    let all = ways(station);
    let mut by_severity: Vec<usize> = (0..all.len()).collect();
    by_severity.sort_by_key(|&i| all.get(i).map(|way| way.answer));
    let mut plan_way = vec![0_u16; all.len()];
    for (new, &old) in by_severity.iter().enumerate() {
        if let Some(cell) = plan_way.get_mut(old) {
            *cell = small(new);
        }
    }
    let mut program = Program { ways: all, by_severity, ..Program::default() };
    let mut atoms = Atoms::new(station, expected, plan_way);
    atoms.head(station, &mut program);
    inputs::inputs(station, &mut atoms, &mut program);
    watches::watches(station, &mut atoms, &mut program);
    answers::answers(station, &mut atoms, &mut program);
    program.doubts = Doubts::of(station, &atoms, &program);
    atoms.finish(&mut program);
    program
}
