//! Replays of small recordings with a runner that is told what to say.

use std::fmt::Write as _;

use super::event::{Event, What};
use super::text::{Lines, Paint};
use super::{Broke, Summary, replay};
use crate::json::Timeline;
use crate::recording::read::Reader;
use crate::sample::Sample;
use crate::station::Station;
use crate::station::ways::{Source, Way, ways};
use crate::testing::small_station;
use crate::told::{Judged, Runner, Scanned};

mod overdue;
mod unknown;

/// Says in each scan what a script says; remembers where it was adopted and restarted.
struct Scripted<F> {
    script: F,
    scan: u64,
    latched: Option<u16>,
    adopted: Vec<u64>,
    restarted: Vec<u64>,
    out: Scanned,
}

impl<F: FnMut(u64, &mut Scanned)> Runner for Scripted<F> {
    fn scan(&mut self, _: &Sample) -> &Scanned {
        self.scan += 1;
        self.out = Scanned::default();
        (self.script)(self.scan, &mut self.out);
        if let Some(first) = self.out.trips.first() {
            self.latched.get_or_insert(*first);
        }
        if let Some(way) = self.latched {
            self.out.first = vec![way];
            self.out.stands |= 1 << 3;
            self.out.off = 1;
        }
        if self.out.reset {
            self.latched = None;
        }
        &self.out
    }
    fn restart(&mut self) {
        self.restarted.push(self.scan);
        self.latched = None;
    }
    fn adopt(&mut self) {
        self.adopted.push(self.scan);
        self.latched = None;
    }
}

fn scripted<F: FnMut(u64, &mut Scanned)>(script: F) -> Scripted<F> {
    Scripted { script, scan: 0, latched: None, adopted: vec![], restarted: vec![], out: Scanned::default() }
}

/// A recording from power-up whose rope runs as told, mm in each scan.
fn recording(starts: &str, scans: u64, rope: impl Fn(u64) -> i64) -> String {
    let mut text = format!(
        "# haltproof recording 1\n# rows: scan\n# time: ms\n# starts: {starts}\n\
         time,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n"
    );
    for scan in 1..=scans {
        let _ok = writeln!(text, "{},0,1,1,12,{},0", scan * 10, rope(scan));
    }
    text
}

fn way_of(station: &Station, source: Source, way: Way) -> u16 {
    let at = ways(station).iter().position(|w| w.source == source && w.way == way);
    u16::try_from(at.unwrap()).unwrap()
}

fn run<F: FnMut(u64, &mut Scanned)>(station: &Station, text: &str, runner: &mut Scripted<F>) -> (Vec<Event>, Summary) {
    let mut reader = Reader::open(text.as_bytes(), station).unwrap();
    let mut events = Vec::new();
    let mut sink = |event: &Event| {
        events.push(event.clone());
        Ok(())
    };
    let summary = replay(station, &mut reader, runner, &mut sink, &mut |_| {}).unwrap();
    (events, summary)
}

fn kinds(events: &[Event]) -> Vec<String> {
    let kind = |event: &Event| {
        let value = serde_json::to_value(event).unwrap();
        let mark = if event.counterfactual { "?" } else { "" };
        format!("{}{mark}@{}", value["event"].as_str().unwrap(), event.scan)
    };
    events.iter().map(kind).collect()
}

#[test]
fn a_stop_that_the_recording_made() {
    let station = small_station();
    let early = way_of(&station, Source::Watch(0), Way::Early);
    // Stopped at scan 100, recorded standstill from scan 300, reset at scan 500.
    let text = recording("power-up", 700, |s| if s < 300 { 10 } else { 0 });
    let mut runner = scripted(|scan, out| {
        if scan == 100 {
            out.trips.push(early);
            out.judged.push(Judged { watch: 0, measured: 2_900 });
        }
        out.reset = scan == 500;
    });
    let (events, summary) = run(&station, &text, &mut runner);
    assert_eq!(kinds(&events), ["begins@1", "stop@100", "standstill@310", "reset@500"]);
    let What::Stop { causes, inputs, off, answer } = &events[1].what else {
        panic!("no stop");
    };
    assert_eq!((answer.as_str(), off.as_slice()), ("emergency", &["brake".to_owned()][..]));
    assert_eq!(causes[0].words, "a carrier came early from arrive to leave");
    let margin = causes[0].margin.clone().unwrap();
    assert_eq!((margin.measured, margin.limit, margin.left), (2_900_000, 3_000_000, -100_000));
    let concerned: Vec<String> =
        inputs.iter().filter(|i| i.concerned).map(|i| format!("{} {}", i.name, i.value)).collect();
    assert_eq!(concerned, ["arrive clear", "leave covered", "rope 1 m/s"]);
    assert_eq!((summary.stops, summary.not_made, summary.resets), (1, 0, 1));
    assert_eq!(summary.watches[0].above_lower, Some(-100_000));
    assert_eq!(summary.status(), 0);
}

