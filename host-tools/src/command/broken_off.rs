//! Files under temporary names that are removed when the program is told to end before it is done.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, Once, PoisonError};

static BEGUN: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());
static WATCHED: Once = Once::new();

fn with(all: impl FnOnce(&mut BTreeSet<PathBuf>)) {
    all(&mut BEGUN.lock().unwrap_or_else(PoisonError::into_inner));
}

/// A file that was begun.
pub(super) fn begun(path: &Path) {
    WATCHED.call_once(watch);
    with(|all| {
        all.insert(path.to_owned());
    });
}

/// It has its name, or is gone.
pub(super) fn done(path: &Path) {
    with(|all| {
        all.remove(path);
    });
}

/// Removes all when the program is told to end: by a key, by who stops services, or since its terminal is gone.
#[cfg(unix)]
fn watch() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    use signal_hook::iterator::Signals;

    // Where signals cannot be waited for a file is left, as by a lost power.
    let Ok(mut signals) = Signals::new([SIGHUP, SIGINT, SIGTERM]) else { return };
    std::thread::spawn(move || {
        if let Some(signal) = signals.forever().next() {
            with(|all| {
                for path in std::mem::take(all) {
                    // It may be gone already; there is nothing better to do.
                    let _gone = fs::remove_file(path);
                }
                // As shells tell of a program that a signal ended; while nobody can begin another file.
                std::process::exit(128 + signal);
            });
        }
    });
}

#[cfg(not(unix))]
fn watch() {}
