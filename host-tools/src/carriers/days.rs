//! Day after day: carriers numbered, those taken out and put in found, and what each did told to its trend.

use std::collections::BTreeMap;

use super::View;
use super::count::{Count, count};
use super::numbering::{Loop, Place, Way, Whose, between};
use super::robust::{mean, median, spread};
use super::strip::Strip;
use super::trend::Trend;

/// What a day showed of who is there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// The carrier did not come any more.
    TakenOut(u32),
    /// It came again, to its place between its neighbours and with the force that it had.
    Back(u32),
    /// One came that is not known, after this one; it got the first number.
    New(u32, u32),
}

/// A day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Day {
    /// Its name.
    pub name: String,
    /// Passings whose carrier is known.
    pub numbered: u64,
    /// Those that were not laid along the loop: fewer than a round, or the forces fit at no turn of it or at several.
    pub left_out: u64,
    /// Those of carriers that nobody knows and that did not come again.
    pub unknown: u64,
    /// Who went and came.
    pub changes: Vec<Change>,
}

/// Why carriers cannot be numbered.
#[derive(Debug, Clone, PartialEq)]
pub enum Refused {
    /// The forces do not come again after a round, or there are not yet two rounds to see it: so many passings were seen.
    NoRound(usize),
    /// They do, after another number of carriers than was said.
    OtherCount {
        /// As was said.
        said: usize,
        /// As was found.
        found: Count,
    },
}

/// A round of a first recording that is looked at to learn who is who.
const ROUNDS: usize = 3;
/// From day to day a force comes again no better than to this part of the scatter of its fleet.
const FINEST: f64 = 8.0;
/// So often must a carrier be missed, or seen, before it is gone, or there.
const TWICE: u32 = 2;

/// All days so far.
#[derive(Debug, Clone)]
pub struct Days {
    said: Option<usize>,
    /// How many carriers there were on the first day.
    pub count: Option<Count>,
    /// Carriers round the loop; none before the first day.
    looped: Option<Loop>,
    /// How often each place was missed since its carrier was last seen.
    missed: Vec<u32>,
    next: u32,
    /// In their order.
    pub days: Vec<Day>,
    /// The force, then each travel.
    pub trends: Vec<Trend>,
    /// The same over all passings, of each carrier.
    pub strips: Vec<BTreeMap<u32, Strip>>,
    /// Passings of each carrier on all days.
    pub passings: BTreeMap<u32, u64>,
}

impl Days {
    /// Whether one changes from day to day can be told.
    pub fn is_judged(&self) -> bool {
        self.trends.iter().any(Trend::is_judging)
    }
    /// No day yet. `said` is the number of carriers, if somebody knows it; `resolutions` is what one passing can tell apart
    /// of the force and of each travel.
    pub fn new(said: Option<usize>, resolutions: &[f64]) -> Self {
        let trends: Vec<Trend> = resolutions.iter().map(|resolution| Trend::new(*resolution)).collect();
        let strips = vec![BTreeMap::new(); trends.len()];
        Self {
            said,
            count: None,
            looped: None,
            missed: Vec::new(),
            next: 1,
            days: Vec::new(),
            trends,
            strips,
            passings: BTreeMap::new(),
        }
    }
    /// The carriers that hang on the rope, in their order.
    pub fn there(&self) -> impl Iterator<Item = u32> {
        self.places().filter(|place| !place.out).map(|place| place.number)
    }
    /// Those that were taken out.
    pub fn gone(&self) -> impl Iterator<Item = u32> {
        self.places().filter(|place| place.out).map(|place| place.number)
    }
    fn places(&self) -> impl Iterator<Item = &Place> {
        self.looped.iter().flat_map(|looped| &looped.places)
    }

    /// Takes a day.
    ///
    /// # Errors
    /// If it is the first that shows two rounds, and its forces do not come again as they should. Then nothing is taken.
    pub fn day(&mut self, name: &str, views: &[View]) -> Result<(), Refused> {
        let first = views.iter().max_by_key(|view| view.passings.len());
        if self.looped.is_none()
            && let Some(view) = first
        {
            self.begin(view)?;
        }
        let mut day = Day { name: name.to_owned(), numbered: 0, left_out: 0, unknown: 0, changes: Vec::new() };
        let mut seen: BTreeMap<usize, Vec<Vec<f64>>> = BTreeMap::new();
        for view in views {
            let Some(way) = self.lay(view, &mut day, &mut seen) else {
                day.left_out += u64::try_from(view.passings.len()).unwrap_or(u64::MAX);
                continue;
            };
            self.follow(view, &way, &mut day, &mut seen);
        }
        self.teach(&seen);
        self.days.push(day);
        Ok(())
    }

