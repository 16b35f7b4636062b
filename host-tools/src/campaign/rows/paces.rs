//! Speeds: limits of guards and modes, the top of a pace, sources and paces that do not agree, slow orders.

use super::super::calm::AFTERWARDS;
use super::super::script::{Act, Rate, spread};
use super::Plan;
use crate::station::{
    Agree, Backing, Condition, Guard, InputId, InputKind, Lasting, Measured, Mm, Pace, Scans, Slow, WatchKind,
};

impl Plan<'_> {
    /// A pace on both sides of a limit of at least so many mm in its span; `sign` is −1 for backward.
    pub(super) fn faster(&mut self, way: usize, mode: Option<usize>, pace: InputId, mm: Mm, sign: i64, borne: Scans) {
        let (Some(of), name) = (self.calm.pace(pace), self.named(pace).to_owned()) else { return };
        if sign < 0 && !of.signed {
            return self.skip(way, &format!("{name} does not tell its direction"));
        }
        let (outside, inside) = (self.pulses(mm).0, self.pulses(mm.saturating_sub(1)).1);
        let most = borne / of.span.max(1);
        let direction = if sign < 0 { " backwards" } else { "" };
        let words = |travel: Mm| format!("{name} runs {travel} mm{direction} in each span of {} scans", of.span);
        let rows = [(inside, borne / of.span.max(1) + 3, None), (outside, borne / of.span.max(1) + 3, Some(borne))];
        for (travel, spans, trips) in rows {
            let (mark, script) = self.at_speed(mode, of, sign * i64::from(travel), spans);
            match trips {
                Some(borne) => self.trips(way, words(travel), mark, mark + of.span - 1 + borne, script),
                None => self.quiet(way, format!("{}, just inside", words(travel)), mark, script),
            }
        }
        if most > 0 {
            let (mark, script) = self.at_speed(mode, of, sign * i64::from(outside), most);
            self.quiet(way, format!("{}, {most} of them", words(outside)), mark, script);
        }
    }
    fn at_speed(&self, mode: Option<usize>, pace: &Pace, mm: i64, spans: Scans) -> (Scans, super::Script) {
        let cruise = self.cruise(mode);
        let mut script = self.begin(mode, cruise);
        script.align(pace.span, cruise);
        let mark = script.now();
        script.spans(spans, pace.span, mm, self.calm.pulse);
        script.go(pace.span + AFTERWARDS, cruise);
        (mark, script)
    }
    /// A pace and its top, its second source, and its running contact.
    pub(super) fn over_top(&mut self, way: usize, input: usize, pace: &Pace) {
        let name = self.named(input).to_owned();
        let inside = self.pulses(pace.top).1;
        let outside = inside + self.calm.pulse;
        let (mark, script) = self.at_speed(None, pace, i64::from(inside), 2);
        self.quiet(way, format!("{name} runs {inside} mm in a span, its top"), mark, script);
        let (mark, script) = self.at_speed(None, pace, i64::from(outside), 2);
        self.trips(way, format!("{name} runs {outside} mm in a span"), mark, mark + pace.span - 1, script);
    }
    pub(super) fn unsure(&mut self, way: usize, input: usize, pace: &Pace) {
        let name = self.named(input).to_owned();
        match pace.backing {
            Backing::None => {}
            Backing::Source(second, within) => {
                let source = self.station.sources.get(second).cloned().unwrap_or_default();
                self.differ(way, None, (pace, &[second]), within, pace.fault_after, &format!("{name}: {source}"));
            }
            Backing::Running(_) => {
                // Standing, with the contact that says that the drive runs. The speed is known to be zero at the end of a span,
                // and the contact counts as closed for as long as it takes to settle.
                let (cruise, settles, borne) = (self.calm.cruise, self.running_settles(), pace.fault_after);
                for (scans, trips) in [(borne, false), (borne + 1, true)] {
                    let Some(shown) = scans.checked_sub(settles) else { continue };
                    let mut script = self.begin(None, cruise);
                    script.align(pace.span, cruise);
                    let mark = script.now();
                    let zero = mark + pace.span - 1;
                    script.go(pace.span - 1 + shown, 0);
                    self.drive(&mut script, false);
                    script.go(settles + AFTERWARDS, 0);
                    let words = format!("{name} gives no pulse while the drive runs, for {scans} scans");
                    self.row(way, words, mark, trips.then_some(zero + borne), script);
                }
            }
        }
    }
    fn running_settles(&self) -> Scans {
        let mut longest = 0;
        for channel in self.calm.running() {
            for input in &self.station.inputs {
                if let InputKind::Contact(contact) = &input.kind
                    && contact.channel == channel
                {
                    longest = longest.max(contact.settle.down);
                }
            }
        }
        longest
    }
    /// Sources that run less than the others, by as much as is borne and by a pulse more, and for as long as is borne.
    fn differ(
        &mut self,
        way: usize,
        mode: Option<usize>,
        (pace, slower): (&Pace, &[usize]),
        within: Mm,
        borne: Scans,
        who: &str,
    ) {
        let cruise = self.cruise(mode);
        let full = i64::from(cruise) * i64::from(pace.span);
        let inside = self.pulses(within).1;
        let outside = inside + self.calm.pulse;
        let spans = borne / pace.span.max(1);
        let rows = [(inside, spans + 3, false), (outside, spans + 3, true), (outside, spans, false)];
        for (less, spans, trips) in rows {
            if spans == 0 {
                continue;
            }
            let mut script = self.begin(mode, cruise);
            script.align(pace.span, cruise);
            let mark = script.now();
            let travel = spread(pace.span, full - i64::from(less), self.calm.pulse);
            for _ in 0..spans {
                for mm in &travel {
                    for source in slower {
                        script.apart.insert((script.now(), *source), *mm);
                    }
                    script.go(1, cruise);
                }
            }
            script.go(pace.span + AFTERWARDS, cruise);
            let words = format!("{who} runs {less} mm less than it should in each of {spans} spans");
            self.row(way, words, mark, trips.then_some(mark + pace.span - 1 + borne), script);
        }
    }
    pub(super) fn agree(&mut self, way: usize, mode: Option<usize>, agree: &Agree) {
        let [first, second] = agree.between;
        if let Some(pace) = self.calm.pace(second) {
            let mut sources = vec![pace.source];
            if let Backing::Source(other, _) = pace.backing {
                sources.push(other);
            }
            let name = self.named(second).to_owned();
            return self.differ(way, mode, (pace, &sources), agree.within, agree.apart, &name);
        }
        self.gauges_apart(way, mode, first, second, agree);
    }
    pub(super) fn modes_too_fast(&mut self, way: usize, mode: usize) {
        let limit = self.station.modes.get(mode).and_then(|mode| mode.at_most);
        if let Some((pace, mm)) = limit {
            self.faster(way, Some(mode), pace, mm + 1, 1, 0);
        }
    }
    /// The order that stretches ask for while they refill, which they do after a start, is not obeyed.
    fn refilling(&mut self, way: usize, order: &Slow) -> bool {
        let Some(pace) = self.calm.pace(order.pace) else { return false };
        let inside = self.pulses(order.down_to).1;
        let runs = self.station.watches.iter().map(|watch| match &watch.kind {
            WatchKind::Travel(travel) if matches!(travel.measured, Measured::Rope(_)) => travel.run,
            _ => 0,
        });
        let longest = u64::from(runs.max().unwrap_or(0)) * u64::from(pace.span);
        if longest < u64::from(inside + self.calm.pulse) * u64::from(order.within + 2 * pace.span) {
            return false;
        }
        for (travel, trips) in [(inside, false), (inside + self.calm.pulse, true)] {
            let rate = Rate::new(travel, pace.span, self.calm.pulse);
            let mut script = self.begin(None, rate);
            let mark = script.adopts.last().copied().unwrap_or(0);
            script.go(order.within + AFTERWARDS, rate);
            let words = format!(
                "stretches refill and ask for {}, and {} runs {travel} mm in a span",
                order.name.text,
                self.named(order.pace)
            );
            self.row(way, words, mark, trips.then_some(mark + order.within + 1), script);
        }
        true
    }
    /// A slow order that some guard on a gauge asks for is not obeyed.
    pub(super) fn slow(&mut self, way: usize, slow: usize) {
        let Some(order) = self.station.slows.get(slow) else { return };
        let rank = slow + 1;
        if rank == self.station.slows.len() && self.refilling(way, order) {
            return;
        }
        let asks = self.station.watches.iter().find_map(|watch| match &watch.kind {
            WatchKind::Guard(guard) if usize::from(guard.answer) == rank => {
                self.asks(guard).map(|act| (watch, guard, act))
            }
            _ => None,
        });
        let Some((watch, guard, act)) = asks else {
            return self.skip(way, "no guard on a gauge asks for this order; a stretch that refills may");
        };
        let Some(pace) = self.calm.pace(order.pace) else { return };
        let mode = watch.modes.first().copied();
        let (cap, within) = (order.down_to, order.within);
        let inside = self.pulses(cap).1;
        for (travel, trips) in [(inside, false), (inside + self.calm.pulse, true)] {
            // At this speed from the beginning, so that it is known in every scan.
            let rate = Rate::new(travel, pace.span, self.calm.pulse);
            let mut script = self.begin(mode, rate);
            let mark = script.now();
            script.set(act);
            let ordered = mark + Self::borne(guard.lasting);
            script.go(ordered + within + AFTERWARDS - mark, rate);
            let words = format!(
                "{} asks for {}, and {} runs {travel} mm in a span",
                watch.name.text,
                order.name.text,
                self.named(order.pace)
            );
            self.row(way, words, mark, trips.then_some(ordered + within + 1), script);
        }
    }
    /// What makes a guard on a gauge trip.
    fn asks(&self, guard: &Guard) -> Option<Act> {
        if !matches!(guard.lasting, Lasting::Unbroken(_)) {
            return None;
        }
        let mut found = None;
        super::super::calm::leaves(&guard.when, &mut |leaf| {
            if let Condition::AtLeast(id, step) = leaf
                && found.is_none()
                && self.calm.holds(&guard.when, Some(leaf))
                && let Some(gauge) = self.calm.gauge(*id)
            {
                let rests = self.calm.steps.get(gauge.terminal).copied().unwrap_or(0);
                let outside = if rests < *step { *step } else { step - 1 };
                found = super::Calm::current(gauge, outside).map(|current| Act::Current(gauge.terminal, current));
            }
        });
        found
    }
}
