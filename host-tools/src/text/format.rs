//! From syntax tree to canonical text.

use super::lex::{Lexed, lex};
use super::tree::{File, Statement};

mod clause;
mod layout;
mod rules;
mod statements;
mod watches;

#[cfg(test)]
mod tests;

use layout::lines;

/// The canonical text of a file.
///
/// Comments, notes and single empty lines between statements are kept. What was formatted once
/// stays as it is when formatted again.
pub fn format(file: &File) -> String {
    let (lexed, _, _) = lex(&file.source, 0);
    let mut out = String::new();
    for statement in &file.statements {
        comments(&mut out, &statement.before);
        for line in &statement.note {
            comment(&mut out, "", "##", line);
        }
        let source = lexed
            .binary_search_by_key(&statement.place.start, |l| l.tokens.first().map_or(0, |t| t.place.start))
            .ok()
            .and_then(|i| lexed.get(i))
            .filter(|l| l.inside == statement.inside);
        body(&mut out, statement, source);
    }
    comments(&mut out, &file.trailing);
    out
}

/// Comment lines; an empty entry is an empty line.
fn comments(out: &mut String, entries: &[String]) {
    for entry in entries {
        if !entry.is_empty() {
            comment(out, "", "#", entry);
        } else if !out.is_empty() && !out.ends_with("\n\n") {
            out.push('\n');
        }
    }
}

fn comment(out: &mut String, indent: &str, mark: &str, text: &str) {
    out.push_str(format!("{indent}{mark} {text}").trim_end());
    out.push('\n');
}

/// The lines of a statement, with the comments that stand in it.
fn body(out: &mut String, statement: &Statement, source: Option<&Lexed>) {
    let lines = lines(statements::shape(&statement.kind));
    let clauses = lines.iter().enumerate();
    let mut starts: Vec<(u32, usize)> =
        clauses.flat_map(|(n, line)| line.starts.iter().map(move |start| (*start, n))).collect();
    starts.sort_unstable();
    let mut above: Vec<Vec<&str>> = vec![Vec::new(); lines.len() + 1];
    let mut behind: Vec<Option<&str>> = vec![None; lines.len()];
    // Slot 2 n is above line n, slot 2 n + 1 behind it; comments keep their order.
    let mut least = 1;
    for (i, text) in statement.inside.iter().enumerate() {
        let wanted = source
            .and_then(|s| s.inside_at.get(i))
            .map_or(least, |(at, own_line)| slot(&starts, lines.len(), *at, *own_line));
        let mut slot = wanted.max(least);
        if slot % 2 == 1 {
            match behind.get_mut(slot / 2) {
                Some(free @ None) => *free = Some(text),
                _ => slot += 1,
            }
        }
        if slot % 2 == 0
            && let Some(above) = above.get_mut(slot / 2)
        {
            above.push(text);
        }
        least = slot;
    }
    for (n, above) in above.iter().enumerate() {
        for text in above {
            comment(out, "    ", "#", text);
        }
        if let Some(line) = lines.get(n) {
            out.push_str(&line.text);
            if let Some(text) = behind.get(n).copied().flatten() {
                out.push_str(format!("  # {text}").trim_end());
            }
            out.push('\n');
        }
    }
}

/// Where a comment goes that stands at a byte of the source; clauses by their first byte, with
/// the number of their line.
fn slot(starts: &[(u32, usize)], lines: usize, at: u32, own_line: bool) -> usize {
    let next = starts.partition_point(|(start, _)| *start <= at);
    if own_line {
        starts.get(next).map_or(2 * lines, |(_, n)| 2 * n)
    } else {
        let last = next.checked_sub(1).and_then(|last| starts.get(last));
        last.map_or(1, |(_, n)| 2 * n + 1)
    }
}
