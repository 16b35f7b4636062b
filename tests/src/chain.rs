//! Rule text of made-up stations of any size, to see how a proof grows: a chain of travel windows, or one counter.

use std::fmt::Write as _;

/// Detectors are so far apart, mm of rope.
const STRETCH: usize = 4_300;

/// What every such station has, up to its inputs.
const TOP: &str = "station \"made up\"
revision 1
scan 10 ms
hazard H1 \"a carrier is not where it should be\"
mode passenger selected by key-passenger
mode maintenance selected by key-maintenance, rope at most 1.5 m/s
output run-order on RO-1, off within 30 ms
output brake on RO-2, off within 30 ms
stop service category 1
    releases run-order
    then brake when rope still, at the latest after 20 s
    bites within 400 ms, slows at 0.4 m/s2 to 0.8 m/s2
stop emergency category 0, for emergencies
    releases run-order and brake
    bites within 150 ms, slows at 1.0 m/s2 to 1.5 m/s2
pace rope on CI-01, 5 mm a pulse
    signed, at most 5.5 m/s, speed over 100 ms, still below 0.06 m/s, fault after 200 ms
key key-passenger on KI-01, settles 20 ms
key key-maintenance on KI-02, settles 20 ms
key reset-key on KI-03, settles 20 ms
key bypass-key on KI-04, settles 20 ms
reset by reset-key pressed and let go, when rope still for 2 s
restart no sooner than 10 s after a stop
";

/// A chain of so many travel windows, four carriers deep, each with its requirement; and a handful of the rest, the
/// same for every length of the chain: guards, pairs, measures, and three bypasses.
pub fn windows(count: usize) -> String {
    let mut out = String::from(TOP);
    for i in 0..=count {
        let (number, at) = (i + 1, i * STRETCH);
        let _ = writeln!(out, "detector d{i} on DI-{number:02}, at {at} mm, pulses at least 60 ms\n    settles 10 ms");
    }
    for i in 1..=3 {
        let _ = write!(
            out,
            "hazard HF{i} \"the rope leaves its fork\"
contact fork-{i} on FI-{i:02}, rests closed
    opens for at least 40 ms, settles 10 ms
guard fork-{i}-open
    hazard HF{i}
    when fork-{i} open
    unbroken for 20 ms
    stop emergency
bypass fork-{i}-bypass of fork-{i}-open
    in maintenance
    while bypass-key held
    rope at most 1.0 m/s, for at most 5 min, then not again for 1 h
require F{i} \"made up\"
    hazard HF{i}
    whenever fork-{i} open for 40 ms, stop at least emergency within 120 ms
    unless fork-{i}-bypass active
pair button-{i} on BI-{i}1 and BI-{i}2, alike, rests closed
    opens for at least 150 ms, settles 10 ms
    differing for 100 ms is a fault
guard button-{i}-open
    hazard H1
    when button-{i} open
    stop emergency
require B{i} \"made up\"
    hazard H1
    whenever button-{i} open for 20 ms, stop at least emergency within 100 ms
detector point-{i} on PI-{i:02}, at 400 m, pulses at least 60 ms
gauge force-{i} on AI-0{i}, 4 mA is 0 N, 20 mA is 12000 N
    in steps of 10 N
measure force-{i}-right
    hazard H1
    throughout the 60 ms after point-{i} rises
    force-{i} stays between 6200 N and 8400 N
    else emergency
require M{i} \"made up\"
    hazard H1
    whenever force-{i} outside 6000 N to 8600 N when point-{i} rises,
        stop at least emergency within 120 ms
"
        );
    }
    for i in 0..count {
        let to = i + 1;
        let _ = write!(
            out,
            "travel t{i}
    hazard H1
    from d{i} to d{to}
    takes 4.55 m to 5.25 m of rope
    up to 4 carriers under way
    early service, late emergency, stray service, crowded emergency
require W{i} \"made up\"
    hazard H1
    after d{i} rises, in 4.40 m to 5.40 m of rope must rise d{to},
        else stop at least service within 200 ms
    unless rope still
"
        );
    }
    out
}

/// What counts scans.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counter {
    /// A hold of a guard.
    Hold,
    /// The time that a bypass may be used.
    Bypass,
    /// The age of a carrier under way, in time.
    Age,
}

/// All counters, with what each is called.
pub const COUNTERS: [(Counter, &str); 3] =
    [(Counter::Hold, "a hold"), (Counter::Bypass, "a bypass"), (Counter::Age, "an age in time")];

/// A station with one counter of so many scans, and a requirement `C1` that is proved by how it counts.
pub fn counter(counter: Counter, scans: u32) -> String {
    let mut out = String::from(TOP);
    out.push_str("contact fork on FI-01, rests closed\n    opens for at least 40 ms, settles 10 ms\n");
    let most = scans * 10;
    let _ = match counter {
        Counter::Hold => write!(
            out,
            "guard fork-open
    hazard H1
    when fork open
    unbroken for {most} ms
    stop emergency
require C1 \"made up\"
    hazard H1
    whenever fork open for {most} ms, stop at least emergency within 100 ms
"
        ),
        Counter::Bypass => write!(
            out,
            "guard fork-open
    hazard H1
    when fork open
    stop emergency
bypass fork-bypass of fork-open
    in maintenance
    while bypass-key held
    rope at most 1.0 m/s, for at most {most} ms, then not again for {most} ms
require C1 \"made up\"
    hazard H1
    whenever fork open for 40 ms, stop at least emergency within 120 ms
    unless fork-bypass active
"
        ),
        Counter::Age => write!(
            out,
            "detector d0 on DI-01, at 0 m, pulses at least 60 ms
detector d1 on DI-02, at 5 m, pulses at least 60 ms
travel t0
    hazard H1
    from d0 to d1
    takes 0 ms to {most} ms, with rope at 0.2 m/s to 5.4 m/s throughout
    up to 4 carriers under way
    early service, late emergency, stray service, crowded emergency
require C1 \"made up\"
    hazard H1
    after d0 rises, in 10 ms to {most} ms must rise d1, with rope at 0.2 m/s to 5.4 m/s throughout,
        else stop at least service within 200 ms
"
        ),
    };
    out
}
