//! What a frame says: the number of a string, then what stands in its places, each value by a string of its own.

use crate::frames::FILLS;
use crate::strings::{Strings, Use};
use defmt_parser::{DisplayHint, Fragment, ParserMode, Type, parse};

/// Deepest value in values. Those of the log reach two deep; a frame that is damaged may claim any.
const DEEPEST: usize = 8;

/// What this says: the bytes that a frame holds.
///
/// # Errors
/// Why it is not understood.
pub(crate) fn message(strings: &Strings, held: &[u8]) -> Result<String, String> {
    let mut reading = Reading { strings, left: held };
    let number = reading.short()?;
    let text = reading.filled(strings.get(number, Use::Line)?, 0)?;
    let rest = reading.left;
    if rest.len() > FILLS || rest.iter().any(|byte| *byte != 0) {
        return Err(format!("{} bytes follow `{text}`", rest.len()));
    }
    Ok(text)
}

struct Reading<'a> {
    strings: &'a Strings,
    left: &'a [u8],
}

impl<'a> Reading<'a> {
    fn bytes(&mut self, count: usize) -> Result<&'a [u8], String> {
        let (taken, left) = self.left.split_at_checked(count).ok_or("it ends too early")?;
        self.left = left;
        Ok(taken)
    }
    fn array<const N: usize>(&mut self) -> Result<[u8; N], String> {
        self.bytes(N)?.try_into().map_err(|_| "it ends too early".to_owned())
    }
    fn short(&mut self) -> Result<u16, String> {
        Ok(u16::from_le_bytes(self.array()?))
    }
    /// The text with its places filled.
    fn filled(&mut self, format: &str, depth: usize) -> Result<String, String> {
        let parts = parse(format, ParserMode::Strict).map_err(|error| format!("the string {format:?}: {error}"))?;
        let (mut text, mut places) = (String::new(), 0);
        for part in parts {
            match part {
                Fragment::Literal(literal) => text.push_str(&literal),
                Fragment::Parameter(place) => {
                    // How a number looks is what nothing here asks for; a place that repeats another has no bytes of its own.
                    let plain =
                        matches!(place.hint, None | Some(DisplayHint::Debug | DisplayHint::NoHint { zero_pad: 0 }));
                    if !plain || place.index != places {
                        return Err(format!("a place of the string {format:?} is not understood here"));
                    }
                    places += 1;
                    text.push_str(&self.value(&place.ty, depth)?);
                }
            }
        }
        Ok(text)
    }
    fn value(&mut self, kind: &Type, depth: usize) -> Result<String, String> {
        Ok(match kind {
            Type::U8 => u8::from_le_bytes(self.array()?).to_string(),
            Type::U16 => self.short()?.to_string(),
            Type::U32 | Type::Usize => u32::from_le_bytes(self.array()?).to_string(),
            Type::U64 => u64::from_le_bytes(self.array()?).to_string(),
            Type::I8 => i8::from_le_bytes(self.array()?).to_string(),
            Type::I16 => i16::from_le_bytes(self.array()?).to_string(),
            Type::I32 | Type::Isize => i32::from_le_bytes(self.array()?).to_string(),
            Type::I64 => i64::from_le_bytes(self.array()?).to_string(),
            Type::Bool => match self.array()? {
                [0] => false.to_string(),
                [1] => true.to_string(),
                [other] => return Err(format!("{other} is neither false nor true")),
            },
            Type::Str => {
                let count = usize::try_from(u32::from_le_bytes(self.array()?)).unwrap_or(usize::MAX);
                let text = std::str::from_utf8(self.bytes(count)?).map_err(|error| format!("a text: {error}"))?;
                // As Rust's own `Debug` has it: it stays on its line.
                format!("{text:?}")
            }
            Type::Format if depth < DEEPEST => {
                let number = self.short()?;
                let format = self.strings.get(number, Use::Value)?;
                let variant = self.variant(format)?;
                self.filled(variant, depth + 1)?
            }
            Type::Format => return Err(format!("it has values in values more than {DEEPEST} deep")),
            other => return Err(format!("a value of the kind {other:?} is not understood here")),
        })
    }
    /// Which of the variants, `A|B(..)`, it is; the one that there is has no byte that says so.
    fn variant<'f>(&mut self, format: &'f str) -> Result<&'f str, String> {
        let count = format.split('|').count();
        let which = match count {
            1 => 0,
            2..=255 => usize::from(u8::from_le_bytes(self.array()?)),
            _ => usize::from(self.short()?),
        };
        format.split('|').nth(which).ok_or_else(|| format!("there is no variant {which} of {format:?}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::frames::held;

    /// Strings as the binary of a board names them.
    fn strings() -> Strings {
        let named = [
            (1, "derived", "Event {{ scan: {=u32:?}, kind: {=?:?}, number: {=u16:?}, value: {=u32:?} }}"),
            (2, "derived", "PowerUp|Answer|Trip|First|Reset|Bypass|Fault|Channels|Gauge|Source|Link"),
            (3, "println", "{}"),
            (4, "derived", "Columns({=str})|Index({=str}, {=u16})|Ranks|Plan({=?})"),
            (5, "println", "{=i8} {=i16} {=i32} {=i64} {=u64} {=bool} {{}}"),
            (6, "println", "{=u8:x}"),
            (7, "println", "{0=u8} {0=u8}"),
            (8, "println", "{=f32}"),
            (9, "println", "started"),
            (10, "info", "started"),
            (11, "derived", "Only({=u8})"),
        ];
        let symbol =
            |(number, tag, text): (u64, &str, &str)| (format!(r#"{{"tag":"defmt_{tag}","data":"{text}"}}"#), number);
        let mut symbols: Vec<_> = named.into_iter().map(symbol).collect();
        symbols.push(("_defmt_encoding_ = rzcobs".to_owned(), 12));
        symbols.push(("_defmt_version_ = 4".to_owned(), 13));
        Strings::of_symbols(symbols.iter().map(|(name, number)| (name.as_str(), *number))).unwrap()
    }
    fn told(held: &[u8]) -> Result<String, String> {
        message(&strings(), held)
    }

    #[test]
    fn an_event_is_told_as_rust_tells_it() {
        // The numbers of `{}`, of the event and of its kind, and between them what the event has: seven bytes at a time.
        let written = [0x03, 0x01, 0x01, 0x6A, 0x02, 0x04, 0x75, 0x7F];
        let bytes = held(&written).unwrap();
        assert_eq!(bytes, [3, 0, 1, 0, 1, 0, 0, 0, 2, 0, 4, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]);
        assert_eq!(told(&bytes).unwrap(), "Event { scan: 1, kind: Reset, number: 0, value: 0 }");
        let bytes = [3, 0, 1, 0, 0x40, 0xE2, 0x01, 0x00, 2, 0, 8, 0xFF, 0xFF, 0xFE, 0xFF, 0xFF, 0xFF];
        assert_eq!(told(&bytes).unwrap(), "Event { scan: 123456, kind: Gauge, number: 65535, value: 4294967294 }");
    }

    #[test]
    fn values_have_values_and_texts() {
        let columns = [3, 0, 4, 0, 3, 4, 0, 0, 4, 0, 0, 0, b'"', b'\n', b'a', b'b'];
        assert_eq!(told(&columns).unwrap(), r#"Plan(Columns("\"\nab"))"#);
        assert_eq!(told(&[3, 0, 4, 0, 1, 1, 0, 0, 0, b'a', 7, 0]).unwrap(), r#"Index("a", 7)"#);
        assert_eq!(told(&[3, 0, 11, 0, 9]).unwrap(), "Only(9)");
        let signs = [&[5, 0, 0xFF, 0xFE, 0xFF][..], &[0xFD, 0xFF, 0xFF, 0xFF], &[0xFF; 8], &[0xFF; 8], &[1]].concat();
        assert_eq!(told(&signs).unwrap(), "-1 -2 -3 -1 18446744073709551615 true {}");
        assert_eq!(told(&[9, 0]).unwrap(), "started");
    }

    #[test]
    fn what_is_not_understood_says_why() {
        let deep = [&[3, 0][..], &[4, 0, 3].repeat(9)].concat();
        let cases: [(&[u8], &str); 14] = [
            (&[], "it ends too early"),
            (&[3], "it ends too early"),
            (&[3, 0, 1, 0, 1, 0, 0], "it ends too early"),
            (&[0, 0], "no string 0"),
            (&[14, 0], "no string 14"),
            (&[1, 0], "not understood here: \"Event"),
            (&[10, 0], "not understood here: \"started\""),
            (&[3, 0, 9, 0], "not understood here: \"started\""),
            (&[3, 0, 4, 0, 4], "no variant 4"),
            (&[6, 0, 1], "a place of the string \"{=u8:x}\""),
            (&[7, 0, 1], "a place of the string"),
            (&[8, 0, 0, 0, 0, 0], "of the kind F32"),
            (&[9, 0, 0, 1], "2 bytes follow `started`"),
            (&[9, 0, 0, 0, 0, 0, 0, 0, 0], "7 bytes follow"),
        ];
        for (held, why) in cases {
            assert!(told(held).unwrap_err().contains(why), "{held:02x?}: {:?}", told(held));
        }
        assert!(told(&deep).unwrap_err().contains("more than 8 deep"));
        assert!(told(&[3, 0, 4, 0, 0, 0xFF, 0xFF, 0xFF, 0xFF]).unwrap_err().contains("too early"));
        assert!(told(&[3, 0, 4, 0, 0, 1, 0, 0, 0, 0xFF]).unwrap_err().contains("a text"));
        let wrong = [&[5, 0][..], &[0; 23], &[2]].concat();
        assert!(told(&wrong).unwrap_err().contains("2 is neither"));
    }

    #[test]
    fn another_format_of_frames_is_refused() {
        let (version, encoding) = (("_defmt_version_ = 4", 1), ("_defmt_encoding_ = rzcobs", 2));
        let time = (r#"{"tag":"defmt_timestamp","data":"{=u32}"}"#, 3);
        let refused = |symbols: &[(&'static str, u64)]| Strings::of_symbols(symbols.iter().copied()).unwrap_err();
        assert!(refused(&[("_defmt_version_ = 5", 1), encoding]).contains("another version"));
        assert!(refused(&[version, ("_defmt_encoding_ = raw", 2)]).contains("in another way"));
        assert!(refused(&[version, encoding, time]).contains("a time"));
        assert!(Strings::of_binary(b"no binary").unwrap_err().contains("cannot be read"));
    }
}
