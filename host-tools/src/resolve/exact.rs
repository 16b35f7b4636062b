//! Exact numbers: fractions of whole numbers that refuse what they cannot hold.

use std::cmp::Ordering;

/// A fraction in lowest terms; the denominator is positive.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Exact {
    num: i128,
    den: i128,
}

fn gcd(a: i128, b: i128) -> i128 {
    let (mut a, mut b) = (a.unsigned_abs(), b.unsigned_abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    i128::try_from(a).unwrap_or(1).max(1)
}

impl Exact {
    /// `num / den`; nothing if `den` is 0 or a sign cannot be turned.
    pub(super) fn new(num: i128, den: i128) -> Option<Self> {
        if den == 0 || num == i128::MIN || den == i128::MIN {
            return None;
        }
        let common = gcd(num, den);
        let sign = den.signum();
        Some(Self { num: num / common * sign, den: den / common * sign })
    }
    /// A whole number.
    pub(super) fn whole(num: i128) -> Self {
        Self { num, den: 1 }
    }
    /// Product.
    pub(super) fn times(self, other: Self) -> Option<Self> {
        let (a, b) = (gcd(self.num, other.den), gcd(other.num, self.den));
        let num = (self.num / a).checked_mul(other.num / b)?;
        Self::new(num, (self.den / b).checked_mul(other.den / a)?)
    }
    /// Quotient; nothing over 0.
    pub(super) fn over(self, other: Self) -> Option<Self> {
        self.times(Self::new(other.den, other.num)?)
    }
    /// Sum.
    pub(super) fn plus(self, other: Self) -> Option<Self> {
        let left = self.num.checked_mul(other.den)?;
        let right = other.num.checked_mul(self.den)?;
        Self::new(left.checked_add(right)?, self.den.checked_mul(other.den)?)
    }
    /// Difference.
    pub(super) fn minus(self, other: Self) -> Option<Self> {
        self.plus(Self { num: other.num.checked_neg()?, den: other.den })
    }
    /// Greatest whole number not above.
    pub(super) fn floor(self) -> i128 {
        self.num.div_euclid(self.den)
    }
    /// Least whole number not below.
    pub(super) fn ceil(self) -> i128 {
        if self.is_whole() { self.num } else { self.floor().saturating_add(1) }
    }
    /// Without a fraction.
    pub(super) fn is_whole(self) -> bool {
        self.den == 1
    }
    /// -1, 0 or 1.
    pub(super) fn sign(self) -> i128 {
        self.num.signum()
    }
    /// Order; nothing if the difference cannot be held.
    pub(super) fn order(self, other: Self) -> Option<Ordering> {
        Some(self.minus(other)?.sign().cmp(&0))
    }
    /// Decimal text with at most three places, cut off, an ellipsis saying that there are more.
    pub(super) fn text(self) -> String {
        let (whole, rest) =
            (self.num.unsigned_abs() / self.den.unsigned_abs(), self.num.unsigned_abs() % self.den.unsigned_abs());
        let sign = if self.num < 0 { "-" } else { "" };
        if rest == 0 {
            return format!("{sign}{whole}");
        }
        let Some(scaled) = rest.checked_mul(1_000) else {
            return format!("{sign}{whole} and a fraction");
        };
        let (digits, more) = (scaled / self.den.unsigned_abs(), scaled % self.den.unsigned_abs() != 0);
        let digits = format!("{digits:03}");
        let digits = if more { digits.as_str() } else { digits.trim_end_matches('0') };
        format!("{sign}{whole}.{digits}{}", if more { "..." } else { "" })
    }
}
