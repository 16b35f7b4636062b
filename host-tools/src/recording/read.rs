//! Reads a recording, scan by scan, in memory that does not grow with it: rows of either layout, or a value change dump, which is known by
//! its first byte.

use std::io::BufRead;

use crate::sample::{Frame, Reading, Sample};
use crate::station::Station;
use crate::stays::{Room, Stays};

mod cells;
mod changes;
mod clock;
mod columns;
mod dump;
mod dump_again;
mod dump_ids;
mod dump_known;
mod dump_lines;
mod dump_top;
mod fault;
mod foreseen;
mod held;
mod linear;
mod mapping;
mod marks;
mod number;
mod rows;
mod stamps;
mod tokens;
mod top;
mod wide;

#[cfg(test)]
mod corrupt_tests;
#[cfg(test)]
mod dump_tests;
#[cfg(test)]
mod mapping_tests;
#[cfg(test)]
mod marks_tests;
#[cfg(test)]
mod plain_tests;
#[cfg(test)]
mod tests;

pub use fault::ReadFault;
pub use mapping::Mapping;
pub use top::{Layout, Starts, Top};

use changes::Changes;
use columns::Columns;
use dump::Dump;
use fault::Bad;
use marks::byte_order_mark;
use rows::{Line, Rows};
use wide::Wide;

/// What a recording gives next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// A scan; [`Reader::sample`] is what was read in it.
    Scan {
        /// Its time, microseconds on the recording's clock.
        at_us: u64,
    },
    /// The controller lost its power here, and starts again with the next scan.
    PowerUp,
    /// Nothing is known between the scan before and the next one: nobody recorded it, or the clock was set.
    Gap {
        /// Time of the scan before, microseconds.
        from_us: u64,
        /// Time of the next one; not later, if the clock was set back.
        to_us: u64,
    },
    /// The next file of several begins.
    Recording,
    /// The recording is over.
    End,
}

/// What was passed over, counted.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counted {
    /// Changes of a dump that came and went between two scans, so that no scan saw them.
    pub unseen: u64,
    /// Rows that stood there twice, byte by byte.
    pub doubled: u64,
    /// Scans in which the value of a gauge was older than its line at the top allows, and so in doubt.
    pub outlived: u64,
}

impl Counted {
    /// Both together.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            unseen: self.unseen + other.unseen,
            doubled: self.doubled + other.doubled,
            outlived: self.outlived + other.outlived,
        }
    }
    /// In words, with so many gaps; none if nothing was passed over.
    pub fn words(self, gaps: u64) -> Option<String> {
        let several = |count: u64, what: &str| (count > 0).then(|| format!("{count} {what}"));
        let all = [
            several(gaps, "gaps or clock steps, of which nothing is known"),
            several(self.doubled, "doubled rows, passed over"),
            several(self.unseen, "changes between two scans, which no scan saw"),
            several(self.outlived, "scans in which a gauge was held too long, and doubted"),
        ];
        let all: Vec<String> = all.into_iter().flatten().collect();
        (!all.is_empty()).then(|| all.join("; "))
    }
}

/// What gives scans, one after the other: one recording, or several.
pub trait Scans {
    /// Reads on.
    ///
    /// # Errors
    /// If it cannot be read on.
    fn advance(&mut self) -> Result<Step, ReadFault>;
    /// What was read in the last scan given.
    fn sample(&self) -> &Sample;
    /// Scans to come may read what the last one did, or nearly so: else there is none to pass over.
    fn repeats(&mut self) -> bool;
    /// Passes over scans to come that are known to read what the last one did, each one scan of the station later: as many as are seen and may go
    /// at once. The steps of gauges may move within their rooms, which are those of the first terminals; the sample is then that of the last scan.
    /// Gives how many.
    fn pass(&mut self, stays: Stays, rooms: &[Room]) -> u32;
    /// What stands before the first scan.
    fn top(&self) -> &Top;
    /// Bytes read so far, for a progress bar.
    fn bytes(&self) -> u64;
    /// What was passed over so far.
    fn counted(&self) -> Counted;
    /// The file that is being read, where there are several.
    fn name(&self) -> Option<&str>;
}

