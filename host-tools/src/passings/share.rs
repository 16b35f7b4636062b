//! In what share of all passings something happens, from how often it did: the exact interval of C. J. Clopper and E. S. Pearson
//! (1934). Its ends are the shares at which as many as happened, or more (or fewer), would just be too unlikely; nothing is approximated.

/// Steps of a bisection, after which a share is known as well as a number can hold it.
const HALVINGS: usize = 60;

/// The least and the greatest share, both between 0 and 1, for `count` of `of` and a confidence in parts of a million. Everything
/// is possible where nothing was seen.
pub fn interval(count: u64, of: u64, confidence: u32) -> [f64; 2] {
    let doubt = f64::from(1_000_000_u32.saturating_sub(confidence)) / 2e6;
    if of == 0 || count > of {
        return [0.0, 1.0];
    }
    // So much less than `doubt` that the logarithm of the chance is compared.
    let doubt = doubt.ln();
    let mean = real(count) / real(of);
    let low = if count == 0 { 0.0 } else { halve(0.0, mean, |share| at_least(count, of, share) < doubt) };
    let high = if count == of { 1.0 } else { halve(mean, 1.0, |share| at_least(of - count, of, 1.0 - share) >= doubt) };
    [low, high]
}

/// Where `before` turns from true to false.
fn halve(mut low: f64, mut high: f64, before: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if before(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

/// Logarithm of the chance of `count` or more of `of`, where each has a chance of no more than `count` / `of`.
fn at_least(count: u64, of: u64, share: f64) -> f64 {
    if share <= 0.0 {
        return f64::NEG_INFINITY;
    }
    // The chance of just so many, from the side on which fewer factors are needed ...
    let few = count.min(of - count);
    let ways: f64 = (0..few).map(|i| (real(of - i) / real(i + 1)).ln()).sum();
    let just = ways + real(count) * share.ln() + real(of - count) * (-share).ln_1p();
    // ... and how much more likely all together are: each further one is less likely than the one before.
    let odds = share / (1.0 - share);
    let (mut one, mut all) = (1.0, 1.0);
    for i in count..of {
        one *= real(of - i) / real(i + 1) * odds;
        all += one;
        if one < all * 1e-17 {
            break;
        }
    }
    just + all.ln()
}

#[expect(clippy::cast_precision_loss, reason = "counts stay far below two to the power of 53")]
fn real(count: u64) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: `binomtest(...).proportion_ci(method='exact')` of scipy; the first is that of the NIST/SEMATECH handbook, 7.2.4.1.
    #[test]
    fn as_a_statistics_library_has_it() {
        let table = [
            (4, 20, 900_000, [0.071_354, 0.401_029]),
            (0, 10, 950_000, [0.0, 0.308_497]),
            (1, 10, 950_000, [0.002_529, 0.445_016]),
            (5, 10, 950_000, [0.187_086, 0.812_914]),
            (0, 59, 950_000, [0.0, 0.060_609]),
            (10, 100, 950_000, [0.049_005, 0.176_223]),
        ];
        for (count, of, confidence, expected) in table {
            let found = interval(count, of, confidence);
            for (a, b) in found.iter().zip(expected) {
                assert!((a - b).abs() < 1e-6, "{count} of {of}: {found:?}, not {expected:?}");
            }
            // Those that did not happen are the rest.
            let rest = interval(of - count, of, confidence);
            assert!((rest[0] + found[1] - 1.0).abs() < 1e-12 && (rest[1] + found[0] - 1.0).abs() < 1e-12);
        }
        // None of n, one-sided at 95 %: 1 - 0.05^(1/n), so 90 % two-sided.
        for (of, expected) in [(59, 0.049_51), (299, 0.009_97), (3_000, 0.000_998)] {
            assert!((interval(0, of, 900_000)[1] - expected).abs() < 1e-5);
        }
    }

    #[test]
    fn the_ends_are_ends_and_many_are_no_trouble() {
        let ends = [interval(0, 0, 950_000), [interval(0, 7, 950_000)[0], interval(7, 7, 950_000)[1]]];
        assert!(ends.iter().all(|[low, high]| low.abs() < 1e-15 && (high - 1.0).abs() < 1e-15), "{ends:?}");
        let [low, high] = interval(500_000, 1_000_000, 950_000);
        // The normal approximation: 1.96 times the root of p (1 - p) / n.
        assert!((low - 0.499_02).abs() < 1e-5 && (high - 0.500_98).abs() < 1e-5, "{low} {high}");
        let [low, high] = interval(1, 10_000_000, 999_999);
        assert!(0.0 < low && low < 1e-7 && 1e-7 < high && high < 3e-6, "{low} {high}");
    }
}
