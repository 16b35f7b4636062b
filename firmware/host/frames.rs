//! Frames in the bytes of a line. A frame ends with a byte that is 0, and is written in rzCOBS, which has no other: bytes that are not 0
//! stand as they are, and a byte after some of them says where zeros were, so that a frame is read from its end.
//!
//! | byte | what it stands for, after the bytes that it speaks of |
//! |---|---|
//! | `0xxxxxxx` | seven bytes: one that stands before it for each `x` of 0, lowest first, and a 0 for each of 1 |
//! | `1nnnnnnn` | `n` + 7 bytes that stand before it, and a 0 |
//! | `11111111` | 134 bytes that stand before it |

/// Most zeros that the writing of a frame adds at its end, to fill what its last byte speaks of.
pub(crate) const FILLS: usize = 6;

/// What lies between two ends.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Frame<'b> {
    /// Its first byte is this one of the line, from 0.
    pub(crate) at: usize,
    /// As it is written, without its end.
    pub(crate) written: &'b [u8],
    /// Its end came.
    pub(crate) ended: bool,
}

/// Frames, in order. Two ends with nothing between are no frame: a board sends one end more when it starts.
pub(crate) fn frames(bytes: &[u8]) -> impl Iterator<Item = Frame<'_>> {
    let mut at = 0;
    let frames = bytes.split_inclusive(|byte| *byte == 0).map(move |piece| {
        let written = piece.strip_suffix(&[0]).unwrap_or(piece);
        let frame = Frame { at, written, ended: written.len() < piece.len() };
        at += piece.len();
        frame
    });
    frames.filter(|frame| !frame.written.is_empty())
}

/// What a frame holds, and up to [`FILLS`] zeros after it; none if it speaks of bytes that are not there.
pub(crate) fn held(written: &[u8]) -> Option<Vec<u8>> {
    let mut left = written.iter().copied().rev();
    let mut backwards = Vec::new();
    while let Some(last) = left.next() {
        if last & 0x80 == 0 {
            for place in (0..7).rev() {
                backwards.push(if last >> place & 1 == 1 { 0 } else { left.next()? });
            }
            continue;
        }
        let count = if last == 0xFF {
            134
        } else {
            backwards.push(0);
            usize::from(last & 0x7F) + 7
        };
        for _ in 0..count {
            backwards.push(left.next()?);
        }
    }
    backwards.reverse();
    Some(backwards)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frames_lie_between_ends() {
        let whole = |at, written, ended| Frame { at, written, ended };
        let told: Vec<_> = frames(&[0, 0, 1, 2, 0, 3, 0, 0, 4]).collect();
        assert_eq!(told, [whole(2, &[1, 2][..], true), whole(5, &[3], true), whole(8, &[4], false)]);
        assert_eq!(frames(&[]).count(), 0);
    }

    #[test]
    fn what_is_written_is_read_but_for_zeros_that_fill() {
        let counted: Vec<u8> = (1..=134).collect();
        let with = |last: &[u8]| [&counted[..], last].concat();
        // Held and written, from the tests of the encoder of defmt 1.2.0.
        let pairs: [(&[u8], &[u8]); 10] = [
            (&[], &[]),
            (&[0x00], &[0x7F]),
            (&[0; 8], &[0x7F, 0x7F]),
            (&[0x01], &[0x01, 0x7E]),
            (&[0x00, 0x01], &[0x01, 0x7D]),
            (&[0x01, 0x02], &[0x01, 0x02, 0x7C]),
            (&[0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x00], &[0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x80]),
            (
                &[0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88],
                &[0x11, 0x22, 0x33, 0x44, 0x55, 0x66, 0x77, 0x88, 0x81],
            ),
            (&[0, 0, 0, 0, 0, 0x44, 0, 0, 0, 0, 0, 0, 0, 0xFF], &[0x44, 0x5F, 0xFF, 0x3F]),
            (&with(&[0]), &with(&[0xFF, 0x7F])),
        ];
        for (before, written) in pairs {
            let read = held(written).unwrap();
            let (same, fills) = read.split_at(before.len());
            assert_eq!(same, before, "{written:02x?}");
            assert!(fills.len() <= FILLS && fills.iter().all(|byte| *byte == 0), "{written:02x?}");
        }
    }

    #[test]
    fn what_speaks_of_bytes_that_are_not_there_holds_nothing() {
        for written in [&[0x7E][..], &[0x01, 0x80], &[0xFF], &[0x01, 0x02, 0x7F, 0x7C]] {
            assert_eq!(held(written), None, "{written:02x?}");
        }
    }
}
