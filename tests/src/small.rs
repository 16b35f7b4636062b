//! Small stations by hand, for values that are published elsewhere and for single sentences of the
//! manual: no modes, no outputs but one, one stop, and whatever is added.

use host_tools::sample::{Frame, Reading, Sample};
use host_tools::station::ways::{Source, Way, ways};
use host_tools::station::{
    Backing, Condition, Contact, Detector, Gauge, Guard, Input, InputId, InputKind, Key, Lasting, Name, Output, Pace,
    Reset, Settle, Station, Stop, Watch, WatchId, WatchKind,
};
use host_tools::text::place::Place;

pub mod cells;
pub mod inputs;
pub mod plans;
pub mod space;
pub mod swarm;

fn name(text: &str) -> Name {
    Name { text: text.to_owned(), place: Place::default() }
}

/// A station of scans of 1 ms with one stop (rank 1) that releases one output.
pub fn station() -> Station {
    Station {
        title: "small".to_owned(),
        revision: 1,
        temporary: None,
        scan_us: 1_000,
        on_fault: 1,
        outputs: vec![Output {
            name: name("drive"),
            terminal: "DO-00".to_owned(),
            off_within_us: 10_000,
            read_back: None,
            not_together: Vec::new(),
        }],
        stops: vec![Stop {
            name: name("stop"),
            category: 0,
            for_emergencies: true,
            releases: vec![0],
            then: None,
            bites_us: 100_000,
            slows: (500, 1_500),
            standstill: None,
        }],
        ..Station::default()
    }
}

/// Adds an input.
pub fn input(station: &mut Station, kind: InputKind) -> InputId {
    let text = format!("i{}", station.inputs.len());
    station.inputs.push(Input { name: name(&text), kind });
    station.inputs.len() - 1
}

fn channel(station: &mut Station) -> usize {
    station.channels.push(format!("DI-{:02}", station.channels.len()));
    station.channels.len() - 1
}

/// Adds a contact that settles at once; its channel has the next number.
pub fn contact(station: &mut Station) -> InputId {
    let channel = channel(station);
    let contact = Contact {
        channel,
        rests_closed: false,
        line_monitored: false,
        shortest_us: None,
        settle: Settle::default(),
        most_changes: None,
    };
    input(station, InputKind::Contact(contact))
}

/// Adds a detector that settles at once; its channel has the next number.
pub fn detector(station: &mut Station) -> InputId {
    let channel = channel(station);
    let detector = Detector {
        channel,
        at: 0,
        pulse_us: 1_000,
        settle: Settle::default(),
        covered_at_most: None,
        rises_every: None,
    };
    input(station, InputKind::Detector(detector))
}

/// Adds a key that settles at once; its channel has the next number.
pub fn key(station: &mut Station) -> InputId {
    let channel = channel(station);
    input(station, InputKind::Key(Key { channels: (channel, None), settle: Settle::default() }))
}

/// Adds a gauge of 0 to 100 steps; its terminal has the next number.
pub fn gauge(station: &mut Station) -> InputId {
    let terminal = station.gauge_terminals.len();
    station.gauge_terminals.push(format!("AI-{terminal:02}"));
    let gauge = Gauge {
        terminal,
        unit: "N".to_owned(),
        step_micro: 1_000_000,
        points: [(4_000, 0), (20_000, 100_000_000)],
        trusted_ua: (3_800, 20_500),
        broken_ua: (3_600, 21_000),
        lowest: 0,
        top: 100,
        moves_at_most: None,
        rests: None,
    };
    input(station, InputKind::Gauge(gauge))
}

/// Adds a signed pace whose span is one scan; its source has the next number.
pub fn pace(station: &mut Station) -> InputId {
    let source = station.sources.len();
    station.sources.push(format!("CT-{source:02}"));
    let pace = Pace {
        source,
        backing: Backing::None,
        mm_a_pulse: 1,
        signed: true,
        top: 100,
        top_scan: 100,
        span: 1,
        still: 0,
        fault_after: 0,
    };
    input(station, InputKind::Pace(pace))
}

/// Adds a watch.
pub fn watch(station: &mut Station, kind: WatchKind) -> WatchId {
    let text = format!("w{}", station.watches.len());
    station.watches.push(Watch {
        name: name(&text),
        title: String::new(),
        hazards: Vec::new(),
        modes: Vec::new(),
        kind,
    });
    station.watches.len() - 1
}

/// Adds a guard that stops at once.
pub fn guard(station: &mut Station, when: Condition) -> WatchId {
    watch(station, WatchKind::Guard(Guard { when, lasting: Lasting::Unbroken(0), answer: 1 }))
}

/// A reset by a key that needs nothing else.
pub fn reset(station: &mut Station) -> InputId {
    let key = key(station);
    let when = Condition::All(Vec::new());
    station.reset = Some(Reset { key, when, lasting: 0, shortest: 1, longest: 3_000 });
    key
}

/// A sample in which nothing is high, moves or is ordered.
pub fn calm(station: &Station) -> Sample {
    Sample {
        channels: vec![false; station.channels.len()],
        gauges: vec![Reading::default(); station.gauge_terminals.len()],
        travel: vec![0; station.sources.len()],
        links: vec![Frame::default(); station.link_terminals.len()],
    }
}

/// Number of a way of a watch.
pub fn way(station: &Station, watch: WatchId, way: Way) -> usize {
    of(station, Source::Watch(watch), way)
}

/// Number of a way.
pub fn of(station: &Station, source: Source, way: Way) -> usize {
    ways(station).iter().position(|one| one.source == source && one.way == way).expect("the way exists")
}
