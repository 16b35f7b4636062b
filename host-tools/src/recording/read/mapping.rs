//! The lines at the top of a recording in a file of their own, for recordings that a logger writes without them.

use super::columns::Columns;
use super::fault::{Bad, ReadFault, quoted};
use super::rows::{Line, Rows};
use super::top::{Lines, Top};
use crate::station::Station;

/// More bytes than this map the columns of no station.
const LONGEST: usize = 1 << 24;

/// What lines at the top say, for any number of recordings.
#[derive(Debug, Clone)]
pub struct Mapping(Lines);

impl Mapping {
    /// Reads the lines; nothing else may stand among them.
    ///
    /// # Errors
    /// The first line that says nothing of a recording of this station.
    pub fn read(bytes: &[u8], station: &Station) -> Result<Self, ReadFault> {
        if bytes.len() > LONGEST {
            let bad = Bad::new("more than 16 mebibytes of lines", "a line for each column", "is this the mapping?");
            return Err(bad.at(1, 1));
        }
        let mut rows = Rows::new(bytes);
        let mut lines = Lines::default();
        let columns = Columns::new(station, Top::bare(station.scan_us));
        loop {
            let line = rows.advance()?;
            let at = |bad: Bad| bad.at(rows.line(), 1);
            match line {
                Line::Remark => {
                    lines.take(rows.remark(), station.scan_us).map_err(at)?;
                    // A line that says something else leaves the last one of a column as it is, which has been looked at.
                    lines.last_column().map_or(Ok(()), |mapped| columns.fits(mapped)).map_err(at)?;
                }
                Line::Row | Line::Same | Line::Alike if rows.len() == 1 && rows.field(0) == Some(b"") => {}
                Line::Row | Line::Same | Line::Alike => return Err(at(no_line(rows.field(0).unwrap_or_default()))),
                Line::End if lines.begun() => return Ok(Self(lines)),
                Line::End => return Err(at(no_line(b""))),
            }
        }
    }

    /// What they say, to go on with.
    pub(super) fn lines(&self) -> Lines {
        self.0.clone()
    }
}

fn no_line(field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no line of a mapping", quoted(field)),
        "`# haltproof recording 1`, and behind it the other lines that may stand at the top of a recording",
        "write the lines alone, without a header row; `haltproof manual recordings` lists them",
    )
}

/// A line at the top of a recording that has a mapping.
pub(super) fn twice(remark: &[u8]) -> Bad {
    Bad::new(
        format!("{} stands at the top, and there is a mapping as well", quoted(remark)),
        "the header row, and what it means either in the mapping or above it",
        "leave the mapping or the lines out",
    )
}
