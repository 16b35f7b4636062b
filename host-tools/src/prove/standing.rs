//! What no history of inputs may ever do, whatever a rule file says: proved of every station without being asked.
//!
//! Each property is said over one scan, from the station as the rule file means it where that is possible, so that the
//! writing of the tables is judged as well.

use super::model::Model;
use crate::station::ways::{Source, WayOf};
use logic_rules::Algebra;
use logic_rules::cells::{Bits, Words};
use logic_rules::plan::{BandRow, BypassRow, ChatterRow, CompareRow, GateRow, NONE, PaceRow, PairRow, StuckRow};
use logic_rules::step::{Bound, Reading, Verdict};

/// A property of every station.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// Its name, as certificates use it; no name in a rule file has a dot.
    pub name: &'static str,
    /// What is proved, in words.
    pub says: &'static str,
}

/// All of them, in the order of [`violated`].
pub const STANDING: [Standing; 9] = [
    Standing {
        name: "station.latches",
        says: "no latched stop goes without the reset, and the reset acts only while nothing trips and its condition is known to hold",
    },
    Standing {
        name: "station.faults",
        says: "of an input that is faulty, and of a value that cannot be trusted, nothing is known: every condition on it may hold and may not",
    },
    Standing {
        name: "station.masks",
        says: "what would trip trips, unless a bypass that names its watch is active, or another mode than those of its watch is known to be selected",
    },
    Standing {
        name: "station.bypasses",
        says: "a bypass is active only while its key is known to be held, its mode known to be selected, its pace known to be slow, and its time not used up",
    },
    Standing {
        name: "station.outputs",
        says: "a stop that stands holds the outputs off that it releases, and an output that is off stays off while the stop for which it is off is latched",
    },
    Standing {
        name: "station.modes",
        says: "a watch that is off in the mode that is known to be selected does not trip, but for what a bypass had masked before",
    },
    Standing {
        name: "station.verdict",
        says: "the verdict is never milder than what trips or is latched, whatever bypass is active",
    },
    Standing { name: "station.power-up", says: "in the first scan after power-up the most severe stop stands" },
    Standing { name: "station.permit", says: "no start is permitted while a stop stands" },
];

/// What a scan began with, and what it came to.
pub struct Scan<'s, 'b, 'p, A: Algebra> {
    /// Bits before.
    pub bits: &'s Bits<'b, A::Bit>,
    /// Words before.
    pub words: &'s Words<'b, A::Word>,
    /// The rules after.
    pub after: &'s Bound<'b, 'p, A>,
    /// What was read of the gauges.
    pub gauges: &'s [Reading<A>],
    /// What they published.
    pub verdict: &'s Verdict<A>,
    /// At place `r`: an answer of rank `r` or above stands.
    pub now: &'s [A::Bit],
}

/// Whether each property is violated in a scan.
pub fn violated<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> Vec<A::Bit> {
    vec![
        latches(a, model, scan),
        faults(a, model, scan),
        masks(a, model, scan),
        bypasses(a, model, scan),
        outputs(a, model, scan),
        modes(a, model, scan),
        verdict(a, model, scan),
        power_up(a, model, scan),
        permit(a, model, scan),
    ]
}

/// A cell; what is missing counts as a violation where it is asked for.
fn at<B: Copy>(cells: &[[B; 1]], index: usize, missing: B) -> B {
    cells.get(index).map_or(missing, |[cell]| *cell)
}

/// Both bits of a literal's condition: it may hold, it may not.
fn either_way<B: Copy>(may: &[[B; 2]], literal: u16, missing: B) -> [B; 2] {
    let [holds, not] = may.get(usize::from(literal >> 1)).copied().unwrap_or([missing; 2]);
    if literal & 1 == 0 { [holds, not] } else { [not, holds] }
}

/// A literal is known to hold.
fn known<A: Algebra>(a: &mut A, may: &[[A::Bit; 2]], literal: u16) -> A::Bit {
    let yes = a.bit(true);
    let [_, not] = either_way(may, literal, yes);
    a.not(not)
}

/// Each way of the plan, in the plan's order.
fn ways<'m>(model: &'m Model<'_>) -> impl Iterator<Item = &'m WayOf> {
    model.program.by_severity.iter().filter_map(|&way| model.program.ways.get(way))
}

