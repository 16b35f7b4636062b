//! The lane as a run: how much rope passes until a carrier has come to a place.
//!
//! In a stretch the square of a carrier's share of the rope speed is linear in the place. Told in
//! rope instead of time that is a constant acceleration, so both ways between place and run are
//! closed forms, and no speed of the rope enters.

use crate::station::{InputId, Lane};

/// Share below which a carrier would never get through.
const LEAST: f64 = 0.001;

#[derive(Debug, Clone)]
struct Piece {
    from: f64,
    to: f64,
    /// Shares at both ends.
    share: (f64, f64),
    /// Runs at both ends.
    run: (f64, f64),
    pace: Option<InputId>,
}

impl Piece {
    /// Change of the squared share a millimetre.
    fn slope(&self) -> f64 {
        let length = (self.to - self.from).max(1e-9);
        (self.share.1 * self.share.1 - self.share.0 * self.share.0) / length
    }
    fn run_to(&self, place: f64) -> f64 {
        let way = place - self.from;
        let here = (self.share.0 * self.share.0 + self.slope() * way).max(0.0).sqrt();
        self.run.0 + 2.0 * way / (self.share.0 + here)
    }
    fn place_at(&self, run: f64) -> f64 {
        let gone = run - self.run.0;
        let here = self.share.0 + self.slope() / 2.0 * gone;
        self.from + gone * (self.share.0 + here) / 2.0
    }
}

/// The lane in places (mm of lane) and runs (mm of rope).
#[derive(Debug, Clone, Default)]
pub(crate) struct Course {
    pieces: Vec<Piece>,
}

impl Course {
    /// Works out the runs of a lane.
    pub(crate) fn new(lane: &Lane) -> Self {
        let mut run = 0.0;
        let mut pieces = Vec::with_capacity(lane.stretches.len());
        for stretch in &lane.stretches {
            let share = |millionths: u32| (f64::from(millionths) / 1e6).max(LEAST);
            let share = (share(stretch.share.0), share(stretch.share.1));
            let (from, to) = (f64::from(stretch.from), f64::from(stretch.to));
            let start = run;
            run += 2.0 * (to - from) / (share.0 + share.1);
            pieces.push(Piece { from, to, share, run: (start, run), pace: stretch.driven_by });
        }
        Self { pieces }
    }
    /// Rope that passes until a carrier's front is at `place`; beyond the ends it goes on as there.
    pub(crate) fn run_to(&self, place: f64) -> f64 {
        let (Some(first), Some(last)) = (self.pieces.first(), self.pieces.last()) else {
            return place;
        };
        if place < first.from {
            return (place - first.from) / first.share.0;
        }
        match self.pieces.iter().find(|p| place < p.to) {
            Some(piece) => piece.run_to(place),
            None => last.run.1 + (place - last.to) / last.share.1,
        }
    }
    /// Where a carrier's front is after so much rope.
    pub(crate) fn place_at(&self, run: f64) -> f64 {
        let (Some(first), Some(last)) = (self.pieces.first(), self.pieces.last()) else {
            return run;
        };
        if run < 0.0 {
            return first.from + run * first.share.0;
        }
        match self.pieces.iter().find(|p| run < p.run.1) {
            Some(piece) => piece.place_at(run),
            None => last.to + (run - last.run.1) * last.share.1,
        }
    }
    /// Share of the rope speed that a carrier has after so much rope.
    pub(crate) fn share_after(&self, run: f64) -> f64 {
        let (Some(first), Some(last)) = (self.pieces.first(), self.pieces.last()) else {
            return 1.0;
        };
        if run < 0.0 {
            return first.share.0;
        }
        match self.pieces.iter().find(|p| run < p.run.1) {
            // The square of the share is linear in the place, so that the share is linear in the run.
            Some(piece) => piece.share.0 + piece.slope() / 2.0 * (run - piece.run.0),
            None => last.share.1,
        }
    }
    /// Runs at the ends of the stretches.
    pub(crate) fn ends(&self) -> Vec<f64> {
        self.pieces.iter().flat_map(|piece| [piece.run.0, piece.run.1]).collect()
    }
    /// Least share anywhere.
    pub(crate) fn slowest(&self) -> f64 {
        self.pieces.iter().fold(1.0, |least: f64, p| least.min(p.share.0).min(p.share.1))
    }
    /// The conveyor that drives a carrier after so much rope.
    pub(crate) fn pace_at(&self, run: f64) -> Option<InputId> {
        self.pieces.iter().find(|p| run >= p.run.0 && run < p.run.1).and_then(|p| p.pace)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::tests::tiny_station;

    #[test]
    fn places_and_runs_are_inverse() {
        let course = Course::new(tiny_station().lane.as_ref().unwrap());
        for mm in -2_000..14_000 {
            let place = f64::from(mm);
            assert!((course.place_at(course.run_to(place)) - place).abs() < 1e-6, "{mm}");
        }
    }

    #[test]
    fn slowing_has_constant_deceleration() {
        // Source: arithmetic on a usual station, recomputed: 5.0 to 1.3 m/s in 11.655 m takes
        // 3.7 s, so with the rope at 5.0 m/s it takes 18.5 m of rope.
        let mut lane = tiny_station().lane.unwrap();
        lane.stretches.truncate(1);
        let stretch = lane.stretches.first_mut().unwrap();
        (stretch.from, stretch.to, stretch.share) = (0, 11_655, (1_000_000, 260_000));
        let course = Course::new(&lane);
        assert!((course.run_to(11_655.0) - 18_500.0).abs() < 1e-6);
        // After half the time the speed is half way, 3.15 m/s: (5.0² - 3.15²) / 2 = 7.53875 m.
        assert!((course.place_at(9_250.0) - 7_538.75).abs() < 1e-6);
    }
}
