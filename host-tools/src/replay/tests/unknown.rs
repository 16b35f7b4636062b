//! What trips because it cannot be excluded is told apart from what is known to be so.

use super::{recording, way_of};
use crate::recording::read::Reader;
use crate::replay::event::What;
use crate::replay::text::{Lines, Paint};
use crate::replay::{Event, Runner, replay};
use crate::runner::with_runner;
use crate::sample::{Frame, Health, Reading, Sample};
use crate::station::Station;
use crate::station::ways::{Source, Way};
use crate::testing::{demo_station, small_station};
use crate::told::Scanned;

/// Number of the small station's pace.
const ROPE: u16 = 4;

/// Says the same in every scan.
struct Constant(Scanned);

impl Runner for Constant {
    fn scan(&mut self, _: &Sample) -> &Scanned {
        &self.0
    }
    fn restart(&mut self) {}
    fn adopt(&mut self) {}
}

#[test]
fn what_is_known_comes_first_and_the_unknown_is_named() {
    let station = small_station();
    let early = way_of(&station, Source::Watch(0), Way::Early);
    let low = way_of(&station, Source::Watch(1), Way::Tripped);
    let rope = usize::from(ROPE);
    let over = way_of(&station, Source::Input(rope), Way::OverTop);
    // In their common order the two doubtful ones stand around the known one.
    let trips = vec![over, early, low];
    let scanned = Scanned {
        first: trips.clone(),
        trips,
        stands: 1 << 3,
        doubtful: vec![over, low],
        unknown: vec![ROPE],
        ..Scanned::default()
    };
    let text = recording("power-up", 3, |_| 0);
    let mut events = Vec::new();
    let mut keep = |event: &Event| {
        events.push(event.clone());
        Ok(())
    };
    let mut reader = Reader::open(text.as_bytes(), &station).unwrap();
    replay(&station, &mut reader, &mut Constant(scanned.clone()), &mut keep, &mut |_| {}).unwrap();
    let What::Stop { causes, inputs, .. } = &events[1].what else { panic!("no stop: {events:?}") };
    let told: Vec<(&str, &[String])> = causes.iter().map(|c| (c.name.as_str(), c.unknown.as_slice())).collect();
    // The guard looks at the fork alone, which is known: there is nothing to name.
    assert_eq!(told, [("slow-down", &[][..]), ("rope-low", &[]), ("rope", &["rope".to_owned()])]);
    let known: Vec<(&str, bool)> = inputs.iter().map(|i| (i.name.as_str(), i.known)).collect();
    assert_eq!(known[2..5], [("fork", true), ("force", true), ("rope", false)]);

    let mut lines = Lines::new(Vec::new(), Paint(false));
    let mut reader = Reader::open(text.as_bytes(), &station).unwrap();
    replay(&station, &mut reader, &mut Constant(scanned), &mut lines, &mut |_| {}).unwrap();
    let said = String::from_utf8(lines.into_inner()).unwrap();
    assert!(
        said.contains("  not excluded, because rope is unknown: pace rope is faster than it can be [input rope]"),
        "{said}"
    );
    assert!(said.contains("rope no speed yet (unknown)"), "{said}");
}

/// Names of the watches of the drive terminal that trip in the third scan, and whether each is doubtful; and of the
/// inputs that are not known.
fn tripping(change: impl Fn(&Station, &mut Sample)) -> (Vec<(String, bool)>, Vec<String>) {
    let station = demo_station("drive");
    let mut sample = Sample {
        channels: vec![true; station.channels.len()],
        gauges: vec![Reading { steps: 300, health: Health::Good }; station.gauge_terminals.len()],
        travel: vec![0; station.sources.len()],
        links: vec![Frame { fresh: true, order: 0 }; station.link_terminals.len()],
    };
    change(&station, &mut sample);
    let scanned = with_runner(&station, |runner| {
        runner.scan(&sample);
        runner.scan(&sample);
        runner.scan(&sample).clone()
    })
    .unwrap();
    let ways = crate::station::ways::ways(&station);
    let watch = |way: &u16| match ways[usize::from(*way)].source {
        Source::Watch(i) => Some((station.watches[i].name.text.clone(), scanned.doubtful.contains(way))),
        _ => None,
    };
    let name = |input: &u16| station.inputs[usize::from(*input)].name.text.clone();
    (scanned.trips.iter().filter_map(watch).collect(), scanned.unknown.iter().map(name).collect())
}

/// Whether a watch is doubtful; none if it does not trip.
fn doubtful((trips, _): &(Vec<(String, bool)>, Vec<String>), watch: &str) -> Option<bool> {
    trips.iter().find(|(name, _)| name == watch).map(|(_, doubtful)| *doubtful)
}

fn set(station: &Station, sample: &mut Sample, terminal: &str, level: bool) {
    let at = station.channels.iter().position(|t| t == terminal).unwrap();
    sample.channels[at] = level;
}

fn break_wire(station: &Station, sample: &mut Sample, terminal: &str) {
    let at = station.gauge_terminals.iter().position(|t| t == terminal).unwrap();
    sample.gauges[at].health = Health::Broken;
}

#[test]
fn a_condition_is_doubtful_only_while_nothing_known_settles_it() {
    // Before the first span of a pace its speed is unknown.
    let at_rest = tripping(|_, _| {});
    assert_eq!(doubtful(&at_rest, "rollback"), Some(true));
    assert_eq!(doubtful(&at_rest, "rope-low-in"), None);
    assert_eq!(at_rest.1, ["rope", "tyres-in", "bay-chain", "tyres-out"]);

    let broken = tripping(|station, sample| break_wire(station, sample, "AI-02"));
    assert_eq!(doubtful(&broken, "rope-low-in"), Some(true));
    assert!(broken.1.contains(&"rope-height-in".to_owned()));

    // The gauge is unknown as before, but the fork says it.
    let forked = tripping(|station, sample| {
        break_wire(station, sample, "AI-02");
        set(station, sample, "DI-11", false);
    });
    assert_eq!(doubtful(&forked, "rope-low-in"), Some(false));

    // One channel of a pair says that it is open: nothing is wrong with it yet.
    let half = tripping(|station, sample| set(station, sample, "DI-19", false));
    assert_eq!(doubtful(&half, "emergency-stop"), Some(true));
    assert!(!half.1.contains(&"emergency-button".to_owned()));
}
