//! A refutation as a recording that `replay` and the bench read, and as a timeline in words.

use crate::recording::write::{Rows, Style, Writer};
use crate::refute::History;
use crate::replay::replay_all;
use crate::replay::text::{Lines, Paint};
use crate::station::Station;
use std::io;

/// The recording of a history, from power-up, one row a change.
///
/// # Errors
/// None that memory does not cause.
pub fn recording(station: &Station, history: &History, notes: Vec<String>) -> io::Result<Vec<u8>> {
    let style = Style { rows: Rows::Change, powers_up: true, notes, ..Style::default() };
    let mut writer = Writer::new(Vec::new(), station, style)?;
    let mut at_us = 0_u64;
    for sample in history.samples() {
        writer.scan(at_us, false, sample)?;
        at_us = at_us.saturating_add(u64::from(station.scan_us));
    }
    writer.finish()
}

/// What a replay of a recording says.
///
/// # Errors
/// If it cannot be read back, which would be a fault of this program.
pub fn timeline(station: &Station, recording: &[u8]) -> io::Result<String> {
    let mut lines = Lines::new(Vec::new(), Paint(false));
    replay_all(station, recording, &mut lines)?;
    Ok(String::from_utf8_lossy(&lines.into_inner()).into_owned())
}
