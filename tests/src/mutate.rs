//! Certificates changed in a few places, their digests renewed: what an able forger would hand in.
//!
//! A change is made in the text, as in [`host_tools::prove::certificate`], and need not make sense: a cell may be
//! misspelt, a number lie out of range. Most changes do make sense, and whether the proof still holds
//! is then for a solver to say.

use crate::generate::Rng;
use host_tools::prove::certificate::digest;

/// What changes may draw on.
pub struct Stock {
    /// Names of all cells, and whether each is a bit.
    pub cells: Vec<(String, bool)>,
    /// Requirements.
    pub requirements: Vec<String>,
    /// Signals of which something is declared.
    pub signals: Vec<String>,
    /// Assumptions.
    pub assumptions: Vec<String>,
    /// Lemmas of all proofs.
    pub lemmas: Vec<String>,
}

/// Kinds of change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Change {
    /// A lemma is left out.
    Drop,
    /// A number in a lemma is one more or one less.
    Bound,
    /// A cell in a lemma is another.
    Cell,
    /// A part of a lemma is its opposite.
    Negate,
    /// The depth is another.
    Depth,
    /// A signal or an assumption is left out, or added.
    Given,
    /// A lemma is added.
    Invent,
    /// The requirement is another.
    Requirement,
    /// A lemma says less: it has one more condition or one more way out.
    Weaken,
}

/// Each kind of change, as often as it should come.
const CHANGES: [Change; 18] = [
    Change::Drop,
    Change::Drop,
    Change::Bound,
    Change::Bound,
    Change::Bound,
    Change::Bound,
    Change::Cell,
    Change::Cell,
    Change::Negate,
    Change::Negate,
    Change::Depth,
    Change::Given,
    Change::Given,
    Change::Invent,
    Change::Invent,
    Change::Invent,
    Change::Requirement,
    Change::Weaken,
];

/// Changes a certificate in one to three places.
pub fn mutate(rng: &mut Rng, stock: &Stock, text: &str) -> (String, Vec<Change>) {
    let mut lines: Vec<String> = text.lines().filter(|line| !line.starts_with("digest ")).map(String::from).collect();
    let (mut made, mut tries) = (Vec::new(), 0);
    let wanted = rng.size(1, 3);
    while made.len() < wanted && tries < 50 {
        tries += 1;
        let change = CHANGES[rng.index(CHANGES.len())];
        let before = lines.clone();
        apply(rng, stock, change, &mut lines);
        if lines != before {
            made.push(change);
        }
    }
    (sealed(&lines), made)
}

/// Lines with their digest below.
fn sealed(lines: &[String]) -> String {
    let above: String = lines.iter().flat_map(|line| [line.as_str(), "\n"]).collect();
    format!("{above}digest {}\n", digest(&[above.as_bytes()]))
}

fn apply(rng: &mut Rng, stock: &Stock, change: Change, lines: &mut Vec<String>) {
    let lemmas: Vec<usize> = (0..lines.len()).filter(|&i| lines[i].starts_with("lemma ")).collect();
    let one = (!lemmas.is_empty()).then(|| lemmas[rng.index(lemmas.len())]);
    match (change, one) {
        (Change::Drop, Some(at)) => {
            lines.remove(at);
        }
        (Change::Bound, Some(at)) => lines[at] = bound(rng, &lines[at]),
        (Change::Cell, Some(at)) => lines[at] = cell(rng, stock, lines, at),
        (Change::Negate, Some(at)) => lines[at] = negate(rng, &lines[at]),
        (Change::Weaken, Some(at)) => lines[at] = weaken(rng, stock, lines, at),
        (Change::Depth, _) => {
            let depth = if rng.below(12) == 0 { [0, 9, 100][rng.index(3)] } else { rng.size(1, 3) };
            replace(lines, "depth ", &depth.to_string());
        }
        (Change::Requirement, _) => {
            let name = rng.index(stock.requirements.len());
            replace(lines, "requirement ", &stock.requirements[name]);
        }
        (Change::Given, _) => given(rng, stock, lines),
        (Change::Invent, _) => {
            let lemma = invent(rng, stock, lines);
            lines.push(format!("lemma {lemma}"));
        }
        (_, None) => {}
    }
}

fn replace(lines: &mut [String], key: &str, value: &str) {
    if let Some(line) = lines.iter_mut().find(|line| line.starts_with(key)) {
        *line = format!("{key}{value}");
    }
}

/// What is declared of a signal, or assumed, is left out or added.
fn given(rng: &mut Rng, stock: &Stock, lines: &mut Vec<String>) {
    let there: Vec<usize> =
        (0..lines.len()).filter(|&i| lines[i].starts_with("signal ") || lines[i].starts_with("assume ")).collect();
    if !there.is_empty() && rng.below(2) == 0 {
        lines.remove(there[rng.index(there.len())]);
        return;
    }
    let signals = stock.signals.iter().map(|name| format!("signal {name}"));
    let all: Vec<String> = signals.chain(stock.assumptions.iter().map(|name| format!("assume {name}"))).collect();
    if !all.is_empty() {
        let at = lines.iter().position(|line| line.starts_with("lemma ")).unwrap_or(lines.len());
        lines.insert(at, all[rng.index(all.len())].clone());
    }
}

