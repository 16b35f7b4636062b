//! How one requirement is judged, scan by scan, over any reading.

mod carriers;
mod effect;
mod events;
mod pressed;

use super::raw::Shape;
use crate::station::{Condition, Form, InputId, InputKind, Measured, Observed, Rank, Station};
use carriers::Stretch;
use events::{Leaps, Spaced, Stayed};
use logic_rules::Algebra;
use logic_rules::monitor::{
    Apart, Clearing, Deadline, Follower, Leap, Obligation, Outcome, Pause, Release, Stays, Traffic, Window,
};
use pressed::Pressed;

pub use carriers::{Counted, Follow};
pub use effect::Effect;

/// Goes through cells in their order.
pub trait Visit<A: Algebra> {
    /// A bit.
    fn bit(&mut self, cell: &mut A::Bit);
    /// A word.
    fn word(&mut self, cell: &mut A::Word);
}

/// What a judge sees of a scan. Slices that are too short count against the rules.
pub struct Seen<'s, A: Algebra> {
    /// Each watch of the raw station trips.
    pub trips: &'s [A::Bit],
    /// Each channel rises.
    pub rises: &'s [A::Bit],
    /// Travel of each pace: forward, back.
    pub travel: &'s [[A::Word; 2]],
    /// Speed of each pace, in either direction, and whether it is known.
    pub speeds: &'s [(A::Word, A::Bit)],
    /// Value of each gauge, and whether it is good.
    pub readings: &'s [(A::Word, A::Bit)],
    /// At place `r`: an answer of rank `r` or above stood in the verdict before.
    pub before: &'s [A::Bit],
    /// At place `r`: an answer of rank `r` or above stands in this verdict.
    pub now: &'s [A::Bit],
    /// Each output is off.
    pub off: &'s [A::Bit],
    /// A start is permitted.
    pub permit: A::Bit,
    /// Each assumption is known not to hold.
    pub broken: &'s [A::Bit],
}

impl<A: Algebra> Seen<'_, A> {
    fn trip(&self, a: &mut A, watch: usize) -> A::Bit {
        self.trips.get(watch).copied().unwrap_or_else(|| a.bit(true))
    }
    /// What is asked, where nothing excuses: the guard of an `unless` trips while it is not known to hold.
    fn unless(&self, a: &mut A, asked: A::Bit, unless: Option<usize>) -> A::Bit {
        let Some(unless) = unless else { return asked };
        let open = self.trip(a, unless);
        a.and(asked, open)
    }
    fn stood(&self, a: &mut A, least: Rank) -> A::Bit {
        self.before.get(usize::from(least)).copied().unwrap_or_else(|| a.bit(false))
    }
    fn stands(&self, a: &mut A, least: Rank) -> A::Bit {
        self.now.get(usize::from(least)).copied().unwrap_or_else(|| a.bit(false))
    }
}

