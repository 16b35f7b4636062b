//! Derived windows, written for people and for machines.

use std::fmt::Write as _;

use serde::Serialize;

use super::speeds::operating;
use super::{Basis, Cause, Derived, End, Verdict, Why};
use crate::lane::rope::rope;
use crate::lane::words::decimal;
use crate::station::{InputId, Measured, Station};

/// What one cause takes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Taken {
    /// What takes it.
    pub cause: Cause,
    /// How much: nanometres of rope, or nanoseconds.
    pub amount: i64,
}

/// One end of a window.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct EndTold {
    /// The least or the most that may be counted, mm or microseconds.
    pub counted: Option<u64>,
    /// What a file must say for that, mm or microseconds; none where no limit can be kept.
    pub limit: Option<u64>,
    /// What stands, narrowed as the rules judge it, mm or microseconds.
    pub stands: Option<u64>,
    /// What is said of it.
    pub verdict: Verdict,
    /// Where the margin begins, in the unit of the parts: the nominal size, or the least distance of carriers.
    pub from: Option<u64>,
    /// Why nothing is derived, or no limit can be kept.
    pub why: Option<Why>,
    /// What takes the margin from there to `counted`.
    pub parts: Vec<Taken>,
}

/// How long the nominal run takes at a speed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AtSpeed {
    /// What the speed is.
    pub what: String,
    /// Millimetres a second, rounded down.
    pub mm_a_second: u64,
    /// Microseconds of the nominal run, rounded down.
    pub takes_us: Option<u64>,
}

/// A travel or a spacing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Row {
    /// Its name.
    pub watch: String,
    /// The first, or the only, detector.
    pub from: String,
    /// The second.
    pub to: Option<String>,
    /// `rope` or `time`.
    pub measured: &'static str,
    /// Rope of the nominal run, nanometres, rounded down.
    pub nominal_nm: Option<u64>,
    /// Its size in the unit of the parts, rounded down.
    pub nominal: Option<u64>,
    /// The nominal run at each speed at which the rope is run.
    pub at_speeds: Vec<AtSpeed>,
    /// The least.
    pub least: EndTold,
    /// The most.
    pub most: EndTold,
}

/// All of a station's.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Table {
    /// The station.
    pub station: String,
    /// Its revision.
    pub revision: u32,
    /// Millionths by which a carrier's speed may be off where it is not the rope's.
    pub speeds_ppm: u32,
    /// mm by which a detector may sit off its place.
    pub detectors_mm: u32,
    /// mm by which it may switch off where it sits.
    pub switching_mm: u32,
    /// The windows.
    pub windows: Vec<Row>,
    /// Exit status: 0 only where each limit that stands was derived and fits.
    pub status: u8,
}

/// What is told of windows that were derived from a station's lane.
pub fn table(station: &Station, derived: &[Derived]) -> Table {
    let windows: Vec<Row> = derived.iter().map(|it| row(station, it)).collect();
    let far = station.lane.as_ref().map(|lane| lane.tolerances).unwrap_or_default();
    let good = windows.iter().flat_map(|row| [&row.least, &row.most]).all(EndTold::good);
    Table {
        station: station.title.clone(),
        revision: station.revision,
        speeds_ppm: far.share_ppm,
        detectors_mm: far.detector,
        switching_mm: far.switching,
        windows,
        status: u8::from(!good),
    }
}

