//! Each rule file under `cases/faults` holds the one fault that it is named after, and is told of it
//! in the words of the text beside it. `UPDATE_GOLDEN=1` rewrites those texts.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a test: what fails here is a failed test, and says where"
)]

use std::collections::BTreeSet;
use std::fs;
use std::ops::Range;
use std::path::{Path, PathBuf};

use host_tools::load::load;
use host_tools::respond::{demands, paths, table};
use host_tools::runner::with_runner;
use host_tools::station::Station;
use host_tools::text::codes::Code;
use host_tools::text::finding::{Finding, Level};
use host_tools::text::parse::Source;
use host_tools::text::show::{Shown, render, tell};

/// Codes that no rule text can show by itself.
const WITHOUT_CASE: &[Code] = &[
    // About the bytes of a file, not about its text.
    Code::FileUnreadable,
    // About more mistakes than anybody reads.
    Code::FindingsMany,
    // Notes.
    Code::ApartUnknown,
    Code::ConditionLarge,
    Code::LimitRounded,
    Code::WindowWide,
    Code::WindowUnderived,
];

fn cases() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("cases")
}

/// Reads one text, as the commands do.
fn read(path: &str, text: &str) -> (Option<Station>, Vec<Finding>) {
    let loaded = load(vec![Source { path: path.to_owned(), bytes: text.as_bytes().to_vec() }]);
    (loaded.station, loaded.findings)
}

fn fault_files() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(cases().join("faults"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ext| ext == "rules"))
        .collect();
    files.sort();
    files
}

