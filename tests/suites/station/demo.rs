//! Every scenario of the demo stations: simulated with the rules in the loop, recorded, replayed; each scan of the replay is stepped as
//! well as skipped over.
//!
//! A scenario names at its top, in `# expect: NAME WAY` lines, the cause that is told first of each stop that it
//! must come to, in their order, that of the first power-up left out. No other stop may be there.
//! A line `# then: NAME WAY` names what must raise a stop that stands to a more severe one.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::is_heavy;
use std::fmt::Write as _;
use std::fs;
use std::io::{self, BufReader, BufWriter};
use std::path::{Path, PathBuf};
use std::thread;

use cross_tests::quiet::twice;
use host_tools::demo::show;
use host_tools::lane::{self, apart, published, stands};
use host_tools::load::load;
use host_tools::recording::read::Reader;
use host_tools::recording::write::{Rows, Style, Writer};
use host_tools::replay::event::{Cause, What};
use host_tools::replay::{Event, Summary, replay};
use host_tools::runner::with_runner;
use host_tools::simulate::{Rules, Scenario, Simulator, record};
use host_tools::station::Station;
use host_tools::text::parse::Source;
use host_tools::told::Runner;

/// Incidents that each station must have at least.
const INCIDENTS: &[(&str, usize)] = &[("drive", 32), ("return", 30)];
const HOUR_US: u64 = 3_600_000_000;

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo")
}

fn text(name: &str) -> String {
    fs::read_to_string(demo().join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// A demo station; it must be without findings, but for a note on the window in time of the return terminal.
fn station(kind: &str) -> Station {
    let names = [format!("{kind}-terminal.rules"), format!("{kind}-terminal.requirements.rules")];
    let sources = names.map(|path| Source { bytes: text(&path).into_bytes(), path });
    let reading = load(sources.into());
    let told: Vec<_> = reading.findings.iter().map(|finding| finding.code.text()).collect();
    assert_eq!(told, if kind == "return" { vec!["apart-unknown"] } else { vec![] }, "{:#?}", reading.findings);
    reading.station.expect("a station")
}

/// Scenarios of a station, by name.
fn scenarios(kind: &str) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(demo())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.starts_with(kind) && name.ends_with(".scenario"))
        .collect();
    names.sort();
    names
}

/// What a replay came to.
struct Played {
    events: Vec<Event>,
    summary: Summary,
}

/// Simulates in closed loop on one thread and replays on another; the recording passes through a
/// pipe, so that none is ever held whole.
fn play(station: &Station, name: &str) -> Played {
    let said = text(name);
    let scenario = Scenario::read(&said, station).unwrap_or_else(|problems| {
        let all: Vec<String> = problems.iter().map(ToString::to_string).collect();
        panic!("{name}: {}", all.join("\n"))
    });
    let (source, sink) = io::pipe().unwrap();
    thread::scope(|scope| {
        scope.spawn(move || {
            let style = Style { rows: Rows::Change, powers_up: scenario.powers_up, ..Style::default() };
            let to = BufWriter::with_capacity(1 << 16, sink);
            let mut writer = Writer::new(to, station, style).unwrap();
            let mut simulator = Simulator::new(station, &scenario, 1);
            with_runner(station, |runner| {
                let mut rules = Rules::new(runner, station, &scenario);
                record(&mut simulator, &mut writer, |scan| rules.answer(scan)).unwrap();
            })
            .unwrap();
            writer.finish().unwrap();
            assert_eq!(simulator.missed(), [0; 0], "{name}: lines that could not be");
        });
        let from = BufReader::with_capacity(1 << 16, source);
        let mut reader = Reader::open(from, station).unwrap_or_else(|f| panic!("{name}: {f}"));
        let mut events = Vec::new();
        let mut keep = |event: &Event| {
            events.push(event.clone());
            Ok(())
        };
        let mut run = |runner: &mut dyn Runner| {
            let ended = replay(station, &mut reader, runner, &mut keep, &mut |_| {});
            ended.unwrap_or_else(|broke| panic!("{name}: {broke:?}"))
        };
        // Skipping tells what stepping each scan does; the short form looks at some of them.
        let summary = if is_heavy() || name.len().is_multiple_of(3) {
            twice(station, |runs| {
                let summary = run(runs);
                let [rules, judges] = runs.counts();
                assert!(rules.skipped > 0 && judges.skipped > 0, "{name}: {rules:?} {judges:?}");
                summary
            })
        } else {
            with_runner(station, |runner| run(runner)).unwrap()
        };
        Played { events, summary }
    })
}

