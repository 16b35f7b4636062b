//! Carriers by number over seasons of passings: is the one that gives way named before it would trip, and no other; is one that was taken out found,
//! and does the numbering follow; and is nothing numbered where nothing tells carriers apart?
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    clippy::cast_precision_loss,
    reason = "a test: what fails here is a failed test, and says where; shares are what one wants to read of it"
)]

use cross_tests::effort::by_effort;
use cross_tests::planted::station;
use cross_tests::season::Season;
use host_tools::carriers::charts::Side;
use host_tools::carriers::seen::{Looked, Looking};
use host_tools::carriers::trend::Found;
use host_tools::carriers::{Change, Days, Passing, Refused, View};
use host_tools::recording::read::{Reader, Step};
use host_tools::recording::write::{Rows, Style, Writer};
use host_tools::simulate::{Scenario, Simulator, record};
use host_tools::station::{Station, WatchKind};

/// Lower limit of the closing force in the demo, N.
const LEAST: f64 = 6_200.0;

fn taught(views: &[View]) -> Days {
    let mut days = Days::new(None, &[1.0, 55.0]);
    for (day, view) in views.iter().enumerate() {
        days.day(&format!("day {}", day + 1), std::slice::from_ref(view)).unwrap();
    }
    days
}

/// Carriers of which something was found, each with the first day, and in which value.
fn named(days: &Days) -> Vec<(u32, usize, usize)> {
    let mut all = Vec::new();
    for (value, trend) in days.trends.iter().enumerate() {
        for (number, own) in &trend.own {
            all.extend(own.found.iter().map(|(_, day)| (*number, *day, value)));
        }
    }
    all
}

fn changes(days: &Days) -> Vec<(usize, Change)> {
    let told = days.days.iter().enumerate();
    told.flat_map(|(day, told)| told.changes.iter().map(move |change| (day + 1, change.clone()))).collect()
}

#[test]
fn a_weak_spring_is_named_before_it_trips_and_no_other_is() {
    let season = Season::of_the_issue(17, 17, 31);
    let views = season.days();
    let trips = season.trips(&views, |force| force < LEAST).unwrap();
    let days = taught(&views);
    assert_eq!(days.count.unwrap().carriers, 60);
    assert_eq!(changes(&days), [(9, Change::TakenOut(31)), (12, Change::Back(31))]);
    let named = named(&days);
    assert!(named.iter().all(|(number, _, value)| (*number, *value) == (17, 0)), "{named:?}");
    let day = named.iter().map(|(_, day, _)| *day).min().unwrap();
    assert!(day < 8 && day < trips, "named on day {day}, trips on day {trips}");
    let own = &days.trends[0].own[&17];
    assert!(own.found.iter().any(|(found, _)| *found == Found::Moves(Side::Low)));
    // A hundredth of 7300 N is 7.3 steps of 10 N.
    assert!((own.slope().unwrap() + 7.3).abs() < 1.0, "{:?}", own.slope());
    assert!(days.days.iter().all(|day| day.left_out == 0));
    // The last one of a day that closes oddly may be anybody.
    assert!(days.days.iter().map(|day| day.unknown).sum::<u64>() < 3);
}

/// With the day on which it was named, when would it have tripped?
#[test]
fn the_day_at_the_limit_is_foretold() {
    let season = Season::of_the_issue(5, 17, 31);
    let views = season.days();
    let trips = season.trips(&views, |force| force < LEAST).unwrap();
    let days = taught(&views[..8]);
    let to = days.trends[0].own[&17].days_to(Some(LEAST / 10.0), None).unwrap();
    // Means of a day are above its least passing, so the day itself comes a little later.
    assert!((8.0 + to - trips as f64).abs() < 2.5, "8 + {to}, trips on day {trips}");
}

