//! Derived limits put into the text of rule files, which stays as it is everywhere else.

use similar::TextDiff;

use super::{Derived, End, Why};
use crate::station::{Measured, Station};
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

/// The change of one limit; none where it says that already, or nothing was derived.
fn edit(station: &Station, measured: Measured, end: &Result<End, Why>, written: &Quantity) -> Option<Edit> {
    let limit = i64::from(end.as_ref().ok()?.limit);
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
    use crate::lane::windows::{Verdict, windows};
    use crate::load::load;
    use crate::text::finding::Level;

    fn demo(which: &str, ends: &str) -> Vec<Source> {
        let read = |name: String| {
            let text = std::fs::read_to_string(format!("{}/demo/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap();
            Source { path: name, bytes: text.replace('\n', ends).into_bytes() }
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
                assert!(most == Verdict::Fits || derived.detectors.1.is_none());
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
    fn a_limit_is_written_in_its_own_unit_with_no_fewer_places() {
        assert_eq!(with_places(&Unit::M.written(4_600_000), 2), "4.60 m");
        assert_eq!(with_places(&Unit::M.written(4_601_000), 2), "4.601 m");
        assert_eq!(with_places(&Unit::Mm.written(4_601_000), 0), "4601 mm");
        assert_eq!(with_places(&Unit::Ms.written(2_090_000), 0), "2090 ms");
    }
}
