//! A dump says what the recording and the rules say, no more and no less; read back by the parser of the vcd crate.
//!
//! The format is that of IEEE 1364-2005, clause 18 (18.2: header, variables, value changes, `$dumpvars`).

use std::collections::HashMap;

use vcd::{Command, IdCode, Parser, ScopeItem, SimulationCommand, TimescaleUnit, Value};

use super::{Beside, Dump, dump};
use crate::load::load;
use crate::recording::read::Reader;
use crate::recording::write::{Style, Writer};
use crate::replay::event::Event;
use crate::replay::{Seen, Sink, replay};
use crate::runner::with_runner;
use crate::sample::{Frame, Health, Reading, Sample};
use crate::simulate::{Scenario, Simulator};
use crate::station::{InputKind, Station};
use crate::testing::demo_station;
use crate::text::parse::Source;
use crate::told::Scanned;

fn station(texts: &[&str]) -> Station {
    let source = |text: &&str| Source { path: "test".into(), bytes: text.as_bytes().to_vec() };
    load(texts.iter().map(source).collect()).station.expect("sound")
}

/// Something of everything, and a stop that the recording does not make.
const RUN: &str = "scenario \"all\"\nlast 40 s\nrope starts at 5 m/s\ngauge rope-tension lies at 220 kN\ngauge wind lies at 4 m/s
    at 3 s close-force wire breaks for 1 s\nat 5 s rope-height-in shorted for 1 s\nat 7 s rope-height-in doubtful for 1 s
    at 8 s return-side silent for 1 s\nat 9 s return-side orders service for 1 s\nat 15 s power lost for 3.7 s";

struct Kept {
    at_us: u64,
    sample: Sample,
    scanned: Option<Scanned>,
    counterfactual: bool,
}

/// Keeps the scans.
struct Keep<'k>(&'k mut Vec<Kept>);
impl Sink for Keep<'_> {
    fn event(&mut self, _: &Event) -> std::io::Result<()> {
        Ok(())
    }
    fn scan(&mut self, seen: &Seen<'_>) -> std::io::Result<()> {
        let Seen { at_us, sample, scanned, counterfactual } = *seen;
        self.0.push(Kept { at_us, sample: sample.clone(), scanned: scanned.cloned(), counterfactual });
        Ok(())
    }
}

fn recorded(station: &Station, scenario: &str) -> Vec<u8> {
    let scenario = Scenario::read(scenario, station).unwrap();
    let mut writer = Writer::new(Vec::new(), station, Style::default()).unwrap();
    for scan in Simulator::new(station, &scenario, 5).run() {
        writer.scan(scan.at_us, scan.restarted, &scan.sample).unwrap();
    }
    writer.finish().unwrap()
}

/// What a variable is at a time.
#[derive(Debug, Clone, PartialEq)]
enum Is {
    Bits(String),
    Real(f64),
}

/// A dump, read back: values by name, and the changes that are still to come.
struct Read {
    names: HashMap<String, IdCode>,
    now: HashMap<IdCode, Is>,
    coming: std::iter::Peekable<std::vec::IntoIter<Command>>,
    changes: usize,
}

