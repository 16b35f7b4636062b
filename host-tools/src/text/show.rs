//! Findings as text for a terminal and as values for other programs.

use annotate_snippets::{AnnotationKind, Level as Weight, Renderer, Snippet};
use serde::Serialize;

use super::finding::{Finding, Level};
use super::place::Place;

/// A file that findings point into.
#[derive(Debug, Clone, Copy)]
pub struct Shown<'a> {
    /// Its path, as given.
    pub path: &'a str,
    /// Its text.
    pub source: &'a str,
}

/// Renders findings one after the other, with the places marked in the text.
pub fn render(findings: &[Finding], files: &[Shown<'_>], coloured: bool) -> String {
    let renderer = if coloured { Renderer::styled() } else { Renderer::plain() };
    let mut text = String::new();
    for finding in findings {
        text.push_str(&one(finding, files, &renderer));
        text.push_str("\n\n");
    }
    text
}

fn one(finding: &Finding, files: &[Shown<'_>], renderer: &Renderer) -> String {
    let weight = match finding.level {
        Level::Error => Weight::ERROR,
        Level::Warning => Weight::WARNING,
        Level::Note => Weight::NOTE,
    };
    let mut group = weight
        .primary_title(finding.message.as_str())
        .id(finding.code.text())
        .elements(Vec::<annotate_snippets::Message<'_>>::new());
    let main = finding.labels.first().map(|(place, _)| place.file);
    let mut order: Vec<u16> = Vec::new();
    for (place, _) in &finding.labels {
        if !order.contains(&place.file) {
            order.push(place.file);
        }
    }
    for file in order {
        let Some(shown) = files.get(usize::from(file)) else {
            continue;
        };
        let (cut, line) = lines_of(shown.source, finding, file);
        let text = shown.source.get(cut.clone()).unwrap_or_default();
        let mut snippet = Snippet::source(text).line_start(line).path(shown.path);
        for (i, (place, label)) in finding.labels.iter().enumerate() {
            if place.file != file {
                continue;
            }
            let first = i == 0 || (Some(file) != main && is_first_of(finding, i));
            let kind = if first { AnnotationKind::Primary } else { AnnotationKind::Context };
            let place = within(shown.source, *place);
            let mut mark = kind.span(place.start - cut.start..place.end - cut.start);
            if !label.is_empty() {
                mark = mark.label(label.as_str());
            }
            snippet = snippet.annotation(mark);
        }
        group = group.element(snippet);
    }
    if let Some(help) = &finding.help {
        group = group.element(Weight::HELP.message(help.as_str()));
    }
    let rendered = renderer.render(&[group]);
    let lines: Vec<&str> = rendered.lines().map(str::trim_end).collect();
    lines.join("\n")
}

/// The whole lines from the first to the last place in a file, and the number of the first: the
/// renderer goes through all the text it is given, for each finding anew.
fn lines_of(source: &str, finding: &Finding, file: u16) -> (std::ops::Range<usize>, usize) {
    let places = finding.labels.iter().filter(|(place, _)| place.file == file);
    let marked: Vec<_> = places.map(|(place, _)| within(source, *place)).collect();
    let start = marked.iter().map(|range| range.start).min().unwrap_or(0);
    let end = marked.iter().map(|range| range.end).max().unwrap_or(0);
    let before = source.get(..start).unwrap_or_default();
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    let after = source.get(end..).unwrap_or_default();
    let end = after.find('\n').map_or(source.len(), |at| end + at + 1);
    (start..end, line_and_column(source, start).0)
}

fn is_first_of(finding: &Finding, at: usize) -> bool {
    let file = finding.labels.get(at).map(|(place, _)| place.file);
    finding.labels.iter().position(|(place, _)| Some(place.file) == file) == Some(at)
}

/// The stretch of a place, cut to the text and to whole characters.
fn within(source: &str, place: Place) -> std::ops::Range<usize> {
    let cut = |at: u32| {
        let mut at = usize::try_from(at).unwrap_or(usize::MAX).min(source.len());
        while !source.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = cut(place.start);
    start..cut(place.end).max(start)
}

/// Line and column of a byte, both from 1; columns count characters.
pub fn line_and_column(source: &str, at: usize) -> (usize, usize) {
    let mut cut = at.min(source.len());
    while !source.is_char_boundary(cut) {
        cut -= 1;
    }
    let before = source.get(..cut).unwrap_or_default();
    let line_start = before.rfind('\n').map_or(0, |i| i + 1);
    let line = before.bytes().filter(|b| *b == b'\n').count() + 1;
    (line, before.get(line_start..).unwrap_or_default().chars().count() + 1)
}

/// A finding as a value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Told {
    /// Path of the file, or empty where the finding has no place.
    pub file: String,
    /// First line, from 1 (0 where the finding has no place).
    pub line: usize,
    /// First column in characters, from 1.
    pub column: usize,
    /// Last line.
    pub end_line: usize,
    /// One past the last column.
    pub end_column: usize,
    /// The code.
    pub code: &'static str,
    /// `error`, `warning` or `note`.
    pub level: &'static str,
    /// What is wrong.
    pub message: String,
    /// Every place with what is said there, the main one first.
    pub labels: Vec<ToldLabel>,
    /// How to mend it.
    pub help: Option<String>,
}

/// A place of a [`Told`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ToldLabel {
    /// Path of the file.
    pub file: String,
    /// First line, from 1.
    pub line: usize,
    /// First column in characters, from 1.
    pub column: usize,
    /// Last line.
    pub end_line: usize,
    /// One past the last column.
    pub end_column: usize,
    /// What is said there.
    pub text: String,
}

/// The word for a weight.
pub fn word(level: Level) -> &'static str {
    match level {
        Level::Error => "error",
        Level::Warning => "warning",
        Level::Note => "note",
    }
}

/// Findings as values, in their order.
pub fn tell(findings: &[Finding], files: &[Shown<'_>]) -> Vec<Told> {
    findings.iter().map(|finding| tell_one(finding, files)).collect()
}

fn tell_one(finding: &Finding, files: &[Shown<'_>]) -> Told {
    let labels: Vec<ToldLabel> = finding
        .labels
        .iter()
        .filter_map(|(place, text)| {
            let shown = files.get(usize::from(place.file))?;
            let range = within(shown.source, *place);
            let (line, column) = line_and_column(shown.source, range.start);
            let (end_line, end_column) = line_and_column(shown.source, range.end);
            let file = shown.path.to_owned();
            Some(ToldLabel { file, line, column, end_line, end_column, text: text.clone() })
        })
        .collect();
    let first = labels.first();
    Told {
        file: first.map(|l| l.file.clone()).unwrap_or_default(),
        line: first.map_or(0, |l| l.line),
        column: first.map_or(0, |l| l.column),
        end_line: first.map_or(0, |l| l.end_line),
        end_column: first.map_or(0, |l| l.end_column),
        code: finding.code.text(),
        level: word(finding.level),
        message: finding.message.clone(),
        help: finding.help.clone(),
        labels,
    }
}

#[cfg(test)]
#[allow(clippy::indexing_slicing, reason = "a test: out of range is a failed test")]
mod tests {
    use super::*;
    use crate::text::codes::Code;

    fn place(file: u16, start: u32, end: u32) -> Place {
        Place { file, start, end }
    }

    #[test]
    fn columns_count_characters() {
        let source = "a\nüb c\n";
        assert_eq!(line_and_column(source, 0), (1, 1));
        assert_eq!(line_and_column(source, 2), (2, 1));
        assert_eq!(line_and_column(source, 4), (2, 2));
        assert_eq!(line_and_column(source, 3), (2, 1), "in the middle of a character");
        assert_eq!(line_and_column(source, 99), (3, 1));
    }

    #[test]
    fn marks_places_in_several_files() {
        let files = [Shown { path: "a.rules", source: "one two\n" }, Shown { path: "b.rules", source: "three\n" }];
        let finding = Finding::new(Code::NameBad, "odd")
            .at(place(1, 0, 5), "here")
            .at(place(0, 4, 7), "and here")
            .help("mend it");
        let text = render(std::slice::from_ref(&finding), &files, false);
        for part in ["error[name-bad]: odd", "b.rules:1:1", "a.rules:1:5", "here", "help: mend it"] {
            assert!(text.contains(part), "{part} is not in\n{text}");
        }
        assert!(!text.contains('\u{1b}'));
        assert!(render(std::slice::from_ref(&finding), &files, true).contains('\u{1b}'));
        let told = tell(&[finding], &files);
        assert_eq!((told[0].file.as_str(), told[0].labels[1].column), ("b.rules", 5));
    }

    #[test]
    fn only_the_marked_lines_are_rendered_and_under_their_numbers() {
        let source = "one\n".repeat(5_000) + "two\nthree\nfour";
        let files = [Shown { path: "a.rules", source: &source }];
        let finding = Finding::new(Code::NameBad, "odd")
            .at(place(0, 20_004, 20_009), "here")
            .at(place(0, 20_000, 20_003), "there");
        let text = render(&[finding], &files, false);
        assert!(text.contains("a.rules:5002:1"), "{text}");
        assert!(text.contains("5001 | two") && text.contains("5002 | three"), "{text}");
        let last = Finding::new(Code::NameBad, "odd").at(place(0, 20_010, 20_014), "here");
        assert!(render(&[last], &files, false).contains("5003 | four"));
    }

    #[test]
    fn bears_places_outside_the_text() {
        let files = [Shown { path: "a.rules", source: "" }, Shown { path: "b.rules", source: "é" }];
        for place in [place(0, 0, 0), place(0, 5, 9), place(1, 1, 1), place(1, 9, 2), place(7, 0, 1)] {
            let finding = Finding::new(Code::NameBad, "odd").at(place, "");
            assert!(render(std::slice::from_ref(&finding), &files, false).contains("odd"));
            assert_eq!(tell(&[finding], &files).len(), 1);
        }
        assert!(render(&[Finding::new(Code::NameBad, "odd")], &[], false).contains("odd"));
    }
}
