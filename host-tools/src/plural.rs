//! Numbers of things in words.

use std::fmt::Display;

/// `1 finding`, `2 findings`: a number with a word that takes an `s`.
pub fn plural<N: Display + Copy + PartialEq + From<u8>>(count: N, one: &str) -> String {
    let s = if count == N::from(1) { "" } else { "s" };
    format!("{count} {one}{s}")
}

#[cfg(test)]
mod tests {
    use super::plural;

    #[test]
    fn one_is_singular() {
        assert_eq!([0, 1, 2].map(|count| plural(count, "lemma")), ["0 lemmas", "1 lemma", "2 lemmas"]);
    }
}
