//! Random stations and lively histories, each from one seed.
//!
//! A station is made as a resolved tree that can be said in the rule language and passes `check`, with limits so
//! small that things happen within a few scans. Its [`Plan`] says what it was made for (speed of the rope, places of
//! the detectors, values at rest), so that a history can keep it mostly healthy: carriers pass the
//! detectors at about the right age, an operator resets, and faults are put in one at a time.

mod answers;
mod conditions;
mod faults;
mod history;
mod inputs;
mod kept;
mod line;
mod observed;
mod operator;
mod raw;
mod requirements;
mod rng;
mod watches;

use host_tools::station::{InputId, Settle, Station};

pub use history::History;
pub use observed::{ask_after_stops, ask_observed, ask_under_way, kept_observed};
pub use raw::Raw;
pub use rng::Rng;

/// What an input of a generated station is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// The pace of the rope.
    Rope,
    /// The pace of a conveyor that runs with the rope.
    Conveyor,
    /// The detector at this place of the line.
    Detector(usize),
    /// A contact at rest.
    Contact(usize),
    /// A contact that toggles now and then.
    Toggle,
    /// A contact that is closed while nobody is between the first two detectors.
    Clear,
    /// A contact that is closed while the drive runs.
    Running,
    /// A pair at rest.
    Pair(usize),
    /// A gauge about its nominal value.
    Gauge(usize),
    /// The other station.
    Link,
    /// The key of a mode.
    ModeKey(usize),
    /// The reset key.
    ResetKey,
    /// The key of a bypass.
    BypassKey(usize),
    /// The key of the refills.
    RefillKey,
}

/// What a station was made for.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Role of each input.
    pub roles: Vec<Role>,
    /// Rope in a scan at normal speed, mm.
    pub speed: i64,
    /// Rope in a scan under a slow order, mm.
    pub slow: i64,
    /// Length of the paces' span, scans.
    pub span: i64,
    /// Rope between two carriers, mm.
    pub spacing: i64,
    /// Rope for which a carrier covers a detector, mm.
    pub flag: i64,
    /// Place of each detector, mm.
    pub at: Vec<i64>,
    /// Settling of each detector.
    pub settle: Vec<Settle>,
    /// Unit of the gauges, and millionths of it that are a step.
    pub unit: &'static str,
    /// See [`Plan::unit`].
    pub step: i64,
    /// Value of the gauges at rest, in steps from zero.
    pub nominal: i64,
    /// The rope stops while a stop stands.
    pub obeys: bool,
}

impl Plan {
    /// The input with a role.
    pub fn id(&self, role: Role) -> InputId {
        self.roles.iter().position(|&r| r == role).expect("the role is taken")
    }

    /// Whether a role is taken.
    pub fn has(&self, role: Role) -> bool {
        self.roles.contains(&role)
    }
}

/// A station with its plan.
#[derive(Debug, Clone)]
pub struct Case {
    /// The station.
    pub station: Station,
    /// What it was made for.
    pub plan: Plan,
}

/// The station of a seed.
pub fn case(seed: u64) -> Case {
    let mut rng = Rng::new(seed);
    let mut plan = draw_plan(&mut rng);
    let mut station = answers::empty(&mut rng);
    answers::outputs_and_answers(&mut rng, &plan, &mut station);
    inputs::fill(&mut rng, &mut plan, &mut station);
    watches::fill(&mut rng, &plan, &mut station);
    answers::keys(&mut rng, &mut plan, &mut station);
    requirements::fill(&mut rng, &plan, &mut station);
    Case { station, plan }
}

fn draw_plan(rng: &mut Rng) -> Plan {
    let speed = rng.within(3, 5);
    let detectors = rng.size(3, 4);
    let mut roles = vec![Role::Rope, Role::Conveyor, Role::Toggle, Role::Clear, Role::Running];
    roles.extend((0..detectors).map(Role::Detector));
    roles.extend((0..rng.size(1, 3)).map(Role::Contact));
    roles.extend((0..rng.size(1, 2)).map(Role::Pair));
    roles.extend((0..2).map(Role::Gauge));
    roles.extend((0..rng.size(2, 3)).map(Role::ModeKey));
    roles.extend((0..rng.size(1, 3)).map(Role::BypassKey));
    roles.extend([Role::ResetKey, Role::RefillKey]);
    if rng.chance(80) {
        roles.push(Role::Link);
    }
    rng.shuffle(&mut roles);
    let mut at = vec![rng.within(0, 10)];
    at.push(at[0] + rng.within(18, 22));
    while at.len() < detectors {
        let last = at[at.len() - 1];
        at.push(last + rng.within(18, 40));
    }
    // Detectors settle nearly alike, so that a window starts no sooner than a scan's rope.
    let up = rng.small(0, 2);
    let settle = |rng: &mut Rng| Settle { up: up + rng.small(0, 1), down: rng.small(0, 2) };
    let (unit, step) =
        rng.pick(&[("N", 1_000_000), ("N", 10_000_000), ("mm", 500_000), ("%", 250_000), ("kN", 20_000)]);
    Plan {
        roles,
        speed,
        slow: rng.within(1, 2),
        span: rng.within(2, 8),
        spacing: rng.within(42, 60),
        flag: speed * 4 + rng.within(1, 4),
        settle: at.iter().map(|_| settle(rng)).collect(),
        at,
        nominal: rng.within(20, 30),
        unit,
        step,
        obeys: rng.chance(50),
    }
}
