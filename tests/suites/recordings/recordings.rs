//! Recordings of random stations: what is written is read again, in every style, and a replay tells
//! of every stop that the rules raised.
#![allow(
    clippy::indexing_slicing,
    clippy::expect_used,
    clippy::print_stdout,
    clippy::panic,
    reason = "counts are what one wants to read of this suite; a difference is a failed test"
)]

use cross_tests::generate::{History, Rng, case};
use cross_tests::reading::readings;
use cross_tests::runner::Replayed;
use host_tools::recording::read::{self, ReadFault, Reader, Scans, Step, Top};
use host_tools::recording::sequence::Sequence;
use host_tools::recording::write::{Clock, Rows, Style, Writer};
use host_tools::replay::event::{Event, What};
use host_tools::replay::{Seen, Sink, replay};
use host_tools::runner::with_runner;
use host_tools::sample::{Health, Sample};
use host_tools::station::{InputKind, Station};
use host_tools::stays::{Room, Stays};
use host_tools::told::{Runner, Scanned};

const STATIONS: u64 = 60;
const SCANS: u64 = 1_000;

/// A lively history from power-up, as recorded.
fn history(station: &Station, history: &mut History) -> Vec<Sample> {
    let (_, make) = readings()[0];
    let mut runner = Replayed::new(station, make);
    let mut samples = Vec::new();
    for scan in 0..SCANS {
        let last = (scan > 0).then_some(&runner.told);
        let sample = history.next_sample(last);
        runner.scan(&sample);
        samples.push(sample);
    }
    samples
}

fn written(station: &Station, samples: &[Sample], style: Style) -> Vec<u8> {
    let mut writer = Writer::new(Vec::new(), station, style).expect("memory takes it");
    for (scan, sample) in samples.iter().enumerate() {
        let at = u64::try_from(scan).expect("few scans") * u64::from(station.scan_us);
        writer.scan(at, scan == 0, sample).expect("memory takes it");
    }
    writer.finish().expect("memory takes it")
}

/// Greatest step of each gauge terminal.
fn tops(station: &Station) -> Vec<u32> {
    let mut tops = vec![0; station.gauge_terminals.len()];
    for input in &station.inputs {
        if let InputKind::Gauge(gauge) = &input.kind {
            tops[gauge.terminal] = gauge.top;
        }
    }
    tops
}

fn same(wrote: &Sample, read: &Sample, tops: &[u32]) -> bool {
    let gauges = wrote.gauges.iter().zip(&read.gauges).zip(tops);
    let links = wrote.links.iter().zip(&read.links);
    wrote.channels == read.channels
        && wrote.travel == read.travel
        && links.into_iter().all(|(w, r)| w.fresh == r.fresh && (!w.fresh || w.order == r.order))
        && gauges.into_iter().all(|((w, r), top)| {
            // No trusted current reaches a first or last step that is more than half outside.
            let end = w.steps == 0 || w.steps == *top;
            let near = w.steps.abs_diff(r.steps) <= u32::from(end);
            w.health == r.health && (near || w.health != Health::Good)
        })
}

#[test]
fn what_is_written_is_read() {
    let mut rows = 0;
    for seed in 0..STATIONS {
        let case = case(seed);
        let station = &case.station;
        let samples = history(station, &mut History::new(&case, seed ^ 0xD1CE));
        let style = Style {
            rows: if seed % 2 == 0 { Rows::Scan } else { Rows::Change },
            clock: [Clock::Micro, Clock::Milli, Clock::Second][usize::try_from(seed % 3).expect("small")],
            powers_up: true,
            values: seed % 5 == 0,
            named: seed % 7 == 0,
            notes: vec!["a note".into()],
        };
        let bytes = written(station, &samples, style.clone());
        let mut reader =
            Reader::open(bytes.as_slice(), station).unwrap_or_else(|fault| panic!("seed {seed}, {style:?}: {fault}"));
        let tops = tops(station);
        let mut expected = samples.iter().enumerate();
        loop {
            match reader.advance() {
                Err(fault) => panic!("seed {seed}, {style:?}: {fault}"),
                Ok(Step::End) => break,
                Ok(Step::PowerUp | Step::Gap { .. } | Step::Recording) => {}
                Ok(Step::Scan { .. }) => {
                    let (scan, wrote) = expected.next().expect("no more than was written");
                    let read = reader.sample();
                    assert!(
                        same(wrote, read, &tops),
                        "seed {seed}, scan {scan}, {style:?}\nwrote {wrote:?}\nread  {read:?}"
                    );
                    rows += 1;
                }
            }
        }
        assert_eq!(expected.next(), None, "seed {seed}, {style:?}");
    }
    println!("{rows} scans of {STATIONS} stations read as they were written");
}

