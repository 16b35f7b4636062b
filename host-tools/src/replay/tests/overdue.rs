//! By how long a missed requirement was answered late.

use super::{kinds, recording, run, scripted};
use crate::monitor::{MonitorPlan, Monitors};
use crate::recording::read::Reader;
use crate::replay::event::{Event, What};
use crate::replay::text::{Lines, Paint};
use crate::replay::{Runner, Sink, replay};
use crate::sample::Sample;
use crate::station::{Condition, Form, Requirement, Station};
use crate::testing::{name, small_station};
use crate::told::Scanned;

/// The small station, asked for an emergency stop while the fork is closed: within 2 scans, or at once.
fn station(at_once: bool) -> Station {
    let condition = Condition::High(2);
    let form = if at_once {
        Form::Never { condition, least: 3 }
    } else {
        Form::Whenever { condition, lasting: 0, least: 3, within: 2 }
    };
    let requirement = Requirement {
        name: name("R1"),
        title: "an answer".into(),
        hazards: vec![],
        form,
        unless: None,
        bounces: 0,
        need_not_arise: None,
        answers: Vec::new(),
        within_us: 70_000,
    };
    Station { requirements: vec![requirement], ..small_station() }
}

fn wait(event: &Event) -> Option<(u64, &'static str)> {
    match &event.what {
        What::Answered { late_us, .. } => Some((*late_us, "answered")),
        What::Unanswered { late_us, by, .. } => Some((*late_us, by)),
        _ => None,
    }
}

#[test]
fn a_late_answer_is_measured_from_the_last_scan_in_time() {
    let station = station(false);
    let text = recording("power-up", 60, |_| 0);
    let mut runner = scripted(|scan, out| {
        out.missed.extend((scan == 20).then_some(0));
        out.answer = if scan >= 35 { 3 } else { 2 };
    });
    let (events, summary) = run(&station, &text, &mut runner);
    assert_eq!(kinds(&events), ["begins@1", "missed@20", "answered@35"]);
    assert_eq!(wait(&events[2]), Some((150_000, "answered")));
    let told = &summary.requirements[0];
    assert_eq!((told.missed, told.latest_us, told.unanswered), (1, Some(150_000), 0));
}

#[test]
fn an_answer_that_does_not_come_says_what_ended_the_wait() {
    let station = station(false);
    let mut text = recording("power-up", 60, |_| 0);
    text += "# power-up\n90000,0,1,1,12,0,0\n90010,0,1,1,12,0,0\n90020,0,1,1,12,0,0\n";
    let mut runner = scripted(|scan, out| out.missed.extend((scan == 20 || scan == 61).then_some(0)));
    let (events, summary) = run(&station, &text, &mut runner);
    let waits: Vec<_> = events.iter().filter_map(wait).collect();
    assert_eq!(waits, [(400_000, "restart"), (20_000, "end")]);
    let told = &summary.requirements[0];
    assert_eq!((told.missed, told.latest_us, told.unanswered), (2, None, 2));
}

#[test]
fn what_is_asked_at_once_is_missed_once_until_it_is_asked_no_longer() {
    let station = station(true);
    let text = recording("power-up", 60, |_| 0);
    let mut runner = scripted(|scan, out| out.missed.extend((20..30).contains(&scan).then_some(0)));
    let (events, summary) = run(&station, &text, &mut runner);
    assert_eq!(kinds(&events), ["begins@1", "missed@20", "unanswered@30"]);
    assert_eq!(wait(&events[2]), Some((100_000, "condition")));
    assert_eq!(summary.requirements[0].missed, 1);
}

/// Answers so many scans after the fork was seen shut; the obligations are the real ones.
struct Late<'m> {
    told: Scanned,
    scan: u64,
    answers: u64,
    monitors: Monitors<'m>,
    station: &'m Station,
}

impl Runner for Late<'_> {
    fn scan(&mut self, sample: &Sample) -> &Scanned {
        self.scan += 1;
        self.told = Scanned { answer: if self.scan >= self.answers { 3 } else { 0 }, ..Scanned::default() };
        self.monitors.scan(sample, &mut self.told);
        &self.told
    }
    fn restart(&mut self) {
        // From power-up a stop stands, and nothing would be asked in the first scan.
        self.monitors.restart(self.station, false);
    }
    fn adopt(&mut self) {}
}

/// What people read of a requirement that asks from the first scan on, answered in scan `answers`.
fn read(answers: u64) -> String {
    let station = station(false);
    let plan = MonitorPlan::new(&station);
    let raw = plan.plan().unwrap();
    let monitors = Monitors::start(&station, &plan, &raw).unwrap();
    let mut runner = Late { told: Scanned::default(), scan: 0, answers, monitors, station: &station };
    let text = recording("power-up", 9, |_| 0);
    let mut reader = Reader::open(text.as_bytes(), &station).unwrap();
    let mut lines = Lines::new(Vec::new(), Paint(false));
    let summary = replay(&station, &mut reader, &mut runner, &mut lines as &mut dyn Sink, &mut |_| {}).unwrap();
    lines.summary(&summary).unwrap();
    String::from_utf8(lines.into_inner()).unwrap()
}

#[test]
fn one_scan_late_is_one_scan_late() {
    // Asked in scan 1, in time up to scan 3.
    assert!(read(3).contains("requirement R1 met after 0.02 s"), "{}", read(3));
    let said = read(4);
    assert!(said.contains("requirement R1 answered 0.01 s late\n"), "{said}");
    assert!(said.contains("requirement R1: MISSED 1, met 0; answered up to 0.01 s late\n"), "{said}");
    let said = read(100);
    assert!(said.contains("requirement R1 not answered: 0.06 s late when the recording ends\n"), "{said}");
    assert!(said.contains("requirement R1: MISSED 1, met 0; 1 not answered\n"), "{said}");
}