fn is_cell(word: &str) -> bool {
    !matches!(word, "lemma" | "when" | "and" | "then" | "or" | "not" | "<=" | "=" | "+") && word.parse::<u32>().is_err()
}

/// Places of the words that a test is true of.
fn places(words: &[&str], of: impl Fn(&str) -> bool) -> Vec<usize> {
    (0..words.len()).filter(|&i| of(words[i])).collect()
}

fn bound(rng: &mut Rng, line: &str) -> String {
    let mut words: Vec<&str> = line.split(' ').collect();
    let numbers = places(&words, |word| word.parse::<u32>().is_ok());
    if numbers.is_empty() {
        return line.into();
    }
    let at = numbers[rng.index(numbers.len())];
    let number: u32 = words[at].parse().unwrap();
    let other = if rng.below(2) == 0 { number + 1 } else { number.saturating_sub(1) }.to_string();
    words[at] = &other;
    words.join(" ")
}

/// A cell that the proof speaks of, or seldom any cell, or one that is not there.
fn some_cell(rng: &mut Rng, stock: &Stock, lines: &[String]) -> String {
    let any = stock.cells[rng.index(stock.cells.len())].0.clone();
    match rng.below(24) {
        0 => format!("{any}x"),
        1..4 => any,
        _ => {
            let lemmas = lines.iter().filter(|line| line.starts_with("lemma "));
            let near: Vec<&str> = lemmas.flat_map(|line| line.split(' ')).filter(|word| is_cell(word)).collect();
            if near.is_empty() { any } else { near[rng.index(near.len())].into() }
        }
    }
}

fn cell(rng: &mut Rng, stock: &Stock, lines: &[String], at: usize) -> String {
    let other = some_cell(rng, stock, lines);
    let mut words: Vec<&str> = lines[at].split(' ').collect();
    let cells = places(&words, is_cell);
    if !cells.is_empty() {
        words[cells[rng.index(cells.len())]] = &other;
    }
    words.join(" ")
}

/// One part of a lemma for its opposite.
fn negate(rng: &mut Rng, line: &str) -> String {
    let words: Vec<&str> = line.split(' ').collect();
    let ends = |word: &str| matches!(word, "lemma" | "when" | "and" | "then" | "or");
    let starts: Vec<usize> = places(&words, ends).into_iter().filter(|&i| words.get(i + 1) != Some(&"when")).collect();
    let first = starts[rng.index(starts.len())] + 1;
    let last = (first..words.len()).find(|&i| ends(words[i])).unwrap_or(words.len());
    let part = &words[first..last];
    let sign = part.iter().position(|word| matches!(*word, "<=" | "="));
    let other = match (part, sign) {
        (["not", one], _) => (*one).to_string(),
        ([one], _) => format!("not {one}"),
        (_, Some(sign)) => format!("{} + 1 <= {}", part[sign + 1..].join(" "), part[..sign].join(" ")),
        _ => part.join(" "),
    };
    let (before, after) = (words[..first].join(" "), words[last..].join(" "));
    format!("{before} {other} {after}").trim_end().to_string()
}

/// A statement about one cell, or two.
fn part(rng: &mut Rng, stock: &Stock, lines: &[String]) -> String {
    let one = some_cell(rng, stock, lines);
    let is_bit = stock.cells.iter().any(|(name, is_bit)| *name == one && *is_bit);
    match (is_bit, rng.below(6)) {
        (true, 0..3) => one,
        (true, 3..5) => format!("not {one}"),
        (false, 0) => format!("{one} = {}", rng.below(4)),
        (false, 1) => format!("{} <= {one}", rng.below(9)),
        (false, 2..4) => format!("{one} <= {}", rng.below(40)),
        (false, 4) => format!("{one} <= {}", (1_u64 << rng.below(20)) - 1),
        _ => format!("{one} <= {} + {}", some_cell(rng, stock, lines), rng.below(9)),
    }
}

/// A lemma that the proof does not have.
fn invent(rng: &mut Rng, stock: &Stock, lines: &[String]) -> String {
    match rng.below(5) {
        0 | 1 if !stock.lemmas.is_empty() => stock.lemmas[rng.index(stock.lemmas.len())].clone(),
        2 => part(rng, stock, lines),
        3 => {
            let (first, second) = (part(rng, stock, lines), part(rng, stock, lines));
            format!("when {first} then {second}")
        }
        _ => {
            let lemmas: Vec<usize> = (0..lines.len()).filter(|&i| lines[i].starts_with("lemma ")).collect();
            if lemmas.is_empty() {
                return part(rng, stock, lines);
            }
            let at = lemmas[rng.index(lemmas.len())];
            let line = weaken(rng, stock, lines, at);
            line.trim_start_matches("lemma ").to_string()
        }
    }
}

/// A lemma with one more condition or one more way out.
fn weaken(rng: &mut Rng, stock: &Stock, lines: &[String], at: usize) -> String {
    let more = part(rng, stock, lines);
    let lemma = lines[at].trim_start_matches("lemma ");
    match lemma.strip_prefix("when ") {
        Some(rest) if rng.below(2) == 0 => format!("lemma when {more} and {rest}"),
        None if rng.below(2) == 0 => format!("lemma when {more} then {lemma}"),
        _ => format!("lemma {lemma} or {more}"),
    }
}