#[test]
fn a_replay_tells_of_every_stop_and_reset() {
    let (_, make) = readings()[1];
    let (mut stops, mut resets, mut adopted) = (0, 0, 0);
    for seed in 0..STATIONS {
        let case = case(seed);
        let station = &case.station;
        let samples = history(station, &mut History::new(&case, seed ^ 0xD1CE));
        let style = Style { powers_up: true, ..Style::default() };
        let bytes = written(station, &samples, style);
        let mut reader = Reader::open(bytes.as_slice(), station).unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
        let mut counting = Counting {
            inner: Replayed::new(station, make),
            first_stop: station.first_stop(),
            stood: false,
            stops: 0,
            resets: 0,
        };
        let (mut told_stops, mut told_resets) = (0, 0);
        let mut sink = |event: &Event| {
            match &event.what {
                What::Stop { causes, .. } => {
                    assert!(!causes.is_empty(), "seed {seed}: {event:?}");
                    told_stops += 1;
                }
                What::Reset => told_resets += 1,
                What::Adopted => adopted += 1,
                _ => {}
            }
            Ok(())
        };
        replay(station, &mut reader, &mut counting, &mut sink, &mut |_| {})
            .unwrap_or_else(|broke| panic!("seed {seed}: {broke:?}"));
        assert_eq!((told_stops, told_resets), (counting.stops, counting.resets), "seed {seed}");
        stops += told_stops;
        resets += told_resets;
    }
    println!("{stops} stops, {resets} resets, {adopted} times adopted anew");
    assert!(stops > STATIONS && resets > STATIONS, "{stops} stops, {resets} resets");
}

/// A recording of which each row is read and each scan judged by itself, unless it is to be at once where they repeat; those are counted.
struct Counted<'r, 's> {
    reader: Reader<'s, &'r [u8]>,
    at_once: bool,
    passed: u32,
}

impl Scans for Counted<'_, '_> {
    fn advance(&mut self) -> Result<Step, ReadFault> {
        self.reader.advance()
    }
    fn sample(&self) -> &Sample {
        self.reader.sample()
    }
    fn repeats(&mut self) -> bool {
        self.at_once && self.reader.repeats()
    }
    fn pass(&mut self, stays: Stays, rooms: &[Room]) -> u32 {
        let scans = self.reader.pass(stays, rooms);
        self.passed += scans;
        scans
    }
    fn top(&self) -> &Top {
        self.reader.top()
    }
    fn bytes(&self) -> u64 {
        self.reader.bytes()
    }
    fn counted(&self) -> read::Counted {
        self.reader.counted()
    }
    fn name(&self) -> Option<&str> {
        None
    }
}

/// What a replay told, scan by scan.
#[derive(Debug, Default)]
struct Heard {
    events: Vec<Event>,
    scans: Vec<(u64, Sample, Option<Scanned>, bool)>,
}

impl Sink for Heard {
    fn event(&mut self, event: &Event) -> std::io::Result<()> {
        self.events.push(event.clone());
        Ok(())
    }
    fn scan(&mut self, seen: &Seen<'_>) -> std::io::Result<()> {
        self.scans.push((seen.at_us, seen.sample.clone(), seen.scanned.cloned(), seen.counterfactual));
        Ok(())
    }
}

/// Rows that repeat are read, judged and told at once, and nobody notices.
#[test]
fn what_repeats_is_told_as_if_it_were_read_row_by_row() {
    let mut at_once = [0; 2];
    for seed in 0..24 {
        let case = case(seed);
        // Made by chance, what is assumed is broken in nearly every scan, and then each of them is told by itself.
        let mut station = case.station.clone();
        station.assumptions.clear();
        if seed % 3 > 0 {
            station.requirements.clear();
        }
        let station = &station;
        let mut samples = history(station, &mut History::new(&case, seed ^ 0xD1CE));
        samples.truncate(150);
        let mut chance = Rng::new(seed);
        let rows = if seed % 4 == 0 { Rows::Change } else { Rows::Scan };
        // Rope that runs evenly; in a list of changes it is a row a scan unless it stands.
        let most = if rows == Rows::Change { 1 } else { 40 };
        let steady: Vec<i32> =
            samples[0].travel.iter().map(|_| i32::try_from(chance.below(most)).expect("small")).collect();
        let samples: Vec<Sample> = samples
            .into_iter()
            .flat_map(|mut sample| {
                let times = [1, 1, 1, 2, 20, 120, 400][usize::try_from(chance.below(7)).expect("small")];
                if times > 2 {
                    sample.travel.clone_from(&steady);
                    sample.links.iter_mut().for_each(|frame| frame.fresh = times > 20 && rows == Rows::Scan);
                }
                std::iter::repeat_n(sample, times)
            })
            .collect();
        let bytes = written(station, &samples, Style { rows, powers_up: seed % 2 == 0, ..Style::default() });
        let heard = |at_once: bool| {
            let reader = Reader::open(bytes.as_slice(), station).unwrap_or_else(|fault| panic!("seed {seed}: {fault}"));
            let (mut reader, mut heard) = (Counted { reader, at_once, passed: 0 }, Heard::default());
            let told = with_runner(station, |runner| replay(station, &mut reader, runner, &mut heard, &mut |_| {}));
            let summary = told.expect("a plan").unwrap_or_else(|broke| panic!("seed {seed}: {broke:?}"));
            (summary, heard.events, heard.scans, reader.passed)
        };
        let (whole, row_by_row) = (heard(true), heard(false));
        assert_eq!((&whole.0, &whole.1), (&row_by_row.0, &row_by_row.1), "seed {seed}");
        let differ = whole.2.iter().zip(&row_by_row.2).position(|(one, other)| one != other);
        assert_eq!((differ, whole.2.len(), row_by_row.2.len()), (None, samples.len(), samples.len()), "seed {seed}");
        at_once[usize::from(rows == Rows::Change)] += whole.3;
    }
    println!("{} scans of rows a scan came at once, {} of rows a change", at_once[0], at_once[1]);
    assert!(at_once[0] > 20_000 && at_once[1] > 500, "{at_once:?}");
}

