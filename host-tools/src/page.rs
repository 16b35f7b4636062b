//! A page that stands by itself: one HTML file, nothing fetched, printable on A4, readable in greyscale.
//!
//! All text goes through `maud`, which escapes it; characters that could change how other text is read are shown by their
//! numbers ([`plain`]).

use std::fmt::Write as _;

use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Says what a page is good for, and what not.
pub const CAUTION: &str = "This supports the judgement of those who are licensed to judge, and replaces none of it. It speaks of \
    the rules and their inputs as they are read; it says nothing of sensors, wiring, grips, brakes or ropes. Local codes and the \
    competent authority decide.";

/// Nothing may be loaded from anywhere, and nothing is run.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

const STYLE: &str = include_str!("page/page.css");

/// A whole page.
pub fn page(title: &str, body: &Markup) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (plain(title)) }
                style { (PreEscaped(STYLE)) }
            }
            body { main { (body) } }
        }
    };
    page.into_string()
}

/// A section of a page: its place, its title, what it says.
pub type Section<'t> = (&'t str, &'t str, Markup);

/// A whole page of sections, with a list of them.
pub fn page_of(title: &str, sections: &[Section<'_>]) -> String {
    let body = html! {
        header {
            h1 { (plain(title)) }
            p.caution { (CAUTION) }
            nav aria-label="Sections" { ol { @for (id, title, _) in sections { li { a href={ "#" (id) } { (plain(title)) } } } } }
        }
        @for (id, title, content) in sections { section id=(id) { h2 { (plain(title)) } (content) } }
    };
    page(title, &body)
}

/// Lines for those who sign.
pub fn signatures(roles: &[&str]) -> Markup {
    html! {
        table.sign {
            thead { tr { th scope="col" { "Role" } th scope="col" { "Name" } th scope="col" { "Date" } th scope="col" { "Signature" } } }
            tbody { @for role in roles { tr { th scope="row" { (role) } td {} td {} td {} } } }
        }
    }
}

/// Text as it is to be read: control characters, and those that turn the direction of what follows, are shown by number.
pub fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        let turns = matches!(c, '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}');
        if turns || (c.is_control() && c != '\n' && c != '\t') {
            let _ = write!(out, "[U+{:04X}]", u32::from(c));
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_turns_text_around_is_shown() {
        assert_eq!(plain("a\u{202e}b\u{7}c\td"), "a[U+202E]b[U+0007]c\td");
    }

    #[test]
    fn markup_in_text_is_text() {
        let page = page("<b>\"x\"</b>", &html! { p { ("<script>") } });
        assert!(
            page.contains("<title>&lt;b&gt;&quot;x&quot;&lt;/b&gt;</title>") && page.contains("<p>&lt;script&gt;</p>")
        );
    }
}
