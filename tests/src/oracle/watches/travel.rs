//! Carriers under way between two detectors. The steps are numbered as in the manual.

use std::collections::VecDeque;

use host_tools::station::ways::Way;
use host_tools::station::{InputId, Measured, Travel};

use super::super::conditions::View;

/// A carrier under way.
#[derive(Debug, Clone)]
struct Carrier {
    /// Rope in mm, or scans.
    age: i64,
    /// Scans while the pace was not known to be still; grows only with a backstop.
    time: i64,
}

/// A travel.
#[derive(Debug, Clone)]
pub(crate) struct TravelState {
    queue: VecDeque<Carrier>,
    /// Arrivals that nobody explains are excused.
    excusing: bool,
    /// The stretch asks for the slow order.
    held: bool,
    excuses: i64,
    /// Forward rope since the stretch began to excuse.
    run: i64,
}

impl TravelState {
    pub(super) fn power_up(travel: &Travel) -> Self {
        Self { queue: VecDeque::new(), excusing: true, held: true, excuses: i64::from(travel.capacity), run: 0 }
    }

    pub(super) fn scan(&mut self, travel: &Travel, view: &View) -> Vec<Way> {
        let mut ways = Vec::new();
        let pace = pace_of(travel.measured);
        let forward = view.forward(pace);
        let backward = view.backward(pace);
        let from = &view.inputs[travel.from];
        let to = &view.inputs[travel.to];

        // 1. Ages, times and the run grow.
        for carrier in &mut self.queue {
            match travel.measured {
                Measured::Rope(_) => {
                    carrier.age = (carrier.age + forward).min(i64::from(travel.latest) + 1);
                    carrier.age = (carrier.age - backward).max(0);
                }
                Measured::Time { .. } => {
                    carrier.age = (carrier.age + 1).min(i64::from(travel.latest) + 1);
                }
            }
            if let Some(backstop) = travel.backstop
                && !view.still(pace)
            {
                carrier.time = (carrier.time + 1).min(i64::from(backstop) + 1);
            }
        }
        self.run = (self.run + forward).min(i64::from(travel.run));
        let mut just_set = false;

        // 2. A time window outside its band says nothing.
        let mut out_of_band = false;
        if let Measured::Time { pace, least, most } = travel.measured {
            out_of_band = !view.in_band(pace, least, most);
        }
        if out_of_band {
            self.queue.clear();
            self.refill(travel);
            self.held = false;
            just_set = true;
        }

        // 3. An edge while the pace runs backwards.
        let edge = from.rises || from.falls || to.rises || to.falls;
        let backwards = backward > 0 && edge;
        if backwards {
            ways.push(Way::Backwards);
            self.queue.clear();
            self.refill(travel);
            just_set = true;
        }

        // 4. Arrival.
        if to.rises && !backwards {
            let excuse_left = self.excusing && self.excuses > 0;
            let arrives = match self.queue.front() {
                Some(front) => front.age >= i64::from(travel.earliest) || !excuse_left,
                None => false,
            };
            if arrives {
                let front = self.queue.pop_front().expect("there is a front carrier");
                if front.age < i64::from(travel.earliest) {
                    ways.push(Way::Early);
                }
                if is_late(travel, &front) {
                    ways.push(Way::Late);
                }
            } else if excuse_left {
                self.excuses -= 1;
            } else {
                ways.push(Way::Stray);
            }
        }

        // 5. The carrier now in front.
        if self.queue.front().is_some_and(|front| is_late(travel, front)) {
            self.queue.pop_front();
            ways.push(Way::Late);
            self.refill(travel);
            just_set = true;
        }

        // 6. Start.
        if from.rises && !backwards && !out_of_band {
            if self.under_way() >= usize::try_from(travel.capacity).expect("32 bits fit") {
                ways.push(Way::Crowded);
            } else {
                self.queue.push_back(Carrier { age: 0, time: 0 });
            }
        }

        // 7. The end of a refill.
        if !just_set && self.run >= i64::from(travel.run) {
            self.excusing = false;
            self.held = false;
        }
        ways
    }

    /// The stretch refills.
    pub(super) fn refill(&mut self, travel: &Travel) {
        self.excusing = true;
        self.held = true;
        self.excuses = i64::from(travel.capacity);
        self.run = 0;
    }

    /// Nobody is under way any more.
    pub(super) fn empty(&mut self) {
        self.queue.clear();
    }

    /// Carriers under way.
    pub(crate) fn under_way(&self) -> usize {
        self.queue.len()
    }

    /// The stretch excuses.
    pub(crate) fn excusing(&self) -> bool {
        self.excusing
    }

    /// The stretch refills and is held, so it asks for the slow order.
    pub(crate) fn asks_slow(&self) -> bool {
        self.excusing && self.held
    }
}

/// Above its greatest age or its greatest time.
fn is_late(travel: &Travel, carrier: &Carrier) -> bool {
    let too_long = travel.backstop.is_some_and(|backstop| carrier.time > i64::from(backstop));
    carrier.age > i64::from(travel.latest) || too_long
}

/// The pace by whose rope a stretch refills.
fn pace_of(measured: Measured) -> InputId {
    match measured {
        Measured::Rope(pace) | Measured::Time { pace, .. } => pace,
    }
}
