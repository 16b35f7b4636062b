//! Rows of watches.

use super::atoms::Atoms;
use super::{Program, small};
use crate::station::ways::{Source, Way};
use crate::station::{
    Every, InputId, InputKind, Lasting, Measured, Spacing, Station, Travel, WatchId, WatchKind, When,
};
use logic_rules::plan::{
    ConfirmRow, CountRow, ExerciseRow, GrowRow, HoldRow, MeasureRow, NONE, SpacingRow, TimeRow, TotalRow, TravelRow,
};

/// First line of an input.
fn line(station: &Station, input: InputId) -> u16 {
    lines(station, input).0
}
/// Both lines of an input.
fn lines(station: &Station, input: InputId) -> (u16, u16) {
    match station.inputs.get(input).map(|i| &i.kind) {
        Some(InputKind::Contact(c)) => (small(c.channel), NONE),
        Some(InputKind::Detector(d)) => (small(d.channel), NONE),
        Some(InputKind::Pair(p)) => {
            let [a, b] = p.channels;
            (small(a), small(b))
        }
        Some(InputKind::Key(k)) => (small(k.channels.0), k.channels.1.map_or(NONE, small)),
        Some(InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_)) | None => (NONE, NONE),
    }
}

/// Writes the rows of all watches.
pub(super) fn watches(station: &Station, atoms: &mut Atoms, program: &mut Program) {
    let mut measured = Vec::new();
    let mut spaced = Vec::new();
    travels(station, atoms, program);
    for (i, watch) in station.watches.iter().enumerate() {
        let ways = program.ways.clone();
        let way = |atoms: &Atoms, way| atoms.way(&ways, Source::Watch(i), way);
        match &watch.kind {
            WatchKind::Guard(g) => {
                let literal = atoms.literal(&g.when);
                let way = way(atoms, Way::Tripped);
                match g.lasting {
                    Lasting::Unbroken(limit) => program.holds.push(HoldRow { literal, way, limit }.write()),
                    Lasting::Total { of, within } => {
                        program.totals.push(TotalRow { literal, way, of: of.max(1), span: within, spare: 0 }.write());
                    }
                }
            }
            WatchKind::Agree(g) => {
                let literal = atoms.apart(station, g.between, g.within);
                program.holds.push(HoldRow { literal, way: way(atoms, Way::Tripped), limit: g.apart }.write());
            }
            WatchKind::Travel(_) => {}
            WatchKind::Measure(m) => {
                let (pace, limit) = match m.when {
                    When::Rise => (NONE, 0),
                    When::Scans(scans) => (NONE, scans),
                    When::Rope(pace, mm) => (atoms.pace(pace), mm),
                };
                let outside = atoms.outside(m.gauge, m.least, m.most);
                let (line, level, way) = (line(station, m.detector), atoms.analog(m.gauge), way(atoms, Way::Tripped));
                program.measures.push(MeasureRow { line, outside, level, pace, way, spare: 0, limit }.write());
                measured.push(i);
            }
            WatchKind::Spacing(s) => {
                let row = spacing(station, s, atoms, way(atoms, Way::Closer), way(atoms, Way::Farther));
                program.spacings.push(row.write());
                spaced.push(i);
            }
            WatchKind::Confirm(c) => {
                let literal = atoms.literal(&c.see);
                let row = ConfirmRow {
                    rank: u16::from(c.after.saturating_sub(1)),
                    literal,
                    way: way(atoms, Way::Tripped),
                    level: c.slower.map_or(NONE, |(pace, _)| atoms.speed(pace)),
                    limit: c.within,
                    drop: c.slower.map_or(0, |(_, drop)| drop),
                };
                program.confirms.push(row.write());
            }
            WatchKind::Exercise(e) => {
                let (a, b) = lines(station, e.input);
                let (kind, by, limit) = match e.every {
                    Every::Carrier(detector) => (0, line(station, detector), 0),
                    Every::Rope(pace, mm) => (1, atoms.pace(pace), mm),
                    Every::Scans(scans) => (2, 0, scans),
                };
                program
                    .exercises
                    .push(ExerciseRow { a, b, kind, by, way: way(atoms, Way::Tripped), spare: 0, limit }.write());
            }
            WatchKind::Count(c) => {
                let row = CountRow {
                    enter: line(station, c.enter),
                    leave: line(station, c.leave),
                    literal: atoms.literal(&c.when),
                    over: way(atoms, Way::Over),
                    below: way(atoms, Way::Below),
                    wrong: way(atoms, Way::Wrong),
                    most: c.most,
                    confirmed: c.confirmed,
                    spare: 0,
                };
                program.counts.push(row.write());
            }
        }
    }
    program.judged = program.travel_watches.iter().copied().chain(measured).chain(spaced).collect();
}