impl Read {
    fn open(bytes: &[u8]) -> Self {
        let mut parser = Parser::new(bytes);
        let header = parser.parse_header().unwrap();
        assert_eq!((header.date, header.timescale), (None, Some((1, TimescaleUnit::US))));
        assert_eq!(header.version.as_deref(), Some(concat!("haltproof ", env!("CARGO_PKG_VERSION"))));
        let mut names = HashMap::new();
        for item in &header.items {
            let ScopeItem::Scope(scope) = item else { continue };
            for variable in &scope.items {
                let ScopeItem::Var(variable) = variable else { panic!("{variable:?}") };
                let name = format!("{}.{}", scope.identifier, variable.reference);
                assert!(name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_' || c == '.'), "{name}");
                assert!(names.insert(name.clone(), variable.code).is_none(), "{name} is there twice");
            }
        }
        let all: Vec<Command> = parser.map(Result::unwrap).collect();
        Self { names, now: HashMap::new(), coming: all.into_iter().peekable(), changes: 0 }
    }
    /// Goes on to what is so at a time.
    fn until(&mut self, at_us: u64) {
        while self.coming.next_if(|next| !matches!(next, Command::Timestamp(time) if *time > at_us)).is_some_and(
            |one| {
                let (id, is) = match one {
                    Command::ChangeScalar(id, value) => (id, Is::Bits(value.to_string())),
                    Command::ChangeVector(id, bits) => {
                        (id, Is::Bits(bits.iter().map(|bit: Value| bit.to_string()).collect()))
                    }
                    Command::ChangeReal(id, value) => (id, Is::Real(value)),
                    Command::Timestamp(_)
                    | Command::Comment(_)
                    | Command::Begin(SimulationCommand::Dumpvars)
                    | Command::End(_) => {
                        return true;
                    }
                    other => panic!("{other:?}"),
                };
                assert_ne!(self.now.insert(id, is.clone()), Some(is), "a change that is none");
                self.changes += 1;
                true
            },
        ) {}
    }
    fn is(&self, name: &str, is: &Is) {
        let id = self.names.get(name).unwrap_or_else(|| panic!("no {name} in {:?}", self.names.keys()));
        assert_eq!(self.now.get(id), Some(is), "{name}");
    }
    fn bit(&self, name: &str, bit: Option<bool>) {
        let text = bit.map_or("x", |bit| if bit { "1" } else { "0" });
        self.is(name, &Is::Bits(text.into()));
    }
}

/// Compares every variable that an input, an answer, an output or a watch has.
fn compare(station: &Station, read: &Read, kept: &Kept) {
    let line = |name: &str| name.replace('-', "_");
    let terminal = |channel: usize| line(&station.channels[channel]);
    for input in &station.inputs {
        let name = line(&input.name.text);
        let level = |channel: usize| Some(kept.sample.channels[channel]);
        match &input.kind {
            InputKind::Contact(c) => read.bit(&format!("inputs.{name}__{}", terminal(c.channel)), level(c.channel)),
            InputKind::Detector(d) => read.bit(&format!("inputs.{name}__{}", terminal(d.channel)), level(d.channel)),
            InputKind::Pair(p) => {
                for (number, channel) in (1..).zip(p.channels) {
                    read.bit(&format!("inputs.{name}_{number}__{}", terminal(channel)), level(channel));
                }
            }
            InputKind::Gauge(g) => {
                let Reading { steps, health } = kept.sample.gauges[g.terminal];
                let name = format!("inputs.{name}__{}", line(&station.gauge_terminals[g.terminal]));
                if health == Health::Good {
                    // Its value in its unit, to a millionth, as text would have it.
                    let micro = (g.lowest + i64::from(steps)) * g.step_micro;
                    let (sign, micro) = (if micro < 0 { "-" } else { "" }, micro.abs());
                    let text = format!("{sign}{}.{:06}", micro / 1_000_000, micro % 1_000_000);
                    let unit = g.unit.replace('/', "_per_");
                    read.is(&format!("{name}__{unit}"), &Is::Real(text.parse().unwrap()));
                }
                read.bit(&format!("{name}__doubtful"), Some(health == Health::Doubtful));
                read.bit(&format!("{name}__broken"), Some(health == Health::Broken));
            }
            InputKind::Link(l) => {
                let Frame { fresh, order } = kept.sample.links[l.terminal];
                let name = format!("inputs.{name}__{}", line(&station.link_terminals[l.terminal]));
                read.bit(&format!("{name}__fresh"), Some(fresh));
                if fresh {
                    read.is(&format!("{name}__order"), &Is::Bits(format!("{order:08b}")));
                }
            }
            InputKind::Pace(_) | InputKind::Key(_) => {}
        }
    }
    for (terminal, travel) in station.sources.iter().zip(&kept.sample.travel) {
        let end = format!("__{}__mm", line(terminal));
        let name = read.names.keys().find(|name| name.ends_with(&end)).unwrap();
        read.is(name, &Is::Real(f64::from(*travel)));
    }
    let told = kept.scanned.as_ref();
    for rank in 1..=station.worst() {
        let stands = told.map(|told| told.stands >> rank & 1 == 1);
        read.bit(&format!("stands.{}", line(station.answer(rank))), stands);
    }
    for (i, output) in station.outputs.iter().enumerate() {
        read.bit(&format!("outputs_on.{}", line(&output.name.text)), told.map(|told| told.off >> i & 1 == 0));
    }
    let ways = crate::station::ways::ways(station);
    for (i, watch) in station.watches.iter().enumerate() {
        let own = |way: &u16| ways[usize::from(*way)].source == crate::station::ways::Source::Watch(i);
        read.bit(&format!("trips.watch__{}", line(&watch.name.text)), told.map(|told| told.trips.iter().any(own)));
    }
    for (i, requirement) in station.requirements.iter().enumerate() {
        let missed = |told: &Scanned| told.missed.iter().any(|missed| usize::from(*missed) == i);
        read.bit(&format!("missed.{}", requirement.name.text), told.map(missed));
    }
    read.bit("controller.permit", told.map(|told| told.permit));
    read.bit("controller.counterfactual", told.map(|_| kept.counterfactual));
}

#[test]
fn a_dump_read_back_is_the_recording_and_what_the_rules_say_of_it() {
    let rules = include_str!("../../demo/drive-terminal.rules");
    let station = station(&[rules, include_str!("../../demo/drive-terminal.requirements.rules")]);
    let recording = recorded(&station, RUN);
    let (mut kept, mut bytes) = (Vec::new(), Vec::new());
    let mut written = Dump::new(&mut bytes, &station).unwrap();
    let mut sink = Beside { sink: &mut Keep(&mut kept), dump: &mut written };
    let mut reader = Reader::open(recording.as_slice(), &station).unwrap();
    with_runner(&station, |runner| replay(&station, &mut reader, runner, &mut sink, &mut |_| {})).unwrap().unwrap();
    written.finish().unwrap();
    assert_eq!(dump(&station, &recording).unwrap(), bytes, "the same recording gives the same bytes");
    let mut read = Read::open(&bytes);
    for kept in &kept {
        read.until(kept.at_us);
        compare(&station, &read, kept);
    }
    let end = kept.last().unwrap().at_us + u64::from(station.scan_us);
    let left: Vec<Command> = read.coming.by_ref().collect();
    assert_eq!(left, [Command::Timestamp(end)], "the last scan lasts a scan, and nothing follows it");
    // It was worth it: all of these occurred.
    assert!(kept.iter().any(|kept| kept.scanned.is_none()) && kept.iter().any(|kept| kept.counterfactual));
    let health = |health| kept.iter().any(|kept| kept.sample.gauges.iter().any(|gauge| gauge.health == health));
    assert!(health(Health::Doubtful) && health(Health::Broken));
    assert!(read.changes > 500 && read.changes < kept.len() * read.names.len() / 10, "{} changes", read.changes);
}

const TINY: &str = "station \"Tiny $end\"
revision 1
scan 10 ms
output drive on RO-1, off within 30 ms
stop halt category 0
    releases drive
    bites within 100 ms, slows at 0.5 m/s2 to 1 m/s2
contact line-open on DI-01, rests closed
gauge wind on AI-01, 4 mA is -10 m/s, 20 mA is 50 m/s
    in steps of 0.5 m/s
pace rope on CI-01, 5 mm a pulse
    signed, at most 5 m/s, speed over 100 ms, still below 0.06 m/s, fault after 200 ms
link other on L-01, silent for at most 100 ms, else halt
key reset-key on DI-02
guard line
    when line-open open
    stop halt
reset by reset-key pressed and let go, when line-open closed
";

/// What is written of three scans, to the letter.
#[test]
fn a_tiny_dump_is_written_so() {
    let station = station(&[TINY]);
    let style = Style { powers_up: true, ..Style::default() };
    let mut writer = Writer::new(Vec::new(), &station, style).unwrap();
    let sample = |line: bool, steps: u32, health: Health, mm: i32, fresh: bool| Sample {
        channels: vec![line, false],
        gauges: vec![Reading { steps, health }],
        travel: vec![mm],
        links: vec![Frame { fresh, order: u8::from(fresh) }],
    };
    let scans = [
        sample(true, 25, Health::Good, 0, false),
        sample(true, 25, Health::Good, 0, false),
        sample(false, 0, Health::Broken, -5, true),
    ];
    for (at_us, scan) in [0, 10_000, 20_000].into_iter().zip(&scans) {
        writer.scan(at_us, false, scan).unwrap();
    }
    let written = dump(&station, &writer.finish().unwrap()).unwrap();
    assert_eq!(
        String::from_utf8(written).unwrap(),
        include_str!("tiny.vcd").replace("TOOL", env!("CARGO_PKG_VERSION"))
    );
}

/// Stamps of a logger waver, and its clock runs fast or slow; the dump has one scan after the other, and is the same recording.
#[test]
fn stamps_that_waver_give_the_same_dump() {
    let station = demo_station("drive");
    let even = recorded(
        &station,
        "scenario \"even\"\nlast 10 s\nrope starts at 5 m/s\nat 9 s return-side orders service for 1 s",
    );
    let wavering = |text: &str, wavers: &dyn Fn(u64, u64) -> u64| {
        let mut row = 0;
        let moved = text.lines().map(|line| match line.split_once(',') {
            Some((time, rest)) if time.parse::<u64>().is_ok() => {
                row += 1;
                format!("{},{rest}\n", wavers(row - 1, time.parse().unwrap()))
            }
            _ => format!("{line}\n"),
        });
        moved.collect::<String>().into_bytes()
    };
    let text = String::from_utf8(even.clone()).unwrap();
    let expected = dump(&station, &even).unwrap();
    for wavers in [&|row: u64, at: u64| at + row % 3 * 2, &|row, at| at - row / 10] as [&dyn Fn(u64, u64) -> u64; 2] {
        let other = wavering(&text, wavers);
        assert!(other != even);
        assert!(dump(&station, &other).unwrap() == expected);
    }
}

/// A dump has one time: what begins again before it ended cannot stand in it.
#[test]
fn a_start_at_an_earlier_time_is_refused() {
    let station = demo_station("drive");
    let mut out = Vec::new();
    let mut dump = Dump::new(&mut out, &station).unwrap();
    let sample = Sample {
        channels: vec![false; station.channels.len()],
        gauges: vec![Reading::default(); station.gauge_terminals.len()],
        travel: vec![0; station.sources.len()],
        links: vec![Frame::default(); station.link_terminals.len()],
    };
    let seen = |at_us: u64| Seen { at_us, sample: &sample, scanned: None, counterfactual: false };
    dump.scan(&seen(50_000)).unwrap();
    dump.restart().unwrap();
    // The stamps run on, though the last scan is not over by them.
    dump.scan(&seen(55_000)).unwrap();
    dump.restart().unwrap();
    assert!(dump.scan(&seen(55_000)).unwrap_err().to_string().contains("each part by itself"));
}