#[test]
fn the_stop_of_a_start_counts_where_the_recording_runs_on() {
    let station = small_station();
    let start = way_of(&station, Source::PowerUp, Way::Started);
    for (runs, counted) in [(10, (1, 1)), (0, (0, 0))] {
        let mut runner = scripted(|scan, out| {
            if scan == 1 {
                out.trips.push(start);
            }
        });
        let (_, summary) = run(&station, &recording("power-up", 900, |_| runs), &mut runner);
        assert_eq!((summary.stops, summary.not_made), counted);
    }
}

#[test]
fn time_without_power_is_no_time_of_the_recording() {
    let station = small_station();
    let rest = recording("power-up", 100, |_| 0);
    let later: Vec<String> = (1..=100).map(|scan| format!("{},0,1,1,12,0,0\n", 3_600_000 + scan * 10)).collect();
    let text = format!("{rest}# power-up\n{}", later.concat());
    let (_, summary) = run(&station, &text, &mut scripted(|_, _| {}));
    assert_eq!((summary.scans, summary.lasted_us), (200, 2 * 990_000));
}

#[test]
fn what_follows_a_stop_not_made_is_counterfactual() {
    let station = small_station();
    let low = way_of(&station, Source::Watch(1), Way::Tripped);
    // 1 m/s: 0.2 s to bite, 1 s to slow at 1 m/s2, 1 s of grace after scan 100 is scan 320.
    let text = recording("power-up", 900, |s| if s < 600 { 10 } else { 0 });
    let mut runner = scripted(|scan, out| {
        if scan == 100 || scan == 400 || scan == 700 {
            out.trips.push(low);
        }
        if scan == 401 {
            out.missed.push(0);
        }
        out.reset = scan == 800;
    });
    let (events, summary) = run(&station, &text, &mut runner);
    assert_eq!(
        kinds(&events),
        ["begins@1", "stop@100", "went-on?@320", "missed?@401", "adopted@610", "stop@700", "reset@800"]
    );
    assert_eq!(runner.adopted, [610]);
    assert_eq!((summary.stops, summary.not_made), (2, 1));
    assert_eq!(summary.counterfactual, 290);
    assert_eq!(summary.status(), 1);
}

#[test]
fn a_start_while_a_stop_stands_is_counterfactual_and_a_creep_is_not() {
    let station = small_station();
    let low = way_of(&station, Source::Watch(1), Way::Tripped);
    // Standing; creeps 0.5 m from scan 100, starts at scan 300.
    let text = recording("power-up", 500, |s| match s {
        100..=149 | 300.. => 10,
        _ => 0,
    });
    let mut runner = scripted(|scan, out| {
        if scan == 1 {
            out.trips.push(low);
        }
    });
    let (events, _) = run(&station, &text, &mut runner);
    assert_eq!(kinds(&events), ["begins@1", "stop@1", "went-on?@350"]);
}

#[test]
fn a_stop_that_was_made_stays_made_when_the_recording_starts_without_its_reset() {
    let station = small_station();
    let low = way_of(&station, Source::Watch(1), Way::Tripped);
    // Stopped at scan 100, at standstill from scan 200, started at scan 400 by whatever the recorded station had for a reset.
    let text = recording("power-up", 700, |s| if (200..400).contains(&s) || s > 600 { 0 } else { 10 });
    let mut runner = scripted(|scan, out| {
        if scan == 100 {
            out.trips.push(low);
        }
    });
    let (events, summary) = run(&station, &text, &mut runner);
    assert_eq!(kinds(&events), ["begins@1", "stop@100", "standstill@210", "started?@500", "adopted@610"]);
    assert_eq!((summary.stops, summary.not_made, summary.started, summary.status()), (1, 0, 1, 1));
}

