//! The campaign: on both demo stations every row that is driven passes, each way is driven both to trip and not to, and so is what acts on
//! answers (bypasses, resets, refills, what is released later); a plan whose one limit is off by one fails just the rows of that limit.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that panics has failed, as it should; counts are what one wants to read of it"
)]

use cross_tests::effort::{by_effort, is_heavy};
use cross_tests::proofs::{demo, sources};
use cross_tests::rows::QUICK;
use host_tools::bench::compare::{self, Comparison};
use host_tools::bench::target::Target;
use host_tools::campaign::{Given, Record, Result, Row, campaign};
use host_tools::load::load;
use host_tools::pack::pack;
use host_tools::runner::with_runner;
use host_tools::simulate::Scenario;
use host_tools::station::Station;
use host_tools::text::parse::Source;
use host_tools::told::Runner;
use std::collections::BTreeSet;
use std::path::Path;

/// Drives all rows, or those that have one of these words.
fn record(station: &Station, image: &[u8], only: &[&str]) -> Record {
    let mut client = Target::InProcess.open(None).unwrap();
    let only: Vec<String> = only.iter().map(|words| (*words).to_owned()).collect();
    let given = Given { station, image, target: "in-process", only: &only };
    with_runner(station, |runner| campaign(given, &mut client, runner, &mut |_, _| {})).unwrap().unwrap()
}

/// The image of a station some words of whose rule files are others.
fn miscompiled(which: &str, from: &str, to: &str) -> Vec<u8> {
    let mut files: Vec<Source> = sources(which);
    let mut changes = 0;
    for file in &mut files {
        let text = String::from_utf8(file.bytes.clone()).unwrap();
        changes += text.matches(from).count();
        file.bytes = text.replace(from, to).into_bytes();
    }
    assert_eq!(changes, 1, "{from}");
    let station = load(files.clone()).station.expect("another limit makes a station too");
    pack(&station, &files).unwrap().image
}

fn failed(record: &Record) -> Vec<&Row> {
    record.rows.iter().filter(|row| row.result == Result::Failed).collect()
}

fn every_row(which: &str, rows: usize, only: &[&str]) {
    let station = demo(which);
    let record = record(&station, &pack(&station, &sources(which)).unwrap().image, only);
    println!(
        "{which}: {} rows, {} passed, {} not driven, {} scans",
        record.rows.len(),
        record.passed,
        record.not_driven,
        record.scans
    );
    assert_eq!(failed(&record), Vec::<&Row>::new());
    assert_eq!((record.rows.len(), record.passed, record.not_driven), (rows, rows, 0));
    assert!(record.rows.iter().all(|row| row.host == "same"));
    // Each way trips in some row; and, but for those that nothing is just inside of, there is one in which it does not.
    let ways: BTreeSet<&str> = record.rows.iter().map(|row| row.way.as_str()).collect();
    for way in ways {
        let of_way = || record.rows.iter().filter(|row| row.way == way);
        assert!(of_way().any(|row| row.response_scans.is_some()), "{way}");
        let always = ["controller started", "mode unselected"].contains(&way);
        assert!(always || of_way().any(|row| row.response_scans.is_none()), "{way}");
    }
}

/// All rows in the long form of this suite, else those that wait for no bypass.
fn only() -> &'static [&'static str] {
    if is_heavy() { &[] } else { QUICK }
}

#[test]
fn every_row_of_the_drive_terminal_passes() {
    every_row("drive", if is_heavy() { DRIVE } else { DRIVE - BYPASS }, only());
}

#[test]
fn every_row_of_the_return_terminal_passes() {
    every_row("return", if is_heavy() { RETURN } else { RETURN - BYPASS }, only());
}

const DRIVE: usize = 452;
const RETURN: usize = 353;
/// Rows of the bypass of each, which rests half an hour or a whole one before each of its two scripts.
const BYPASS: usize = 10;

/// A station, what its rule file says, what was compiled instead, and the rows that must fail: way and how the stimulus begins.
type Case = (&'static str, &'static str, &'static str, &'static [(&'static str, &'static str)]);

