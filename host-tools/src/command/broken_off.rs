//! Files under temporary names that are removed when the program is told to end before it is done.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, Once, PoisonError};

static BEGUN: Mutex<BTreeSet<PathBuf>> = Mutex::new(BTreeSet::new());
static WATCHED: Once = Once::new();

fn with(all: impl FnOnce(&mut BTreeSet<PathBuf>)) {
    all(&mut BEGUN.lock().unwrap_or_else(PoisonError::into_inner));
}

/// A file that is about to be begun.
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

#[cfg(not(unix))]
fn watch() {}

/// Removes all when the program is told to end: by a key, by who stops services, or since its terminal is gone. It ends then as it would have without.
#[cfg(unix)]
fn watch() {
    use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};
    use signal_hook::iterator::Signals;
    use signal_hook::low_level::emulate_default_handler;

    // Whoever started it so that it outlives its terminal, or a key, wants that.
    let heeded: Vec<i32> = [SIGHUP, SIGINT, SIGTERM].into_iter().filter(|signal| !is_ignored(*signal)).collect();
    let waits = move || {
        // Where signals cannot be waited for a file is left, as by a lost power.
        let Ok(mut signals) = Signals::new(&heeded) else { return };
        if let Some(signal) = signals.forever().next() {
            with(|all| {
                for path in std::mem::take(all) {
                    // It may be gone already; there is nothing better to do.
                    let _gone = std::fs::remove_file(path);
                }
                // While nobody can begin another file.
                let _ends = emulate_default_handler(signal);
                std::process::exit(128 + signal);
            });
        }
    };
    let _without = std::thread::Builder::new().name("signals".to_owned()).spawn(waits);
}

/// The program was started with a signal ignored; where the system does not tell, that of a lost terminal counts as such.
#[cfg(unix)]
fn is_ignored(signal: i32) -> bool {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let mask = status.lines().find_map(|line| line.strip_prefix("SigIgn:"));
    match mask.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok()) {
        Some(mask) => mask >> signal.saturating_sub(1) & 1 == 1,
        None => signal == signal_hook::consts::SIGHUP,
    }
}
