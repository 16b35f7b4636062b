//! Two timelines as one: what both say once, and what only one says with its side.

/// Whose line it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// Both say it.
    Both,
    /// The old rules.
    Old,
    /// The new rules.
    New,
}

/// Beyond so many lines on a side nothing is matched line by line.
const MOST: usize = 2_000;

/// Merges two timelines; lines that both have stand once, the order of neither changes.
pub fn merged(old: &str, new: &str) -> Vec<(Whose, String)> {
    let (old, new): (Vec<&str>, Vec<&str>) = (old.lines().collect(), new.lines().collect());
    let equal = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
    let mut out: Vec<(Whose, String)> = old.iter().take(equal).map(|line| (Whose::Both, (*line).to_string())).collect();
    let (old, new) = (old.get(equal..).unwrap_or_default(), new.get(equal..).unwrap_or_default());
    if old.len() > MOST || new.len() > MOST {
        out.extend(old.iter().map(|line| (Whose::Old, (*line).to_string())));
        out.extend(new.iter().map(|line| (Whose::New, (*line).to_string())));
        return out;
    }
    let longest = longest(old, new);
    let at = |i: usize, j: usize| longest.get(i).and_then(|row| row.get(j)).copied().unwrap_or(0);
    let (mut i, mut j) = (0, 0);
    while i < old.len() || j < new.len() {
        match (old.get(i), new.get(j)) {
            (Some(a), Some(b)) if a == b => {
                out.push((Whose::Both, (*a).to_string()));
                (i, j) = (i + 1, j + 1);
            }
            (Some(a), other) if other.is_none() || at(i + 1, j) >= at(i, j + 1) => {
                out.push((Whose::Old, (*a).to_string()));
                i += 1;
            }
            (_, Some(b)) => {
                out.push((Whose::New, (*b).to_string()));
                j += 1;
            }
            (_, None) => break,
        }
    }
    out
}

/// Lines that both have in the same order, at most, from each pair of places on.
fn longest(old: &[&str], new: &[&str]) -> Vec<Vec<usize>> {
    let mut table = vec![vec![0; new.len() + 1]; old.len() + 1];
    for i in (0..old.len()).rev() {
        for j in (0..new.len()).rev() {
            let of = |i: usize, j: usize| table.get(i).and_then(|row| row.get(j)).copied().unwrap_or(0);
            let best = if old.get(i) == new.get(j) { of(i + 1, j + 1) + 1 } else { of(i + 1, j).max(of(i, j + 1)) };
            if let Some(cell) = table.get_mut(i).and_then(|row| row.get_mut(j)) {
                *cell = best;
            }
        }
    }
    table
}

#[cfg(test)]
mod tests {
    use super::{Whose, merged};

    #[test]
    fn what_both_say_stands_once() {
        let told = merged("a\nb\nc\nd", "a\nc\nx\nd");
        let told: Vec<(Whose, &str)> = told.iter().map(|(whose, line)| (*whose, line.as_str())).collect();
        let both = |line| (Whose::Both, line);
        assert_eq!(told, [both("a"), (Whose::Old, "b"), both("c"), (Whose::New, "x"), both("d")]);
        assert_eq!(merged("", "a"), [(Whose::New, "a".to_string())]);
        assert_eq!(merged("", ""), []);
    }
}
