//! The table "Rounding to the strict side", row by row, and the findings about names and numbers.

use super::resolve;
use crate::station::{Condition, Form, InputKind, Lasting, Loads, LoadsOn, Measured, Station, Tolerances, WatchKind};
use crate::text::finding::{Finding, Level};
use crate::text::parse::{Source, parse};

const HEAD: &str = "\
station \"Trial\"
revision 1
scan 40 ms
output ramp on DO-01, off within 50 ms
output brake on DO-02, off within 130 ms, read back on DI-90 within 290 ms
slow creep rope down to 1.51 m/s within 990 ms
stop halt category 1
    releases ramp
    then brake when rope still, at the latest after 1010 ms
    bites within 400 ms, slows at 0.3 m/s2 to 0.6 m/s2
stop emergency category 0
    releases ramp and brake
    bites within 300 ms, slows at 0.8 m/s2 to 1.5 m/s2
pace rope on CN-01, 10 mm a pulse
    signed, at most 5.33 m/s, speed over 230 ms, fault after 990 ms
detector entry on DI-01, at 2 m, pulses at least 60 ms
detector exit on DI-02, at 9 m, pulses at least 60 ms
gauge grip on AI-01, 4 mA is 0 N, 20 mA is 12000 N, in steps of 10 N
contact gate on DI-03, rests closed, settles 50 ms opening and 90 ms closing
key turn on DI-04
key work on DI-05
";

fn read(text: &str) -> (Option<Station>, Vec<Finding>) {
    let (files, found) =
        parse(vec![Source { path: "t.rules".to_owned(), bytes: format!("{HEAD}{text}").into_bytes() }]);
    assert!(found.is_empty(), "{found:?}");
    resolve(&files)
}
fn station(text: &str) -> Station {
    let (station, found) = read(text);
    station.unwrap_or_else(|| panic!("{found:?}"))
}
fn watch(text: &str) -> WatchKind {
    station(text).watches.first().unwrap().kind.clone()
}
fn when(condition: &str) -> Condition {
    match watch(&format!("guard g\n    when {condition}\n    stop halt\n")) {
        WatchKind::Guard(guard) => guard.when,
        other => panic!("{other:?}"),
    }
}
fn errors(text: &str) -> Vec<&'static str> {
    let (_, found) = read(text);
    found.iter().filter(|f| f.level != Level::Note).map(|f| f.code.text()).collect()
}
fn not(condition: Condition) -> Condition {
    Condition::Not(Box::new(condition))
}

// Ids in the order of HEAD.
const ROPE: usize = 0;
const GRIP: usize = 3;
const GATE: usize = 4;

#[test]
fn permissions_go_up_and_trips_go_down() {
    let s = station(
        "reset by turn pressed and let go, when gate closed for 90 ms
restart no sooner than 1010 ms after a stop
mode run selected by work
guard g
    when gate open
    unbroken for 90 ms
    stop halt
guard h
    when gate open
    for 90 ms in all within 1010 ms
    slow creep
bypass b of g
    in run
    while turn held
    rope at most 0.51 m/s, for at most 990 ms, then not again for 1010 ms
",
    );
    let reset = s.reset.as_ref().unwrap();
    assert_eq!((reset.lasting, reset.shortest, reset.longest, s.restart), (3, 3, 75, 26));
    let bypass = s.bypasses.first().unwrap();
    // 0.51 m/s over 5 scans of 40 ms are 102 mm.
    assert_eq!((bypass.at_most, bypass.budget, bypass.rest), ((ROPE, 102), 24, 26));
    let lasting: Vec<_> =
        s.watches.iter().map(|w| if let WatchKind::Guard(g) = &w.kind { g.lasting } else { panic!() }).collect();
    assert_eq!(lasting, [Lasting::Unbroken(2), Lasting::Total { of: 2, within: 26 }]);
    let InputKind::Contact(gate) = &s.inputs.get(GATE).unwrap().kind else { panic!() };
    assert_eq!((gate.settle.down, gate.settle.up), (2, 3));
    assert_eq!(s.outputs.get(1).unwrap().read_back, Some((0, 7)));
    let slow = s.slows.first().unwrap();
    assert_eq!((slow.down_to, slow.within), (302, 24));
    assert_eq!(s.stops.first().unwrap().then.as_ref().unwrap().latest, 25);
    assert_eq!(s.on_fault, 3);
}

