//! The report: is it one page that stands by itself, the same every time, whose links lead somewhere, and in which text stays text?
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use cross_tests::proofs::{demo, sources};
use host_tools::coverage;
use host_tools::integrity::{self, assess::Sheet};
use host_tools::load::load;
use host_tools::prove::circuit::with_system;
use host_tools::prove::claim::Subject;
use host_tools::prove::recheck::Checker;
use host_tools::prove::verdict::judge;
use host_tools::refute::Effort;
use host_tools::report::{Judged, Material, report};
use host_tools::station::Station;
use host_tools::text::parse::Source;
use host_tools::text::tree::File;
use std::collections::HashSet;

/// Judges the requirements of these names.
fn judged(station: &Station, names: &[&str]) -> Vec<Judged> {
    with_system(station, |model, system| {
        let mut checker = Checker::new(model);
        let wanted = Subject::all(station).into_iter().filter(|subject| names.contains(&subject.name(station)));
        let judge = |subject| judge(model, system, &mut checker, subject, Effort::default()).unwrap();
        wanted.map(judge).map(|judgement| Judged { judgement, granted: vec!["a <declared> thing".into()] }).collect()
    })
    .unwrap()
}

fn page(station: &Station, files: &[File], judged: &[Judged], approved: &[(String, String)]) -> String {
    let list = &coverage::read(coverage::ORDER_2009).unwrap();
    let material = Material {
        past: false,
        station,
        files,
        digest: "0123",
        findings: &[],
        judged,
        arises: &[],
        approved,
        compared: None,
        list,
        campaigns: &[],
        slack: None,
        mutants: None,
        integrity: &functions(),
        replays: &[],
    };
    report(&material)
}

/// The safety functions of the demo, under a name that is no harmless text.
fn functions() -> Vec<Sheet> {
    let form = integrity::read(include_str!("../../../host-tools/demo/drive-terminal.functions")).unwrap();
    vec![Sheet::of("<b>drive\u{202e}</b>", &form)]
}

/// What stands between quotes after each of these.
fn values<'p>(page: &'p str, before: &str) -> Vec<&'p str> {
    page.split(before).skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

#[test]
fn the_page_stands_by_itself_and_its_links_lead_somewhere() {
    for kind in ["drive", "return"] {
        let station = demo(kind);
        let files = load(sources(kind)).files;
        let judged = judged(&station, &["R2", "R5", "station.latches"]);
        let text = page(&station, &files, &judged, &[]);
        assert_eq!(text, page(&station, &files, &judged, &[]), "twice the same");
        assert!(text.len() < 500_000, "{} bytes", text.len());
        let ids: Vec<&str> = values(&text, " id=\"");
        let known: HashSet<&str> = ids.iter().copied().collect();
        assert_eq!(ids.len(), known.len(), "an anchor stands twice");
        // A requirement that was not judged has no place of its own; the rules do not lead to it.
        let links = values(&text, " href=\"");
        assert!(links.len() > 50);
        for link in links {
            let anchor = link.strip_prefix('#').unwrap_or_else(|| panic!("{link} leads away"));
            assert!(known.contains(anchor) || anchor.starts_with("requirement-"), "{link} leads nowhere");
        }
        for away in ["src=", "http://", "https://", "url(", "@import", "<script", "<link"] {
            assert!(!text.contains(away), "{away}");
        }
        // Every picture says in words what it shows.
        assert_eq!(text.matches("<svg").count(), text.matches("role=\"img\" aria-label=\"").count());
    }
}

#[test]
fn a_refutation_is_drawn_and_a_change_is_shown() {
    let mut changed = sources("drive");
    let old: Vec<(String, String)> =
        changed.iter().map(|s| (s.path.clone(), String::from_utf8(s.bytes.clone()).unwrap())).collect();
    let rule = "    when grip-gate open\n";
    let text = old[0].1.replacen(rule, &format!("{rule}    unbroken for 60 ms\n"), 1);
    changed[0].bytes = text.into_bytes();
    let loaded = load(changed);
    let station = loaded.station.unwrap();
    let text = page(&station, &loaded.files, &judged(&station, &["R2"]), &old);
    assert!(text.contains("<span class=\"verdict open\">refuted</span>"));
    assert!(text.contains("aria-label=\"History from 0 s to"), "the history is drawn");
    assert!(text.contains("<ins>+     unbroken for 60 ms</ins>"), "the change is shown");
}

/// Hidden characters are refused in rule files; a path may hold them.
#[test]
fn hostile_text_stays_text() {
    let long = "x".repeat(10_000);
    let title = format!("<script>alert(1)</script> & 'quoted' \u{5d0}\u{5d1} <img src=x onerror=y> {long}");
    let mut hostile = sources("drive");
    for source in &mut hostile {
        let text = String::from_utf8(source.bytes.clone()).unwrap();
        let text = text.replace("\"the gate behind the coupling point is pushed open\"", &format!("\"{title}\""));
        let note = "## a note </pre><script>x</script> \u{627}\n";
        let text = text.replacen("guard gate-open", &format!("{note}guard gate-open"), 1);
        let text = text.replace("a carrier leaves the station with a badly shut grip", &title);
        source.bytes = text.into_bytes();
    }
    let path = "<b>path\u{202e}</b>.rules".to_string();
    hostile[0] = Source { path, bytes: hostile[0].bytes.clone() };
    let loaded = load(hostile);
    let station = loaded.station.expect("titles may be of any text");
    let text = page(&station, &loaded.files, &judged(&station, &["R2"]), &[]);
    assert!(text.matches("&lt;script&gt;alert(1)&lt;/script&gt;").count() >= 3);
    for raw in ["<script", "<img", "<b>", "\u{202e}"] {
        assert!(!text.contains(raw), "{raw:?}");
    }
    assert!(text.contains("path[U+202E]"));
}