/// How a requirement is judged: the watches of the raw station that stand for its conditions, and its own state.
#[derive(Clone)]
pub enum Judge<A: Algebra> {
    /// A condition, and an answer in time.
    Obliged {
        /// Trips where the condition holds.
        bit: usize,
        /// Trips where nothing excuses.
        unless: Option<usize>,
        /// The times.
        deadline: Deadline,
        /// Least rank of the answer.
        least: Rank,
        /// What is due.
        state: Obligation<A>,
    },
    /// Whatever breaks an assumption, and an answer in time.
    Held {
        /// The assumption.
        assumption: usize,
        /// The times.
        deadline: Deadline,
        /// Least rank of the answer.
        least: Rank,
        /// What is due.
        state: Obligation<A>,
    },
    /// Passings of a detector that are too close, or too far apart, and an answer in time.
    Spaced(Box<Spaced<A>>),
    /// A key comes to be held, and an answer in time.
    Pressed(Box<Pressed<A>>),
    /// Something that lasts from a rise on, and an answer in time.
    Stays(Box<Stayed<A>>),
    /// A gauge that moves too far in a scan, and an answer in time.
    Leaps(Box<Leaps<A>>),
    /// Carriers under way are counted.
    Counted(Box<Counted<A>>),
    /// Carriers are followed.
    Follow(Box<Follow<A>>),
    /// The effect of a stop is seen in time, or an answer stands in time.
    Effect(Box<Effect<A>>),
    /// An answer stands in every scan in which a condition holds.
    Never {
        /// Trips where the condition holds.
        bit: usize,
        /// Trips where nothing excuses, if the condition does not say so itself.
        unless: Option<usize>,
        /// Least rank of the answer.
        least: Rank,
    },
    /// No stop goes without a key.
    Released {
        /// Trips while the key is held.
        bit: usize,
        /// Trips where nothing excuses.
        unless: Option<usize>,
        /// Scans that a press and its settling take at most.
        longest: u32,
        /// Rank of the mildest stop.
        first_stop: Rank,
        /// What was seen of the key.
        state: Release<A>,
    },
    /// No stop goes but where a condition has held.
    Cleared {
        /// Trips where the condition may not hold.
        bit: usize,
        /// Trips where nothing excuses.
        unless: Option<usize>,
        /// Scans for which it must have held, beside the first.
        lasting: u32,
        /// Rank of the mildest stop.
        first_stop: Rank,
        /// For how long it has held.
        state: Clearing<A>,
    },
    /// No start is permitted soon after a stop.
    Paused {
        /// Trips where nothing excuses.
        unless: Option<usize>,
        /// The scan without a stop in which it may be.
        pause: u32,
        /// Rank of the mildest stop.
        first_stop: Rank,
        /// For how long no stop has stood.
        state: Pause<A>,
    },
    /// Two outputs are never off together.
    Together {
        /// Outputs.
        outputs: [usize; 2],
        /// Trips where nothing excuses.
        unless: Option<usize>,
    },
}

