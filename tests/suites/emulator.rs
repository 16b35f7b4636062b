//! Both builds on the emulated board: the bench steps incidents as the host's replay does, within its budget of instructions; the
//! station boots, answers, and is ended by its watchdog.
//!
//! `rustup target add thumbv7em-none-eabihf`, a `qemu-system-arm`, then
//! `cargo test -p cross-tests --test emulator -- --ignored --nocapture`. One instruction takes one nanosecond of the
//! emulator's time (`-icount shift=0`), so that the microseconds of a scan are thousands of instructions.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "a test that panics has failed, as it should; counts are what one wants to read of it"
)]

use cross_tests::proofs::{demo, sources};
use firmware::bench::Command as Tell;
use firmware::link::{Answer, Question, Refusal, Sender};
use host_tools::bench::Trouble;
use host_tools::bench::client::Client;
use host_tools::bench::compare::{self, Compared, Comparison};
use host_tools::bench::identify::{Marks, identify};
use host_tools::bench::target::Target;
use host_tools::pack::pack;
use host_tools::runner::with_runner;
use host_tools::simulate::Scenario;
use host_tools::station::Station;
use logic_rules::image::Image;
use std::path::{Path, PathBuf};
use std::process::Command;

const TARGET: &str = "thumbv7em-none-eabihf";
/// Most instructions of a scan in both copies, sampling, comparison and log and all, in thousands: a scan in which a stop begins is
/// the longest.
const BUDGET: u32 = 60;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

/// Builds a binary for the board; gives its file.
fn built(name: &str, features: &str, image: Option<&Path>) -> PathBuf {
    let mut cargo = Command::new(env!("CARGO"));
    cargo.current_dir(root()).args(["build", "--quiet", "--release", "-p", "firmware", "--target", TARGET]);
    cargo.args(["--bin", name, "--features", features]);
    if let Some(image) = image {
        cargo.env("HALTPROOF_IMAGE", image);
    }
    assert!(cargo.status().unwrap().success(), "{name} is built");
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root().join("target"), PathBuf::from);
    target.join(TARGET).join("release").join(name)
}

/// A board that is emulated.
fn start(binary: &Path) -> Client {
    Target::Emulator.open(Some(binary)).expect("qemu-system-arm")
}

fn ask(board: &mut Client, question: Question) -> Answer {
    board.ask(question, "a test").expect("an answer")
}

/// Scans of an incident that are taken.
fn most() -> u32 {
    if std::env::var("HALTPROOF_HEAVY").is_ok_and(|value| value == "1") { u32::MAX } else { 8_000 }
}

/// Steps an incident on the bench as on the host.
fn stepped(board: &mut Client, station: &Station, bytes: &[u8], name: &str) -> u32 {
    let path = root().join("host-tools/demo").join(format!("{name}.scenario"));
    let scenario = Scenario::read(&std::fs::read_to_string(path).unwrap(), station).unwrap();
    let comparison = Comparison::new(station, bytes).unwrap();
    let mut took = Vec::new();
    let mut after = |scans: u32, board: &mut Client| {
        if scans.is_multiple_of(20) {
            let Answer::Counters { counted, .. } = board.ask(Question::Counters, "a test")? else {
                panic!("counters?")
            };
            took.push(counted.last_us);
        }
        Ok(())
    };
    let compared = with_runner(station, |runner| {
        comparison.run(board, &mut after, |each| {
            let mut scans = 0;
            compare::scenario(station, &scenario, runner, &mut |ran| {
                scans += 1;
                Ok(each(ran)? && scans < most())
            })
        })
    });
    let Compared { scans, stops, parted, .. } = compared.unwrap().unwrap();
    assert_eq!(parted, None, "{name}");
    let Answer::Counters { counted, tally, stack } = ask(board, Question::Counters) else { panic!("counters?") };
    took.sort_unstable();
    let (median, most_of) = (took[took.len() / 2], took[took.len() * 9 / 10]);
    println!("{name}: thousands of instructions a scan: median {median}, 90 of 100 at most {most_of}");
    println!("{name}: {scans} scans, {stops} stops; {counted:?}; {tally:?}; stack {} of {} bytes", stack.1, stack.0);
    assert!(counted.longest_us < BUDGET, "{} thousand instructions", counted.longest_us);
    assert!(counted.rounds > 10 && tally.bad == 0 && stack.1 * 2 < stack.0);
    scans
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn the_bench_steps_as_the_host_does() {
    let mut board = start(&built("bench-mps2-an386", "board-mps2-an386,bench", None));
    for (which, name) in [("drive", "drive-early-carrier"), ("drive", "drive-bypass"), ("return", "return-weak-spring")]
    {
        if name == "drive-bypass" && !std::env::var("HALTPROOF_HEAVY").is_ok_and(|value| value == "1") {
            continue;
        }
        let station = demo(which);
        let bytes = pack(&station, &sources(which)).unwrap().image;
        assert!(matches!(board.tell(&Tell::Step, "a test"), Err(Trouble::Refused(_, Refusal::RunsNot))));
        stepped(&mut board, &station, &bytes, name);
        assert_eq!(board.sender(), Some(Sender::Bench));
        board.make(&Tell::End, "a test").unwrap();
    }
    // A damaged image is not run, and its fault can be asked for.
    let mut damaged = pack(&demo("drive"), &sources("drive")).unwrap().image;
    damaged[900] ^= 1;
    board.load(&damaged).unwrap();
    let Answer::Verdict { fault, .. } = ask(&mut board, Question::Verdict) else { panic!("verdict?") };
    assert_eq!(fault, (2, 5), "the checksum");
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn the_station_runs_its_image_and_knows_no_command() {
    let station = demo("drive");
    let bytes = pack(&station, &sources("drive")).unwrap().image;
    let file = std::env::temp_dir().join(format!("haltproof-{}.image", std::process::id()));
    std::fs::write(&file, &bytes).unwrap();
    let binary = built("station-mps2-an386", "board-mps2-an386", Some(&file));
    std::fs::remove_file(&file).unwrap();
    let mut board = start(&binary);
    let identity = identify(&mut board).unwrap();
    assert_eq!((identity.build, identity.runs), ("station", Some(Marks::of(&Image::open(&bytes).unwrap()))));
    for command in [Tell::Step, Tell::Run, Tell::End, Tell::Begin(9), Tell::Adopt] {
        assert!(matches!(board.tell(&command, "a test"), Err(Trouble::Refused(_, Refusal::Unknown))));
    }
    let mut last = 0;
    while last < 50 {
        let Answer::Verdict { scan, answer, permit, driven, fault, .. } = ask(&mut board, Question::Verdict) else {
            panic!("verdict?")
        };
        // Nothing is connected: it stays stopped, and goes on scanning in time.
        assert_eq!((fault, permit, driven), ((0, 0), false, 0));
        assert!(scan == 0 || answer == station.worst());
        last = scan;
    }
    let Answer::Counters { counted, stack, .. } = ask(&mut board, Question::Counters) else { panic!("counters?") };
    println!("station: {last} scans, {counted:?}; stack {} of {} bytes", stack.1, stack.0);
    assert!(counted.longest_us < 1_000);
}
