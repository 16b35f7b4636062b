//! The lane: stretches that join, and speeds as shares of the rope's.

use super::context::Cx;
use super::exact::Exact;
use super::groups::Groups;
use super::inputs::name;
use super::names::Sort;
use super::units::{Side, text};
use crate::station::{InputId, InputKind, Lane, Loads, LoadsOn, Mm, Name, Stretch, Tolerances};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Place;
use crate::text::tree::{self, Dimension, Kind, Quantity, StretchPace};

/// The whole rope speed in millionths.
const FULL: u32 = 1_000_000;

impl Cx {
    /// The lane.
    pub(super) fn lane(&mut self, l: &tree::Lane) -> Option<Lane> {
        let every = self.positive(&l.every, Dimension::Length).and_then(|_| self.whole_mm(&l.every));
        let carrier = self.positive(&l.long, Dimension::Length).and_then(|_| self.whole_mm(&l.long));
        let [uncouples, couples, held_until] = [&l.uncouples, &l.couples, &l.held_until].map(|q| self.whole_mm(q));
        let least_every = self.optional(l.least.as_ref(), |cx, least| {
            cx.positive(least, Dimension::Length)?;
            cx.ordered(least, &l.every)?;
            cx.whole_mm(least)
        });
        let most_every = self.optional(l.most.as_ref(), |cx, most| {
            cx.positive(most, Dimension::Length)?;
            cx.ordered(&l.every, most)?;
            cx.whole_mm(most)
        });
        let body = self.optional(l.body.as_ref(), |cx, body| {
            cx.positive(body, Dimension::Length)?;
            cx.whole_mm(body)
        });
        let loads = match &l.loads {
            Some(loads) => self.loads(loads).map(Some),
            None => Some(None),
        };
        let tolerances = self.tolerances(l);
        let line_speed = self.optional(l.line_speed.as_ref(), |cx, speed| {
            let value = cx.positive(speed, Dimension::Speed)?;
            let value = cx.held(value.over(Exact::whole(1_000)), speed)?;
            cx.whole(speed, value, "a millimetre a second").and_then(|whole| cx.fit(whole, speed))
        });
        let touches = self.touches(l);
        let mut stretches = Some(Vec::new());
        let mut last = FULL;
        let mut end: Option<(u32, Place)> = None;
        for written in &l.stretches {
            let stretch = self.stretch(written, &mut last, &mut end);
            match (stretch, &mut stretches) {
                (Some(stretch), Some(list)) => list.push(stretch),
                _ => stretches = None,
            }
        }
        if l.stretches.is_empty() {
            self.missing(l.name.place, "the lane has no stretch", "add 'from X to X at rope speed'");
            return None;
        }
        Some(Lane {
            name: name(&l.name),
            every: every?,
            least_every: least_every?,
            most_every: most_every?,
            carrier: carrier?,
            body: body?,
            loads: loads?,
            tolerances: tolerances?,
            line_speed: line_speed?,
            touches: touches?,
            stretches: stretches?,
            uncouples: uncouples?,
            couples: couples?,
            held_until: held_until?,
        })
    }
    /// What a carrier touches, each named once.
    fn touches(&mut self, l: &tree::Lane) -> Option<Vec<(Mm, InputId)>> {
        let names: Vec<tree::Word> = l.touches.iter().map(|(name, _)| name.clone()).collect();
        let inputs = self.many(&names, &[Sort::Contact, Sort::Pair]);
        let places: Option<Vec<Mm>> = l.touches.iter().map(|(_, at)| self.whole_mm(at)).collect();
        Some(places?.into_iter().zip(inputs?).collect())
    }
    fn loads(&mut self, written: &tree::Loads) -> Option<Loads> {
        let (from, to) = (self.whole_mm(&written.from), self.whole_mm(&written.to));
        let kind = match &written.on {
            tree::LoadsOn::OpenChairs(seats) => self.count(seats, 1, 1_000, "seats").map(LoadsOn::OpenChairs),
            tree::LoadsOn::ClosedCabins => Some(LoadsOn::ClosedCabins),
        };
        self.ordered(&written.from, &written.to)?;
        let (from, to) = (from?, to?);
        if from == to {
            self.zero(written.to.place, "a way of no length");
            return None;
        }
        Some(Loads { from, to, kind: kind? })
    }
    fn tolerances(&mut self, l: &tree::Lane) -> Option<Tolerances> {
        let share_ppm = self.optional(l.speeds.as_ref(), |cx, share| {
            let parts = cx.natural(share, Dimension::Share)?.over(Exact::whole(100));
            let parts = cx.held(parts, share)?.ceil();
            let parts = u32::try_from(parts).ok().filter(|parts| *parts < FULL);
            if parts.is_none() {
                let finding = Finding::new(Code::NumberSenseless, format!("{} lets a carrier stand", text(share)))
                    .at(share.place, "must be less than 100 %");
                cx.findings.push(finding.help("state how far a carrier's speed may be from what its stretch says"));
            }
            parts
        });
        let detector = self.optional(l.detectors.as_ref(), |cx, q| cx.mm(q, Side::PlantMost));
        let switching = self.optional(l.switching.as_ref(), |cx, q| cx.mm(q, Side::PlantMost));
        Some(Tolerances {
            share_ppm: share_ppm?.unwrap_or(0),
            detector: detector?.unwrap_or(0),
            switching: switching?.unwrap_or(0),
        })
    }
    /// A lane is told in rope, so that there must be a pace that measures it.
    pub(super) fn paced(&mut self, lane: &tree::Lane, groups: &Groups<'_>) {
        if !groups.inputs.iter().any(|kind| matches!(kind, Kind::Pace(_))) {
            let finding = Finding::new(Code::LaneBroken, "a lane is described, but no pace measures its rope")
                .at(lane.name.place, "the rope is the first declared pace");
            self.findings.push(finding.help("declare a pace, or leave the lane out"));
        }
    }
    /// Detectors and coupling points lie on the lane.
    pub(super) fn on_the_lane(
        &mut self,
        lane: &Lane,
        written: Option<&tree::Lane>,
        inputs: &[Option<(Name, InputKind)>],
    ) {
        let (Some(first), Some(last), Some(written)) = (lane.stretches.first(), lane.stretches.last(), written) else {
            return;
        };
        let mut places = vec![
            ("where the carrier uncouples".to_owned(), lane.uncouples, written.uncouples.place),
            ("where it couples".to_owned(), lane.couples, written.couples.place),
            ("to where it is held".to_owned(), lane.held_until, written.held_until.place),
        ];
        if let (Some(loads), Some(at)) = (lane.loads, &written.loads) {
            places.push(("where people begin to get on".to_owned(), loads.from, at.from.place));
            places.push(("where they have got on".to_owned(), loads.to, at.to.place));
        }
        for ((at, _), (name, place)) in lane.touches.iter().zip(&written.touches) {
            places.push((format!("where it touches '{}'", name.value), *at, place.place));
        }
        for (name, kind) in inputs.iter().flatten() {
            if let InputKind::Detector(d) = kind {
                places.push((format!("'{}'", name.text), d.at, name.place));
            }
        }
        for (what, at, place) in places {
            if at < first.from || at > last.to {
                let finding = Finding::new(
                    Code::LaneBroken,
                    format!("{what}, at {at} mm, is not on the lane, which runs from {} to {} mm", first.from, last.to),
                )
                .at(place, "off the lane")
                .at(written.name.place, "the lane")
                .help("correct the place, or the stretches");
                self.findings.push(finding);
            }
        }
    }
    fn stretch(&mut self, s: &tree::Stretch, last: &mut u32, end: &mut Option<(u32, Place)>) -> Option<Stretch> {
        let (from, to) = (self.whole_mm(&s.from), self.whole_mm(&s.to));
        let before = *end;
        *end = to.map(|to| (to, s.to.place));
        let first = *last;
        let mut driven_by = Some(None);
        let mut begins = Some(first);
        match &s.pace {
            StretchPace::Rope => (begins, *last) = (Some(FULL), FULL),
            StretchPace::Slows(to, of) => match self.share(to, of) {
                Some(share) => *last = share,
                None => begins = None,
            },
            StretchPace::Steady(by) | StretchPace::Carried(by) => {
                if let Some(by) = by {
                    driven_by = self.one(by, Sort::Pace).map(Some);
                }
            }
            StretchPace::SpeedsUp => *last = FULL,
        }
        let (from, to, begins) = (from?, to?, begins?);
        self.ordered(&s.from, &s.to)?;
        if from == to {
            self.zero(s.place, "a stretch of no length");
            return None;
        }
        if let Some((end, place)) = before
            && end != from
        {
            let finding = Finding::new(
                Code::LaneBroken,
                format!("the stretch before ends at {end} mm, this one begins at {from} mm"),
            )
            .at(s.from.place, "begins here")
            .at(place, "the one before ends here")
            .help("let each stretch begin where the one before ends");
            self.findings.push(finding);
            return None;
        }
        if begins != first {
            let message = format!(
                "the stretch before ends at {} % of the rope speed, this one begins at the rope speed",
                percent(first)
            );
            let finding = Finding::new(Code::LaneBroken, message)
                .at(s.place, "the speed would jump here")
                .help("put a stretch between them that 'speeds up to rope speed'");
            self.findings.push(finding);
            return None;
        }
        Some(Stretch {
            from,
            to,
            share: (first, *last),
            driven_by: driven_by?,
            carried: matches!(s.pace, StretchPace::Carried(_)),
            place: s.place,
        })
    }
    fn share(&mut self, to: &Quantity, of: &Quantity) -> Option<u32> {
        let (speed, rope) = (self.positive(to, Dimension::Speed), self.positive(of, Dimension::Speed));
        let share = speed?.over(rope?).and_then(|share| share.times(Exact::whole(i128::from(FULL))));
        let share = self.held(share, to)?.floor();
        if share > i128::from(FULL) {
            let finding =
                Finding::new(Code::BoundsReversed, format!("{} is faster than the rope at {}", text(to), text(of)))
                    .at(to.place, "a stretch that slows ends below the rope speed")
                    .help("exchange the two speeds");
            self.findings.push(finding);
            return None;
        }
        if share < i128::from(FULL / 1_000) {
            self.zero(to.place, "less than a thousandth of the rope speed");
            return None;
        }
        u32::try_from(share).ok()
    }
}

fn percent(millionths: u32) -> String {
    Exact::new(i128::from(millionths), 10_000).map_or_else(String::new, Exact::text)
}