#[test]
fn each_case_is_told_its_one_fault() {
    let update = std::env::var("UPDATE_GOLDEN").is_ok_and(|value| value == "1");
    let files = fault_files();
    assert!(files.len() >= 35, "only {} cases", files.len());
    let mut wrong = Vec::new();
    for path in files {
        let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let name = format!("{stem}.rules");
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.starts_with("# "), "{name} does not say what it shows");
        let (_, found) = read(&name, &text);
        let codes: Vec<&str> =
            found.iter().filter(|finding| finding.level != Level::Note).map(|finding| finding.code.text()).collect();
        let fits = if stem == "five-mistakes" { codes.len() == 5 } else { codes == [stem.as_str()] };
        let shown = render(&found, &[Shown { path: &name, source: &text }], false);
        if !fits {
            wrong.push(format!("{name}: {codes:?}\n{shown}"));
        }
        let golden = path.with_extension("txt");
        if update {
            fs::write(&golden, &shown).unwrap();
        } else if fs::read_to_string(&golden).unwrap_or_default() != shown {
            wrong.push(format!("{name}: its text has changed\n{shown}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_code_is_explained_and_shown() {
    let shown: BTreeSet<String> =
        fault_files().iter().map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned()).collect();
    let mut spelt = BTreeSet::new();
    for code in Code::ALL {
        assert!(spelt.insert(code.text()), "{} is there twice", code.text());
        assert_eq!(Code::find(code.text()), Some(*code));
        assert!(code.explain().len() > 40, "{} is not explained", code.text());
        let allowed = WITHOUT_CASE.contains(code);
        assert!(allowed || shown.contains(code.text()), "{} has no case", code.text());
    }
}

/// A bypass takes away what a watch tells: of a requirement with the same hazard that asks for something else nothing is said.
#[test]
fn a_bypass_is_held_against_what_its_watch_answers() {
    let bench = fs::read_to_string(cases().join("faults/bypass-unexcused.rules")).unwrap();
    let with = |changes: &[(&str, &str)], more: &str| {
        let mut text = bench.clone();
        for (old, new) in changes {
            assert!(text.contains(old), "{old}");
            text = text.replacen(old, new, 1);
        }
        let (_, found) = read("bench.rules", &(text + more));
        found.iter().filter(|f| f.level != Level::Note).map(|f| f.code.text()).collect::<Vec<_>>()
    };
    assert_eq!(with(&[], ""), ["bypass-unexcused"]);
    // It asks for the rope, which another watch of that hazard looks at.
    let faster = ("whenever gate open, stop", "whenever rope faster than 5.6 m/s for 500 ms, stop");
    let hurry = ("guard hurry\n", "guard hurry hazard H1\n");
    assert_eq!(with(&[faster, hurry], ""), Vec::<&str>::new());
    // An answer that is too mild is none.
    assert_eq!(with(&[("gate-off of gate-open", "gate-off of hurry"), hurry], ""), Vec::<&str>::new());
    assert_eq!(with(&[("gate-off of gate-open", "gate-off of hurry"), hurry, faster], ""), ["bypass-unexcused"]);
    // What is asked of the key of the reset no watch answers; what must have held before it a watch may hold.
    let released = |but: &str| {
        let asked = format!("never released {but}");
        with(&[("whenever gate open, stop at least emergency within 500 ms", asked.as_str())], "")
    };
    assert_eq!(released("without reset-key"), Vec::<&str>::new());
    assert_eq!(released("but when gate closed"), ["bypass-unexcused"]);
    // Of travels in a row each is on the way.
    let travels = "
detector one on DI-11, at 2 m, pulses at least 60 ms
detector two on DI-12, at 5 m, pulses at least 60 ms
detector three on DI-13, at 8 m, pulses at least 60 ms
detector four on DI-14, at 11 m, pulses at least 60 ms
travel first hazard H2
    from one to two
    takes 2 m to 4 m of rope
    up to 2 carriers under way
    early emergency, late emergency, stray emergency, crowded emergency
travel second hazard H2
    from two to three
    takes 2 m to 4 m of rope
    up to 2 carriers under way
    early emergency, late emergency, stray emergency, crowded emergency
travel third hazard H2
    from three to four
    takes 2 m to 4 m of rope
    up to 2 carriers under way
    early emergency, late emergency, stray emergency, crowded emergency
hazard H2 \"A carrier stays where it is\"
require R2 \"It comes\"
    hazard H2
    after one rises, in 3 m to 13 m of rope must rise FAR, else stop at least emergency within 500 ms
";
    let asked = |far: &str, of: &str| {
        let excused = ("500 ms\n", "500 ms\n    unless gate-off active\n");
        with(&[("gate-off of gate-open", &format!("gate-off of {of}")), excused], &travels.replace("FAR", far))
            .into_iter()
            .filter(|code| code.starts_with("bypass"))
            .collect::<Vec<_>>()
    };
    for (far, of, said) in [
        ("four", "first", 1),
        ("four", "second", 1),
        ("four", "third", 1),
        ("three", "second", 1),
        // Whether one leads there is not looked for.
        ("three", "third", 1),
        ("two", "first", 1),
    ] {
        assert_eq!(asked(far, of), vec!["bypass-unexcused"; said], "{far}, {of}");
    }
}

/// Of the effect of a stop a confirm tells that shares a hazard, and a watch of what should be seen; in time, or it is said.
#[test]
fn an_effect_is_answered_by_what_tells_of_it() {
    let bench = fs::read_to_string(cases().join("faults/requirement-unanswered.rules")).unwrap();
    let bench = bench
        .replacen("stop emergency", "stop service category 0\n    releases drive\n    bites within 300 ms, slows at 0.3 m/s2 to 0.5 m/s2\nstop emergency", 1)
        .replace("gate open or hatch open", "gate open");
    let more = "
contact brake-shut on DI-11, rests open, line monitored
contact door on DI-12, rests closed
guard door-open
    when door open
    stop service
confirm brake-shuts
    hazard H2
    after service
    see brake-shut closed
    within 800 ms
    else emergency
";
    let asked = |hazard: &str, seen: &str, ms: u32| {
        let text = format!(
            "{bench}{more}require R3 \"The stop works\"\n    hazard {hazard}\n    after service stands, within {ms} ms must be seen {seen}, else stop at least emergency within 200 ms\n"
        );
        let (_, found) = read("bench.rules", &text);
        found.iter().filter(|f| f.level != Level::Note).map(|f| f.code.text()).collect::<Vec<_>>()
    };
    assert_eq!(asked("H2", "brake-shut closed", 800), Vec::<&str>::new());
    assert_eq!(asked("H2", "brake-shut closed", 600), ["response-slow"]);
    assert_eq!(asked("H1", "brake-shut closed", 800), ["requirement-unanswered"]);
    assert_eq!(asked("H1", "gate closed", 800), Vec::<&str>::new());
}

#[test]
fn the_base_station_is_without_fault() {
    let text = fs::read_to_string(cases().join("base.rules")).unwrap();
    let (station, found) = read("base.rules", &text);
    let shown = render(&found, &[Shown { path: "base.rules", source: &text }], false);
    assert!(found.iter().all(|finding| finding.level == Level::Note), "{shown}");
    let station = station.expect("resolved");
    let table = table(&station);
    let golden = cases().join("base-times.txt");
    if std::env::var("UPDATE_GOLDEN").is_ok_and(|value| value == "1") {
        fs::write(&golden, &table).unwrap();
    }
    assert_eq!(fs::read_to_string(&golden).unwrap_or_default(), table);
    // Sampling 10 ms, settling 20 ms, no hold, deciding 10 ms, the ramp 40 ms.
    let gate = paths(&station).into_iter().find(|path| path.name == "gate-open").expect("a path");
    assert_eq!(gate.total_us(), 80_000);
    // The button: settling 10 ms, and the brake's 150 ms.
    let button = paths(&station).into_iter().find(|path| path.name == "button-pressed").expect("a path");
    assert_eq!(button.total_us(), 180_000);
    for demand in demands(&station) {
        assert!(demand.slowest.is_some(), "nothing is there to meet {}", demand.name);
    }
}

#[test]
fn values_tell_lines_and_columns() {
    let path = cases().join("faults/input-unused.rules");
    let text = fs::read_to_string(path).unwrap();
    let (_, found) = read("input-unused.rules", &text);
    let told = tell(&found, &[Shown { path: "input-unused.rules", source: &text }]);
    let line = text.lines().position(|line| line.starts_with("contact hatch")).unwrap() + 1;
    let one = told.first().expect("a finding");
    assert_eq!((one.line, one.column, one.end_column), (line, 9, 14));
    assert_eq!((one.file.as_str(), one.level, one.code), ("input-unused.rules", "warning", "input-unused"));
}

/// Numbers that a file may state and nobody means.
const EXTREMES: [&str; 6] = ["0", "-1", "0.000000001", "1", "70000", "999999999999"];

/// Every place of a text where a number stands by itself, as a byte range.
fn numbers(text: &str) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let mut from = at;
        for word in line.split('#').next().unwrap_or("").split_inclusive([' ', '\n', ',']) {
            let number = word.trim_end_matches([' ', '\n', ',']);
            if number.trim_start_matches('-').starts_with(|c: char| c.is_ascii_digit()) {
                found.push(from..from + number.len());
            }
            from += word.len();
        }
        at += line.len();
    }
    found
}

