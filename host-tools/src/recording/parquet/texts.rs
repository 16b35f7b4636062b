//! What values of a column were written as: it says the same few again and again, and to look a text up is less work than to write a number.

/// Values of one column that are kept.
const PLACES: usize = 1 << 8;
/// Bytes of a text that is kept.
const SHORT: usize = 23;

/// A value, by its bits, and its text; of no bytes where none is kept.
#[derive(Debug, Clone, Copy, Default)]
struct Known {
    bits: u64,
    text: [u8; SHORT],
    length: u8,
}

/// Texts of values of one kind.
#[derive(Debug, Default)]
pub(super) struct Texts(Vec<Known>);

impl Texts {
    /// Puts what `write` writes of the value with these bits.
    pub(super) fn put(&mut self, bits: u64, out: &mut Vec<u8>, write: impl FnOnce(&mut Vec<u8>)) {
        if self.0.is_empty() {
            self.0.resize(PLACES, Known::default());
        }
        // The uppermost byte of a product depends on all of the bits.
        let [.., place] = bits.wrapping_mul(0x9E37_79B9_7F4A_7C15).to_le_bytes();
        let Some(known) = self.0.get_mut(usize::from(place)) else { return write(out) };
        let kept = known.text.get(..known.length.into()).filter(|text| known.bits == bits && !text.is_empty());
        if let Some(text) = kept {
            out.extend_from_slice(text);
            return;
        }
        let begins = out.len();
        write(out);
        let text = out.get(begins..).unwrap_or_default();
        let length = u8::try_from(text.len()).unwrap_or(u8::MAX);
        if let Some(cell) = known.text.get_mut(..text.len()) {
            cell.copy_from_slice(text);
            (known.bits, known.length) = (bits, length);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Texts;

    /// Each value is written as its own text, however many share a place, and however long they are.
    #[test]
    fn what_is_kept_is_what_is_written() {
        let (mut texts, mut state) = (Texts::default(), 1_u64);
        for round in 0..20_000_u64 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let bits = if round % 3 == 0 { state } else { (state >> 33) % 300 };
            let text =
                if bits % 7 == 0 { "x".repeat(usize::try_from(bits % 40).unwrap_or(0)) } else { bits.to_string() };
            let mut out = b"before,".to_vec();
            texts.put(bits, &mut out, |out| out.extend_from_slice(text.as_bytes()));
            assert_eq!(out, format!("before,{text}").into_bytes(), "{bits}");
        }
    }
}
