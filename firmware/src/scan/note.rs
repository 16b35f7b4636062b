//! What a scan adds to the log: what was not so in the scan before.

use crate::log::{Event, Kind, Log};
use crate::sample::Sample;
use crate::twin::{Published, Stirs, Twin};
use logic_rules::Upright;
use logic_rules::step::Bound;

/// Ways whose trips are told once while they last; those beyond are told in every scan.
const WAYS: usize = 1_024;

/// What was so in the scan before.
#[derive(Debug)]
pub(super) struct Note {
    answer: u32,
    bypasses: u32,
    trips: [u32; WAYS / 32],
    tripping: bool,
}

impl Default for Note {
    fn default() -> Self {
        Self { answer: 0, bypasses: 0, trips: [0; WAYS / 32], tripping: false }
    }
}

impl Note {
    pub(super) fn take(
        &mut self,
        log: &mut Log,
        twin: &mut Twin<'_>,
        published: Published,
        sample: &Sample,
        scan: u32,
    ) {
        let first_stop = u32::try_from(twin.image().plan().tables().slows.len()).unwrap_or(0).saturating_add(1);
        let was = self.answer;
        self.answer = published.answer;
        let raised = published.answer > was && published.answer >= first_stop;
        let mut tell = |kind, number: u16, value| log.tell(Event { scan, kind, number, value });
        if published.answer != was {
            tell(Kind::Answer, u16::try_from(published.answer).unwrap_or(u16::MAX), published.on);
        }
        let Stirs { bypasses, trips } = twin.stirs();
        if bypasses != self.bypasses {
            for bypass in (0..32_u16).filter(|bypass| (bypasses ^ self.bypasses) >> bypass & 1 == 1) {
                tell(Kind::Bypass, bypass, bypasses >> bypass & 1);
            }
            self.bypasses = bypasses;
        }
        // While a stop stands and nothing new trips there is nothing to tell, which is most scans of a stoppage.
        let mut look = |bound: &Bound<'_, '_, Upright>| {
            for (i, cells) in bound.work.trip.chunks(32).enumerate() {
                let now = cells.iter().rev().fold(0, |bits, [trip]| bits << 1 | trip & 1);
                let told = self.trips.get_mut(i).map_or(0, |told| core::mem::replace(told, now));
                tell_all(&mut tell, Kind::Trip, i, now & !told);
            }
            // The first of a stoppage are latched in the scan in which its stop begins.
            if raised && was < first_stop {
                for (i, cells) in bound.bits().first.chunks(32).enumerate() {
                    let first = cells.iter().rev().fold(0, |bits, [first]| bits << 1 | first & 1);
                    tell_all(&mut tell, Kind::First, i, first);
                }
            }
        };
        if trips || raised {
            let _ = twin.look(&mut look);
        }
        if core::mem::replace(&mut self.tripping, trips) && !trips {
            self.trips = [0; WAYS / 32];
        }
        if raised {
            log.inputs(scan, sample);
        }
        if published.reset {
            log.tell(Event { scan, kind: Kind::Reset, number: 0, value: 0 });
        }
    }
}

/// Tells of those of the ways of a word that are set.
fn tell_all(tell: &mut impl FnMut(Kind, u16, u32), kind: Kind, word: usize, ways: u32) {
    if ways == 0 {
        return;
    }
    let base = u16::try_from(word.saturating_mul(32)).unwrap_or(u16::MAX);
    for way in (0..32_u16).filter(|way| ways >> way & 1 == 1) {
        tell(kind, base.saturating_add(way), 0);
    }
}
