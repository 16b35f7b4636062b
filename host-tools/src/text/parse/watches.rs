//! Watches.

use super::condition::condition;
use super::cursor::{Cursor, labels};
use super::slot::Slot;
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::{Place, Placed};
use crate::text::tree::{Answer, Dimension, Kind, Lasting, Quantity, Watch, WatchKind, When, Window, Word};

/// What all watches have.
pub(super) struct Common {
    name: Word,
    title: Option<Placed<String>>,
    hazards: Slot<Vec<Word>>,
    modes: Slot<Vec<Word>>,
}

impl Common {
    pub(super) fn read(c: &mut Cursor<'_>, what: &str) -> Option<Self> {
        let name = c.name(what)?;
        let title = c.maybe_title();
        Some(Self { name, title, hazards: Slot::new("hazard H2"), modes: Slot::new("in passenger") })
    }
    /// Takes a clause that all watches have.
    pub(super) fn clause(&mut self, c: &mut Cursor<'_>, start: Place) -> bool {
        if c.take("hazard") {
            self.hazards.fill(c, start, labels);
        } else if !c.second_is("by") && c.take("in") {
            self.modes.fill(c, start, |c| c.names("a mode"));
        } else {
            return false;
        }
        true
    }
    pub(super) fn done(self, kind: WatchKind) -> Kind {
        let (hazards, modes) = (self.hazards.optional().unwrap_or_default(), self.modes.optional().unwrap_or_default());
        Kind::Watch(Watch { name: self.name, title: self.title, hazards, modes, kind })
    }
}

pub(super) fn stop_name(c: &mut Cursor<'_>) -> Option<Word> {
    c.name("a stop")
}
/// `STOP` or `slow NAME`.
pub(super) fn stop_or_slow(c: &mut Cursor<'_>) -> Option<Answer> {
    if c.take("slow") { c.name("a slow order").map(Answer::Slow) } else { c.name("a stop").map(Answer::Stop) }
}
pub(super) fn unexpected(c: &mut Cursor<'_>, what: &str) {
    c.expected(&format!("{what}, 'hazard' or 'in'"));
    c.skip();
}
/// `PACE at V to V throughout`.
fn band(c: &mut Cursor<'_>) -> Option<(Word, Quantity, Quantity)> {
    let pace = c.name("a pace")?;
    c.need("at")?;
    let low = c.quantity("a speed (m/s)")?;
    c.need("to")?;
    let high = c.quantity("a speed (m/s)")?;
    c.need("throughout")?;
    Some((pace, low, high))
}
/// A window whose first bound has been read: `of PACE`, or a time with its band.
pub(super) fn with_band(c: &mut Cursor<'_>, low: Quantity, high: Option<Quantity>) -> Option<Window> {
    c.take_comma();
    c.need("with")?;
    let (pace, slow, fast) = band(c)?;
    Some(Window::Time(low, high, pace, slow, fast))
}

pub(super) fn guard(c: &mut Cursor<'_>) -> Option<Kind> {
    let mut common = Common::read(c, "the guard")?;
    let mut when = Slot::new("when rope-fork open");
    let mut lasting = Slot::new("unbroken for 20 ms");
    let mut answer = Slot::new("stop emergency");
    while c.more() {
        let start = c.place();
        if common.clause(c, start) {
        } else if c.take("when") {
            when.fill(c, start, condition);
        } else if c.take("unbroken for") {
            lasting.fill(c, start, |c| c.quantity("a time (ms)").map(Lasting::Unbroken));
        } else if c.take("for") {
            lasting.fill(c, start, |c| {
                let of = c.quantity("a time (ms)")?;
                c.need("in all within")?;
                Some(Lasting::Total(of, c.quantity("a time (s)")?))
            });
        } else if c.take("stop") {
            answer.fill(c, start, |c| c.name("a stop").map(Answer::Stop));
        } else if c.take("slow") {
            answer.fill(c, start, |c| c.name("a slow order").map(Answer::Slow));
        } else {
            unexpected(c, "'when', 'unbroken for', 'for ... in all within', 'stop', 'slow'");
        }
    }
    let (when, answer) = (when.needed(c, "guard"), answer.needed(c, "guard"));
    Some(common.done(WatchKind::Guard { when: when?, lasting: lasting.optional(), answer: answer? }))
}

