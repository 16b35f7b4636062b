//! Watches: windows, holds and answers.

use super::conditions::Standing;
use super::context::Cx;
use super::inputs::name;
use super::names::Sort;
use super::units::{Side, text};
use crate::station::{
    Agree, Condition, Confirm, Count, Every, Exercise, Guard, InputId, Lasting, Measure, Measured, Mm, Rank, Spacing,
    Travel, Watch, WatchKind, When,
};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Place;
use crate::text::tree::{self, Answer, Dimension, Quantity, Window, Word};

/// How a window is narrowed beyond rounding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Narrow {
    /// By one scan: the rules'.
    Scan,
    /// Not: a requirement's.
    Nothing,
}

/// A resolved window.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bounds {
    pub(super) measured: Measured,
    pub(super) least: u32,
    pub(super) most: Option<u32>,
}

impl Cx {
    /// Both bounds rounded inwards and narrowed.
    pub(super) fn window(&mut self, window: &Window, narrow: Narrow) -> Option<Bounds> {
        let (least, most, measured, by) = match window {
            Window::Rope(low, high, pace) => {
                let pace = self.one(pace, Sort::Pace);
                let low = self.mm(low, Side::Least);
                let high = self.optional(high.as_ref(), |cx, q| cx.mm(q, Side::Greatest));
                let pace = pace?;
                (low?, high?, Measured::Rope(pace), self.paces.get(&pace)?.scan_travel)
            }
            Window::Time(low, high, pace, from, to) => {
                let pace = self.one(pace, Sort::Pace);
                let low = self.scans(low, Side::Least);
                let high = self.optional(high.as_ref(), |cx, q| cx.scans(q, Side::Greatest));
                let measured = self.band(pace?, from, to);
                (low?, high?, measured?, 1)
            }
        };
        let (low, high) = match window {
            Window::Rope(low, high, _) | Window::Time(low, high, ..) => (low, high.as_ref()),
        };
        let by = if narrow == Narrow::Scan { by } else { 0 };
        let narrowed = self.fit(i128::from(least) + i128::from(by), low)?;
        let Some((high, most)) = high.zip(most) else { return Some(Bounds { measured, least: narrowed, most: None }) };
        self.ordered(low, high)?;
        let Some(top) = most.checked_sub(by).filter(|top| *top >= narrowed) else {
            let unit = if matches!(measured, Measured::Rope(_)) { "mm" } else { "scans" };
            let why = format!("{least} to {most} {unit}, less {by} at either end for the scan, leaves nothing");
            self.empty(low.place, high.place, &text(low), &text(high), &why);
            return None;
        };
        Some(Bounds { measured, least: narrowed, most: Some(top) })
    }
    /// A quantity that may be left out.
    pub(super) fn optional<T>(
        &mut self,
        q: Option<&Quantity>,
        read: impl FnOnce(&mut Self, &Quantity) -> Option<T>,
    ) -> Option<Option<T>> {
        match q {
            Some(q) => read(self, q).map(Some),
            None => Some(None),
        }
    }
    fn band(&mut self, pace: InputId, from: &Quantity, to: &Quantity) -> Option<Measured> {
        let (least, most) = (self.in_span(from, pace, Side::Least), self.in_span(to, pace, Side::Greatest));
        let (least, most) = (least?, most?);
        self.ordered(from, to)?;
        if least > most {
            self.empty(
                from.place,
                to.place,
                &text(from),
                &text(to),
                "no whole millimetre of travel in the pace's span lies between them",
            );
            return None;
        }
        Some(Measured::Time { pace, least, most })
    }
    /// A stop or a slow order, as the answer says.
    pub(super) fn answer(&mut self, answer: &Answer) -> Option<Rank> {
        match answer {
            Answer::Stop(word) => self.stop(word),
            Answer::Slow(word) => self.slow(word),
        }
    }
    /// A watch.
    pub(super) fn watch(&mut self, w: &tree::Watch) -> Option<Watch> {
        let hazards = self.many(&w.hazards, &[Sort::Hazard]);
        let modes = self.many(&w.modes, &[Sort::Mode]);
        let kind = self.watch_kind(&w.kind, w.name.place);
        let title = w.title.as_ref().map_or_else(String::new, |title| title.value.clone());
        Some(Watch { name: name(&w.name), title, hazards: hazards?, modes: modes?, kind: kind? })
    }
    fn watch_kind(&mut self, kind: &tree::WatchKind, place: Place) -> Option<WatchKind> {
        use tree::WatchKind as T;
        match kind {
            T::Guard { when, lasting, answer } => {
                let when = self.condition(when, Standing::Rule);
                let lasting = self.lasting(lasting.as_ref());
                let answer = self.answer(answer);
                Some(WatchKind::Guard(Guard { when: when?, lasting: lasting?, answer: answer? }))
            }
            T::Travel { .. } => self.travel_watch(kind, place).map(WatchKind::Travel),
            T::Measure { when, gauge, between, otherwise } => {
                let when = self.when(when, Side::Judged);
                let gauge = self.one(gauge, Sort::Gauge);
                let bounds = gauge.and_then(|gauge| self.bounds(&between.0, &between.1, gauge));
                let answer = self.stop(otherwise);
                let ((detector, when), (least, most)) = (when?, bounds?);
                Some(WatchKind::Measure(Measure { detector, when, gauge: gauge?, least, most, answer: answer? }))
            }
            T::Spacing { detector, apart, closer, farther } => {
                let detector = self.one(detector, Sort::Detector);
                let bounds = self.window(apart, Narrow::Scan);
                let closer = self.stop(closer);
                let (Window::Rope(_, upper, _) | Window::Time(_, upper, ..)) = apart;
                let farther = match (upper, farther) {
                    (Some(upper), None) => {
                        self.missing(
                            upper.place,
                            "a spacing with a greatest distance has no 'farther' answer",
                            "add 'farther STOP'",
                        );
                        None
                    }
                    (None, Some(word)) => {
                        self.idle(
                            word.place,
                            "'farther' is said of a spacing without a greatest distance",
                            "add 'and at most ... apart', or leave it out",
                        );
                        None
                    }
                    (Some(_), Some(word)) => self.stop(word),
                    (None, None) => Some(self.on_fault),
                };
                let bounds = bounds?;
                Some(WatchKind::Spacing(Spacing {
                    detector: detector?,
                    measured: bounds.measured,
                    least: bounds.least,
                    most: bounds.most,
                    closer: closer?,
                    farther: farther?,
                }))
            }
            T::Agree { between, within, apart, otherwise } => {
                let agreed = self.apart(&between.0, &between.1, within);
                let apart = self.scans(apart, Side::Trip);
                let answer = self.answer(otherwise);
                Some(WatchKind::Agree({
                    let (between, within) = agreed?;
                    Agree { between, within, apart: apart?, answer: answer? }
                }))
            }
            T::Confirm { after, see, within, otherwise } => {
                let after = self.stop(after);
                let effect = self.effect(see, Standing::Rule);
                let within = self.scans(within, Side::Trip);
                let answer = self.stop(otherwise);
                let (see, slower) = effect?;
                Some(WatchKind::Confirm(Confirm { after: after?, see, slower, within: within?, answer: answer? }))
            }
            T::Exercise { input, every, otherwise } => {
                let input = self.find(input, &[Sort::Contact, Sort::Pair, Sort::Detector, Sort::Key]);
                let every = match every {
                    tree::Every::Carrier(detector) => self.one(detector, Sort::Detector).map(Every::Carrier),
                    tree::Every::Rope(length, pace) => {
                        self.rope(length, pace, Side::Trip).map(|(pace, mm)| Every::Rope(pace, mm))
                    }
                    tree::Every::Time(time) => self.scans(time, Side::Trip).map(Every::Scans),
                };
                let answer = self.stop(otherwise);
                Some(WatchKind::Exercise(Exercise { input: input?.1, every: every?, answer: answer? }))
            }
            T::Count { enter, leave, most, confirmed, over, below, wrong } => {
                let (enter, leave) = (self.one(enter, Sort::Detector), self.one(leave, Sort::Detector));
                let most = self.count(most, 0, 65_534, "carriers");
                let sure = self.count(&confirmed.0, 0, 65_534, "carriers");
                let when = self.condition(&confirmed.1, Standing::Rule);
                let [over, below, wrong] = [over, below, wrong].map(|word| self.stop(word));
                Some(WatchKind::Count(Count {
                    enter: enter?,
                    leave: leave?,
                    most: most?,
                    confirmed: sure?,
                    when: when?,
                    over: over?,
                    below: below?,
                    wrong: wrong?,
                }))
            }
        }
    }
    fn lasting(&mut self, lasting: Option<&tree::Lasting>) -> Option<Lasting> {
        match lasting {
            None => Some(Lasting::Unbroken(0)),
            Some(tree::Lasting::Unbroken(time)) => self.scans(time, Side::Trip).map(Lasting::Unbroken),
            Some(tree::Lasting::Total(of, within)) => {
                let (total, span) = (self.scans(of, Side::Trip), self.total_span(within));
                let (total, span) = (total?, span?);
                self.ordered(of, within)?;
                Some(Lasting::Total { of: total, within: span })
            }
        }
    }
    /// The span of a total: a longer one collects more, so it is rounded up.
    fn total_span(&mut self, within: &Quantity) -> Option<u32> {
        self.positive(within, Dimension::Time)?;
        self.scans(within, Side::Judged)
    }
    fn travel_watch(&mut self, kind: &tree::WatchKind, place: Place) -> Option<Travel> {
        let tree::WatchKind::Travel { from, to, takes, backstop, capacity, early, late, stray, crowded, backwards } =
            kind
        else {
            return None;
        };
        let (from, to) = (self.one(from, Sort::Detector), self.one(to, Sort::Detector));
        let bounds = self.window(takes, Narrow::Scan);
        let run = self.run(takes, place);
        let backstop = match backstop {
            None => Some(None),
            Some((time, pace)) => self.backstop(time, pace, takes).map(Some),
        };
        let capacity = self.count(capacity, 1, 64, "carriers under way");
        let on_fault = self.on_fault;
        let [early, late, stray, crowded] = [early, late, stray, crowded].map(|word| self.stop(word));
        let backwards = backwards.as_ref().map_or(Some(on_fault), |word| self.stop(word));
        let bounds = bounds?;
        Some(Travel {
            from: from?,
            to: to?,
            measured: bounds.measured,
            earliest: bounds.least,
            latest: bounds.most?,
            backstop: backstop?,
            run: run?,
            capacity: capacity?,
            early: early?,
            late: late?,
            stray: stray?,
            crowded: crowded?,
            backwards: backwards?,
        })
    }
    fn backstop(&mut self, time: &Quantity, pace: &Word, takes: &Window) -> Option<u32> {
        let (Window::Rope(_, _, own) | Window::Time(_, _, own, ..)) = takes;
        let scans = self.scans(time, Side::Trip);
        self.one(pace, Sort::Pace)?;
        if own.value != pace.value {
            let finding = Finding::new(
                Code::NameKind,
                format!("the time limit speaks of '{}', the travel of '{}'", pace.value, own.value),
            )
            .at(pace.place, "another pace")
            .at(own.place, "the travel's pace")
            .help(format!("write 'while {} runs'", own.value));
            self.findings.push(finding);
            return None;
        }
        scans
    }
    /// Rope after which a refill ends: the longest way a carrier can still have before it.
    fn run(&mut self, takes: &Window, place: Place) -> Option<Mm> {
        let run = match takes {
            Window::Rope(_, Some(high), _) => {
                let exact = self.positive(high, Dimension::Length)?;
                let mm = exact.over(super::exact::Exact::whole(1_000));
                let mm = self.held(mm, high)?;
                self.fit(mm.ceil(), high)?
            }
            Window::Time(_, Some(high), _, _, top) => {
                let (time, speed) = (self.positive(high, Dimension::Time), self.positive(top, Dimension::Speed));
                let rope =
                    time?.times(speed?).and_then(|product| product.over(super::exact::Exact::whole(1_000_000_000)));
                let rope = self.held(rope, high)?;
                self.fit(rope.ceil(), high)?
            }
            Window::Rope(_, None, _) | Window::Time(_, None, ..) => {
                self.missing(
                    place,
                    "a travel has no greatest length or time",
                    "write both bounds: 'takes X to X of PACE'",
                );
                return None;
            }
        };
        Some(run)
    }
    /// A window behind a rise, rounded to a side.
    pub(super) fn when(&mut self, when: &tree::When, side: Side) -> Option<(InputId, When)> {
        match when {
            tree::When::Rise(detector) => self.one(detector, Sort::Detector).map(|d| (d, When::Rise)),
            tree::When::Time(time, detector) => {
                let (scans, detector) = (self.scans(time, side), self.one(detector, Sort::Detector));
                Some((detector?, When::Scans(scans?)))
            }
            tree::When::Rope(length, pace, detector) => {
                let (rope, detector) = (self.rope(length, pace, side), self.one(detector, Sort::Detector));
                let (pace, mm) = rope?;
                Some((detector?, When::Rope(pace, mm)))
            }
        }
    }
    /// What must be seen of a stop: a condition, or a pace and by how much it has slowed.
    pub(super) fn effect(
        &mut self,
        see: &tree::Effect,
        standing: Standing,
    ) -> Option<(Condition, Option<(InputId, Mm)>)> {
        match see {
            tree::Effect::Holds(condition) => self.condition(condition, standing).map(|see| (see, None)),
            tree::Effect::Slower(pace, drop) => self.slower(pace, drop),
        }
    }
    /// A fall of a pace's speed, or its standstill, which is what it falls to at the most.
    fn slower(&mut self, pace: &Word, drop: &Quantity) -> Option<(Condition, Option<(InputId, Mm)>)> {
        let pace = self.one(pace, Sort::Pace)?;
        let drop = self.in_span(drop, pace, Side::Permission)?;
        let still = Condition::Not(Box::new(self.moving(pace)?));
        Some((still, Some((pace, drop))))
    }
    /// Two paces, or gauges, and by how much they may differ: mm in their span, or steps.
    pub(super) fn apart(&mut self, one: &Word, other: &Word, within: &Quantity) -> Option<([InputId; 2], u32)> {
        let (sort, between) = self.alike(one, other)?;
        let [first, _] = between;
        if sort == Sort::Pace {
            return Some((between, self.in_span(within, first, Side::Trip)?));
        }
        self.natural(within, within.unit.dimension())?;
        let steps = self.steps_from_zero(within, first, Side::Trip)?;
        Some((between, self.fit(steps, within)?))
    }
    /// Two paces of one span, or two gauges of one scale.
    fn alike(&mut self, one: &Word, other: &Word) -> Option<(Sort, [InputId; 2])> {
        let first = self.find(one, &[Sort::Pace, Sort::Gauge]);
        let fits: &[Sort] = match first {
            Some((Sort::Pace, _)) => &[Sort::Pace],
            Some(_) => &[Sort::Gauge],
            None => &[Sort::Pace, Sort::Gauge],
        };
        let second = self.find(other, fits);
        let ((sort, x), (_, y)) = (first?, second?);
        let why = if x == y {
            Some("they are one and the same".to_owned())
        } else if sort == Sort::Pace {
            let (p, q) = (self.paces.get(&x)?, self.paces.get(&y)?);
            (p.span != q.span).then(|| format!("their speeds are taken over {} and {} scans", p.span, q.span))
        } else {
            let (p, q) = (self.gauges.get(&x)?, self.gauges.get(&y)?);
            if p.unit != q.unit {
                Some(format!("their units are {} and {}", p.unit, q.unit))
            } else if p.step != q.step {
                Some(format!("their steps are {} and {}", p.step_text, q.step_text))
            } else {
                None
            }
        };
        if let Some(why) = why {
            let finding = Finding::new(
                Code::PairUnlike,
                format!("'{}' and '{}' cannot be compared: {why}", one.value, other.value),
            )
            .at(other.place, "second")
            .at(one.place, "first")
            .help("declare both alike");
            self.findings.push(finding);
            return None;
        }
        Some((sort, [x, y]))
    }
}
