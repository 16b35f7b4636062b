//! A whole run, written as it goes.

use std::io::{self, Write};

use super::{Obeyed, Scan, Simulator};
use crate::recording::write::Writer;

/// Runs to the end and writes every scan. `rules` answers each scan; what it gives is obeyed in the
/// next one, and with `None` the scenario alone decides. Gives the number of scans.
pub fn record<W: Write>(
    simulator: &mut Simulator<'_>,
    writer: &mut Writer<'_, W>,
    mut rules: impl FnMut(&Scan) -> Option<Obeyed>,
) -> io::Result<u64> {
    let mut scans = 0;
    let mut obey = None;
    while let Some(scan) = simulator.scan(obey.as_ref()) {
        writer.scan(scan.at_us, scan.restarted, &scan.sample)?;
        obey = rules(scan);
        scans += 1;
    }
    Ok(scans)
}
