//! The lane.

use super::cursor::Cursor;
use super::slot::Slot;
use crate::text::place::Place;
use crate::text::tree::{Kind, Lane, Stretch, StretchPace};

pub(super) fn lane(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the lane")?;
    let mut carriers = Slot::new("carriers every 60.0 m of rope");
    let mut long = Slot::new("0.45 m long");
    let mut uncouples = Slot::new("uncouples at 0.60 m");
    let mut couples = Slot::new("couples at 28.30 m");
    let mut held = Slot::new("held until 31.00 m");
    let mut stretches = Vec::new();
    while c.more() {
        let start = c.place();
        if c.take("carriers every") {
            carriers.fill(c, start, |c| {
                let every = c.quantity("a length (m)")?;
                c.need("of rope")?;
                Some(every)
            });
        } else if c.number_next() {
            long.fill(c, start, |c| {
                let long = c.quantity("a length (m)")?;
                c.need("long")?;
                Some(long)
            });
        } else if c.take("uncouples at") {
            uncouples.fill(c, start, |c| c.quantity("a length (m)"));
        } else if c.take("couples at") {
            couples.fill(c, start, |c| c.quantity("a length (m)"));
        } else if c.take("held until") {
            held.fill(c, start, |c| c.quantity("a length (m)"));
        } else if c.take("from") {
            match stretch(c, start) {
                Some(stretch) => stretches.push(stretch),
                None => c.skip(),
            }
        } else {
            c.expected("'carriers every', 'X long', 'from', 'uncouples at', 'couples at' or 'held until'");
            c.skip();
        }
    }
    let (every, long) = (carriers.needed(c, "lane"), long.needed(c, "lane"));
    let (uncouples, couples, held_until) =
        (uncouples.needed(c, "lane"), couples.needed(c, "lane"), held.needed(c, "lane"));
    Some(Kind::Lane(Lane {
        name,
        every: every?,
        long: long?,
        stretches,
        uncouples: uncouples?,
        couples: couples?,
        held_until: held_until?,
    }))
}
fn stretch(c: &mut Cursor<'_>, start: Place) -> Option<Stretch> {
    let from = c.quantity("a length (m)")?;
    c.need("to")?;
    let to = c.quantity("a length (m)")?;
    let pace = if c.take("at rope speed") {
        StretchPace::Rope
    } else if c.take("slows to") {
        let low = c.quantity("a speed (m/s)")?;
        c.need("at")?;
        let of = c.quantity("a speed (m/s)")?;
        c.need("of rope")?;
        StretchPace::Slows(low, of)
    } else if c.take("speeds up to rope speed") {
        StretchPace::SpeedsUp
    } else if c.take("steady") {
        c.take_comma();
        StretchPace::Steady(if c.take("driven by") { Some(c.name("a pace")?) } else { None })
    } else {
        c.expected("'at rope speed', 'slows to', 'steady' or 'speeds up to rope speed'");
        return None;
    };
    Some(Stretch { place: c.since(start), from, to, pace })
}