#[test]
fn a_dragging_carrier_is_named_by_its_way() {
    let season = Season { drags: Some((44, 12.0)), ..Season::quiet(3) };
    let named = named(&taught(&season.days()));
    assert!(
        !named.is_empty() && named.iter().all(|(number, day, value)| *number == 44 && *day < 8 && *value == 1),
        "{named:?}"
    );
}

#[test]
fn one_that_comes_back_with_another_force_is_another() {
    let season = Season { out: Some((31, 4, 7)), changed: 500.0, days: 9, rounds: 12, ..Season::quiet(9) };
    let days = taught(&season.days());
    assert_eq!(changes(&days), [(4, Change::TakenOut(31)), (7, Change::New(61, 30))]);
    assert_eq!(days.there().count(), 60);
    assert_eq!(days.gone().collect::<Vec<_>>(), [31]);
}

#[test]
fn carriers_that_nothing_tells_apart_get_no_numbers() {
    let season = Season { alike: true, days: 2, rounds: 10, ..Season::quiet(4) };
    let mut days = Days::new(Some(60), &[1.0, 55.0]);
    // From day to day each is a little different, but not from round to round.
    let flat: Vec<View> = season
        .days()
        .into_iter()
        .map(|view| View {
            passings: view
                .passings
                .into_iter()
                .enumerate()
                .map(|(at, passing)| Passing { values: vec![Some(730.0 + (at * 7 % 11) as f64), None], ..passing })
                .collect(),
        })
        .collect();
    assert!(matches!(days.day("one", &flat[..1]), Err(Refused::NoRound(600) | Refused::OtherCount { .. })));
    let mut wrong = Days::new(Some(59), &[1.0, 55.0]);
    let season = Season { days: 1, rounds: 5, ..Season::quiet(4) }.days();
    assert!(matches!(wrong.day("one", &season), Err(Refused::OtherCount { said: 59, .. })));
    // A carrier that was counted twice, or a lost one, is found in the first day already.
    assert_eq!(taught(&season).there().count(), 60);
}

#[test]
fn what_is_shorter_than_a_round_or_of_another_loop_is_left_out() {
    let first = Season { days: 1, rounds: 5, ..Season::quiet(1) }.days();
    let other = Season { days: 1, rounds: 5, ..Season::quiet(2) }.days();
    let short = View { passings: first[0].passings[..40].to_vec() };
    let mut days = taught(&first);
    days.day("short", &[short]).unwrap();
    days.day("other", &other).unwrap();
    let left: Vec<u64> = days.days.iter().map(|day| day.left_out).collect();
    assert_eq!(left, [0, 40, 300]);
    assert!(named(&days).is_empty());
}

/// A day of the drive station: eight carriers, some of whose passings are told otherwise.
fn recorded(station: &Station, speed: &str, told: &str) -> Vec<u8> {
    let text = format!(
        "last 7 min\nrope starts at {speed} m/s\ncarriers come round after 8\ncarriers spread by 0.5 m
         gauge close-force pressed from 27.6 m to 29.4 m, rated 7300 N, spread 300 N, noise 20 N\n{told}"
    );
    let scenario = Scenario::read(&text, station).unwrap_or_else(|problems| panic!("{problems:?}"));
    let style = Style { rows: Rows::Change, ..Style::default() };
    let mut writer = Writer::new(Vec::new(), station, style).unwrap();
    record(&mut Simulator::new(station, &scenario, 1), &mut writer, |_| None).unwrap();
    writer.finish().unwrap()
}

