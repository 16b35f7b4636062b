//! A station with its requirements as one machine, over any reading: the rules, the bare plan that
//! forms what requirements ask on raw inputs, the judges, and what is declared of the signals.

use super::claim::Subject;
use super::standing::{Scan, violated};
use crate::lower::{Program, lower};
pub use crate::monitor::Visit;
use crate::monitor::{Before, Judge, MonitorPlan, Seen};
use crate::station::Station;
use crate::station::signals::{Signal, signals};
use logic_rules::Algebra;
use logic_rules::cells::{Bits, Words};
use logic_rules::monitor::{Apart, Outcome, Persistence};
use logic_rules::plan::{Fault, PaceRow, Plan};
use logic_rules::step::{Bound, Frame, Inputs, Moved, Reading, Verdict, power_up};

/// What is put together of a station; borrows its plans.
pub struct Model<'p> {
    /// The station.
    pub station: &'p Station,
    /// Its program.
    pub program: &'p Program,
    /// Its plan.
    pub plan: &'p Plan<'p>,
    /// Conditions of its requirements.
    pub monitors: &'p MonitorPlan,
    /// The bare plan that forms them.
    pub raw: &'p Plan<'p>,
    /// What is declared of each channel, if anything is.
    pub signals: Vec<Signal>,
}

/// All cells of state.
#[derive(Clone)]
pub struct Memory<A: Algebra> {
    /// Bits of the rules.
    pub bits: Vec<A::Bit>,
    /// Words of the rules.
    pub words: Vec<A::Word>,
    /// Bits of the bare plan.
    pub raw_bits: Vec<A::Bit>,
    /// Words of the bare plan.
    pub raw_words: Vec<A::Word>,
    /// Bypasses that were active in the scan before.
    pub active: Vec<A::Bit>,
    /// Requirements.
    pub judges: Vec<Judge<A>>,
    /// Distances that are assumed.
    pub distances: Vec<Apart<A>>,
    /// Signals.
    pub signals: Vec<Persistence<A>>,
}

/// All inputs of a scan.
#[derive(Clone)]
pub struct Given<A: Algebra> {
    /// Channels.
    pub channels: Vec<A::Bit>,
    /// Gauges.
    pub gauges: Vec<Reading<A>>,
    /// Sources.
    pub sources: Vec<Moved<A>>,
    /// Links.
    pub links: Vec<Frame<A>>,
    /// Which carriers are followed: one for each requirement.
    pub picks: Vec<A::Bit>,
}

/// What a scan tells.
pub struct Told<A: Algebra> {
    /// What the rules publish.
    pub verdict: Verdict<A>,
    /// At place `r`: an answer of rank `r` or above stands.
    pub now: Vec<A::Bit>,
    /// Each requirement.
    pub outcomes: Vec<Outcome<A>>,
    /// Each assumption is known not to hold.
    pub broken: Vec<A::Bit>,
    /// Each signal does what is declared.
    pub kept: Vec<A::Bit>,
    /// Each property of every station is violated.
    pub standing: Vec<A::Bit>,
}

impl<A: Algebra> Told<A> {
    /// What is never to happen.
    pub fn bad(&self, subject: Subject) -> Option<A::Bit> {
        match subject {
            Subject::Requirement(i) => self.outcomes.get(i).map(|outcome| outcome.missed),
            Subject::Standing(i) => self.standing.get(i).copied(),
        }
    }
}

impl<A: Algebra> Memory<A> {
    /// Goes through all cells; the order is that of [`super::cells::names`].
    pub fn visit(&mut self, visit: &mut impl Visit<A>) {
        self.bits.iter_mut().for_each(|cell| visit.bit(cell));
        self.words.iter_mut().for_each(|cell| visit.word(cell));
        self.raw_bits.iter_mut().for_each(|cell| visit.bit(cell));
        self.raw_words.iter_mut().for_each(|cell| visit.word(cell));
        self.active.iter_mut().for_each(|cell| visit.bit(cell));
        for judge in &mut self.judges {
            judge.visit(visit);
        }
        for distance in &mut self.distances {
            visit.bit(&mut distance.known);
            visit.word(&mut distance.since);
        }
        for signal in &mut self.signals {
            visit.bit(&mut signal.level);
            visit.word(&mut signal.stood);
        }
    }
}

