//! Watches on something that lasts: guard, agree, confirm.

use host_tools::station::ways::Way;
use host_tools::station::{Agree, Confirm, Guard, InputKind, Lasting, Station};

use super::super::conditions::View;
use super::super::timing::Hold;
use super::tripped;

/// A guard.
#[derive(Debug, Clone, Default)]
pub(crate) struct GuardState {
    hold: Hold,
    /// Scans in the current span.
    current: i64,
    /// Scans in the span before it.
    preceding: i64,
}

impl GuardState {
    pub(super) fn scan(&mut self, guard: &Guard, scan: i64, view: &View) -> Vec<Way> {
        let may = view.bits(&guard.when).may;
        match guard.lasting {
            Lasting::Unbroken(n) => tripped(self.hold.longer(may, n)),
            Lasting::Total { of, within } => {
                if scan > 0 && scan % i64::from(within) == 0 {
                    self.preceding = self.current;
                    self.current = 0;
                }
                if may {
                    self.current += 1;
                }
                let sum = self.current + self.preceding;
                tripped(sum > i64::from(of) || (sum == i64::from(of) && of != 0))
            }
        }
    }
}

/// Two that must agree.
#[derive(Debug, Clone, Default)]
pub(crate) struct AgreeState {
    hold: Hold,
}

impl AgreeState {
    pub(super) fn scan(&mut self, station: &Station, agree: &Agree, view: &View) -> Vec<Way> {
        // Gauges are compared by value: step 0 of each stands for its own `lowest`.
        let value = |input: usize| match &station.inputs[input].kind {
            InputKind::Gauge(gauge) => view.inputs[input].steps.map(|steps| gauge.lowest + steps),
            _ => view.inputs[input].speed,
        };
        let may_differ = match (value(agree.between[0]), value(agree.between[1])) {
            (Some(one), Some(other)) => (one - other).abs() > i64::from(agree.within),
            _ => true,
        };
        tripped(self.hold.longer(may_differ, agree.apart))
    }
}

/// The effect of a stop.
#[derive(Debug, Clone, Default)]
pub(crate) struct ConfirmState {
    hold: Hold,
    stood: bool,
    /// Speed in the first scan of the stop, if it was known.
    before: Option<i64>,
    seen: bool,
}

impl ConfirmState {
    pub(super) fn scan(&mut self, confirm: &Confirm, published: bool, view: &View) -> Vec<Way> {
        let too_long = self.hold.longer(published, confirm.within);
        let came = published && !self.stood;
        self.stood = published;
        if !published {
            self.seen = false;
            return Vec::new();
        }
        if view.bits(&confirm.see).must {
            self.seen = true;
        }
        if let Some((pace, drop)) = confirm.slower {
            let now = view.inputs[pace].speed.map(i64::abs);
            if came {
                self.before = now;
            }
            if let (Some(before), Some(now)) = (self.before, now)
                && before - now >= i64::from(drop)
            {
                self.seen = true;
            }
        }
        tripped(!self.seen && too_long)
    }
}
