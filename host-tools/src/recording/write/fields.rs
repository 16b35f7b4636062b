//! Fields of a row and names of the signals.

use std::io::{self, Write};

use super::{Column, Style};
use crate::sample::{Health, Reading};
use crate::station::{Gauge, InputKind, Station};

/// Writes `value / unit` (a power of ten) as a decimal number without needless zeros.
pub(super) fn decimal(out: &mut Vec<u8>, value: u64, unit: u64) {
    // Writing to a vector cannot fail.
    let _ = write!(out, "{}", value / unit);
    let (mut rest, mut place) = (value % unit, unit);
    if rest > 0 {
        out.push(b'.');
    }
    while rest > 0 && place > 1 {
        place /= 10;
        out.push(b'0' + u8::try_from(rest / place % 10).unwrap_or(0));
        rest %= place;
    }
}

/// A field as RFC 4180 wants it: quoted if it holds a comma, a quotation mark or a line break.
pub(in crate::recording) fn field(text: &str) -> String {
    if text.contains([',', '"', '\r', '\n']) { format!("\"{}\"", text.replace('"', "\"\"")) } else { text.to_owned() }
}

/// Writes the current at which a gauge shows its reading, in mA.
pub(super) fn current(out: &mut Vec<u8>, reading: Reading, gauge: &Gauge) -> io::Result<()> {
    let [(from_ua, from), (to_ua, to)] = gauge.points;
    let (run, rise) = (i128::from(to_ua) - i128::from(from_ua), i128::from(to) - i128::from(from));
    // Finer than the step, so that reading it gives the step again.
    let one_ua = i128::from(gauge.step_micro) * run.abs() > rise.abs();
    let unit: i64 = if one_ua { 1 } else { 1_000 };
    let trusted = (i64::from(gauge.trusted_ua.0) * unit, i64::from(gauge.trusted_ua.1) * unit);
    let amount = match reading.health {
        Health::Good => {
            let value = (i128::from(gauge.lowest) + i128::from(reading.steps)) * i128::from(gauge.step_micro);
            let above = (value - i128::from(from)) * run * i128::from(unit);
            let near = nearest(above, rise) + i128::from(from_ua) * i128::from(unit);
            i64::try_from(near).unwrap_or(trusted.0).clamp(trusted.0, trusted.1)
        }
        Health::Doubtful => i64::midpoint(i64::from(gauge.broken_ua.0), i64::from(gauge.trusted_ua.0)) * unit,
        // The simulator tells a short circuit by the greatest step.
        Health::Broken if reading.steps >= gauge.top => 22_000 * unit,
        Health::Broken => 0,
    };
    if one_ua {
        write!(out, "{}.{:03}", amount / 1_000, amount % 1_000)
    } else {
        write!(out, "{}.{:06}", amount / 1_000_000, amount % 1_000_000)
    }
}

/// Nearest whole quotient.
fn nearest(above: i128, below: i128) -> i128 {
    let (above, below) = if below < 0 { (-above, -below) } else { (above, below) };
    if below == 0 {
        return 0;
    }
    // Most fit the short division, which is several times as fast.
    match (i64::try_from(2 * above + below), i64::try_from(2 * below)) {
        (Ok(a), Ok(b)) => i128::from(a.div_euclid(b)),
        _ => (2 * above + below).div_euclid(2 * below),
    }
}

/// Every signal of a station, by kind: channels, gauges, counters, links.
pub(crate) fn signals(station: &Station, style: &Style) -> [Vec<Column>; 4] {
    let column = |terminal: &String, unit: &str| Column {
        name: terminal.clone(),
        terminal: terminal.clone(),
        unit: unit.to_owned(),
    };
    let mut all = [
        station.channels.iter().map(|t| column(t, "")).collect::<Vec<_>>(),
        station.gauge_terminals.iter().map(|t| column(t, "mA")).collect(),
        station.sources.iter().map(|t| column(t, "mm")).collect(),
        station.link_terminals.iter().map(|t| column(t, "")).collect(),
    ];
    let [channels, gauges, counters, links] = &mut all;
    let name = |columns: &mut Vec<Column>, at: usize, name: String| {
        if let Some(column) = columns.get_mut(at).filter(|_| style.named) {
            column.name = name;
        }
    };
    for input in &station.inputs {
        let text = input.name.text.as_str();
        match &input.kind {
            InputKind::Contact(c) => name(channels, c.channel, text.to_owned()),
            InputKind::Detector(d) => name(channels, d.channel, text.to_owned()),
            InputKind::Pair(p) => {
                name(channels, p.channels[0], format!("{text}.1"));
                name(channels, p.channels[1], format!("{text}.2"));
            }
            InputKind::Key(k) => match k.channels.1 {
                None => name(channels, k.channels.0, text.to_owned()),
                Some(second) => {
                    name(channels, k.channels.0, format!("{text}.1"));
                    name(channels, second, format!("{text}.2"));
                }
            },
            InputKind::Gauge(g) => {
                name(gauges, g.terminal, text.to_owned());
                if let Some(column) = gauges.get_mut(g.terminal).filter(|_| style.values) {
                    column.unit.clone_from(&g.unit);
                }
            }
            InputKind::Pace(p) => match p.backing {
                crate::station::Backing::Source(second, _) => {
                    name(counters, p.source, format!("{text}.1"));
                    name(counters, second, format!("{text}.2"));
                }
                _ => name(counters, p.source, text.to_owned()),
            },
            InputKind::Link(l) => name(links, l.terminal, text.to_owned()),
        }
    }
    for output in &station.outputs {
        if let Some((channel, _)) = output.read_back {
            name(channels, channel, format!("{}.back", output.name.text));
        }
    }
    all
}