impl<R: BufRead> Scans for Reader<'_, R> {
    fn advance(&mut self) -> Result<Step, ReadFault> {
        Reader::advance(self)
    }
    fn sample(&self) -> &Sample {
        Reader::sample(self)
    }
    fn repeats(&mut self) -> bool {
        match &mut self.from {
            From::Rows { rows, body: Body::Wide(wide), .. } => wide.repeats(rows),
            From::Rows { body: Body::Changes(changes), .. } => changes.repeats(),
            From::Dump(dump) => dump.repeats(),
        }
    }
    fn pass(&mut self, stays: Stays, rooms: &[Room]) -> u32 {
        match &mut self.from {
            From::Rows { rows, columns, body: Body::Wide(wide) } => {
                wide.pass(rows, columns, &mut self.sample, stays, rooms)
            }
            From::Rows { rows, columns, body: Body::Changes(changes) } => {
                changes.pass(rows, columns, &mut self.sample, stays, rooms)
            }
            From::Dump(dump) => dump.pass(&mut self.sample, stays, rooms),
        }
    }
    fn top(&self) -> &Top {
        Reader::top(self)
    }
    fn bytes(&self) -> u64 {
        Reader::bytes(self)
    }
    fn counted(&self) -> Counted {
        Reader::counted(self)
    }
    fn name(&self) -> Option<&str> {
        None
    }
}

/// A recording being read.
#[derive(Debug)]
pub struct Reader<'s, R> {
    from: From<'s, R>,
    sample: Sample,
}