#[test]
fn a_running_station_is_led_in() {
    let station = small_station();
    let low = way_of(&station, Source::Watch(1), Way::Tripped);
    let text = recording("running", 200, |_| 10);
    // The power-up stop and a trip within the lead-in are nobody's business.
    let mut runner = scripted(|scan, out| {
        if scan == 1 || scan == 50 {
            out.trips.push(low);
        }
    });
    let (events, summary) = run(&station, &text, &mut runner);
    // A span of 10 scans, no settling, one second.
    assert_eq!(runner.adopted, [110]);
    assert_eq!(kinds(&events), ["begins@111"]);
    assert_eq!((summary.lead_in, summary.scans, summary.status()), (110, 90, 0));
}

#[test]
fn a_recorded_restart_starts_the_rules_anew() {
    let station = small_station();
    let mut text = recording("power-up", 50, |_| 0);
    text += "# power-up\n90000,0,1,1,12,0,0\n";
    let mut runner = scripted(|_, _| {});
    let (events, _) = run(&station, &text, &mut runner);
    assert_eq!(runner.restarted, [0, 50]);
    assert_eq!(kinds(&events), ["begins@1", "power-up@50"]);
}

#[test]
fn what_cannot_be_told_is_said() {
    let station = small_station();
    let text = recording("power-up", 50, |_| 10).replace("# time", "# stamps: 100 ms\n# time");
    let mut runner = scripted(|scan, out| {
        if scan == 20 {
            out.judged.push(Judged { watch: 0, measured: 3_100 });
        }
    });
    let (_, summary) = run(&station, &text, &mut runner);
    // The guard's 20 ms, and a passing 100 mm from its limit while a stamp hides 495 mm.
    assert_eq!(summary.cannot_tell.len(), 2, "{:?}", summary.cannot_tell);
    assert_eq!(summary.status(), 1);
}

#[test]
fn text_names_the_cause_and_json_has_the_schema() {
    let station = small_station();
    let low = way_of(&station, Source::Watch(1), Way::Tripped);
    let text = recording("power-up", 60, |_| 0);
    let script = |scan: u64, out: &mut Scanned| {
        if scan == 50 {
            out.trips.push(low);
        }
    };
    let mut lines = Lines::new(Vec::new(), Paint(false));
    let mut reader = Reader::open(text.as_bytes(), &station).unwrap();
    let summary = replay(&station, &mut reader, &mut scripted(script), &mut lines, &mut |_| {});
    lines.summary(&summary.unwrap()).unwrap();
    let said = String::from_utf8(lines.into_inner()).unwrap();
    assert!(said.contains("0:00:00.500    STOP emergency\n"), "{said}");
    assert!(said.contains("the rope hangs too low [watch rope-low]\n"), "{said}");
    assert!(said.contains("inputs: fork closed\n"), "{said}");

    let mut timeline = Timeline::begin(Vec::new(), &station, "r.csv").unwrap();
    let mut reader = Reader::open(text.as_bytes(), &station).unwrap();
    let summary = replay(&station, &mut reader, &mut scripted(script), &mut timeline, &mut |_| {});
    let bytes = timeline.end(&summary.unwrap()).unwrap();
    let value: serde_json::Value = serde_json::from_slice(&bytes).unwrap();
    assert_eq!(value["schema"], "haltproof/1");
    assert_eq!(value["kind"], "timeline");
    assert_eq!(value["events"][1]["causes"][0]["name"], "rope-low");
    assert_eq!(value["summary"]["watches"][0]["least"], serde_json::Value::Null);
}

#[test]
fn a_broken_recording_ends_the_replay_with_its_place() {
    let station = small_station();
    let mut text = recording("power-up", 5, |_| 0);
    text += "60,0,1,x,12,0,0\n";
    let mut reader = Reader::open(text.as_bytes(), &station).unwrap();
    let mut sink = |_: &Event| Ok(());
    let ended = replay(&station, &mut reader, &mut scripted(|_, _| {}), &mut sink, &mut |_| {});
    let Err(Broke::Read(fault)) = ended else {
        panic!("read on");
    };
    assert_eq!((fault.line, fault.column), (11, 8));
}