fn latches<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> A::Bit {
    let (mut bad, no) = (a.bit(false), a.bit(false));
    let (head, work) = (model.plan.tables().head, &scan.after.work);
    for (i, [before]) in scan.bits.latch.iter().enumerate() {
        let gone = a.but(*before, at(scan.after.bits().latch, i, no));
        let gone = a.but(gone, scan.verdict.reset);
        bad = a.or(bad, gone);
    }
    let mut held_up = a.bit(false);
    for [trip] in work.trip.iter().skip(usize::from(head.first_stop)) {
        held_up = a.or(held_up, *trip);
    }
    if head.reset_key != NONE {
        let ready = known(a, work.may, head.reset_when);
        let not_ready = a.not(ready);
        held_up = a.or(held_up, not_ready);
    }
    let wrong = a.and(scan.verdict.reset, held_up);
    a.or(bad, wrong)
}

fn faults<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> A::Bit {
    let (tables, work, no) = (model.plan.tables(), &scan.after.work, a.bit(false));
    let (bits, words) = (scan.after.bits(), scan.after.words());
    let mut bad = no;
    let mut conditions: Vec<(u16, A::Bit)> = Vec::new();
    for (row, [_, too_many]) in tables.chatters.iter().zip(bits.chatter.iter()) {
        conditions.push((ChatterRow::read(row).atom, *too_many));
    }
    for (row, [differ, ..]) in tables.pairs.iter().zip(bits.pair.iter()) {
        let row = PairRow::read(row);
        // The two channels of a key have no fault: where they differ, the key is neither held nor free.
        let differ = if row.fault == NONE {
            let (one, other) = (at(bits.level, usize::from(row.a), no), at(bits.level, usize::from(row.b), no));
            a.xor(one, other)
        } else {
            *differ
        };
        conditions.push((row.atom, differ));
    }
    for (row, [covered]) in tables.stucks.iter().zip(words.stuck.iter()) {
        let row = StuckRow::read(row);
        conditions.push((row.atom, a.more_than(*covered, row.limit)));
    }
    for (atom, faulty) in conditions {
        let [holds, not] = either_way(work.may, atom << 1, no);
        let open = a.and(holds, not);
        let wrong = a.but(faulty, open);
        bad = a.or(bad, wrong);
    }
    for (level, reading) in scan.gauges.iter().enumerate() {
        let wrong = a.but(at(work.trusted, level, no), reading.good);
        bad = a.or(bad, wrong);
    }
    for (i, (row, [spanned, _])) in tables.paces.iter().zip(bits.pace.iter()).enumerate() {
        let unsure = PaceRow::read(row).unsure;
        let doubted = if unsure == NONE { no } else { known(a, work.may, unsure << 1) };
        let sure = a.but(*spanned, doubted);
        for part in 0..3 {
            let level = tables.gauges.len().saturating_add(i.saturating_mul(3)).saturating_add(part);
            let wrong = a.but(at(work.trusted, level, no), sure);
            bad = a.or(bad, wrong);
        }
    }
    let compares = tables.compares.iter().map(|row| CompareRow::read(row).level);
    let levels = compares.chain(tables.bands.iter().map(|row| BandRow::read(row).level));
    let rows = tables.compares.len().saturating_add(tables.bands.len()).saturating_add(tables.nodes.len());
    let first = work.may.len().saturating_sub(rows);
    for (level, [holds, not]) in levels.zip(work.may.iter().skip(first)) {
        let open = a.and(*holds, *not);
        let trusted = at(work.trusted, usize::from(level), no);
        let sure = a.or(open, trusted);
        let wrong = a.not(sure);
        bad = a.or(bad, wrong);
    }
    bad
}

/// Another mode than those of the watch is known to be selected.
fn off<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>, way: &WayOf) -> A::Bit {
    let mut off = a.bit(false);
    let Source::Watch(watch) = way.source else { return off };
    let Some(watch) = model.station.watches.get(watch).filter(|watch| !watch.modes.is_empty()) else { return off };
    for (mode, [selected]) in scan.after.work.known.iter().enumerate() {
        if !watch.modes.contains(&mode) {
            off = a.or(off, *selected);
        }
    }
    off
}

fn masks<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> A::Bit {
    let (mut bad, no, work) = (a.bit(false), a.bit(false), &scan.after.work);
    for (i, way) in ways(model).enumerate() {
        let lost = a.but(at(work.struck, i, no), at(work.trip, i, no));
        let mut excused = off(a, model, scan, way);
        for (bypass, [active]) in model.station.bypasses.iter().zip(work.active.iter()) {
            if matches!(way.source, Source::Watch(watch) if bypass.of.contains(&watch)) {
                excused = a.or(excused, *active);
            }
        }
        let wrong = a.but(lost, excused);
        bad = a.or(bad, wrong);
    }
    bad
}

