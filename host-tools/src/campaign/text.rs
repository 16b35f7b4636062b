//! A record as text.

use std::io::{self, Write};

use super::{CAUTIONS, Record, Result, Row};

/// Writes a record: rows that did not pass in full, and all rows if they are asked for.
pub fn write<W: Write>(to: &mut W, record: &Record, all: bool) -> io::Result<()> {
    let Record {
        station, revision, target, crc32, digest, rows, scans, took, passed, failed, not_driven, scan_us, ..
    } = record;
    writeln!(to, "Campaign: {station}, revision {revision}, on {target}")?;
    writeln!(to, "  image     CRC-32 {crc32}, rule files {digest}")?;
    writeln!(to, "  a scan is {scan_us} us; scan 1 of a stimulus is the first that shows it")?;
    let said: Vec<String> = record.ends.iter().cloned().chain(record.left_out()).collect();
    for line in &said {
        writeln!(to, "  {line}")?;
    }
    writeln!(to)?;
    for row in rows.iter().filter(|row| all || row.result != Result::Passed) {
        let Row { number, way, answer, stimulus, expected, observed, result, host, .. } = row;
        writeln!(to, "{number:>5}  {:<10}  {way} ({answer})", word(*result))?;
        writeln!(to, "       {stimulus}")?;
        if *result != Result::NotDriven {
            writeln!(to, "       expected  {expected}")?;
            writeln!(to, "       observed  {observed}")?;
        }
        if *result == Result::Failed || host != "same" && !host.is_empty() {
            writeln!(to, "       host      {host}")?;
        }
    }
    writeln!(
        to,
        "{} rows: {passed} passed, {failed} failed, {not_driven} not driven; {scans} scans on the target",
        rows.len()
    )?;
    // The clock of a controller in this program stands.
    if took.longest_us > 0 {
        writeln!(to, "a scan took {} us in the median, {} us at most", took.median_us, took.longest_us)?;
    }
    for line in &said {
        writeln!(to, "{line}")?;
    }
    for caution in CAUTIONS {
        writeln!(to, "  {caution}")?;
    }
    writeln!(to)?;
    for line in ["Date", "Name", "Signature"] {
        writeln!(to, "{line:<10}______________________________")?;
    }
    Ok(())
}

/// A result in words.
pub(super) fn word(result: Result) -> &'static str {
    match result {
        Result::Passed => "passed",
        Result::Failed => "FAILED",
        Result::NotDriven => "not driven",
    }
}