/// A recording in two files is that recording; without a piece between them it has a gap, and what lies before it is as it was.
#[test]
fn files_in_order_are_one_recording() {
    let (_, make) = readings()[1];
    let folder = std::env::temp_dir().join(format!("haltproof-recordings-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("room for a folder");
    for seed in 0..6 {
        let case = case(seed);
        let station = &case.station;
        let samples = history(station, &mut History::new(&case, seed ^ 0xD1CE));
        let style = Style { powers_up: true, ..Style::default() };
        let bytes = written(station, &samples, style);
        let text = String::from_utf8(bytes).expect("it is text");
        let body =
            text.match_indices("\r\n").nth(5).map(|(at, _)| at + 2).expect("it has lines at the top and a header row");
        let (head, rows) = text.split_at(body);
        let rows: Vec<&str> = rows.split_inclusive('\n').collect();
        let file = |name: &str, rows: &[&str], starts: &str| {
            let path = folder.join(name);
            std::fs::write(&path, format!("{}{}", head.replace("power-up", starts), rows.concat())).expect("room");
            path
        };
        let events = |files: &[std::path::PathBuf]| {
            let mut told = Vec::new();
            let mut reader =
                Sequence::open(station, files, None, false).unwrap_or_else(|(name, fault)| panic!("{name}: {fault}"));
            let mut runner = Replayed::new(station, make);
            let mut sink = |event: &Event| {
                told.push(event.clone());
                Ok(())
            };
            let summary = replay(station, &mut reader, &mut runner, &mut sink, &mut |_| {})
                .unwrap_or_else(|broke| panic!("{broke:?}"));
            (told, summary)
        };
        let whole = events(&[file("whole.csv", &rows, "power-up")]);
        let first = file("first.csv", &rows[..400], "power-up");
        let mut seam = events(&[first.clone(), file("second.csv", &rows[400..], "running")]);
        seam.0.retain(|event| !matches!(event.what, What::Recording { .. }));
        assert_eq!(seam, whole, "seed {seed}");
        let gap = events(&[first, file("later.csv", &rows[450..], "running")]);
        assert_eq!((gap.1.gaps, gap.1.status()), (1, 1));
        assert!(gap.1.cannot_tell.iter().any(|what| what.contains("a gap or a clock step")), "{:?}", gap.1.cannot_tell);
        let before =
            |events: &[Event]| -> Vec<Event> { events.iter().filter(|event| event.scan < 400).cloned().collect() };
        assert_eq!(before(&gap.0), before(&whole.0), "seed {seed}");
    }
    std::fs::remove_dir_all(&folder).expect("it was made");
}

/// Counts stops and resets beside the replay.
struct Counting<'s> {
    inner: Replayed<'s>,
    first_stop: u8,
    stood: bool,
    stops: u64,
    resets: u64,
}

impl Runner for Counting<'_> {
    fn scan(&mut self, sample: &Sample) -> &host_tools::told::Scanned {
        let scanned = self.inner.scan(sample);
        let stands = scanned.stands >> self.first_stop != 0;
        self.stops += u64::from(stands && !self.stood);
        self.resets += u64::from(scanned.reset);
        self.stood = stands && !scanned.reset;
        scanned
    }
    fn restart(&mut self) {
        self.stood = false;
        self.inner.restart();
    }
    fn adopt(&mut self) {
        self.stood = false;
        self.inner.adopt();
    }
}
