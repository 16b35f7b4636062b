//! Safety functions: do those of the demo come to what they should, is each mistake in their file shown at its place, and is nothing reached that is not
//! known? Values of the standards are held beside the formulas, in `host-tools/src/integrity`. `UPDATE_GOLDEN=1` rewrites the texts.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::proofs::demo;
use host_tools::integrity::assess::{Assessed, Sheet, Verdict};
use host_tools::integrity::text::text;
use host_tools::integrity::{read, unknown};
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_path_buf()
}
fn demo_text() -> String {
    demo_of("drive")
}
fn demo_of(which: &str) -> String {
    fs::read_to_string(root().join(format!("../host-tools/demo/{which}-terminal.functions"))).unwrap()
}
/// What the command prints of a file, or what is wrong with it.
fn shown(name: &str, source: &str) -> String {
    match read(source) {
        Ok(form) => text(&Sheet::of(name, &form)),
        Err(faults) => faults.iter().map(|fault| fault.render(name, source, false) + "\n\n").collect(),
    }
}
fn case(name: &str) -> String {
    fs::read_to_string(root().join(format!("cases/integrity/{name}.functions"))).unwrap()
}
fn assessed(source: &str) -> Vec<Assessed> {
    Sheet::of("f", &read(source).unwrap()).functions
}
fn golden(name: &str, source: &str) {
    let path = root().join(format!("cases/integrity/{name}.txt"));
    let shown = shown(&format!("{name}.functions"), source);
    if std::env::var("UPDATE_GOLDEN").is_ok_and(|value| value == "1") {
        fs::write(&path, &shown).unwrap();
    }
    assert_eq!(
        shown,
        fs::read_to_string(&path).unwrap_or_default(),
        "{name}: UPDATE_GOLDEN=1 rewrites the golden text"
    );
}

#[test]
fn the_texts_are_those_that_were_read() {
    for which in ["drive", "return"] {
        golden(&format!("{which}-terminal"), &demo_of(which));
    }
    for name in ["mistakes", "refused-measure", "verdicts"] {
        golden(name, &case(name));
    }
}

#[test]
fn the_demo_reaches_what_it_requires_and_serves_what_the_rules_require() {
    for which in ["drive", "return"] {
        let form = read(&demo_of(which)).unwrap();
        assert!(Sheet::of("f", &form).is_reached());
        assert_eq!(unknown(&form, &demo(which)), []);
    }
    let odd = demo_text().replace("serves R21", "serves R21 and R99");
    let faults = unknown(&read(&odd).unwrap(), &demo("drive"));
    assert_eq!(faults.len(), 1);
    assert_eq!(&odd[faults[0].at.clone()], "R99");
}

/// The sums of the demo, worked out by hand from the formulas of the standards.
#[test]
fn the_sums_of_the_demo() {
    let all = assessed(&demo_text());
    // Two valves: D 1e-6, 60 % found, beta 10 and 5 %, half a year, 8 h.
    let (dd, du) = (0.6e-6, 0.4e-6);
    let down = 0.4 * (4380.0 / 2.0 + 8.0) + 0.6 * 8.0;
    let valves = 2.0 * (0.95 * dd + 0.9 * du) * 0.9 * du * down + 0.1 * du;
    // Gauges: D 1e-6, 90 %, 5 and 2 %, a year.
    let (dd, du) = (0.9e-6, 0.1e-6);
    let down = 0.1 * (8760.0 / 2.0 + 8.0) + 0.9 * 8.0;
    let gauges = 2.0 * (0.98 * dd + 0.95 * du) * 0.95 * du * down + 0.05 * du;
    let found = all.iter().find(|of| of.function == "grip-force").and_then(|of| of.value).unwrap();
    assert!((found / (gauges + 3e-8 + valves) - 1.0).abs() < 1e-9, "{found}");
    // The wind gauge and the service stop, each D tCE.
    let storm = 5e-6 * (0.4 * (2190.0 + 24.0) + 0.6 * 24.0) + 1e-4 + 2e-6 * (0.4 * (4380.0 + 8.0) + 0.6 * 8.0);
    let found = all.iter().find(|of| of.function == "storm").and_then(|of| of.value).unwrap();
    assert!((found / storm - 1.0).abs() < 1e-9, "{found}");
}

#[test]
fn nothing_is_reached_that_is_not_known() {
    use Verdict::{NotComputed, NotReached, Reached};
    let all = assessed(&case("verdicts"));
    let told: Vec<(&str, Verdict, bool)> =
        all.iter().map(|of| (of.function.as_str(), of.verdict, of.value.is_some())).collect();
    let wanted = [
        ("no-table", NotComputed, false),
        ("category", NotComputed, false),
        ("single", NotReached, true),
        ("partial", NotReached, false),
        ("too-long", NotComputed, false),
    ];
    assert_eq!(told, wanted);
    assert!(all.iter().all(|of| of.value.is_some() == (of.pl.is_some() || of.sil.is_some())));
    // The same button reaches what its category allows, and no better.
    let milder = case("verdicts").replace("requires PL c", "requires PL b");
    assert_eq!(assessed(&milder)[2].verdict, Reached);
}

/// A value that is taken away from a function that reaches its level leaves it not computed.
#[test]
fn without_its_table_no_category_reaches_anything() {
    let bare: String = demo_text().split_inclusive('\n').filter(|line| !line.contains("Table K.1")).collect();
    let of = &assessed(&bare)[0];
    assert_eq!((of.verdict, of.value, of.pl.as_ref()), (Verdict::NotComputed, None, None));
    assert!(of.subsystems[0].findings[0].contains("Table K.1"));
}

/// Whatever is done to a text, it is read or refused at a place that can be shown.
#[test]
fn damaged_files_are_refused_at_a_place() {
    let whole = demo_text();
    let mut refused = 0;
    for at in (0..whole.len()).step_by(7) {
        let cut = whole.get(..at).unwrap_or_default().to_owned();
        let lost: String = whole.char_indices().filter(|(i, _)| *i != at).map(|(_, c)| c).collect();
        let odd: String = whole.char_indices().map(|(i, c)| if i == at { '\u{e9}' } else { c }).collect();
        let quoted: String = whole.char_indices().map(|(i, c)| if i == at { '"' } else { c }).collect();
        for text in [cut, lost, odd, quoted] {
            if let Err(faults) = read(&text) {
                assert!(!faults.is_empty());
                for fault in faults.iter().take(3) {
                    assert!(text.get(fault.at.clone()).is_some(), "{fault:?}");
                    assert!(fault.render("f", &text, false).contains("expected"));
                }
                refused += 1;
            }
        }
    }
    assert!(refused > 500, "{refused}");
}
