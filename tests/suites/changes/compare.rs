//! Twelve edits of the drive terminal, compared with what was before: is a rewrite equal, is each weakening found, and is a
//! strengthening never called milder?
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::effort::{by_effort, is_heavy};
use cross_tests::generate::{Case, History, case};
use cross_tests::machines::Stepped;
use cross_tests::reading::Reading as _;
use cross_tests::render::render;
use cross_tests::small::swarm::Swarm;
use host_tools::compare::histories::{Effort, Shown};
use host_tools::compare::recheck::check;
use host_tools::compare::side::{Difference, any, differ};
use host_tools::compare::{Both, Comparison, Revision, certificate, compare};
use host_tools::load::load;
use host_tools::prove::certificate::digest as certificate_digest;
use host_tools::prove::history::recording;
use host_tools::prove::lemma::Value;
use host_tools::recording::read::{Reader, Step};
use host_tools::runner::with_runner;
use host_tools::slack::limits::limits;
use host_tools::station::Station;
use host_tools::text::parse::Source;
use logic_rules::{Algebra, Lanes, Plain, Sliced};
use std::collections::BTreeSet;
use std::fs;
use std::io::BufReader;
use std::path::Path;
use std::time::Instant;

/// What an edit is to come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wanted {
    Equal,
    Milder,
    MoreSevere,
    Both,
}

/// A name, what it is to come to, and what is written in the place of what.
type Edit = (&'static str, Wanted, &'static [(&'static str, &'static str)]);

const EDITS: [Edit; 12] = [
    (
        "a watch and an input have other names",
        Wanted::Equal,
        &[
            ("guard gate-open", "guard gate-pushed"),
            ("rope-fork-in", "fork-in"),
            ("measure shut-force", "measure closing-force"),
        ],
    ),
    (
        "statements in another order",
        Wanted::Equal,
        &[
            (
                "guard gate-open \"the gate behind the coupling point is pushed open\"\n    hazard H3\n    when grip-gate open\n    stop emergency\n",
                "",
            ),
            (
                "reset by reset-key",
                "guard gate-open \"the gate behind the coupling point is pushed open\"\n    hazard H3\n    when grip-gate open\n    stop emergency\n\nreset by reset-key",
            ),
            (
                "guard overspeed \"the rope runs faster than it may\"\n    hazard H5\n    when rope faster than 5.3 m/s\n    unbroken for 100 ms\n    stop emergency\n",
                "",
            ),
            (
                "count carriers-inside",
                "guard overspeed \"the rope runs faster than it may\"\n    hazard H5\n    when rope faster than 5.3 m/s\n    unbroken for 100 ms\n    stop emergency\n\ncount carriers-inside",
            ),
        ],
    ),
    (
        "a condition said the other way round",
        Wanted::Equal,
        &[
            (
                "when rope-height-in below -18 mm or rope-fork-in open",
                "when not (rope-fork-in closed and not rope-height-in below -18 mm)",
            ),
            ("when rope-tension outside 180 kN to 260 kN", "when not rope-tension between 180 kN and 260 kN"),
        ],
    ),
    (
        "the same limits in other units",
        Wanted::Equal,
        &[
            (
                "takes 4.60 m to 5.188 m of rope, and at most 30 s",
                "takes 4600 mm to 5188 mm of rope, and at most 0.5 min",
            ),
            ("unbroken for 500 ms", "unbroken for 0.5 s"),
        ],
    ),
    (
        "overspeed waits longer",
        Wanted::Milder,
        &[("5.3 m/s\n    unbroken for 100 ms", "5.3 m/s\n    unbroken for 200 ms")],
    ),
    ("a weaker grip is let through", Wanted::Milder, &[("stays between 6200 N", "stays between 6100 N")]),
    (
        "a watch is gone",
        Wanted::Milder,
        &[(
            "guard catch-fired \"the last catch has jammed a carrier\"\n    hazard H3\n    when last-catch open\n    stop emergency\n",
            "",
        )],
    ),
    (
        "the gate is answered late",
        Wanted::Milder,
        &[("when grip-gate open\n", "when grip-gate open\n    unbroken for 60 ms\n")],
    ),
    ("overspeed is sooner", Wanted::MoreSevere, &[("faster than 5.3 m/s", "faster than 5.2 m/s")]),
    ("more force is asked for", Wanted::MoreSevere, &[("stays between 6200 N", "stays between 6300 N")]),
    (
        "the rope may hang low for less long",
        Wanted::MoreSevere,
        &[(
            "rope-height-out below -18 mm or rope-fork-out open\n    unbroken for 20 ms",
            "rope-height-out below -18 mm or rope-fork-out open",
        )],
    ),
    ("the bounds of the force move up", Wanted::Both, &[("between 6200 N and 8400 N", "between 6300 N and 8500 N")]),
];

