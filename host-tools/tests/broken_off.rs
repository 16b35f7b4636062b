//! A program that is told to end leaves no temporary file, and ends as programs do then.
#![cfg(unix)]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test: what fails here is a failed test, and says where")]

use std::fs;
use std::os::unix::process::ExitStatusExt;
use std::path::Path;
use std::process::{Child, Command};
use std::thread::sleep;
use std::time::Duration;

/// Begins the recording of a day, in a shell that has said something before.
fn begun(folder: &Path, before: &str) -> Child {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let [rules, asked] = ["rules", "requirements.rules"].map(|of| demo.join(format!("drive-terminal.{of}")));
    let scenario = folder.join("day.scenario");
    fs::write(&scenario, "last 24 h\nrope starts at 5.0 m/s\n").unwrap();
    let script = format!("{before} exec \"$0\" simulate \"$1\" \"$2\" -s \"$3\" -o \"$4\"");
    let mut child = Command::new("sh")
        .args(["-c", &script, env!("CARGO_BIN_EXE_haltproof")])
        .args([rules, asked, scenario, folder.join("day.csv")])
        .spawn()
        .unwrap();
    for _ in 0..1_000 {
        if parts(folder) > 0 {
            return child;
        }
        sleep(Duration::from_millis(10));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    panic!("no output was begun");
}

/// Files beside the scenario.
fn parts(folder: &Path) -> usize {
    fs::read_dir(folder).unwrap().count() - 1
}

fn send(child: &Child, signal: &str) {
    assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
}

#[test]
fn what_was_begun_is_gone_and_a_signal_that_is_ignored_stays_so() {
    let folder = std::env::temp_dir().join(format!("haltproof-broken-off-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    for (signal, number) in [("-TERM", 15), ("-INT", 2), ("-HUP", 1)] {
        let mut child = begun(&folder, "");
        // What waits for signals has begun as well.
        sleep(Duration::from_millis(200));
        send(&child, signal);
        assert_eq!(child.wait().unwrap().signal(), Some(number));
        assert_eq!(parts(&folder), 0);
    }
    let mut child = begun(&folder, "trap '' HUP;");
    sleep(Duration::from_millis(200));
    send(&child, "-HUP");
    sleep(Duration::from_millis(200));
    assert!(child.try_wait().unwrap().is_none(), "it ended with its terminal");
    assert_eq!(parts(&folder), 1);
    send(&child, "-TERM");
    assert_eq!(child.wait().unwrap().signal(), Some(15));
    assert_eq!(parts(&folder), 0);
    fs::remove_dir_all(&folder).unwrap();
}
