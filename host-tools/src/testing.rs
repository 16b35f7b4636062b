//! A small resolved station, made by hand, for the tests of stages that need no rule text.

use crate::station::{
    Backing, Condition, Contact, Detector, Gauge, Guard, Input, InputKind, Lasting, Link, Measured, Name, Output, Pace,
    Settle, Slow, Station, Stop, Travel, Watch, WatchKind,
};
use crate::text::place::Place;

/// A name without a place.
pub(crate) fn name(text: &str) -> Name {
    Name { text: text.into(), place: Place::default() }
}

/// Detectors `arrive` (DI-01) and `leave` (DI-02), contact `fork` (DI-03), gauge `force` (AI-01),
/// pace `rope` (CI-01, 5 mm a pulse), link `other` (L-01); slow order `creep` (rank 1), stops
/// `service` (2) and `emergency` (3); watches `slow-down` (travel, 3.0 to 4.0 m) and `rope-low`
/// (guard on `fork`). Scan 10 ms.
pub(crate) fn small_station() -> Station {
    let input = |text: &str, kind| Input { name: name(text), kind };
    let detector = |channel, at| {
        InputKind::Detector(Detector {
            channel,
            at,
            pulse_us: 60_000,
            settle: Settle::default(),
            covered_at_most: None,
            rises_every: None,
        })
    };
    let stop = |text: &str, category| Stop {
        name: name(text),
        category,
        for_emergencies: false,
        releases: vec![0],
        then: None,
        bites_us: 200_000,
        slows: (1_000, 2_000),
        standstill: None,
    };
    let watch = |text: &str, title: &str, kind| Watch {
        name: name(text),
        title: title.into(),
        hazards: vec![],
        modes: vec![],
        kind,
    };
    Station {
        title: "Small".into(),
        revision: 1,
        temporary: None,
        scan_us: 10_000,
        on_fault: 3,
        modes: vec![],
        outputs: vec![Output {
            name: name("brake"),
            terminal: "RO-1".into(),
            off_within_us: 30_000,
            read_back: None,
            not_together: vec![],
        }],
        slows: vec![Slow { name: name("creep"), pace: 4, down_to: 150, within: 100 }],
        stops: vec![stop("service", 1), stop("emergency", 0)],
        inputs: vec![
            input("arrive", detector(0, 400)),
            input("leave", detector(1, 3_900)),
            input(
                "fork",
                InputKind::Contact(Contact {
                    channel: 2,
                    rests_closed: true,
                    line_monitored: false,
                    shortest_us: None,
                    settle: Settle::default(),
                    most_changes: None,
                }),
            ),
            input(
                "force",
                InputKind::Gauge(Gauge {
                    terminal: 0,
                    unit: "N".into(),
                    step_micro: 10_000_000,
                    points: [(4_000, 0), (20_000, 12_000_000_000)],
                    trusted_ua: (3_800, 20_500),
                    broken_ua: (3_600, 21_000),
                    lowest: -15,
                    top: 1_253,
                    moves_at_most: None,
                    rests: None,
                }),
            ),
            input(
                "rope",
                InputKind::Pace(Pace {
                    source: 0,
                    backing: Backing::None,
                    mm_a_pulse: 5,
                    signed: true,
                    top: 550,
                    top_scan: 60,
                    span: 10,
                    still: 5,
                    fault_after: 20,
                }),
            ),
            input("other", InputKind::Link(Link { terminal: 0, silent: 10, otherwise: 2 })),
        ],
        channels: vec!["DI-01".into(), "DI-02".into(), "DI-03".into()],
        gauge_terminals: vec!["AI-01".into()],
        sources: vec!["CI-01".into()],
        link_terminals: vec!["L-01".into()],
        watches: vec![
            watch(
                "slow-down",
                "the tyres slow the carrier as planned",
                WatchKind::Travel(Travel {
                    from: 0,
                    to: 1,
                    measured: Measured::Rope(4),
                    earliest: 3_000,
                    latest: 4_000,
                    backstop: None,
                    run: 4_000,
                    capacity: 2,
                    early: 2,
                    late: 3,
                    stray: 3,
                    crowded: 3,
                    backwards: 3,
                }),
            ),
            watch(
                "rope-low",
                "the rope hangs too low",
                WatchKind::Guard(Guard {
                    when: Condition::Not(Box::new(Condition::High(2))),
                    lasting: Lasting::Unbroken(2),
                    answer: 3,
                }),
            ),
        ],
        reset: None,
        restart: 100,
        refills: vec![],
        bypasses: vec![],
        hazards: vec![],
        requirements: vec![],
        entries: vec![],
        assumptions: vec![],
        lane: None,
    }
}

/// A demo station, `drive` or `return`, from its rule text.
pub(crate) fn demo_station(which: &str) -> Station {
    let read = |name: &str| {
        let path = format!("{}/demo/{name}", env!("CARGO_MANIFEST_DIR"));
        crate::text::parse::Source { path: name.into(), bytes: std::fs::read(path).unwrap() }
    };
    let sources = vec![read(&format!("{which}-terminal.rules")), read(&format!("{which}-terminal.requirements.rules"))];
    crate::load::load(sources).station.unwrap()
}