#[test]
fn a_limit_that_is_off_by_one_fails_its_rows_and_no_others() {
    let cases: [Case; 14] = [
        // A tenth of a metre a second is a step. The guard is what asks for the slow order of the other row.
        (
            "drive",
            "when wind above 15 m/s",
            "when wind above 15.1 m/s",
            &[
                ("slow gusty not-slowed", "gusts asks for gusty, and rope runs 255 mm"),
                ("watch gusts tripped", "wind lies at 15.1 m/s, just outside"),
            ],
        ),
        // So are ten newtons.
        (
            "drive",
            "stays between 6200 N",
            "stays between 6190 N",
            &[
                ("watch shut-force tripped", "force-point rises while close-force lies at 6190 N"),
                ("watch shut-force tripped", "close-force leaves its bounds 6 scans"),
            ],
        ),
        // A scan more, and a scan less, of a hold.
        (
            "drive",
            "when rope-tension outside 180 kN to 260 kN\n    unbroken for 500 ms",
            "when rope-tension outside 180 kN to 260 kN\n    unbroken for 510 ms",
            &[
                ("watch tension-off tripped", "rope-tension lies at"),
                ("watch tension-off tripped", "rope-tension lies at"),
            ],
        ),
        (
            "drive",
            "silent for at most 100 ms",
            "silent for at most 90 ms",
            &[
                ("input return-side silent", "no frame comes on L-01 for 10 scans"),
                ("input return-side silent", "no frame comes on L-01 for 11 scans"),
            ],
        ),
        // A pulse of rope: arriving at the old limit is early now.
        (
            "drive",
            "takes 37.424 m to",
            "takes 37.429 m to",
            &[("watch through-bay early", "a carrier at bay-in is at bay-out after")],
        ),
        // One carrier more.
        (
            "return",
            "at most 2 carriers\n    is 0",
            "at most 3 carriers\n    is 0",
            &[
                ("watch carriers-in-curve over", "3 carriers come to curve-in"),
                (
                    "refill of carriers-in-curve by refill-key",
                    "refill-key is pressed while rope runs 20 mm in a span, and 3",
                ),
            ],
        ),
        // A bypass: a scan more of its time and of its rest, a scan less of its rest, a pulse of speed.
        (
            "drive",
            "for at most 5 min, then",
            "for at most 300010 ms, then",
            &[("bypass rope-low-bypass of rope-low-in", "bypass-key is held for 30001 scans")],
        ),
        (
            "drive",
            "not again for 1 h",
            "not again for 3600010 ms",
            &[(
                "bypass rope-low-bypass of rope-low-in",
                "bypass-key is held from the scan on behind 360000 scans of rest",
            )],
        ),
        (
            "return",
            "not again for 30 min",
            "not again for 1799990 ms",
            // What is in use a scan too soon is used up the sooner.
            &[
                ("bypass catch-bypass of catch-fired", "gate-key is held from the last of 180000 scans of rest"),
                ("bypass catch-bypass of catch-fired", "gate-key is held for 18000 scans"),
                ("bypass catch-bypass of catch-fired", "gate-key is held for 18001 scans"),
            ],
        ),
        (
            "return",
            "rope at most 0.8 m/s, for",
            "rope at most 0.85 m/s, for",
            &[("bypass catch-bypass of catch-fired", "rope runs 170 mm in a span")],
        ),
        // A reset and a start, a scan later; what a stop releases later, a scan earlier.
        (
            "drive",
            "when rope still for 2 s",
            "when rope still for 2010 ms",
            &[("reset by reset-key", "after a stop reset-key is let go in scan 201")],
        ),
        ("drive", "no sooner than 10 s", "no sooner than 10010 ms", &[("restart", "the reset acts in scan 1")]),
        (
            "return",
            "at the latest after 20 s",
            "at the latest after 19990 ms",
            &[
                (
                    "stop service, then brake-loop",
                    "platform-stop opens, as on a broken wire on DI-10, and rope goes on",
                ),
                (
                    "stop service, then brake-loop",
                    "platform-stop opens, as on a broken wire on DI-10, and rope goes on",
                ),
            ],
        ),
        // A stretch that its key forgets.
        (
            "drive",
            "and into-bay and through-bay",
            "and through-bay",
            &[
                (
                    "refill of into-bay by refill-key",
                    "refill-key is pressed while rope runs 5 mm in a span, and 2 carriers",
                ),
                (
                    "refill of into-bay by refill-key",
                    "refill-key is pressed while rope runs 5 mm in a span, and 3 carriers",
                ),
                (
                    "refill of into-bay by refill-key",
                    "a carrier at slow-end is under way, and refill-key is pressed while rope runs 5",
                ),
                (
                    "refill of into-bay by refill-key",
                    "refill-key is pressed while rope runs 5 mm in a span, and a carrier is at",
                ),
            ],
        ),
    ];
    // The short form takes one limit of a watch, and one of the reset with the rows of it alone; only a release takes all.
    let every = by_effort([cases.len(), 4, 1]);
    let some = cases.into_iter().enumerate().filter_map(|(i, case)| match i {
        _ if i.is_multiple_of(every) => Some((case, only())),
        10 => Some((case, &["reset "][..])),
        _ => None,
    });
    for ((which, from, to, expected), only) in some {
        let station = demo(which);
        let record = record(&station, &miscompiled(which, from, to), only);
        let failed = failed(&record);
        let told: Vec<String> = failed.iter().map(|row| format!("{}: {}", row.way, row.stimulus)).collect();
        println!("{to:?} instead of {from:?}: {told:#?}");
        assert_eq!(failed.len(), expected.len(), "{to}");
        for (row, (way, stimulus)) in failed.iter().zip(expected) {
            assert_eq!(row.way, *way);
            assert!(row.stimulus.starts_with(stimulus), "{}", row.stimulus);
            assert_ne!(row.host, "same", "the host tells it apart as well");
        }
    }
}

#[test]
fn a_run_names_the_first_scan_in_which_a_miscompiled_plan_parts() {
    let station = demo("drive");
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo/drive-weak-grip.scenario");
    let scenario = Scenario::read(&std::fs::read_to_string(path).unwrap(), &station).unwrap();
    let mut client = Target::InProcess.open(None).unwrap();
    let mut run = |image: &[u8]| {
        let comparison = Comparison::new(&station, image).unwrap();
        let run = |runner: &mut dyn Runner| {
            comparison.run(&mut client, &mut |_| {}, |each| compare::scenario(&station, &scenario, runner, each))
        };
        with_runner(&station, run).unwrap().unwrap()
    };
    let same = run(&pack(&station, &sources("drive")).unwrap().image);
    assert_eq!((same.parted.is_none(), same.stops > 1), (true, true));
    // The grip closes with 5400 N, which this plan would let go.
    let parted = run(&miscompiled("drive", "stays between 6200 N", "stays between 5000 N")).parted.unwrap();
    assert_eq!((parted.what, parted.host.as_str(), parted.target.as_str()), ("answer", "emergency", "nothing"));
    assert_eq!(parted.at_us, 138_000_000, "as the tour of the README shows it");
}