fn row(station: &Station, derived: &Derived) -> Row {
    let named = |at: InputId| station.inputs.get(at).map_or_else(String::new, |input| input.name.text.clone());
    let (least, most) = derived.verdicts(station.scan_us);
    let in_unit = |count: u32| match derived.measured {
        Measured::Rope(_) => u64::from(count),
        Measured::Time { .. } => u64::from(count) * u64::from(station.scan_us),
    };
    let end = |end: &Result<End, Why>, stands: Option<u32>, verdict| EndTold {
        counted: end.as_ref().ok().map(|end| in_unit(end.counted)),
        limit: end.as_ref().ok().and_then(|end| end.limit).map(in_unit),
        stands: stands.map(in_unit),
        verdict,
        from: end.as_ref().ok().map(|end| end.from),
        why: end.as_ref().map_or_else(|why| Some(*why), |end| end.limit.is_none().then_some(Why::NoneKept)),
        parts: end
            .iter()
            .flat_map(|end| &end.parts)
            .map(|part| Taken { cause: part.cause, amount: part.amount })
            .collect(),
    };
    Row {
        watch: station.watches.get(derived.watch).map_or_else(String::new, |watch| watch.name.text.clone()),
        from: named(derived.detectors.0),
        to: derived.detectors.1.map(named),
        measured: if matches!(derived.measured, Measured::Rope(_)) { "rope" } else { "time" },
        nominal_nm: derived.nominal_nm,
        nominal: derived.nominal,
        at_speeds: at_speeds(station, derived),
        least: end(&derived.least, Some(derived.stands.0), least),
        most: end(&derived.most, derived.stands.1, most),
    }
}

fn at_speeds(station: &Station, derived: &Derived) -> Vec<AtSpeed> {
    let Some((_, pace)) = rope(station) else { return Vec::new() };
    let span_us = (u64::from(pace.span) * u64::from(station.scan_us)).max(1);
    let basis = Basis::of(station, derived.measured).ok();
    let takes = |mm: u32| {
        let ns = basis?.time(derived.nominal_nm?.into(), mm.into(), super::ladder::Side::Least).ok()?;
        u64::try_from(ns / 1_000).ok()
    };
    let told = |speed: super::speeds::Operating| AtSpeed {
        mm_a_second: u64::from(speed.mm) * 1_000_000 / span_us,
        takes_us: takes(speed.mm),
        what: speed.what,
    };
    operating(station).into_iter().map(told).collect()
}

impl Table {
    /// For people.
    pub fn text(&self) -> String {
        let mut out = format!(
            "Tolerances of the lane: speeds within {} %, detectors within {} mm, switching within {} mm.\n",
            decimal(self.speeds_ppm.into(), 10_000),
            self.detectors_mm,
            self.switching_mm
        );
        for row in &self.windows {
            row.tell(&mut out);
        }
        out
    }

    /// Limits that stand and for which there is no other to write, each in a sentence.
    pub fn left(&self) -> Vec<String> {
        let ends = self.windows.iter().flat_map(|row| [(row, "least", &row.least), (row, "greatest", &row.most)]);
        ends.filter(|(.., end)| end.stands.is_some() && end.limit.is_none())
            .filter_map(|(row, which, end)| Some((row, which, end.why?)))
            .map(|(row, which, why)| format!("the {which} limit of '{}' stays as it is: {}", row.watch, why.words()))
            .collect()
    }
}

impl Row {
    fn tell(&self, out: &mut String) {
        let way =
            self.to.as_ref().map_or_else(|| format!("at {}", self.from), |to| format!("from {} to {to}", self.from));
        let nominal =
            self.nominal_nm.map_or_else(|| "unknown".to_owned(), |nm| decimal(nm / 100_000, 10_000) + " m of rope");
        let _ = writeln!(out, "\n{}, {way}: {nominal}", self.watch);
        for at in &self.at_speeds {
            let _ = writeln!(
                out,
                "  {:>9} at {} m/s, {}",
                at.takes_us.map_or_else(|| "-".to_owned(), |us| decimal(us / 1_000, 1_000) + " s"),
                decimal(at.mm_a_second, 1_000),
                at.what
            );
        }
        let _ = writeln!(out, "  {:<12}{:>14}{:>14}", "", "least", "most");
        let [least, most] = [&self.least, &self.most].map(|end| {
            let fine =
                |value: u64| decimal(value / 100_000, 10_000) + if self.measured == "rope" { " m" } else { " s" };
            end.from.map_or_else(|| "-".to_owned(), fine)
        });
        let _ = writeln!(out, "  {:<12}{:>14}{:>14}", "from", least, most);
        let mut causes: Vec<Cause> = Vec::new();
        for part in self.least.parts.iter().chain(&self.most.parts) {
            if !causes.contains(&part.cause) {
                causes.push(part.cause);
            }
        }
        causes.sort_by_key(|cause| Cause::ORDER.iter().position(|known| known == cause));
        for cause in causes {
            let part = |end: &EndTold, sign: &str| {
                let found = end.parts.iter().find(|part| part.cause == cause);
                found.map_or_else(String::new, |part| self.amount(part.amount, sign))
            };
            let _ = writeln!(out, "  {:<12}{:>14}{:>14}", cause.words(), part(&self.least, "-"), part(&self.most, "+"));
        }
        let both = |value: fn(&EndTold) -> Option<u64>| {
            [&self.least, &self.most].map(|end| value(end).map_or_else(|| "-".to_owned(), |value| self.size(value)))
        };
        for (what, [least, most]) in [
            ("counted", both(|end| end.counted)),
            ("stands", both(|end| end.stands)),
            ("to write", both(|end| end.limit)),
        ] {
            let _ = writeln!(out, "  {what:<12}{least:>14}{most:>14}");
        }
        for (what, end) in [("least", &self.least), ("greatest", &self.most)] {
            if let Some(words) = end.words() {
                let _ = writeln!(out, "  the {what}: {words}");
            }
        }
    }

