//! What `held by` claims, as requirements: the watch answers whatever breaks the assumption.

use crate::respond::{Path, paths};
use crate::station::ways::Way;
use crate::station::{Assumption, Claim, Form, Ground, Rank, Requirement, Scans, Station};

/// The station with a requirement more for each assumption that a watch holds, of the same name.
#[must_use]
pub fn with_upheld(station: &Station) -> Station {
    let paths = paths(station);
    let mut all = station.clone();
    let held = station.assumptions.iter().enumerate();
    all.requirements.extend(held.filter_map(|(i, assumption)| upheld(station, &paths, i, assumption)));
    all
}

fn upheld(station: &Station, paths: &[Path], number: usize, assumption: &Assumption) -> Option<Requirement> {
    let Ground::HeldBy(watch) = assumption.ground else { return None };
    // A distance is told by settled rises, which the watch sees in the same scan.
    let at_once = !matches!(assumption.claim, Claim::Always(_));
    let answers = |path: &&Path| path.watch == watch && (!at_once || path.way == Way::Closer);
    let mildest: Option<Rank> = paths.iter().filter(answers).map(|path| path.answer).min();
    let scan = u64::from(station.scan_us.max(1));
    let slowest = paths.iter().filter(answers).map(|path| (path.settling_us + path.hold_us) / scan).max();
    let within = if at_once { 0 } else { Scans::try_from(slowest?).unwrap_or(Scans::MAX) };
    let name = station.watches.get(watch).map_or("", |watch| watch.name.text.as_str());
    Some(Requirement {
        name: assumption.name.clone(),
        title: format!("{name} stops whatever breaks this assumption"),
        hazards: Vec::new(),
        form: Form::Held {
            assumption: number,
            claim: assumption.claim.clone(),
            // A slow order is no stop.
            least: mildest?.max(station.first_stop()),
            within,
        },
        unless: None,
        bounces: 0,
        need_not_arise: Some("it arises only where the assumption is broken".into()),
        answers: Vec::new(),
        within_us: within.saturating_mul(station.scan_us),
    })
}
