//! Random traces with what the program makes of them, a JSON line each, for `tests/python/temporal.py`,
//! which holds them against the reference library rtamt.
#![allow(clippy::print_stdout, clippy::indexing_slicing, clippy::unwrap_used, reason = "a tool of the tests")]

use cross_tests::generate::Rng;
use cross_tests::machines::Stepped;
use cross_tests::reading::Reading;
use cross_tests::small;
use host_tools::station::ways::Way;
use host_tools::station::{Condition, Guard, Lasting, WatchKind};
use logic_rules::Plain;
use logic_rules::monitor::{Deadline, Obligation};
use serde_json::json;

const SCANS: usize = 120;
const TRACES: u64 = 150;

/// A trace that keeps its value for some scans, so that windows of some length are filled.
fn trace(rng: &mut Rng, stay: u64) -> Vec<bool> {
    let mut value = rng.chance(50);
    let mut out = Vec::new();
    for _ in 0..SCANS {
        if rng.chance(100 / stay.max(1)) {
            value = !value;
        }
        out.push(value);
    }
    out
}

/// A guard that must have held for more than `scans` scans, in the plain reading.
fn hold(input: &[bool], scans: u32, turned: bool) -> Vec<bool> {
    let mut station = small::station();
    let contact = small::contact(&mut station);
    let closed = Condition::High(contact);
    let when = if turned { Condition::Not(Box::new(closed)) } else { closed };
    let guard = Guard { when, lasting: Lasting::Unbroken(scans), answer: 1 };
    let watch = small::watch(&mut station, WatchKind::Guard(guard));
    let way = small::way(&station, watch, Way::Tripped);
    let mut reading = Stepped::<Plain>::power_up(&station);
    let scan = |level: &bool| {
        let mut sample = small::calm(&station);
        sample.channels[0] = *level;
        reading.scan(&sample).trips[way] != turned
    };
    input.iter().map(scan).collect()
}

/// When an answer is missed for the first time, and in which scans one is waited for.
fn response(asks: &[bool], answers: &[bool], within: u32) -> (Option<usize>, Vec<bool>) {
    let mut a = Plain;
    let mut obligation = Obligation::<Plain>::new(&mut a);
    let deadline = Deadline { lasting: 0, within };
    let (mut missed, mut waits) = (None, Vec::new());
    for (i, (&ask, &answer)) in asks.iter().zip(answers).enumerate() {
        let outcome = obligation.scan(&mut a, deadline, ask, false, answer);
        if outcome.missed && missed.is_none() {
            missed = Some(i);
        }
        waits.push(outcome.waited > 0 && !answer);
    }
    (missed, waits)
}

fn main() {
    let mut rng = Rng::new(20_261_125);
    for _ in 0..TRACES {
        let scans = u32::try_from(rng.below(12)).unwrap();
        let (p, q) = (trace(&mut rng, 9), trace(&mut rng, 5));
        println!("{}", json!({"formula": "historically", "n": scans, "p": p, "out": hold(&p, scans, false)}));
        println!("{}", json!({"formula": "once", "n": scans, "p": p, "out": hold(&p, scans, true)}));
        let (missed, waits) = response(&p, &q, scans);
        println!("{}", json!({"formula": "response", "n": scans, "p": p, "q": q, "missed": missed}));
        println!("{}", json!({"formula": "since", "n": 0, "p": p, "q": q, "out": waits}));
    }
}
