//! Witnesses in words.

use super::{Asked, Concession};
use crate::replay::cause;
use crate::station::Station;
use crate::station::ways::ways;

impl Concession {
    /// What was given up, in words that go on after "only".
    pub fn words(self, station: &Station) -> String {
        match self {
            Self::Standstill => "at standstill".into(),
            Self::Mode(mode) => format!("in mode {}", station.modes.get(mode).map_or("", |m| m.name.text.as_str())),
            Self::NoMode => "as the mode changes".into(),
            Self::Bypass(bypass) => {
                format!("while {} is active", station.bypasses.get(bypass).map_or("", |b| b.name.text.as_str()))
            }
            Self::Also(way) => format!(
                "while something else trips too ({})",
                ways(station).get(usize::from(way)).map_or(String::new(), |way| cause(station, *way).words)
            ),
            Self::Stopped => "while a stop stands".into(),
        }
    }
}

impl Asked {
    /// Microseconds from power-up.
    pub fn at_us(&self, station: &Station) -> u64 {
        self.scan.saturating_mul(u64::from(station.scan_us))
    }
    /// When it arises, in words.
    pub fn words(&self, station: &Station) -> String {
        let given_up = self.concessions.iter().map(|concession| format!(", only {}", concession.words(station)));
        let at_ms = self.at_us(station) / 1_000;
        format!("arises at {}.{:03} s{}", at_ms / 1_000, at_ms % 1_000, given_up.collect::<String>())
    }
}