#[test]
fn a_pace_is_cut_above_what_a_scan_can_give() {
    let s = station("");
    let InputKind::Pace(pace) = &s.inputs.first().unwrap().kind else { panic!() };
    // 230 ms are 5 whole scans; 5.33 m/s over 200 ms are 1066 mm, over one scan 213.2 mm: 22 pulses and one more.
    assert_eq!((pace.span, pace.top, pace.top_scan, pace.still, pace.fault_after), (5, 1066, 230, 10, 24));
}

#[test]
fn windows_go_inwards_and_lose_one_scan() {
    let answers = "up to 2 carriers under way, early halt, late halt, stray halt, crowded halt";
    let WatchKind::Travel(t) = watch(&format!(
        "travel t from entry to exit, takes 2000.5 mm to 4000.5 mm of rope, and at most 990 ms while rope runs, {answers}\n"
    )) else {
        panic!()
    };
    assert_eq!((t.earliest, t.latest, t.run, t.backstop, t.backwards), (2001 + 214, 4000 - 214, 4001, Some(24), 3));
    let WatchKind::Travel(t) = watch(&format!(
        "travel t from entry to exit, takes 410 ms to 790 ms, with rope at 4.001 m/s to 5.001 m/s throughout, {answers}\n"
    )) else {
        panic!()
    };
    // 5.001 m/s for 790 ms are 3950.79 mm.
    assert_eq!((t.earliest, t.latest, t.run), (11 + 1, 19 - 1, 3951));
    assert_eq!(t.measured, Measured::Time { pace: ROPE, least: 801, most: 1000 });
    let WatchKind::Spacing(s) = watch("spacing s entry rises at least 999.5 mm of rope apart, closer halt\n") else {
        panic!()
    };
    assert_eq!((s.least, s.most), (1000 + 214, None));
    let r = station(
        "require R1 \"t\" after entry rises, in 999.5 mm to 3000.5 mm of rope must rise exit, else stop at least halt within 1 s\n",
    );
    let Form::After { earliest, latest, capacity, .. } = r.requirements.first().unwrap().form else { panic!() };
    assert_eq!((earliest, latest, capacity), (1000, 3000, 8));
}

#[test]
fn limits_of_speed_let_the_limit_itself_pass() {
    // 1.003 m/s over 200 ms are 200.6 mm: 200 mm pass, 201 mm trip.
    assert_eq!(when("rope faster than 1.003 m/s"), Condition::Faster(ROPE, 201));
    assert_eq!(when("rope at most 1.003 m/s"), not(Condition::Faster(ROPE, 201)));
    assert_eq!(when("rope rolls back faster than 1.003 m/s"), Condition::Back(ROPE, 201));
    assert_eq!(when("rope still"), not(Condition::Faster(ROPE, 11)));
    assert_eq!(when("rope moving"), Condition::Faster(ROPE, 11));
}

#[test]
fn gauges_trip_at_the_first_step_beyond() {
    // 3.8 mA are -150 N: step 0 is -15 steps of 10 N.
    assert_eq!(when("grip above 805 N"), Condition::AtLeast(GRIP, 81 + 15));
    assert_eq!(when("grip above 800 N"), Condition::AtLeast(GRIP, 81 + 15));
    assert_eq!(when("grip below 805 N"), not(Condition::AtLeast(GRIP, 81 + 15)));
    assert_eq!(when("grip below 800 N"), not(Condition::AtLeast(GRIP, 80 + 15)));
    let inside = Condition::All(vec![Condition::AtLeast(GRIP, 81 + 15), not(Condition::AtLeast(GRIP, 91 + 15))]);
    assert_eq!(when("grip between 805 N and 905 N"), inside);
    assert_eq!(when("grip outside 805 N to 905 N"), not(inside));
}

