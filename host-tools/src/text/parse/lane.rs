//! The lane.

use super::cursor::Cursor;
use super::slot::Slot;
use crate::text::place::Place;
use crate::text::tree::{Kind, Lane, Loads, LoadsOn, Quantity, Stretch, StretchPace, Word};

pub(super) fn lane(c: &mut Cursor<'_>) -> Option<Kind> {
    let name = c.name("the lane")?;
    let mut carriers = Slot::new("carriers every 60.0 m of rope");
    let mut least = Slot::new("at least 54.0 m apart");
    let mut most = Slot::new("at most 66.0 m apart");
    let mut long = Slot::new("0.45 m long");
    let mut body = Slot::new("bodies 2.10 m long");
    let mut loads = Slot::new("loads from 12.0 m to 16.0 m onto closed cabins");
    let mut speeds = Slot::new("speeds within 1 %");
    let mut detectors = Slot::new("detectors within 10 mm");
    let mut switching = Slot::new("switching within 5 mm");
    let mut line_speed = Slot::new("line speed 5.0 m/s");
    let mut touches = Vec::new();
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
        } else if c.take("at least") {
            least.fill(c, start, apart);
        } else if c.take("at most") {
            most.fill(c, start, apart);
        } else if c.number_next() {
            long.fill(c, start, so_long);
        } else if c.take("bodies") {
            body.fill(c, start, so_long);
        } else if c.take("loads from") {
            loads.fill(c, start, boarding);
        } else if c.take("speeds within") {
            speeds.fill(c, start, |c| c.quantity("a share (%)"));
        } else if c.take("detectors within") {
            detectors.fill(c, start, |c| c.quantity("a length (mm)"));
        } else if c.take("switching within") {
            switching.fill(c, start, |c| c.quantity("a length (mm)"));
        } else if c.take("line speed") {
            line_speed.fill(c, start, |c| c.quantity("a speed (m/s)"));
        } else if c.take("touches") {
            match touched(c) {
                Some(touched) => touches.push(touched),
                None => c.skip(),
            }
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
            c.expected(
                "'carriers every', 'at least', 'at most', 'X long', 'bodies', 'loads from', 'speeds within', 'detectors within', \
                 'switching within', 'line speed', 'touches', 'from', 'uncouples at', 'couples at' or 'held until'",
            );
            c.skip();
        }
    }
    let (every, long) = (carriers.needed(c, "lane"), long.needed(c, "lane"));
    let (uncouples, couples, held_until) =
        (uncouples.needed(c, "lane"), couples.needed(c, "lane"), held.needed(c, "lane"));
    Some(Kind::Lane(Lane {
        name,
        every: every?,
        least: least.optional(),
        most: most.optional(),
        long: long?,
        body: body.optional(),
        loads: loads.optional(),
        speeds: speeds.optional(),
        detectors: detectors.optional(),
        switching: switching.optional(),
        line_speed: line_speed.optional(),
        touches,
        stretches,
        uncouples: uncouples?,
        couples: couples?,
        held_until: held_until?,
    }))
}
fn apart(c: &mut Cursor<'_>) -> Option<Quantity> {
    let apart = c.quantity("a length (m)")?;
    c.need("apart")?;
    Some(apart)
}
fn so_long(c: &mut Cursor<'_>) -> Option<Quantity> {
    let long = c.quantity("a length (m)")?;
    c.need("long")?;
    Some(long)
}
fn boarding(c: &mut Cursor<'_>) -> Option<Loads> {
    let from = c.quantity("a length (m)")?;
    c.need("to")?;
    let to = c.quantity("a length (m)")?;
    c.need("onto")?;
    let on = if c.take("closed cabins") {
        LoadsOn::ClosedCabins
    } else if c.take("open chairs for") {
        LoadsOn::OpenChairs(c.count("how many sit on a chair")?)
    } else {
        c.expected("'open chairs for' or 'closed cabins'");
        return None;
    };
    Some(Loads { from, to, on })
}
fn touched(c: &mut Cursor<'_>) -> Option<(Word, Quantity)> {
    let name = c.name("a contact or pair")?;
    c.need("at")?;
    Some((name, c.quantity("a length (m)")?))
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
        if c.take("carried by") {
            StretchPace::Carried(Some(c.name("a pace")?))
        } else if c.take("carried with the rope") {
            StretchPace::Carried(None)
        } else {
            StretchPace::Steady(if c.take("driven by") { Some(c.name("a pace")?) } else { None })
        }
    } else {
        c.expected("'at rope speed', 'slows to', 'steady' or 'speeds up to rope speed'");
        return None;
    };
    Some(Stretch { place: c.since(start), from, to, pace })
}
