//! Files that are made to be wrong, byte by byte: each is refused, and takes no more room than the limits say.

use std::fs::File;
use std::io::BufRead;
use std::sync::Arc;
use std::sync::atomic::AtomicUsize;

use flate2::Crc;
use parquet::errors::Result;
use parquet::file::metadata::{
    ColumnChunkMetaData, FileMetaData, ParquetMetaData, ParquetMetaDataWriter, RowGroupMetaData,
};
use parquet::schema::parser::parse_message_type;
use parquet::schema::types::{SchemaDescPtr, SchemaDescriptor};

use super::pages::Pages;
use super::tests::{held, read};
use super::{ROW, TEXT, Text};

/// A number as the compact protocol of Thrift writes it: zigzag, seven bits a byte.
fn zigzag(number: i32) -> Vec<u8> {
    let mut rest = ((number << 1) ^ (number >> 31)).cast_unsigned();
    let mut bytes = Vec::new();
    while rest > 0x7f {
        bytes.push(u8::try_from(rest & 0x7f).unwrap() | 0x80);
        rest >>= 7;
    }
    bytes.push(u8::try_from(rest).unwrap());
    bytes
}

/// A page of version 1 of a kind (0 values, 2 a dictionary), of so many values written in a way, with or without a checksum.
fn page(kind: i32, values: i32, way: i32, bytes: &[u8], sum: Option<u32>) -> Vec<u8> {
    let field = |number: i32| [&[0x15][..], &zigzag(number)].concat();
    let size = field(bytes.len().try_into().unwrap());
    let sum = sum.map(|sum| field(sum.cast_signed())).unwrap_or_default();
    let about = [&[0x0c][..], &zigzag(kind + 5), &field(values), &field(way), &field(3), &field(3), &[0, 0]].concat();
    [&field(kind)[..], &size, &size, &sum, &about, bytes].concat()
}

fn columns(schema: &str) -> SchemaDescPtr {
    Arc::new(SchemaDescriptor::new(Arc::new(parse_message_type(schema).unwrap())))
}

const NUMBERS: &str = "message m { required int64 n; }";
const TEXTS: &str = "message m { required binary t (STRING); }";

/// The only column of a file, whose pages follow on the name of the format.
fn column(of: &SchemaDescPtr, rows: i64, pages: &[u8]) -> ColumnChunkMetaData {
    let column = ColumnChunkMetaData::builder(of.column(0)).set_num_values(rows).set_data_page_offset(4);
    let size = i64::try_from(pages.len()).unwrap();
    column.set_total_compressed_size(size).set_total_uncompressed_size(size).build().unwrap()
}

/// A file of one column and one row group.
fn file(schema: &str, rows: i64, pages: &[u8]) -> Vec<u8> {
    let of = columns(schema);
    let group = RowGroupMetaData::builder(Arc::clone(&of)).set_num_rows(rows).set_total_byte_size(0);
    let group = group.set_column_metadata(vec![column(&of, rows, pages)]).build().unwrap();
    let about = ParquetMetaData::new(FileMetaData::new(1, rows, None, None, of, None), vec![group]);
    let mut bytes = [b"PAR1", pages].concat();
    ParquetMetaDataWriter::new(&mut bytes, &about).finish().unwrap();
    bytes
}

/// How many pages there are of a column, of no more than so many bytes; or why not.
fn pages(name: &str, schema: &str, pages: &[u8], most: usize) -> Result<usize> {
    let of = columns(schema);
    held(name, &[b"PAR1", pages].concat(), |path| {
        let (file, given) = (Arc::new(File::open(path).unwrap()), Arc::new(AtomicUsize::new(0)));
        let all: Result<Vec<_>> = Pages::new(&file, &column(&of, 1, pages), most, &given)?.collect();
        all.map(|all| all.len())
    })
}

fn error<T>(of: std::result::Result<T, impl ToString>) -> String {
    of.err().map(|error| error.to_string()).unwrap_or_default()
}

/// Texts as they are written plain.
fn texts(all: &[&str]) -> Vec<u8> {
    all.iter()
        .flat_map(|text| [&u32::try_from(text.len()).unwrap().to_le_bytes()[..], text.as_bytes()].concat())
        .collect()
}

