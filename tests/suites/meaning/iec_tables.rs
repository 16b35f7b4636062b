//! Published values, held against every reading: function blocks of IEC 61131-3 (edition 3, 2013:
//! Tables 43 to 46, Figure 15), Kleene's strong logic, and the bands of NAMUR NE 43.
//!
//! Where the meaning of a rule file differs on purpose, the test says so beside the value.
#![allow(clippy::indexing_slicing, reason = "tests: an index out of range is a failure that says where")]

use cross_tests::reading::on_every_reading;
use cross_tests::small;
use host_tools::sample::{Health, Reading};
use host_tools::station::ways::{Source, Way};
use host_tools::station::{Condition, Count, Guard, Lasting, Measure, Measured, Station, Travel, WatchKind, When};

/// A guard on a contact (or on its being open) for 100 scans of 1 ms.
fn delayed(when_open: bool) -> (Station, usize) {
    let mut station = small::station();
    let contact = small::contact(&mut station);
    let closed = Condition::High(contact);
    let when = if when_open { Condition::Not(Box::new(closed)) } else { closed };
    let guard = Guard { when, lasting: Lasting::Unbroken(100), answer: 1 };
    let watch = small::watch(&mut station, WatchKind::Guard(guard));
    let way = small::way(&station, watch, Way::Tripped);
    (station, way)
}

/// Is `time` in one of the stretches, whose ends are not in them?
fn inside(time: usize, stretches: &[(usize, usize)]) -> bool {
    stretches.iter().any(|&(from, to)| time >= from && time < to)
}

/// TON, PT = 100 ms (Table 46 and Figure 15): the output is the guard's trip.
#[test]
fn a_hold_is_an_on_delay() {
    let input = [(20, 220), (300, 350), (400, 600)];
    let table = [
        (0, false),
        (20, false),
        (70, false),
        (119, false),
        (120, true),
        (200, true),
        (219, true),
        (220, false),
        (300, false),
        (340, false),
        (350, false),
        (400, false),
        (499, false),
        (500, true),
        (590, true),
        (600, false),
    ];
    let (station, way) = delayed(false);
    on_every_reading(&station, &mut |name, reading| {
        for time in 0..=600 {
            let mut sample = small::calm(&station);
            sample.channels[0] = inside(time, &input);
            let told = reading.scan(&sample);
            if let Some((_, expected)) = table.iter().find(|row| row.0 == time) {
                assert_eq!(told.trips[way], *expected, "{name}, at {time} ms");
            }
        }
    });
}

/// TOF, PT = 100 ms (same source): an off-delay is an on-delay of the opposite, turned round. They
/// only agree from the first rise on: before it, TOF is off and the guard has not lasted yet.
#[test]
fn an_off_delay_is_a_hold_of_the_opposite() {
    let input = [(20, 120), (300, 340), (380, 400)];
    let table = [
        (20, true),
        (119, true),
        (120, true),
        (200, true),
        (219, true),
        (220, false),
        (290, false),
        (300, true),
        (340, true),
        (370, true),
        (380, true),
        (400, true),
        (450, true),
        (499, true),
        (500, false),
        (600, false),
    ];
    let (station, way) = delayed(true);
    on_every_reading(&station, &mut |name, reading| {
        for time in 0..=600 {
            let mut sample = small::calm(&station);
            sample.channels[0] = inside(time, &input);
            let told = reading.scan(&sample);
            if let Some((_, expected)) = table.iter().find(|row| row.0 == time) {
                assert_eq!(!told.trips[way], *expected, "{name}, at {time} ms");
            }
        }
    });
}

/// A measure that trips at every rise, since 0 is never within its bounds.
fn at_every_rise() -> (Station, usize) {
    let mut station = small::station();
    let detector = small::detector(&mut station);
    let gauge = small::gauge(&mut station);
    let measure = Measure { detector, when: When::Rise, gauge, least: 50, most: 60, answer: 1 };
    let watch = small::watch(&mut station, WatchKind::Measure(measure));
    let way = small::way(&station, watch, Way::Tripped);
    (station, way)
}

/// `R_TRIG` (Table 44): CLK 0,1,1,0,1 gives Q 0,1,0,0,1. A cold start with CLK = 1 gives Q = 1 in
/// the standard and nothing here, on purpose: a flag that already covers a detector has not come.
#[test]
fn a_rise_is_an_edge() {
    let (station, way) = at_every_rise();
    let table = [(false, false), (true, true), (true, false), (false, false), (true, true)];
    on_every_reading(&station, &mut |name, reading| {
        for (row, (clock, expected)) in table.into_iter().enumerate() {
            let mut sample = small::calm(&station);
            sample.channels[0] = clock;
            assert_eq!(reading.scan(&sample).trips[way], expected, "{name}, row {row}");
        }
    });
    on_every_reading(&station, &mut |name, reading| {
        let mut sample = small::calm(&station);
        sample.channels[0] = true;
        assert!(!reading.scan(&sample).trips[way], "{name}, cold start");
    });
}