fn bypasses<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> A::Bit {
    let (mut bad, no, work) = (a.bit(false), a.bit(false), &scan.after.work);
    let rows = model.plan.tables().bypasses.iter().map(BypassRow::read).zip(&model.station.bypasses);
    for (i, (row, bypass)) in rows.enumerate() {
        let mut fit = no;
        for &mode in &bypass.modes {
            fit = a.or(fit, at(work.known, mode, no));
        }
        let (held, slow) = (known(a, work.may, row.key << 1), known(a, work.may, row.slow));
        fit = a.and(fit, held);
        fit = a.and(fit, slow);
        if let Some([used, _]) = scan.words.bypass.get(i) {
            let spent = a.at_least(*used, bypass.budget);
            fit = a.but(fit, spent);
        }
        let wrong = a.but(at(work.active, i, no), fit);
        bad = a.or(bad, wrong);
    }
    bad
}

fn outputs<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> A::Bit {
    let (mut bad, no, work, slows) = (a.bit(false), a.bit(false), &scan.after.work, model.station.slows.len());
    for (output, [off, _]) in scan.after.bits().output.iter().enumerate() {
        let was = scan.bits.output.get(output).map_or(no, |[off, _]| *off);
        for (i, stop) in model.station.stops.iter().enumerate() {
            let at_once = stop.releases.contains(&output);
            if at_once {
                let wrong = a.but(at(work.stands, slows.saturating_add(i), no), *off);
                bad = a.or(bad, wrong);
            }
            if at_once || stop.then.as_ref().is_some_and(|then| then.outputs.contains(&output)) {
                let rank = slows.saturating_add(i).saturating_add(1);
                for (way, _) in ways(model).enumerate().filter(|(_, of)| usize::from(of.answer) == rank) {
                    let mut on_again = a.and(at(scan.bits.latch, way, no), was);
                    on_again = a.but(on_again, *off);
                    bad = a.or(bad, on_again);
                }
            }
        }
    }
    bad
}

fn modes<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> A::Bit {
    let (mut bad, no, work) = (a.bit(false), a.bit(false), &scan.after.work);
    let mut masked = vec![no; work.trip.len()];
    for row in model.plan.tables().gates {
        let row = GateRow::read(row);
        if row.memory != NONE
            && let Some(cell) = masked.get_mut(usize::from(row.way))
        {
            *cell = at(scan.bits.memory, usize::from(row.memory), no);
        }
    }
    for (i, way) in ways(model).enumerate() {
        let off = off(a, model, scan, way);
        let leaks = a.and(off, at(work.trip, i, no));
        let leaks = a.but(leaks, masked.get(i).copied().unwrap_or(no));
        bad = a.or(bad, leaks);
    }
    bad
}

fn verdict<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> A::Bit {
    let (mut bad, no) = (a.bit(false), a.bit(false));
    let first_stop = usize::from(model.plan.tables().head.first_stop);
    for (i, way) in ways(model).enumerate() {
        let mut asked = at(scan.after.work.trip, i, no);
        if i >= first_stop {
            asked = a.or(asked, at(scan.bits.latch, i, no));
        }
        let stands = scan.now.get(usize::from(way.answer)).copied().unwrap_or(no);
        let milder = a.but(asked, stands);
        let told = a.at_least(scan.verdict.answer, u32::from(way.answer));
        let untold = a.but(asked, told);
        bad = a.or(bad, milder);
        bad = a.or(bad, untold);
    }
    bad
}

fn power_up<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> A::Bit {
    let no = a.bit(false);
    let worst = scan.now.get(usize::from(model.station.worst())).copied().unwrap_or(no);
    let started = scan.bits.started.first().map_or(no, |[started]| *started);
    let either = a.or(started, worst);
    a.not(either)
}

fn permit<A: Algebra>(a: &mut A, model: &Model<'_>, scan: &Scan<'_, '_, '_, A>) -> A::Bit {
    let yes = a.bit(true);
    let stops = scan.now.get(usize::from(model.station.first_stop())).copied().unwrap_or(yes);
    a.and(scan.verdict.permit, stops)
}
