//! Both builds on the emulated board: the bench takes every incident and both campaigns as the host does, within its budget of instructions,
//! and stops with its code whatever is broken; the station boots, answers, and stays stopped without an image.
//!
//! `rustup target add thumbv7em-none-eabihf`, a `qemu-system-arm`, then
//! `cargo test --workspace --test station -- emulator:: --ignored --nocapture`. One instruction takes one nanosecond of the
//! emulator's time (`-icount shift=0`), so that the microseconds of a scan are thousands of instructions.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "a test that panics has failed, as it should; counts are what one wants to read of it"
)]

use cross_tests::effort::by_effort;
use cross_tests::generate::Rng;
use cross_tests::proofs::{demo, sources};
use cross_tests::rows::QUICK;
use firmware::bench::{Command as Tell, Harm, Item};
use firmware::link::{Answer, Question, Refusal, Write, encode};
use host_tools::bench::Trouble;
use host_tools::bench::client::Client;
use host_tools::bench::compare::{self, Compared, Comparison};
use host_tools::bench::identify::{Marks, identify};
use host_tools::bench::target::Target;
use host_tools::bench::tied;
use host_tools::campaign::{Given, campaign};
use host_tools::pack::pack;
use host_tools::runner::with_runner;
use host_tools::simulate::Scenario;
use host_tools::station::Station;
use logic_rules::image::Image;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Mutex;

const TARGET: &str = "thumbv7em-none-eabihf";
/// Most instructions of a scan in both copies, sampling, comparison and log and all, in thousands: a scan in which a stop begins is
/// the longest.
const BUDGET: u16 = 48;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

/// Builds a binary for the board; gives its file, which is of its own for each image.
fn built(name: &str, features: &str, image: Option<&Path>) -> PathBuf {
    // A station with its image and one without are built to the same file, one after the other.
    static ONE: Mutex<()> = Mutex::new(());
    let one = ONE.lock();
    let mut cargo = Command::new(env!("CARGO"));
    cargo.current_dir(root()).args(["build", "--quiet", "--release", "-p", "firmware", "--target", TARGET]);
    cargo.args(["--bin", name, "--features", features]);
    if let Some(image) = image {
        cargo.env("HALTPROOF_IMAGE", image);
    }
    assert!(cargo.status().unwrap().success(), "{name} is built");
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root().join("target"), PathBuf::from);
    let folder = target.join(TARGET).join("release");
    let logs = if features.contains("defmt") { ".logs" } else { "" };
    let own = folder.join(format!("{name}{logs}{}", if image.is_some() { ".with-image" } else { ".alone" }));
    let whole = own.with_extension(format!("part{logs}"));
    std::fs::copy(folder.join(name), &whole).unwrap();
    std::fs::rename(&whole, &own).unwrap();
    drop(one);
    own
}

/// A board that is emulated.
fn start(binary: &Path) -> Client {
    Target::Emulator.open(Some(binary)).expect("qemu-system-arm")
}

fn ask(board: &mut Client, question: Question) -> Answer {
    board.ask(question, "a test").expect("an answer")
}

/// Every how many of the incidents are taken, and how many scans of each: the mornings, and the hour of a bypass, are cut short, but for a release.
fn taken() -> (usize, u32) {
    by_effort([(8, 24_000), (6, 24_000), (1, u32::MAX)])
}

fn bench() -> PathBuf {
    built("bench-mps2-an386", "board-mps2-an386,bench", None)
}

fn packed(which: &str) -> (Station, Vec<u8>) {
    let station = demo(which);
    let bytes = pack(&station, &sources(which)).unwrap().image;
    (station, bytes)
}

/// Scenarios of a station, by their names.
fn scenarios(which: &str, station: &Station) -> Vec<(String, Scenario)> {
    let folder = std::fs::read_dir(root().join("host-tools/demo")).unwrap();
    let mut paths: Vec<PathBuf> = folder.map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let named = |path: PathBuf| {
        let name = path.file_name()?.to_str()?.strip_suffix(".scenario")?.to_owned();
        let read = |path| Scenario::read(&std::fs::read_to_string(path).unwrap(), station).unwrap();
        name.starts_with(which).then(|| (name, read(path)))
    };
    paths.into_iter().filter_map(named).collect()
}

