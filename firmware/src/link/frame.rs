//! Frames on a serial line, and what is refused of it.

use heapless::Vec;
use logic_rules::image::crc32;

/// Most bytes of a body.
pub const BODY: usize = 192;
/// Sender, sequence, kind.
const HEAD: usize = 3;
/// Bytes of the checksum.
const SUM: usize = 4;
/// Most bytes of a frame before it is stuffed: fewer than 254, so that stuffing adds one.
const WHOLE: usize = HEAD + BODY + SUM;
/// Most bytes of a frame on the line, the 0 at its end included.
pub const WIRE: usize = WHOLE + 2;

/// Body of a frame.
pub type Body = Vec<u8, BODY>;
/// A frame as it goes over the line.
pub type Wire = Vec<u8, WIRE>;

/// Who sends a frame: it stands in each, so that a bench is never taken for a station.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sender {
    /// A computer that asks: `H`.
    Host,
    /// A controller that runs a station: `S`.
    Station,
    /// A controller on a bench: `B`.
    Bench,
}

impl Sender {
    fn letter(self) -> u8 {
        match self {
            Self::Host => b'H',
            Self::Station => b'S',
            Self::Bench => b'B',
        }
    }
    fn from_letter(letter: u8) -> Option<Self> {
        [Self::Host, Self::Station, Self::Bench].into_iter().find(|sender| sender.letter() == letter)
    }
}

/// A frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Frame {
    /// Who sent it.
    pub sender: Sender,
    /// One more than that of the frame before, after 255 comes 0; an answer has that of its question.
    pub sequence: u8,
    /// What it is.
    pub kind: u8,
    /// What it says.
    pub body: Body,
}

/// Why bytes between two zeros were refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bad {
    /// More of them than any frame has.
    Long,
    /// They are not stuffed as COBS does.
    Stuffing,
    /// Fewer than a frame has.
    Short,
    /// The checksum is another.
    Checksum,
    /// The sender is none.
    Sender,
}

/// A frame as bytes for the line.
pub fn encode(frame: &Frame) -> Wire {
    let mut whole: Vec<u8, WHOLE> = Vec::new();
    let _ = whole.extend_from_slice(&[frame.sender.letter(), frame.sequence, frame.kind]);
    let _ = whole.extend_from_slice(&frame.body);
    let sum = crc32(&whole);
    let _ = whole.extend_from_slice(&sum.to_le_bytes());
    let mut wire = Wire::new();
    // The room is that of the longest frame, and the last byte stays 0.
    if wire.resize(WIRE, 0).is_ok()
        && let Ok(length) = cobs::try_encode(&whole, &mut wire)
    {
        wire.truncate(length.saturating_add(1));
        if let Some(last) = wire.last_mut() {
            *last = 0;
        }
    }
    wire
}

/// Takes a line byte by byte, and gives what stands between zeros.
#[derive(Debug, Default)]
pub struct Decoder {
    bytes: Vec<u8, WIRE>,
    long: bool,
}

impl Decoder {
    /// At the beginning of a line.
    pub fn new() -> Self {
        Self::default()
    }
    /// Takes a byte. A 0 ends a frame, whole or not; zeros after it are idle.
    pub fn take(&mut self, byte: u8) -> Option<Result<Frame, Bad>> {
        if byte != 0 {
            self.long |= self.bytes.push(byte).is_err();
            return None;
        }
        let long = core::mem::take(&mut self.long);
        let mut bytes = core::mem::take(&mut self.bytes);
        if long {
            return Some(Err(Bad::Long));
        }
        if bytes.is_empty() {
            return None;
        }
        Some(whole(&mut bytes))
    }
}

/// What stood between zeros, as a frame.
fn whole(stuffed: &mut [u8]) -> Result<Frame, Bad> {
    // Every code byte must lead to the next one and the last of them to the end.
    let report = cobs::decode_in_place(stuffed).map_err(|_| Bad::Stuffing)?;
    let bytes = stuffed.get(..report).ok_or(Bad::Stuffing)?;
    let (rest, sum) = bytes.split_last_chunk::<SUM>().ok_or(Bad::Short)?;
    let ([sender, sequence, kind], body) = rest.split_first_chunk::<HEAD>().ok_or(Bad::Short)?;
    if crc32(rest) != u32::from_le_bytes(*sum) {
        return Err(Bad::Checksum);
    }
    let sender = Sender::from_letter(*sender).ok_or(Bad::Sender)?;
    Ok(Frame { sender, sequence: *sequence, kind: *kind, body: Body::from_slice(body).map_err(|_| Bad::Long)? })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(body: &[u8]) -> Frame {
        Frame { sender: Sender::Host, sequence: 7, kind: 1, body: Body::from_slice(body).unwrap() }
    }
    fn decode(decoder: &mut Decoder, bytes: &[u8]) -> Vec<Result<Frame, Bad>, 64> {
        bytes.iter().filter_map(|byte| decoder.take(*byte)).collect()
    }

    #[test]
    fn every_length_comes_back_as_it_was() {
        for length in 0..=BODY {
            for fill in [0, 1, 0xFF] {
                let frame = frame([fill; BODY].get(..length).unwrap());
                let wire = encode(&frame);
                assert_eq!(wire.iter().position(|byte| *byte == 0), Some(wire.len() - 1));
                assert_eq!(decode(&mut Decoder::new(), &wire).as_slice(), [Ok(frame)]);
            }
        }
    }

    #[test]
    fn every_bit_of_a_frame_matters() {
        let wire = encode(&frame(&[0, 1, 2, 0, 0xFF]));
        for bit in 0..8 * (wire.len() - 1) {
            let mut turned = wire.clone();
            turned[bit / 8] ^= 1 << (bit % 8);
            turned.push(0).unwrap();
            for found in decode(&mut Decoder::new(), &turned) {
                assert!(found.is_err(), "bit {bit}");
            }
        }
    }

    #[test]
    fn a_line_that_is_cut_in_a_frame_goes_on_with_the_next() {
        let wire = encode(&frame(&[1, 2, 3]));
        for cut in 1..wire.len() - 1 {
            let mut decoder = Decoder::new();
            assert_eq!(decode(&mut decoder, &wire[..cut]).as_slice(), []);
            // The end of the frame is missing, and the zero of the next beginning is what ends it.
            assert!(decoder.take(0).unwrap().is_err());
            assert_eq!(decode(&mut decoder, &wire).as_slice(), [Ok(frame(&[1, 2, 3]))]);
        }
    }

    #[test]
    fn an_endless_line_is_one_bad_frame() {
        let mut decoder = Decoder::new();
        assert_eq!(decode(&mut decoder, &[1; 10_000]).as_slice(), []);
        assert_eq!(decoder.take(0), Some(Err(Bad::Long)));
        assert_eq!(decoder.take(0), None);
    }
}
