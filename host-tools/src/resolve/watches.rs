//! Watches.

use super::Resolver;
use super::names::named;
use super::units::{Side, divide, exact};
use crate::station::{
    Agree, Confirm, Count, Every, Exercise, Guard, InputId, InputKind, Lasting, Measure, Measured, Spacing, Travel,
    Watch, WatchKind, When,
};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Place;
use crate::text::tree::{self, Dimension, Kind, Quantity, Window};

/// A window in its unit.
pub(super) struct Bounds {
    pub(super) measured: Measured,
    pub(super) least: u32,
    pub(super) most: Option<u32>,
}

impl Resolver<'_> {
    /// Every watch. One that cannot be resolved leaves a place, so that indices stay right.
    pub(super) fn watches(&mut self) {
        for statement in self.statements.clone() {
            let Kind::Watch(w) = &statement.kind else { continue };
            let (hazards, modes) = (self.hazards(&w.hazards), self.modes(&w.modes));
            let kind = self.watch_kind(w, statement.place);
            let blank = WatchKind::Guard(Guard {
                when: crate::station::Condition::Any(Vec::new()),
                lasting: Lasting::Unbroken(0),
                answer: 0,
            });
            let title = w.title.as_ref().map_or_else(String::new, |t| t.value.clone());
            self.station.watches.push(Watch {
                name: named(&w.name),
                title,
                hazards,
                modes,
                kind: kind.unwrap_or(blank),
            });
        }
    }

    fn watch_kind(&mut self, w: &tree::Watch, place: Place) -> Option<WatchKind> {
        match &w.kind {
            tree::WatchKind::Guard { when, lasting, answer } => {
                let (when, answer) = (self.rule_condition(when), self.answer(answer));
                let lasting = match lasting {
                    None => Some(Lasting::Unbroken(0)),
                    Some(tree::Lasting::Unbroken(time)) => self.scans(time, Side::Down).map(Lasting::Unbroken),
                    Some(tree::Lasting::Total(of, within)) => {
                        let (of, within) = (self.scans(of, Side::Down), self.scans(within, Side::Up));
                        of.zip(within).map(|(of, within)| Lasting::Total { of, within: within.max(1) })
                    }
                };
                Some(WatchKind::Guard(Guard { when: when?, lasting: lasting?, answer: answer? }))
            }
            tree::WatchKind::Travel { .. } => self.travel(w, place),
            tree::WatchKind::Measure { when, gauge, between: (low, high), otherwise } => {
                let (gauge, answer) = (self.gauge(gauge), self.stop(otherwise));
                let (detector, when) = match when {
                    tree::When::Rise(detector) => (self.detector(detector), Some(When::Rise)),
                    tree::When::Time(time, detector) => {
                        (self.detector(detector), self.scans(time, Side::Up).map(When::Scans))
                    }
                    tree::When::Rope(length, pace, detector) => {
                        let (pace, mm) = (self.pace(pace), self.mm(length, Side::Up));
                        (self.detector(detector), pace.zip(mm).map(|(pace, mm)| When::Rope(pace, mm)))
                    }
                };
                let gauge = gauge?;
                let (least, most) =
                    (self.steps_within(gauge, low, Side::Up)?, self.steps_within(gauge, high, Side::Down)?);
                self.ordered(least <= most, low, high);
                Some(WatchKind::Measure(Measure {
                    detector: detector?,
                    when: when?,
                    gauge,
                    least,
                    most,
                    answer: answer?,
                }))
            }
            tree::WatchKind::Spacing { detector, apart, closer, farther } => {
                let (detector, closer) = (self.detector(detector), self.stop(closer));
                let bounds = self.bounds(apart, true)?;
                let farther = match (farther, bounds.most) {
                    (Some(word), Some(_)) => self.stop(word)?,
                    (None, None) => self.station.on_fault,
                    (None, Some(_)) => return self.lacks(w, "farther service"),
                    (Some(word), None) => {
                        self.find(
                            Finding::new(Code::ClauseMissing, "this spacing lacks 'and at most ... apart'")
                                .at(word.place, "nothing says how far apart is too far"),
                        );
                        return None;
                    }
                };
                Some(WatchKind::Spacing(Spacing {
                    detector: detector?,
                    measured: bounds.measured,
                    least: bounds.least,
                    most: bounds.most,
                    closer: closer?,
                    farther,
                }))
            }
            tree::WatchKind::Agree { between, within, apart, otherwise } => {
                let (apart, answer) = (self.scans(apart, Side::Down), self.answer(otherwise));
                let (a, b) = (self.input(&between.0), self.input(&between.1));
                let (a, b) = (a?, b?);
                let within = self.difference([a, b], within, between.0.place)?;
                Some(WatchKind::Agree(Agree { between: [a, b], within, apart: apart?, answer: answer? }))
            }
            tree::WatchKind::Confirm { after, see, within, otherwise } => {
                let (after, see) = (self.stop(after), self.rule_condition(see));
                let (within, answer) = (self.scans(within, Side::Down), self.stop(otherwise));
                Some(WatchKind::Confirm(Confirm { after: after?, see: see?, within: within?, answer: answer? }))
            }
            tree::WatchKind::Exercise { input, every, otherwise } => {
                let (name, answer) = (input, self.stop(otherwise));
                let input = self.input(name)?;
                if matches!(
                    self.station.inputs.get(input).map(|i| &i.kind),
                    Some(InputKind::Gauge(_) | InputKind::Pace(_) | InputKind::Link(_))
                ) {
                    let finding = Finding::new(Code::NameKind, format!("'{}' has no level that changes", name.value));
                    self.find(finding.at(name.place, "a contact, pair, detector or key is expected"));
                    return None;
                }
                let every = match every {
                    tree::Every::Carrier(detector) => self.detector(detector).map(Every::Carrier),
                    tree::Every::Rope(length, pace) => {
                        let (pace, mm) = (self.pace(pace), self.mm(length, Side::Down));
                        pace.zip(mm).map(|(pace, mm)| Every::Rope(pace, mm))
                    }
                    tree::Every::Time(time) => self.scans(time, Side::Down).map(Every::Scans),
                };
                Some(WatchKind::Exercise(Exercise { input, every: every?, answer: answer? }))
            }
            tree::WatchKind::Count { enter, leave, most, confirmed: (number, when), over, below, wrong } => {
                let (enter, leave) = (self.detector(enter), self.detector(leave));
                let when = self.rule_condition(when);
                let (over, below, wrong) = (self.stop(over), self.stop(below), self.stop(wrong));
                let (enter, leave, when, over, below, wrong) = (enter?, leave?, when?, over?, below?, wrong?);
                Some(WatchKind::Count(Count {
                    enter,
                    leave,
                    most: most.value,
                    confirmed: number.value,
                    when,
                    over,
                    below,
                    wrong,
                }))
            }
        }
    }

    fn travel(&mut self, w: &tree::Watch, place: Place) -> Option<WatchKind> {
        let tree::WatchKind::Travel { from, to, takes, backstop, capacity, early, late, stray, crowded, backwards } =
            &w.kind
        else {
            return None;
        };
        let (from, to) = (self.detector(from), self.detector(to));
        let answers = [early, late, stray, crowded].map(|word| self.stop(word));
        let backwards = match backwards {
            Some(word) => self.stop(word),
            None => Some(self.station.on_fault),
        };
        let bounds = self.bounds(takes, true)?;
        let backstop = match backstop {
            None => None,
            Some((time, pace)) => {
                if self.pace(pace)? != pace_of(bounds.measured) {
                    self.find(
                        Finding::new(Code::NameKind, "the backstop goes by another pace than the window")
                            .at(pace.place, "the pace of the window is expected"),
                    );
                    return None;
                }
                Some(self.scans(time, Side::Down)?)
            }
        };
        if !(1..=64).contains(&capacity.value) {
            self.find(
                Finding::new(Code::TooLarge, format!("{} carriers under way", capacity.value))
                    .at(capacity.place, "a controller follows 1 to 64"),
            );
            return None;
        }
        let run = self.run(takes, bounds.measured)?;
        let _ = place;
        let [early, late, stray, crowded] = answers;
        Some(WatchKind::Travel(Travel {
            from: from?,
            to: to?,
            measured: bounds.measured,
            earliest: bounds.least,
            latest: bounds.most?,
            backstop,
            run,
            capacity: capacity.value,
            early: early?,
            late: late?,
            stray: stray?,
            crowded: crowded?,
            backwards: backwards?,
        }))
    }

    /// Rope after which a carrier is certainly through: the upper bound, or as much as can run in that time.
    fn run(&mut self, takes: &Window, measured: Measured) -> Option<u32> {
        match (takes, measured) {
            (Window::Rope(_, Some(high), _), _) => {
                let (mm, _) = divide(exact(high), 1_000 * 1_000_000, Side::Up);
                self.small(mm.max(1), high)
            }
            (Window::Time(_, Some(high), ..), Measured::Time { pace, most, .. }) => {
                let span = i128::from(self.span(pace)) * i128::from(self.station.scan_us) * 1_000_000;
                let (mm, _) = divide(exact(high) * i128::from(most), span, Side::Up);
                self.small(mm.max(1), high)
            }
            _ => None,
        }
    }

    /// The bounds of a window; `narrow` by what one scan's sampling can shift an edge.
    pub(super) fn bounds(&mut self, window: &Window, narrow: bool) -> Option<Bounds> {
        let (measured, least, most, shift, low, high) = match window {
            Window::Rope(low, high, pace) => {
                let pace = self.pace(pace)?;
                let least = self.mm(low, Side::Up);
                let most = self.bound(high.as_ref(), |r, q| r.mm(q, Side::Down))?;
                let shift = match self.station.inputs.get(pace).map(|i| &i.kind) {
                    Some(InputKind::Pace(p)) => p.top_scan.saturating_sub(p.mm_a_pulse),
                    _ => 0,
                };
                (Measured::Rope(pace), least?, most, shift, low, high)
            }
            Window::Time(low, high, pace, slow, fast) => {
                let pace = self.pace(pace)?;
                let band = (self.over_span(slow, pace, Side::Up)?, self.over_span(fast, pace, Side::Down)?);
                self.ordered(band.0 <= band.1, slow, fast);
                let least = self.scans(low, Side::Up);
                let most = self.bound(high.as_ref(), |r, q| r.scans(q, Side::Down))?;
                (Measured::Time { pace, least: band.0, most: band.1 }, least?, most, 1, low, high)
            }
        };
        if let (Some(most), Some(high)) = (most, high) {
            self.ordered(least <= most, low, high);
        }
        if !narrow {
            return Some(Bounds { measured, least, most });
        }
        let (least, most) = (least.saturating_add(shift), most.map(|most| most.saturating_sub(shift)));
        if most.is_some_and(|most| most < least) {
            let finding = Finding::new(
                Code::WindowEmpty,
                "nothing is left of this window once it is narrowed by one scan's sampling",
            );
            let unit = if matches!(measured, Measured::Rope(_)) { "mm" } else { "scans" };
            let finding = finding
                .at(low.place, format!("becomes {least} {unit}"))
                .at(high.as_ref().map_or(low.place, |h| h.place), format!("becomes {} {unit}", most.unwrap_or(0)));
            self.find(finding);
            return None;
        }
        Some(Bounds { measured, least, most })
    }
    /// A bound that may be missing: `None` only if it stands and is wrong.
    #[expect(clippy::option_option, reason = "outer: it could be read; inner: it is there")]
    fn bound(
        &mut self,
        high: Option<&Quantity>,
        read: impl Fn(&mut Self, &Quantity) -> Option<u32>,
    ) -> Option<Option<u32>> {
        match high {
            None => Some(None),
            Some(q) => read(self, q).map(Some),
        }
    }
    /// Finds bounds that stand the wrong way round.
    pub(super) fn ordered(&mut self, in_order: bool, low: &Quantity, high: &Quantity) {
        if !in_order {
            self.find(
                Finding::new(Code::BoundsReversed, "the lower bound lies above the upper one")
                    .at(low.place, "the lower bound")
                    .at(high.place, "the upper bound"),
            );
        }
    }
    fn lacks(&mut self, w: &tree::Watch, example: &str) -> Option<WatchKind> {
        self.find(
            Finding::new(Code::ClauseMissing, format!("this watch lacks '{example}'"))
                .at(w.name.place, "in this watch")
                .help(format!("write, for example, '{example}'")),
        );
        None
    }
    /// How far two paces or gauges may differ.
    fn difference(&mut self, [a, b]: [InputId; 2], within: &Quantity, place: Place) -> Option<u32> {
        let (first, second) = (self.station.inputs.get(a)?.kind.clone(), self.station.inputs.get(b)?.kind.clone());
        match (&first, &second) {
            (InputKind::Pace(p), InputKind::Pace(q)) if p.span == q.span => self.over_span(within, a, Side::Down),
            (InputKind::Gauge(g), InputKind::Gauge(h)) if g.unit == h.unit && g.step_micro == h.step_micro => {
                let unit = tree::Unit::ALL.into_iter().find(|u| u.text() == g.unit)?;
                if within.unit.dimension() != unit.dimension() {
                    self.find(
                        Finding::new(Code::UnitWrong, "the difference has another unit than the gauges")
                            .at(within.place, format!("{} is expected", unit.dimension().text())),
                    );
                    return None;
                }
                let (steps, _) = divide(
                    exact(within) * 1_000_000,
                    i128::from(g.step_micro) * i128::from(unit.base()) * 1_000_000,
                    Side::Down,
                );
                self.small(steps, within)
            }
            _ => {
                self.find(
                    Finding::new(Code::PairUnlike, "these two cannot be compared")
                        .at(place, "two paces of one span, or two gauges of one unit and step, are expected"),
                );
                None
            }
        }
    }
    /// A time as a claim's distance.
    pub(super) fn is_time(q: &Quantity) -> bool {
        q.unit.dimension() == Dimension::Time
    }
}

/// The pace of a window.
pub(super) fn pace_of(measured: Measured) -> InputId {
    match measured {
        Measured::Rope(pace) | Measured::Time { pace, .. } => pace,
    }
}
