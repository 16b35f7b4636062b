//! What is connected where, as rows of an image.

use super::Unpackable;
use crate::station::{Backing, Gauge, InputKind, Station};
use logic_rules::image::{ScaleRow, TerminalRow, Wiring};
use std::collections::HashSet;

/// Rows that own their bytes; see [`Wiring`].
#[derive(Debug, Clone, Default)]
pub(super) struct WiringRows {
    pub(super) scales: Vec<[u8; 56]>,
    pub(super) pulses: Vec<[u8; 4]>,
    channels: Vec<[u8; 8]>,
    gauges: Vec<[u8; 8]>,
    sources: Vec<[u8; 8]>,
    links: Vec<[u8; 8]>,
    outputs: Vec<[u8; 8]>,
}

impl WiringRows {
    /// The rows as an image shows them.
    pub(super) fn rows(&self) -> Wiring<'_> {
        Wiring {
            scales: &self.scales,
            pulses: &self.pulses,
            channels: &self.channels,
            gauges: &self.gauges,
            sources: &self.sources,
            links: &self.links,
            outputs: &self.outputs,
        }
    }
    /// All terminals, in their order.
    pub(super) fn terminals(&self) -> Vec<[u8; 8]> {
        [&self.channels, &self.gauges, &self.sources, &self.links, &self.outputs]
            .into_iter()
            .flatten()
            .copied()
            .collect()
    }
}

/// The wiring of a station.
pub(super) fn wiring(station: &Station) -> Result<WiringRows, Unpackable> {
    let mut scales = vec![[0; 56]; station.gauge_terminals.len()];
    let mut pulses = vec![[0; 4]; station.sources.len()];
    let mut count = |source: usize, mm: u32| {
        if let Some(cell) = pulses.get_mut(source) {
            *cell = mm.to_le_bytes();
        }
    };
    for input in &station.inputs {
        match &input.kind {
            InputKind::Gauge(gauge) => {
                if let Some(cell) = scales.get_mut(gauge.terminal) {
                    *cell = scale(gauge).write();
                }
            }
            InputKind::Pace(pace) => {
                count(pace.source, pace.mm_a_pulse);
                if let Backing::Source(second, _) = pace.backing {
                    count(second, pace.mm_a_pulse);
                }
            }
            InputKind::Contact(_)
            | InputKind::Pair(_)
            | InputKind::Detector(_)
            | InputKind::Link(_)
            | InputKind::Key(_) => {}
        }
    }
    let mut taken = HashSet::new();
    let mut all = |names: &[String]| names.iter().map(|name| one(name, &mut taken)).collect::<Result<Vec<_>, _>>();
    let outputs: Vec<String> = station.outputs.iter().map(|output| output.terminal.clone()).collect();
    Ok(WiringRows {
        channels: all(&station.channels)?,
        gauges: all(&station.gauge_terminals)?,
        sources: all(&station.sources)?,
        links: all(&station.link_terminals)?,
        outputs: all(&outputs)?,
        scales,
        pulses,
    })
}

/// A gauge as an image holds its scaling.
pub fn scale(gauge: &Gauge) -> ScaleRow {
    let [(from_ua, from), (to_ua, to)] = gauge.points;
    ScaleRow {
        from_ua,
        to_ua,
        trusted_from_ua: gauge.trusted_ua.0,
        trusted_to_ua: gauge.trusted_ua.1,
        broken_from_ua: gauge.broken_ua.0,
        broken_to_ua: gauge.broken_ua.1,
        from,
        to,
        lowest: gauge.lowest,
        step: gauge.step_micro,
    }
}

/// A terminal that no other is.
fn one(name: &str, taken: &mut HashSet<[u8; 8]>) -> Result<[u8; 8], Unpackable> {
    let refuse = |why| Unpackable::Terminal(name.to_owned(), why);
    let (capitals, number) = name.split_once('-').ok_or_else(|| refuse("it has no hyphen"))?;
    let mut letters = [0; 4];
    let room = letters.get_mut(..capitals.len()).filter(|room| !room.is_empty());
    room.ok_or_else(|| refuse("an image names terminals of one to four letters"))?.copy_from_slice(capitals.as_bytes());
    let number = number.parse().map_err(|_| refuse("its number is not below 4 294 967 296"))?;
    let row = TerminalRow { letters: u32::from_le_bytes(letters), number }.write();
    if taken.insert(row) { Ok(row) } else { Err(refuse("another terminal has the same letters and number")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_terminal_is_letters_and_a_number() {
        let mut taken = HashSet::new();
        let row = one("DI-07", &mut taken).unwrap();
        assert_eq!(row, *b"DI\0\0\x07\0\0\0");
        for refused in ["DI-7", "DIGIT-1", "-1", "DI-4294967296", "DI"] {
            assert!(matches!(one(refused, &mut taken), Err(Unpackable::Terminal(..))), "{refused}");
        }
    }
}
