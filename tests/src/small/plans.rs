//! Random small plans as rule text, each with one requirement: scans of a second, limits of a few scans, and in half of them a
//! fault is planted, so that some keep their requirement and some do not.

use crate::generate::Rng;

mod bypasses;
mod contacts;
mod gauges;
mod speeds;
mod stops;
mod travels;

/// A plan.
#[derive(Debug, Clone)]
pub struct Small {
    /// What it is about.
    pub kind: &'static str,
    /// What was planted, or nothing.
    pub planted: Option<&'static str>,
    /// Its rules.
    pub text: String,
}

type Kind = (&'static str, fn(&mut Draft));

/// Kinds of plans.
const KINDS: [Kind; 16] = [
    ("contact", contacts::contact),
    ("two contacts", contacts::logic),
    ("total", contacts::total),
    ("pair", contacts::pair),
    ("mode", contacts::in_mode),
    ("gauge", gauges::gauge),
    ("gauges agree", gauges::agree),
    ("gauge at a rise", gauges::measure),
    ("speed", speeds::speed),
    ("slow order", speeds::slow),
    ("bypass", bypasses::bypass),
    ("reset", stops::released),
    ("never less", stops::never_less),
    ("together", stops::together),
    ("link", stops::link),
    ("travel in rope", travels::rope),
];

/// The plan of a seed.
pub fn plan(seed: u64) -> Small {
    let mut rng = Rng::new(seed);
    let (kind, write) = match rng.below(100) {
        0..5 => ("travel in time", travels::time as fn(&mut Draft)),
        5..13 => KINDS[KINDS.len() - 1],
        _ => KINDS[rng.index(KINDS.len() - 1)],
    };
    let spoilt = rng.chance(50);
    let mut draft = Draft { rng, spoilt, planted: None, text: String::new(), terminals: 0 };
    draft.begin();
    write(&mut draft);
    Small { kind, planted: draft.planted, text: draft.text }
}

/// A plan of a seed in which carriers under way are counted.
pub fn plan_under_way(seed: u64) -> Small {
    let mut rng = Rng::new(seed ^ 0x57A7_0F11);
    let spoilt = rng.chance(50);
    let mut draft = Draft { rng, spoilt, planted: None, text: String::new(), terminals: 0 };
    draft.begin();
    travels::under_way(&mut draft);
    Small { kind: "travel, counted", planted: draft.planted, text: draft.text }
}

/// A plan that is being written.
pub struct Draft {
    rng: Rng,
    /// A fault is to be planted, once.
    spoilt: bool,
    planted: Option<&'static str>,
    text: String,
    terminals: u32,
}

/// The answers of every plan, mildest first.
const STOPS: [&str; 2] = ["halt", "emergency"];

impl Draft {
    fn say(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }
    /// A terminal for an input.
    fn terminal(&mut self) -> String {
        self.terminals += 1;
        format!("DI-{:02}", self.terminals)
    }
    /// Whether this fault is to be planted; at most one is.
    fn plants(&mut self, fault: &'static str) -> bool {
        let now = self.spoilt && self.planted.is_none() && self.rng.chance(40);
        if now {
            self.planted = Some(fault);
        }
        now
    }
    /// What is written in so many of a hundred.
    fn maybe(&mut self, percent: u64, text: &str) -> String {
        if self.rng.chance(percent) { text.to_owned() } else { String::new() }
    }
    /// A stop at least so severe, or, as a fault, a milder one.
    fn answer(&mut self, least: usize) -> &'static str {
        if least > 0 && self.plants("too mild") {
            return STOPS[least - 1];
        }
        STOPS[self.rng.size(least, 1)]
    }
    /// Which stop is asked for.
    fn least(&mut self) -> usize {
        self.rng.index(STOPS.len())
    }
    fn begin(&mut self) {
        self.say("station \"small\"\nrevision 1\nscan 1 s");
        self.say("output drive on DO-01, off within 1 s\noutput brake on DO-02, off within 1 s");
        let key = self.terminal();
        let settles = self.maybe(10, ", settles 1 s");
        self.say(&format!("key reset-key on {key}{settles}"));
        if self.rng.chance(20) {
            self.say("guard long-press\n    when reset-key held\n    unbroken for 2 s\n    stop halt");
        }
    }
    /// The two stops.
    fn stops(&mut self) {
        self.say("stop halt category 0\n    releases drive\n    bites within 1 s, slows at 0.1 m/s2 to 1 m/s2");
        self.say("stop emergency category 0, for emergencies\n    releases drive and brake");
        self.say("    bites within 1 s, slows at 0.1 m/s2 to 1 m/s2");
    }
    /// The reset, when nothing else says so.
    fn reset(&mut self, when: &str) {
        // A key that has just been let go has not been free for a second.
        let lasting = if when.contains("free") { String::new() } else { self.maybe(20, " for 1 s") };
        self.say(&format!("reset by reset-key pressed and let go, when {when}{lasting}"));
    }
    /// The requirement; nothing is due later than `slack` scans after what it asks for.
    fn require(&mut self, asks: &str, least: usize, slack: u32, unless: &str) {
        // Sampling and the deciding scan take two, the output one.
        let within = self.rng.small(slack, slack + 1) + 3;
        self.say(&format!(
            "require R1 \"asked\"\n    {asks}, stop at least {} within {within} s\n{unless}",
            STOPS[least]
        ));
    }
    /// ` for N s`, or nothing for none.
    fn lasting(scans: u32) -> String {
        if scans == 0 { String::new() } else { format!(" for {scans} s") }
    }
    /// An unbroken hold, or nothing for none.
    fn unbroken(scans: u32) -> String {
        if scans == 0 { String::new() } else { format!("    unbroken for {scans} s\n") }
    }
}
