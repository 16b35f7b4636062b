//! The page of a small fleet: it stands by itself, names who changes, and stays light over a season.

use super::{Followed, fleet};
use crate::carriers::told::Told;
use crate::carriers::{Days, Passing, View};
use crate::load::load;
use crate::station::WatchKind;
use crate::text::parse::Source;

const RULES: [&str; 2] = [
    include_str!("../../../demo/drive-terminal.rules"),
    include_str!("../../../demo/drive-terminal.requirements.rules"),
];

/// Days of a fleet of 20 whose forces are their own; that of carrier 7 falls from the fifth day on.
fn followed(days: usize) -> Days {
    let mut all = Days::new(None, &[1.0, 55.0]);
    for day in 0..days {
        let mut view = View::default();
        for passing in 0..80_usize {
            let carrier = passing % 20;
            let real = |whole: usize| f64::from(u32::try_from(whole).unwrap());
            let own = real(carrier * 7_919 % 101);
            let weak = if carrier == 6 { real(day.saturating_sub(4)) * 4.0 } else { 0.0 };
            let scatter = real((passing * 31 + day * 17) % 5) / 5.0;
            let rope_mm = i64::try_from(passing).unwrap() * 60_000;
            let values = vec![Some(700.0 + own + scatter - weak), (carrier != 3).then_some(4_900.0 + scatter)];
            view.passings.push(Passing { at_us: 0, rope_mm, values });
        }
        all.day(&format!("<day-{day}>.csv"), &[view]).unwrap();
    }
    all
}

fn page_of(days: &Days) -> String {
    let source = |text: &str| Source { path: "demo".into(), bytes: text.as_bytes().to_vec() };
    let station = load(RULES.map(source).into()).station.unwrap();
    let measure = station.watches.iter().enumerate().find_map(|(number, watch)| match &watch.kind {
        WatchKind::Measure(measure) => Some((number, measure)),
        _ => None,
    });
    let (number, measure) = measure.unwrap();
    let told = Told::all(&station, number, measure, vec!["slow-down".into()]);
    let rules = ["a<i>.rules".to_owned()];
    fleet(&Followed { station: &station, rules: &rules, digest: "0123", days, told: &told, passed_over: &[] })
}

#[test]
fn who_changes_is_named_and_led_to_a_strip() {
    let text = page_of(&followed(14));
    for never in ["<day", "<i>", "<script", "http", "url(", "src="] {
        assert!(!text.replace("http-equiv", "").contains(never), "{never}");
    }
    assert_eq!(text.matches("<svg").count(), 4, "two values of 20 carriers, 15 in a picture");
    assert!(text.contains("carrier 7 falls since day"), "{text}");
    assert!(text.contains(r##"<a href="#value-0-0">7</a>"##) && text.contains(r#"id="value-0-0""#));
    assert!(text.contains("limits 6200 N and 8400 N") && text.contains("limits 4.655 m and 5.133 m"));
}

#[test]
fn a_season_stays_light() {
    let (short, long) = (page_of(&followed(8)).len(), page_of(&followed(150)).len());
    // The names of the days grow, the pictures do not.
    assert!(long < short * 2 + 150 * 40, "{short} and {long}");
}
