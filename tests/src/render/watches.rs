//! Watches in words.

use host_tools::station::{
    Count, Every, Exercise, Guard, Lasting, Measure, Measured, Rank, Spacing, Travel, Watch, WatchKind, When,
};

use super::quantities::{Pen, Round, joined};

impl Pen<'_> {
    pub(super) fn answered(&self, rank: Rank) -> String {
        let what = if rank < self.station.first_stop() { "slow" } else { "stop" };
        format!("{what} {}", self.station.answer(rank))
    }

    pub(super) fn watch(&mut self, watch: &Watch) -> String {
        let mut text = format!("{} {}", watch.kind.word(), watch.name.text);
        if !watch.title.is_empty() {
            text += &format!(" \"{}\"", watch.title);
        }
        let mut clauses = Vec::new();
        if !watch.hazards.is_empty() {
            let hazards = watch.hazards.iter().map(|&i| self.station.hazards[i].name.text.as_str());
            clauses.push(format!("hazard {}", joined(hazards)));
        }
        if !watch.modes.is_empty() {
            clauses
                .push(format!("in {}", joined(watch.modes.iter().map(|&i| self.station.modes[i].name.text.as_str()))));
        }
        clauses.extend(match &watch.kind {
            WatchKind::Guard(guard) => self.guard(guard),
            WatchKind::Travel(travel) => self.travel(travel),
            WatchKind::Measure(measure) => self.measure(measure),
            WatchKind::Spacing(spacing) => self.spacing(spacing),
            WatchKind::Agree(agree) => {
                let [one, other] = agree.between;
                let within = match self.station.inputs[one].kind {
                    host_tools::station::InputKind::Pace(_) => self.speed(agree.within, one, Round::Down),
                    _ => self.movement(one, agree.within),
                };
                let answer = self.station.answer(agree.answer);
                let slow = if agree.answer < self.station.first_stop() { "slow " } else { "" };
                vec![
                    format!("{} and {} agree within {within}", self.input(one), self.input(other)),
                    format!("apart for at most {}", self.scans(agree.apart, Round::Down)),
                    format!("else {slow}{answer}"),
                ]
            }
            WatchKind::Confirm(confirm) => vec![
                format!("after {}", self.station.answer(confirm.after)),
                format!("see {}", self.effect(&confirm.see, confirm.slower)),
                format!("within {}", self.scans(confirm.within, Round::Down)),
                format!("else {}", self.station.answer(confirm.answer)),
            ],
            WatchKind::Exercise(exercise) => self.exercise(exercise),
            WatchKind::Count(count) => self.count(count),
        });
        self.rng.shuffle(&mut clauses);
        format!("{text}\n    {}", clauses.join("\n    "))
    }

    fn guard(&mut self, guard: &Guard) -> Vec<String> {
        let mut clauses = vec![format!("when {}", self.condition(&guard.when)), self.answered(guard.answer)];
        match guard.lasting {
            Lasting::Unbroken(0) => {}
            Lasting::Unbroken(scans) => clauses.push(format!("unbroken for {}", self.scans(scans, Round::Down))),
            Lasting::Total { of, within } => {
                // A total of the whole span must not be written longer than the span.
                let of = i64::from(of) * i64::from(self.station.scan_us);
                let (of, within) = (self.us(of), self.us(i64::from(within) * i64::from(self.station.scan_us)));
                clauses.push(format!("for {of} in all within {within}"));
            }
        }
        clauses
    }

    /// `V to V` of the band of a time.
    pub(super) fn band(&mut self, pace: usize, least: u32, most: u32) -> String {
        let (from, to) = (self.speed(least, pace, Round::Up), self.speed(most, pace, Round::Down));
        format!("with {} at {from} to {to} throughout", self.input(pace))
    }

    fn travel(&mut self, travel: &Travel) -> Vec<String> {
        let from_to = format!("from {} to {}", self.input(travel.from), self.input(travel.to));
        let scan = i64::from(self.station.scan_us);
        let takes = match travel.measured {
            Measured::Rope(pace) => {
                let narrow = super::scan_travel(self.station, pace);
                let high = travel.latest + narrow;
                // The run of a refill is the same length rounded up, and shows whether it was a whole one.
                assert_eq!(travel.run, high, "the run of a refill is the greatest rope");
                let (low, high) = (self.mm(travel.earliest - narrow, Round::Up), self.exact_mm(high));
                let mut text = format!("takes {low} to {high} of {}", self.input(pace));
                if let Some(backstop) = travel.backstop {
                    let most = self.scans(backstop, Round::Down);
                    text += &format!(", and at most {most} while {} runs", self.input(pace));
                }
                text
            }
            Measured::Time { pace, least, most } => {
                let (low, high) = (self.scans(travel.earliest - 1, Round::Up), i64::from(travel.latest + 1) * scan);
                let (high, from) = (self.us(high), self.speed(least, pace, Round::Up));
                let to = self.nm_a_second(super::band_top(self.station, pace, most));
                format!("takes {low} to {high}, with {} at {from} to {to} throughout", self.input(pace))
            }
        };
        let carriers = if travel.capacity == 1 { "carrier" } else { "carriers" };
        let answer = |rank| self.station.answer(rank);
        let mut text = vec![from_to, takes, format!("up to {} {carriers} under way", travel.capacity)];
        text.push(format!("early {}, late {}", answer(travel.early), answer(travel.late)));
        text.push(format!("stray {}, crowded {}", answer(travel.stray), answer(travel.crowded)));
        if travel.backwards != self.station.on_fault || self.rng.chance(50) {
            text.push(format!("backwards {}", self.station.answer(travel.backwards)));
        }
        text
    }

    fn measure(&mut self, measure: &Measure) -> Vec<String> {
        let detector = self.input(measure.detector);
        let when = match measure.when {
            When::Rise => format!("when {detector} rises"),
            When::Scans(scans) => format!("throughout the {} after {detector} rises", self.scans(scans, Round::Up)),
            When::Rope(pace, mm) => {
                let length = self.mm(mm, Round::Up);
                format!("throughout the {length} of {} after {detector} rises", self.input(pace))
            }
        };
        let least = self.steps(measure.gauge, i64::from(measure.least), Round::Up);
        let most = self.steps(measure.gauge, i64::from(measure.most), Round::Down);
        let stays = format!("{} stays between {least} and {most}", self.input(measure.gauge));
        vec![when, stays, format!("else {}", self.station.answer(measure.answer))]
    }

    fn spacing(&mut self, spacing: &Spacing) -> Vec<String> {
        let mut text = format!("{} rises at least ", self.input(spacing.detector));
        match spacing.measured {
            Measured::Rope(pace) => {
                let (name, narrow) = (self.input(pace), super::scan_travel(self.station, pace));
                text += &format!("{} of {name} apart", self.mm(spacing.least - narrow, Round::Up));
                if let Some(most) = spacing.most {
                    text += &format!(" and at most {} of {name} apart", self.mm(most + narrow, Round::Down));
                }
            }
            Measured::Time { pace, least, most } => {
                text += &format!("{} apart", self.scans(spacing.least - 1, Round::Up));
                if let Some(most) = spacing.most {
                    text += &format!(" and at most {} apart", self.scans(most + 1, Round::Down));
                }
                text += &format!(", {}", self.band(pace, least, most));
            }
        }
        let closer = format!("closer {}", self.station.answer(spacing.closer));
        let farther = spacing.most.map(|_| format!("farther {}", self.station.answer(spacing.farther)));
        [Some(text), Some(closer), farther].into_iter().flatten().collect()
    }

    fn exercise(&mut self, exercise: &Exercise) -> Vec<String> {
        let every = match exercise.every {
            Every::Carrier(detector) => format!("with every carrier at {}", self.input(detector)),
            Every::Rope(pace, mm) => format!("every {} of {}", self.mm(mm, Round::Down), self.input(pace)),
            Every::Scans(scans) => format!("every {}", self.scans(scans, Round::Down)),
        };
        let changes = format!("{} changes {every}", self.input(exercise.input));
        vec![changes, format!("else {}", self.station.answer(exercise.answer))]
    }

    fn count(&mut self, count: &Count) -> Vec<String> {
        let carriers = if count.most == 1 { "carrier" } else { "carriers" };
        let when = self.condition(&count.when);
        let answer = |rank| self.station.answer(rank);
        vec![
            format!("in by {}, out by {}", self.input(count.enter), self.input(count.leave)),
            format!("at most {} {carriers}", count.most),
            format!("is {} when {when}", count.confirmed),
            format!("over {}, below {}, wrong {}", answer(count.over), answer(count.below), answer(count.wrong)),
        ]
    }
}
