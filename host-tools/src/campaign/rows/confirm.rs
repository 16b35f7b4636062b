//! The effect of a stop: it comes, comes too weakly, or never.

use super::super::calm::AFTERWARDS;
use super::super::script::Script;
use super::Plan;
use super::raise::Raise;
use crate::station::{Condition, Confirm, Mm, Scans};

impl Plan<'_> {
    pub(super) fn confirm(&mut self, way: usize, mode: Option<usize>, confirm: &Confirm) {
        let Some(raise) = self.raise_rank(confirm.after) else {
            let stop = self.station.answer(confirm.after).to_owned();
            return self.skip(way, &format!("no guard on a single input asks for {stop}"));
        };
        let within = confirm.within;
        if let Some((pace, by)) = confirm.slower {
            return self.slower(way, mode, (pace, by), &raise, within);
        }
        match &confirm.see {
            Condition::Not(part) => match &**part {
                Condition::Faster(pace, mm) => self.still_fast(way, mode, (*pace, *mm), &raise, within),
                Condition::High(input) => self.seen(way, mode, *input, &raise, within, &confirm.see),
                _ => self.skip(way, "what it waits for cannot be driven yet"),
            },
            Condition::High(input) => self.seen(way, mode, *input, &raise, within, &confirm.see),
            _ => self.skip(way, "what it waits for cannot be driven yet"),
        }
    }
    /// An input shows the effect in the last scan in which it may, and a scan later.
    fn seen(&mut self, way: usize, mode: Option<usize>, input: usize, raise: &Raise, within: Scans, see: &Condition) {
        if self.calm.holds(see, None) {
            return self.skip(way, "what it waits for is so at rest");
        }
        let Some(turn) = self.turns(input).into_iter().next() else {
            return self.skip(way, "what it waits for cannot be driven yet");
        };
        let cruise = self.cruise(mode);
        for (late, trips) in [(0, false), (1, true)] {
            let mut script = self.begin(mode, cruise);
            let mark = script.now();
            raise.begin(&mut script);
            // The scan in which the stop has been published for longer than that.
            let last = mark + raise.after + within + 1;
            for act in &turn.acts {
                script.at((last + late).saturating_sub(turn.there), *act);
            }
            script.go(last + late + AFTERWARDS - mark, cruise);
            let words = format!("{}, and {} {} scans after the stop", raise.what, turn.what, within + 1 + late);
            self.row(way, words, mark, trips.then_some(last), script);
        }
    }
    /// The rope comes down to a speed, or to one pulse in a span more.
    fn still_fast(&mut self, way: usize, mode: Option<usize>, (pace, mm): (usize, Mm), raise: &Raise, within: Scans) {
        let inside = self.pulses(mm.saturating_sub(1)).1;
        let outside = self.pulses(mm).0;
        for (travel, trips) in [(inside, false), (outside, true)] {
            self.comes_down(way, mode, pace, i64::from(travel), raise, within, trips);
        }
    }
    /// The rope slows by this much, or by one pulse in a span less.
    fn slower(&mut self, way: usize, mode: Option<usize>, (pace, by): (usize, Mm), raise: &Raise, within: Scans) {
        let Some(span) = self.calm.pace(pace).map(|pace| pace.span) else { return };
        let full = i64::from(self.cruise(mode)) * i64::from(span);
        let inside = full - i64::from(self.pulses(by).0);
        if inside < 0 {
            return self.skip(way, "the calm lift is slower than what it must slow by");
        }
        for (travel, trips) in [(inside, false), (inside + i64::from(self.calm.pulse), true)] {
            self.comes_down(way, mode, pace, travel, raise, within, trips);
        }
    }
    #[expect(clippy::too_many_arguments, reason = "a row is all of this")]
    fn comes_down(
        &mut self,
        way: usize,
        mode: Option<usize>,
        pace: usize,
        travel: i64,
        raise: &Raise,
        within: Scans,
        trips: bool,
    ) {
        let Some(of) = self.calm.pace(pace) else { return };
        let cruise = self.cruise(mode);
        let mut script: Script = self.begin(mode, cruise);
        let mark = script.now();
        raise.begin(&mut script);
        let last = mark + raise.after + within + 1;
        script.go(raise.after + 2, cruise);
        script.align(of.span, cruise);
        if script.now() + of.span > last {
            return self.skip(way, "the time that it waits is shorter than the span of its pace");
        }
        while script.now() < last + AFTERWARDS {
            script.spans(1, of.span, travel, self.calm.pulse);
        }
        let words = format!("{}, and {} then runs {travel} mm in a span", raise.what, self.named(pace));
        self.row(way, words, mark, trips.then_some(last), script);
    }
}