/// The drive terminal's rule files after an edit.
fn edited(edit: &[(&str, &str)]) -> Vec<Source> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo");
    let mut sources = Vec::new();
    for name in ["drive-terminal.rules", "drive-terminal.requirements.rules"] {
        let mut text = fs::read_to_string(folder.join(name)).unwrap();
        for (from, to) in edit {
            assert!(name.contains("requirements") || text.contains(from), "nothing says: {from}");
            text = text.replace(from, to);
        }
        sources.push(Source { path: name.to_string(), bytes: text.into_bytes() });
    }
    sources
}

/// A revision of the drive terminal.
fn revision(edit: &[(&str, &str)]) -> Revision {
    let loaded = load(edited(edit));
    Revision::of(&loaded).unwrap_or_else(|| panic!("{:?}", loaded.findings))
}

/// Proofs alone.
const NONE: Effort = Effort { scans: 0, replays: 0, conflicts: 0 };

/// The published answers of both sides in a scan, replayed from recordings as `replay` reads them, each side alone.
fn replayed(comparison: &Comparison, new: &Station, shown: &Shown) -> [u8; 2] {
    let stations = [&comparison.both.old, new];
    [0, 1].map(|side| {
        let bytes = recording(stations[side], &shown.histories[side], Vec::new()).unwrap();
        let mut reader = Reader::open(BufReader::new(bytes.as_slice()), stations[side]).unwrap();
        with_runner(stations[side], |runner| {
            let (mut scan, mut answer) = (0, 0);
            loop {
                match reader.advance().unwrap() {
                    Step::Scan { .. } => (scan, answer) = (scan + 1, runner.scan(reader.sample()).answer),
                    Step::PowerUp | Step::Gap { .. } | Step::Recording => {}
                    Step::End => break,
                }
            }
            assert_eq!(scan, shown.parted.scan + 1, "it ends with the scan in which they differ");
            answer
        })
        .unwrap()
    })
}

#[test]
fn twelve_edits_of_the_drive_terminal() {
    let old = revision(&[]);
    let all = Instant::now();
    let (first, every) = by_effort([(0, 4), (1, 2), (0, 1)]);
    for (name, wanted, edit) in EDITS.into_iter().skip(first).step_by(every) {
        let (started, new) = (Instant::now(), revision(edit));
        let comparison = compare(&old, &new, Effort::default()).unwrap();
        println!("{name}: {:?}, of it search, check, histories {:?}", started.elapsed(), comparison.took);
        assert!(comparison.matters.is_empty(), "{name}: {:?}", comparison.matters);
        let milder = matches!(wanted, Wanted::Milder | Wanted::Both);
        let severer = matches!(wanted, Wanted::MoreSevere | Wanted::Both);
        assert_eq!(comparison.is_never_milder(), !milder, "{name}");
        assert_eq!(comparison.is_never_more_severe(), !severer, "{name}");
        assert_eq!(comparison.is_equal(), wanted == Wanted::Equal, "{name}");
        let (mut found_milder, mut found_severer) = (false, false);
        for shown in &comparison.shown {
            assert!(shown.parted.visible, "{name}: hidden by a stop");
            let [was, is] = replayed(&comparison, &new.station, shown);
            found_milder |= is < was;
            found_severer |= is > was;
        }
        assert_eq!((found_milder, found_severer), (milder, severer), "{name}");
    }
    println!("together {:?}", all.elapsed());
}

#[test]
fn each_of_two_changes_is_told_by_what_it_does_alone() {
    let [weaker, sooner] = [EDITS[5].2[0], EDITS[8].2[0]];
    let compared = compare(&revision(&[]), &revision(&[weaker, sooner]), NONE).unwrap();
    assert!(!compared.is_never_milder() && !compared.is_never_more_severe());
    let alone = compared.causes.iter().map(|cause| {
        let name = cause.change.new.as_ref().unwrap().name.clone();
        (name, cause.never_milder, cause.never_more_severe)
    });
    let mut alone: Vec<_> = alone.collect();
    alone.sort();
    let told = |name: &str, milder, severer| (name.to_string(), Some(milder), Some(severer));
    assert_eq!(alone, [told("overspeed", true, false), told("shut-force", false, true)]);
}

