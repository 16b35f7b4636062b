//! The pages of a column, unpacked one at a time and never to more than was allowed.

use std::fs::File;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use flate2::Crc;
use flate2::bufread::MultiGzDecoder;
use parquet::basic::{Compression, Encoding, Type};
use parquet::column::page::{Page, PageMetadata, PageReader};
use parquet::data_type::ByteArray;
use parquet::errors::{ParquetError, Result};
use parquet::file::metadata::ColumnChunkMetaData;

use super::header::{Fields, Value, number, structure};
use crate::recording::source::Frames;

/// A header is no longer than this: it may hold the least and the greatest text of its page.
const LONGEST_HEADER: u64 = 1 << 16;
/// Most headers are no longer than this: the rest is read for one that is.
const USUAL_HEADER: u64 = 1 << 10;
/// Bytes that a text of a dictionary takes in memory, beside its own.
const OF_A_TEXT: usize = size_of::<ByteArray>();

/// The pages of a column within a row group.
pub(super) struct Pages {
    file: Arc<File>,
    at: u64,
    end: u64,
    packing: Compression,
    /// Bytes that a value takes in a dictionary, at least.
    width: usize,
    /// Values are texts.
    texts: bool,
    /// Bytes of the pages of texts that were given since it was set to 0: each text holds the page in which it lies.
    given: Arc<AtomicUsize>,
    /// Bytes that a page may have, packed or not, and that pages may have which are held together.
    most: usize,
}

impl Pages {
    /// The pages of a column of a file, of no more than `most` bytes each, nor together until `given` is set to 0 again.
    pub(super) fn new(
        file: &Arc<File>,
        column: &ColumnChunkMetaData,
        most: usize,
        given: &Arc<AtomicUsize>,
    ) -> Result<Self> {
        let at = column.dictionary_page_offset().unwrap_or_else(|| column.data_page_offset());
        let place = || {
            let (at, length) = (u64::try_from(at).ok()?, u64::try_from(column.compressed_size()).ok()?);
            at.checked_add(length).map(|end| (at, end))
        };
        let (at, end) = place().ok_or_else(|| damaged("a column lies nowhere"))?;
        let width = match column.column_type() {
            Type::INT64 | Type::DOUBLE => 8,
            Type::INT96 => 12,
            Type::BOOLEAN | Type::FIXED_LEN_BYTE_ARRAY => 1,
            Type::INT32 | Type::FLOAT | Type::BYTE_ARRAY => 4,
        };
        let (texts, given) = (column.column_type() == Type::BYTE_ARRAY, Arc::clone(given));
        Ok(Self { file: Arc::clone(file), at, end, packing: column.compression(), width, texts, given, most })
    }

