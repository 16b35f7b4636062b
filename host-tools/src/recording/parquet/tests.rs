//! What is read of Parquet, from files that its crate writes; others write them in the tests of Python.

use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;

use parquet::basic::Compression;
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::file::metadata::KeyValue;
use parquet::file::properties::{WriterProperties, WriterVersion};
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::parser::parse_message_type;

use super::Text;

const SCHEMA: &str =
    "message recording { required int64 time (TIMESTAMP(MILLIS, true)); optional boolean DI; required double AI;
    required int64 CI; optional binary L (STRING); }";

/// A file of two row groups and some thousand rows, as its bytes.
fn written(version: WriterVersion, packing: Compression) -> Vec<u8> {
    let lines = KeyValue::new("haltproof".to_owned(), "# haltproof recording 1\n# rows: scan".to_owned());
    let properties = WriterProperties::builder()
        .set_writer_version(version)
        .set_compression(packing)
        .set_key_value_metadata(Some(vec![lines]))
        .set_data_page_row_count_limit(500)
        .build();
    let schema = Arc::new(parse_message_type(SCHEMA).unwrap());
    let mut writer = SerializedFileWriter::new(Vec::new(), schema, Arc::new(properties)).unwrap();
    for group in 0..2 {
        let numbers: Vec<i64> = (group * 1_500..(group + 1) * 1_500).collect();
        let mut rows = writer.next_row_group().unwrap();
        let mut column = 0;
        while let Some(mut to) = rows.next_column().unwrap() {
            let there: Vec<i16> = numbers.iter().map(|n| i16::from(n % 3 != 0)).collect();
            let which = || numbers.iter().filter(|n| **n % 3 != 0);
            match column {
                0 => {
                    to.typed::<Int64Type>().write_batch(&numbers.iter().map(|n| n * 10).collect::<Vec<_>>(), None, None)
                }
                1 => to.typed::<BoolType>().write_batch(
                    &which().map(|n| n % 2 == 0).collect::<Vec<_>>(),
                    Some(&there),
                    None,
                ),
                2 => {
                    #[expect(clippy::cast_precision_loss, reason = "they are small")]
                    let halves: Vec<f64> = numbers.iter().map(|n| *n as f64 / 2.0).collect();
                    to.typed::<DoubleType>().write_batch(&halves, None, None)
                }
                3 => {
                    to.typed::<Int64Type>().write_batch(&numbers.iter().map(|n| n % 7).collect::<Vec<_>>(), None, None)
                }
                _ => {
                    let texts: Vec<ByteArray> = which().map(|n| ByteArray::from(format!("{n},").as_str())).collect();
                    to.typed::<ByteArrayType>().write_batch(&texts, Some(&there), None)
                }
            }
            .unwrap();
            to.close().unwrap();
            column += 1;
        }
        rows.close().unwrap();
    }
    writer.into_inner().unwrap()
}

/// Does something with bytes in a file.
pub(super) fn held<T>(name: &str, bytes: &[u8], with: impl FnOnce(&Path) -> T) -> T {
    let path = std::env::temp_dir().join(format!("haltproof-parquet-{name}-{}", std::process::id()));
    std::fs::write(&path, bytes).unwrap();
    let done = with(&path);
    std::fs::remove_file(&path).unwrap();
    done
}

/// What is read of bytes as a file.
pub(super) fn read(name: &str, bytes: &[u8]) -> std::io::Result<String> {
    let mut text = String::new();
    let read = |path: &Path| Text::open(File::open(path)?).and_then(|mut all| all.read_to_string(&mut text));
    held(name, bytes, read).map(|_| text)
}

fn expected() -> String {
    let row = |n: i64| {
        let (ms, there) = (n * 10, n % 3 != 0);
        let level = if there { i64::from(n % 2 == 0).to_string() } else { String::new() };
        let text = if there { format!("\"{n},\"") } else { String::new() };
        // Places are written from the first number of a row group that has any.
        let places = if n % 2 == 0 { ".000" } else { ".500" };
        let half = format!("{}{}", n / 2, if n % 1_500 == 0 { "" } else { places });
        let (second, milli) = (ms / 1_000, ms % 1_000);
        let (minute, second) = (second / 60, second % 60);
        format!("1970-01-01T00:{minute:02}:{second:02}.{milli:03}000000Z,{level},{half},{},{text}\n", n % 7)
    };
    let rows: String = (0..3_000).map(row).collect();
    format!("# haltproof recording 1\n# rows: scan\ntime,DI,AI,CI,L\n{rows}")
}

#[test]
fn every_packing_and_version_is_the_same_text() {
    let expected = expected();
    for version in [WriterVersion::PARQUET_1_0, WriterVersion::PARQUET_2_0] {
        let bytes = written(version, Compression::UNCOMPRESSED);
        assert!(read("whole", &bytes).unwrap() == expected);
    }
}

#[test]
fn no_file_makes_it_fail() {
    let whole = written(WriterVersion::PARQUET_1_0, Compression::UNCOMPRESSED);
    let expected = expected();
    let mut refused = 0;
    for cut in (0..whole.len()).step_by(499) {
        assert!(read("cut", &whole[..cut]).is_err(), "{cut}");
    }
    // Any byte may be another: it is read, perhaps as another number, or refused.
    for at in (4..whole.len()).step_by(151).chain(whole.len() - 900..whole.len()) {
        let mut bytes = whole.clone();
        bytes[at] ^= 0x55;
        match read("changed", &bytes) {
            Ok(text) => assert!(text.len() < 2 * expected.len(), "{at}"),
            Err(_) => refused += 1,
        }
    }
    assert!(refused > 100, "{refused}");
}