/// Takes every incident of a station on the bench as on the host.
fn incidents(which: &str) {
    let (station, bytes) = packed(which);
    let mut board = start(&bench());
    let comparison = Comparison::new(&station, &bytes).unwrap();
    let (mut all, mut incidents, mut longest) = (0, 0, 0);
    let (every, most) = taken();
    for (name, scenario) in scenarios(which, &station).into_iter().step_by(every) {
        let compared = with_runner(&station, |runner| {
            comparison.run(&mut board, &mut |_| {}, |each| {
                let mut scans = 0;
                compare::scenario(&station, &scenario, runner, &mut |ran| {
                    scans += 1;
                    Ok(each(ran)? && scans < most)
                })
            })
        });
        let Compared { scans, stops, took, parted, .. } = compared.unwrap().unwrap();
        println!("{name}: {scans} scans, {stops} stops, {took:?}");
        assert_eq!(parted, None, "{name}");
        (all, incidents, longest) = (all + scans, incidents + 1, longest.max(took.longest_us));
    }
    let Answer::Counters { counted, tally, stack } = ask(&mut board, Question::Counters) else { panic!("counters?") };
    println!("{which}: {incidents} incidents, {all} scans, {longest} thousand instructions at most; {counted:?}");
    println!("{which}: {tally:?}; stack {} of {} bytes", stack.1, stack.0);
    assert!(incidents * every > 25 && longest < BUDGET, "{longest} thousand instructions");
    assert!(tally.bad == 0 && stack.1 * 2 < stack.0);
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn every_incident_of_the_drive_terminal_is_taken_as_the_host_does() {
    incidents("drive");
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn every_incident_of_the_return_terminal_is_taken_as_the_host_does() {
    incidents("return");
}

/// Every row of a campaign passes, as it does in this process; those of bypasses for a release.
fn every_row(which: &str) {
    let (station, bytes) = packed(which);
    let whole = by_effort([false, false, true]);
    let only: Vec<String> = QUICK.iter().filter(|_| !whole).map(|words| (*words).to_owned()).collect();
    let record = |target: &str, client: &mut Client| {
        let given = Given { station: &station, image: &bytes, target, only: &only };
        with_runner(&station, |runner| campaign(given, client, runner, &mut |_, _| {})).unwrap().unwrap()
    };
    let on_board = record("emulator", &mut start(&bench()));
    let here = record("in-process", &mut Target::InProcess.open(None).unwrap());
    println!("{which}: {} rows, {} scans, {:?}", on_board.rows.len(), on_board.scans, on_board.took);
    assert!(on_board.is_whole() == whole && on_board.rows.len() > 300);
    assert_eq!((on_board.passed, on_board.failed, on_board.not_driven), (on_board.rows.len(), 0, 0));
    assert_eq!(on_board.rows, here.rows);
    assert!(on_board.took.longest_us < BUDGET);
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn every_row_of_the_drive_terminals_campaign_passes_on_the_board() {
    every_row("drive");
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn every_row_of_the_return_terminals_campaign_passes_on_the_board() {
    every_row("return");
}

/// A bench that has taken some scans.
fn running() -> Client {
    let (_, bytes) = packed("drive");
    let mut board = start(&bench());
    board.load(&bytes).unwrap();
    let Ok(Some(Answer::Ran { fault: (0, 0), .. })) = board.tell(&scans(9), "a test") else { panic!("ran?") };
    board
}

fn scans(count: u8) -> Tell {
    let mut body = Write::new();
    Item::Scans(count).write(&mut body);
    Tell::Items(body.done())
}

/// Code of the fault that stands, and what it names; nothing is driven.
fn fault(board: &mut Client) -> (u8, u16) {
    let Answer::Verdict { fault, driven, permit, .. } = ask(board, Question::Verdict) else { panic!("verdict?") };
    assert_eq!((driven, permit), (0, false));
    fault
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn what_breaks_on_the_bench_stops_it_with_its_code() {
    for (harm, came) in [(Harm::Freeze, (17, 0)), (Harm::TurnReadBack, (23, 0))] {
        let mut board = running();
        board.make(&Tell::Harm(harm), "a test").unwrap();
        let Ok(Some(Answer::Ran { fault: told, scans, .. })) = board.tell(&scans(3), "a test") else { panic!("ran?") };
        assert_eq!((told, scans.len()), (came, 0), "{harm:?}");
        assert_eq!(fault(&mut board), came);
    }
    // A loop that hangs is restarted by the watchdog, and drives nothing until it is told to.
    let mut board = running();
    board.make(&Tell::Harm(Harm::Hang), "a test").unwrap();
    assert_eq!(fault(&mut board), (8, 0), "restarted");
    assert!(matches!(board.tell(&scans(1), "a test"), Err(Trouble::Refused(_, Refusal::RunsNot))));
    // A damaged image is not run, and its fault can be asked for.
    let (_, mut bytes) = packed("drive");
    bytes[900] ^= 1;
    board.load(&bytes).unwrap();
    assert_eq!(fault(&mut board), (2, 5), "the checksum");
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn frames_that_are_cut_random_or_damaged_do_nothing() {
    let binary = bench();
    let (_, bytes) = packed("drive");
    let mut board = start(&binary);
    board.load(&bytes).unwrap();
    let mut rng = Rng::new(7);
    for trial in 0..10_000 {
        let mut wire = encode(&scans(1).frame(rng.bits().to_le_bytes()[0])).to_vec();
        if trial % 2 == 0 {
            wire = (0..rng.size(1, 200)).map(|_| rng.bits().to_le_bytes()[0]).collect();
        } else {
            // One bit within the frame, never its end.
            let at = rng.index(wire.len() - 1);
            wire[at] ^= 1 << rng.below(8);
        }
        wire.push(0);
        board.raw(&wire).unwrap();
        // A port that is flooded drops packets.
        if trial % 10 == 9 {
            ask(&mut board, Question::Who);
        }
    }
    let Answer::Counters { counted, tally, .. } = ask(&mut board, Question::Counters) else { panic!("counters?") };
    println!("{tally:?}");
    assert_eq!(counted.scans, 0);
    assert!(tally.bad > 9_900, "{tally:?}");
    assert_eq!(fault(&mut board), (0, 0), "nothing was done, and nothing is amiss");
    let Ok(Some(Answer::Ran { scan: 5, .. })) = board.tell(&scans(5), "a test") else { panic!("ran?") };
    // A line that is cut in a frame falls silent.
    let wire = encode(&scans(1).frame(9));
    board.raw(&wire[..wire.len() / 2]).unwrap();
    std::thread::sleep(std::time::Duration::from_secs(3));
    board.raw(&[0]).unwrap();
    assert_eq!(fault(&mut board), (26, 0));
}

/// Everything of the log that is kept, as it is told over the link.
fn log(board: &mut Client) -> Vec<String> {
    let (mut told, mut lines) = (0, Vec::new());
    loop {
        let Answer::Log { next, first, events } = ask(board, Question::Log(told)) else { panic!("log?") };
        if events.is_empty() {
            assert_eq!(told, next);
            return lines;
        }
        lines.extend(events.iter().map(|event| format!("{event:?}")));
        told = first + u32::try_from(events.len()).unwrap();
    }
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn the_log_is_decoded_on_the_host() {
    let binary = built("bench-mps2-an386", "board-mps2-an386,bench,defmt", None);
    let file = std::env::temp_dir().join(format!("haltproof-{}.log", std::process::id()));
    let mut board = Target::Emulator.open_logged(Some(&binary), Some(&file)).expect("qemu-system-arm");
    let (station, bytes) = packed("drive");
    let (_, scenario) = scenarios("drive-weak-grip", &station).pop().unwrap();
    let comparison = Comparison::new(&station, &bytes).unwrap();
    let compared = with_runner(&station, |runner| {
        comparison.run(&mut board, &mut |_| {}, |each| compare::scenario(&station, &scenario, runner, each))
    });
    assert_eq!(compared.unwrap().unwrap().parted, None);
    board.make(&Tell::Harm(Harm::TurnReadBack), "a test").unwrap();
    board.tell(&scans(3), "a test").unwrap();
    assert_eq!(fault(&mut board), (23, 0));
    let kept = log(&mut board);
    // Its second line takes its time.
    let mut size = 0;
    while size == 0 || std::fs::metadata(&file).unwrap().len() > size {
        size = std::fs::metadata(&file).unwrap().len();
        std::thread::sleep(std::time::Duration::from_millis(500));
    }
    drop(board);
    let mut cargo = Command::new(env!("CARGO"));
    cargo.current_dir(root()).args(["run", "--quiet", "--release", "-p", "firmware", "--features", "decode"]);
    let decoded = cargo.args(["--bin", "decode-log", "--"]).arg(&binary).arg(&file).output().unwrap();
    std::fs::remove_file(&file).unwrap();
    assert!(decoded.status.success(), "{}", String::from_utf8_lossy(&decoded.stderr));
    let text = String::from_utf8(decoded.stdout).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    println!("{} bytes, {} lines; the last: {:#?}", size, lines.len(), &lines[lines.len() - 16..]);
    // What the link still has is how the text ends, word for word; the text has it all.
    assert!(kept.len() > 30 && lines.ends_with(&kept.iter().map(String::as_str).collect::<Vec<_>>()));
    for kind in ["PowerUp", "Trip", "First", "Reset", "Fault, number: 23", "Channels", "Gauge", "Source", "Link"] {
        assert!(text.contains(&format!("kind: {kind}")), "{kind}");
    }
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn a_serial_port_is_a_target_too() {
    let mut emulator = tied::tied("qemu-system-arm");
    emulator.args(["-M", "mps2-an386", "-cpu", "cortex-m4", "-display", "none", "-monitor", "none"]);
    emulator.args(["-icount", "shift=0", "-serial", "pty", "-kernel"]).arg(bench()).stdout(Stdio::piped());
    let mut emulator = emulator.spawn().expect("qemu-system-arm");
    let mut told = String::new();
    BufReader::new(emulator.stdout.take().unwrap()).read_line(&mut told).unwrap();
    let port = told.split_whitespace().find(|word| word.starts_with("/dev/")).expect(&told).to_owned();
    let target: Target = format!("serial:{port}").parse().unwrap();
    let mut board = target.open(None).unwrap();
    let (station, bytes) = packed("return");
    let (_, scenario) = scenarios("return-early", &station).pop().unwrap();
    let comparison = Comparison::new(&station, &bytes).unwrap();
    let compared = with_runner(&station, |runner| {
        comparison.run(&mut board, &mut |_| {}, |each| {
            let mut scans = 0;
            compare::scenario(&station, &scenario, runner, &mut |ran| {
                scans += 1;
                Ok(each(ran)? && scans < 500)
            })
        })
    });
    let compared = compared.unwrap().unwrap();
    drop(board);
    tied::end(&mut emulator);
    assert_eq!((compared.scans, compared.parted), (500, None));
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn a_station_without_an_image_stays_stopped() {
    let mut board = start(&built("station-mps2-an386", "board-mps2-an386", None));
    assert_eq!(identify(&mut board).unwrap().runs, None);
    // Nothing feeds the watchdog: it restarts the board, which then tells what stood before.
    let mut came = (2, 1);
    while came == (2, 1) {
        came = fault(&mut board);
    }
    assert_eq!(came, (8, 2), "no image");
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
    for command in [scans(1), Tell::Run, Tell::End, Tell::Begin(9), Tell::Adopt, Tell::Harm(Harm::Hang)] {
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
    assert!(counted.longest_us < 1_000 && stack.1 < 15_000);
}
