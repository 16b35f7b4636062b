//! Stops over the time of a recording, in a fixed number of bins that widen as it grows.

use super::super::draw::{Axis, WIDE, number, round};
use super::incident_id;
use maud::{Markup, html};

/// Bins of a picture; when they are full, two become one.
const MOST: usize = 480;
const LEFT: f64 = 190.0;
/// Room of an incident's number.
const MARK: f64 = 20.0;

/// What lies in a bin.
#[derive(Debug, Clone, Copy, Default)]
struct Bin {
    stops: u64,
    not_made: u64,
    scans: u64,
    judged: u64,
    stopped: u64,
}

impl Bin {
    fn and(self, other: Self) -> Self {
        Self {
            stops: self.stops + other.stops,
            not_made: self.not_made + other.not_made,
            scans: self.scans + other.scans,
            judged: self.judged + other.judged,
            stopped: self.stopped + other.stopped,
        }
    }
}

/// The bins.
#[derive(Debug)]
pub(super) struct Bins {
    all: Vec<Bin>,
    /// Time of one, microseconds.
    wide_us: u64,
    /// Time of the first scan.
    first_us: Option<u64>,
    /// Gaps and clock steps; what follows a clock that was set back lies where the time says.
    gaps: u64,
}

impl Bins {
    pub(super) fn new(scan_us: u64) -> Self {
        Self { all: Vec::new(), wide_us: scan_us.max(1) * 10, first_us: None, gaps: 0 }
    }
    /// Changes the bin of a time.
    fn at(&mut self, at_us: u64, change: impl FnOnce(&mut Bin)) {
        let since = at_us.saturating_sub(*self.first_us.get_or_insert(at_us));
        while since / self.wide_us >= MOST as u64 {
            self.all =
                self.all.chunks(2).map(|two| two.iter().fold(Bin::default(), |sum, bin| sum.and(*bin))).collect();
            self.wide_us = self.wide_us.saturating_mul(2);
        }
        let place = usize::try_from(since / self.wide_us).unwrap_or(0).min(MOST - 1);
        if self.all.len() <= place {
            self.all.resize(place + 1, Bin::default());
        }
        if let Some(bin) = self.all.get_mut(place) {
            change(bin);
        }
    }
    pub(super) fn stop(&mut self, at_us: u64) {
        self.at(at_us, |bin| bin.stops += 1);
    }
    pub(super) fn not_made(&mut self, at_us: u64) {
        self.at(at_us, |bin| bin.not_made += 1);
    }
    pub(super) fn gap(&mut self) {
        self.gaps += 1;
    }
    pub(super) fn scan(&mut self, at_us: u64, judged: bool, stopped: bool) {
        self.at(at_us, |bin| {
            bin.scans += 1;
            bin.judged += u64::from(judged);
            bin.stopped += u64::from(stopped);
        });
    }