/// So many rows that are all the first text of a dictionary: numbers of one bit, in one run.
fn all_the_first(rows: u16) -> Vec<u8> {
    let run = u32::from(rows) << 1;
    let seven = |shift: u32| u8::try_from(run >> shift & 0x7f).unwrap();
    let bytes = [1, seven(0) | 0x80, seven(7) | 0x80, seven(14), 0];
    page(0, rows.into(), 8, &bytes, None)
}

#[test]
fn a_footer_of_groups_within_groups_is_refused() {
    // The root and each group have one child: `g`, and the next begins.
    let group = [0x35, 0, 0x18, 1, b'g', 0x15, 2, 0];
    let footer = [&[0x15, 2, 0x19, 0xfc, 0xc0, 0x84, 0x3d][..], &group.repeat(1_000_000), &[0]].concat();
    let length = u32::try_from(footer.len()).unwrap().to_le_bytes();
    let bytes = [b"PAR1", &footer[..], &length, b"PAR1"].concat();
    assert!(error(read("groups", &bytes)).contains("more than 10000 columns"));
}

#[test]
fn a_row_group_ends_with_its_rows() {
    let numbers = [7_i64.to_le_bytes(), 8_i64.to_le_bytes()].concat();
    assert_eq!(read("rows", &file(NUMBERS, 2, &page(0, 2, 0, &numbers, None))).unwrap(), "n\n7\n8\n");
    let more = file(NUMBERS, 1, &page(0, 2, 0, &numbers, None));
    assert!(error(read("rows", &more)).contains("`n` has more rows than its row group"));
    let fewer = file(NUMBERS, 3, &page(0, 2, 0, &numbers, None));
    assert!(error(read("rows", &fewer)).contains("`n` ends 1 rows too early"));
}

#[test]
fn a_checksum_is_looked_at() {
    let bytes = 7_i64.to_le_bytes();
    let mut sum = Crc::new();
    sum.update(&bytes);
    let read = |sum: u32| pages("checksum", NUMBERS, &page(0, 1, 0, &bytes, Some(sum)), 1_000);
    assert_eq!(read(sum.sum()).unwrap(), 1);
    assert!(error(read(sum.sum() ^ 1)).contains("the checksum of a page is wrong"));
}

#[test]
fn texts_that_are_told_as_differences_are_refused() {
    for way in [6, 7] {
        let told = error(pages("ways", TEXTS, &page(0, 1, way, &[0; 9], None), 1_000));
        assert!(told.contains("write them plain, or with a dictionary"), "{told}");
    }
}

#[test]
fn a_dictionary_is_counted_as_what_it_takes() {
    // A text takes 4 bytes there and 32 in memory.
    let dictionary = |count: i32| page(2, count, 0, &texts(&vec![""; count.try_into().unwrap()]), None);
    assert_eq!(pages("dictionary", TEXTS, &dictionary(31), 1_000).unwrap(), 1);
    assert!(error(pages("dictionary", TEXTS, &dictionary(32), 1_000)).contains("with smaller dictionaries"));
}

#[test]
fn pages_that_are_held_together_are_counted_together() {
    let one = page(0, 1, 0, &texts(&["0123456789"]), None);
    assert_eq!(pages("together", TEXTS, &one.repeat(3), 50).unwrap(), 3);
    assert!(error(pages("together", TEXTS, &one.repeat(4), 50)).contains("with more rows a page"));
}

#[test]
fn long_texts_are_made_into_few_rows_at_once() {
    let rows = |length: usize, rows: u16| {
        let text = "x".repeat(length);
        let pages = [page(2, 1, 0, &texts(&[&text]), None), all_the_first(rows)].concat();
        file(TEXTS, rows.into(), &pages)
    };
    held("long", &rows(ROW / 2, 40), |path| {
        let mut text = Text::open(File::open(path).unwrap()).unwrap();
        let mut all = 0;
        loop {
            let made = text.fill_buf().unwrap().len();
            assert!(made <= TEXT + ROW, "{made}");
            if made == 0 {
                break;
            }
            all += made;
            text.consume(made);
        }
        assert_eq!(all, "t\n".len() + 40 * (ROW / 2 + 1));
    });
    assert_eq!(read("long", &rows(ROW, 1)).unwrap().len(), "t\n".len() + ROW + 1);
    assert!(error(read("long", &rows(ROW + 1, 1))).contains("row 1 is longer than a mebibyte"));
}
