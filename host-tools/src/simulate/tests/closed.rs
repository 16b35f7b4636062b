//! Runs that obey the rules: the step itself closes the loop.

use super::super::{Obeyed, Scenario, Simulator};
use super::tiny_station;
use crate::lower::lower;
use crate::run::Machine;
use crate::station::{Condition, Guard, Lasting, Reset, Station, Watch, WatchKind};
use logic_rules::Plain;

/// The tiny station, with a guard on its fork and a reset at standstill.
fn guarded() -> Station {
    let mut station = tiny_station();
    let open = Condition::Not(Box::new(Condition::High(2)));
    let guard = Guard { when: open, lasting: Lasting::Unbroken(1), answer: 3 };
    let mut watch: Watch = station.watches[0].clone();
    "fork-open".clone_into(&mut watch.name.text);
    watch.kind = WatchKind::Guard(guard);
    station.watches.push(watch);
    let still = Condition::Not(Box::new(Condition::Faster(6, 1)));
    station.reset = Some(Reset { key: 11, when: still, lasting: 50, shortest: 10, longest: 300 });
    station.restart = 100;
    station
}

/// What stood at the end of a phase of the run.
#[derive(Debug, PartialEq)]
struct Seen {
    answer: u32,
    stands: bool,
}

fn run(text: &str, looks: &[u64]) -> (Vec<Seen>, Vec<usize>) {
    let station = guarded();
    let scenario = Scenario::read(text, &station).unwrap_or_else(|p| panic!("{p:?}"));
    let program = lower(&station);
    let plan = program.plan().unwrap();
    let mut machine = Machine::power_up(Plain, &plan).unwrap();
    let mut simulator = Simulator::new(&station, &scenario, 1);
    let mut obey = None;
    let mut seen = Vec::new();
    while let Some(scan) = simulator.scan(obey.as_ref()) {
        if scan.restarted {
            machine.restart();
        }
        let at = scan.at_us / 1_000;
        let told = machine.scan(&scan.sample).unwrap();
        let outputs = machine.look(|b| b.bits().output.iter().map(|o| o[0]).collect::<Vec<bool>>()).unwrap();
        let off = outputs.iter().enumerate().fold(0, |all, (i, off)| all | u64::from(*off) << i);
        let answer = told.answer;
        obey = Some(Obeyed { off, answer: u8::try_from(answer).unwrap(), may_start: told.permit });
        if looks.contains(&at) {
            seen.push(Seen { answer, stands: simulator.rope_speed() == 0.0 });
        }
    }
    (seen, simulator.missed())
}

#[test]
fn a_morning_from_power_up_to_a_stop_and_back() {
    let text = "last 2 min
        controller starts powered up
        at 1 s rope to 5 m/s
        at 2 s key reset-key pressed for 500 ms
        at 5 s rope to 5 m/s
        at 40 s contact rope-fork opens for 1 s
        at 45 s key reset-key pressed for 500 ms
        at 60 s key reset-key pressed for 500 ms
        at 65 s rope to 5 m/s
        at 90 s power lost for 10 s
        at 105 s key reset-key pressed for 500 ms
        at 110 s rope to 3 m/s
        at 110 s carrier 1 lost
        at 110 s carrier 90 lost";
    let looks = [1_500, 3_000, 39_000, 40_500, 44_500, 64_000, 89_000, 101_000, 119_000];
    let (seen, missed) = run(text, &looks);
    let stop = |stands| Seen { answer: 3, stands };
    let free = |stands| Seen { answer: 0, stands };
    let expected = [
        stop(true),
        free(true),
        free(false),
        stop(false),
        stop(true),
        free(true),
        free(false),
        stop(true),
        free(false),
    ];
    assert_eq!(seen, expected);
    // By their lines: the start before the reset, a carrier that has gone, one that never came.
    assert_eq!(missed, [3, 13, 14]);
}
