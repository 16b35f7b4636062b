//! A Parquet file as the rows of text that it stands for, so that it is read, counted and refused as those are.
//!
//! One column an input and one row a scan. Of each column a dictionary is held, and the pages of no more than a thousand rows.

use std::fs::File;
use std::io::{self, BufRead, Error, ErrorKind, Read, Seek, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use parquet::errors::Result;
use parquet::file::metadata::{ParquetMetaData, ParquetMetaDataOptions, ParquetMetaDataReader};

use super::write::field;
use column::Column;
use pages::damaged;
use schema::{Kind, schema};

mod column;
mod header;
#[cfg(test)]
mod hostile_tests;
mod pages;
mod schema;
#[cfg(test)]
mod tests;
mod texts;

/// Rows whose values are read at once, at most.
const ROWS: usize = 1_024;
/// Values that are read at once, in all columns together.
const VALUES: usize = 1 << 20;
/// A row is no longer than this in bytes: what reads rows takes none that is.
const ROW: usize = 1 << 20;
/// Rows are made until they have so many bytes.
const TEXT: usize = 1 << 22;
/// What stands at the end of the file about all of it has no more bytes than this.
const LONGEST_END: u64 = 1 << 24;
/// More columns are those of no station.
const MOST_COLUMNS: usize = 10_000;
/// Bytes of the pages of all columns together, at most.
const PAGES: usize = 1 << 28;
/// The key under which a file may hold its lines at the top.
const LINES: &str = "haltproof";

/// A part of some rows, with the commas before it.
#[derive(Debug, Clone, Copy)]
enum Part {
    /// All say the same: so many bytes, up to there.
    Same(usize, usize),
    /// A column whose values differ; not the first one of the row, or it.
    Column(usize),
}

/// The rows.
pub(super) struct Text {
    file: Arc<File>,
    about: ParquetMetaData,
    /// What the values of each column are.
    kinds: Vec<Kind>,
    /// The row group that comes next.
    group: usize,
    columns: Vec<Column>,
    /// What the rows that are read are made of, and the text of what all of them say.
    parts: Vec<Part>,
    same: Vec<u8>,
    /// Rows of this group that are not read yet.
    left: usize,
    /// Rows that are read, and which of them comes next.
    rows: usize,
    row: usize,
    /// Rows that were made before.
    made: u64,
    buffer: Vec<u8>,
    at: usize,
    /// Why there is nothing more.
    failed: Option<String>,
}

impl Text {
    /// Opens a file and makes its lines at the top and its header row.
    ///
    /// # Errors
    /// What keeps it from being read.
    pub(super) fn open(mut file: File) -> io::Result<Self> {
        // The footer is read whole: its length is the last number but one, in front of the name of the format.
        let length = file.seek(SeekFrom::End(0))?;
        let mut end = [0; 8];
        file.seek(SeekFrom::Start(length.saturating_sub(8)))?;
        file.read_exact(&mut end)?;
        let [a, b, c, d, name @ ..] = end;
        let about = u64::from(u32::from_le_bytes([a, b, c, d]));
        if &name != b"PAR1" || about > LONGEST_END || about > length.saturating_sub(12) {
            return Err(Error::new(
                ErrorKind::InvalidData,
                "it begins as Parquet and does not end so, or it is encrypted",
            ));
        }
        file.seek(SeekFrom::Start(length - 8 - about))?;
        let mut footer = Vec::new();
        Read::by_ref(&mut file).take(about).read_to_end(&mut footer)?;
        let (columns, kinds) = guarded(|| schema(&footer, MOST_COLUMNS))?;
        // Its columns are known: those that the footer tells of are not read a second time.
        let known = ParquetMetaDataOptions::new().with_schema(columns);
        let about = guarded(|| ParquetMetaDataReader::decode_metadata_with_options(&footer, Some(&known)))?;
        let (file, columns, failed) = (Arc::new(file), Vec::new(), None);
        let (group, left, rows, row, made, buffer, at) = (0, 0, 0, 0, 0, Vec::new(), 0);
        let (parts, same) = (Vec::new(), Vec::new());
        let mut text =
            Self { file, about, kinds, group, columns, parts, same, left, rows, row, made, buffer, at, failed };
        guarded(|| text.top())?;
        Ok(text)
    }

    fn top(&mut self) -> Result<()> {
        let about = self.about.file_metadata();
        let kept = about.key_value_metadata().into_iter().flatten();
        for line in kept.filter(|kept| kept.key == LINES).filter_map(|kept| kept.value.as_ref()) {
            self.buffer.extend_from_slice(line.trim_end().as_bytes());
            self.buffer.push(b'\n');
        }
        let names: Vec<_> = about.schema_descr().columns().iter().map(|column| field(column.name())).collect();
        self.buffer.extend_from_slice(names.join(",").as_bytes());
        self.buffer.push(b'\n');
        let rows: i64 =
            self.about.row_groups().iter().map(|group| group.num_rows().max(0)).fold(0, i64::saturating_add);
        if rows == about.num_rows() {
            Ok(())
        } else {
            Err(damaged("its row groups have another number of rows than it says"))
        }
    }

    /// Makes the next rows; false at the end.
    fn more(&mut self) -> Result<bool> {
        self.buffer.clear();
        self.at = 0;
        if self.row == self.rows && !self.next_rows()? {
            return Ok(false);
        }
        while self.row < self.rows && self.buffer.len() < TEXT {
            let begins = self.buffer.len();
            for part in &self.parts {
                match *part {
                    Part::Same(from, to) => self.buffer.extend_from_slice(self.same.get(from..to).unwrap_or_default()),
                    Part::Column(number) => {
                        if number > 0 {
                            self.buffer.push(b',');
                        }
                        if let Some(column) = self.columns.get_mut(number) {
                            column.put(self.row, &mut self.buffer)?;
                        }
                    }
                }
                if self.buffer.len() - begins > ROW {
                    return Err(damaged(&format!("row {} is longer than a mebibyte", self.made + 1)));
                }
            }
            self.buffer.push(b'\n');
            self.row += 1;
            self.made += 1;
        }
        Ok(true)
    }

    /// Reads the values of the next rows; false at the end.
    fn next_rows(&mut self) -> Result<bool> {
        while self.left == 0 {
            self.columns.iter_mut().try_for_each(Column::ends)?;
            let Some(group) = self.about.row_groups().get(self.group) else { return Ok(false) };
            self.group += 1;
            self.left = usize::try_from(group.num_rows()).map_err(|_| damaged("a row group has no number of rows"))?;
            let most = PAGES / group.num_columns().max(1);
            self.columns.clear();
            for (column, kind) in group.columns().iter().zip(&self.kinds) {
                self.columns.push(Column::open(&self.file, column, *kind, group.num_rows(), most)?);
            }
        }
        (self.row, self.rows) = (0, self.left.min(ROWS).min(VALUES / self.columns.len().max(1)));
        self.columns.iter_mut().try_for_each(|column| column.next(self.rows))?;
        self.left -= self.rows;
        self.divide()?;
        Ok(true)
    }

    /// Finds what the rows that are read have in common: most inputs of a station stand still for a thousand scans.
    fn divide(&mut self) -> Result<()> {
        self.parts.clear();
        self.same.clear();
        for (number, column) in self.columns.iter_mut().enumerate() {
            let from = self.same.len();
            if self.rows == 0 || from > ROW || !column.is_same(self.rows) {
                self.parts.push(Part::Column(number));
                continue;
            }
            if number > 0 {
                self.same.push(b',');
            }
            column.put(0, &mut self.same)?;
            let to = self.same.len();
            match self.parts.last_mut() {
                Some(Part::Same(_, end)) => *end = to,
                _ => self.parts.push(Part::Same(from, to)),
            }
        }
        Ok(())
    }
}

impl Read for Text {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.fill_buf()?.read(into)?;
        self.consume(count);
        Ok(count)
    }
}

impl BufRead for Text {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.at >= self.buffer.len() && self.failed.is_none() {
            let made = guarded(|| self.more());
            if let Err(error) = made {
                self.buffer.clear();
                self.failed = Some(error.to_string());
            }
        }
        match &self.failed {
            Some(failed) => Err(Error::new(ErrorKind::InvalidData, failed.clone())),
            None => Ok(self.buffer.get(self.at..).unwrap_or_default()),
        }
    }
    fn consume(&mut self, amount: usize) {
        self.at += amount;
    }
}

/// What reads the format may stumble over a file that was made to that end: it is damaged then, and nothing more.
fn guarded<T>(read: impl FnOnce() -> Result<T>) -> io::Result<T> {
    match catch_unwind(AssertUnwindSafe(read)) {
        Ok(read) => read.map_err(|error| Error::new(ErrorKind::InvalidData, error)),
        Err(_) => Err(Error::new(ErrorKind::InvalidData, "it is damaged in a way that cannot be told")),
    }
}