#[test]
fn a_deadline_loses_output_and_two_scans() {
    let within = |text: &str| match station(text).requirements.first().unwrap().form {
        Form::Whenever { within, lasting, least, .. } => (within, lasting, least),
        ref other => panic!("{other:?}"),
    };
    // The mildest stop that is enough releases the ramp alone, but a more severe one may answer: 500 - 130 - 80 = 290 ms.
    assert_eq!(within("require R1 \"t\" whenever gate open for 90 ms, stop at least halt within 500 ms\n"), (7, 2, 2));
    assert_eq!(within("require R1 \"t\" whenever gate open, slow at least creep within 500 ms\n"), (10, 0, 1));
    assert_eq!(
        errors("require R1 \"t\" whenever gate open, stop at least halt within 209 ms\n"),
        ["deadline-negative"]
    );
    assert_eq!(within("require R1 \"t\" whenever gate open, stop at least halt within 210 ms\n"), (0, 0, 2));
}

#[test]
fn what_is_not_whole_is_told() {
    let (_, found) = read("guard g\n    when gate open\n    unbroken for 110 ms\n    stop halt\n");
    let note = found.iter().find(|f| f.message.starts_with("110 ms is 2.75")).unwrap();
    assert_eq!((note.code.text(), note.level), ("limit-rounded", Level::Note));
    assert!(
        note.message.contains("2 is taken, rounded down, so that it trips no later than written"),
        "{}",
        note.message
    );
}

#[test]
fn names_and_kinds_are_checked() {
    let guard = |condition: &str, answer: &str| errors(&format!("guard g\n    when {condition}\n    {answer}\n"));
    assert_eq!(guard("gate covered", "stop halt"), ["name-kind"]);
    assert_eq!(guard("gade open", "stop halt"), ["name-unknown"]);
    assert_eq!(guard("gate open", "stop creep"), ["name-kind"]);
    assert_eq!(guard("ramp seen off", "stop halt"), ["name-kind"]);
    assert_eq!(guard("rope faster than 3 N", "stop halt"), ["unit-wrong"]);
    assert_eq!(guard("grip above 13000 N", "stop halt"), ["limit-out-of-reach"]);
    assert_eq!(guard("grip between 900 N and 800 N", "stop halt"), ["bounds-reversed"]);
    assert_eq!(guard("grip between 801 N and 809 N", "stop halt"), ["window-empty"]);
    assert_eq!(errors("key turn on DI-77\n"), ["name-twice"]);
    assert_eq!(errors("key other on DI-01\n"), ["terminal-twice"]);
    assert_eq!(errors("scan 20 ms\n"), ["statement-twice"]);
    assert_eq!(
        errors(
            "lane gate carriers every 60 m of rope, 0.5 m long, from 0 m to 42 m at rope speed, uncouples at 3 m, couples at 39 m, held until 41 m\n"
        ),
        ["name-twice"]
    );
    assert_eq!(errors("key other on DI-77, settles 900000 h\n"), ["too-large"]);
    assert_eq!(errors("key other on DI-77, settles -1 s\n"), ["number-senseless"]);
}

#[test]
fn shares_of_the_lane_follow_the_stretches() {
    let lane = |stretches: &str| {
        format!(
            "lane way carriers every 60 m of rope, 0.5 m long, {stretches}, uncouples at 3 m, couples at 9 m, held until 9 m\n"
        )
    };
    let s = station(&lane(
        "from 0 m to 4 m at rope speed, from 4 m to 6 m slows to 0.3 m/s at 5 m/s of rope, from 6 m to 8 m steady, from 8 m to 10 m speeds up to rope speed",
    ));
    let shares: Vec<_> = s.lane.unwrap().stretches.iter().map(|s| s.share).collect();
    assert_eq!(shares, [(1_000_000, 1_000_000), (1_000_000, 60_000), (60_000, 60_000), (60_000, 1_000_000)]);
    assert_eq!(errors(&lane("from 0 m to 4 m at rope speed, from 5 m to 10 m steady")), ["lane-broken"]);
    assert_eq!(
        errors(&lane("from 0 m to 4 m slows to 0.3 m/s at 5 m/s of rope, from 4 m to 10 m at rope speed")),
        ["lane-broken"]
    );
    assert_eq!(
        errors(&lane("from 0 m to 4 m slows to 6 m/s at 5 m/s of rope, from 4 m to 10 m steady")),
        ["bounds-reversed"]
    );
}