    /// mm or microseconds, as they are written.
    fn size(&self, value: u64) -> String {
        if self.measured == "rope" { decimal(value, 1_000) + " m" } else { decimal(value / 1_000, 1_000) + " s" }
    }

    /// A part: nanometres or nanoseconds, to a tenth of a mm or ms, rounded up.
    fn amount(&self, value: i64, outward: &str) -> String {
        let inward = if outward == "-" { "+" } else { "-" };
        let sign = if value < 0 { inward } else { outward };
        let tenths = value.unsigned_abs().div_ceil(100_000);
        let unit = if self.measured == "rope" { "mm" } else { "ms" };
        format!("{sign}{}.{} {unit}", tenths / 10, tenths % 10)
    }
}

impl EndTold {
    /// Nothing stands here, or what stands is known to fit.
    fn good(&self) -> bool {
        match self.verdict {
            Verdict::Fits | Verdict::Wide => true,
            Verdict::Tight => false,
            Verdict::Unknown => self.stands.is_none(),
        }
    }
    fn words(&self) -> Option<String> {
        const INSIDE: &str = "STANDS INSIDE: a carrier that keeps to the lane may trip it";
        match (self.verdict, self.why) {
            (Verdict::Tight, Some(why)) => Some(format!("{INSIDE}; {}", why.words())),
            (Verdict::Tight, None) => Some(INSIDE.to_owned()),
            (Verdict::Wide, _) => Some("stands more than twice as far out as the lane needs".to_owned()),
            (Verdict::Unknown, Some(why)) if !self.good() => {
                Some(format!("NOT DERIVED, so that nothing is known of it: {}", why.words()))
            }
            (Verdict::Unknown, Some(why)) => Some(format!("not derived, {}", why.words())),
            (Verdict::Fits, _) | (Verdict::Unknown, None) => None,
        }
    }
}

impl Why {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Why::OffLane => "the lane does not reach beyond both detectors as far as they may be off",
            Why::OtherPace => "it is measured by another pace than the lane",
            Why::Backwards => "the second detector does not lie behind the first",
            Why::NoLeast => "the lane does not say 'at least X apart'",
            Why::NoMost => "the lane does not say 'at most X apart'",
            Why::Standing => "within its band the rope may stand",
            Why::TooLarge => "the number is too large",
            Why::NoneKept => {
                "no least limit can be kept, since less than one scan's travel, or one scan, may be counted"
            }
        }
    }
}

impl Cause {
    /// In the order in which they are reckoned.
    const ORDER: [Cause; 8] = [
        Cause::Band,
        Cause::Pulses,
        Cause::Detectors,
        Cause::Switching,
        Cause::Speeds,
        Cause::Sampling,
        Cause::Settling,
        Cause::Rounding,
    ];
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Cause::Band => "band",
            Cause::Pulses => "pulses",
            Cause::Detectors => "detectors",
            Cause::Switching => "switching",
            Cause::Speeds => "speeds",
            Cause::Sampling => "sampling",
            Cause::Settling => "settling",
            Cause::Rounding => "rounding",
        }
    }
}
