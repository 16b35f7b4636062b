//! Limits against the windows that the lane asks for.

use super::{length, time};
use crate::lane::windows::{Derived, End, Verdict, windows};
use crate::station::{Lane, Measured, Station, Tolerances, Watch};
use crate::text::codes::Code;
use crate::text::finding::Finding;

pub(super) fn check(station: &Station, found: &mut Vec<Finding>) {
    let Some(lane) = &station.lane else { return };
    // A window that does not take in the nominal run, or lets one at rope speed pass, is told of already.
    let wrong =
        |finding: &&Finding| matches!(finding.code, Code::WindowMissesRun | Code::WindowAtRopeSpeed | Code::LaneTrips);
    let told_of: Vec<_> =
        found.iter().filter(wrong).filter_map(|finding| finding.labels.first().map(|(place, _)| *place)).collect();
    for derived in windows(station) {
        let Some(watch) = station.watches.get(derived.watch) else { continue };
        if told_of.contains(&watch.name.place) {
            continue;
        }
        let (least, most) = derived.verdicts(station.scan_us);
        let ends = [
            (least, &derived.least, Some(derived.stands.0), "least"),
            (most, &derived.most, derived.stands.1, "greatest"),
        ];
        for (verdict, end, stands, which) in ends {
            if let (Ok(end), Some(stands)) = (end, stands) {
                found.extend(told(station, lane, watch, &derived, (verdict, end, stands, which)));
            }
        }
    }
}

/// What is said of one limit, if anything is.
fn told(
    station: &Station,
    lane: &Lane,
    watch: &Watch,
    derived: &Derived,
    (verdict, end, stands, which): (Verdict, &End, u32, &str),
) -> Option<Finding> {
    let name = &watch.name.text;
    let (code, message, why) = match verdict {
        Verdict::Tight => (
            Code::WindowTight,
            format!("a carrier that keeps to the lane and its tolerances may trip '{name}'"),
            "may be counted",
        ),
        // Without a tolerance that is stated nothing is known of what the lane needs.
        Verdict::Wide if lane.tolerances != Tolerances::default() => (
            Code::WindowWide,
            format!("'{name}' lets pass more than twice what the lane and its tolerances need"),
            "is counted at the utmost",
        ),
        Verdict::Wide | Verdict::Fits | Verdict::Unknown => return None,
    };
    let shown = |count: u32| match derived.measured {
        Measured::Rope(_) => length(u64::from(count)),
        Measured::Time { .. } => time(u64::from(count) * u64::from(station.scan_us)),
    };
    Some(
        Finding::new(code, message)
            .at(
                watch.name.place,
                format!("{} {why}, and its {which} limit is judged at {}", shown(end.counted), shown(stands)),
            )
            .at(lane.name.place, "what carriers and detectors keep to")
            .help(format!(
                "let the {which} limit be {}, or correct the lane; `haltproof lane windows` says what takes which part",
                shown(end.limit)
            )),
    )
}

#[cfg(test)]
mod tests {
    use crate::load::load;
    use crate::text::finding::Finding;
    use crate::text::parse::Source;

    /// What is found in the demo with a change.
    fn findings(old: &str, new: &str) -> Vec<Finding> {
        let text = include_str!("../../demo/drive-terminal.rules");
        assert!(text.contains(old));
        let rules = Source { path: "a".into(), bytes: text.replacen(old, new, 1).into_bytes() };
        let asked = include_str!("../../demo/drive-terminal.requirements.rules");
        load(vec![rules, Source { path: "b".into(), bytes: asked.into() }]).findings
    }

    /// Its codes and main labels.
    fn found(old: &str, new: &str) -> Vec<(&'static str, String)> {
        findings(old, new).iter().map(|f| (f.code.text(), f.labels.first().map_or("", |l| &l.1).to_owned())).collect()
    }

    #[test]
    fn a_limit_is_told_of_where_it_is_too_near_or_needlessly_far() {
        let codes = |old, new| found(old, new).into_iter().map(|(code, _)| code).collect::<Vec<_>>();
        let tight = |label: &str| vec![("window-tight", label.to_owned())];
        assert_eq!(
            found("takes 5.95 m", "takes 5.99 m"),
            tight("6.039 m may be counted, and its least limit is judged at 6.045 m")
        );
        assert_eq!(
            found("to 6.75 m", "to 6.70 m"),
            tight("6.653 m may be counted, and its greatest limit is judged at 6.645 m")
        );
        assert_eq!(
            found("at least 54.2 m apart", "at least 54.1 m apart"),
            tight("53.975 m may be counted, and its least limit is judged at 54.055 m")
        );
        assert_eq!(
            found("takes 5.95 m", "takes 5.65 m"),
            [("window-wide", "6.039 m is counted at the utmost, and its least limit is judged at 5.705 m".to_owned())]
        );
        // A flag of 0.45 m less twice 5 mm is gone in 80 ms at 5.5 m/s.
        let (old, new) = (
            "pulses at least 60 ms\n    settles 10 ms, covered for at most 1.20 m",
            "pulses at least 110 ms\n    settles 80 ms, covered for at most 1.20 m",
        );
        assert_eq!(codes(old, new), ["pulse-unfounded", "window-tight", "window-tight"]);
        let first = findings(old, new).swap_remove(0);
        assert!(first.message.ends_with("is said to pulse for at least 110 ms, and a fast carrier gives 80 ms"));
        assert!(
            first.help.unwrap_or_default().starts_with("it settles for 80 ms, which with two scans outlasts the flag")
        );
        // A window beside the nominal run, or around one at rope speed, is told of once.
        assert_eq!(codes("to 6.75 m", "to 6.30 m"), ["window-misses-run"]);
        assert_eq!(codes("takes 4.55 m", "takes 4.20 m"), ["window-at-rope-speed"]);
    }
}