#[test]
fn what_is_approved_beside_behaviour_is_not_hidden() {
    let old = revision(&[]);
    let told = |from: &'static str, to: &'static str| {
        let new = revision(&[(from, to)]);
        let comparison = compare(&old, &new, NONE).unwrap();
        let matters = comparison.matters.iter();
        let matters: Vec<String> = matters.map(|m| format!("{} {} {}", m.keyword, m.name, m.part)).collect();
        (comparison.is_equal(), matters.join(", "), comparison.both.pairs.apart.len())
    };
    assert_eq!(told("scan 10 ms", "scan 10 ms"), (true, String::new(), 0));
    assert_eq!(
        told("grip-gate on DI-20 and DI-21", "grip-gate on DI-60 and DI-21"),
        (true, "pair grip-gate statement".into(), 0)
    );
    assert_eq!(told("bites within 150 ms", "bites within 140 ms"), (true, "stop emergency statement".into(), 0));
    assert_eq!(told("off within 40 ms", "off within 35 ms"), (true, "output traction statement".into(), 0));
    assert_eq!(told("uncouples at 0.60 m", "uncouples at 0.61 m"), (true, "lane main statement".into(), 0));
    assert_eq!(
        told("hazard H1\n    when emergency", "hazard H2\n    when emergency"),
        (true, "guard emergency-stop hazards".into(), 0)
    );
    assert_eq!(
        told("an emergency button is pressed", "a button is pressed"),
        (true, "guard emergency-stop title".into(), 0)
    );
    assert_eq!(told("## The order to run:", "## An order to run:"), (true, "output run-order note".into(), 0));
    assert_eq!(told("20 mA is 12000 N", "20 mA is 12100 N"), (false, "gauge close-force statement".into(), 1));
    assert_eq!(told("scan 10 ms", "scan 5 ms"), (false, "scan  statement".into(), 1));
    assert_eq!(told("revision 4", "revision 5"), (true, String::new(), 0));
}

#[test]
fn edits_of_a_certificate_are_refused() {
    let old = revision(&[]);
    for edit in [EDITS[1].2, EDITS[8].2] {
        let new = revision(edit);
        let text = compare(&old, &new, NONE).unwrap().certificate.unwrap();
        let both = Both::new(&old, &new);
        let sealed = |lines: &[&str]| {
            let above: String = lines.iter().flat_map(|line| [line, "\n"]).collect();
            format!("{above}digest {}\n", certificate_digest(&[above.as_bytes()]))
        };
        both.with_twin(|twin| {
            let accepted = |text: &str| match certificate::read(twin, text) {
                Ok(claimed) => check(twin, &claimed).map_err(|refused| format!("{refused:?}")),
                Err(unusable) => Err(unusable.what),
            };
            assert_eq!(accepted(&text), Ok(()));
            let lines: Vec<&str> = text.lines().filter(|line| !line.starts_with("digest")).collect();
            assert_eq!(sealed(&lines), text);
            // Any edit without a new digest.
            for at in (0..text.len()).step_by(997) {
                let mut bytes = text.clone().into_bytes();
                bytes[at] ^= 1;
                if let Ok(edited) = String::from_utf8(bytes) {
                    assert!(accepted(&edited).is_err(), "byte {at}");
                }
            }
            // With a new digest: more is claimed than holds.
            let more = ["never milder emergency", "never more-severe emergency"];
            let claimed = |line: &str| lines.contains(&line);
            for line in more.into_iter().filter(|line| !claimed(line)) {
                let mut all = lines.clone();
                all.insert(5, line);
                assert_eq!(accepted(&sealed(&all)), Err("NotSafe".into()), "{line}");
            }
            // A lemma that does not hold, one of cells that nobody has, and one that only seems to.
            for line in [
                "lemma old:emergency.stood = 0",
                "lemma old:gate-open.tripped.latched = new:overspeed.tripped.latched",
                "lemma old:rope.speed = new:rope.forward",
                "lemma old:nobody = new:nobody",
                "lemma 1 = 0",
            ] {
                let mut all = lines.clone();
                all.push(line);
                assert!(accepted(&sealed(&all)).is_err(), "{line}");
            }
            // Lemmas left out, a few at a time: still right, or refused, and never accepted with what they were needed for.
            let rest: Vec<&str> = lines.iter().copied().filter(|line| !line.contains("old:rope.")).collect();
            assert!(accepted(&sealed(&rest)).is_err());
            // Made for other rules.
            let back = Both::new(&new, &old);
            assert!(back.with_twin(|other| certificate::read(other, &text).is_err()).unwrap(), "the other direction");
        })
        .unwrap();
    }
}

