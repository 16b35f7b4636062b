//! What a scan does not know, and which ways rest on it. The step trips what may be so and what is so alike; people
//! want to be told which it was.

use super::atoms::Atoms;
use super::{Program, small};
use crate::station::{InputKind, Station};
use logic_rules::plan::{ConfirmRow, HoldRow, MeasureRow, ModeRow, NONE, SlowRow, TotalRow};

/// Where a scan keeps whether an input is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Known {
    /// A level that is trusted, or is not.
    Level(u16),
    /// A condition of which one bit holds, or both.
    Condition(u16),
    /// A fault that it has. Channels of a pair that only just differ are none: one of them says what is so.
    Fault(u16),
    /// It always is.
    Always,
}

/// What is to be asked of the work after a scan.
#[derive(Debug, Clone, Default)]
pub struct Doubts {
    inputs: Vec<Known>,
    /// Condition on which a way rests, by the way's number in the plan; none for a way that asks no condition.
    ways: Vec<u16>,
}

impl Doubts {
    /// Of the rows that have been written.
    pub(super) fn of(station: &Station, atoms: &Atoms, program: &Program) -> Self {
        let inputs = station.inputs.iter().enumerate().map(|(i, input)| match input.kind {
            InputKind::Gauge(_) | InputKind::Pace(_) => Known::Level(atoms.analog(i)),
            InputKind::Pair(_) => Known::Fault(atoms.fault(i, 0)),
            InputKind::Contact(_) | InputKind::Detector(_) | InputKind::Key(_) => Known::Condition(atoms.level(i)),
            InputKind::Link(_) => Known::Always,
        });
        let mut ways = vec![NONE; program.by_severity.len()];
        let mut rests = |way: u16, literal: u16| {
            if let Some(cell) = ways.get_mut(usize::from(way)) {
                *cell = if literal == NONE { NONE } else { small(usize::from(literal) / 2) };
            }
        };
        for row in program.holds.iter().map(HoldRow::read) {
            rests(row.way, row.literal);
        }
        for row in program.totals.iter().map(TotalRow::read) {
            rests(row.way, row.literal);
        }
        for row in program.measures.iter().map(MeasureRow::read) {
            rests(row.way, row.outside);
        }
        for row in program.confirms.iter().map(ConfirmRow::read) {
            rests(row.way, row.literal);
        }
        for row in program.modes.iter().map(ModeRow::read) {
            rests(row.way, row.fast);
        }
        for row in program.slows.iter().map(SlowRow::read) {
            rests(row.way, row.fast);
        }
        rests(program.head.way_changed, program.head.mode_still);
        Self { inputs: inputs.collect(), ways }
    }

    /// Inputs that are not known, by the bits of the conditions and of the levels.
    pub fn inputs<'d>(&'d self, may: &'d [[bool; 2]], trusted: &'d [[bool; 1]]) -> impl Iterator<Item = u16> + 'd {
        let unknown = move |known: &Known| match known {
            Known::Level(level) => trusted.get(usize::from(*level)) == Some(&[false]),
            Known::Condition(condition) => unsettled(may, *condition),
            Known::Fault(fault) => may.get(usize::from(*fault)).is_some_and(|[may, _]| *may),
            Known::Always => false,
        };
        self.inputs.iter().zip(0..).filter(move |(known, _)| unknown(known)).map(|(_, input)| input)
    }

    /// Whether a way of the plan rests on a condition that is not known.
    pub fn way(&self, way: usize, may: &[[bool; 2]]) -> bool {
        self.ways.get(way).is_some_and(|condition| unsettled(may, *condition))
    }
}

/// It may hold, and it may not.
fn unsettled(may: &[[bool; 2]], condition: u16) -> bool {
    may.get(usize::from(condition)) == Some(&[true, true])
}
