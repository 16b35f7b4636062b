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
            let firsts = bound.bits().first.iter();
            for (i, ([trip], [first])) in bound.work.trip.iter().zip(firsts).enumerate() {
                let way = u16::try_from(i).unwrap_or(u16::MAX);
                let (mask, cell) = (1_u32 << (i % 32), self.trips.get_mut(i / 32));
                let told = cell.as_ref().is_some_and(|cell| **cell & mask != 0);
                if *trip != 0 && !told {
                    tell(Kind::Trip, way, 0);
                }
                if let Some(cell) = cell {
                    *cell = if *trip == 0 { *cell & !mask } else { *cell | mask };
                }
                // The first of a stoppage are latched in the scan in which its stop begins.
                if *first != 0 && raised && was < first_stop {
                    tell(Kind::First, way, 0);
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
