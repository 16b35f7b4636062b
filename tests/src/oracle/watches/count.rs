//! Carriers in a zone.

use host_tools::station::Count;
use host_tools::station::ways::Way;

use super::super::conditions::View;

/// A count.
#[derive(Debug, Clone, Default)]
pub(crate) struct CountState {
    inside: i64,
    known: bool,
    /// must(when) of the scan before; before the first scan it counts as true.
    not_before: bool,
}

impl CountState {
    pub(super) fn scan(&mut self, count: &Count, view: &View) -> Vec<Way> {
        let mut ways = Vec::new();
        let known_before = self.known;
        if view.rises(count.leave) {
            if self.inside > 0 {
                self.inside -= 1;
            } else if known_before {
                ways.push(Way::Below);
            }
        }
        if view.rises(count.enter) {
            self.inside = (self.inside + 1).min(65_535);
        }
        let must = view.bits(&count.when).must;
        if must && self.not_before {
            let confirmed = i64::from(count.confirmed);
            if known_before && self.inside != confirmed {
                ways.push(Way::Wrong);
            }
            self.inside = confirmed;
            self.known = true;
        }
        self.not_before = !must;
        if self.known && self.inside > i64::from(count.most) {
            ways.push(Way::Over);
        }
        ways
    }

    /// The number inside is no longer known.
    pub(super) fn forget(&mut self) {
        self.known = false;
    }
}