/// What is wrong with the answer to a text: it must be a plan or an error, and no panic.
fn unsettled(text: &str) -> Option<String> {
    let outcome = std::panic::catch_unwind(|| {
        let (station, found) = read("odd.rules", text);
        let Some(station) = station else {
            let told = found.iter().any(|finding| finding.level == Level::Error);
            return (!told).then(|| "neither a station nor an error".to_owned());
        };
        let _ = table(&station);
        with_runner(&station, |_| ()).err().map(|fault| format!("its plan is refused: {fault:?}"))
    });
    outcome.unwrap_or_else(|_| Some("panics".to_owned()))
}

#[test]
fn no_number_is_too_odd_to_be_told() {
    let base = fs::read_to_string(cases().join("base.rules")).unwrap();
    let odd = fs::read_to_string(cases().join("odd.rules")).unwrap();
    let mut wrong = Vec::new();
    for text in [base, odd] {
        let (station, found) = read("odd.rules", &text);
        assert!(station.is_some() && found.iter().all(|finding| finding.level == Level::Note));
        let places = numbers(&text);
        assert!(places.len() > 80, "only {} numbers", places.len());
        for place in places {
            for extreme in EXTREMES {
                let mut odd = text.clone();
                odd.replace_range(place.clone(), extreme);
                if let Some(said) = unsettled(&odd) {
                    let line = odd[..place.start].matches('\n').count();
                    wrong.push(format!("{extreme}: {}: {said}", odd.lines().nth(line).unwrap_or("")));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_greatest_numbers_together_are_told() {
    let text = fs::read_to_string(cases().join("base.rules")).unwrap();
    let text = text.replace("scan 10 ms", "scan 1 s").replace("speed over 200 ms", "speed over 268435456 s");
    let text = text.replace("at most 6 m/s", "at most 999999999999 m/s");
    assert_eq!(unsettled(&text), None);
}
