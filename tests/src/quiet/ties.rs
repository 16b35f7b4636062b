//! What happened in a scan right behind one that was skipped: what ran out by itself there, and what a move met.

use std::collections::BTreeMap;
use std::fmt;

use crate::reading::key;
use host_tools::sample::Sample;
use host_tools::station::ways::WayOf;
use host_tools::station::{InputKind, Measured, Station, WatchKind};
use host_tools::told::Scanned;

/// How often each kind of thing happened in a scan right behind one that was skipped: with all channels as they were, and
/// with one that moved in that very scan.
#[derive(Debug, Clone, Default)]
pub struct Ties(pub BTreeMap<String, [u64; 2]>);

impl Ties {
    /// How often, with and without a move.
    pub fn of(&self, what: &str) -> u64 {
        self.0.get(what).map_or(0, |[alone, moved]| alone + moved)
    }
    /// Takes up scans that were taken at once, and gauges that were free to move in them.
    pub(super) fn at_once(&mut self, [scans, moved]: [u64; 2]) {
        self.0.entry("taken at once".to_owned()).or_default()[0] += scans;
        self.0.entry("free to move meanwhile".to_owned()).or_default()[0] += moved;
    }
    /// Takes up those of another run.
    pub fn add(&mut self, other: &Self) {
        for (what, [alone, moved]) in &other.0 {
            let all = self.0.entry(what.clone()).or_default();
            *all = [all[0] + alone, all[1] + moved];
        }
    }
    /// Takes a scan of which the rules, or those who judge them, were stepped right behind one that was skipped.
    pub(super) fn take(
        &mut self,
        station: &Station,
        ways: &[WayOf],
        scans: [(&Scanned, &Sample); 2],
        [rules, judges]: [bool; 2],
    ) {
        let [(last, before), (told, sample)] = scans;
        let moved = usize::from(before.channels != sample.channels);
        let mut tie = |what: &str| self.0.entry(what.to_owned()).or_default()[moved] += 1;
        let judged =
            [(!told.missed.is_empty(), "missed"), (!told.met.is_empty(), "met"), (!told.broken.is_empty(), "broken")];
        for (_, what) in judged.iter().filter(|(is, _)| *is && judges) {
            tie(what);
        }
        if !rules {
            return;
        }
        for way in told.trips.iter().filter(|way| !last.trips.contains(way)) {
            if let Some(way) = ways.get(usize::from(*way)) {
                tie(&key(station, way));
            }
        }
        for judged in &told.judged {
            for (limit, what) in limits(station, usize::from(judged.watch), sample) {
                if limit.contains(&i64::from(judged.measured)) {
                    tie(what);
                }
            }
        }
        for (is, what) in [
            (told.reset, "reset"),
            (told.active & !last.active != 0, "bypass begins"),
            (last.active & !told.active != 0, "bypass ends"),
            (told.answer != last.answer, "answer changes"),
            (told.off & !last.off != 0, "output goes off"),
            (told.permit != last.permit, "permit changes"),
        ] {
            if is {
                tie(what);
            }
        }
    }
}

impl fmt::Display for Ties {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{:>9} {:>9} {:>9}", "all", "alone", "moved")?;
        for (what, [alone, moved]) in &self.0 {
            writeln!(f, "{:>9} {alone:>9} {moved:>9} {what}", alone + moved)?;
        }
        Ok(())
    }
}

/// What a watch may have measured in a scan that is one of the two on either side of a limit.
fn limits(station: &Station, watch: usize, sample: &Sample) -> Vec<(std::ops::Range<i64>, &'static str)> {
    let scan = |measured: Measured| match measured {
        Measured::Rope(pace) => match &station.inputs[pace].kind {
            InputKind::Pace(pace) => i64::from(sample.travel[pace.source].abs()),
            _ => 0,
        },
        Measured::Time { .. } => 1,
    };
    match station.watches.get(watch).map(|watch| &watch.kind) {
        Some(WatchKind::Travel(travel)) => {
            let (scan, least, most) = (scan(travel.measured), i64::from(travel.earliest), i64::from(travel.latest) + 1);
            vec![
                (least - scan..least, "arrives one scan too early"),
                (least..least + scan, "arrives as early as it may"),
                (most - scan..most, "arrives as late as it may"),
                (most..most + scan, "arrives one scan too late"),
            ]
        }
        Some(WatchKind::Spacing(spacing)) => {
            let (scan, least) = (scan(spacing.measured), i64::from(spacing.least));
            let mut limits = vec![
                (least - scan..least, "follows one scan too close"),
                (least..least + scan, "follows as close as it may"),
            ];
            if let Some(most) = spacing.most {
                let most = i64::from(most) + 1;
                limits.push((most - scan..most, "follows as far as it may"));
                limits.push((most..most + scan, "follows one scan too far"));
            }
            limits
        }
        _ => Vec::new(),
    }
}
