//! Derived limits put into the text of rule files, which stays as it is everywhere else.

use similar::TextDiff;

use super::{Derived, End, Why};
use crate::load::Loaded;
use crate::station::{Measured, Station};
use crate::text::codes::Code;
use crate::text::finding::{Finding, Level};
use crate::text::parse::{Source, parse};
use crate::text::tree::{Kind, Quantity, Unit, WatchKind, Window};

/// A limit that changes.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Edit {
    file: usize,
    start: usize,
    end: usize,
    text: String,
}

/// The files with every limit that could be derived at its derived value, in the unit in which it stands. Only numbers and
/// their units change, and only of these watches. A file that cannot be read stays as it is.
pub fn rewritten(sources: &[Source], station: &Station, derived: &[Derived]) -> Vec<Source> {
    let (files, _) = parse(sources.to_vec());
    let mut edits = Vec::new();
    for watch in files.iter().flat_map(|file| &file.statements).filter_map(|statement| match &statement.kind {
        Kind::Watch(watch) => Some(watch),
        _ => None,
    }) {
        let Some(it) = derived.iter().find(|it| named(station, it) == Some(watch.name.value.as_str())) else {
            continue;
        };
        let (WatchKind::Travel { takes: window, .. } | WatchKind::Spacing { apart: window, .. }) = &watch.kind else {
            continue;
        };
        let (Window::Rope(low, high, ..) | Window::Time(low, high, ..)) = window;
        edits.extend(edit(station, it.measured, &it.least, low));
        edits.extend(high.as_ref().and_then(|high| edit(station, it.measured, &it.most, high)));
    }
    // From behind, so that places before stay where they are.
    edits.sort_by_key(|edit| std::cmp::Reverse((edit.file, edit.start)));
    let mut out = sources.to_vec();
    for edit in edits {
        if let Some(source) = out.get_mut(edit.file)
            && edit.start <= edit.end
            && edit.end <= source.bytes.len()
        {
            source.bytes.splice(edit.start..edit.end, edit.text.into_bytes());
        }
    }
    out
}

fn named<'s>(station: &'s Station, derived: &Derived) -> Option<&'s str> {
    station.watches.get(derived.watch).map(|watch| watch.name.text.as_str())
}

/// The change of one limit; none where it says that already, nothing was derived, or no limit can be kept.
fn edit(station: &Station, measured: Measured, end: &Result<End, Why>, written: &Quantity) -> Option<Edit> {
    let limit = i64::from(end.as_ref().ok()?.limit?);
    let micro = match measured {
        Measured::Rope(_) => limit.checked_mul(1_000)?,
        Measured::Time { .. } => limit.checked_mul(station.scan_us.into())?,
    };
    let unit = match written.unit {
        // Some times have no end in these.
        Unit::Min | Unit::H => Unit::S,
        unit => unit,
    };
    let stands = written.mantissa.checked_mul(written.unit.base())?;
    if Some(stands) == micro.checked_mul(10_i64.checked_pow(written.decimals.into())?) {
        return None;
    }
    Some(Edit {
        file: written.place.file.into(),
        start: usize::try_from(written.place.start).ok()?,
        end: usize::try_from(written.place.end).ok()?,
        text: with_places(&unit.written(micro), written.decimals),
    })
}

/// A quantity with at least so many places.
fn with_places(text: &str, places: u8) -> String {
    let Some((number, unit)) = text.split_once(' ') else { return text.to_owned() };
    let (whole, digits) = number.split_once('.').unwrap_or((number, ""));
    let digits = format!("{digits:0<width$}", width = usize::from(places));
    let point = if digits.is_empty() { "" } else { "." };
    format!("{whole}{point}{digits} {unit}")
}

/// Findings that stand after a change and did not before; notes do not count. Two are the same that say the same of the same,
/// whatever numbers are in them and wherever they stand. As many as there were may stay; one that has gone makes no room for another.
pub fn added(before: &Loaded, after: &Loaded) -> Vec<Finding> {
    let mut known: Vec<_> = before.findings.iter().map(|finding| said(finding, before)).collect();
    let serious = after.findings.iter().filter(|finding| finding.level != Level::Note);
    let new = serious.filter(|finding| {
        let at = known.iter().position(|old| *old == said(finding, after));
        at.map(|at| known.swap_remove(at)).is_none()
    });
    new.cloned().collect()
}

