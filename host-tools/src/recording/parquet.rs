//! A Parquet file as the rows of text that it stands for, so that it is read, counted and refused as those are.
//!
//! One column an input and one row a scan. Of each column a dictionary is held, and the pages of no more than a thousand rows.

use std::fs::File;
use std::io::{self, BufRead, Error, ErrorKind, Read, Seek, SeekFrom, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use parquet::column::reader::{ColumnReader, ColumnReaderImpl, get_column_reader};
use parquet::data_type::{ByteArray, DataType};
use parquet::errors::Result;
use parquet::file::metadata::{ParquetMetaData, ParquetMetaDataOptions, ParquetMetaDataReader};

use super::write::field;
use crate::date::at_second;
use pages::{Pages, damaged};
use schema::{Kind, no_values, schema};
use texts::Texts;

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

/// The values of some rows that are there.
#[derive(Debug)]
enum Values {
    Levels(Vec<bool>),
    Short(Vec<i32>),
    Long(Vec<i64>),
    Single(Vec<f32>),
    Double(Vec<f64>),
    Text(Vec<ByteArray>),
}

/// A column that is being read.
struct Column {
    name: String,
    kind: Kind,
    reader: ColumnReader,
    /// Bytes of the pages that were begun with the rows that are read, see [`Pages`].
    given: Arc<AtomicUsize>,
    /// Values may be missing: then this says of each row whether one is there.
    optional: bool,
    there: Vec<i16>,
    values: Values,
    /// Some of them have places behind the point.
    places: bool,
    /// What they were written as.
    texts: Texts,
    /// The value that comes next.
    next: usize,
}

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
                let described = column.column_descr_ptr();
                if column.num_values() != group.num_rows() {
                    let (name, has) = (described.name(), column.num_values());
                    return Err(damaged(&format!("`{name}` has {has} values in {} rows", self.left)));
                }
                let given = Arc::new(AtomicUsize::new(0));
                let pages = Pages::new(&self.file, column, most, &given)?;
                let (name, optional) = (described.name().to_owned(), described.max_def_level() > 0);
                let reader = get_column_reader(described, Box::new(pages));
                let (values, there) = (values(&reader).ok_or_else(|| no_values(&name))?, Vec::new());
                let texts = Texts::default();
                self.columns.push(Column {
                    name,
                    kind: *kind,
                    reader,
                    given,
                    optional,
                    there,
                    values,
                    places: false,
                    texts,
                    next: 0,
                });
            }
        }
        (self.row, self.rows) = (0, self.left.min(ROWS).min(VALUES / self.columns.len().max(1)));
        for column in &mut self.columns {
            let read = column.read(self.rows)?;
            if read < self.rows {
                return Err(damaged(&format!("`{}` ends {} rows too early", column.name, self.rows - read)));
            }
        }
        self.left -= self.rows;
        self.divide()?;
        Ok(true)
    }

    /// Finds what the rows that are read have in common: most inputs of a station stand still for a thousand scans.
    fn divide(&mut self) -> Result<()> {
        self.parts.clear();
        self.same.clear();
        for (number, column) in self.columns.iter_mut().enumerate() {
            column.looks();
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

impl Column {
    /// All of its pages are read.
    fn ends(&mut self) -> Result<()> {
        if self.read(1)? == 0 {
            Ok(())
        } else {
            Err(damaged(&format!("`{}` has more rows than its row group", self.name)))
        }
    }

    /// Reads the values of so many rows; gives how many there were.
    fn read(&mut self, rows: usize) -> Result<usize> {
        self.there.clear();
        self.next = 0;
        self.given.store(0, Ordering::Relaxed);
        let there = self.optional.then_some(&mut self.there);
        match (&mut self.reader, &mut self.values) {
            (ColumnReader::BoolColumnReader(from), Values::Levels(to)) => records(from, rows, there, to),
            (ColumnReader::Int32ColumnReader(from), Values::Short(to)) => records(from, rows, there, to),
            (ColumnReader::Int64ColumnReader(from), Values::Long(to)) => records(from, rows, there, to),
            (ColumnReader::FloatColumnReader(from), Values::Single(to)) => records(from, rows, there, to),
            (ColumnReader::DoubleColumnReader(from), Values::Double(to)) => records(from, rows, there, to),
            (ColumnReader::ByteArrayColumnReader(from), Values::Text(to)) => records(from, rows, there, to),
            _ => Err(no_values(&self.name)),
        }
    }

    /// Looks whether some of the values that were read have places behind the point.
    fn looks(&mut self) {
        let places = match &self.values {
            Values::Single(values) => values.iter().any(|value| value.fract() != 0.0),
            Values::Double(values) => values.iter().any(|value| value.fract() != 0.0),
            Values::Levels(_) | Values::Short(_) | Values::Long(_) | Values::Text(_) => false,
        };
        if std::mem::replace(&mut self.places, places) != places {
            self.texts = Texts::default();
        }
    }

    /// All of so many rows that were read say the same; a column in which a value is missing is not looked at.
    fn is_same(&self, rows: usize) -> bool {
        fn all<T: Copy>(values: &[T], rows: usize, same: impl Fn(T, T) -> bool) -> bool {
            let first = values.first().copied();
            values.len() == rows && first.is_some_and(|first| values.iter().all(|value| same(*value, first)))
        }
        match &self.values {
            Values::Levels(values) => all(values, rows, |a, b| a == b),
            Values::Short(values) => all(values, rows, |a, b| a == b),
            Values::Long(values) => all(values, rows, |a, b| a == b),
            Values::Single(values) => all(values, rows, |a, b| a.to_bits() == b.to_bits()),
            Values::Double(values) => all(values, rows, |a, b| a.to_bits() == b.to_bits()),
            Values::Text(_) => false,
        }
    }

    /// Writes the value of a row, as a field; nothing where there is none.
    fn put(&mut self, row: usize, out: &mut Vec<u8>) -> Result<()> {
        if self.optional && self.there.get(row) != Some(&1) {
            return Ok(());
        }
        let at = self.next;
        self.next += 1;
        let (kind, texts, places) = (self.kind, &mut self.texts, self.places);
        let written = match &self.values {
            Values::Levels(all) => all.get(at).map(|level| out.push(if *level { b'1' } else { b'0' })),
            Values::Short(all) => all.get(at).map(|number| whole(kind, i64::from(*number), 32, texts, out)),
            Values::Long(all) => all.get(at).map(|number| whole(kind, *number, 64, texts, out)),
            // Of all decimal numbers that are read as this one it is the shortest, without an exponent.
            Values::Single(all) => all.get(at).map(|number| {
                texts.put(number.to_bits().into(), out, |out| parted(out, number, places && number.is_finite()));
            }),
            Values::Double(all) => all.get(at).map(|number| {
                texts.put(number.to_bits(), out, |out| parted(out, number, places && number.is_finite()));
            }),
            // Of one that is longer than a row may be so many bytes are written that the row is, too.
            Values::Text(all) => all.get(at).map(|text| match std::str::from_utf8(text.data()) {
                Ok(text) if text.len() > ROW => out.resize(out.len() + ROW + 1, 0),
                Ok(text) => out.extend_from_slice(field(text).as_bytes()),
                Err(_) => out.extend_from_slice(b"no UTF-8"),
            }),
        };
        written.ok_or_else(|| damaged(&format!("`{}` has fewer values than rows", self.name)))
    }
}

/// Reads the values of so many rows into an empty place; gives how many rows there were.
fn records<T: DataType>(
    from: &mut ColumnReaderImpl<T>,
    rows: usize,
    there: Option<&mut Vec<i16>>,
    to: &mut Vec<T::T>,
) -> Result<usize> {
    to.clear();
    Ok(from.read_records(rows, there, None, to)?.0)
}

/// Writes what can be shown.
fn put(out: &mut Vec<u8>, what: &dyn std::fmt::Display) {
    // Memory takes it.
    let _written = write!(out, "{what}");
}

/// Writes a number, with three places at least if numbers around it have any: what is as long as before is read faster.
fn parted(out: &mut Vec<u8>, number: &dyn std::fmt::Display, has_places: bool) {
    let begins = out.len();
    put(out, number);
    if !has_places {
        return;
    }
    let places = out.get(begins..).and_then(|text| text.iter().rev().position(|byte| *byte == b'.'));
    if places.is_none() {
        out.push(b'.');
    }
    out.extend(std::iter::repeat_n(b'0', 3_usize.saturating_sub(places.unwrap_or(0))));
}

/// Writes a whole number of so many bits. A moment is seldom written twice.
fn whole(kind: Kind, number: i64, bits: u32, texts: &mut Texts, out: &mut Vec<u8>) {
    let unsigned = number.cast_unsigned();
    match kind {
        Kind::Plain => texts.put(unsigned, out, |out| put(out, &number)),
        Kind::Unsigned => texts.put(unsigned, out, |out| put(out, &(unsigned & (u64::MAX >> (64 - bits))))),
        Kind::Moment(in_a_second, utc) => {
            let (second, behind) = (number.div_euclid(in_a_second), number.rem_euclid(in_a_second));
            match at_second(second) {
                Some(at) => {
                    let nanos = behind * (1_000_000_000 / in_a_second);
                    let zone = if utc { "Z" } else { "" };
                    put(out, &format_args!("{at}.{nanos:09}{zone}"));
                }
                // Read as what it is, which is no date.
                None => put(out, &number),
            }
        }
    }
}

fn values(reader: &ColumnReader) -> Option<Values> {
    Some(match reader {
        ColumnReader::BoolColumnReader(_) => Values::Levels(Vec::new()),
        ColumnReader::Int32ColumnReader(_) => Values::Short(Vec::new()),
        ColumnReader::Int64ColumnReader(_) => Values::Long(Vec::new()),
        ColumnReader::FloatColumnReader(_) => Values::Single(Vec::new()),
        ColumnReader::DoubleColumnReader(_) => Values::Double(Vec::new()),
        ColumnReader::ByteArrayColumnReader(_) => Values::Text(Vec::new()),
        ColumnReader::Int96ColumnReader(_) | ColumnReader::FixedLenByteArrayColumnReader(_) => return None,
    })
}

/// What reads the format may stumble over a file that was made to that end: it is damaged then, and nothing more.
fn guarded<T>(read: impl FnOnce() -> Result<T>) -> io::Result<T> {
    match catch_unwind(AssertUnwindSafe(read)) {
        Ok(read) => read.map_err(|error| Error::new(ErrorKind::InvalidData, error)),
        Err(_) => Err(Error::new(ErrorKind::InvalidData, "it is damaged in a way that cannot be told")),
    }
}
