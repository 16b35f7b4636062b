//! Rows of inputs.

use super::atoms::Atoms;
use super::{Program, small};
use crate::station::ways::{Source, Way};
use crate::station::{Backing, Gauge, InputKind, Pace, Pair, Rank, Settle, Station};
use logic_rules::plan::{ChatterRow, GaugeRow, LinkRow, MissingRow, NONE, PaceRow, PairRow, StuckRow};

/// Scans of the span in which changes of contacts are counted: one second.
pub(crate) fn second(station: &Station) -> u32 {
    (1_000_000 / station.scan_us.max(1)).max(1)
}

/// Writes the rows of all inputs.
pub(super) fn inputs(station: &Station, atoms: &mut Atoms, program: &mut Program) {
    let lines = station.channels.len();
    let mut settles = vec![Settle::default(); lines];
    let mut inverted = vec![0_u8; lines];
    let mut settle = |channel: usize, by: Settle| {
        if let Some(cell) = settles.get_mut(channel) {
            *cell = by;
        }
    };
    let mut gauges = vec![GaugeRow::default(); station.gauge_terminals.len()];
    let mut links = vec![LinkRow::default(); station.link_terminals.len()];
    for (i, input) in station.inputs.iter().enumerate() {
        let source = Source::Input(i);
        let way = |way| atoms.way(&program.ways, source, way);
        match &input.kind {
            InputKind::Contact(c) => {
                settle(c.channel, c.settle);
                if let Some(limit) = c.most_changes {
                    let (line, atom, fault) = (small(c.channel), atoms.level(i), atoms.fault(i, 0));
                    let row = ChatterRow { line, atom, fault, way: way(Way::Chatter), limit, span: second(station) };
                    program.chatters.push(row.write());
                }
            }
            InputKind::Pair(p) => {
                let [a, b] = p.channels;
                settle(a, p.settle);
                settle(b, p.settle);
                if let Some(cell) = inverted.get_mut(b) {
                    *cell = u8::from(p.opposed);
                }
                let (atom, fault) = (atoms.level(i), atoms.fault(i, 0));
                let (limit, way) = (p.differing, way(Way::Differs));
                let mut row = PairRow { a: small(a), b: small(b), atom, fault, way, spare: 0, limit };
                if limit == Pair::NEVER_FAULTY {
                    (row.fault, row.limit) = (NONE, 0);
                }
                program.pairs.push(row.write());
            }
            InputKind::Detector(d) => {
                settle(d.channel, d.settle);
                let line = small(d.channel);
                if let Some((pace, limit)) = d.covered_at_most {
                    let (atom, fault, pace) = (atoms.level(i), atoms.fault(i, 0), atoms.pace(pace));
                    let row = StuckRow { line, atom, fault, way: way(Way::Stuck), pace, spare: 0, limit };
                    program.stucks.push(row.write());
                }
                if let Some((pace, limit)) = d.rises_every {
                    let row = MissingRow { line, way: way(Way::Missing), pace: atoms.pace(pace), spare: 0, limit };
                    program.missings.push(row.write());
                }
            }
            InputKind::Gauge(g) => {
                let row = gauge(
                    station,
                    g,
                    atoms,
                    i,
                    [way(Way::Broken), way(Way::Doubtful), way(Way::Leap), way(Way::Unrested)],
                );
                if let Some(cell) = gauges.get_mut(g.terminal) {
                    *cell = row;
                }
            }
            InputKind::Pace(p) => {
                let row = pace(p, atoms, i, way(Way::Unsure), way(Way::OverTop));
                program.paces.push(row.write());
            }
            InputKind::Link(l) => {
                let first = small(program.orders.len());
                if let Some(cell) = links.get_mut(l.terminal) {
                    let (silent, way_silent) = (atoms.fault(i, 0), way(Way::Silent));
                    *cell = LinkRow { silent, way_silent, orders: first, limit: l.silent, ..LinkRow::default() };
                }
                let ordered: Vec<_> =
                    (1..=station.worst()).map(|rank: Rank| way(Way::Ordered(rank)).to_le_bytes()).collect();
                program.orders.extend(ordered);
            }
            InputKind::Key(k) => {
                settle(k.channels.0, k.settle);
                if let Some(second) = k.channels.1 {
                    settle(second, k.settle);
                    let row = PairRow {
                        a: small(k.channels.0),
                        b: small(second),
                        atom: atoms.level(i),
                        fault: NONE,
                        way: NONE,
                        ..PairRow::default()
                    };
                    program.pairs.push(row.write());
                }
            }
        }
    }
    program.gauges = gauges.iter().map(GaugeRow::write).collect();
    program.links = links.iter().map(LinkRow::write).collect();
    program.line_up = settles.iter().map(|s| s.up.saturating_add(1).to_le_bytes()).collect();
    program.line_down = settles.iter().map(|s| s.down.saturating_add(1).to_le_bytes()).collect();
    program.line_invert = inverted.iter().map(|i| [*i]).collect();
}

fn gauge(station: &Station, g: &Gauge, atoms: &Atoms, i: usize, ways: [u16; 4]) -> GaugeRow {
    let [way_broken, way_doubtful, way_leap, way_unrested] = ways;
    let (rest_line, rest_least, rest_most) = match g.rests {
        Some((by, least, most)) => match station.inputs.get(by).map(|input| &input.kind) {
            Some(InputKind::Detector(d)) => (small(d.channel), least, most),
            _ => (NONE, least, most),
        },
        None => (NONE, 0, 0),
    };
    let (broken, doubtful) = (atoms.fault(i, 0), atoms.fault(i, 1));
    let leap = g.moves_at_most.unwrap_or(0);
    GaugeRow {
        broken,
        doubtful,
        way_broken,
        way_doubtful,
        way_leap,
        way_unrested,
        rest_line,
        spare: 0,
        leap,
        rest_least,
        rest_most,
        top: g.top,
    }
}

fn pace(p: &Pace, atoms: &Atoms, i: usize, way_unsure: u16, way_over: u16) -> PaceRow {
    let (second, differ) = match p.backing {
        Backing::Source(source, within) => (small(source), within),
        Backing::None | Backing::Running(_) => (NONE, 0),
    };
    PaceRow {
        source: small(p.source),
        second,
        running: atoms.running(p.backing),
        unsure: atoms.fault(i, 0),
        over: atoms.fault(i, 1),
        way_unsure,
        way_over,
        signed: u16::from(p.signed),
        span: p.span,
        top: p.top,
        top_scan: p.top_scan,
        differ,
        fault_after: p.fault_after,
        most: p.top_scan.saturating_mul(p.span),
        ..PaceRow::default()
    }
}