/// What a scenario says in its lines that begin so.
fn said(name: &str, begin: &str) -> Vec<String> {
    text(name).lines().filter_map(|line| line.strip_prefix(begin)).map(|cause| cause.trim().to_owned()).collect()
}

fn called(cause: &Cause) -> String {
    let name = if cause.name.is_empty() { cause.source } else { &cause.name };
    format!("{name} {}", cause.way)
}

/// First-outs of all stops but that of the power-up with which the run begins.
fn stops(played: &Played) -> Vec<Vec<String>> {
    let mut found = Vec::new();
    for event in &played.events {
        if let What::Stop { causes, .. } = &event.what {
            found.push(causes.iter().map(called).collect::<Vec<_>>());
        }
    }
    if found.first().is_some_and(|causes| causes == &["controller started"]) {
        found.remove(0);
    }
    found
}

/// What raised a stop in this event.
fn raises(event: &Event) -> &[Cause] {
    match &event.what {
        What::Raised { causes, .. } => causes,
        _ => &[],
    }
}

/// What is wrong with a scenario's run, or nothing.
fn faults_of(station: &Station, name: &str) -> String {
    let mut wrong = String::new();
    let played = play(station, name);
    let (wanted, found) = (said(name, "# expect: "), stops(&played));
    let summary = &played.summary;
    if wanted.is_empty() {
        wrong += "does not say which stop it must come to; ";
    }
    let fits =
        wanted.len() == found.len() && wanted.iter().zip(&found).all(|(cause, first)| first.first() == Some(cause));
    if !fits {
        write!(wrong, "stopped by {found:?}, not by {wanted:?}; ").unwrap();
    }
    let raised: Vec<String> = played.events.iter().flat_map(raises).map(called).collect();
    for cause in said(name, "# then: ").iter().filter(|cause| !raised.contains(cause)) {
        write!(wrong, "its stop was raised by {raised:?}, not by {cause:?}; ").unwrap();
    }
    for missed in summary.requirements.iter().filter(|r| r.missed > 0) {
        write!(wrong, "missed {} times {}; ", missed.missed, missed.name).unwrap();
    }
    // The recording was made with the rules in the loop: it makes every stop.
    if summary.not_made > 0 || summary.counterfactual > 0 {
        write!(wrong, "did not make {} stops; ", summary.not_made).unwrap();
    }
    for what in &summary.cannot_tell {
        write!(wrong, "cannot tell: {what}; ").unwrap();
    }
    if name.ends_with("-morning.scenario") {
        wrong += &faults_of_morning(&played);
    }
    println!("{name}: {}", found.iter().map(|f| f.join(", ")).collect::<Vec<_>>().join("; "));
    wrong
}

/// An ordinary morning is long, has many carriers and an hour under a slow order.
fn faults_of_morning(played: &Played) -> String {
    let mut wrong = String::new();
    let summary = &played.summary;
    if summary.lasted_us + 1_000_000 < 2 * HOUR_US {
        wrong += "is shorter than two hours; ";
    }
    let carriers = summary.watches.iter().find(|w| w.name == "line-gap").map_or(0, |w| w.judged);
    if carriers < 400 {
        write!(wrong, "has {carriers} carriers; ").unwrap();
    }
    let (mut since, mut longest, mut resets) = (None, 0, 0);
    for event in &played.events {
        match &event.what {
            What::Slow { causes, .. } if !causes.is_empty() => since = Some(event.at_us),
            What::SlowEnds { .. } => {
                longest = longest.max(since.take().map_or(0, |s| event.at_us - s));
            }
            What::Reset => resets += 1,
            _ => {}
        }
    }
    if longest + 10_000_000 < HOUR_US {
        wrong += "has no hour under a slow order; ";
    }
    for broken in summary.assumptions.iter().filter(|a| a.broken > 0) {
        write!(wrong, "broke {}; ", broken.name).unwrap();
    }
    if resets != 2 {
        write!(wrong, "was reset {resets} times; ").unwrap();
    }
    wrong
}

