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

use cross_tests::plant::{Ran, run, show};
use cross_tests::proofs::{demo, sources};
use firmware::Sample;
use firmware::bench::{Command as Tell, PIECE};
use firmware::link::{Answer, Decoder, Frame, Question, Refusal, Sender, encode};
use host_tools::pack::pack;
use host_tools::runner::with_runner;
use host_tools::simulate::Scenario;
use host_tools::station::Station;
use logic_rules::image::Image;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

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
struct Board {
    child: Child,
    bytes: Receiver<u8>,
    decoder: Decoder,
    sequence: u8,
}

impl Drop for Board {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Board {
    fn start(binary: &Path) -> Self {
        let mut child = Command::new("qemu-system-arm")
            .args(["-M", "mps2-an386", "-cpu", "cortex-m4", "-display", "none", "-monitor", "none"])
            .args(["-icount", "shift=0", "-serial", "stdio", "-kernel"])
            .arg(binary)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("qemu-system-arm");
        let mut from = child.stdout.take().unwrap();
        let (to, bytes) = channel();
        std::thread::spawn(move || {
            let mut buffer = [0; 256];
            while let Ok(count @ 1..) = from.read(&mut buffer) {
                if buffer[..count].iter().any(|byte| to.send(*byte).is_err()) {
                    return;
                }
            }
        });
        Self { child, bytes, decoder: Decoder::new(), sequence: 0 }
    }
    fn send(&mut self, frame: &Frame) {
        let to = self.child.stdin.as_mut().unwrap();
        to.write_all(&encode(frame)).unwrap();
        to.flush().unwrap();
    }
    /// The answer to a frame, if it comes within a while.
    fn ask(&mut self, frame: &Frame, sender: Sender) -> Option<Answer> {
        self.send(frame);
        loop {
            let byte = self.bytes.recv_timeout(Duration::from_secs(20)).ok()?;
            if let Some(found) = self.decoder.take(byte) {
                let found = found.expect("a whole frame");
                assert_eq!((found.sender, found.sequence), (sender, frame.sequence));
                return Some(Answer::read(&found).expect("an answer"));
            }
        }
    }
    fn tell(&mut self, command: &Tell) -> Answer {
        self.sequence = self.sequence.wrapping_add(1);
        let frame = command.frame(self.sequence);
        self.ask(&frame, Sender::Bench).expect("an answer")
    }
    fn question(&mut self, question: Question, sender: Sender) -> Answer {
        self.sequence = self.sequence.wrapping_add(1);
        let frame = question.frame(self.sequence);
        self.ask(&frame, sender).expect("an answer")
    }
    fn load(&mut self, image: &[u8]) {
        assert_eq!(self.tell(&Tell::Begin(u32::try_from(image.len()).unwrap())), Answer::Done);
        let mut offset = 0;
        for piece in image.chunks(PIECE) {
            assert_eq!(self.tell(&Tell::Piece(offset, piece.iter().copied().collect())), Answer::Done);
            offset += u32::try_from(piece.len()).unwrap();
        }
        assert_eq!(self.tell(&Tell::Run), Answer::Done);
    }
}

/// Scans of an incident that are taken.
fn most() -> u32 {
    if std::env::var("HALTPROOF_HEAVY").is_ok_and(|value| value == "1") { u32::MAX } else { 8_000 }
}

/// Empty inputs of a station.
fn still(image: &Image<'_>) -> Sample {
    let (wiring, mut sample) = (image.wiring(), Sample::default());
    sample.channels.resize(wiring.channels.len(), false).unwrap();
    sample.currents.resize(wiring.gauges.len(), 0).unwrap();
    sample.pulses.resize(wiring.sources.len(), 0).unwrap();
    sample.links.resize_default(wiring.links.len()).unwrap();
    sample
}

/// Steps an incident on the bench as on the host.
fn stepped(board: &mut Board, station: &Station, bytes: &[u8], name: &str) -> u32 {
    let path = root().join("host-tools/demo").join(format!("{name}.scenario"));
    let scenario = Scenario::read(&std::fs::read_to_string(path).unwrap(), station).unwrap();
    let image = Image::open(bytes).unwrap();
    let (mut shown, mut scans, mut stopped) = (still(&image), 0, 0);
    let mut sent: Option<[Tell; 4]> = None;
    let mut took = Vec::new();
    with_runner(station, |runner| {
        run(station, &scenario, runner, &mut |ran: &Ran<'_>| {
            show(&mut shown, station, &image, ran.scan);
            let inputs = Tell::inputs(&shown);
            for (i, command) in inputs.iter().enumerate() {
                // What is as it was need not be sent.
                if sent.as_ref().is_none_or(|sent| sent[i] != *command) {
                    assert_eq!(board.tell(command), Answer::Done);
                }
            }
            sent = Some(inputs);
            let answer = board.tell(&Tell::Step);
            scans += 1;
            if scans % 20 == 0 {
                let Answer::Counters { counted, .. } = board.question(Question::Counters, Sender::Bench) else {
                    panic!("counters?")
                };
                took.push(counted.last_us);
            }
            let Answer::Verdict { scan, answer, permit, reset, on, driven, fault } = answer else {
                panic!("{answer:?}")
            };
            assert_eq!(fault, (0, 0), "{name}, scan {scans}");
            let off = u64::from(!on) & ((1 << station.outputs.len()) - 1);
            let told = ran.told;
            assert_eq!(
                (scan, answer, permit, reset, off),
                (scans, told.answer, told.permit, told.reset, told.off),
                "{name}, scan {scans}"
            );
            // Nobody presses the emulated button.
            assert_eq!(driven, 0, "a bench that is not enabled drives nothing");
            stopped += u32::from(answer >= station.first_stop());
            if ran.adopts {
                assert_eq!(board.tell(&Tell::Adopt), Answer::Done);
            }
            scans < most()
        });
    })
    .unwrap();
    let Answer::Counters { counted, tally, stack } = board.question(Question::Counters, Sender::Bench) else {
        panic!("counters?")
    };
    took.sort_unstable();
    let (median, most_of) = (took[took.len() / 2], took[took.len() * 9 / 10]);
    println!("{name}: thousands of instructions a scan: median {median}, 90 of 100 at most {most_of}");
    println!(
        "{name}: {scans} scans, {stopped} stopped; {counted:?}; {tally:?}; stack {} of {} bytes",
        stack.1, stack.0
    );
    assert!(counted.longest_us < BUDGET, "{} thousand instructions", counted.longest_us);
    assert!(counted.rounds > 10 && tally.bad == 0 && stack.1 * 2 < stack.0);
    scans
}