    /// Stops as bars; below, the share of the time in which one stood, and in which nothing was judged; above, a mark that leads to each
    /// incident, by its time.
    #[expect(clippy::cast_precision_loss, reason = "counts and times stay far below two to the power of 53")]
    pub(super) fn picture(&self, incidents: &[u64]) -> Markup {
        let span = self.wide_us as f64 * self.all.len() as f64 / 1e6;
        let (unit, one) = if span > 200_000.0 {
            ("d", 86_400.0)
        } else if span > 7_200.0 {
            ("h", 3_600.0)
        } else {
            ("s", 1.0)
        };
        let axis = Axis::new(0.0, span / one, LEFT);
        let x = |bin: usize| axis.x(bin as f64 * self.wide_us as f64 / 1e6 / one);
        let most = self.all.iter().map(|bin| bin.stops).max().unwrap_or(0).max(1);
        let (stops, not_made) = self.all.iter().fold((0, 0), |(a, b), bin| (a + bin.stops, b + bin.not_made));
        let bins: Vec<(usize, &Bin)> = self.all.iter().enumerate().collect();
        let bar = |count: u64| round(90.0 * count as f64 / most as f64);
        let share = |part: u64, bin: &Bin| if bin.scans == 0 { 0.0 } else { part as f64 / bin.scans as f64 };
        let label = format!(
            "{stops} {} over {} {unit}, of which the recordings did not make {not_made}; the most in one bar are {most}",
            if stops == 1 { "stop" } else { "stops" },
            number(span / one)
        );
        html! {
            div.wide { svg viewBox={ "0 0 " (WIDE) " 216" } role="img" aria-label=(label) { (self.marks(&axis, one, incidents)) g transform="translate(0 20)" {
                (axis.grid(8.0, 170.0, unit))
                text x="0" y="30" { "stops, up to " (most) }
                text.soft x="0" y="46" { "dark: made as well" }
                text.soft x="0" y="60" { "white: not made" }
                text x="0" y="128" { "a stop stands" }
                text x="0" y="160" { "nothing is judged" }
                @for (i, bin) in bins {
                    // A little wider than it is, so that no seam shows.
                    @let wide = round((x(i + 1) - x(i)).max(0.8) + 0.3);
                    @if bin.stops > 0 {
                        @let made = bin.stops.saturating_sub(bin.not_made);
                        rect x=(x(i)) width=(wide.max(2.0)) y=(round(100.0 - bar(made))) height=(bar(made)) fill="#16191d" {}
                        @if bin.not_made > 0 {
                            rect x=(x(i)) width=(wide.max(2.0)) y=(round(100.0 - bar(bin.stops))) height=(bar(bin.not_made)) fill="#fff" stroke="#16191d" {}
                        }
                    }
                    @let stopped = share(bin.stopped, bin);
                    @if stopped > 0.0 { rect x=(x(i)) width=(wide) y=(round(136.0 - 22.0 * stopped)) height=(round(22.0 * stopped)) fill="#5b6670" {} }
                    @let dark = if bin.scans == 0 { 1.0 } else { 1.0 - share(bin.judged, bin) };
                    @if dark > 0.0 { rect x=(x(i)) width=(wide) y=(round(168.0 - 22.0 * dark)) height=(round(22.0 * dark)) fill="#8a9097" {} }
                }
                line x1=(LEFT) x2=(WIDE - 20.0) y1="100" y2="100" stroke="#16191d" {}
            } } }
            p.soft { @if !incidents.is_empty() { "Each number leads to the picture of that stop, the first of its kind. " } "Each bar is " (number(self.wide_us as f64 / 1e6)) " s. Nothing is judged in gaps, in the lead-in, and after a stop that the recording did not make."
                @if self.gaps > 0 { " There are " (self.gaps) " gaps or clock steps." } }
        }
    }
}

impl Bins {
    /// The number of each incident above its time, as a link to its picture; where they come close together they are moved apart.
    #[expect(clippy::cast_precision_loss, reason = "times stay far below two to the power of 53")]
    fn marks(&self, axis: &Axis, one: f64, incidents: &[u64]) -> Markup {
        let first_us = self.first_us.unwrap_or(0);
        let mut places: Vec<(usize, f64)> = incidents
            .iter()
            .enumerate()
            .map(|(at, us)| (at, axis.x(us.saturating_sub(first_us) as f64 / 1e6 / one)))
            .collect();
        places.sort_by(|a, b| a.1.total_cmp(&b.1));
        let mut texts: Vec<f64> = places.iter().map(|(_, x)| *x).collect();
        // From the right edge leftwards, then from left to right.
        let mut most = WIDE - MARK / 2.0;
        for x in texts.iter_mut().rev() {
            *x = x.min(most);
            most = *x - MARK;
        }
        let mut least = LEFT;
        for x in &mut texts {
            *x = x.max(least);
            least = *x + MARK;
        }
        let marks = places.into_iter().zip(texts);
        html! {
            @if !incidents.is_empty() { text x="0" y="14" { "pictures below" } }
            @for ((at, x), text) in marks {
                a href={ "#" (incident_id(at)) } { text x=(round(text)) y="14" text-anchor="middle" { (at + 1) } }
                line x1=(round(text)) y1="17" x2=(x) y2="26" stroke="#16191d" {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_lost_when_bins_widen() {
        let mut bins = Bins::new(10_000);
        for scan in 0..1_000_000_u64 {
            bins.scan(scan * 10_000, true, scan % 2 == 0);
            if scan % 1_000 == 0 {
                bins.stop(scan * 10_000);
            }
        }
        let sum = bins.all.iter().fold(Bin::default(), |sum, bin| sum.and(*bin));
        assert_eq!((sum.scans, sum.stopped, sum.stops), (1_000_000, 500_000, 1_000));
        assert!(bins.all.len() <= MOST && bins.all.len() > MOST / 4);
        let page = bins.picture(&[5_000_000, 5_000_001, 9_999_990_000]).into_string();
        assert!(page.len() < 200_000 && page.matches("#incident-").count() == 3);
    }
}
