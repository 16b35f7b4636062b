//! Distances that are assumed between two rises of a detector.

use host_tools::station::InputId;

use super::Past;

impl Past<'_> {
    /// The rise before this scan.
    fn rise_before(&self, scan: usize, detector: InputId) -> Option<usize> {
        (0..scan).rev().find(|&before| self.views[before].rises(detector))
    }

    /// Rises with one before, and those among them that follow too close: in rope.
    pub(super) fn rope_apart(&self, detector: InputId, pace: InputId, least: u32) -> (Vec<usize>, Vec<usize>) {
        let least = i64::from(least);
        let backwards = |scan: usize| self.views[scan].backward(pace) > 0;
        // A rise while the pace runs backwards is none, and nothing is known of the distance until the next one.
        let second = |&scan: &usize| {
            self.views[scan].rises(detector)
                && !backwards(scan)
                && self.rise_before(scan, detector).is_some_and(|first| !backwards(first))
        };
        let rises: Vec<usize> = self.scans().filter(second).collect();
        let closer = |&scan: &usize| {
            let first = self.rise_before(scan, detector).map_or(0, |first| first + 1);
            let since = (first..=scan).fold(0, |since: i64, scan| {
                let view = &self.views[scan];
                ((since + view.forward(pace)).min(least) - view.backward(pace)).max(0)
            });
            since < least
        };
        let close = rises.iter().copied().filter(closer).collect();
        (rises, close)
    }

    /// The same in scans.
    pub(super) fn scans_apart(&self, detector: InputId, least: u32) -> (Vec<usize>, Vec<usize>) {
        let second = |&scan: &usize| self.views[scan].rises(detector) && self.rise_before(scan, detector).is_some();
        let rises: Vec<usize> = self.scans().filter(second).collect();
        let closer =
            |&scan: &usize| self.rise_before(scan, detector).is_some_and(|first| scan - first < least as usize);
        let close = rises.iter().copied().filter(closer).collect();
        (rises, close)
    }
}
