//! Single sentences of the manual's meaning that random histories seldom reach, each with values
//! worked out by hand, on every reading.
#![allow(clippy::indexing_slicing, clippy::panic, reason = "tests: an index out of range is a failure that says where")]

use cross_tests::reading::{Reading, on_every_reading};
use cross_tests::small;
use cross_tests::told::Told;
use host_tools::station::ways::Way;
use host_tools::station::{
    Backing, Condition, Confirm, Count, Every, Exercise, InputKind, Measured, Spacing, Station, Travel, WatchId,
    WatchKind,
};

/// One scan with some channels high and so much rope.
fn scan(station: &Station, reading: &mut dyn Reading, high: &[usize], rope: i32) -> Told {
    let mut sample = small::calm(station);
    for &channel in high {
        sample.channels[channel] = true;
    }
    sample.travel[0] = rope;
    reading.scan(&sample)
}

fn rope_travel(earliest: u32, latest: u32, capacity: u32) -> (Station, usize) {
    let mut station = small::station();
    let from = small::detector(&mut station);
    let to = small::detector(&mut station);
    let pace = small::pace(&mut station);
    let travel = Travel {
        from,
        to,
        measured: Measured::Rope(pace),
        earliest,
        latest,
        backstop: None,
        run: 1,
        capacity,
        early: 1,
        late: 1,
        stray: 1,
        crowded: 1,
        backwards: 1,
    };
    let watch = small::watch(&mut station, WatchKind::Travel(travel));
    (station, watch)
}

/// "Both saturate one above their limit", and "only one a scan": of two late carriers the second is
/// saved by the rope that runs back in the scan between, since its age stood at one above the limit.
#[test]
fn an_age_stands_one_above_its_limit() {
    let (station, watch) = rope_travel(10, 20, 3);
    let late = small::way(&station, watch, Way::Late);
    on_every_reading(&station, &mut |name, reading| {
        scan(&station, reading, &[], 1);
        scan(&station, reading, &[0], 1);
        scan(&station, reading, &[], 1);
        let told = scan(&station, reading, &[0], 1);
        assert_eq!(told.queue[watch], 2, "{name}: two are under way");
        // Ages 32 and 30 both stand at 21; the front one is late.
        let told = scan(&station, reading, &[0], 30);
        assert_eq!((told.trips[late], told.queue[watch]), (true, 1), "{name}: one a scan");
        // One back from 21 is 20, which is allowed.
        let told = scan(&station, reading, &[0], -1);
        assert_eq!((told.trips[late], told.queue[watch]), (false, 1), "{name}: within the window");
        let told = scan(&station, reading, &[0], 1);
        assert_eq!((told.trips[late], told.queue[watch]), (true, 0), "{name}: late after all");
    });
}

/// "The front carrier's age is at least `earliest`, or there is a front carrier and the stretch ...
/// has no excuses left": an arrival that is too early is excused once, and then it is early.
#[test]
fn an_early_arrival_is_excused_while_excuses_last() {
    let (mut station, watch) = rope_travel(10, 20, 1);
    if let WatchKind::Travel(travel) = &mut station.watches[watch].kind {
        travel.run = 50;
    }
    let early = small::way(&station, watch, Way::Early);
    let stray = small::way(&station, watch, Way::Stray);
    on_every_reading(&station, &mut |name, reading| {
        scan(&station, reading, &[], 0);
        scan(&station, reading, &[0], 1);
        let told = scan(&station, reading, &[1], 3);
        assert_eq!((told.trips[early], told.queue[watch]), (false, 1), "{name}: excused, and nobody leaves");
        scan(&station, reading, &[], 3);
        let told = scan(&station, reading, &[1], 3);
        assert_eq!((told.trips[early], told.queue[watch]), (true, 0), "{name}: early, and it leaves");
        scan(&station, reading, &[], 3);
        let told = scan(&station, reading, &[1], 3);
        assert!(told.trips[stray] && told.refilling[watch], "{name}: a stray even in a refill");
    });
}

/// "Saturating at `least`, without a greatest": after any stretch of rope, so much back is closer.
#[test]
fn a_spacing_without_a_greatest_stands_at_its_least() {
    let mut station = small::station();
    let detector = small::detector(&mut station);
    let pace = small::pace(&mut station);
    let spacing = Spacing { detector, measured: Measured::Rope(pace), least: 30, most: None, closer: 1, farther: 1 };
    let watch = small::watch(&mut station, WatchKind::Spacing(spacing));
    let closer = small::way(&station, watch, Way::Closer);
    on_every_reading(&station, &mut |name, reading| {
        scan(&station, reading, &[], 0);
        assert!(!scan(&station, reading, &[0], 1).trips[closer], "{name}: the first rise only arms");
        scan(&station, reading, &[], 90);
        scan(&station, reading, &[], -3);
        assert!(scan(&station, reading, &[0], 2).trips[closer], "{name}: 30 less 3 and 2 more is 29");
        scan(&station, reading, &[], 90);
        assert!(!scan(&station, reading, &[0], 0).trips[closer], "{name}: 30 is allowed");
    });
}

/// "An edge of the input's level (pair: of either channel)": either channel of a key counts as well,
/// so the second one alone keeps the exercise content.
#[test]
fn either_channel_of_a_key_is_a_change() {
    let mut station = small::station();
    let key = small::key(&mut station);
    small::contact(&mut station);
    small::pace(&mut station);
    if let InputKind::Key(key) = &mut station.inputs[key].kind {
        key.channels.1 = Some(1);
    }
    let exercise = Exercise { input: key, every: Every::Scans(2), answer: 1 };
    let watch = small::watch(&mut station, WatchKind::Exercise(exercise));
    let way = small::way(&station, watch, Way::Tripped);
    on_every_reading(&station, &mut |name, reading| {
        let samples: [(&[usize], bool); 7] =
            [(&[], false), (&[], false), (&[1], false), (&[1], false), (&[1], false), (&[1], true), (&[0, 1], false)];
        for (row, (high, expected)) in samples.into_iter().enumerate() {
            let told = scan(&station, reading, high, 0);
            assert_eq!(told.trips[way], expected, "{name}, scan {row}");
        }
    });
}