/// `R_TRIG` or `F_TRIG` (Table 44), seen by a travel while the rope runs backwards. CLK 0,1,1,0,0
/// gives 0,1,0,0,0 and 1,0,0,1,0; the pulse of `F_TRIG` in the first call is missing here on
/// purpose, as above.
#[test]
fn a_fall_is_an_edge_too() {
    let mut station = small::station();
    let from = small::detector(&mut station);
    let to = small::detector(&mut station);
    let pace = small::pace(&mut station);
    let travel = Travel {
        from,
        to,
        measured: Measured::Rope(pace),
        earliest: 10,
        latest: 20,
        backstop: None,
        run: 10,
        capacity: 1,
        early: 1,
        late: 1,
        stray: 1,
        crowded: 1,
        backwards: 1,
    };
    let watch = small::watch(&mut station, WatchKind::Travel(travel));
    let way = small::way(&station, watch, Way::Backwards);
    let table = [(false, false), (true, true), (true, false), (false, true), (false, false)];
    on_every_reading(&station, &mut |name, reading| {
        for (row, (clock, expected)) in table.into_iter().enumerate() {
            let mut sample = small::calm(&station);
            sample.channels[0] = clock;
            sample.travel[0] = -1;
            assert_eq!(reading.scan(&sample).trips[way], expected, "{name}, row {row}");
        }
    });
}

/// SR, set dominant (Table 43): (S1, R) 00,10,00,01,00,11,01 gives 0,1,1,0,0,1,0. Each row is a
/// press of the reset key and its release, since R is the release of a press here. Two differences
/// on purpose: at power-up the latch is set (`Started`), and a reset only shows in the verdict of
/// the scan after it.
#[test]
fn a_latch_is_set_dominant() {
    let mut station = small::station();
    let contact = small::contact(&mut station);
    small::reset(&mut station);
    let watch = small::guard(&mut station, Condition::High(contact));
    let way = small::way(&station, watch, Way::Tripped);
    let table = [
        ((false, false), false),
        ((true, false), true),
        ((false, false), true),
        ((false, true), false),
        ((false, false), false),
        ((true, true), true),
        ((false, true), false),
    ];
    on_every_reading(&station, &mut |name, reading| {
        let mut told = reading.scan(&small::calm(&station));
        assert!(told.latched.contains(&true) && told.off[0], "{name}, power-up");
        let mut press = |set: bool, held: bool| {
            let mut sample = small::calm(&station);
            sample.channels = vec![set, held];
            reading.scan(&sample)
        };
        press(false, true);
        press(false, false);
        for (row, ((set, reset), expected)) in table.into_iter().enumerate() {
            press(set, reset);
            let stood = told.latched.contains(&true);
            told = press(set, false);
            assert_eq!(told.latched[way], expected, "{name}, row {row}");
            assert_eq!(told.first[way], expected, "{name}, first-out of row {row}");
            assert_eq!(told.answer, u8::from(expected || (row > 0 && stood)), "{name}, row {row}");
        }
    });
}

/// CTU with PV = 3 (Table 45): Q = CV >= PV is "more than 2 inside". The reset wins over a count in
/// the same scan. Here a reset is a confirmation, which must come to hold.
#[test]
fn a_count_counts_rises_and_its_confirmation_wins() {
    let mut station = small::station();
    let enter = small::detector(&mut station);
    let leave = small::detector(&mut station);
    let empty = small::contact(&mut station);
    let count =
        Count { enter, leave, most: 2, confirmed: 0, when: Condition::High(empty), over: 1, below: 1, wrong: 1 };
    let watch = small::watch(&mut station, WatchKind::Count(count));
    let over = small::way(&station, watch, Way::Over);
    let wrong = small::way(&station, watch, Way::Wrong);
    on_every_reading(&station, &mut |name, reading| {
        let mut scan = |up: bool, reset: bool| {
            let mut sample = small::calm(&station);
            sample.channels = vec![up, false, reset];
            reading.scan(&sample)
        };
        // Nothing is known, and so nothing judged, before the first confirmation.
        scan(false, false);
        assert!(!scan(false, true).trips[wrong], "{name}");
        for pulse in 1..=4 {
            assert_eq!(scan(true, false).trips[over], pulse >= 3, "{name}, pulse {pulse}");
            assert_eq!(scan(false, false).trips[over], pulse >= 3, "{name}, after pulse {pulse}");
        }
        let told = scan(true, true);
        assert!(!told.trips[over] && told.trips[wrong], "{name}, reset with a pulse");
        for pulse in 1..=3 {
            scan(false, false);
            assert_eq!(scan(true, false).trips[over], pulse >= 3, "{name}, pulse {pulse} after the reset");
        }
    });
}

