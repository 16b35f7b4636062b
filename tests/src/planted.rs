//! Faults planted in the rules of the demo stations, each of which breaks a requirement.

use host_tools::load::load;
use host_tools::prove::upheld::with_upheld;
use host_tools::station::{Ground, Station};
use host_tools::text::finding::Level;
use host_tools::text::parse::Source;
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

fn text(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo").join(name);
    fs::read_to_string(path).unwrap_or_else(|e| panic!("{name}: {e}"))
}

/// A demo station with changes to its rules, and what its watches are said to hold.
pub fn station(kind: &str, changes: &[(&str, &str)]) -> Station {
    of(kind, &["requirements"], changes)
}

/// The same, with what is required of how it watches itself too.
pub fn supervised(kind: &str, changes: &[(&str, &str)]) -> Station {
    of(kind, &["requirements", "supervision"], changes)
}

fn of(kind: &str, more: &[&str], changes: &[(&str, &str)]) -> Station {
    let mut rules = text(&format!("{kind}-terminal.rules"));
    for (old, new) in changes {
        assert!(rules.contains(old), "{kind} says nowhere: {old}");
        rules = rules.replacen(old, new, 1);
    }
    let source = |path: &str, text: String| Source { path: path.to_owned(), bytes: text.into_bytes() };
    let mut sources = vec![source("rules", rules)];
    sources.extend(more.iter().map(|name| source(name, text(&format!("{kind}-terminal.{name}.rules")))));
    let reading = load(sources);
    let errors: Vec<_> = reading.findings.iter().filter(|f| f.level == Level::Error).collect();
    assert!(errors.is_empty(), "{changes:?}: {errors:#?}");
    with_upheld(&reading.station.expect("a station"))
}

/// Number of a requirement.
pub fn number(station: &Station, name: &str) -> usize {
    station.requirements.iter().position(|r| r.name.text == name).unwrap_or_else(|| panic!("no {name}"))
}

/// A station without some of its watches.
pub fn without(station: &Station, gone: &BTreeSet<usize>) -> Station {
    let mut less = station.clone();
    let kept: Vec<usize> = (0..station.watches.len()).filter(|watch| !gone.contains(watch)).collect();
    let moved = |watch: usize| kept.iter().position(|&old| old == watch);
    less.watches = kept.iter().map(|&watch| station.watches[watch].clone()).collect();
    for refill in &mut less.refills {
        refill.watches = refill.watches.iter().filter_map(|&watch| moved(watch)).collect();
    }
    for bypass in &mut less.bypasses {
        bypass.of = bypass.of.iter().filter_map(|&watch| moved(watch)).collect();
    }
    for stop in &mut less.stops {
        stop.standstill = stop.standstill.and_then(moved);
    }
    for assumption in &mut less.assumptions {
        if let Ground::HeldBy(watch) = assumption.ground {
            assumption.ground = moved(watch).map_or(Ground::Evidence("none".into()), Ground::HeldBy);
        }
    }
    less
}

