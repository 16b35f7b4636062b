//! The speeds at which a station's rope is run.

use super::rope;
use crate::station::{Measured, Station, WatchKind};

/// A speed of the rope, and what it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Operating {
    /// What it is: names, joined.
    pub(super) what: String,
    /// mm over the span of the rope's pace.
    pub(super) mm: u32,
}

/// Every speed that the file declares for the lane's rope, the fastest first: its greatest, slow orders, limits of modes, and
/// the edges of the bands in which times are judged.
pub(super) fn operating(station: &Station) -> Vec<Operating> {
    let Some((rope, pace)) = rope(station) else { return Vec::new() };
    let mut all = vec![(pace.top, "greatest".to_owned())];
    let slows = station.slows.iter().filter(|slow| slow.pace == rope);
    all.extend(slows.map(|slow| (slow.down_to, slow.name.text.clone())));
    for mode in &station.modes {
        all.extend(mode.at_most.filter(|(pace, _)| *pace == rope).map(|(_, mm)| (mm, mode.name.text.clone())));
    }
    for watch in &station.watches {
        let (WatchKind::Travel(crate::station::Travel { measured, .. })
        | WatchKind::Spacing(crate::station::Spacing { measured, .. })) = &watch.kind
        else {
            continue;
        };
        if let Measured::Time { pace, least, most } = measured
            && *pace == rope
        {
            all.push((*least, format!("least of {}", watch.name.text)));
            all.push((*most, format!("most of {}", watch.name.text)));
        }
    }
    all.retain(|(mm, _)| *mm > 0);
    all.sort_by_key(|(mm, _)| std::cmp::Reverse(*mm));
    let mut out: Vec<Operating> = Vec::new();
    for (mm, what) in all {
        match out.last_mut().filter(|last| last.mm == mm) {
            Some(last) => last.what = format!("{}, {what}", last.what),
            None => out.push(Operating { what, mm }),
        }
    }
    out
}