/// Kleene's strong logic (text-book tables; three-valued SQL gives the same): F, U, T as (may, must)
/// (0,0), (1,0), (1,1). A guard tells *may be*; one on the opposite tells *must be*, turned round.
#[test]
fn conditions_are_kleene_logic() {
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    enum Value {
        F,
        U,
        T,
    }
    use Value::{F, T, U};
    // a, b, not a, a and b, a or b
    let table = [
        (F, F, T, F, F),
        (F, U, T, F, U),
        (F, T, T, F, T),
        (U, F, U, F, U),
        (U, U, U, U, U),
        (U, T, U, U, T),
        (T, F, F, F, T),
        (T, U, F, U, T),
        (T, T, F, T, T),
    ];
    let mut station = small::station();
    let a = Condition::AtLeast(small::gauge(&mut station), 50);
    let b = Condition::AtLeast(small::gauge(&mut station), 50);
    let not = |condition: Condition| Condition::Not(Box::new(condition));
    let wanted = [
        not(a.clone()),
        Condition::All(vec![a.clone(), b.clone()]),
        Condition::Any(vec![a.clone(), b]),
        // Not known even so: the two sides are not known to be the same thing.
        Condition::All(vec![a.clone(), not(a)]),
    ];
    let mut guards = Vec::new();
    for condition in wanted {
        let may = small::guard(&mut station, condition.clone());
        let must_not = small::guard(&mut station, not(condition));
        guards.push((small::way(&station, may, Way::Tripped), small::way(&station, must_not, Way::Tripped)));
    }
    let reading_of = |value| match value {
        F => Reading { steps: 49, health: Health::Good },
        U => Reading { steps: 99, health: Health::Doubtful },
        T => Reading { steps: 50, health: Health::Good },
    };
    on_every_reading(&station, &mut |name, reading| {
        for (a, b, opposite, and, or) in table {
            let mut sample = small::calm(&station);
            sample.gauges = vec![reading_of(a), reading_of(b)];
            let told = reading.scan(&sample);
            let contradiction = if a == U { U } else { F };
            for (i, expected) in [opposite, and, or, contradiction].into_iter().enumerate() {
                let found = match (told.trips[guards[i].0], !told.trips[guards[i].1]) {
                    (false, _) => F,
                    (true, false) => U,
                    (true, true) => T,
                };
                assert_eq!(found, expected, "{name}, {a:?} {b:?}, expression {i}");
            }
        }
    });
}

/// NAMUR NE 43 (2003): measurement from 3.8 to 20.5 mA, fault from 3.6 down and 21.0 up, and between
/// them neither. The two that are no measurement both trip, and neither reads as a value.
#[test]
fn only_a_measurement_reads_as_a_value() {
    let mut station = small::station();
    let gauge = small::gauge(&mut station);
    let high = small::guard(&mut station, Condition::AtLeast(gauge, 50));
    let low = small::guard(&mut station, Condition::Not(Box::new(Condition::AtLeast(gauge, 50))));
    let faulty = small::guard(&mut station, Condition::Faulty(gauge));
    let numbers = [
        small::of(&station, Source::Input(gauge), Way::Broken),
        small::of(&station, Source::Input(gauge), Way::Doubtful),
        small::way(&station, high, Way::Tripped),
        small::way(&station, low, Way::Tripped),
        small::way(&station, faulty, Way::Tripped),
    ];
    let table = [
        (Health::Good, 80, [false, false, true, false, false]),
        (Health::Doubtful, 80, [false, true, true, true, true]),
        (Health::Broken, 80, [true, false, true, true, true]),
        (Health::Good, 20, [false, false, false, true, false]),
    ];
    on_every_reading(&station, &mut |name, reading| {
        for (health, steps, expected) in table {
            let mut sample = small::calm(&station);
            sample.gauges[0] = Reading { steps, health };
            let told = reading.scan(&sample);
            assert_eq!(numbers.map(|way| told.trips[way]), expected, "{name}, {health:?}");
        }
    });
}