impl<A: Algebra> Judge<A> {
    /// Starts to judge; `stopped` is whether the most severe stop stood before, as at power-up.
    pub(super) fn new(a: &mut A, station: &Station, form: &Form, shape: Shape, stopped: bool) -> Self {
        let deadline = |lasting, within| Deadline { lasting, within };
        match form {
            Form::Whenever {
                condition:
                    Condition::Observed(spaced @ (Observed::Closer(_, pace, mm) | Observed::Farther(_, pace, mm))),
                lasting,
                least,
                within,
            } => Self::Spaced(Box::new(Spaced {
                channel: shape.channel.unwrap_or(usize::MAX),
                pace: pace_number(station, *pace),
                limit: *mm,
                closer: matches!(spaced, Observed::Closer(..)),
                unless: shape.unless,
                least: *least,
                deadline: deadline(*lasting, *within),
                state: Obligation::new(a),
                distance: Apart::new(a),
            })),
            Form::Whenever {
                condition: Condition::Observed(Observed::Leaping(gauge, most)),
                lasting,
                least,
                within,
            } => {
                let terminal = match station.inputs.get(*gauge).map(|input| &input.kind) {
                    Some(InputKind::Gauge(gauge)) => gauge.terminal,
                    _ => usize::MAX,
                };
                Self::Leaps(Box::new(Leaps {
                    gauge: terminal,
                    most: *most,
                    unless: shape.unless,
                    least: *least,
                    deadline: deadline(*lasting, *within),
                    state: Obligation::new(a),
                    leap: Leap::new(a),
                }))
            }
            Form::Whenever {
                condition: Condition::Observed(observed @ (Observed::Stray(way) | Observed::Crowded(way, _))),
                lasting,
                least,
                within,
            } => Self::Counted(Box::new(Counted {
                stretch: Stretch::of(station, Measured::Rope(way.pace), shape),
                window: Window { earliest: 0, latest: way.latest },
                most: if let Observed::Crowded(_, most) = observed { Some(*most) } else { None },
                least: *least,
                deadline: deadline(*lasting, *within),
                state: Obligation::new(a),
                traffic: Traffic::new(a),
            })),
            Form::Whenever { condition: Condition::Observed(Observed::Pressed(..)), lasting, least, within } => {
                Self::Pressed(Box::new(Pressed::new(a, shape, *least, deadline(*lasting, *within))))
            }
            Form::Whenever { lasting, least, within, .. } => Self::Obliged {
                bit: shape.bit,
                unless: shape.unless,
                deadline: deadline(*lasting, *within),
                least: *least,
                state: Obligation::new(a),
            },
            Form::WhenRises { lasting: lasting @ 1.., least, within, .. } => Self::Stays(Box::new(Stayed {
                bit: shape.bit,
                channel: shape.channel.unwrap_or(usize::MAX),
                lasting: *lasting,
                unless: shape.unless,
                least: *least,
                deadline: deadline(0, *within),
                state: Obligation::new(a),
                stays: Stays::new(a),
            })),
            Form::WhenRises { least, within, .. } => Self::Obliged {
                bit: shape.bit,
                unless: shape.unless,
                deadline: deadline(0, *within),
                least: *least,
                state: Obligation::new(a),
            },
            Form::Held { assumption, least, within, .. } => Self::Held {
                assumption: *assumption,
                deadline: deadline(0, *within),
                least: *least,
                state: Obligation::new(a),
            },
            Form::Effect { after, lasting, slower, least, within, .. } => {
                let slower = slower.map(|(pace, drop)| (pace_number(station, pace), drop));
                let deadline = deadline(*lasting, *within);
                Self::Effect(Box::new(Effect::new(a, shape, [*after, *least], deadline, slower)))
            }
            Form::Never { least, .. } => Self::Never { bit: shape.bit, unless: shape.unless, least: *least },
            Form::NeverReleased { key } => {
                let settle = match station.inputs.get(*key).map(|i| &i.kind) {
                    Some(InputKind::Key(k)) => k.settle.up.max(k.settle.down),
                    _ => 0,
                };
                let press = station.reset.as_ref().map_or(0, |r| r.longest);
                let longest = press.saturating_add(settle).saturating_add(2);
                Self::Released {
                    bit: shape.bit,
                    unless: shape.unless,
                    longest,
                    first_stop: station.first_stop(),
                    state: Release::new(a, longest, stopped),
                }
            }
            Form::NeverReleasedBut { lasting, .. } => Self::Cleared {
                bit: shape.bit,
                unless: shape.unless,
                lasting: *lasting,
                first_stop: station.first_stop(),
                state: Clearing::new(a, stopped),
            },
            Form::NeverPermitted { pause } => Self::Paused {
                unless: shape.unless,
                pause: *pause,
                first_stop: station.first_stop(),
                state: Pause::new(a, *pause, stopped),
            },
            Form::NeverTogether(x, y) => Self::Together { outputs: [*x, *y], unless: shape.unless },
            Form::After { measured, earliest, latest, capacity, least, within, .. } => Self::Follow(Box::new(Follow {
                stretch: Stretch::of(station, *measured, shape),
                window: Window { earliest: *earliest, latest: *latest },
                least: *least,
                deadline: deadline(0, *within),
                state: Obligation::new(a),
                followers: (0..*capacity).map(|_| Follower::new(a)).collect(),
                traffic: Traffic::new(a),
            })),
        }
    }
    /// Goes through its cells.
    pub fn visit(&mut self, visit: &mut impl Visit<A>) {
        match self {
            Self::Obliged { state, .. } | Self::Held { state, .. } => {
                visit.word(&mut state.held);
                visit.word(&mut state.due);
            }
            Self::Effect(effect) => {
                visit.word(&mut effect.state.held);
                visit.word(&mut effect.state.due);
                visit.bit(&mut effect.seen);
                if let Some(slower) = &mut effect.slower {
                    visit.bit(&mut slower.stood);
                    visit.bit(&mut slower.covered);
                    visit.word(&mut slower.before);
                }
            }
            Self::Spaced(spaced) => {
                visit.word(&mut spaced.state.held);
                visit.word(&mut spaced.state.due);
                visit.bit(&mut spaced.distance.known);
                visit.word(&mut spaced.distance.since);
            }
            Self::Pressed(pressed) => {
                visit.word(&mut pressed.state.held);
                visit.word(&mut pressed.state.due);
                visit.bit(&mut pressed.was);
            }
            Self::Stays(stayed) => {
                visit.word(&mut stayed.state.held);
                visit.word(&mut stayed.state.due);
                visit.word(&mut stayed.stays.lasted);
            }
            Self::Leaps(leaps) => {
                visit.word(&mut leaps.state.held);
                visit.word(&mut leaps.state.due);
                visit.bit(&mut leaps.leap.was_good);
                visit.word(&mut leaps.leap.before);
            }
            Self::Counted(counted) => {
                visit.word(&mut counted.state.held);
                visit.word(&mut counted.state.due);
                visit.bit(&mut counted.traffic.known);
                visit.word(&mut counted.traffic.inside);
                visit.word(&mut counted.traffic.run);
            }
            Self::Follow(follow) => {
                visit.word(&mut follow.state.held);
                visit.word(&mut follow.state.due);
                visit.bit(&mut follow.traffic.known);
                visit.word(&mut follow.traffic.inside);
                visit.word(&mut follow.traffic.run);
                for follower in &mut follow.followers {
                    visit.bit(&mut follower.following);
                    visit.word(&mut follower.ahead);
                    visit.word(&mut follower.age);
                }
            }
            Self::Released { state, .. } => {
                visit.word(&mut state.since);
                visit.bit(&mut state.stopped);
            }
            Self::Cleared { state, .. } => {
                visit.word(&mut state.held);
                visit.bit(&mut state.stopped);
            }
            Self::Paused { state, .. } => visit.word(&mut state.rest),
            Self::Never { .. } | Self::Together { .. } => {}
        }
    }
    /// One scan. `picks` says of each follower whether it takes a carrier that starts.
    pub fn scan(&mut self, a: &mut A, seen: &Seen<'_, A>, picks: &[A::Bit]) -> Outcome<A> {
        let (no, none) = (a.bit(false), a.word(0));
        let only = |missed| Outcome { met: no, missed, waited: none };
        match self {
            Self::Obliged { bit, unless, deadline, least, state } => {
                let asked = seen.trip(a, *bit);
                let asked = seen.unless(a, asked, *unless);
                let (stood, stands) = (seen.stood(a, *least), seen.stands(a, *least));
                state.scan(a, *deadline, asked, stood, stands)
            }
            Self::Held { assumption, deadline, least, state } => {
                let broken = seen.broken.get(*assumption).copied().unwrap_or_else(|| a.bit(true));
                let (stood, stands) = (seen.stood(a, *least), seen.stands(a, *least));
                state.scan(a, *deadline, broken, stood, stands)
            }
            Self::Never { bit, unless, least } => {
                let (asked, stands) = (seen.trip(a, *bit), seen.stands(a, *least));
                let asked = seen.unless(a, asked, *unless);
                only(a.but(asked, stands))
            }
            Self::Released { bit, unless, longest, first_stop, state } => {
                let (held, stop) = (seen.trip(a, *bit), seen.stands(a, *first_stop));
                let missed = state.scan(a, *longest, held, stop);
                only(seen.unless(a, missed, *unless))
            }
            Self::Cleared { bit, unless, lasting, first_stop, state } => {
                let (doubtful, stop) = (seen.trip(a, *bit), seen.stands(a, *first_stop));
                let holds = a.not(doubtful);
                let missed = state.scan(a, *lasting, holds, stop);
                only(seen.unless(a, missed, *unless))
            }
            Self::Paused { unless, pause, first_stop, state } => {
                let stop = seen.stands(a, *first_stop);
                let missed = state.scan(a, *pause, seen.permit, stop);
                only(seen.unless(a, missed, *unless))
            }
            Self::Together { outputs: [x, y], unless } => {
                let off = |a: &mut A, output: usize| seen.off.get(output).copied().unwrap_or_else(|| a.bit(true));
                let (one, other) = (off(a, *x), off(a, *y));
                let both = a.and(one, other);
                only(seen.unless(a, both, *unless))
            }
            Self::Effect(effect) => effect.scan(a, seen),
            Self::Spaced(spaced) => spaced.scan(a, seen),
            Self::Pressed(pressed) => pressed.scan(a, seen),
            Self::Stays(stayed) => stayed.scan(a, seen),
            Self::Leaps(leaps) => leaps.scan(a, seen),
            Self::Counted(counted) => counted.scan(a, seen),
            Self::Follow(follow) => follow.scan(a, seen, picks),
        }
    }
}

/// Number of a pace among the paces.
pub fn pace_number(station: &Station, pace: InputId) -> usize {
    station.inputs.iter().take(pace).filter(|i| matches!(i.kind, InputKind::Pace(_))).count()
}
