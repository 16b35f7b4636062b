//! Limits against the windows that the lane asks for.

use super::{length, time};
use crate::lane::windows::{Derived, End, Verdict, Why, windows};
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
        let (least, most) = derived.verdicts(station.scan_us);
        let ends = [
            (least, &derived.least, Some(derived.stands.0), "least"),
            (most, &derived.most, derived.stands.1, "greatest"),
        ];
        let mut unknown: Vec<(Why, Vec<&str>)> = Vec::new();
        for (verdict, end, stands, which) in ends {
            let Some(stands) = stands else { continue };
            match end {
                Ok(_) if told_of.contains(&watch.name.place) => {}
                Ok(end) => found.extend(told(station, lane, watch, &derived, (verdict, end, stands, which))),
                Err(why) => match unknown.iter_mut().find(|(known, _)| known == why) {
                    Some((_, both)) => both.push(which),
                    None => unknown.push((*why, vec![which])),
                },
            }
        }
        found.extend(unknown.into_iter().filter_map(|(why, ends)| underived(lane, watch, why, &ends)));
    }
}

/// What is said of limits that could not be derived, if anything is.
fn underived(lane: &Lane, watch: &Watch, why: Why, ends: &[&str]) -> Option<Finding> {
    let help = match why {
        Why::OffLane => "describe the lane farther than its detectors may sit, or correct the tolerances or the places",
        Why::OtherPace => "measure it in the rope of the lane, which is that of the first pace",
        Why::Standing => "raise the lower edge of its band above one pulse in a span",
        Why::TooLarge => "correct the lane or its tolerances",
        // The order of the places is told of already, a lane need not say what it is not asked for, and the last is of
        // limits that were derived.
        Why::Backwards | Why::NoLeast | Why::NoMost | Why::NoneKept => return None,
    };
    let limits = ends.join(" and its ");
    let message = format!("nothing is known of what healthy carriers need of '{}'", watch.name.text);
    Some(
        Finding::new(Code::WindowUnderived, message)
            .at(watch.name.place, format!("its {limits} limit cannot be derived: {}", why.words()))
            .at(lane.name.place, "what it would be derived from")
            .help(help),
    )
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
            .help(match end.limit {
                Some(limit) => format!(
                    "let the {which} limit be {}, or correct the lane; `haltproof lane windows` says what takes which part",
                    shown(limit)
                ),
                None => format!(
                    "{}: place the detectors farther apart, let them settle shorter, or correct the lane; \
                     `haltproof lane windows` says what takes which part",
                    Why::NoneKept.words()
                ),
            }),
    )
}

#[cfg(test)]
mod tests {
    use crate::load::load;
    use crate::text::codes::Code;
    use crate::text::finding::{Finding, Level};
    use crate::text::parse::Source;

    const RULES: &str = include_str!("../../demo/drive-terminal.rules");

    /// What is found in the demo with a change.
    fn findings(old: &str, new: &str) -> Vec<Finding> {
        assert!(RULES.contains(old));
        found_in(&RULES.replacen(old, new, 1))
    }

    /// What is found in rules with the requirements of the demo.
    fn found_in(rules: &str) -> Vec<Finding> {
        let rules = Source { path: "a".into(), bytes: rules.into() };
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
            found("takes 5.984 m", "takes 5.99 m"),
            tight("6.039 m may be counted, and its least limit is judged at 6.045 m")
        );
        assert_eq!(
            found("to 6.708 m", "to 6.70 m"),
            tight("6.653 m may be counted, and its greatest limit is judged at 6.645 m")
        );
        assert_eq!(
            found("at least 54.2 m apart", "at least 54.1 m apart"),
            tight("53.975 m may be counted, and its least limit is judged at 54.075 m")
        );
        assert_eq!(
            found("takes 5.984 m", "takes 5.65 m"),
            [("window-wide", "6.039 m is counted at the utmost, and its least limit is judged at 5.705 m".to_owned())]
        );
        // A flag of 0.45 m less twice 5 mm is gone in 80 ms at 5.5 m/s.
        let (old, new) = (
            "pulses at least 60 ms\n    settles 10 ms, covered for at most 1.20 m",
            "pulses at least 110 ms\n    settles 80 ms, covered for at most 1.20 m",
        );
        assert_eq!(codes(old, new), ["pulse-unfounded", "window-tight", "window-tight", "window-tight"]);
        let first = findings(old, new).swap_remove(0);
        assert!(first.message.ends_with("is said to pulse for at least 110 ms, and a fast carrier gives 80 ms"));
        assert!(
            first.help.unwrap_or_default().starts_with("it settles for 80 ms, which with two scans outlasts the flag")
        );
        // A window beside the nominal run, or around one at rope speed, is told of once.
        assert_eq!(codes("to 6.708 m", "to 6.30 m"), ["window-misses-run"]);
        assert_eq!(codes("takes 4.60 m", "takes 4.20 m"), ["window-at-rope-speed"]);
    }

    #[test]
    fn a_window_that_cannot_be_derived_is_told_of() {
        let all = findings("detectors within 10 mm", "detectors within 500 mm");
        let told: Vec<_> = all.iter().filter(|finding| finding.code == Code::WindowUnderived).collect();
        // The detector at 0.30 m may sit before the lane: of the travel from there, and of the spacing over it, nothing is known.
        let [first, second] = told.as_slice() else { panic!("{told:?}") };
        assert_eq!(first.message, "nothing is known of what healthy carriers need of 'slow-down'");
        assert!(first.labels[0].1.starts_with("its greatest limit cannot be derived: the lane does not reach"));
        assert!(second.message.ends_with("of 'line-gap'"), "{second:?}");
        assert!(told.iter().all(|finding| finding.level == Level::Note));
        // Also where something else is wrong with it.
        let rules = RULES.replacen("detectors within 10 mm", "detectors within 500 mm", 1);
        let codes: Vec<_> = found_in(&rules.replacen("to 5.188 m", "to 4.80 m", 1)).iter().map(|f| f.code).collect();
        assert!(codes.contains(&Code::WindowMissesRun) && codes.contains(&Code::WindowUnderived), "{codes:?}");
    }

    #[test]
    fn no_limit_is_offered_where_none_can_be_kept() {
        // The detectors of this travel are a metre apart, and may sit at the same place.
        let all = findings("detectors within 10 mm", "detectors within 500 mm");
        let of = |which: &str| {
            let tight = |finding: &&Finding| finding.code == Code::WindowTight && finding.labels[0].1.contains(which);
            let named = all.iter().filter(tight).find(|finding| finding.message.ends_with("'into-bay'"));
            named.and_then(|finding| finding.help.clone()).unwrap()
        };
        let least = of("its least limit");
        assert!(least.starts_with("no least limit can be kept") && !least.contains("let the least"), "{least}");
        assert!(of("its greatest limit").starts_with("let the greatest limit be 7.213 m"));
    }
}
