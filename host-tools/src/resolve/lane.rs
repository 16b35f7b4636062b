//! The lane: stretches end to end, and the carrier's speed on them as a share of the rope's.

use super::Resolver;
use super::names::named;
use super::units::{Side, exact};
use crate::station::{InputKind, Lane, Stretch};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::tree::{self, Dimension, Kind, StretchPace};

/// The rope's own speed, in millionths of it.
const ROPE: u32 = 1_000_000;

impl Resolver<'_> {
    /// The lane, if there is one.
    pub(super) fn lane(&mut self) {
        for statement in self.statements.clone() {
            let Kind::Lane(lane) = &statement.kind else { continue };
            if self.first_pace().is_none() {
                self.find(
                    Finding::new(Code::LaneBroken, "a lane needs a pace").at(lane.name.place, "no pace is declared"),
                );
            }
            let (every, carrier) = (self.mm(&lane.every, Side::Down), self.mm(&lane.long, Side::Down));
            let (uncouples, couples, held) = (
                self.mm(&lane.uncouples, Side::Down),
                self.mm(&lane.couples, Side::Down),
                self.mm(&lane.held_until, Side::Down),
            );
            let stretches = self.stretches(lane);
            if let (Some(every), Some(carrier), Some(uncouples), Some(couples), Some(held_until)) =
                (every, carrier, uncouples, couples, held)
            {
                self.station.lane =
                    Some(Lane { name: named(&lane.name), every, carrier, stretches, uncouples, couples, held_until });
            }
            self.on_the_lane(lane);
        }
    }
    fn stretches(&mut self, lane: &tree::Lane) -> Vec<Stretch> {
        let mut all: Vec<Stretch> = Vec::new();
        let mut share = ROPE;
        for written in &lane.stretches {
            let (Some(from), Some(to)) = (self.mm(&written.from, Side::Down), self.mm(&written.to, Side::Down)) else {
                continue;
            };
            if to <= from {
                self.find(
                    Finding::new(Code::LaneBroken, "this stretch ends before it starts")
                        .at(written.place, "from the smaller to the greater place"),
                );
            }
            if all.last().is_some_and(|before| before.to != from) {
                self.find(
                    Finding::new(Code::LaneBroken, "this stretch does not begin where the one before ends")
                        .at(written.from.place, "a gap, or a place twice"),
                );
            }
            let mut driven_by = None;
            let end = match &written.pace {
                StretchPace::Rope | StretchPace::SpeedsUp => ROPE,
                StretchPace::Slows(low, of) => self.share(low, of).unwrap_or(ROPE),
                StretchPace::Steady(driven) => {
                    driven_by = driven.as_ref().and_then(|word| self.pace(word));
                    share
                }
            };
            let start = if matches!(written.pace, StretchPace::Rope) { ROPE } else { share };
            all.push(Stretch { from, to, share: (start, end), driven_by, place: written.place });
            share = end;
        }
        all
    }
    /// One speed as a share of another, in millionths.
    fn share(&mut self, low: &tree::Quantity, of: &tree::Quantity) -> Option<u32> {
        if low.unit.dimension() != Dimension::Speed
            || of.unit.dimension() != Dimension::Speed
            || exact(of) <= 0
            || exact(low) <= 0
        {
            self.find(
                Finding::new(Code::UnitWrong, "a stretch slows to a speed, at a speed of the rope")
                    .at(low.place, "two speeds above nothing are expected"),
            );
            return None;
        }
        u32::try_from(exact(low) * i128::from(ROPE) / exact(of)).ok().filter(|share| *share > 0)
    }
    /// Every detector and coupling point lies on the lane.
    fn on_the_lane(&mut self, written: &tree::Lane) {
        let Some(lane) = &self.station.lane else { return };
        let (start, end) = (lane.stretches.first().map_or(0, |s| s.from), lane.stretches.last().map_or(0, |s| s.to));
        let mut places = vec![
            ("uncouples", lane.uncouples, written.uncouples.place),
            ("couples", lane.couples, written.couples.place),
            ("held until", lane.held_until, written.held_until.place),
        ];
        for input in &self.station.inputs {
            if let InputKind::Detector(d) = &input.kind {
                places.push(("the detector", d.at, input.name.place));
            }
        }
        for (what, at, place) in places {
            if at < start || at > end {
                self.findings.push(
                    Finding::new(Code::LaneBroken, format!("'{what}' lies off the lane"))
                        .at(place, format!("the lane runs from {start} mm to {end} mm")),
                );
            }
        }
    }
}
