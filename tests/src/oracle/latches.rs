//! Latches and the first-out.

use host_tools::station::Rank;
use host_tools::station::ways::{Source, WayOf};

/// Both, per way.
#[derive(Debug, Clone)]
pub(crate) struct Latches {
    pub(crate) latched: Vec<bool>,
    pub(crate) first: Vec<bool>,
}

impl Latches {
    /// As at power-up: `Started` alone, latched, though it trips in no scan.
    pub(crate) fn power_up(ways: &[WayOf]) -> Self {
        let started: Vec<bool> = ways.iter().map(|way| way.source == Source::PowerUp).collect();
        Self { latched: started.clone(), first: started }
    }

    /// Takes the trips of one scan.
    pub(crate) fn take(&mut self, ways: &[WayOf], first_stop: Rank, trips: &[bool]) {
        let none_before = !self.latched.contains(&true);
        let mut stops = vec![false; ways.len()];
        for (i, way) in ways.iter().enumerate() {
            stops[i] = trips[i] && way.answer >= first_stop;
            if stops[i] {
                self.latched[i] = true;
            }
        }
        if none_before && stops.contains(&true) {
            self.first = stops;
        }
    }

    /// All latches and the first-out are cleared.
    pub(crate) fn clear(&mut self) {
        self.latched.fill(false);
        self.first.fill(false);
    }
}
