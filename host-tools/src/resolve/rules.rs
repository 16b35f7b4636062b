//! Reset, refill, bypass, requirements and assumptions.

use super::conditions::Standing;
use super::context::Cx;
use super::exact::Exact;
use super::inputs::name;
use super::names::{Sort, WATCHES};
use super::units::{Side, text};
use super::watches::Narrow;
use crate::date::Date;
use crate::station::{
    Assumption, Bypass, Claim, Condition, Entry, Excuse, Form, Ground, Output, Rank, Refill, Requirement, Reset, Scans,
    Stop, Temporary,
};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::{Place, Placed};
use crate::text::tree::{self, Answer, Dimension, Quantity};

/// Shortest and longest press of a reset key, microseconds.
const SHORTEST: i128 = 100_000;
const LONGEST: i128 = 3_000_000;

/// Outputs and stops, from which a deadline is reckoned; nothing where one of them failed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plant<'a> {
    pub(super) outputs: &'a [Option<Output>],
    pub(super) stops: &'a [Option<Stop>],
}

/// An entry of a published list that no requirement answers.
pub(super) fn entry(word: &tree::Word, excuse: &tree::Excuse) -> Entry {
    let excuse = match excuse {
        tree::Excuse::NotApplicable(text) => Excuse::NotApplicable(text.value.clone()),
        tree::Excuse::Elsewhere(text) => Excuse::Elsewhere(text.value.clone()),
    };
    Entry { name: name(word), excuse }
}

