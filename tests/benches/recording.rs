//! What it costs to replay a recording: beside counting its records with the `csv` crate, and its lines with `wc -l`.
//!
//! `cargo bench -p cross-tests --features benches --bench recording` makes an hour of the drive terminal, with gauges that lie still and with
//! gauges that are noisy; `HALTPROOF_HEAVY=1` makes a day (some minutes, 1.3 GB for a while). Each kind runs in turn, several times, and the least CPU
//! time counts. Absolute times depend on the machine: compare ratios within one call.
#![allow(
    missing_docs,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::cast_precision_loss,
    reason = "a measuring program of the workspace's own"
)]

use cross_tests::effort::is_heavy;
use host_tools::load::load;
use host_tools::lower::lower;
use host_tools::monitor::{MonitorPlan, Monitors};
use host_tools::recording::read::{Reader, Step};
use host_tools::recording::source::open;
use host_tools::recording::write::{Rows, Style, Writer};
use host_tools::replay::event::Event;
use host_tools::replay::replay;
use host_tools::runner::{PlainRunner, with_runner};
use host_tools::simulate::{Scenario, Simulator, record};
use host_tools::station::Station;
use host_tools::text::parse::Source;
use std::fs::{self, File};
use std::io::BufWriter;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const RULES: &str = include_str!("../../host-tools/demo/drive-terminal.rules");
const REQUIREMENTS: &str = include_str!("../../host-tools/demo/drive-terminal.requirements.rules");

/// Times that each kind runs.
const TURNS: usize = 3;

fn station(texts: &[&str]) -> Station {
    let source = |text: &&str| Source { path: "bench".into(), bytes: text.as_bytes().to_vec() };
    load(texts.iter().map(source).collect()).station.expect("the demo is sound")
}

fn made(station: &Station, folder: &Path, name: &str, hours: u32, noise: [&str; 4], rows: Rows) -> PathBuf {
    let [force, height, tension, wind] = noise;
    let text = format!(
        "last {hours} h\nrope starts at 5.0 m/s\ncarriers come round after 60\ncarriers spread by 0.5 m
         gauge close-force pressed from 27.6 m to 29.4 m, rated 7300 N, spread 150 N, noise {force}
         gauge rope-height-in lies at 0 mm, noise {height}\ngauge rope-height-out lies at 0 mm, noise {height}
         gauge rope-tension lies at 220 kN, noise {tension}\ngauge wind lies at 4 m/s, noise {wind}"
    );
    let scenario = Scenario::read(&text, station).expect("a scenario");
    let path = folder.join(name);
    let file = BufWriter::with_capacity(1 << 18, File::create(&path).expect("room for a file"));
    let mut writer = Writer::new(file, station, Style { rows, ..Style::default() }).expect("room for a file");
    record(&mut Simulator::new(station, &scenario, 1), &mut writer, |_| None).expect("room for a file");
    writer.finish().expect("room for a file");
    path
}

/// Nanoseconds that this thread has had a core.
fn own() -> u64 {
    let told = fs::read_to_string("/proc/thread-self/schedstat").expect("Linux tells it");
    told.split(' ').next().and_then(|own| own.parse().ok()).expect("a number first")
}
/// The same of programs that were started and have ended, in steps of 10 ms.
fn of_children() -> u64 {
    let told = fs::read_to_string("/proc/self/stat").expect("Linux tells it");
    let behind_name = told.rsplit_once(") ").expect("a name in brackets").1;
    let ticks = behind_name.split(' ').skip(13).take(2).filter_map(|ticks| ticks.parse::<u64>().ok());
    ticks.sum::<u64>() * 10_000_000
}

