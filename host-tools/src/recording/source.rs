//! Where a recording comes from: a file or the standard input, as it is or packed with gzip (RFC 1952) or zstd (RFC 8878); or a file in Parquet,
//! where that is built in.
//!
//! What is packed is known by its first bytes, whatever its name. It is unpacked as it is read, so that memory does not grow
//! with it: a small file that unpacks to a large one is a long recording and nothing worse.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Cursor, Error, ErrorKind, Read, Seek};
use std::path::Path;

use flate2::bufread::MultiGzDecoder;
use ruzstd::decoding::errors::{FrameDecoderError, ReadFrameHeaderError};
use ruzstd::decoding::{BlockDecodingStrategy, FrameDecoder};

/// Bytes read at once.
const PIECE: usize = 1 << 18;
/// The first bytes of a gzip file, RFC 1952 section 2.3.1.
const GZIP: [u8; 2] = [0x1f, 0x8b];
/// The first bytes of a Parquet file, by its format's specification.
const PARQUET: [u8; 4] = *b"PAR1";
/// The first bytes of a zstd frame, RFC 8878 section 3.1.1.
const ZSTD: [u8; 4] = [0x28, 0xb5, 0x2f, 0xfd];

/// A recording that can be read.
pub struct Source {
    /// Its bytes, unpacked.
    pub bytes: Box<dyn BufRead>,
    /// How many there are; 0 where that is not known.
    pub length: u64,
}

/// Opens a recording; `-` is the standard input.
///
/// # Errors
/// What the file system says.
pub fn open(path: &Path) -> io::Result<Source> {
    if path == Path::new("-") {
        return unpacked(BufReader::with_capacity(PIECE, io::stdin()), 0);
    }
    let mut file = File::open(path)?;
    if is_parquet(&mut file)? {
        return parquet(file);
    }
    let length = file.metadata().map_or(0, |about| about.len());
    unpacked(BufReader::with_capacity(PIECE, file), length)
}

/// It begins as Parquet does. What cannot be read twice (a pipe) is none.
fn is_parquet(file: &mut File) -> io::Result<bool> {
    if !file.metadata()?.is_file() {
        return Ok(false);
    }
    let mut first = Vec::new();
    Read::by_ref(file).take(PARQUET.len() as u64).read_to_end(&mut first)?;
    file.rewind()?;
    Ok(first == PARQUET)
}

#[cfg(feature = "parquet")]
fn parquet(file: File) -> io::Result<Source> {
    Ok(Source { bytes: Box::new(super::parquet::Text::open(file)?), length: 0 })
}

#[cfg(not(feature = "parquet"))]
fn parquet(_: File) -> io::Result<Source> {
    Err(Error::new(
        ErrorKind::Unsupported,
        "this is Parquet, and this program was built without what reads it: `cargo build --release --features parquet` builds it in",
    ))
}

/// Unpacks what is packed.
fn unpacked<R: Read + 'static>(mut from: BufReader<R>, length: u64) -> io::Result<Source> {
    // A pipe may give them one by one.
    let (mut first, mut count) = ([0; 4], 0);
    while let Some(rest) = first.get_mut(count..).filter(|rest| !rest.is_empty()) {
        match from.read(rest)? {
            0 => break,
            more => count += more,
        }
    }
    let first = first.get(..count).unwrap_or_default().to_vec();
    let from = Cursor::new(first.clone()).chain(from);
    if first.starts_with(&GZIP) {
        let bytes = BufReader::with_capacity(PIECE, MultiGzDecoder::new(from));
        return Ok(Source { bytes: Box::new(bytes), length: 0 });
    }
    if first.starts_with(&ZSTD) {
        let bytes = BufReader::with_capacity(PIECE, Frames::new(from));
        return Ok(Source { bytes: Box::new(bytes), length: 0 });
    }
    Ok(Source { bytes: Box::new(from), length })
}

/// The frames of a zstd file, one after the other.
pub(super) struct Frames<R> {
    from: R,
    decoder: FrameDecoder,
    /// A frame has begun and is not at its end.
    open: bool,
}