impl Cx {
    /// The end of a temporary revision, and its reason.
    pub(super) fn temporary(&mut self, said: Option<&(Placed<String>, Placed<String>)>) -> Option<Temporary> {
        let (until, because) = said?;
        let Some(date) = Date::read(&until.value) else {
            let finding = Finding::new(Code::DateBad, format!("'{}' is no day", until.value))
                .at(until.place, "a day of the calendar is expected")
                .help("write the last day on which it may be in use as year, month and day: \"2026-12-31\"");
            self.findings.push(finding);
            return None;
        };
        Some(Temporary { until: date, because: because.value.clone() })
    }
    /// The reset.
    pub(super) fn reset(&mut self, r: &tree::Reset) -> Option<Reset> {
        let key = self.one(&r.key, Sort::Key);
        let when = self.condition(&r.when, Standing::Rule);
        let lasting = self.optional(r.lasting.as_ref(), |cx, q| cx.scans(q, Side::Permission));
        let shortest = Exact::new(SHORTEST, self.scan).map_or(1, Exact::ceil).max(1);
        let longest = Exact::new(LONGEST, self.scan).map_or(1, Exact::floor).max(1);
        Some(Reset {
            key: key?,
            when: when?,
            lasting: lasting?.unwrap_or(0),
            shortest: u32::try_from(shortest).ok()?,
            longest: u32::try_from(longest).ok()?,
        })
    }
    /// A refill by key.
    pub(super) fn refill(&mut self, r: &tree::Refill, place: Place) -> Option<Refill> {
        let watches = self.many(&r.watches, &[Sort::Travel, Sort::Count]);
        let key = self.one(&r.key, Sort::Key);
        let when = self.condition(&r.when, Standing::Rule);
        Some(Refill { watches: watches?, key: key?, when: when?, place })
    }
    /// A bypass.
    pub(super) fn bypass(&mut self, b: &tree::Bypass) -> Option<Bypass> {
        let of = self.many(&b.of, WATCHES);
        let modes = self.many(&b.modes, &[Sort::Mode]);
        let key = self.one(&b.key, Sort::Key);
        let pace = self.one(&b.at_most.0, Sort::Pace);
        let limit = pace.and_then(|pace| self.in_span(&b.at_most.1, pace, Side::Allowed));
        let budget = self.some_scans(&b.budget, Side::Allowed);
        let rest = self.some_scans(&b.rest, Side::Permission);
        if b.modes.is_empty() {
            self.missing(b.name.place, "a bypass names no mode", "add 'in MODE'; a bypass works in stated modes only");
            return None;
        }
        Some(Bypass {
            name: name(&b.name),
            of: of?,
            modes: modes?,
            key: key?,
            at_most: (pace?, limit?),
            budget: budget?,
            rest: rest?,
        })
    }
    /// What is left for the rules: `within` less the slowest output and two scans, in scans.
    fn deadline(&mut self, within: &Quantity, off_us: u32) -> Option<Scans> {
        let time = self.natural(within, Dimension::Time)?;
        let scans = self.scan.checked_mul(2).map(Exact::whole);
        let left =
            scans.and_then(|scans| time.minus(scans)).and_then(|left| left.minus(Exact::whole(i128::from(off_us))));
        let left = self.held(left, within)?;
        if left.sign() < 0 {
            let ms = |us: i128| Exact::new(us, 1_000).map_or_else(String::new, Exact::text);
            let left_ms = left.over(Exact::whole(1_000)).map_or_else(String::new, Exact::text);
            let message = format!(
                "{} leaves no time to answer: less {} ms until the outputs let go, less 2 scans of {}, is {left_ms} ms",
                text(within),
                ms(i128::from(off_us)),
                self.scan_text()
            );
            let finding = Finding::new(Code::DeadlineNegative, message)
                .at(within.place, format!("at least {} ms are needed", ms(i128::from(off_us) + 2 * self.scan)))
                .help("shorten the scan, take faster outputs, or reconsider the time");
            self.findings.push(finding);
            return None;
        }
        let whole = self.held(left.over(Exact::whole(self.scan)), within)?;
        if !whole.is_whole() {
            let message = format!(
                "{} leaves {} scans of {} to answer; {} are taken, rounded down, so that it is met no later than written",
                text(within),
                whole.text(),
                self.scan_text(),
                whole.floor()
            );
            self.findings.push(
                Finding::new(Code::LimitRounded, message).at(within.place, format!("leaves {} scans", whole.floor())),
            );
        }
        self.fit(whole.floor(), within)
    }
    /// Slowest output that any stop at least so severe releases at once.
    fn slowest(&self, least: Rank, plant: Plant<'_>) -> Option<u32> {
        let skip = usize::from(least).saturating_sub(self.slows + 1);
        let mut slowest = 0;
        for stop in plant.stops.iter().skip(skip) {
            for &output in &stop.as_ref()?.releases {
                slowest = slowest.max(plant.outputs.get(output)?.as_ref()?.off_within_us);
            }
        }
        Some(slowest)
    }
    fn stop_deadline(&mut self, stop: &tree::Word, within: &Quantity, plant: Plant<'_>) -> Option<(Rank, Scans)> {
        let rank = self.stop(stop)?;
        let off = self.slowest(rank, plant)?;
        Some((rank, self.deadline(within, off)?))
    }
    /// A requirement.
    pub(super) fn requirement(&mut self, r: &tree::Require, plant: Plant<'_>) -> Option<Requirement> {
        let hazards = self.many(&r.hazards, &[Sort::Hazard]);
        let form = self.form(&r.form, r.name.place, plant);
        let unless = match &r.unless {
            None => Some(None),
            Some(condition) => self.condition(condition, Standing::Requirement).map(Some),
        };
        let bounces = self.optional(r.bounces.as_ref(), |cx, q| cx.some_scans(q, Side::Trip));
        let within_us = match &r.form {
            tree::Form::Whenever(_, _, _, within)
            | tree::Form::WhenRises(_, _, _, _, _, within)
            | tree::Form::After { within, .. }
            | tree::Form::Effect { within, .. } => self.quiet_us(within),
            tree::Form::Never(..)
            | tree::Form::NeverReleased(_)
            | tree::Form::NeverReleasedBut(..)
            | tree::Form::NeverPermitted(_)
            | tree::Form::NeverTogether(..) => Some(0),
        };
        Some(Requirement {
            name: name(&r.name),
            title: r.title.value.clone(),
            hazards: hazards?,
            form: form?,
            unless: unless?,
            bounces: bounces?.unwrap_or(0),
            need_not_arise: r.need_not_arise.as_ref().map(|because| because.value.clone()),
            answers: r.answers.iter().map(name).collect(),
            within_us: within_us?,
        })
    }
    /// Microseconds, down, without a word.
    fn quiet_us(&mut self, q: &Quantity) -> Option<u32> {
        if q.unit.dimension() != Dimension::Time || q.mantissa < 0 {
            return None; // told by the deadline
        }
        let exact = self.held(super::units::base(q), q)?;
        self.held(u32::try_from(exact.floor()).ok(), q)
    }
    fn form(&mut self, form: &tree::Form, place: Place, plant: Plant<'_>) -> Option<Form> {
        match form {
            tree::Form::Whenever(condition, lasting, answer, within) => {
                let condition = self.condition(condition, Standing::Alone);
                if let (Some(Condition::Observed(observed)), Some(time)) = (&condition, lasting)
                    && observed.is_passing()
                {
                    let finding = Finding::new(Code::NumberSenseless, "what passes in a scan lasts no time")
                        .at(time.place, "it would have to last so long, and never would")
                        .help("leave `for` out");
                    self.findings.push(finding);
                    return None;
                }
                let lasting = self.optional(lasting.as_ref(), |cx, q| cx.scans(q, Side::Trip));
                let due = match answer {
                    Answer::Stop(stop) => self.stop_deadline(stop, within, plant),
                    Answer::Slow(slow) => self.slow(slow).and_then(|rank| Some((rank, self.deadline(within, 0)?))),
                };
                let (least, within) = due?;
                Some(Form::Whenever { condition: condition?, lasting: lasting?.unwrap_or(0), least, within })
            }
            tree::Form::WhenRises(gauge, (low, high), lasting, when, stop, within) => {
                let gauge = self.one(gauge, Sort::Gauge);
                let bounds = gauge.and_then(|gauge| self.bounds(low, high, gauge));
                let when = self.when(when, Side::Trip);
                let lasting = self.optional(lasting.as_ref(), |cx, q| cx.scans(q, Side::Trip));
                let due = self.stop_deadline(stop, within, plant);
                let ((lowest, highest), (least, within)) = (bounds?, due?);
                let (detector, when) = when?;
                let (lasting, gauge) = (lasting?.unwrap_or(0), gauge?);
                Some(Form::WhenRises { detector, when, lasting, gauge, lowest, highest, least, within })
            }
            tree::Form::After { from, window, to, least, within, capacity } => {
                let (from, to) = (self.one(from, Sort::Detector), self.one(to, Sort::Detector));
                let bounds = self.window(window, Narrow::Nothing);
                let capacity = match capacity {
                    None => Some(8),
                    Some(n) => self.count(n, 1, 64, "carriers"),
                };
                let due = self.stop_deadline(least, within, plant);
                let bounds = bounds?;
                let Some(latest) = bounds.most else {
                    self.missing(place, "the window of a requirement has no upper bound", "write both bounds");
                    return None;
                };
                let (least, within) = due?;
                Some(Form::After {
                    from: from?,
                    to: to?,
                    measured: bounds.measured,
                    earliest: bounds.least,
                    latest,
                    capacity: capacity?,
                    least,
                    within,
                })
            }
            tree::Form::Effect { after, lasting, see, least, within } => {
                let (after, effect) = (self.stop(after), self.effect(see, Standing::Requirement));
                let lasting = self.scans(lasting, Side::Trip);
                let due = self.stop_deadline(least, within, plant);
                let ((least, within), (condition, slower)) = (due?, effect?);
                Some(Form::Effect { after: after?, lasting: lasting?, condition, slower, least, within })
            }
            tree::Form::Never(stop, condition) => {
                let least = self.stop(stop);
                let condition = self.condition(condition, Standing::Requirement);
                Some(Form::Never { condition: condition?, least: least? })
            }
            tree::Form::NeverReleased(key) => self.one(key, Sort::Key).map(|key| Form::NeverReleased { key }),
            tree::Form::NeverReleasedBut(condition, lasting) => {
                let condition = self.condition(condition, Standing::Requirement);
                let lasting = self.optional(lasting.as_ref(), |cx, q| cx.scans(q, Side::Permission));
                Some(Form::NeverReleasedBut { condition: condition?, lasting: lasting?.unwrap_or(0) })
            }
            tree::Form::NeverPermitted(pause) => {
                self.positive(pause, Dimension::Time)?;
                self.scans(pause, Side::Permission).map(|pause| Form::NeverPermitted { pause })
            }
            tree::Form::NeverTogether(a, b) => {
                let (x, y) = (self.one(a, Sort::Output), self.one(b, Sort::Output));
                Some(Form::NeverTogether(x?, y?))
            }
        }
    }
    /// An assumption.
    pub(super) fn assumption(&mut self, a: &tree::Assume) -> Option<Assumption> {
        let claim = match &a.claim {
            tree::Claim::RopeApart(detector, length, pace) => {
                let (detector, rope) = (self.one(detector, Sort::Detector), self.rope(length, pace, Side::Assumed));
                detector.zip(rope).map(|(detector, (pace, mm))| Claim::RopeApart(detector, pace, mm))
            }
            tree::Claim::TimeApart(detector, time) => {
                let (detector, scans) = (self.one(detector, Sort::Detector), self.scans(time, Side::Assumed));
                detector.zip(scans).map(|(detector, scans)| Claim::ScansApart(detector, scans))
            }
            tree::Claim::Always(condition) => self.condition(condition, Standing::Rule).map(Claim::Always),
            tree::Claim::Never(condition) => self
                .condition(condition, Standing::Rule)
                .map(|c| Claim::Always(crate::station::Condition::Not(Box::new(c)))),
        };
        let ground = match &a.ground {
            tree::Ground::HeldBy(watch) => self.find(watch, WATCHES).map(|(_, id)| Ground::HeldBy(id)),
            tree::Ground::Evidence(text) => Some(Ground::Evidence(text.value.clone())),
        };
        let title = a.title.as_ref().map_or_else(String::new, |title| title.value.clone());
        Some(Assumption { name: name(&a.name), title, claim: claim?, ground: ground? })
    }
}
