//! A guard: each simple condition that can make it trip by itself, on both sides of its limit and of its hold.

use super::super::calm::{AFTERWARDS, Calm, leaves};
use super::super::script::{Act, Script};
use super::Plan;
use crate::station::{Condition, Gauge, Guard, InputKind, Lasting, Scans, Settle};

/// Channels that are turned, what to call that, and how each way settles.
pub(super) struct Turn {
    pub(super) what: String,
    pub(super) acts: Vec<Act>,
    pub(super) back: Vec<Act>,
    /// Scans from the first sample that shows it to the scan in which it counts.
    pub(super) there: Scans,
    /// The same on the way back.
    pub(super) again: Scans,
}

impl Plan<'_> {
    /// Scans in which a guard's condition may hold without a trip.
    pub(super) fn borne(lasting: Lasting) -> Scans {
        match lasting {
            Lasting::Unbroken(scans) => scans,
            Lasting::Total { of, .. } => of.saturating_sub(1),
        }
    }
    pub(super) fn guard(&mut self, way: usize, mode: Option<usize>, guard: &Guard) {
        if self.calm.holds(&guard.when, None) {
            return self.skip(way, "its condition holds at rest");
        }
        let mut found: Vec<&Condition> = Vec::new();
        leaves(&guard.when, &mut |leaf| {
            if !found.contains(&leaf) {
                found.push(leaf);
            }
        });
        let mut any = false;
        for leaf in found {
            if self.calm.holds(&guard.when, Some(leaf)) {
                any = true;
                self.leaf(way, mode, leaf, Self::borne(guard.lasting));
            }
        }
        if !any {
            self.skip(way, "no single input makes its condition hold");
        }
    }
    fn leaf(&mut self, way: usize, mode: Option<usize>, leaf: &Condition, borne: Scans) {
        match leaf {
            Condition::High(input) => {
                for turn in self.turns(*input) {
                    self.turned(way, mode, &turn, borne);
                }
            }
            Condition::AtLeast(id, step) => {
                if let Some(gauge) = self.calm.gauge(*id) {
                    let name = self.named(*id).to_owned();
                    self.beyond(way, mode, &name, gauge, *step, borne);
                }
            }
            Condition::Faster(pace, mm) => self.faster(way, mode, *pace, *mm, 1, borne),
            Condition::Back(pace, mm) => self.faster(way, mode, *pace, *mm, -1, borne),
            Condition::Faulty(_) => self.skip(way, "it asks for a fault of an input"),
            Condition::SeenOff(_) => self.skip(way, "it asks for the read-back of an output"),
            _ => self.skip(way, "its condition cannot be driven yet"),
        }
    }
    /// The ways in which an input leaves its rest.
    pub(super) fn turns(&self, input: usize) -> Vec<Turn> {
        let Some(kind) = self.station.inputs.get(input).map(|input| &input.kind) else { return Vec::new() };
        let name = self.named(input).to_owned();
        let by = |settle: Settle, to_high: bool| if to_high { settle.up } else { settle.down };
        let opens = |closed: bool| if closed { "opens, as on a broken wire" } else { "closes, as on a short circuit" };
        let one = |what: String, channels: &[(usize, bool)], settle: Settle, to_high: bool| Turn {
            what,
            acts: channels.iter().map(|(channel, rest)| Act::Level(*channel, !rest)).collect(),
            back: channels.iter().map(|(channel, rest)| Act::Level(*channel, *rest)).collect(),
            there: by(settle, to_high),
            again: by(settle, !to_high),
        };
        match kind {
            InputKind::Contact(c) => {
                let what = format!("{name} {} on {}", opens(c.rests_closed), self.terminal(c.channel));
                vec![one(what, &[(c.channel, c.rests_closed)], c.settle, !c.rests_closed)]
            }
            InputKind::Pair(p) => {
                let [a, b] = p.channels;
                let (first, second) = ((a, p.rests_closed), (b, p.rests_closed != p.opposed));
                let says = if p.rests_closed { "open" } else { "closed" };
                let told = [
                    (format!("{name} reads {says} on both channels"), vec![first, second]),
                    (format!("{name} reads {says} on {} alone", self.terminal(a)), vec![first]),
                    (format!("{name} reads {says} on {} alone", self.terminal(b)), vec![second]),
                ];
                told.into_iter().map(|(what, channels)| one(what, &channels, p.settle, !p.rests_closed)).collect()
            }
            InputKind::Detector(d) => {
                vec![one(format!("{name} is covered"), &[(d.channel, false)], d.settle, true)]
            }
            InputKind::Key(k) => {
                let (first, second) = k.channels;
                let mut channels = vec![(first, false)];
                channels.extend(second.map(|second| (second, false)));
                vec![one(format!("{name} is held"), &channels, k.settle, true)]
            }
            _ => Vec::new(),
        }
    }
    /// A level that lasts, one that lasts a scan less, and one that does not settle.
    fn turned(&mut self, way: usize, mode: Option<usize>, turn: &Turn, borne: Scans) {
        let cruise = self.cruise(mode);
        let held = |scans: Scans, plan: &Self| {
            let mut script = plan.begin(mode, cruise);
            let mark = script.now();
            turn.acts.iter().for_each(|act| script.set(*act));
            script.go(scans, cruise);
            turn.back.iter().for_each(|act| script.set(*act));
            script.go(turn.again + AFTERWARDS, cruise);
            (mark, script)
        };
        let scans = turn.there + borne + 1 + AFTERWARDS;
        let (mark, script) = held(scans, self);
        self.trips(way, format!("{} for {scans} scans", turn.what), mark, mark + turn.there + borne, script);
        // The level lasts as long as what shows it, but for how it settles there and back.
        let (longest, settles) = ((borne + turn.there).saturating_sub(turn.again), borne > turn.again);
        let scans = if settles { longest } else { turn.there };
        if scans > 0 {
            let (mark, script) = held(scans, self);
            self.quiet(way, format!("{} for {scans} scans", turn.what), mark, script);
        }
    }
    /// A gauge at both sides of a limit, and beyond it for as long as is borne.
    fn beyond(&mut self, way: usize, mode: Option<usize>, name: &str, gauge: &Gauge, step: u32, borne: Scans) {
        let rests = self.calm.steps.get(gauge.terminal).copied().unwrap_or(0);
        let (inside, outside) = if rests < step { (step - 1, step) } else { (step, step - 1) };
        let cruise = self.cruise(mode);
        let (Some(rest), Some(within), Some(beyond)) =
            (Calm::current(gauge, rests), Calm::current(gauge, inside), Calm::current(gauge, outside))
        else {
            return self.skip(way, &format!("no current of {name} means its limit"));
        };
        let held = |current: i32, scans: Scans, plan: &Self| -> (Scans, Script) {
            let mut script = plan.begin(mode, cruise);
            let mark = script.now();
            script.set(Act::Current(gauge.terminal, current));
            script.go(scans, cruise);
            script.set(Act::Current(gauge.terminal, rest));
            script.go(AFTERWARDS, cruise);
            (mark, script)
        };
        let (in_words, out_words) = (value(gauge, inside), value(gauge, outside));
        let (mark, script) = held(within, borne + 1 + AFTERWARDS, self);
        self.quiet(way, format!("{name} lies at {in_words}, just inside"), mark, script);
        let (mark, script) = held(beyond, borne + 1 + AFTERWARDS, self);
        self.trips(way, format!("{name} lies at {out_words}, just outside"), mark, mark + borne, script);
        if borne > 0 {
            let (mark, script) = held(beyond, borne, self);
            self.quiet(way, format!("{name} lies at {out_words} for {borne} scans"), mark, script);
        }
    }
}

/// A step in the unit of its gauge.
pub(super) fn value(gauge: &Gauge, step: u32) -> String {
    let micro = (gauge.lowest + i64::from(step)) * gauge.step_micro;
    let sign = if micro < 0 { "-" } else { "" };
    let (whole, rest) = (micro.unsigned_abs() / 1_000_000, micro.unsigned_abs() % 1_000_000);
    let rest = format!("{rest:06}");
    let rest = rest.trim_end_matches('0');
    if rest.is_empty() {
        format!("{sign}{whole} {}", gauge.unit)
    } else {
        format!("{sign}{whole}.{rest} {}", gauge.unit)
    }
}