/// What is said, and of what: the text at the main place, which is a name where a watch is meant.
fn said<'f>(finding: &'f Finding, of: &'f Loaded) -> (Code, Level, &'f str) {
    let marked = finding.labels.first().and_then(|(place, _)| {
        let (start, end) = (usize::try_from(place.start).ok()?, usize::try_from(place.end).ok()?);
        of.files.get(usize::from(place.file))?.source.get(start..end)
    });
    (finding.code, finding.level, marked.unwrap_or(&finding.message))
}

/// What differs, as a unified diff.
pub fn diff(old: &[Source], new: &[Source]) -> String {
    let mut out = String::new();
    for (old, new) in old.iter().zip(new).filter(|(old, new)| old.bytes != new.bytes) {
        let [before, after] = [old, new].map(|source| String::from_utf8_lossy(&source.bytes));
        let lines = TextDiff::from_lines(before.as_ref(), after.as_ref());
        out.push_str(&lines.unified_diff().context_radius(1).header(&old.path, &new.path).to_string());
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lane::windows::table::table;
    use crate::lane::windows::{Verdict, windows};
    use crate::load::load;
    use crate::text::finding::Level;
    use crate::text::place::Place;

    /// The limits of the demo are just what is derived: here every travel may come a centimetre sooner and later.
    fn wider(text: &str) -> String {
        let line = |line: &str| {
            let Some((takes, least, most, rest)) = line.split_once("takes ").and_then(|(takes, limits)| {
                let (least, rest) = limits.split_once(" m to ")?;
                let (most, rest) = rest.split_once(" m of rope")?;
                Some((takes, least.parse::<f64>().ok()?, most.parse::<f64>().ok()?, rest))
            }) else {
                return line.to_owned();
            };
            format!("{takes}takes {:.3} m to {:.3} m of rope{rest}", least - 0.01, most + 0.01)
        };
        text.split('\n').map(line).collect::<Vec<_>>().join("\n")
    }

    fn demo(which: &str, ends: &str) -> Vec<Source> {
        let read = |name: String| {
            let text = std::fs::read_to_string(format!("{}/demo/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap();
            Source { path: name, bytes: wider(&text).replace('\n', ends).into_bytes() }
        };
        vec![read(format!("{which}-terminal.rules")), read(format!("{which}-terminal.requirements.rules"))]
    }

    #[test]
    fn derived_limits_fit_and_all_else_stays() {
        for (which, ends) in [("drive", "\n"), ("drive", "\r\n"), ("return", "\n")] {
            let old = demo(which, ends);
            let station = load(old.clone()).station.unwrap();
            let new = rewritten(&old, &station, &windows(&station));
            let loaded = load(new.clone());
            let told: Vec<_> = loaded.findings.iter().filter(|finding| finding.level != Level::Note).collect();
            assert!(told.is_empty(), "{which}: {told:?}");
            let again = loaded.station.unwrap();
            for derived in windows(&again) {
                // A scan's travel is reckoned a millimetre too great where the pulses leave that open.
                let more = derived.least.as_ref().unwrap().counted - derived.stands.0;
                assert!(more <= 1, "{derived:?}");
                let (least, most) = derived.verdicts(again.scan_us);
                assert_eq!(least, Verdict::Fits);
                assert_eq!(most, Verdict::Fits);
            }
            assert_eq!(rewritten(&new, &again, &windows(&again)), new, "a second time changes something");
            // Lines with other numbers have other numbers, and are the same without them.
            assert_eq!(old[1].bytes, new[1].bytes);
            let bare = |source: &Source| -> String {
                let text = String::from_utf8(source.bytes.clone()).unwrap();
                let limits = |line: &str| line.contains(" takes ") || line.contains(" rises at least ");
                let number = |c: char| c.is_ascii_digit() || c == '.';
                let line = |line: &str| if limits(line) { line.replace(number, "") } else { line.to_owned() };
                text.split('\n').map(line).collect::<Vec<_>>().join("\n")
            };
            assert_eq!(bare(&old[0]), bare(&new[0]));
            let told = diff(&old, &new);
            assert!(told.starts_with(&format!("--- {which}-terminal.rules")), "{told}");
            assert!(told.lines().filter(|line| line.starts_with('+')).count() > 5, "{told}");
        }
    }

    #[test]
    fn a_limit_that_cannot_be_kept_is_left_and_said() {
        let mut old = demo("drive", "\n");
        let text = String::from_utf8(old[0].bytes.clone()).unwrap();
        old[0].bytes = text.replacen("detectors within 10 mm", "detectors within 500 mm", 1).into_bytes();
        let station = load(old.clone()).station.unwrap();
        let all = windows(&station);
        let table = table(&station, &all);
        let row = table.windows.iter().find(|row| row.watch == "into-bay").unwrap();
        assert_eq!((row.least.counted, row.least.limit, row.least.why), (Some(0), None, Some(Why::NoneKept)));
        assert_eq!((row.least.verdict, table.status), (Verdict::Tight, 1));
        assert!(table.text().contains("trip it; no least limit can be kept"));
        let left = table.left();
        let said = |which: &str| left.iter().any(|limit| limit.starts_with(which));
        assert!(left.len() == 4 && said("the least limit of 'into-bay' stays as it is: no least"), "{left:?}");
        assert!(said("the greatest limit of 'slow-down'") && said("the least limit of 'line-gap'"), "{left:?}");
        let new = rewritten(&old, &station, &all);
        let new = String::from_utf8(new[0].bytes.clone()).unwrap();
        assert!(new.contains("takes 3.286 m to 7.213 m of rope"), "{new}");
    }

    #[test]
    fn a_finding_that_goes_makes_no_room_for_another() {
        let (files, _) = parse(vec![Source { path: "a".into(), bytes: b"one two one".to_vec() }]);
        let at = |code, start, message: &str| {
            Finding::new(code, message).at(Place { file: 0, start, end: start + 3 }, "here")
        };
        let new = |before: &[&Finding], after: &[&Finding]| {
            let [before, after] = [before, after].map(|all| Loaded {
                files: files.clone(),
                findings: all.iter().copied().cloned().collect(),
                station: None,
            });
            added(&before, &after).len()
        };
        let (tight, short) = (at(Code::WindowTight, 0, "a"), at(Code::IntervalShort, 0, "a"));
        assert_eq!(new(&[&tight, &tight], &[&short]), 1);
        // Nor does one of the same kind, and the same twice is more than once.
        assert_eq!(new(&[&tight, &tight], &[&at(Code::WindowTight, 4, "a")]), 1);
        assert_eq!(new(&[&tight], &[&tight, &tight]), 1);
        assert_eq!(new(&[&tight, &short], &[&short, &tight]), 0);
        // It may have moved, and have another number in it.
        assert_eq!(new(&[&tight], &[&at(Code::WindowTight, 8, "b")]), 0);
        // What was a warning is more as an error; a note is nothing.
        let worse = Finding { level: Level::Error, ..tight.clone() };
        assert_eq!(new(&[&tight], &[&worse]), 1);
        assert_eq!(new(&[], &[&at(Code::WindowWide, 0, "a")]), 0);
        // Without a place it is known by what it says.
        let bare = |message: &str| Finding::new(Code::WindowTight, message);
        assert_eq!(new(&[&bare("a")], &[&bare("a")]), 0);
        assert_eq!(new(&[&bare("a")], &[&bare("b")]), 1);
    }

    #[test]
    fn a_limit_is_written_in_its_own_unit_with_no_fewer_places() {
        assert_eq!(with_places(&Unit::M.written(4_600_000), 2), "4.60 m");
        assert_eq!(with_places(&Unit::M.written(4_601_000), 2), "4.601 m");
        assert_eq!(with_places(&Unit::Mm.written(4_601_000), 0), "4601 mm");
        assert_eq!(with_places(&Unit::Ms.written(2_090_000), 0), "2090 ms");
    }
}
