//! A row in the bytes that lie in one piece, beside the row before.

use std::io::{self, BufRead, ErrorKind};

/// Whether a byte ends a field, or needs a closer look.
pub(in crate::recording::read) fn ends(byte: u8, separator: u8) -> bool {
    byte == separator || matches!(byte, b'\n' | b'\r' | b'"')
}

/// What lies in one piece, unless it could not or cannot be read.
pub(in crate::recording::read) fn seen<'s>(
    source: &'s mut impl BufRead,
    failed: &mut Option<io::Error>,
) -> Option<&'s [u8]> {
    if failed.is_some() {
        return None;
    }
    match source.fill_buf() {
        Ok(chunk) => Some(chunk),
        Err(error) => {
            // Whoever was interrupted is asked again.
            *failed = Some(error).filter(|error| error.kind() != ErrorKind::Interrupted);
            None
        }
    }
}

/// What may be a time, and what lies behind it.
pub(in crate::recording::read) fn after_time(chunk: &[u8], separator: u8) -> Option<(&[u8], &[u8])> {
    let of_a_time = |byte: u8| byte.is_ascii_digit() || byte != separator && b".,:-T Z+/".contains(&byte);
    let end = chunk.iter().position(|byte| !of_a_time(*byte)).filter(|end| *end > 0)?;
    chunk.split_at_checked(end)
}

/// Bytes of the end of a row, where it is one.
pub(in crate::recording::read) fn row_end(bytes: &[u8]) -> Option<usize> {
    match bytes {
        [b'\n', ..] => Some(1),
        [b'\r', b'\n', ..] => Some(2),
        _ => None,
    }
}

/// Fields in which two rows of one length differ, by what field each byte belongs to; false if they differ in more than values.
pub(super) fn differ(last: &[u8], now: &[u8], field_at: &[usize], separator: u8, changed: &mut Vec<usize>) -> bool {
    changed.clear();
    let (mut values, mut field) = (true, None);
    let mut differs = |at: usize, one: u8, other: u8| {
        values &= !ends(one, separator) && !ends(other, separator);
        let of = field_at.get(at).copied();
        if of != field {
            field = of;
            changed.extend(of);
        }
    };
    let (chunks, rest) = last.as_chunks::<8>();
    let (others, other_rest) = now.as_chunks::<8>();
    for (number, (one, other)) in chunks.iter().zip(others).enumerate() {
        let (one, other) = (u64::from_le_bytes(*one), u64::from_le_bytes(*other));
        let mut left = one ^ other;
        while left != 0 {
            // The lowest byte in which they differ.
            let bit = left.trailing_zeros() & !7;
            let byte = |word: u64| (word >> bit).to_le_bytes()[0];
            differs(8 * number + (bit / 8) as usize, byte(one), byte(other));
            left &= !(0xff << bit);
        }
    }
    for (at, (one, other)) in (8 * chunks.len()..).zip(rest.iter().zip(other_rest)) {
        if one != other {
            differs(at, *one, *other);
        }
    }
    values
}