type Many = Sliced<Lanes>;

/// Sixty-four histories at once: the differences that were first in one of them.
fn first_differences(both: &Both, case: &Case, seed: u64, scans: usize) -> BTreeSet<Difference> {
    let (mut leader, mut history) = (Stepped::<Plain>::power_up(&both.old), History::new(case, seed));
    both.with_twin(|twin| {
        let mut a = Sliced(Lanes);
        let mut swarm = Swarm::new(twin.old.model, seed);
        let mut cells: Vec<Value<Many>> = Vec::new();
        for value in &twin.first {
            cells.push(match value {
                Value::Bit(bit) => Value::Bit(a.bit(*bit)),
                Value::Word(word) => Value::Word(a.word(*word)),
            });
        }
        let (mut one, mut found, mut last, mut standing) = (u64::MAX, BTreeSet::new(), None, u64::MAX);
        for _ in 0..scans {
            let sample = history.next_sample(last.as_ref());
            let given = swarm.given(twin.old.model, &sample, standing);
            let (next, old, new) = twin.scan(&mut a, &cells, &(given.clone(), given)).unwrap();
            let differences = differ(&mut a, twin.pairs, &old, &new);
            found.extend(differences.iter().filter(|(_, bits)| bits & one != 0).map(|(difference, _)| *difference));
            one &= !any(&mut a, &differences);
            let stops = twin.pairs.answers.iter().position(|answer| answer.old >= Some(both.old.first_stop()));
            standing = stops.map_or(0, |place| old.answer[place]);
            cells = next;
            last = Some(leader.scan(&sample));
        }
        found
    })
    .unwrap()
}

/// A revision from a text.
fn read(text: &str) -> Option<Revision> {
    Revision::of(&load(vec![Source { path: "generated.rules".into(), bytes: text.as_bytes().to_vec() }]))
}

#[test]
fn what_is_proved_of_random_stations_shows_in_no_random_history() {
    let heavy = is_heavy();
    let (stations, mutants) = by_effort([(4, 3), (8, 4), (20, 6)]);
    let (mut moved, mut same, mut differ, mut proved) = (0, 0, 0, 0);
    for seed in 0..stations {
        let case = case(seed);
        let text = render(&case.station, seed);
        let old = read(&text).unwrap();
        let twice = compare(&old, &read(&render(&case.station, seed + 1_000_000)).unwrap(), NONE).unwrap();
        assert!(twice.is_equal(), "seed {seed}: {:?} {:?}", twice.both.pairs, twice.words);
        let sources = vec![Source { path: "generated.rules".into(), bytes: text.clone().into_bytes() }];
        let all = limits(&sources);
        let mut rng = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1;
        for mutant in 0..mutants {
            rng = rng.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let Some(limit) = all.get(usize::try_from(rng >> 33).unwrap() % all.len().max(1)) else { continue };
            let by = limit.step(old.station.scan_us) * (1 + i64::try_from(rng >> 60).unwrap());
            let value = if rng & 0x1_0000 == 0 { limit.value + by } else { limit.value - by };
            let bytes = limit.moved(&sources, value.max(0)).remove(0).bytes;
            let Some(new) = read(&String::from_utf8(bytes).unwrap()) else { continue };
            moved += 1;
            let compared = compare(&old, &new, NONE).unwrap();
            let found = first_differences(&compared.both, &case, seed * 100 + mutant, if heavy { 3_000 } else { 800 });
            for difference in &found {
                assert!(
                    !compared.never.contains(difference),
                    "PROVED, but it differs: seed {seed}, {}: {difference:?}",
                    limit.sentence
                );
            }
            same += u32::from(compared.is_equal());
            differ += u32::from(!found.is_empty());
            proved += compared.never.len();
        }
    }
    println!(
        "{moved} moved limits: {same} equal, {differ} differ in random histories, {proved} differences proved never first"
    );
    assert!(differ > 0 && proved > 0);
}