/// Puts a station together, and hands it on with the plans that it borrows.
///
/// # Errors
/// None that a station which was checked can cause.
pub fn with_model<T>(station: &Station, run: impl FnOnce(&Model<'_>) -> T) -> Result<T, Fault> {
    let (program, monitors) = (lower(station), MonitorPlan::new(station));
    let (plan, raw) = (program.plan()?, monitors.plan()?);
    Ok(run(&Model {
        station,
        program: &program,
        plan: &plan,
        monitors: &monitors,
        raw: &raw,
        signals: signals(station),
    }))
}

impl Model<'_> {
    /// The state at power-up.
    ///
    /// # Errors
    /// None that a verified plan can cause.
    pub fn power_up<A: Algebra>(&self, a: &mut A) -> Result<Memory<A>, Fault> {
        let (no, zero) = (a.bit(false), a.word(0));
        let no_room = Fault::TooMany("cells");
        let (needs, raw) = (self.plan.needs(), self.raw.needs());
        let (mut bits, mut words) = (vec![no; needs.bits], vec![zero; needs.words]);
        power_up(a, self.plan, &mut bits, &mut words).ok_or(no_room)?;
        let (mut raw_bits, mut raw_words) = (vec![no; raw.bits], vec![zero; raw.words]);
        power_up(a, self.raw, &mut raw_bits, &mut raw_words).ok_or(no_room)?;
        let mut judges = self.monitors.judges(a, self.station, true);
        for judge in &mut judges {
            // One carrier, any one, stands for all.
            if let Judge::Follow(follow) = judge {
                follow.followers.truncate(1);
            }
        }
        let signals = self.signals.iter().map(|_| Persistence::new(a)).collect();
        let (active, distances) = (vec![no; self.station.bypasses.len()], self.monitors.distances(a));
        Ok(Memory { bits, words, raw_bits, raw_words, active, judges, distances, signals })
    }
    /// One scan.
    ///
    /// # Errors
    /// None that a verified plan and its own inputs can cause.
    pub fn scan<A: Algebra>(&self, a: &mut A, memory: &mut Memory<A>, given: &Given<A>) -> Result<Told<A>, Fault> {
        let no_room = Fault::TooMany("cells");
        let (no, zero) = (a.bit(false), a.word(0));
        let (needs, raw) = (self.plan.needs(), self.raw.needs());
        let (mut work_bits, mut work_words) = (vec![no; needs.work_bits], vec![zero; needs.work_words]);
        let (mut bits, mut words) = (memory.bits.clone(), memory.words.clone());
        let (bits, words) = (Bits::cut(&mut bits, self.plan), Words::cut(&mut words, self.plan));
        let mut rules = Bound::over(self.plan, &mut memory.bits, &mut memory.words, &mut work_bits, &mut work_words)
            .ok_or(no_room)?;
        let first = match rules.bits().started.first() {
            Some([started]) => a.not(*started),
            None => a.bit(false),
        };
        let before = at_least(a, rules.bits().published);
        let inputs =
            Inputs { channels: &given.channels, gauges: &given.gauges, sources: &given.sources, links: &given.links };
        // Only the rules are cut: the bare plan is what they are judged by.
        a.cutting(true);
        let scanned = rules.scan(a, &inputs);
        a.cutting(false);
        let verdict = scanned.ok_or(no_room)?;
        let now = at_least(a, rules.work.stands);
        let off: Vec<A::Bit> = rules.bits().output.iter().map(|[off, _]| *off).collect();
        let (bits, words) = (bits.ok_or(no_room)?, words.ok_or(no_room)?);
        let scan =
            Scan { bits: &bits, words: &words, after: &rules, gauges: &given.gauges, verdict: &verdict, now: &now };
        let standing = violated(a, self, &scan);
        let active: Vec<A::Bit> = rules.work.active.iter().map(|[active]| *active).collect();

        let (mut raw_work, mut raw_levels) = (vec![no; raw.work_bits], vec![zero; raw.work_words]);
        let mut bare =
            Bound::over(self.raw, &mut memory.raw_bits, &mut memory.raw_words, &mut raw_work, &mut raw_levels)
                .ok_or(no_room)?;
        let mut channels = Vec::new();
        let were_off: Vec<A::Bit> = bits.output.iter().map(|[off, _]| *off).collect();
        let fresh: Vec<A::Bit> = given.links.iter().map(|frame| frame.fresh).collect();
        let published = Before { active: &memory.active, answer: &before, off: &were_off, fresh: &fresh };
        self.monitors.channels(a, &given.channels, &published, &mut channels);
        bare.scan(a, &Inputs { channels: &channels, ..inputs }).ok_or(no_room)?;
        let mut trips = Vec::new();
        self.monitors.trips(a, bare.work.trip, &mut trips);
        let (travel, distances, mut broken) = (&*bare.levels.travel, &mut memory.distances, Vec::new());
        self.monitors.broken(a, &trips, bare.work.rise, travel, distances, &mut broken);
        let mut speeds = Vec::new();
        self.monitors.speeds(&bare, &mut speeds);
        let mut readings = Vec::new();
        self.monitors.readings(&bare, &mut readings);
        let rises: Vec<A::Bit> = bare.work.rise.iter().map(|[rise]| *rise).collect();
        let seen = Seen {
            trips: &trips,
            rises: &rises,
            travel,
            speeds: &speeds,
            readings: &readings,
            before: &before,
            now: &now,
            off: &off,
            permit: verdict.permit,
            broken: &broken,
        };
        let mut outcomes = Vec::new();
        for (i, judge) in memory.judges.iter_mut().enumerate() {
            let picks = given.picks.get(i..=i).unwrap_or_default();
            outcomes.push(judge.scan(a, &seen, picks));
        }
        let mut kept = Vec::new();
        for (signal, state) in self.signals.iter().zip(&mut memory.signals) {
            let level = given.channels.get(signal.channel).copied().unwrap_or(no);
            kept.push(state.scan(a, signal.low, signal.high, level, first));
        }
        memory.active = active;
        Ok(Told { verdict, now, outcomes, broken, kept, standing })
    }
    /// Greatest value of a gauge.
    pub fn gauge_top(&self, gauge: usize) -> u32 {
        self.plan.tables().gauges.get(gauge).map_or(0, |row| logic_rules::plan::GaugeRow::read(row).top)
    }
    /// Travel of a source in a scan that is told apart: one more than any pace takes.
    pub fn source_top(&self, source: usize) -> u32 {
        let paces = self.plan.tables().paces.iter().map(PaceRow::read);
        let of = |row: &PaceRow| usize::from(row.source) == source || usize::from(row.second) == source;
        paces.filter(of).map(|row| row.top_scan.saturating_add(1)).max().unwrap_or(1)
    }
}

/// From "each rank stands" to "a rank of at least so much stands"; place 0 always holds.
fn at_least<A: Algebra>(a: &mut A, ranks: &[[A::Bit; 1]]) -> Vec<A::Bit> {
    let mut so_far = a.bit(false);
    let mut out = Vec::with_capacity(ranks.len() + 1);
    for [rank] in ranks.iter().rev() {
        so_far = a.or(so_far, *rank);
        out.push(so_far);
    }
    out.push(a.bit(true));
    out.reverse();
    out
}
