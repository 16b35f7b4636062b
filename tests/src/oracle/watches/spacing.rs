//! Two passings of one detector.

use host_tools::station::ways::Way;
use host_tools::station::{Measured, Spacing};

use super::super::conditions::View;

/// A spacing.
#[derive(Debug, Clone, Default)]
pub(crate) struct SpacingState {
    since: i64,
    armed: bool,
}

impl SpacingState {
    pub(super) fn scan(&mut self, spacing: &Spacing, view: &View) -> Vec<Way> {
        let cap = match spacing.most {
            Some(most) => i64::from(most) + 1,
            None => i64::from(spacing.least),
        };
        let mut rises = view.rises(spacing.detector);
        match spacing.measured {
            Measured::Rope(pace) => {
                self.since = (self.since + view.forward(pace)).min(cap);
                self.since = (self.since - view.backward(pace)).max(0);
                if rises && view.backward(pace) > 0 {
                    rises = false;
                    self.armed = false;
                }
            }
            Measured::Time { pace, least, most } => {
                self.since = (self.since + 1).min(cap);
                if !view.in_band(pace, least, most) {
                    self.armed = false;
                    return Vec::new();
                }
            }
        }
        let mut ways = Vec::new();
        if rises {
            if self.armed && self.since < i64::from(spacing.least) {
                ways.push(Way::Closer);
            }
            self.since = 0;
            self.armed = true;
        } else if let Some(most) = spacing.most
            && self.armed
            && self.since > i64::from(most)
        {
            ways.push(Way::Farther);
            self.armed = false;
        }
        ways
    }
}