/// All scenarios of a station, several at a time.
fn all_of(kind: &str) {
    let station = station(kind);
    let mut names = scenarios(kind);
    let least = INCIDENTS.iter().find(|(k, _)| *k == kind).map_or(0, |(_, least)| *least);
    let incidents = names.iter().filter(|n| !n.ends_with("-morning.scenario")).count();
    assert!(incidents >= least, "only {incidents} incidents at the {kind} terminal");
    assert!(names.contains(&format!("{kind}-morning.scenario")));
    // A morning lasts for hours.
    names.retain(|name| is_heavy() || !name.ends_with("-morning.scenario"));
    let wrong: Vec<String> = thread::scope(|scope| {
        let halves: Vec<Vec<&String>> = (0..2).map(|half| names.iter().skip(half).step_by(2).collect()).collect();
        let running: Vec<_> = halves
            .into_iter()
            .map(|half| {
                let station = &station;
                scope.spawn(move || {
                    half.into_iter()
                        .map(|name| (name, faults_of(station, name)))
                        .filter(|(_, wrong)| !wrong.is_empty())
                        .map(|(name, wrong)| format!("{name}: {wrong}"))
                        .collect::<Vec<_>>()
                })
            })
            .collect();
        running.into_iter().flat_map(|t| t.join().unwrap()).collect()
    });
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_drive_terminal_stops_as_it_should_and_only_then() {
    all_of("drive");
}

#[test]
fn the_return_terminal_stops_as_it_should_and_only_then() {
    all_of("return");
}

/// `haltproof demo` as it is printed where there are no colours. `UPDATE_GOLDEN=1` rewrites the text.
#[test]
fn the_demo_shows_what_it_should() {
    let shown = String::from_utf8(show(Vec::new(), false).unwrap()).unwrap();
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("cases/demo.txt");
    if std::env::var("UPDATE_GOLDEN").is_ok_and(|value| value == "1") {
        fs::write(&golden, &shown).unwrap();
    }
    assert!(shown.lines().count() < 60, "too long for one look");
    assert!(shown.contains("[watch shut-force]"), "the cause is missing");
    assert_eq!(shown, fs::read_to_string(&golden).unwrap(), "UPDATE_GOLDEN=1 rewrites the golden text");
}

/// What `haltproof lane` says of each demo station. `UPDATE_GOLDEN=1` rewrites the texts.
#[test]
fn the_lanes_say_what_they_should() {
    for terminal in ["drive", "return"] {
        let station = station(terminal);
        let (watches, requirements) = (stands::of_watches(&station), stands::of_requirements(&station));
        let texts = [
            lane::text::stops(&station, &watches, &requirements),
            lane::text::kept_apart(&station, &apart::apart(&station).unwrap()),
            lane::text::limits(&published::published(&station)),
        ];
        let said = texts.join("\n");
        let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("cases/lane-{terminal}.txt"));
        if std::env::var("UPDATE_GOLDEN").is_ok_and(|value| value == "1") {
            fs::write(&golden, &said).unwrap();
        }
        // The return terminal has a window in time: nothing is known of carriers behind it while the rope leaves its band.
        let unsure: Vec<_> =
            published::published(&station).into_iter().filter(|limit| limit.kept != Some(true)).collect();
        assert!(unsure.iter().all(|limit| limit.kept.is_none() && terminal == "return"), "{unsure:?}");
        assert_eq!(said, fs::read_to_string(&golden).unwrap(), "UPDATE_GOLDEN=1 rewrites the golden text");
    }
}
