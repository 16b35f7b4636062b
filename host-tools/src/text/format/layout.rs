//! From clauses to lines.

use super::clause::Clause;

/// The longest line, in characters, where it can be helped.
const WIDTH: usize = 100;
const INDENT: &str = "    ";

/// The clauses of a statement, grouped as they stand on lines; the first group has the head.
pub(super) type Shape = Vec<Vec<Clause>>;

/// A line of a statement.
#[derive(Debug)]
pub(super) struct Line {
    /// Its text; a clause that is too long continues behind line breaks.
    pub(super) text: String,
    /// Where its clauses stood in the source.
    pub(super) starts: Vec<u32>,
}

/// Fills lines with clauses.
pub(super) fn lines(shape: Shape) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    for group in shape {
        let mut open: Option<Line> = None;
        for clause in group {
            let length = clause.text.chars().count();
            match &mut open {
                Some(line) if line.text.chars().count() + 2 + length <= WIDTH => {
                    line.text.push_str(", ");
                    line.text.push_str(&clause.text);
                    line.starts.extend(clause.start);
                }
                _ => {
                    lines.extend(open.take());
                    let indent = if lines.is_empty() { "" } else { INDENT };
                    let text = format!("{indent}{}", clause.text);
                    open = Some(Line { text, starts: clause.start.into_iter().collect() });
                }
            }
        }
        lines.extend(open);
    }
    for line in &mut lines {
        if line.text.chars().count() > WIDTH {
            line.text = wrap(&line.text);
        }
    }
    lines
}

/// Breaks a long line, behind a comma if one stands late enough, and never within a title or
/// between a number and its unit.
fn wrap(line: &str) -> String {
    let mut out = String::new();
    let mut column = 0;
    let mut first = true;
    let mut rest = line;
    while rest.chars().nth(WIDTH - column).is_some() {
        let Some(cut) = cut(rest, WIDTH - column, first) else {
            break;
        };
        let (head, tail) = rest.split_at(cut);
        out.push_str(head);
        out.push('\n');
        out.push_str(INDENT);
        out.push_str(INDENT);
        column = 2 * INDENT.len();
        rest = tail.trim_start_matches(' ');
        first = false;
    }
    out.push_str(rest);
    out
}

/// The last word belongs to what comes next.
fn leads_on(text: &str) -> bool {
    let last = text.rsplit([' ', '(']).next().unwrap_or("");
    matches!(last, "and" | "or" | "not" | "to" | "at" | "of" | "is" | "in")
}

/// The byte to break at, so that at most `room` characters stand before it.
fn cut(text: &str, room: usize, first: bool) -> Option<usize> {
    let mut within = false;
    let mut before = ' ';
    let (mut comma, mut blank, mut late) = (None, None, None);
    // The indentation, and a statement's keyword with its name, stay together.
    let mut keep = if first { 3 } else { 1 };
    for (n, (at, c)) in text.char_indices().enumerate() {
        if n > room && comma.or(blank).or(late).is_some() {
            break;
        }
        if c == '"' {
            within = !within;
        } else if c == ' ' && before != ' ' && !within {
            keep = usize::saturating_sub(keep, 1);
            if keep == 0 && !before.is_ascii_digit() && !leads_on(text.get(..at).unwrap_or("")) {
                if n <= room {
                    blank = Some(at);
                    if before == ',' && 2 * n > room {
                        comma = Some(at);
                    }
                } else {
                    late = Some(at);
                }
            }
        }
        before = c;
    }
    comma.or(blank).or(late)
}
