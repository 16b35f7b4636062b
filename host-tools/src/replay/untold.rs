//! What a recording with coarse time stamps cannot tell, known before its first row.

use crate::station::{Form, Lasting, Measured, Scans, Station, Watch, WatchKind, When};

/// A sentence for each limit that is finer than the time stamps.
pub(super) fn too_fine(station: &Station, stamps_us: u64) -> Vec<String> {
    let scan_us = u64::from(station.scan_us);
    if stamps_us <= scan_us {
        return Vec::new();
    }
    let finer = |scans: Scans| scans > 0 && u64::from(scans) * scan_us < stamps_us;
    let mut all = Vec::new();
    let mut say = |what: String, scans: Scans| {
        let (limit, stamps) = (station.ms(scans), stamps_us / 1_000);
        all.push(format!("{what}: its {limit} ms are finer than the time stamps ({stamps} ms)"));
    };
    for watch in &station.watches {
        if let Some(scans) = finest(watch).filter(|s| finer(*s)) {
            say(format!("watch {}", watch.name.text), scans);
        }
    }
    for requirement in &station.requirements {
        let within = match &requirement.form {
            Form::Whenever { lasting, within, .. } | Form::Effect { lasting, within, .. } => least([*lasting, *within]),
            Form::WhenRises { when: When::Scans(scans @ 1..), within, .. }
            | Form::WhenRises { lasting: scans @ 1.., within, .. } => least([*scans, *within]),
            Form::WhenRises { within, .. } | Form::After { within, .. } | Form::Held { within, .. } => *within,
            Form::Never { .. }
            | Form::NeverReleased { .. }
            | Form::NeverReleasedBut { .. }
            | Form::NeverPermitted { .. }
            | Form::NeverTogether(..) => 0,
        };
        if finer(within) {
            say(format!("requirement {}", requirement.name.text), within);
        }
    }
    all
}

/// The shortest time that a watch goes by.
fn finest(watch: &Watch) -> Option<Scans> {
    match &watch.kind {
        WatchKind::Guard(g) => match g.lasting {
            Lasting::Unbroken(scans) | Lasting::Total { of: scans, .. } => Some(scans),
        },
        WatchKind::Travel(t) => match t.measured {
            Measured::Time { .. } => Some(t.latest.saturating_sub(t.earliest)),
            Measured::Rope(_) => t.backstop,
        },
        WatchKind::Measure(m) => match m.when {
            When::Scans(scans) => Some(scans),
            When::Rise | When::Rope(..) => None,
        },
        WatchKind::Spacing(s) => match s.measured {
            Measured::Time { .. } => Some(s.least),
            Measured::Rope(_) => None,
        },
        WatchKind::Agree(a) => Some(a.apart),
        WatchKind::Confirm(c) => Some(c.within),
        WatchKind::Exercise(_) | WatchKind::Count(_) => None,
    }
}

/// The least of those that are no 0; 0 if there is none.
fn least(all: [u32; 2]) -> u32 {
    all.into_iter().filter(|scans| *scans > 0).min().unwrap_or(0)
}
