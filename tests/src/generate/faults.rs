//! What can go wrong in a history, one thing at a time.

use host_tools::sample::Health;

use super::{Case, Rng, Role};

/// A fault, and what it is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Fault {
    /// A carrier is moved by so much, at once.
    Shift(i64),
    /// A carrier is gone, at once.
    Lose,
    /// A carrier appears, at once.
    Appear,
    /// The next carrier comes so much later, at once.
    Delay(i64),
    /// Two carriers enter, at once.
    Double,
    /// The rope runs backwards.
    Reverse,
    /// A gauge reads so much off.
    GaugeOff(usize, i64),
    /// A gauge swings to so much off and back in every scan.
    GaugeSwings(usize, i64),
    /// A gauge's current is not in the trusted range.
    GaugeHealth(usize, Health),
    /// Every channel of an input reads the opposite.
    Flip(usize),
    /// An input's first channel changes in every scan.
    Chatter(usize),
    /// The first or second channel of an input reads the opposite.
    Half(usize, bool),
    /// A channel of an input stays high or low.
    Stays(usize, bool),
    /// A source counts so much too much.
    SourceOff(usize, i32),
    /// A source does not count.
    SourceDead(usize),
    /// Everything runs too fast.
    TooFast,
    /// Slow orders are not obeyed.
    NotSlowed,
    /// No frame comes.
    LinkSilent,
    /// The other station orders something.
    LinkOrders(u8),
    /// A read-back does not follow.
    ReadBackStays(usize, bool),
    /// No mode is selected.
    NoMode,
    /// The key of another mode is turned while the rope runs.
    TurnsMode,
    /// The toggling contact rests.
    Lazy,
}

/// A fault that suits the station, and its length in scans (0: at once).
pub(super) fn draw(rng: &mut Rng, case: &Case) -> (Fault, i64) {
    let plan = &case.plan;
    let some = |rng: &mut Rng, wanted: fn(&Role) -> bool| -> usize {
        let all: Vec<usize> = (0..plan.roles.len()).filter(|&i| wanted(&plan.roles[i])).collect();
        rng.pick(&all)
    };
    let contact = |role: &Role| matches!(role, Role::Contact(_));
    let pair = |role: &Role| matches!(role, Role::Pair(_));
    let detector = |role: &Role| matches!(role, Role::Detector(_));
    let gauge = |role: &Role| matches!(role, Role::Gauge(_));
    let digital = |role: &Role| !matches!(role, Role::Gauge(_) | Role::Rope | Role::Conveyor | Role::Link);
    match rng.below(30) {
        0 | 1 => (Fault::Shift(rng.within(8, 18)), 0),
        2 | 3 => (Fault::Shift(-rng.within(8, 18)), 0),
        4 => (Fault::Lose, 0),
        5 | 6 => (Fault::Appear, 0),
        7 => (Fault::Delay(rng.within(12, 40)), 0),
        8 => (Fault::Delay(-rng.within(12, 20)), 0),
        9 | 10 => (Fault::Double, 0),
        11 => (Fault::Reverse, rng.within(3, 8)),
        12 => {
            let by = rng.within(3, 10);
            let by = if rng.chance(50) { by } else { -by };
            (Fault::GaugeOff(some(rng, gauge), by), rng.within(1, 15))
        }
        13 => (Fault::GaugeSwings(some(rng, gauge), rng.within(4, 12)), rng.within(1, 4)),
        14 => {
            let health = rng.pick(&[Health::Doubtful, Health::Broken]);
            (Fault::GaugeHealth(some(rng, gauge), health), rng.within(1, 6))
        }
        15 => (Fault::Flip(some(rng, contact)), rng.within(1, 12)),
        16 => (Fault::Chatter(some(rng, contact)), rng.within(3, 12)),
        17 => (Fault::Flip(some(rng, pair)), rng.within(1, 12)),
        18 => {
            // Of an input with one channel only, half of it is all or nothing.
            let input = if rng.chance(60) { some(rng, pair) } else { some(rng, digital) };
            (Fault::Half(input, rng.chance(50)), rng.within(1, 12))
        }
        19 => (Fault::Stays(some(rng, detector), rng.chance(50)), rng.within(6, 25)),
        20 => {
            let source = rng.index(case.station.sources.len());
            let by = rng.pick(&[-2, -1, 1, 1, 2, 30]);
            (Fault::SourceOff(source, by), rng.within(1, 20))
        }
        21 => (Fault::SourceDead(rng.index(case.station.sources.len())), rng.within(5, 30)),
        22 => (Fault::TooFast, rng.within(2, 20)),
        23 => (Fault::NotSlowed, rng.within(20, 40)),
        24 => (Fault::LinkSilent, rng.within(2, 12)),
        25 => {
            let rank = rng.index(usize::from(case.station.worst()) + 2);
            (Fault::LinkOrders(u8::try_from(rank).expect("few ranks")), rng.within(1, 10))
        }
        26 => {
            let output = rng.index(case.station.outputs.len());
            (Fault::ReadBackStays(output, rng.chance(50)), rng.within(5, 30))
        }
        27 => {
            if rng.chance(50) {
                (Fault::NoMode, rng.within(1, 6))
            } else {
                (Fault::TurnsMode, 1)
            }
        }
        28 => (Fault::Lazy, rng.within(10, 40)),
        // Any digital input at all, keys and the clear zone among them.
        _ => (Fault::Flip(some(rng, digital)), rng.within(1, 8)),
    }
}
