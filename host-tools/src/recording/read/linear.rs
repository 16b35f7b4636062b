//! The straight line from what stands in a column to the value it means, in whole numbers.
//!
//! What is written is read to six places behind the point; from there on nothing is rounded but the step of the gauge, in the end.

use super::fault::Bad;
use super::number::{decimal, signed};

/// Places behind the point that are read of a number in a mapped column; digits beyond are cut.
pub(super) const PLACES: u32 = 6;
/// The greatest denominator: a current over it, or the value of a gauge, stays within 128 bits.
const FINEST: i128 = 1_000_000_000_000_000;

/// A fraction; the denominator is positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Ratio {
    above: i128,
    below: i128,
}

impl Ratio {
    /// `0.25`, `-4`, `16/27648`: one or two decimal numbers of at most six places.
    fn read(text: &str) -> Option<Self> {
        let (above, below) = text.split_once('/').unwrap_or((text, "1"));
        let number = |text: &str| {
            let places = text.split_once('.').map_or(0, |(_, places)| places.len());
            if places > PLACES as usize { None } else { decimal(text.as_bytes(), PLACES).map(i128::from) }
        };
        let (above, below) = (number(above)?, number(below)?);
        let common = gcd(above, below);
        (below > 0).then(|| Self { above: above / common, below: below / common })
    }
}

/// `times A plus B`: what a column holds, times A, plus B, is the value in its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Scaling {
    times: Ratio,
    plus: Ratio,
}

impl Scaling {
    /// Reads `times A`, `plus B`, `minus B`, each at most once and in this order; none of no words.
    pub(super) fn read(words: &[&str]) -> Result<Option<Self>, Bad> {
        let (one, zero) = (Ratio { above: 1, below: 1 }, Ratio { above: 0, below: 1 });
        let read = |text: &str| Ratio::read(text).ok_or_else(|| no_ratio(text));
        let minus = |text: &str| read(text).map(|Ratio { above, below }| Ratio { above: -above, below });
        let (times, plus) = match *words {
            [] => return Ok(None),
            ["times", a] => (read(a)?, zero),
            ["times", a, "plus", b] => (read(a)?, read(b)?),
            ["times", a, "minus", b] => (read(a)?, minus(b)?),
            ["plus", b] => (one, read(b)?),
            ["minus", b] => (one, minus(b)?),
            _ => {
                return Err(Bad::new(
                    format!("`{}` says nothing of a column", words.join(" ")),
                    "`in UNIT`, then `times NUMBER`, then `plus NUMBER` or `minus NUMBER`; each may be left out",
                    "write it as `# column raw-force is AI-01 in mA times 16/27648 plus 4`",
                ));
            }
        };
        if times.above == 0 {
            return Err(Bad::new(
                "times 0 makes every value the same",
                "a number other than 0",
                "pass the column over with `# ignore NAME`",
            ));
        }
        Ok(Some(Self { times, plus }))
    }

    /// The same into a unit of which one is ten to the power of `places`; none if that is too fine to be reckoned exactly.
    pub(super) fn into_places(self, places: u32) -> Option<Linear> {
        let Self { times, plus } = self;
        let unit = 10_i128.checked_pow(places)?;
        let raw = 10_i128.checked_pow(PLACES)?;
        let by = times.above.checked_mul(plus.below)?.checked_mul(unit)?;
        let plus_by = plus.above.checked_mul(times.below)?.checked_mul(unit)?.checked_mul(raw)?;
        let over = times.below.checked_mul(plus.below)?.checked_mul(raw)?;
        let common = gcd(gcd(by, plus_by), over);
        let (by, plus, over) = (by / common, plus_by / common, over / common);
        (over <= FINEST && by.abs() <= FINEST).then_some(Linear { by, plus, over })
    }

    /// So many times as much.
    pub(super) fn times(self, by: u32) -> Self {
        let scaled = |Ratio { above, below }| Ratio { above: above * i128::from(by), below };
        Self { times: scaled(self.times), plus: scaled(self.plus) }
    }

    /// Nothing is added.
    pub(super) fn is_proportional(self) -> bool {
        self.plus.above == 0
    }
}

/// (what is written, in millionths, times `by`, plus `plus`) over `over`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Linear {
    by: i128,
    plus: i128,
    over: i128,
}

impl Linear {
    /// The value of what is written, as a fraction with a positive denominator; none of what is no number, or too large for one.
    pub(super) fn of(self, field: &[u8], decimal_sign: u8) -> Option<(i128, i128)> {
        let raw = i128::from(signed(field, PLACES, decimal_sign)?);
        Some((raw.checked_mul(self.by)?.checked_add(self.plus)?, self.over))
    }

    /// The denominator.
    pub(super) fn over(self) -> i128 {
        self.over
    }
}

/// The greatest common divisor, at least 1.
fn gcd(a: i128, b: i128) -> i128 {
    let (mut a, mut b) = (a.abs(), b.abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.max(1)
}

fn no_ratio(text: &str) -> Bad {
    Bad::new(
        format!("`{text}` is no number that a column can be scaled by"),
        "a decimal number with at most six places, or two with `/` between them: `0.25`, `16/27648`",
        "write what does not fit as a fraction",
    )
}

#[cfg(test)]
mod tests {
    use super::Scaling;

    fn of(words: &str, places: u32, raw: &str) -> Option<(i128, i128)> {
        let words: Vec<&str> = words.split(' ').collect();
        Scaling::read(&words).unwrap().unwrap().into_places(places)?.of(raw.as_bytes(), b'.')
    }

    #[test]
    fn lines_are_exact() {
        // A third stays a third.
        let (above, below) = of("times 1/3", 0, "1").unwrap();
        assert_eq!((above * 3, below % 3), (below, 0));
        // An analogue card that counts 0 to 27648 for 4 to 20 mA: its middle is 12 mA.
        let (above, below) = of("times 16/27648 plus 4", 6, "13824").unwrap();
        assert_eq!((above % below, above / below), (0, 12_000_000));
        let (above, below) = of("times -0.25 minus 1.5", 3, "2.000002").unwrap();
        assert_eq!(above * 2_000, below * -4_000_001);
        assert_eq!(of("plus 273.15", 2, "-273.15").map(|(above, _)| above), Some(0));
    }

    #[test]
    fn what_is_no_line_is_refused() {
        for words in
            ["times", "times 0", "plus 1 times 2", "times 1/0", "times 1/-3", "times 1e3", "times 0.0000001", "by 2"]
        {
            let words: Vec<&str> = words.split(' ').collect();
            assert!(Scaling::read(&words).is_err(), "{words:?}");
        }
        assert!(of("times 1/999999999999 plus 1/999999999989", 6, "1").is_none(), "too fine");
        assert!(of("times 2", 6, "9223372036854.775807").is_some());
        assert!(of("times 2", 6, "9223372036855").is_none());
    }
}