/// Faults that break what is required of how a station watches itself.
pub const SUPERVISED: &[Planted] = &[
    (
        "a detector may stay covered longer",
        "drive",
        "S15",
        &[("covered for at most 1.20 m of rope, rises", "covered for at most 1.50 m of rope, rises")],
    ),
    (
        "tyres may lag more",
        "drive",
        "S28",
        &[("rope and tyres-in agree within 0.4 m/s", "rope and tyres-in agree within 0.5 m/s")],
    ),
    (
        "carriers may come closer",
        "drive",
        "S11",
        &[("rises at least 54.02 m of rope apart", "rises at least 51.0 m of rope apart")],
    ),
    (
        "a carrier may be missing longer",
        "drive",
        "S12",
        &[("at most 65.98 m of rope apart", "at most 70.0 m of rope apart")],
    ),
    ("a brake is read back late", "drive", "S33", &[("DI-52 within 100 ms", "DI-52 within 200 ms")]),
    (
        "a carrier may come early into the bay",
        "drive",
        "S4",
        &[("takes 3.296 m to 3.986 m", "takes 2.90 m to 3.986 m")],
    ),
    ("a contact may chatter more", "return", "S21", &[("at most 40 changes a second", "at most 60 changes a second")]),
    (
        "the lift may slow down later",
        "return",
        "S23",
        &[("down to 1.5 m/s within 14 s", "down to 1.5 m/s within 16 s")],
    ),
    (
        "one carrier more may be under way",
        "return",
        "S30",
        &[("42.346 m of rope\n    up to 2 carriers under way", "42.346 m of rope\n    up to 3 carriers under way")],
    ),
    (
        "a carrier from nowhere is answered more mildly",
        "drive",
        "S49",
        &[("early emergency, late emergency, stray emergency", "early emergency, late emergency, stray brake")],
    ),
    ("a carrier may creep for longer", "return", "S51", &[("at most 30 s while", "at most 33 s while")]),
    ("the reset acts sooner", "return", "S39", &[("when rope still for 2 s", "when rope still for 1.8 s")]),
    ("a start is permitted sooner", "drive", "S54", &[("restart no sooner than 10 s", "restart no sooner than 9 s")]),
    (
        "the rope may lie less level",
        "return",
        "S22",
        &[("deck-height agree within 14 mm", "deck-height agree within 18 mm")],
    ),
    (
        "the platform stop settles half as long, so that a reset comes sooner after it",
        "return",
        "S63",
        &[("opens for at least 150 ms, settles 20 ms", "opens for at least 150 ms, settles 10 ms")],
    ),
    (
        "the safety line does not settle, so that a reset comes sooner after it",
        "drive",
        "S76",
        &[(
            "contact line-circuit on DI-13, rests closed\n    opens for at least 40 ms, settles 10 ms",
            "contact line-circuit on DI-13, rests closed\n    opens for at least 40 ms, settles 0 ms",
        )],
    ),
    (
        "the service brake need slow the rope less",
        "drive",
        "R24",
        &[("see rope slower by 0.4 m/s", "see rope slower by 0.3 m/s")],
    ),
    (
        "the service stop may take longer to slow the rope",
        "return",
        "S65",
        &[("within 14 s\n    else emergency", "within 16 s\n    else emergency")],
    ),
    (
        "the service stop may slow the rope less",
        "drive",
        "S77",
        &[("see rope at most 1.0 m/s", "see rope at most 1.1 m/s")],
    ),
    (
        "chatter that nobody counts",
        "drive",
        "S26",
        &[(
            "contact rope-fork-out on DI-12, rests closed\n    opens for at least 40 ms, settles 10 ms, at most 12 changes a second",
            "contact rope-fork-out on DI-12, rests closed\n    opens for at least 40 ms, settles 10 ms",
        )],
    ),
    (
        "runs back to a brake stop, which stands from power-up on and must be seen to set",
        "drive",
        "S61",
        &[("rolls back faster than 0.2 m/s\n    stop emergency", "rolls back faster than 0.2 m/s\n    stop brake")],
    ),
    (
        "room for one more, who all come before anybody is a stray",
        "drive",
        "S44",
        &[("takes 37.424 m to 39.535 m of rope\n    up to 2", "takes 37.424 m to 39.535 m of rope\n    up to 3")],
    ),
    (
        "slower to creep, as only a refill orders",
        "drive",
        "S36",
        &[("slow creep rope down to 1.5 m/s within 14 s", "slow creep rope down to 1.5 m/s within 15.4 s")],
    ),
];

/// A fault: a name, the station, the requirement that it breaks, and what its text becomes. The first of each
/// kind make the short form of the suite.
pub type Planted = (&'static str, &'static str, &'static str, &'static [(&'static str, &'static str)]);

/// Some of each kind.
pub const SHORT: &[Planted] = &[
    (
        "a milder answer",
        "drive",
        "R1",
        &[("when emergency-button open\n    stop emergency", "when emergency-button open\n    stop brake")],
    ),
    ("a hold too long", "drive", "R2", &[("when grip-gate open", "when grip-gate open\n    unbroken for 60 ms")]),
    ("in one mode only", "return", "R3", &[("when last-catch open", "in passenger\n    when last-catch open")]),
    ("one input forgotten", "drive", "R7", &[(" or rope-fork-out open", "")]),
    ("a limit too low", "drive", "R6", &[("rope-height-in below -18 mm", "rope-height-in below -21 mm")]),
    ("overspeed too fast", "drive", "R9", &[("rope faster than 5.3 m/s", "rope faster than 5.45 m/s")]),
    (
        "a bypass too fast",
        "drive",
        "R13",
        &[("rope at most 1.0 m/s, for at most 5 min", "rope at most 1.4 m/s, for at most 5 min")],
    ),
    ("the wrong reset", "drive", "R14", &[("reset by reset-key", "reset by refill-key")]),
    ("a window too wide", "drive", "R11", &[("takes 4.60 m to 5.188 m", "takes 4.60 m to 5.50 m")]),
    ("a force too weak", "drive", "R5", &[("between 6200 N and 8400 N", "between 5900 N and 8400 N")]),
    (
        "only while it moves",
        "return",
        "R1",
        &[("when emergency-button open", "when emergency-button open and rope moving")],
    ),
    (
        "a hold of seconds",
        "return",
        "R12",
        &[("800 mm to 5200 mm\n    unbroken for 1 s", "800 mm to 5200 mm\n    unbroken for 2 s")],
    ),
];