/// From recordings to names: a grip weakens from the fourth day on, another carrier is out on the sixth.
#[test]
fn carriers_of_recordings_are_followed() {
    let station = station("drive", &[]);
    let measure = station.watches.iter().position(|watch| matches!(watch.kind, WatchKind::Measure(_))).unwrap();
    let (looked, _) = Looked::new(&station, measure).unwrap();
    let mut days = Days::new(Some(8), &looked.resolutions());
    // Each time that the carrier with this number comes round.
    let each = |number: u32, what: &str| -> String {
        let lines: Vec<String> =
            (0..6).map(|round| format!("at 0 s carrier {} {what}\n", number + 8 * round)).collect();
        lines.concat()
    };
    for (day, speed) in ["5.0", "4.8", "4.9", "4.7", "4.6", "5.0"].iter().enumerate() {
        let mut told = String::new();
        if day >= 3 {
            told += &each(5, &format!("presses close-force with {} N", 7_300 - 70 * (day - 2)));
        } else {
            told += &each(5, "presses close-force with 7300 N");
        }
        if day == 5 {
            told += &each(3, "missing");
        }
        let bytes = recorded(&station, speed, &told);
        let mut reader = Reader::open(bytes.as_slice(), &station).unwrap();
        let mut looking = Looking::new(&looked);
        while let Step::Scan { at_us } = reader.advance().unwrap() {
            looking.scan(at_us, reader.sample());
        }
        let view = looking.cut();
        let passings = view.passings.len();
        assert!((24..40).contains(&passings), "{passings}");
        // Every passing has its force and all its ways, but where the recording begins and ends.
        let whole = view.passings.iter().filter(|passing| passing.values.iter().all(Option::is_some)).count();
        assert!(whole + 3 >= passings, "{whole} of {passings}");
        days.day(speed, &[view]).unwrap();
    }
    assert_eq!(days.count.unwrap().carriers, 8);
    let [(6, Change::TakenOut(out))] = changes(&days)[..] else { panic!("{:?}", changes(&days)) };
    let named = named(&days);
    let weak = named.first().unwrap().0;
    // The two hang two places from one another.
    assert_eq!((weak + 8 - out) % 8, 2);
    assert!(named.iter().all(|(number, day, value)| (*number, *value) == (weak, 0) && *day <= 6), "{named:?}");
}

/// Carrier and seed at random: how many are named in time, and how often another one is.
#[test]
fn over_many_seeds() {
    let seeds = by_effort([2, 25, 100]);
    let (mut in_time, mut false_ones, mut carrier_days, mut followed, mut first) = (0, 0, 0, 0, Vec::new());
    for seed in 0..seeds {
        let weak = usize::try_from(seed * 37 % 60).unwrap() + 1;
        let out = usize::try_from((seed * 37 + 13 + seed) % 60).unwrap() + 1;
        let out = if out == weak { out % 60 + 1 } else { out };
        let season = Season::of_the_issue(1_000 + seed, weak, out);
        let views = season.days();
        let trips = season.trips(&views, |force| force < LEAST).unwrap_or(usize::MAX);
        let days = taught(&views);
        let named = named(&days);
        let weak = u32::try_from(weak).unwrap();
        let day = named.iter().filter(|(number, ..)| *number == weak).map(|(_, day, _)| *day).min();
        in_time += u32::from(day.is_some_and(|day| day < trips));
        first.extend(day);
        false_ones += named.iter().filter(|(number, ..)| *number != weak).count();
        carrier_days += season.carriers * season.days;
        let out = u32::try_from(out).unwrap();
        let right = changes(&days) == [(9, Change::TakenOut(out)), (12, Change::Back(out))];
        followed += u32::from(right);
        if !right {
            println!("seed {seed}, carrier {out} was out from day 9 to 12: {:?}", changes(&days));
        }
    }
    first.sort_unstable();
    println!(
        "{in_time} of {seeds} named before they would trip, from day {:?} to {:?}; {false_ones} false alarms in {carrier_days} carrier-days; \
         {followed} numberings followed the carrier that was out",
        first.first(),
        first.last()
    );
    let all = u32::try_from(seeds).unwrap();
    assert_eq!(in_time, all);
    // Where a neighbour closes alike it may be found a day later, or the neighbour be taken for it.
    assert!(followed * 100 >= all * 97, "{followed}");
    assert!(false_ones * 5_000 <= carrier_days, "{false_ones}");
}
