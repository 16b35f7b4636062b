//! A bar on the error output, where that is a terminal.

use std::io::{self, IsTerminal};

use indicatif::{ProgressBar, ProgressStyle};

/// A bar over so many bytes (0: not known), or none at all.
pub(super) fn bar(bytes: u64) -> ProgressBar {
    if !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    if bytes == 0 {
        return ProgressBar::new_spinner();
    }
    let bar = ProgressBar::new(bytes);
    match ProgressStyle::with_template("{bar:40} {percent:>3} %  {bytes_per_sec}  {eta} left") {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}

/// A bar over rows whose number is told later, or none at all.
pub(super) fn bar_of_rows() -> ProgressBar {
    bar_of("rows")
}

/// A bar over things of which there are so many as is told later, or none at all.
pub(super) fn bar_of(what: &str) -> ProgressBar {
    if !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(1);
    match ProgressStyle::with_template(&format!("{{bar:40}} {{pos}} of {{len}} {what}  {{eta}} left")) {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}
