//! What stands before a page of a Parquet file and at its end, in the compact protocol of Thrift: read here, so that nothing is unpacked before its
//! size is known.

use std::collections::BTreeMap;

/// Structures within structures, no deeper than a header has them and what may be added to it.
const DEEPEST: u32 = 8;

/// A field that is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Value {
    /// A whole number, or a truth value as 0 or 1.
    Number(i64),
    /// A structure.
    Fields(Fields),
    /// A text.
    Text(Vec<u8>),
    /// A list or other thing that no header is read for.
    Other,
}

/// The fields of a structure by their numbers.
pub(super) type Fields = BTreeMap<i16, Value>;

/// Reads a structure off the front of the bytes; none if it is none, or goes on behind them.
pub(super) fn structure(from: &mut &[u8]) -> Option<Fields> {
    fields(from, 0)
}

/// Reads a structure up to a field that is a list of structures, the first of which is then at the front; gives how many there are.
pub(super) fn list(from: &mut &[u8], id: i16) -> Option<u64> {
    let mut at = 0;
    loop {
        match field(from, &mut at)? {
            9 if at == id => {
                let (count, kind) = list_of(from)?;
                return (kind == 12).then_some(count);
            }
            0 => return None,
            _ if at == id => return None,
            1 | 2 => {}
            kind => {
                value(from, kind, 0)?;
            }
        }
    }
}

/// A number in a structure.
pub(super) fn number(fields: &Fields, id: i16) -> Option<i64> {
    match fields.get(&id)? {
        Value::Number(number) => Some(*number),
        Value::Fields(_) | Value::Text(_) | Value::Other => None,
    }
}

fn fields(from: &mut &[u8], depth: u32) -> Option<Fields> {
    let (mut all, mut id) = (Fields::new(), 0_i16);
    loop {
        let value = match field(from, &mut id)? {
            0 => return Some(all),
            kind @ (1 | 2) => Value::Number(i64::from(kind == 1)),
            kind => value(from, kind, depth)?,
        };
        all.insert(id, value);
    }
}

/// The kind of the next field, whose number follows from that of the one before; 0 at the end of a structure.
fn field(from: &mut &[u8], id: &mut i16) -> Option<u8> {
    let head = byte(from)?;
    if head != 0 {
        *id = match head >> 4 {
            0 => i16::try_from(signed(from)?).ok()?,
            step => id.checked_add(step.into())?,
        };
        // What has a number has a kind.
        return Some(head & 0x0f).filter(|kind| *kind != 0);
    }
    Some(0)
}

/// How many of which kind are in a list.
fn list_of(from: &mut &[u8]) -> Option<(u64, u8)> {
    let head = byte(from)?;
    let count = if head >> 4 == 15 { unsigned(from)? } else { u64::from(head >> 4) };
    Some((count, head & 0x0f))
}

/// A value of a kind; truth values have a byte of their own, as in a list.
fn value(from: &mut &[u8], kind: u8, depth: u32) -> Option<Value> {
    if depth > DEEPEST {
        return None;
    }
    Some(match kind {
        1..=3 => Value::Number(byte(from)?.into()),
        4..=6 => Value::Number(signed(from)?),
        7 => skip(from, 8)?,
        8 => {
            let length = usize::try_from(unsigned(from)?).ok()?;
            let text = from.get(..length)?.to_vec();
            skip(from, length)?;
            Value::Text(text)
        }
        9 | 10 => {
            let (count, kind) = list_of(from)?;
            // Each takes a byte at least, so this ends with the bytes.
            for _ in 0..count {
                value(from, kind, depth + 1)?;
            }
            Value::Other
        }
        12 => Value::Fields(fields(from, depth + 1)?),
        _ => return None,
    })
}

fn byte(from: &mut &[u8]) -> Option<u8> {
    let (first, rest) = from.split_first()?;
    *from = rest;
    Some(*first)
}

fn skip(from: &mut &[u8], count: usize) -> Option<Value> {
    *from = from.get(count..)?;
    Some(Value::Other)
}

fn unsigned(from: &mut &[u8]) -> Option<u64> {
    let mut all = 0_u64;
    for shift in (0..64).step_by(7) {
        let seven = byte(from)?;
        all |= u64::from(seven & 0x7f).checked_shl(shift)?;
        if seven & 0x80 == 0 {
            return Some(all);
        }
    }
    None
}

/// Zigzag: 0, -1, 1, -2 ...
fn signed(from: &mut &[u8]) -> Option<i64> {
    let all = unsigned(from)?;
    i64::try_from(all >> 1).ok().map(|half| if all & 1 == 0 { half } else { -half - 1 })
}

#[cfg(test)]
mod tests {
    use super::{Value, number, structure};

    /// A header made by hand after the Thrift compact protocol: field 1 is 0, 2 is 300, 3 is -1, 5 a structure whose field 1 is 7 and whose field
    /// 5 is a text, 8 true, 20 a list of two numbers.
    const HEADER: [u8; 23] = [
        0x15, 0, 0x15, 0xd8, 0x04, 0x15, 0x01, 0x2c, 0x15, 0x0e, 0x48, 2, b'a', b'b', 0, 0x31, 0xc9, 0x25, 2, 4, 0, 9,
        9,
    ];

    #[test]
    fn a_header_is_read_to_its_end() {
        let mut from = &HEADER[..];
        let fields = structure(&mut from).unwrap();
        assert_eq!(from, [9, 9]);
        assert_eq!([1, 2, 3, 8].map(|id| number(&fields, id)), [Some(0), Some(300), Some(-1), Some(1)]);
        let Some(Value::Fields(inner)) = fields.get(&5) else { panic!("{fields:?}") };
        assert_eq!((number(inner, 1), inner.get(&5)), (Some(7), Some(&Value::Text(b"ab".to_vec()))));
        assert_eq!(fields.get(&20), Some(&Value::Other));
        for cut in 0..21 {
            assert_eq!(structure(&mut &HEADER[..cut]), None, "{cut}");
        }
    }

    #[test]
    fn what_is_none_is_refused() {
        // Without end, a structure in itself, a list of many bytes that are not there, a kind that there is none of.
        for bytes in [
            &[0x15; 64][..],
            &[0x1c; 64],
            &[0x19, 0xf3, 0xff, 0xff, 0xff, 0xff, 0x0f, 1],
            &[0x1f, 0],
            &[0x18, 0xff, 0x7f, 0],
        ] {
            assert_eq!(structure(&mut &bytes[..]), None, "{bytes:?}");
        }
    }
}
