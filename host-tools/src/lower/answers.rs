//! Rows of modes, bypasses, gates, answers, outputs and refills.

use super::atoms::Atoms;
use super::{Program, small};
use crate::station::ways::{Source, Way};
use crate::station::{Condition, Station, WatchKind};
use logic_rules::plan::{BypassRow, GateRow, ModeRow, NONE, OutputRow, RefillRow, SlowRow, StopRow, TargetRow};

/// Writes these rows.
pub(super) fn answers(station: &Station, atoms: &mut Atoms, program: &mut Program) {
    modes(station, atoms, program);
    gates(station, program);
    for rank in 1..=station.worst() {
        let ways = program.ways.iter().filter(|w| w.answer == rank).count();
        program.ranks.push(small(ways).to_le_bytes());
    }
    for (i, slow) in station.slows.iter().enumerate() {
        let fast = atoms.literal(&Condition::Faster(slow.pace, slow.down_to.saturating_add(1)));
        let way = atoms.way(&program.ways, Source::Slow(i), Way::NotSlowed);
        program.slows.push(SlowRow { fast, way, limit: slow.within }.write());
    }
    for stop in &station.stops {
        let (then, still, latest) = match &stop.then {
            Some(then) => (mask(&then.outputs), atoms.still(station, then.pace), then.latest),
            None => (0, 0, 0),
        };
        program.stops.push(StopRow { releases: mask(&stop.releases), then, still, spare: 0, latest }.write());
    }
    for (i, output) in station.outputs.iter().enumerate() {
        let (channel, limit) = output.read_back.map_or((NONE, 0), |(channel, scans)| (small(channel), scans));
        let way = atoms.way(&program.ways, Source::Output(i), Way::Contradicted);
        program.outputs.push(OutputRow { channel, atom: atoms.seen_off(i), way, spare: 0, limit }.write());
    }
    for refill in &station.refills {
        let first = small(program.targets.len());
        for watch in &refill.watches {
            let travel = program.travel_watches.iter().position(|w| w == watch);
            let row = match travel {
                Some(row) => TargetRow { row: small(row), count: 0 },
                None => TargetRow { row: small(count_row(station, *watch)), count: 1 },
            };
            program.targets.push(row.write());
        }
        let (key, literal) = (atoms.level(refill.key), atoms.literal(&refill.when));
        program.refills.push(RefillRow { key, literal, first, count: small(refill.watches.len()) }.write());
    }
}

/// Which row of the counts a watch has.
fn count_row(station: &Station, watch: usize) -> usize {
    station.watches.iter().take(watch).filter(|w| matches!(w.kind, WatchKind::Count(_))).count()
}

fn mask(indices: &[usize]) -> u32 {
    indices.iter().fold(0, |bits, &i| bits | u32::try_from(i).ok().and_then(|i| 1_u32.checked_shl(i)).unwrap_or(0))
}

fn modes(station: &Station, atoms: &mut Atoms, program: &mut Program) {
    for (i, mode) in station.modes.iter().enumerate() {
        let fast = match mode.at_most {
            Some((pace, mm)) => atoms.literal(&Condition::Faster(pace, mm.saturating_add(1))),
            None => NONE,
        };
        let way = atoms.way(&program.ways, Source::Mode(i), Way::TooFast);
        program.modes.push(ModeRow { key: atoms.level(mode.key), fast, way, spare: 0 }.write());
    }
    for bypass in &station.bypasses {
        let (pace, mm) = bypass.at_most;
        let slow = atoms.literal(&Condition::Faster(pace, mm.saturating_add(1))) ^ 1;
        let row = BypassRow {
            key: atoms.level(bypass.key),
            slow,
            modes: mask(&bypass.modes),
            budget: bypass.budget,
            rest: bypass.rest,
            ..BypassRow::default()
        };
        program.bypasses.push(row.write());
    }
}

/// A gate for each way of a watch that has modes or can be bypassed.
fn gates(station: &Station, program: &mut Program) {
    let mut sets: Vec<u32> = Vec::new();
    let mut memories = 0_u16;
    for (way, &common) in program.by_severity.iter().enumerate() {
        let Some(of) = program.ways.get(common) else { continue };
        let Source::Watch(watch) = of.source else { continue };
        let named: Vec<usize> =
            station.bypasses.iter().enumerate().filter(|(_, b)| b.of.contains(&watch)).map(|(i, _)| i).collect();
        let modes = station.watches.get(watch).map_or(0, |w| mask(&w.modes));
        if named.is_empty() && modes == 0 {
            continue;
        }
        let set = if modes == 0 {
            NONE
        } else {
            small(sets.iter().position(|s| *s == modes).unwrap_or_else(|| {
                sets.push(modes);
                sets.len() - 1
            }))
        };
        let memory = if named.is_empty() || of.level {
            NONE
        } else {
            memories += 1;
            memories - 1
        };
        let bypasses = u16::try_from(mask(&named)).unwrap_or(u16::MAX);
        program.gates.push(GateRow { way: small(way), set, bypasses, memory }.write());
    }
    program.mode_sets = sets.iter().map(|s| s.to_le_bytes()).collect();
    program.head.memories = memories;
}
