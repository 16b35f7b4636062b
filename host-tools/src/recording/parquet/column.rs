//! A column of a row group, and what its values are written as.

use std::fs::File;
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use parquet::column::reader::{ColumnReader, ColumnReaderImpl, get_column_reader};
use parquet::data_type::{ByteArray, DataType};
use parquet::errors::Result;
use parquet::file::metadata::ColumnChunkMetaData;

use super::super::write::field;
use super::ROW;
use super::pages::{Pages, damaged};
use super::schema::{Kind, no_values};
use super::texts::Texts;
use crate::date::at_second;

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

impl Values {
    /// The value has places behind the point.
    fn has_places(&self, at: usize) -> bool {
        match self {
            Self::Single(values) => values.get(at).is_some_and(|value| value.fract().abs() > 0.0),
            Self::Double(values) => values.get(at).is_some_and(|value| value.fract().abs() > 0.0),
            Self::Levels(_) | Self::Short(_) | Self::Long(_) | Self::Text(_) => false,
        }
    }
}

/// A column that is being read.
pub(super) struct Column {
    name: String,
    kind: Kind,
    reader: ColumnReader,
    /// Bytes of the pages that were begun with the rows that are read, see [`Pages`].
    given: Arc<AtomicUsize>,
    /// Values may be missing: then this says of each row whether one is there.
    optional: bool,
    there: Vec<i16>,
    values: Values,
    /// One of them, or one before them, has places behind the point.
    places: bool,
    /// What they were written as.
    texts: Texts,
    /// The value that comes next.
    next: usize,
}

impl Column {
    /// Of a row group of so many rows. Its pages have no more than `most` bytes.
    pub(super) fn open(
        file: &Arc<File>,
        column: &ColumnChunkMetaData,
        kind: Kind,
        rows: i64,
        most: usize,
    ) -> Result<Self> {
        let described = column.column_descr_ptr();
        if column.num_values() != rows {
            let (name, has) = (described.name(), column.num_values());
            return Err(damaged(&format!("`{name}` has {has} values in {rows} rows")));
        }
        let given = Arc::new(AtomicUsize::new(0));
        let pages = Pages::new(file, column, most, &given)?;
        let (name, optional) = (described.name().to_owned(), described.max_def_level() > 0);
        let reader = get_column_reader(described, Box::new(pages));
        let values = values(&reader).ok_or_else(|| no_values(&name))?;
        let (there, texts) = (Vec::new(), Texts::default());
        Ok(Self { name, kind, reader, given, optional, there, values, places: false, texts, next: 0 })
    }

    /// All of its pages are read.
    pub(super) fn ends(&mut self) -> Result<()> {
        if self.read(1)? == 0 {
            Ok(())
        } else {
            Err(damaged(&format!("`{}` has more rows than its row group", self.name)))
        }
    }

    /// Reads the values of the next rows.
    ///
    /// # Errors
    /// If there are not so many, or they cannot be read.
    pub(super) fn next(&mut self, rows: usize) -> Result<()> {
        match self.read(rows)? {
            read if read < rows => Err(damaged(&format!("`{}` ends {} rows too early", self.name, rows - read))),
            _ => Ok(()),
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

    /// All of so many rows that were read say the same; a column in which a value is missing is not looked at.
    pub(super) fn is_same(&self, rows: usize) -> bool {
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
    pub(super) fn put(&mut self, row: usize, out: &mut Vec<u8>) -> Result<()> {
        if self.optional && self.there.get(row) != Some(&1) {
            return Ok(());
        }
        let at = self.next;
        self.next += 1;
        if !self.places && self.values.has_places(at) {
            (self.places, self.texts) = (true, Texts::default());
        }
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

/// Writes a number, with three places at least if one before it has any: what is as long as before is read faster.
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
