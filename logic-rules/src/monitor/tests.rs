//! Monitors, over a few scans each.

use super::*;
use crate::Plain;

fn outcomes(deadline: Deadline, trace: &[(bool, bool)]) -> Vec<(bool, bool)> {
    let mut a = Plain;
    let mut obligation = Obligation::new(&mut a);
    let mut served = false;
    let mut out = Vec::new();
    for &(condition, answered) in trace {
        let outcome = obligation.scan(&mut a, deadline, condition, served, answered);
        out.push((outcome.met, outcome.missed));
        served = answered;
    }
    out
}

#[test]
fn an_answer_in_the_last_scan_meets_it() {
    let deadline = Deadline { lasting: 1, within: 2 };
    let trace = [(true, false), (true, false), (false, false), (false, true)];
    assert_eq!(outcomes(deadline, &trace), [(false, false), (false, false), (false, false), (true, false)]);
}

#[test]
fn one_scan_later_it_is_missed_once() {
    let deadline = Deadline { lasting: 1, within: 2 };
    let trace = [(true, false), (true, false), (false, false), (false, false), (false, false), (false, true)];
    let missed: Vec<bool> = outcomes(deadline, &trace).iter().map(|o| o.1).collect();
    assert_eq!(missed, [false, false, false, true, false, false]);
}

#[test]
fn a_distance_is_known_until_the_rope_runs_back() {
    let mut a = Plain;
    let mut apart = Apart::new(&mut a);
    let scans = [(true, 5, 0), (false, 4, 0), (true, 5, 0), (true, 5, 0), (false, 0, 1), (true, 5, 0), (true, 5, 0)];
    let closer = scans.map(|(passes, forward, back)| apart.scan(&mut a, 9, passes, forward, back));
    assert_eq!(closer, [false, false, false, true, false, false, true]);
}

#[test]
fn whoever_is_gone_is_told_once() {
    let mut a = Plain;
    let mut apart = Apart::new(&mut a);
    let scans = [(false, 9, 0), (true, 5, 0), (false, 9, 0), (false, 1, 0), (false, 9, 0), (true, 9, 0), (true, 10, 0)];
    let gone = scans.map(|(passes, forward, back)| apart.gone(&mut a, 9, passes, forward, back));
    assert_eq!(gone, [false, false, false, true, false, false, false]);
    let back = [(false, 5, 0), (false, 0, 1), (false, 9, 0)];
    assert_eq!(back.map(|(passes, forward, back)| apart.gone(&mut a, 9, passes, forward, back)), [false; 3]);
}

#[test]
fn who_comes_while_nobody_is_under_way_is_a_stray_once_that_is_known() {
    let mut a = Plain;
    let mut traffic = Traffic::new(&mut a);
    let window = Window { earliest: 0, latest: 10 };
    let scan = |starts, arrives, forward, lost| Passing { starts, arrives, forward, back: 0, lost };
    let mut told = |passing: Passing<Plain>| {
        let stray = traffic.stray(&mut a, &passing);
        traffic.scan(&mut a, window, &passing);
        (stray, traffic.more_than(&mut a, 1))
    };
    assert_eq!(told(scan(false, true, 10, false)), (false, false));
    // From here on it is known; the first one starts as a stray arrives.
    assert_eq!(told(scan(false, false, 1, false)), (false, false));
    assert_eq!(told(scan(true, true, 1, false)), (true, false));
    assert_eq!(told(scan(true, false, 1, false)), (false, true));
    assert_eq!(told(scan(false, true, 1, false)), (false, false));
    assert_eq!(told(scan(false, true, 1, false)), (false, false));
    assert_eq!(told(scan(false, true, 1, true)), (false, false));
    assert_eq!(told(scan(false, true, 1, false)), (false, false));
}

#[test]
fn a_stop_is_cleared_after_the_scan_that_completes_the_time() {
    let mut a = Plain;
    for (held, early) in [(2, true), (3, false)] {
        let mut clearing = Clearing::new(&mut a, true);
        let missed = (0..=held).map(|scan| clearing.scan(&mut a, 2, scan < held, scan < held));
        assert_eq!(missed.last(), Some(early));
    }
}

#[test]
fn a_start_is_permitted_in_the_last_scan_of_the_pause() {
    let mut a = Plain;
    let mut pause = Pause::new(&mut a, 2, true);
    let scans = [(true, true), (true, false), (true, false), (false, true), (false, false), (true, false)];
    let soon = scans.map(|(permit, stop)| pause.scan(&mut a, 2, permit, stop));
    assert_eq!(soon, [true, true, false, false, false, false]);
    assert!(!Pause::new(&mut a, 9, false).scan(&mut a, 9, true, false));
}

#[test]
fn nothing_is_asked_while_the_answer_stands() {
    let deadline = Deadline { lasting: 0, within: 0 };
    let trace = [(true, true), (true, true), (true, false), (true, true)];
    let missed: Vec<bool> = outcomes(deadline, &trace).iter().map(|o| o.1).collect();
    assert_eq!(missed, [false; 4]);
}