/// A count of carriers between the detectors of channels 0 and 1, confirmed by a contact of channel 2.
fn counted(confirmed: u32) -> (Station, WatchId) {
    let mut station = small::station();
    let (enter, leave) = (small::detector(&mut station), small::detector(&mut station));
    let when = Condition::High(small::contact(&mut station));
    small::pace(&mut station);
    let count = Count { enter, leave, most: 65_535, confirmed, when, over: 1, below: 1, wrong: 1 };
    let watch = small::watch(&mut station, WatchKind::Count(count));
    (station, watch)
}

/// "The first scan counts as 'did before'": a condition that holds from power-up on confirms nothing.
#[test]
fn a_condition_that_holds_at_power_up_confirms_nothing() {
    let (station, watch) = counted(0);
    let below = small::way(&station, watch, Way::Below);
    on_every_reading(&station, &mut |name, reading| {
        scan(&station, reading, &[2], 0);
        assert!(!scan(&station, reading, &[1, 2], 0).trips[below], "{name}: nobody knows how many there are");
        scan(&station, reading, &[], 0);
        scan(&station, reading, &[2], 0);
        assert!(scan(&station, reading, &[1, 2], 0).trips[below], "{name}: there was nobody");
    });
}

/// "Saturating at 65 535": of three that enter after 65 534, two are not counted.
#[test]
fn a_count_stands_at_its_top() {
    let (station, watch) = counted(65_534);
    let wrong = small::way(&station, watch, Way::Wrong);
    on_every_reading(&station, &mut |name, reading| {
        scan(&station, reading, &[], 0);
        scan(&station, reading, &[2], 0);
        for _ in 0..3 {
            scan(&station, reading, &[0], 0);
            scan(&station, reading, &[], 0);
        }
        scan(&station, reading, &[1], 0);
        assert!(!scan(&station, reading, &[2], 0).trips[wrong], "{name}: 65 535 less one");
        scan(&station, reading, &[0], 0);
        assert!(scan(&station, reading, &[2], 0).trips[wrong], "{name}: 65 535 once more");
    });
}

/// "At power-up it is the most severe stop alone": a stop's effect is awaited from the first scan on.
#[test]
fn the_most_severe_stop_stood_before_power_up() {
    let mut station = small::station();
    let see = Condition::High(small::contact(&mut station));
    small::pace(&mut station);
    let watch =
        small::watch(&mut station, WatchKind::Confirm(Confirm { after: 1, see, slower: None, within: 1, answer: 1 }));
    let way = small::way(&station, watch, Way::Tripped);
    on_every_reading(&station, &mut |name, reading| {
        assert!(!scan(&station, reading, &[], 0).trips[way], "{name}: published for one scan");
        assert!(scan(&station, reading, &[], 0).trips[way], "{name}: and for another");
    });
}

/// "Is known and lower": what one of two sources says alone confirms nothing.
#[test]
fn a_fall_of_a_speed_that_is_not_known_confirms_nothing() {
    let mut station = small::station();
    let rope = small::pace(&mut station);
    station.sources.push("CT-01".to_owned());
    let Some(InputKind::Pace(pace)) = station.inputs.get_mut(rope).map(|input| &mut input.kind) else {
        panic!("a pace is one");
    };
    pace.backing = Backing::Source(1, 0);
    let see = Condition::Not(Box::new(Condition::Faster(rope, 1)));
    let confirm = Confirm { after: 1, see, slower: Some((rope, 10)), within: 2, answer: 1 };
    let watch = small::watch(&mut station, WatchKind::Confirm(confirm));
    let way = small::way(&station, watch, Way::Tripped);
    for (other, missed) in [(10, false), (50, true)] {
        on_every_reading(&station, &mut |name, reading| {
            let mut last = false;
            for travel in [[50, 50], [50, 50], [10, other]] {
                let mut sample = small::calm(&station);
                sample.travel = travel.to_vec();
                last = reading.scan(&sample).trips[way];
            }
            assert_eq!(last, missed, "{name}: the other source says {other}");
        });
    }
}

/// "In either direction is known and lower by at least V than in the first scan in which the stop was published": at
/// power-up that is the first scan of all.
#[test]
fn a_fall_of_speed_counts_from_the_first_scan_of_the_stop() {
    let mut station = small::station();
    let rope = small::pace(&mut station);
    let see = Condition::Not(Box::new(Condition::Faster(rope, 1)));
    let confirm = Confirm { after: 1, see, slower: Some((rope, 10)), within: 2, answer: 1 };
    let watch = small::watch(&mut station, WatchKind::Confirm(confirm));
    let way = small::way(&station, watch, Way::Tripped);
    for (speeds, missed) in [
        ([50, 50, 41], true),
        ([50, 50, 40], false),
        ([50, 40, 60], false),
        ([40, 60, 50], true),
        ([-50, -50, -41], true),
        ([-50, -50, -40], false),
        ([-50, -50, 40], false),
        ([5, 1, 1], true),
        ([5, 5, 0], false),
    ] {
        on_every_reading(&station, &mut |name, reading| {
            let mut last = false;
            for speed in speeds {
                last = scan(&station, reading, &[], speed).trips[way];
            }
            assert_eq!(last, missed, "{name}: {speeds:?}");
        });
    }
}