fn wc(path: &Path) -> u64 {
    let before = of_children();
    // Many times over, since ticks are coarse.
    for _ in 0..10 {
        let done = Command::new("wc").arg("-l").arg(path).stdout(Stdio::null()).status().expect("wc is there");
        assert!(done.success());
    }
    (of_children() - before) / 10
}
fn records(path: &Path) -> u64 {
    let before = own();
    let file = File::open(path).expect("it was written");
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(file);
    let (mut record, mut count) = (csv::ByteRecord::new(), 0_u64);
    while reader.read_byte_record(&mut record).expect("it is CSV") {
        count += 1;
    }
    assert!(count > 1_000);
    own() - before
}
fn parsed(station: &Station, path: &Path) -> u64 {
    let before = own();
    let mut reader = Reader::open(open(path).expect("it was written").bytes, station).expect("it is a recording");
    while reader.advance().expect("it is a recording") != Step::End {}
    own() - before
}
fn replayed(station: &Station, path: &Path) -> u64 {
    let before = own();
    let mut reader = Reader::open(open(path).expect("it was written").bytes, station).expect("it is a recording");
    let summary =
        with_runner(station, |runner| replay(station, &mut reader, runner, &mut |_: &Event| Ok(()), &mut |_| {}));
    assert!(summary.expect("a plan").expect("a recording").scans > 1_000);
    own() - before
}
/// The same with every scan stepped.
fn stepped(station: &Station, path: &Path) -> u64 {
    let before = own();
    let (program, monitors) = (lower(station), MonitorPlan::new(station));
    let (plan, raw) = (program.plan().expect("a plan"), monitors.plan().expect("a plan"));
    let judges = Monitors::start(station, &monitors, &raw).expect("room");
    let mut runner = PlainRunner::power_up(&program, &plan).expect("room").judging(station, judges);
    let mut reader = Reader::open(open(path).expect("it was written").bytes, station).expect("it is a recording");
    let summary = replay(station, &mut reader, &mut runner, &mut |_: &Event| Ok(()), &mut |_| {});
    assert!(summary.expect("a recording").scans > 1_000);
    own() - before
}

fn main() {
    let hours = if is_heavy() { 24 } else { 1 };
    let station = station(&[RULES, REQUIREMENTS]);
    let folder = std::env::temp_dir().join(format!("haltproof-bench-{}", std::process::id()));
    fs::create_dir_all(&folder).expect("room for a folder");
    let still = ["0 N", "0 mm", "0 kN", "0 m/s"];
    let noisy = ["20 N", "1.5 mm", "0.5 kN", "0.6 m/s"];
    println!(
        "{hours} h of the drive terminal, least CPU time of {TURNS}; ratios are to counting the records of the same file with the csv crate"
    );
    println!(
        "{:<16}{:>8}{:>12}{:>12}{:>10}{:>10}{:>10}{:>10}{:>13}{:>10}{:>10}",
        "",
        "MB",
        "csv ns/row",
        "wc ns/row",
        "read",
        "stepped",
        "replay",
        "read/csv",
        "stepped/csv",
        "all/csv",
        "all/wc"
    );
    for (name, noise, rows) in
        [("still", still, Rows::Scan), ("noisy", noisy, Rows::Scan), ("noisy changes", noisy, Rows::Change)]
    {
        let path = made(&station, &folder, &name.replace(' ', "-"), hours, noise, rows);
        let mut least = [u64::MAX; 5];
        for _ in 0..TURNS {
            let now = [
                records(&path),
                wc(&path),
                parsed(&station, &path),
                replayed(&station, &path),
                stepped(&station, &path),
            ];
            for (least, now) in least.iter_mut().zip(now) {
                *least = (*least).min(now);
            }
        }
        let bytes = fs::metadata(&path).expect("it was written").len();
        let scans = f64::from(hours) * 360_000.0;
        let [csv, wc, read, all, steps] = least.map(|ns| ns as f64);
        println!(
            "{name:<16}{:>8.1}{:>12.1}{:>12.1}{:>10.1}{:>10.1}{:>10.1}{:>10.3}{:>13.3}{:>10.3}{:>10.2}",
            bytes as f64 / 1e6,
            csv / scans,
            wc / scans,
            read / scans,
            steps / scans,
            all / scans,
            read / csv,
            steps / csv,
            all / csv,
            all / wc
        );
        fs::remove_file(&path).expect("it was written");
    }
    fs::remove_dir_all(&folder).expect("it is empty");
}
