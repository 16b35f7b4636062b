//! What the writer writes, the reader reads: both layouts, every style.

use super::read::{Reader, Step};
use super::write::{Clock, Rows, Style, Writer};
use crate::sample::Health;
use crate::simulate::{Scan, Scenario, Simulator, tests::tiny_station};

/// A run with something of everything in it.
const RUN: &str = "last 30 s\nrope starts at 5 m/s
    at 2 s close-force wire breaks for 1 s\nat 4 s rope-height shorted for 1 s\nat 5 s rope-height doubtful for 1 s
    at 6 s other-side silent for 1 s\nat 7 s other-side orders service for 1 s\nat 8 s rope-fork chatters for 1 s
    at 9 s rope to -1 m/s at 3 m/s2\nat 15 s power lost for 3.7 s\nat 22 s rope to 3 m/s";

fn round(style: Style) {
    let station = tiny_station();
    let scenario = Scenario::read(RUN, &station).unwrap();
    let scans: Vec<Scan> = Simulator::new(&station, &scenario, 3).run().collect();
    let mut writer = Writer::new(Vec::new(), &station, style).unwrap();
    for scan in &scans {
        writer.scan(scan.at_us, scan.restarted, &scan.sample).unwrap();
    }
    let bytes = writer.finish().unwrap();
    let mut reader = Reader::open(bytes.as_slice(), &station).unwrap_or_else(|f| panic!("{f:?}"));
    let mut restarted = false;
    let mut expected = scans.iter();
    loop {
        match reader.advance().unwrap_or_else(|f| panic!("{f:?}")) {
            Step::PowerUp => restarted = true,
            Step::End => break,
            Step::Gap { .. } | Step::Recording => panic!("it is one, and whole"),
            Step::Scan { at_us } => {
                let scan = expected.next().unwrap();
                assert_eq!((at_us, restarted), (scan.at_us, scan.restarted));
                restarted = false;
                let (read, wrote) = (reader.sample(), &scan.sample);
                assert_eq!((&read.channels, &read.travel), (&wrote.channels, &wrote.travel), "{at_us}");
                for (r, w) in read.gauges.iter().zip(&wrote.gauges) {
                    assert_eq!(r.health, w.health, "{at_us}");
                    assert!(r.health != Health::Good || r.steps == w.steps, "{at_us} {r:?} {w:?}");
                }
                for (r, w) in read.links.iter().zip(&wrote.links) {
                    assert_eq!(r.fresh, w.fresh, "{at_us}");
                    assert!(!r.fresh || r.order == w.order, "{at_us}");
                }
            }
        }
    }
    assert!(expected.next().is_none());
}

#[test]
fn what_is_written_is_read_again() {
    for rows in [Rows::Scan, Rows::Change] {
        for clock in [Clock::Micro, Clock::Milli, Clock::Second] {
            for (values, named) in [(false, false), (true, false), (false, true), (true, true)] {
                round(Style { rows, clock, values, named, ..Style::default() });
            }
        }
    }
}

/// A day at 100 Hz with some 36 signals, read in constant memory; `-- --ignored`.
#[test]
#[ignore = "takes a minute and a gigabyte of disk"]
fn a_day_is_read() {
    use std::fs::File;
    use std::io::BufReader;
    let mut station = tiny_station();
    let signals =
        station.channels.len() + station.gauge_terminals.len() + station.sources.len() + station.link_terminals.len();
    station.channels.extend((0..36 - signals).map(|i| format!("DI-{}", 60 + i)));
    let scenario = Scenario::read("last 24 h\nrope starts at 5 m/s", &station).unwrap();
    let path = std::env::temp_dir().join(format!("haltproof-day-{}.csv", std::process::id()));
    let mut writer = Writer::new(File::create(&path).unwrap(), &station, Style::default()).unwrap();
    let mut simulator = Simulator::new(&station, &scenario, 1);
    while let Some(scan) = simulator.scan(None) {
        writer.scan(scan.at_us, scan.restarted, &scan.sample).unwrap();
    }
    writer.finish().unwrap();
    let source = BufReader::with_capacity(1 << 18, File::open(&path).unwrap());
    let mut reader = Reader::open(source, &station).unwrap();
    let mut scans = 0;
    while reader.advance().unwrap_or_else(|f| panic!("{f:?}")) != Step::End {
        scans += 1;
    }
    std::fs::remove_file(&path).unwrap();
    assert_eq!(scans, 8_640_000);
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    // The most that the process has held, in KiB; where the system does not tell, nothing is held against it.
    let peak =
        status.lines().find_map(|line| line.strip_prefix("VmHWM:")?.trim().strip_suffix(" kB")?.parse::<u64>().ok());
    assert!(reader.bytes() > 500_000_000);
    assert!(peak.is_none_or(|kib| kib < 64 * 1024), "{peak:?} KiB");
}