#[expect(clippy::large_enum_variant, reason = "there is one of a recording, and rows are what is read most")]
#[derive(Debug)]
enum From<'s, R> {
    Rows { rows: Rows<R>, columns: Columns<'s>, body: Body },
    Dump(Box<Dump<'s, R>>),
}

#[derive(Debug)]
enum Body {
    Wide(Wide),
    Changes(Changes),
}

impl<'s, R: BufRead> Reader<'s, R> {
    /// Reads what stands before the first scan: the lines at the top and the header row, or the declarations of a dump.
    pub fn open(source: R, station: &'s Station) -> Result<Self, ReadFault> {
        Self::mapped(source, station, None)
    }

    /// The same of a recording whose lines at the top may stand in a file of their own.
    pub fn mapped(mut source: R, station: &'s Station, mapping: Option<&Mapping>) -> Result<Self, ReadFault> {
        // What cannot be read is told where it is read.
        let begins = source.fill_buf().unwrap_or_default();
        let mark = byte_order_mark(begins).unwrap_or(0);
        let first = begins.get(mark).copied();
        // Where tabs stand between fields the first of them may be empty.
        let is_field = first == Some(b'\t') && mapping.is_some_and(|mapping| mapping.lines().separator() == b'\t');
        let from = if first == Some(b'$') || first.is_some_and(|byte| byte.is_ascii_whitespace()) && !is_field {
            source.consume(mark);
            From::Dump(Box::new(Dump::open(source, station, mapping)?))
        } else {
            rows_of(source, station, mapping)?
        };
        let sample = Sample {
            channels: vec![false; station.channels.len()],
            gauges: vec![Reading::default(); station.gauge_terminals.len()],
            travel: vec![0; station.sources.len()],
            links: vec![Frame::default(); station.link_terminals.len()],
        };
        Ok(Self { from, sample })
    }

    /// What the lines at the top say.
    pub fn top(&self) -> &Top {
        match &self.from {
            From::Rows { columns, .. } => columns.top(),
            From::Dump(dump) => dump.top(),
        }
    }

    /// What was read in the last scan given.
    pub fn sample(&self) -> &Sample {
        &self.sample
    }

    /// Bytes of the file read so far, for a progress bar.
    pub fn bytes(&self) -> u64 {
        match &self.from {
            From::Rows { rows, .. } => rows.bytes(),
            From::Dump(dump) => dump.bytes(),
        }
    }

    /// What was passed over so far.
    pub fn counted(&self) -> Counted {
        match &self.from {
            From::Rows { body: Body::Wide(wide), .. } => {
                Counted { doubled: wide.doubled(), outlived: wide.outlived(), ..Counted::default() }
            }
            From::Rows { body: Body::Changes(changes), .. } => {
                Counted { outlived: changes.outlived(), ..Counted::default() }
            }
            From::Dump(dump) => Counted { unseen: dump.unseen(), ..Counted::default() },
        }
    }

    /// In rows of one scan each, gaps and clock steps are told ([`Step::Gap`]), and a row that stands there twice is passed over; otherwise
    /// they are errors.
    #[must_use]
    pub fn over_gaps(mut self) -> Self {
        if let From::Rows { body: Body::Wide(wide), .. } = &mut self.from {
            wide.over_gaps();
        }
        self
    }

    /// It may go on from a recording that ended at this time: which of two hours is meant that clocks show twice hangs on that. In rows of one scan each.
    pub(crate) fn follows(&mut self, last_us: u64) {
        if let From::Rows { body: Body::Wide(wide), .. } = &mut self.from {
            wide.follows(last_us);
        }
    }

    /// Reads on.
    pub fn advance(&mut self) -> Result<Step, ReadFault> {
        match &mut self.from {
            From::Rows { rows, columns, body: Body::Wide(wide) } => wide.advance(rows, columns, &mut self.sample),
            From::Rows { rows, columns, body: Body::Changes(changes) } => {
                changes.advance(rows, columns, &mut self.sample)
            }
            From::Dump(dump) => dump.advance(&mut self.sample),
        }
    }
}

/// More lines at the top than this are those of no station.
const MOST_LINES: u64 = 100_000;

/// Reads the lines at the top and the header row.
fn rows_of<'s, R: BufRead>(
    source: R,
    station: &'s Station,
    mapping: Option<&Mapping>,
) -> Result<From<'s, R>, ReadFault> {
    let mut rows = Rows::new(source);
    let mut lines = mapping.map(Mapping::lines).unwrap_or_default();
    loop {
        rows.separated_by(lines.separator());
        match rows.advance()? {
            Line::Remark if rows.line() > MOST_LINES => {
                let bad = Bad::new(
                    format!("more than {MOST_LINES} lines at the top"),
                    "a line for each name, a header row, and rows",
                    "is this a recording of one station?",
                );
                return Err(bad.at(rows.line(), 1));
            }
            Line::Remark if mapping.is_some() && between(rows.remark()) != Ok(Between::Note) => {
                return Err(mapping::twice(rows.remark()).at(rows.line(), 1));
            }
            Line::Remark => lines.take(rows.remark(), station.scan_us).map_err(|bad| bad.at(rows.line(), 1))?,
            Line::Row | Line::Same | Line::Alike => break,
            Line::End => {
                let bad = Bad::new(
                    "the file ends before its header row",
                    "the lines at the top, a header row, and rows",
                    "record again; `haltproof manual recordings` describes the format",
                );
                return Err(bad.at(rows.line(), 1));
            }
        }
    }
    let at_header = |bad: Bad| bad.at(rows.line(), 1);
    let top = lines.whole(station.scan_us).map_err(at_header)?;
    top.marks.part(&rows.fields()).map_err(at_header)?;
    let columns = Columns::new(station, top);
    columns.lines_fit().map_err(at_header)?;
    let scan_us = u64::from(station.scan_us);
    let body = match columns.top().layout {
        Layout::Scan => Body::Wide(Wide::open(&mut rows, &columns, scan_us)?),
        Layout::Change => Body::Changes(Changes::open(&rows, scan_us)?),
    };
    Ok(From::Rows { rows, columns, body })
}

/// A remark between rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Between {
    Note,
    PowerUp,
    End,
}

/// Reads a remark between rows.
fn between(remark: &[u8]) -> Result<Between, Bad> {
    let text = String::from_utf8_lossy(remark);
    let text = text.strip_prefix('#').unwrap_or(&text).trim();
    if text == "power-up" {
        return Ok(Between::PowerUp);
    }
    if text.starts_with("note:") {
        return Ok(Between::Note);
    }
    if text.starts_with("end:") {
        return Ok(Between::End);
    }
    Err(top::unknown(remark))
}
