//! Decimal numbers in bytes, without rounding and without floats.

/// `text` times ten to the power of `places`; digits beyond are cut. Nothing but an optional sign,
/// digits and one point is a number.
pub(super) fn decimal(text: &[u8], places: u32) -> Option<i64> {
    signed(text, places, b'.')
}

/// The same with another decimal sign, which then is the only one.
pub(super) fn signed(text: &[u8], places: u32, decimal_sign: u8) -> Option<i64> {
    let (negative, digits) = match text.split_first() {
        Some((b'-', rest)) => (true, rest),
        Some((b'+', rest)) => (false, rest),
        _ => (false, text),
    };
    let (mut value, mut left) = (0_i64, places);
    let (mut seen, mut after_point) = (false, false);
    for &byte in digits {
        match byte {
            b'0'..=b'9' => {
                seen = true;
                if after_point {
                    if left == 0 {
                        continue;
                    }
                    left -= 1;
                }
                value = value.checked_mul(10)?.checked_add(i64::from(byte - b'0'))?;
            }
            _ if byte == decimal_sign && !after_point => after_point = true,
            _ => return None,
        }
    }
    if !seen {
        return None;
    }
    if left > 0 {
        value = value.checked_mul(10_i64.checked_pow(left)?)?;
    }
    Some(if negative { -value } else { value })
}

/// A duration with its unit in microseconds: `10 ms`, `2.5 s`.
pub(super) fn duration_us(text: &str) -> Option<u64> {
    let text = text.trim();
    let split = text.find(|c: char| !(c.is_ascii_digit() || c == '.'))?;
    let (number, unit) = text.split_at_checked(split)?;
    let factor = match unit.trim() {
        "us" => return decimal(number.as_bytes(), 0).and_then(|v| u64::try_from(v).ok()),
        "ms" => 1,
        "s" => 1_000,
        "min" => 60_000,
        "h" => 3_600_000,
        _ => return None,
    };
    let thousandths = u64::try_from(decimal(number.as_bytes(), 3)?).ok()?;
    thousandths.checked_mul(factor)
}

#[cfg(test)]
mod tests {
    use super::{decimal, duration_us};

    #[test]
    fn decimals() {
        let cases: &[(&str, u32, Option<i64>)] = &[
            ("4.001", 6, Some(4_001_000)),
            ("-0.5", 3, Some(-500)),
            ("12", 0, Some(12)),
            ("1.23456", 2, Some(123)),
            (".5", 1, Some(5)),
            ("5.", 1, Some(50)),
            ("", 3, None),
            (".", 3, None),
            ("1e3", 3, None),
            (" 1", 3, None),
            ("1.2.3", 3, None),
            ("99999999999999999999", 0, None),
        ];
        for (text, places, value) in cases {
            assert_eq!(decimal(text.as_bytes(), *places), *value, "{text}");
        }
    }

    #[test]
    fn durations() {
        assert_eq!(duration_us("10 ms"), Some(10_000));
        assert_eq!(duration_us("2.5s"), Some(2_500_000));
        assert_eq!(duration_us("7 us"), Some(7));
        assert_eq!(duration_us("7"), None);
        assert_eq!(duration_us("x ms"), None);
    }
}