pub(super) fn travel(c: &mut Cursor<'_>) -> Option<Kind> {
    let mut common = Common::read(c, "the travel")?;
    let mut between = Slot::new("from arrive to mid-slow");
    let mut takes = Slot::new("takes 3.40 m to 3.62 m of rope");
    let mut capacity = Slot::new("up to 2 carriers under way");
    let mut answers =
        ["early service", "late emergency", "stray emergency", "crowded emergency", "backwards emergency"]
            .map(Slot::new);
    while c.more() {
        let start = c.place();
        if common.clause(c, start) {
            continue;
        }
        if c.take("from") {
            between.fill(c, start, |c| {
                let from = c.name("a detector")?;
                c.need("to")?;
                Some((from, c.name("a detector")?))
            });
            continue;
        }
        if c.take("takes") {
            takes.fill(c, start, |c| {
                let low = c.quantity("a length (m) or a time (s)")?;
                c.need("to")?;
                let high = c.quantity("a length (m) or a time (s)")?;
                if low.unit.dimension() == Dimension::Time {
                    return Some((with_band(c, low, Some(high))?, None));
                }
                c.need("of")?;
                let pace = c.name("a pace")?;
                let window = Window::Rope(low, Some(high), pace);
                c.take_comma();
                if !c.take("and at most") {
                    return Some((window, None));
                }
                let most = c.quantity("a time (s)")?;
                c.need("while")?;
                let pace = c.name("a pace")?;
                c.need("runs")?;
                Some((window, Some((most, pace))))
            });
            continue;
        }
        if c.take("up to") {
            capacity.fill(c, start, |c| {
                let count = c.count("a number of carriers")?;
                if !c.take("carrier under way") {
                    c.need("carriers under way")?;
                }
                Some(count)
            });
            continue;
        }
        let [early, late, stray, crowded, backwards] = &mut answers;
        let slot = if c.take("early") {
            early
        } else if c.take("late") {
            late
        } else if c.take("stray") {
            stray
        } else if c.take("crowded") {
            crowded
        } else if c.take("backwards") {
            backwards
        } else {
            unexpected(c, "'from', 'takes', 'up to', 'early', 'late', 'stray', 'crowded', 'backwards'");
            continue;
        };
        slot.fill(c, start, stop_name);
    }
    let (between, takes, capacity) =
        (between.needed(c, "travel"), takes.needed(c, "travel"), capacity.needed(c, "travel"));
    let [early, late, stray, crowded, backwards] = answers;
    let [early, late, stray, crowded] = [early, late, stray, crowded].map(|slot| slot.needed(c, "travel"));
    let ((from, to), (takes, backstop)) = (between?, takes?);
    Some(common.done(WatchKind::Travel {
        from,
        to,
        takes,
        backstop,
        capacity: capacity?,
        early: early?,
        late: late?,
        stray: stray?,
        crowded: crowded?,
        backwards: backwards.optional(),
    }))
}

pub(super) fn measure(c: &mut Cursor<'_>) -> Option<Kind> {
    let mut common = Common::read(c, "the measure")?;
    let mut when = Slot::new("throughout the 60 ms after force-point rises");
    let mut stays = Slot::new("close-force stays between 6200 N and 8400 N");
    let mut otherwise = Slot::new("else emergency");
    while c.more() {
        let start = c.place();
        if common.clause(c, start) {
        } else if c.take("when") {
            when.fill(c, start, |c| {
                let detector = c.name("a detector")?;
                c.need("rises")?;
                Some(When::Rise(detector))
            });
        } else if c.take("throughout the") {
            when.fill(c, start, |c| {
                let span = c.quantity("a time (ms) or a length (m)")?;
                let pace = if c.take("of") { Some(c.name("a pace")?) } else { None };
                c.need("after")?;
                let detector = c.name("a detector")?;
                c.need("rises")?;
                Some(match pace {
                    Some(pace) => When::Rope(span, pace, detector),
                    None => When::Time(span, detector),
                })
            });
        } else if c.second_is("stays") {
            stays.fill(c, start, |c| {
                let gauge = c.name("a gauge")?;
                c.need("stays between")?;
                let low = c.quantity("a value with its unit")?;
                c.need("and")?;
                Some((gauge, (low, c.quantity("a value with its unit")?)))
            });
        } else if c.take("else") {
            otherwise.fill(c, start, stop_name);
        } else {
            unexpected(c, "'when', 'throughout the', 'GAUGE stays between', 'else'");
        }
    }
    let (when, stays, otherwise) =
        (when.needed(c, "measure"), stays.needed(c, "measure"), otherwise.needed(c, "measure"));
    let (gauge, between) = stays?;
    Some(common.done(WatchKind::Measure { when: when?, gauge, between, otherwise: otherwise? }))
}

pub(super) fn spacing(c: &mut Cursor<'_>) -> Option<Kind> {
    let mut common = Common::read(c, "the spacing")?;
    let mut apart = Slot::new("arrive rises at least 55 m of rope apart");
    let mut closer = Slot::new("closer service");
    let mut farther = Slot::new("farther service");
    while c.more() {
        let start = c.place();
        if common.clause(c, start) {
        } else if c.take("closer") {
            closer.fill(c, start, stop_name);
        } else if c.take("farther") {
            farther.fill(c, start, stop_name);
        } else if c.second_is("rises") {
            apart.fill(c, start, |c| {
                let detector = c.name("a detector")?;
                c.need("rises at least")?;
                Some((detector, distance(c)?))
            });
        } else {
            unexpected(c, "'DETECTOR rises at least', 'closer', 'farther'");
        }
    }
    let (apart, closer) = (apart.needed(c, "spacing"), closer.needed(c, "spacing"));
    let (detector, apart) = apart?;
    Some(common.done(WatchKind::Spacing { detector, apart, closer: closer?, farther: farther.optional() }))
}
fn distance(c: &mut Cursor<'_>) -> Option<Window> {
    let low = c.quantity("a length (m) or a time (s)")?;
    let time = low.unit.dimension() == Dimension::Time;
    let mut pace = None;
    if !time {
        c.need("of")?;
        pace = Some(c.name("a pace")?);
    }
    c.need("apart")?;
    let first = pace.clone();
    let mut high = None;
    if c.take("and at most") {
        high = Some(c.quantity("a length (m) or a time (s)")?);
        if !time {
            c.need("of")?;
            pace = Some(c.name("a pace")?);
        }
        c.need("apart")?;
    }
    if let (Some(first), Some(second)) = (&first, &pace)
        && first.value != second.value
    {
        let finding = Finding::new(Code::WordUnexpected, "the two lengths of a spacing are of one pace");
        c.findings
            .push(finding.at(second.place, format!("'{}' is expected here", first.value)).at(first.place, "as here"));
        return None;
    }
    match pace {
        Some(pace) => Some(Window::Rope(low, high, pace)),
        None => with_band(c, low, high),
    }
}