#[test]
#[ignore = "needs qemu-system-arm and the target of the board"]
fn the_bench_steps_as_the_host_does() {
    let mut board = Board::start(&built("bench-mps2-an386", "board-mps2-an386,bench", None));
    for (which, name) in [("drive", "drive-early-carrier"), ("drive", "drive-bypass"), ("return", "return-weak-spring")]
    {
        if name == "drive-bypass" && !std::env::var("HALTPROOF_HEAVY").is_ok_and(|value| value == "1") {
            continue;
        }
        let station = demo(which);
        let bytes = pack(&station, &sources(which)).unwrap().image;
        assert_eq!(board.tell(&Tell::Step), Answer::Refused(Refusal::RunsNot));
        board.load(&bytes);
        let Answer::Who(who) = board.question(Question::Who, Sender::Bench) else { panic!("who?") };
        assert_eq!((who.runs, who.checksum), (true, Image::open(&bytes).unwrap().checksum()));
        stepped(&mut board, &station, &bytes, name);
        assert_eq!(board.tell(&Tell::End), Answer::Done);
    }
    // A damaged image is not run, and its fault can be asked for.
    let mut damaged = pack(&demo("drive"), &sources("drive")).unwrap().image;
    damaged[900] ^= 1;
    board.load(&damaged);
    let Answer::Verdict { fault, .. } = board.question(Question::Verdict, Sender::Bench) else { panic!("verdict?") };
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
    let mut board = Board::start(&binary);
    let Answer::Who(who) = board.question(Question::Who, Sender::Station) else { panic!("who?") };
    assert_eq!((who.runs, who.digest), (true, *Image::open(&bytes).unwrap().digest()));
    for command in [Tell::Step, Tell::Run, Tell::End, Tell::Begin(9), Tell::Adopt] {
        assert_eq!(board.ask(&command.frame(9), Sender::Station), Some(Answer::Refused(Refusal::Unknown)));
    }
    let mut last = 0;
    while last < 50 {
        let Answer::Verdict { scan, answer, permit, driven, fault, .. } =
            board.question(Question::Verdict, Sender::Station)
        else {
            panic!("verdict?")
        };
        // Nothing is connected: it stays stopped, and goes on scanning in time.
        assert_eq!((fault, permit, driven), ((0, 0), false, 0));
        assert!(scan == 0 || answer == station.worst());
        last = scan;
    }
    let Answer::Counters { counted, stack, .. } = board.question(Question::Counters, Sender::Station) else {
        panic!("counters?")
    };
    println!("station: {last} scans, {counted:?}; stack {} of {} bytes", stack.1, stack.0);
    assert!(counted.longest_us < 1_000);
}