/// The others.
pub const LONG: &[Planted] = &[
    (
        "what holds an assumption in one mode only",
        "drive",
        "carriers-apart",
        &[("with one missing\"\n    hazard H2", "with one missing\"\n    hazard H2\n    in passenger")],
    ),
    (
        "what holds an assumption in one mode only",
        "return",
        "carriers-apart",
        &[("with one missing\"\n    hazard H2", "with one missing\"\n    hazard H2\n    in passenger")],
    ),
    (
        "settles too long",
        "drive",
        "R1",
        &[("opens for at least 150 ms, settles 10 ms", "opens for at least 150 ms, settles 100 ms")],
    ),
    ("only with a key free", "drive", "R4", &[("when last-catch open", "when last-catch open and refill-key free")]),
    ("in one mode only", "drive", "R3", &[("when grip-blade open", "in passenger\n    when grip-blade open")]),
    (
        "a hold too long",
        "drive",
        "R6",
        &[("rope-fork-in open\n    unbroken for 20 ms", "rope-fork-in open\n    unbroken for 120 ms")],
    ),
    (
        "a hold too long",
        "drive",
        "R8",
        &[("when line-circuit open", "when line-circuit open\n    unbroken for 150 ms")],
    ),
    ("rolls back too fast", "drive", "R10", &[("rolls back faster than 0.2 m/s", "rolls back faster than 0.4 m/s")]),
    (
        "a bypass of too much",
        "drive",
        "R2",
        &[
            ("of rope-low-in\n", "of rope-low-in and gate-open\n"),
            ("hazard H3\n    when grip-gate open", "when grip-gate open"),
        ],
    ),
    (
        "a bypass for passengers",
        "drive",
        "R3",
        &[
            ("of rope-low-in\n    in maintenance", "of rope-low-in and blade-touched\n    in passenger"),
            ("hazard H3\n    when grip-blade open", "when grip-blade open"),
        ],
    ),
    (
        "another gauge",
        "drive",
        "R5",
        &[("close-force stays between 6200 N and 8400 N", "rope-tension stays between 180 kN and 260 kN")],
    ),
    ("a window too wide", "drive", "R11", &[("takes 4.60 m to 5.188 m", "takes 4.30 m to 5.188 m")]),
    ("a window too wide", "drive", "R12", &[("takes 3.307 m to 3.862 m", "takes 3.307 m to 4.20 m")]),
    ("in one mode only", "drive", "R11", &[("from enter to mid-slow", "in maintenance\n    from enter to mid-slow")]),
    ("only in calm", "drive", "R8", &[("when line-circuit open", "when line-circuit open and wind below 12 m/s")]),
    (
        "a milder answer",
        "return",
        "R1",
        &[("when emergency-button open\n    stop emergency", "when emergency-button open\n    stop service")],
    ),
    ("a hold too long", "return", "R2", &[("when shut-gate open", "when shut-gate open\n    unbroken for 100 ms")]),
    ("a limit too low", "return", "R5", &[("rope-height below -18 mm", "rope-height below -22 mm")]),
    ("one input forgotten", "return", "R6", &[(" or rope-fork open", "")]),
    (
        "a bypass of too much",
        "return",
        "R7",
        &[
            ("of catch-fired\n", "of catch-fired and line-open\n"),
            ("hazard H4\n    when line-circuit open", "when line-circuit open"),
        ],
    ),
    ("overspeed too fast", "return", "R8", &[("rope faster than 5.3 m/s", "rope faster than 5.45 m/s")]),
    ("overspeed too long", "return", "R8", &[("5.3 m/s\n    unbroken for 200 ms", "5.3 m/s\n    unbroken for 900 ms")]),
    (
        "rolls back too long",
        "return",
        "R9",
        &[(
            "when rope rolls back faster than 0.2 m/s",
            "when rope rolls back faster than 0.2 m/s\n    unbroken for 1 s",
        )],
    ),
    ("a window too wide", "return", "R10", &[("takes 4.957 m to 5.525 m", "takes 4.957 m to 6.10 m")]),
    (
        "in one mode only",
        "return",
        "R11",
        &[("from half-speed to shut", "in maintenance\n    from half-speed to shut")],
    ),
    ("the wrong reset", "return", "R13", &[("reset by reset-key", "reset by refill-key")]),
    ("a bypass too fast", "return", "R14", &[("rope at most 0.8 m/s", "rope at most 1.4 m/s")]),
    (
        "a hold a scan too long",
        "drive",
        "R2",
        &[("when grip-gate open", "when grip-gate open\n    unbroken for 50 ms")],
    ),
    (
        "in all, not unbroken",
        "drive",
        "R8",
        &[("when line-circuit open", "when line-circuit open\n    for 60 ms in all within 1 s")],
    ),
    (
        "a hold a scan too long",
        "drive",
        "R6",
        &[("rope-fork-in open\n    unbroken for 20 ms", "rope-fork-in open\n    unbroken for 50 ms")],
    ),
    (
        "the wrong detector",
        "drive",
        "R12",
        &[(
            "from mid-speed to coupling\n    takes 3.307 m to 3.862 m",
            "from mid-speed to leave\n    takes 6.20 m to 7.20 m",
        )],
    ),
    (
        "two stretches as one",
        "drive",
        "R11",
        &[(
            "from enter to mid-slow\n    takes 4.60 m to 5.188 m",
            "from enter to slow-end\n    takes 10.00 m to 12.50 m",
        )],
    ),
    (
        "a refill while it runs",
        "drive",
        "R12",
        &[(
            "carriers-inside by refill-key\n    when rope still",
            "carriers-inside by refill-key\n    when station-empty free or rope still",
        )],
    ),
    (
        "a bypass too fast",
        "drive",
        "R13",
        &[("rope at most 1.0 m/s, for at most 5 min", "rope at most 1.25 m/s, for at most 5 min")],
    ),
    ("the wrong reset", "drive", "R14", &[("reset by reset-key", "reset by station-empty")]),
    ("only while it moves", "drive", "R4", &[("when last-catch open", "when last-catch open and rope moving")]),
    (
        "a bypass of too much",
        "drive",
        "R1",
        &[
            ("of rope-low-in\n", "of rope-low-in and emergency-stop\n"),
            ("hazard H1\n    when emergency-button open", "when emergency-button open"),
        ],
    ),
    (
        "a hold a scan too long",
        "drive",
        "R7",
        &[("rope-fork-out open\n    unbroken for 20 ms", "rope-fork-out open\n    unbroken for 50 ms")],
    ),
    (
        "measured a scan late",
        "drive",
        "R5",
        &[(
            "detector force-point on DI-09, at 28.20 m, pulses at least 60 ms\n",
            "detector force-point on DI-09, at 28.20 m, pulses at least 60 ms\n    settles 10 ms, ",
        )],
    ),
    (
        "not in a storm",
        "drive",
        "R8",
        &[("when line-circuit open", "when line-circuit open and (wind below 15 m/s or return-side faulty)")],
    ),
    (
        "not with the bypass key",
        "drive",
        "R3",
        &[("when grip-blade open", "when grip-blade open and (rope faster than 1 m/s or bypass-key free)")],
    ),
    (
        "not while it brakes",
        "drive",
        "R1",
        &[("when emergency-button open", "when emergency-button open and not brake-1-set closed")],
    ),
    ("rolls back too fast", "return", "R9", &[("rolls back faster than 0.2 m/s", "rolls back faster than 0.35 m/s")]),
    (
        "a hold a scan too long",
        "return",
        "R12",
        &[("5200 mm\n    unbroken for 1 s", "5200 mm\n    unbroken for 1510 ms")],
    ),
    (
        "too long in all",
        "return",
        "R12",
        &[("5200 mm\n    unbroken for 1 s", "5200 mm\n    for 1600 ms in all within 3 s")],
    ),
    (
        "in one mode only",
        "return",
        "R4",
        &[(
            "    throughout the 1.00 m of rope after test-ramp",
            "    in passenger\n    throughout the 1.00 m of rope after test-ramp",
        )],
    ),
    ("in the wrong mode", "return", "R3", &[("when last-catch open", "in maintenance\n    when last-catch open")]),
    (
        "not while keys are held",
        "return",
        "R2",
        &[("when shut-gate open", "when shut-gate open and not (reset-key held and refill-key held)")],
    ),
];

/// Those that seldom a trial finds: a solver must look on from where trials have come to.
pub const HIDDEN: &[Planted] = &[
    (
        "not while two keys are held",
        "drive",
        "R4",
        &[("when last-catch open", "when last-catch open and (refill-key free or station-empty free)")],
    ),
    ("a window 1 cm too wide", "drive", "R12", &[("takes 3.307 m to 3.862 m", "takes 3.307 m to 4.11 m")]),
    ("a window 1 cm too wide", "drive", "R11", &[("takes 4.60 m to 5.188 m", "takes 4.60 m to 5.41 m")]),
    ("a window 1 cm too wide", "drive", "R11", &[("takes 4.60 m to 5.188 m", "takes 4.39 m to 5.188 m")]),
    (
        "in one mode only",
        "drive",
        "R12",
        &[("from mid-speed to coupling", "in passenger\n    from mid-speed to coupling")],
    ),
    ("a window 1 cm too wide", "return", "R11", &[("takes 4.096 m to 4.642 m", "takes 4.096 m to 4.91 m")]),
];