    fn bytes(&self, at: u64, length: u64) -> Result<Vec<u8>> {
        let mut file = &*self.file;
        file.seek(SeekFrom::Start(at))?;
        let mut bytes = Vec::new();
        file.take(length).read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    /// The header of the next page, and how many bytes it has.
    fn header(&self) -> Result<(Fields, u64)> {
        for longest in [USUAL_HEADER, LONGEST_HEADER] {
            let head = self.bytes(self.at, longest.min(self.end - self.at))?;
            let mut rest = head.as_slice();
            if let Some(header) = structure(&mut rest) {
                return Ok((header, (head.len() - rest.len()) as u64));
            }
        }
        Err(damaged("what should be the header of a page is none"))
    }

    /// Where the header has a checksum, the bytes of the page have it: CRC-32, of what lies in the file.
    fn is_as_written(&self, header: &Fields, bytes: &[u8]) -> Result<()> {
        let Some(said) = number(header, 4) else { return Ok(()) };
        let mut sum = Crc::new();
        sum.update(bytes);
        // It is written as a number with a sign.
        if said == i64::from(sum.sum().cast_signed()) {
            Ok(())
        } else {
            Err(damaged("the checksum of a page is wrong"))
        }
    }

    /// The next page that holds values.
    fn next_page(&mut self) -> Result<Option<Page>> {
        while self.at < self.end {
            let (header, long) = self.header()?;
            let size = |id: i16| number(&header, id).and_then(|size| usize::try_from(size).ok());
            let (Some(whole), Some(packed)) = (size(2), size(3)) else {
                return Err(damaged("a page has no size"));
            };
            if whole.max(packed) > self.most {
                return Err(damaged(&format!(
                    "a page of {} bytes, and {} is what a page of this file may have: write it with smaller pages",
                    whole.max(packed),
                    self.most
                )));
            }
            let begins = self.at + long;
            self.at = begins + packed as u64;
            if self.at > self.end {
                return Err(damaged("a page goes on behind its column"));
            }
            let kind = number(&header, 1);
            if kind == Some(1) {
                continue;
            }
            let bytes = self.bytes(begins, packed as u64)?;
            if bytes.len() < packed {
                return Err(damaged("the file ends within a page"));
            }
            self.is_as_written(&header, &bytes)?;
            if self.texts && kind != Some(2) {
                let given = self.given.fetch_add(whole, Ordering::Relaxed).saturating_add(whole);
                if given > self.most {
                    return Err(damaged(&format!(
                        "texts in pages of more than {} bytes for a thousand rows: write it with more rows a page",
                        self.most
                    )));
                }
            }
            return match kind {
                Some(0) => self.data(&header, &bytes, whole),
                Some(2) => self.dictionary(&header, &bytes, whole),
                Some(3) => self.data_2(&header, &bytes, whole),
                _ => Err(damaged("a page of no known kind")),
            }
            .map(Some);
        }
        Ok(None)
    }

    fn data(&self, header: &Fields, bytes: &[u8], whole: usize) -> Result<Page> {
        let of = inner(header, 5)?;
        Ok(Page::DataPage {
            buf: self.unpacked(bytes, whole)?.into(),
            num_values: count(of, 1)?,
            encoding: of_values(of, 2)?,
            def_level_encoding: encoding(of, 3)?,
            rep_level_encoding: encoding(of, 4)?,
            statistics: None,
        })
    }

    fn dictionary(&self, header: &Fields, bytes: &[u8], whole: usize) -> Result<Page> {
        let of = inner(header, 7)?;
        let num_values = count(of, 1)?;
        // Room is made for as many as it says there are.
        if (num_values as usize).saturating_mul(self.width) > whole {
            return Err(damaged("a dictionary with more values than it has room for"));
        }
        if self.texts && (num_values as usize).saturating_mul(OF_A_TEXT) > self.most {
            return Err(damaged(&format!(
                "a dictionary of {num_values} texts, and {} is what one of this file may have: write it with smaller dictionaries",
                self.most / OF_A_TEXT
            )));
        }
        let buf = self.unpacked(bytes, whole)?.into();
        Ok(Page::DictionaryPage { buf, num_values, encoding: encoding(of, 2)?, is_sorted: number(of, 3) == Some(1) })
    }

    /// In the second version levels are not packed.
    fn data_2(&self, header: &Fields, bytes: &[u8], whole: usize) -> Result<Page> {
        let of = inner(header, 8)?;
        let (def_levels_byte_len, rep_levels_byte_len) = (count(of, 5)?, count(of, 6)?);
        let levels = (def_levels_byte_len as usize).saturating_add(rep_levels_byte_len as usize);
        let parts = bytes.split_at_checked(levels).zip(whole.checked_sub(levels));
        let ((levels, values), whole) = parts.ok_or_else(|| damaged("levels go on behind their page"))?;
        let values = match number(of, 7) {
            Some(0) => values.to_vec(),
            _ if values.is_empty() && whole == 0 => Vec::new(),
            _ => self.unpacked(values, whole)?,
        };
        Ok(Page::DataPageV2 {
            buf: [levels, &values].concat().into(),
            num_values: count(of, 1)?,
            encoding: of_values(of, 4)?,
            num_nulls: count(of, 2)?,
            num_rows: count(of, 3)?,
            def_levels_byte_len,
            rep_levels_byte_len,
            is_compressed: false,
            statistics: None,
        })
    }

    /// Unpacks bytes of which there must be so many then.
    fn unpacked(&self, packed: &[u8], whole: usize) -> Result<Vec<u8>> {
        // One more than there may be is enough to see that.
        let most = whole as u64 + 1;
        let mut bytes = Vec::with_capacity(whole.saturating_add(1));
        match self.packing {
            Compression::UNCOMPRESSED => bytes.extend_from_slice(packed),
            Compression::SNAPPY => {
                if snap::raw::decompress_len(packed).map_err(snappy)? == whole {
                    bytes = snap::raw::Decoder::new().decompress_vec(packed).map_err(snappy)?;
                }
            }
            Compression::GZIP(_) => {
                MultiGzDecoder::new(packed).take(most).read_to_end(&mut bytes)?;
            }
            Compression::ZSTD(_) => {
                Frames::new(BufReader::new(packed)).take(most).read_to_end(&mut bytes)?;
            }
            Compression::LZO | Compression::BROTLI(_) | Compression::LZ4 | Compression::LZ4_RAW => {
                return Err(damaged(&format!(
                    "it is packed with {}: write it with snappy, gzip or zstd",
                    self.packing
                )));
            }
        }
        if bytes.len() == whole { Ok(bytes) } else { Err(damaged("a page has another size than its header says")) }
    }
}

impl Iterator for Pages {
    type Item = Result<Page>;
    fn next(&mut self) -> Option<Self::Item> {
        self.next_page().transpose()
    }
}

impl PageReader for Pages {
    fn get_next_page(&mut self) -> Result<Option<Page>> {
        self.next_page()
    }
    fn peek_next_page(&mut self) -> Result<Option<PageMetadata>> {
        Err(damaged("pages are not looked at before they are read"))
    }
    fn skip_next_page(&mut self) -> Result<()> {
        self.next_page().map(|_| ())
    }
    /// There are no lists, of which one could go on.
    fn at_record_boundary(&mut self) -> Result<bool> {
        Ok(true)
    }
}

fn inner(header: &Fields, id: i16) -> Result<&Fields> {
    match header.get(&id) {
        Some(Value::Fields(fields)) => Ok(fields),
        _ => Err(damaged("a page does not say what it holds")),
    }
}

fn count(of: &Fields, id: i16) -> Result<u32> {
    number(of, id)
        .and_then(|count| u32::try_from(count).ok())
        .ok_or_else(|| damaged("a page does not say how much it holds"))
}

/// By the numbers of the format.
fn encoding(of: &Fields, id: i16) -> Result<Encoding> {
    #[expect(deprecated, reason = "older files have levels packed so")]
    Ok(match number(of, id) {
        Some(0) => Encoding::PLAIN,
        Some(2) => Encoding::PLAIN_DICTIONARY,
        Some(3) => Encoding::RLE,
        Some(4) => Encoding::BIT_PACKED,
        Some(5) => Encoding::DELTA_BINARY_PACKED,
        Some(6) => Encoding::DELTA_LENGTH_BYTE_ARRAY,
        Some(7) => Encoding::DELTA_BYTE_ARRAY,
        Some(8) => Encoding::RLE_DICTIONARY,
        Some(9) => Encoding::BYTE_STREAM_SPLIT,
        _ => return Err(damaged("values are written in a way that is not known")),
    })
}

/// How the values of a page are written. Of texts whose lengths are told as differences a page says how many there are where nothing holds it to that,
/// and each may begin as the one before: they take room without end.
fn of_values(of: &Fields, id: i16) -> Result<Encoding> {
    match encoding(of, id)? {
        way @ (Encoding::DELTA_LENGTH_BYTE_ARRAY | Encoding::DELTA_BYTE_ARRAY) => {
            Err(damaged(&format!("its texts are written as {way}: write them plain, or with a dictionary")))
        }
        way => Ok(way),
    }
}

fn snappy(error: snap::Error) -> ParquetError {
    ParquetError::External(Box::new(error))
}

pub(super) fn damaged(what: &str) -> ParquetError {
    ParquetError::General(what.to_owned())
}
