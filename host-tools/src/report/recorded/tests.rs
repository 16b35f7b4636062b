//! The page of a small recording: it stands by itself, is the same every time, and text in it stays text.

use super::{Recorded, Replayed, Sink, recorded};
use crate::replay::event::{Cause, Event, What};
use crate::replay::replay_all;
use crate::testing::small_station;
use std::fmt::Write as _;

/// A lift that runs, on which a carrier passes every 20 s; the fork opens, and it runs on.
fn recording() -> String {
    let mut text = "# haltproof recording 1\n# rows: scan\n# time: ms\n".to_owned();
    text += "time,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n";
    for scan in 0..6_000_u32 {
        let at = scan % 2_000;
        let (enters, leaves) = (u32::from((100..110).contains(&at)), u32::from((170..180).contains(&at)));
        let fork = u32::from(scan < 5_000);
        writeln!(text, "{},{enters},{leaves},{fork},12,50,0", scan * 10).unwrap();
    }
    text
}

fn page() -> String {
    let mut station = small_station();
    station.title = "<b>Small</b>".into();
    let mut gathered = Recorded::new(&station);
    let summary = replay_all(&station, recording().as_bytes(), &mut gathered).unwrap();
    let names = ["a<i>.rules".to_owned()];
    recorded(&gathered, &Replayed { rules: &names, digest: "0123", recordings: &names, summary: &summary })
}

#[test]
fn the_page_stands_by_itself() {
    let text = page();
    assert_eq!(text, page(), "the same inputs give the same page");
    for never in ["<b>", "<i>", "<script", "http", "url(", "src="] {
        assert!(!text.replace("http-equiv", "").contains(never), "{never}");
    }
    let count = |what: &str| text.matches(what).count();
    assert_eq!(count("<svg"), count("role=\"img\""));
    assert!(count("<svg") >= 3, "stops over time, an incident, and a window");
    assert!(text.contains("1 stop over 60 s, of which the recordings did not make 1"), "{text}");
    assert!(text.contains("slow-down: 2 measured") || text.contains("slow-down: 3 measured"), "{text}");
}

#[test]
fn causes_with_the_same_words_are_kinds_of_their_own() {
    let station = small_station();
    let mut gathered = Recorded::new(&station);
    for (scan, name) in [(1, "fork-in"), (2, "fork-out"), (3, "fork-in")] {
        let cause = Cause {
            source: "watch",
            name: name.into(),
            title: String::new(),
            way: "tripped",
            answer: "emergency".into(),
            words: "the rope hangs too low".into(),
            unknown: Vec::new(),
            margin: None,
        };
        let (answer, causes) = ("emergency".into(), vec![cause]);
        let what = What::Stop { answer, causes, inputs: Vec::new(), off: Vec::new() };
        gathered.event(&Event { at_us: scan * 10_000, scan, counterfactual: false, what }).unwrap();
    }
    let told: Vec<(&str, u64)> =
        gathered.kinds.iter().map(|((_, _, name, _), calls)| (name.as_str(), calls.times)).collect();
    assert_eq!(told, [("fork-in", 2), ("fork-out", 1)]);
}

#[test]
fn what_did_not_happen_has_no_picture() {
    let station = small_station();
    let gathered = Recorded::new(&station);
    let empty = "# haltproof recording 1\n# rows: scan\n# time: ms\ntime,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n";
    let summary = replay_all(&station, empty.as_bytes(), &mut Recorded::new(&station)).unwrap();
    let text = recorded(&gathered, &Replayed { rules: &[], digest: "", recordings: &[], summary: &summary });
    assert!(text.contains("The rules called for no stop.") && text.contains("Nothing was measured."));
}