impl<R: BufRead> Frames<R> {
    pub(super) fn new(from: R) -> Self {
        Self { from, decoder: FrameDecoder::new(), open: false }
    }
    /// Begins the next frame that holds anything; false at the end of the file.
    fn begins(&mut self) -> io::Result<bool> {
        while !self.from.fill_buf()?.is_empty() {
            match self.decoder.reset(&mut self.from) {
                Ok(()) => return Ok(true),
                Err(FrameDecoderError::ReadFrameHeaderError(ReadFrameHeaderError::SkipFrame { length, .. })) => {
                    let skipped = io::copy(&mut (&mut self.from).take(length.into()), &mut io::sink())?;
                    if skipped < length.into() {
                        return Err(ErrorKind::UnexpectedEof.into());
                    }
                }
                Err(error) => return Err(Error::new(ErrorKind::InvalidData, error)),
            }
        }
        Ok(false)
    }
}

impl<R: BufRead> Read for Frames<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        loop {
            if !self.open {
                self.open = self.begins()?;
                if !self.open {
                    return Ok(0);
                }
            }
            while self.decoder.can_collect() == 0 && !self.decoder.is_finished() {
                self.decoder
                    .decode_blocks(&mut self.from, BlockDecodingStrategy::UptoBlocks(1))
                    .map_err(|error| Error::new(ErrorKind::InvalidData, error))?;
            }
            let count = self.decoder.read(into)?;
            if count > 0 || into.is_empty() {
                return Ok(count);
            }
            let said = self.decoder.get_checksum_from_data();
            if said.is_some() && said != self.decoder.get_calculated_checksum() {
                return Err(Error::new(ErrorKind::InvalidData, "the checksum of a zstd frame is wrong"));
            }
            self.open = false;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Write;

    /// Gives its bytes one by one, as a pipe may.
    struct Slow(Cursor<Vec<u8>>);
    impl Read for Slow {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            let most = into.len().min(if self.0.position() < 9 { 1 } else { 4_096 });
            self.0.read(&mut into[..most])
        }
    }
    fn read(packed: Vec<u8>) -> io::Result<Vec<u8>> {
        let mut out = Vec::new();
        unpacked(BufReader::new(Slow(Cursor::new(packed))), 0)?.bytes.read_to_end(&mut out).map(|_| out)
    }
    fn text() -> Vec<u8> {
        (0..20_000_u32).flat_map(|i| format!("{},{}\n", i * 10, i % 7).into_bytes()).collect()
    }
    fn gzip(bytes: &[u8]) -> Vec<u8> {
        let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        packer.write_all(bytes).unwrap();
        packer.finish().unwrap()
    }
    fn zstd(bytes: &[u8]) -> Vec<u8> {
        ruzstd::encoding::compress_to_vec(bytes, ruzstd::encoding::CompressionLevel::Fastest)
    }

    #[test]
    fn what_is_packed_is_unpacked_in_all_its_parts() {
        let text = text();
        let twice = [text.clone(), text.clone()].concat();
        assert_eq!(read(text.clone()).unwrap(), text);
        for pack in [gzip, zstd] {
            assert_eq!(read(pack(&text)).unwrap(), text);
            assert_eq!(read([pack(&text), pack(&text)].concat()).unwrap(), twice);
        }
        // A frame to be skipped, RFC 8878 section 3.1.2: its magic number, its length, and what nobody reads.
        let skipped = [&zstd(&text)[..], &[0x50, 0x2a, 0x4d, 0x18, 3, 0, 0, 0, 1, 2, 3], &zstd(&text)[..]].concat();
        assert_eq!(read(skipped).unwrap(), twice);
    }

    #[test]
    fn what_is_cut_or_changed_is_an_error() {
        let text = text();
        for pack in [gzip, zstd] {
            let whole = pack(&text);
            for cut in [6, 20, whole.len() / 2, whole.len() - 1] {
                assert!(read(whole[..cut].to_vec()).is_err(), "cut after {cut} of {}", whole.len());
            }
            for at in (30..whole.len()).step_by(293) {
                let mut changed = whole.clone();
                changed[at] ^= 4;
                assert!(read(changed).is_err(), "byte {at} of {}", whole.len());
            }
        }
    }
}
