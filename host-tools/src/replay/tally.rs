//! What a replay counts: a fixed number of sums, whatever the length of the recording.

use serde::Serialize;

use super::event::{as_maybe, as_number};
use super::limits::Limits;
use crate::station::{InputKind, Station};
use crate::told::Judged;

/// The end of a replay.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Summary {
    /// Scans judged, counterfactual ones left out.
    pub scans: u64,
    /// Scans of the lead-in, not judged.
    pub lead_in: u64,
    /// Scans that were counterfactual.
    pub counterfactual: u64,
    /// Time from the first to the last scan, microseconds.
    pub lasted_us: u64,
    /// Gaps and clock steps: nothing is known of what lay in them.
    pub gaps: u64,
    /// Rows that stood there twice and were passed over.
    pub doubled: u64,
    /// Stops raised while not counterfactual; that of a power-up only where the recording ran on, or started, in spite of it.
    pub stops: u32,
    /// Those of them that the recording did not make.
    pub not_made: u32,
    /// Those that it made, and started again without their reset.
    pub started: u32,
    /// Resets.
    pub resets: u32,
    /// Watches that measure, in order of declaration.
    pub watches: Vec<WatchTold>,
    /// Requirements, in order of declaration.
    pub requirements: Vec<RequirementTold>,
    /// Assumptions, in order of declaration.
    pub assumptions: Vec<AssumptionTold>,
    /// Register of the bypasses.
    pub bypasses: Vec<BypassTold>,
    /// What cannot be told, and why.
    pub cannot_tell: Vec<String>,
}

impl Summary {
    /// Exit status: 0 if every requirement was met, every stop was made by the recording as well and reset before a start,
    /// and everything could be told; else 1.
    pub fn status(&self) -> u8 {
        let missed = self.requirements.iter().any(|r| r.missed > 0);
        u8::from(missed || self.not_made > 0 || self.started > 0 || !self.cannot_tell.is_empty())
    }
}

/// What a watch measured.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WatchTold {
    /// Its name.
    pub name: String,
    /// Number of judged passings.
    pub judged: u64,
    /// Those of them that lay where the controller's counter ends, or beyond: they have no value.
    pub beyond: u64,
    /// Where it ends; none of a gauge.
    #[serde(serialize_with = "as_maybe")]
    pub measured_to: Option<i64>,
    /// Least value measured.
    #[serde(serialize_with = "as_maybe")]
    pub least: Option<i64>,
    /// Greatest value measured; not known if a passing lay beyond.
    #[serde(serialize_with = "as_maybe")]
    pub greatest: Option<i64>,
    /// Left between the least value and the lower limit; negative if missed.
    #[serde(serialize_with = "as_maybe")]
    pub above_lower: Option<i64>,
    /// Left between the greatest value and the upper limit; negative if missed.
    #[serde(serialize_with = "as_maybe")]
    pub below_upper: Option<i64>,
    /// Unit of all five, which are held in millionths of it.
    pub unit: String,
    /// Passings so near to a limit that the time stamps are too coarse to judge them.
    pub too_near: u64,
}

/// How a requirement fared.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RequirementTold {
    /// Its name.
    pub name: String,
    /// Its title.
    pub title: String,
    /// It waits for no answer: what it asks holds in every scan, and it is never met, only missed.
    pub throughout: bool,
    /// Times met.
    pub met: u64,
    /// Times missed.
    pub missed: u64,
    /// Longest delay of those met, microseconds.
    pub longest_us: Option<u64>,
    /// Longest time beyond its own after which an answer came that was missed, microseconds.
    pub latest_us: Option<u64>,
    /// Times missed without an answer for as long as anybody waited.
    pub unanswered: u64,
}

/// How an assumption fared.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AssumptionTold {
    /// Its name.
    pub name: String,
    /// Times broken.
    pub broken: u64,
}

/// The register of a bypass.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BypassTold {
    /// Its name.
    pub name: String,
    /// Times it became active.
    pub uses: u64,
    /// In all, seconds.
    #[serde(serialize_with = "as_number")]
    pub lasted: i64,
}

/// Sums of one watch while the replay runs.
#[derive(Debug, Clone)]
struct Sums {
    limits: Limits,
    judged: u64,
    beyond: u64,
    ends: Option<[u32; 2]>,
    too_near: u64,
    /// Distance from a limit within which coarse time stamps hide the truth, in ones.
    blur: u32,
}

/// All sums.
#[derive(Debug)]
pub(super) struct Tally {
    watches: Vec<Option<Sums>>,
}

impl Tally {
    /// `blur_us` is by how much time stamps are coarser than a scan.
    pub(super) fn new(station: &Station, blur_us: u64) -> Self {
        let watches = station.watches.iter().map(|watch| {
            let limits = Limits::of(station, watch)?;
            let blur = blur(station, &limits, blur_us);
            Some(Sums { limits, judged: 0, beyond: 0, ends: None, too_near: 0, blur })
        });
        Self { watches: watches.collect() }
    }

    pub(super) fn limits(&self, watch: usize) -> Option<&Limits> {
        self.watches.get(watch)?.as_ref().map(|s| &s.limits)
    }

    pub(super) fn judge(&mut self, judged: Judged) {
        let Some(Some(sums)) = self.watches.get_mut(usize::from(judged.watch)) else {
            return;
        };
        sums.judged += 1;
        match sums.limits.measured(judged.measured) {
            None => sums.beyond += 1,
            Some(value) => {
                let [least, greatest] = sums.ends.unwrap_or([value; 2]);
                sums.ends = Some([least.min(value), greatest.max(value)]);
            }
        }
        let near = |limit: Option<u32>| limit.is_some_and(|limit| limit.abs_diff(judged.measured) < sums.blur);
        if near(sums.limits.least) || near(sums.limits.most) {
            sums.too_near += 1;
        }
    }

    pub(super) fn told(&self, station: &Station) -> Vec<WatchTold> {
        let named = station.watches.iter().zip(&self.watches);
        named
            .filter_map(|(watch, sums)| {
                let sums = sums.as_ref()?;
                let limits = &sums.limits;
                let least = sums.ends.map(|[least, _]| least);
                let greatest = sums.ends.map(|[_, greatest]| greatest).filter(|_| sums.beyond == 0);
                Some(WatchTold {
                    name: watch.name.text.clone(),
                    judged: sums.judged,
                    beyond: sums.beyond,
                    measured_to: limits.measured_to(),
                    least: least.map(|v| limits.micro(v)),
                    greatest: greatest.map(|v| limits.micro(v)),
                    above_lower: least.and_then(|v| limits.left(v).0),
                    below_upper: greatest.and_then(|v| limits.left(v).1),
                    unit: limits.unit.clone(),
                    too_near: sums.too_near,
                })
            })
            .collect()
    }
}

/// How far a time stamp's error can shift a measured number: scans, or rope at the top speed.
fn blur(station: &Station, limits: &Limits, blur_us: u64) -> u32 {
    let scans = blur_us.div_ceil(u64::from(station.scan_us).max(1));
    let ones = if limits.timed {
        scans
    } else if let Some(pace) = limits.rope {
        match station.inputs.get(pace).map(|i| &i.kind) {
            Some(InputKind::Pace(p)) => (scans * u64::from(p.top)).div_ceil(u64::from(p.span).max(1)),
            _ => 0,
        }
    } else {
        0
    };
    u32::try_from(ones).unwrap_or(u32::MAX)
}
