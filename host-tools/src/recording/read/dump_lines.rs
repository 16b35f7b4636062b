//! Lines of a dump as they mostly are, read without a copy: one change or one time a line, with nothing more in it than there must be.
//!
//! Whatever is written in any other way, and whatever is wrong, is left to be read word by word.

/// What a line says.
#[derive(Debug, PartialEq)]
pub(super) enum Plain<'l> {
    /// A time.
    Time(u64),
    /// The variable of an identifier has a value.
    Change(&'l [u8], f64),
}

/// A line.
#[derive(Debug, PartialEq)]
pub(super) struct Taken<'l> {
    pub(super) plain: Plain<'l>,
    /// Its bytes, the line break among them.
    pub(super) bytes: usize,
    /// Column in which its last word begins, from 1.
    pub(super) column: u32,
}

/// Digits that a whole number may have so that a 64-bit float holds it, and what divides it by a power of ten, exactly: the quotient is then
/// rounded once, as it is when a text is read.
const DIGITS: usize = 15;
const TENTHS: [f64; DIGITS + 1] =
    [1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15];
/// Digits of a time that fits into 64 bits in any case.
const TIME_DIGITS: usize = 18;
/// Binary digits of which the first is no sign, in any variable.
const BITS: usize = 31;

/// The line that begins here, if it is a plain one.
pub(super) fn plain(lines: &[u8]) -> Option<Taken<'_>> {
    let (&first, rest) = lines.split_first()?;
    match first {
        b'#' => {
            let (number, digits) = digits(rest, TIME_DIGITS);
            let behind = rest.get(digits..)?;
            let ends = digits > 0 && behind.first() == Some(&b'\n');
            ends.then_some(Taken { plain: Plain::Time(number), bytes: digits + 2, column: 1 })
        }
        b'0' | b'1' => {
            let id = identifier(rest)?;
            let value = f64::from(first - b'0');
            Some(Taken { plain: Plain::Change(id, value), bytes: id.len() + 2, column: 1 })
        }
        b'r' => {
            let (value, length) = real(rest)?;
            change(rest, value, length)
        }
        b'b' => {
            let length = rest.iter().take(BITS + 1).position(|byte| !matches!(byte, b'0' | b'1'))?;
            let bits = rest.get(..length).filter(|bits| !bits.is_empty())?;
            let value = bits.iter().fold(0_u32, |value, bit| (value << 1) | u32::from(bit & 1));
            change(rest, f64::from(value), length)
        }
        _ => None,
    }
}

/// A value of so many bytes, a blank, and an identifier.
fn change(rest: &[u8], value: f64, length: usize) -> Option<Taken<'_>> {
    let (b' ', behind) = rest.get(length..)?.split_first()? else { return None };
    let id = identifier(behind)?;
    let column = u32::try_from(length + 3).ok()?;
    Some(Taken { plain: Plain::Change(id, value), bytes: length + id.len() + 3, column })
}

/// An identifier that ends the line.
fn identifier(rest: &[u8]) -> Option<&[u8]> {
    // Nothing longer is written where there is a choice.
    let end = rest.iter().take(8).position(|byte| !byte.is_ascii_graphic()).filter(|end| *end > 0)?;
    let (id, behind) = rest.split_at_checked(end)?;
    (behind.first() == Some(&b'\n')).then_some(id)
}

/// A decimal number as a float, and its bytes.
fn real(text: &[u8]) -> Option<(f64, usize)> {
    let sign = usize::from(text.first() == Some(&b'-'));
    let (mut value, before) = digits(text.get(sign..)?, DIGITS + 1);
    let (mut length, mut places) = (sign + before, 0);
    if text.get(length) == Some(&b'.') {
        let (part, digits) = digits(text.get(length + 1..)?, DIGITS + 1);
        places = digits;
        let tens = 10_u64.checked_pow(u32::try_from(places).ok()?)?;
        value = value.checked_mul(tens)?.checked_add(part)?;
        length += 1 + places;
        if places == 0 {
            return None;
        }
    }
    if before == 0 || before + places > DIGITS {
        return None;
    }
    let value = exact(value) / TENTHS.get(places)?;
    Some((if sign == 1 { -value } else { value }, length))
}

/// The first bytes that are digits, as a number, and how many they are: of so many at most, which are few enough for one.
fn digits(text: &[u8], most: usize) -> (u64, usize) {
    let (mut number, mut count) = (0_u64, 0);
    for byte in text.iter().take(most) {
        let digit = byte.wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        number = number.wrapping_mul(10).wrapping_add(digit.into());
        count += 1;
    }
    (number, count)
}

#[expect(clippy::cast_precision_loss, reason = "of no more digits than a float has")]
fn exact(value: u64) -> f64 {
    value as f64
}

#[cfg(test)]
mod tests {
    use super::{Plain, Taken, plain};

    /// By what the standard library reads.
    #[test]
    fn numbers_are_those_of_their_text() {
        let mut state = 0x2545_F491_4F6C_DD1D_u64;
        let mut taken = 0;
        for round in 0..50_000_u32 {
            // xorshift64, Marsaglia 2003.
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            let digits = (state >> 8) % 10_u64.pow(1 + round % 17);
            let text = format!("{}{digits}", if round % 3 == 0 { "-" } else { "" });
            let point = usize::try_from(state % 9).unwrap() % (text.len() + 1);
            let text = format!("{}.{}", &text[..point], &text[point..]);
            for text in [text.as_str(), text.trim_end_matches('.')] {
                let line = format!("r{text} !a\n");
                let Some(Taken { plain: Plain::Change(b"!a", value), bytes, column }) = plain(line.as_bytes()) else {
                    continue;
                };
                taken += 1;
                assert_eq!((bytes, usize::try_from(column).unwrap()), (line.len(), text.len() + 3), "{text}");
                assert_eq!(value.to_bits(), text.parse::<f64>().unwrap().to_bits(), "{text}");
            }
        }
        assert!(taken > 40_000, "{taken}");
    }

    #[test]
    fn only_what_is_plain_is_taken() {
        let change = |id, value, bytes, column| Some(Taken { plain: Plain::Change(id, value), bytes, column });
        assert_eq!(plain(b"1!\n#5\n"), change(&b"!"[..], 1.0, 3, 1));
        assert_eq!(plain(b"b101 !\n"), change(&b"!"[..], 5.0, 7, 6));
        assert_eq!(plain(b"r-0.50 ~~\n"), change(&b"~~"[..], -0.5, 10, 8));
        assert_eq!(plain(b"#120\n0!"), Some(Taken { plain: Plain::Time(120), bytes: 5, column: 1 }));
        for left in [
            "",
            "1",
            "1!",
            "1!\r\n",
            "1 !\n",
            "x!\n",
            "1! \n",
            "b !\n",
            "b1x !\n",
            "b1  !\n",
            "r1e3 !\n",
            "r. !\n",
            "r.5 !\n",
            "r5. !\n",
            "r1 !",
            "r+1 !\n",
            "#\n",
            "#12",
            "#1 \n",
            "#1x\n",
            "$end\n",
            "\n",
            " 1!\n",
            "1\u{e9}\n",
            "#1234567890123456789\n",
            "r1234567890.123456 !\n",
            "b11111111111111111111111111111111 !\n",
        ] {
            assert_eq!(plain(left.as_bytes()), None, "{left:?}");
        }
    }
}
