//! A small station with one of everything, made by hand.

use crate::station::*;

fn name(text: &str) -> Name {
    Name { text: text.to_owned(), place: crate::text::place::Place::default() }
}

fn input(text: &str, kind: InputKind) -> Input {
    Input { name: name(text), kind }
}

fn detector(channel: usize, at: Mm) -> InputKind {
    InputKind::Detector(Detector {
        channel,
        at,
        pulse_us: 60_000,
        settle: Settle::default(),
        covered_at_most: None,
        rises_every: None,
    })
}

fn key(channel: usize) -> InputKind {
    InputKind::Key(Key { channels: (channel, None), settle: Settle::default() })
}

fn pace(source: usize, backing: Backing) -> InputKind {
    InputKind::Pace(Pace {
        source,
        backing,
        mm_a_pulse: 5,
        signed: true,
        top: 600,
        top_scan: 65,
        span: 10,
        still: 0,
        fault_after: 20,
    })
}

fn gauge(terminal: usize, points: [(i32, i64); 2], lowest: i64, top: u32, unit: &str) -> InputKind {
    InputKind::Gauge(Gauge {
        terminal,
        unit: unit.to_owned(),
        step_micro: 1_000_000,
        points,
        trusted_ua: (3_800, 20_500),
        broken_ua: (3_600, 21_000),
        lowest,
        top,
        moves_at_most: None,
        rests: None,
    })
}

/// Slows from 5.0 to 1.0 m/s, goes steadily on a conveyor, speeds up: 12 m of lane.
fn lane() -> Lane {
    let place = crate::text::place::Place::default();
    let stretch = |from, to, share, driven_by| Stretch { from, to, share, driven_by, carried: false, place };
    Lane {
        name: name("main"),
        every: 40_000,
        least_every: None,
        most_every: None,
        carrier: 600,
        body: None,
        loads: None,
        line_speed: None,
        touches: Vec::new(),
        tolerances: Tolerances::default(),
        stretches: vec![
            stretch(0, 1_000, (1_000_000, 1_000_000), None),
            stretch(1_000, 5_000, (1_000_000, 200_000), None),
            stretch(5_000, 7_000, (200_000, 200_000), Some(8)),
            stretch(7_000, 11_000, (200_000, 1_000_000), None),
            stretch(11_000, 12_000, (1_000_000, 1_000_000), None),
        ],
        uncouples: 800,
        couples: 11_200,
        held_until: 12_000,
    }
}

/// A station with one of everything.
pub(crate) fn tiny_station() -> Station {
    let contact = Contact {
        channel: 2,
        rests_closed: true,
        line_monitored: false,
        shortest_us: None,
        settle: Settle::default(),
        most_changes: None,
    };
    let brake_set = Contact { channel: 8, rests_closed: false, ..contact.clone() };
    let pair = Pair {
        channels: [3, 4],
        opposed: true,
        rests_closed: true,
        shortest_us: None,
        settle: Settle::default(),
        differing: 5,
    };
    let measure = Measure { detector: 1, when: When::Scans(6), gauge: 4, least: 6_350, most: 8_550, answer: 2 };
    let stop = |text: &str, category, releases, then, slows| Stop {
        name: name(text),
        category,
        for_emergencies: category == 0,
        releases,
        then,
        bites_us: 200_000,
        slows,
        standstill: None,
    };
    Station {
        title: "Tiny".to_owned(),
        revision: 1,
        temporary: None,
        scan_us: 10_000,
        on_fault: 3,
        modes: vec![
            Mode { name: name("passenger"), key: 9, at_most: None },
            Mode { name: name("maintenance"), key: 10, at_most: None },
        ],
        outputs: vec![
            Output {
                name: name("traction"),
                terminal: "RO-1".into(),
                off_within_us: 40_000,
                read_back: Some((5, 10)),
                not_together: vec![],
            },
            Output {
                name: name("brake"),
                terminal: "RO-2".into(),
                off_within_us: 30_000,
                read_back: None,
                not_together: vec![],
            },
        ],
        slows: vec![Slow { name: name("creep"), pace: 6, down_to: 150, within: 800 }],
        stops: vec![
            stop("service", 1, vec![1], Some(Then { outputs: vec![0], pace: 6, latest: 2_000 }), (500, 800)),
            stop("emergency", 0, vec![0, 1], None, (1_000, 1_600)),
        ],
        inputs: vec![
            input("arrive", detector(0, 400)),
            input("force-point", detector(1, 8_000)),
            input("rope-fork", InputKind::Contact(contact)),
            input("grip-gate", InputKind::Pair(pair)),
            input("close-force", gauge(0, [(4_000, 0), (20_000, 12_000_000_000)], -150, 12_525, "N")),
            input("rope-height", gauge(1, [(4_000, -60_000_000), (20_000, 60_000_000)], -62, 126, "mm")),
            input("rope", pace(0, Backing::Source(1, 20))),
            input("brake-set", InputKind::Contact(brake_set)),
            input("conveyor", pace(2, Backing::None)),
            input("passenger-key", key(6)),
            input("maintenance-key", key(7)),
            input("reset-key", key(9)),
            input("other-side", InputKind::Link(Link { terminal: 0, silent: 10, otherwise: 3 })),
        ],
        channels: (1..=10).map(|i| format!("DI-{i:02}")).collect(),
        gauge_terminals: vec!["AI-01".into(), "AI-02".into()],
        sources: vec!["CI-01".into(), "CI-02".into(), "CI-03".into()],
        link_terminals: vec!["L-01".into()],
        watches: vec![Watch {
            name: name("shut"),
            title: String::new(),
            hazards: vec![],
            modes: vec![],
            kind: WatchKind::Measure(measure),
        }],
        reset: None,
        restart: 0,
        refills: vec![],
        bypasses: vec![],
        hazards: vec![],
        requirements: vec![],
        entries: vec![],
        assumptions: vec![],
        lane: Some(lane()),
    }
}
