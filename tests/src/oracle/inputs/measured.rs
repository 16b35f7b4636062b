//! Gauges, paces and links.

use host_tools::sample::{Health, Reading, Sample};
use host_tools::station::ways::Way;
use host_tools::station::{Backing, Gauge, Link, Pace, Rank};

use super::super::conditions::{Seen, View};
use super::super::timing::Hold;

/// A gauge.
#[derive(Debug, Clone, Default)]
pub(super) struct GaugeState {
    last: Option<Reading>,
}

impl GaugeState {
    pub(super) fn scan(&mut self, gauge: &Gauge, sample: &Sample, view: &View) -> Seen {
        let reading = sample.gauges[gauge.terminal];
        let good = reading.health == Health::Good;
        let mut ways = Vec::new();
        if reading.health == Health::Broken {
            ways.push(Way::Broken);
        }
        if reading.health == Health::Doubtful {
            ways.push(Way::Doubtful);
        }
        if let (Some(most), Some(last)) = (gauge.moves_at_most, self.last) {
            let both_good = good && last.health == Health::Good;
            if both_good && reading.steps.abs_diff(last.steps) > most {
                ways.push(Way::Leap);
            }
        }
        self.last = Some(reading);
        if let Some((detector, least, most)) = gauge.rests {
            let rests = good && reading.steps >= least && reading.steps <= most;
            if view.rises(detector) && !rests {
                ways.push(Way::Unrested);
            }
        }
        Seen { steps: good.then_some(i64::from(reading.steps)), faulty: !good, ways, ..Seen::default() }
    }
}

/// A pace.
#[derive(Debug, Clone, Default)]
pub(super) struct PaceState {
    /// Net travel of both sources in the current span.
    sums: [i64; 2],
    /// Net travel of the first source in the last whole span.
    speed: Option<i64>,
    /// The sources differed at the end of the last whole span.
    differing: bool,
    doubt: Hold,
}

impl PaceState {
    pub(super) fn scan(&mut self, pace: &Pace, scan: i64, sample: &Sample, view: &View) -> Seen {
        let (travel, over) = cut(pace, sample.travel[pace.source]);
        self.sums[0] += travel;
        if let Backing::Source(second, _) = pace.backing {
            self.sums[1] += cut(pace, sample.travel[second]).0;
        }
        let span = i64::from(pace.span);
        if scan % span == span - 1 {
            self.speed = Some(self.sums[0]);
            if let Backing::Source(_, allowed) = pace.backing {
                self.differing = (self.sums[0] - self.sums[1]).abs() > i64::from(allowed);
            }
            self.sums = [0, 0];
        }
        // The doubt looks at the published travel itself: were it hidden by the doubt, the doubt
        // would end itself.
        let doubtful = match pace.backing {
            Backing::None => false,
            Backing::Source(..) => self.differing,
            Backing::Running(contact) => view.inputs[contact].high.may && self.speed == Some(0),
        };
        let unsure = self.doubt.longer(doubtful, pace.fault_after);
        let over_top = over || self.speed.is_some_and(|speed| speed.abs() > i64::from(pace.top));
        let mut ways = Vec::new();
        if unsure {
            ways.push(Way::Unsure);
        }
        if over_top {
            ways.push(Way::OverTop);
        }
        Seen {
            travel,
            speed: if unsure { None } else { self.speed },
            still: i64::from(pace.still),
            faulty: unsure || over_top,
            ways,
            ..Seen::default()
        }
    }
}

/// Travel of a source in one scan, and whether it was cut at the greatest travel of a scan.
fn cut(pace: &Pace, raw: i32) -> (i64, bool) {
    let top = i64::from(pace.top_scan);
    let mut travel = i64::from(raw);
    if !pace.signed && travel < 0 {
        travel = 0;
    }
    (travel.clamp(-top, top), travel.abs() > top)
}

/// A link.
#[derive(Debug, Clone, Default)]
pub(super) struct LinkState {
    /// Scans without a fresh frame, this one included.
    without: Hold,
    /// Order of the last fresh frame; 0 is none.
    order: Rank,
}

impl LinkState {
    pub(super) fn scan(&mut self, link: &Link, worst: Rank, sample: &Sample) -> Seen {
        let frame = sample.links[link.terminal];
        let silent = self.without.longer(!frame.fresh, link.silent);
        if frame.fresh {
            self.order = frame.order.min(worst);
        }
        let mut ways = Vec::new();
        if silent {
            ways.push(Way::Silent);
        }
        if self.order > 0 {
            ways.push(Way::Ordered(self.order));
        }
        Seen { faulty: silent, ways, ..Seen::default() }
    }
}
