//! What is wrong with a file of safety functions, with the place marked and how to mend it.

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};

use super::form::Place;

/// Something that is wrong with the text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Where.
    pub at: Place,
    /// What is wrong.
    pub what: String,
    /// What was expected there.
    pub expected: String,
    /// How to mend it.
    pub mend: String,
}

impl Fault {
    /// As people read it: file, line and column, the line with the place marked, what was expected, how to mend it.
    pub fn render(&self, path: &str, source: &str, coloured: bool) -> String {
        let cut = |at: usize| (0..=at.min(source.len())).rev().find(|at| source.is_char_boundary(*at)).unwrap_or(0);
        let (start, end) = (cut(self.at.start), cut(self.at.end.max(self.at.start)));
        let snippet = Snippet::source(source)
            .path(path)
            .annotation(AnnotationKind::Primary.span(start..end).label(format!("expected: {}", self.expected)));
        let group = Level::ERROR.primary_title(self.what.as_str()).element(snippet);
        let group = group.element(Level::HELP.message(self.mend.as_str()));
        let renderer = if coloured { Renderer::styled() } else { Renderer::plain() };
        renderer.render(&[group]).lines().map(str::trim_end).collect::<Vec<_>>().join("\n")
    }
}