fn spacing(station: &Station, s: &Spacing, atoms: &mut Atoms, closer: u16, farther: u16) -> SpacingRow {
    let (pace, band) = unit(s.measured, atoms);
    let top = s.most.map_or(s.least, |most| most.max(s.least).saturating_add(1));
    SpacingRow {
        line: line(station, s.detector),
        pace,
        band,
        closer,
        farther,
        spare: 0,
        least: s.least,
        most: s.most.unwrap_or(0),
        top,
    }
}

/// Pace of a window, and the literal of its band where it is told in time.
fn unit(measured: Measured, atoms: &mut Atoms) -> (u16, u16) {
    match measured {
        Measured::Rope(pace) => (atoms.pace(pace), NONE),
        Measured::Time { pace, least, most } => (atoms.pace(pace), atoms.band(pace, least, most)),
    }
}

/// Travels in rope come pace by pace, then those in time, so that ages that grow alike lie together.
fn travels(station: &Station, atoms: &mut Atoms, program: &mut Program) {
    let mut order: Vec<(u32, WatchId, &Travel)> = Vec::new();
    for (i, watch) in station.watches.iter().enumerate() {
        if let WatchKind::Travel(t) = &watch.kind {
            let group = match t.measured {
                Measured::Rope(pace) => u32::from(atoms.pace(pace)),
                Measured::Time { .. } => u32::from(NONE),
            };
            order.push((group, i, t));
        }
    }
    order.sort_by_key(|(group, i, _)| (*group, *i));
    for (_, i, t) in order {
        let way = |way| atoms.way(&program.ways, Source::Watch(i), way);
        let [early, late, stray, crowded, backwards] =
            [Way::Early, Way::Late, Way::Stray, Way::Crowded, Way::Backwards].map(way);
        let (pace, band) = unit(t.measured, atoms);
        let capacity = small(usize::try_from(t.capacity).unwrap_or(usize::MAX));
        let row = TravelRow {
            from: line(station, t.from),
            to: line(station, t.to),
            pace,
            band,
            early,
            late,
            stray,
            crowded,
            backwards,
            capacity,
            place: small(program.age_tops.len()),
            time: if t.backstop.is_some() { small(program.time_tops.len()) } else { NONE },
            earliest: t.earliest,
            latest: t.latest,
            backstop: t.backstop.unwrap_or(0),
            run: t.run,
            ..TravelRow::default()
        };
        program.travels.push(row.write());
        program.travel_watches.push(i);
        let grows = if band == NONE { pace } else { NONE };
        program.grows.push(GrowRow { pace: grows, cells: capacity }.write());
        let places = usize::from(capacity);
        program.age_tops.extend(std::iter::repeat_n(t.latest.saturating_add(1).to_le_bytes(), places));
        if let Some(backstop) = t.backstop {
            let pace = match t.measured {
                Measured::Rope(pace) | Measured::Time { pace, .. } => pace,
            };
            program.times.push(TimeRow { still: atoms.still(station, pace), cells: capacity }.write());
            program.time_tops.extend(std::iter::repeat_n(backstop.saturating_add(1).to_le_bytes(), places));
        }
    }
    program.grows = merged(&program.grows);
    program.times = merged(&program.times);
}

/// Joins neighbouring runs that grow alike (`GrowRow` and `TimeRow` are laid out alike).
fn merged(rows: &[[u8; 4]]) -> Vec<[u8; 4]> {
    let mut out: Vec<GrowRow> = Vec::new();
    for row in rows.iter().map(GrowRow::read) {
        match out.last_mut() {
            Some(last) if last.pace == row.pace => last.cells = last.cells.saturating_add(row.cells),
            _ => out.push(row),
        }
    }
    out.iter().map(GrowRow::write).collect()
}