    /// Learns from the first rounds who is who.
    fn begin(&mut self, view: &View) -> Result<(), Refused> {
        let forces: Vec<Option<f64>> = view.forces().collect();
        let found = count(&forces).ok_or(Refused::NoRound(forces.len()))?;
        if let Some(said) = self.said.filter(|said| *said != found.carriers) {
            return Err(Refused::OtherCount { said, found });
        }
        let carriers = found.carriers;
        let middle = median(forces.iter().copied().flatten()).unwrap_or(0.0);
        let gaps: Vec<Option<f64>> = view.gaps().collect();
        let of = |all: &[Option<f64>], at: usize| {
            median(all.iter().skip(at).step_by(carriers).take(ROUNDS).filter_map(|v| *v))
        };
        let places = (0..carriers).map(|at| Place {
            number: u32::try_from(at + 1).unwrap_or(u32::MAX),
            force: of(&forces, at).map_or(0.0, |force| force - middle),
            gap: of(&gaps, at),
            out: false,
        });
        let apart = |all: &[Option<f64>]| {
            let pairs = all.iter().zip(all.iter().skip(carriers));
            // Of two that scatter alike the difference scatters by the root of two more.
            spread(pairs.filter_map(|(a, b)| Some(b.as_ref()? - a.as_ref()?))).unwrap_or(0.0) / 2.0_f64.sqrt()
        };
        let fleet = spread(forces.iter().copied().flatten().map(|force| force - middle)).unwrap_or(0.0);
        let usual = median(gaps.iter().copied().flatten()).unwrap_or(0.0);
        let (force_by, gap_by) = (apart(&forces).max(fleet / FINEST).max(1.0), apart(&gaps).max(usual / 50.0).max(1.0));
        self.looped = Some(Loop { places: places.collect(), force_by, gap_by });
        self.missed = vec![0; carriers];
        self.next = u32::try_from(carriers + 1).unwrap_or(u32::MAX);
        self.count = Some(found);
        Ok(())
    }

    /// Lays a view along the loop, with a new place for each carrier that came again and was not known.
    fn lay(&mut self, view: &View, day: &mut Day, seen: &mut BTreeMap<usize, Vec<Vec<f64>>>) -> Option<Way> {
        let there = self.there().count();
        if view.passings.len() < there.max(1) {
            return None;
        }
        let mut way = self.looped.as_ref()?.lay(view)?;
        way = self.without(view, way);
        while let Some((after, force)) = self.stranger(view, &way) {
            let (at, mut looped) = (after + 1, self.looped.clone()?);
            looped.places.insert(at, Place { number: self.next, force, gap: None, out: false });
            // The place behind has another one before it now.
            if let Some(behind) = looped.places.get_mut(at + 1) {
                behind.gap = None;
            }
            // A place that explains nothing is none.
            let Some(again) = looped.lay(view).filter(|again| strangers(again) < strangers(&way)) else { break };
            let known = looped.places.get(after).map_or(0, |place| place.number);
            day.changes.push(Change::New(self.next, known));
            self.missed.insert(at, 0);
            *seen =
                std::mem::take(seen).into_iter().map(|(place, of)| (place + usize::from(place >= at), of)).collect();
            self.next += 1;
            self.looped = Some(looped);
            way = self.without(view, again);
        }
        Some(way)
    }

    /// A carrier that is gone does not come in any round: of neighbours that are much alike it is one that is missed, and not now this one and now
    /// that one. Places are taken for empty, one by one, as long as that makes the way likelier.
    fn without(&self, view: &View, mut way: Way) -> Way {
        let Some(mut looped) = self.looped.clone() else { return way };
        loop {
            let places = looped.places.len();
            let missed = way.skipped(places).into_iter().filter(|(_, times)| *times >= TWICE).map(|(place, _)| place);
            let emptied = |place: usize| {
                let mut emptied = looped.clone();
                emptied.places.get_mut(place).filter(|place| !place.out)?.out = true;
                Some((emptied.lay(view)?, emptied))
            };
            match missed.filter_map(emptied).min_by(|a, b| a.0.price.total_cmp(&b.0.price)) {
                Some((better, emptied)) if better.price < way.price => (way, looped) = (better, emptied),
                _ => return way,
            }
        }
    }

