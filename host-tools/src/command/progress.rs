//! A bar on the error output, where that is a terminal.

use std::fmt::Write;
use std::io::{self, IsTerminal};
use std::time::Duration;

use indicatif::{HumanDuration, ProgressBar, ProgressState, ProgressStyle};

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
    match ProgressStyle::with_template(&format!("{{bar:40}} {{pos}} of {{len}} {what}{{left}}")) {
        Ok(style) => bar.with_style(style.with_key("left", left)),
        Err(_) => bar,
    }
}

/// What is left if each takes as long as those before did on average: one may take a hundred times as long as the next, so that the last few tell nothing.
fn left(state: &ProgressState, into: &mut dyn Write) {
    let to_come = state.len().map_or(0, |all| all.saturating_sub(state.pos()));
    let seconds = state.elapsed().as_secs().saturating_mul(to_come).checked_div(state.pos());
    if let Some(seconds) = seconds {
        // Where the terminal is gone there is nobody to tell.
        let _ = write!(into, ", about {} left", HumanDuration(Duration::from_secs(seconds)));
    }
}