#[test]
fn what_the_lane_says_of_carriers_and_tolerances_is_kept() {
    let lane = |clauses: &str| {
        let first = if clauses.starts_with("at least") { ", " } else { ", 0.5 m long, " };
        let last = if clauses.starts_with("at least") { ", 0.5 m long" } else { "" };
        format!(
            "lane way carriers every 60 m of rope{first}{clauses}{last}, from 0 m to 10 m at rope speed, uncouples at 3 m, couples at 9 m, held until 9 m\n"
        )
    };
    let kept = |clauses: &str| station(&lane(clauses)).lane.unwrap();
    let plain = kept("bodies 2.10 m long");
    assert_eq!((plain.body, plain.least_every, plain.loads), (Some(2_100), None, None));
    assert_eq!(plain.tolerances, Tolerances::default());
    assert_eq!(kept("at least 54.2 m apart").least_every, Some(54_200));
    let both = kept("at least 54.2 m apart, at most 65.8 m apart");
    assert_eq!((both.least_every, both.most_every), (Some(54_200), Some(65_800)));
    assert_eq!((plain.line_speed, plain.touches.len()), (None, 0));
    assert_eq!(kept("line speed 4.5 m/s").line_speed, Some(4_500));
    let touched = kept("touches gate at 4 m");
    assert_eq!(touched.touches.iter().map(|(at, _)| *at).collect::<Vec<_>>(), [4_000]);
    let loads = |from, to, kind| Some(Loads { from, to, kind });
    assert_eq!(kept("loads from 4 m to 6 m onto open chairs for 4").loads, loads(4_000, 6_000, LoadsOn::OpenChairs(4)));
    assert_eq!(kept("loads from 4 m to 6 m onto closed cabins").loads, loads(4_000, 6_000, LoadsOn::ClosedCabins));
    // Rounded to where more is reckoned with: 1.23456 % are 12 345.6 millionths.
    let tolerances = kept("speeds within 1.23456 %, detectors within 10.5 mm, switching within 5 mm").tolerances;
    assert_eq!(tolerances, Tolerances { share_ppm: 12_346, detector: 11, switching: 5 });

    for (clauses, code) in [
        ("at least 60.1 m apart", "bounds-reversed"),
        ("at least 60 m apart, at most 59.9 m apart", "bounds-reversed"),
        ("line speed 0 m/s", "number-senseless"),
        ("line speed 4.5 m", "unit-wrong"),
        ("touches entry at 4 m", "name-kind"),
        ("touches gate at 4 m, touches gate at 5 m", "name-twice"),
        ("touches gate at 12 m", "lane-broken"),
        ("at least 0 m apart", "number-senseless"),
        ("bodies 0 m long", "number-senseless"),
        ("bodies 2 s long", "unit-wrong"),
        ("loads from 4 m to 12 m onto closed cabins", "lane-broken"),
        ("loads from 6 m to 4 m onto closed cabins", "bounds-reversed"),
        ("loads from 6 m to 6 m onto closed cabins", "number-senseless"),
        ("loads from 4 m to 6 m onto open chairs for 0", "number-senseless"),
        ("speeds within 100 %", "number-senseless"),
        ("speeds within 10 mm", "unit-wrong"),
        ("detectors within -1 mm", "number-senseless"),
    ] {
        assert_eq!(errors(&lane(clauses)), [code], "{clauses}");
    }
}

#[test]
fn a_name_that_nothing_declares_is_told_once() {
    let text = "guard one\n    hazard H7\n    when gate open\n    stop halt\nguard two\n    hazard H7\n    when gate open\n    stop halt\n";
    let found = read(text).1;
    let unknown: Vec<_> = found.iter().filter(|finding| finding.code.text() == "name-unknown").collect();
    assert_eq!(unknown.iter().map(|finding| finding.labels.len()).collect::<Vec<_>>(), [2]);
}