    /// A carrier that nobody knows and that came again: the place after which it hangs, and its force less the middle.
    fn stranger(&self, view: &View, way: &Way) -> Option<(usize, f64)> {
        let middle = median(view.forces().flatten())?;
        let mut all: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
        let mut before = None;
        for (whose, force) in way.whose.iter().zip(view.forces()) {
            // The first of several after one place.
            if let (Whose::Unknown(after), Some(Whose::Of(_))) = (*whose, before) {
                all.entry(after).or_default().extend(force);
            }
            before = Some(*whose);
        }
        let by = self.looped.as_ref()?.force_by;
        all.into_iter().find_map(|(after, forces)| {
            let force = median(forces.iter().copied())?;
            let alike = forces.iter().filter(|one| (**one - force).abs() < 5.0 * by).count();
            (alike >= 2 && 2 * alike > forces.len()).then_some((after, force - middle))
        })
    }

    /// Takes whose each passing was: who was missed, who came, and with what.
    fn follow(&mut self, view: &View, way: &Way, day: &mut Day, seen: &mut BTreeMap<usize, Vec<Vec<f64>>>) {
        let Some(looped) = &mut self.looped else { return };
        let places = looped.places.len();
        let mut last: Option<usize> = None;
        let mut came = vec![0_u32; places];
        for (whose, passing) in way.whose.iter().zip(&view.passings) {
            let Whose::Of(place) = *whose else {
                day.unknown += 1;
                continue;
            };
            day.numbered += 1;
            if let Some(last) = last {
                for skipped in between(last, place, places) {
                    if let (Some(missed), Some(came)) = (self.missed.get_mut(skipped), came.get_mut(skipped)) {
                        *missed += 1;
                        *came = 0;
                    }
                }
            }
            last = Some(place);
            let values = seen.entry(place).or_insert_with(|| vec![Vec::new(); self.trends.len()]);
            for (all, value) in values.iter_mut().zip(&passing.values) {
                all.extend(*value);
            }
            if let (Some(missed), Some(came)) = (self.missed.get_mut(place), came.get_mut(place)) {
                *missed = 0;
                *came += 1;
            }
        }
        for ((place, missed), came) in looped.places.iter_mut().zip(&self.missed).zip(came) {
            if !place.out && *missed >= TWICE {
                place.out = true;
                day.changes.push(Change::TakenOut(place.number));
            } else if place.out && came >= TWICE {
                place.out = false;
                day.changes.push(Change::Back(place.number));
            }
        }
        self.gaps(view, way);
    }

    /// Distances as they are now: a carrier that was taken out leaves more rope before the next.
    fn gaps(&mut self, view: &View, way: &Way) {
        let Some(looped) = &mut self.looped else { return };
        let mut all: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
        let pairs = way.whose.iter().zip(way.whose.iter().skip(1)).zip(view.gaps().skip(1));
        for ((before, whose), gap) in pairs {
            if let (Whose::Of(before), Whose::Of(place), Some(gap)) = (*before, *whose, gap)
                && (before + 1) % looped.places.len() == place
            {
                all.entry(place).or_default().push(gap);
            }
        }
        for (at, gaps) in all {
            if let Some(place) = looped.places.get_mut(at) {
                place.gap = median(gaps.into_iter());
            }
        }
    }

    /// The day's means go to the trends, and the forces to where the next day is laid.
    fn teach(&mut self, seen: &BTreeMap<usize, Vec<Vec<f64>>>) {
        let Some(looped) = &mut self.looped else { return };
        let number = self.days.len() + 1;
        let forces = |of: &Vec<Vec<f64>>| of.first().and_then(|all| mean(all));
        let there = seen.iter().filter(|(place, _)| looped.places.get(**place).is_some_and(|place| !place.out));
        let middle = median(there.filter_map(|(_, of)| forces(of))).unwrap_or(0.0);
        // The next day will be as far from this one as this one is from the one before.
        let moved =
            spread(seen.iter().filter_map(|(at, of)| Some(forces(of)? - middle - looped.places.get(*at)?.force)));
        looped.force_by = looped.force_by.max(moved.unwrap_or(0.0));
        for (at, of) in seen {
            let Some(place) = looped.places.get_mut(*at) else { continue };
            if let Some(force) = forces(of) {
                place.force = force - middle;
            }
            let passings = of.iter().map(Vec::len).max().unwrap_or(0);
            for (strips, values) in self.strips.iter_mut().zip(of) {
                strips.entry(place.number).or_default().day(number - 1, values);
            }
            *self.passings.entry(place.number).or_default() += u64::try_from(passings).unwrap_or(u64::MAX);
        }
        for (value, trend) in self.trends.iter_mut().enumerate() {
            let means =
                seen.iter().filter_map(|(at, of)| Some((looped.places.get(*at)?.number, mean(of.get(value)?)?)));
            trend.day(number, &means.collect());
        }
    }
}

/// Passings that are nobody's.
fn strangers(way: &Way) -> usize {
    way.whose.iter().filter(|whose| matches!(whose, Whose::Unknown(_))).count()
}
