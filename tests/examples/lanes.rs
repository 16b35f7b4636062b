//! Random lanes and what a carrier's run on them comes to, a JSON line each, for `tests/python/lane.py`, which integrates the
//! same speeds with `SciPy`.
#![allow(clippy::print_stdout, clippy::unwrap_used, reason = "a tool of the tests")]

use cross_tests::generate::Rng;
use host_tools::lane::{Speed, run};
use host_tools::station::{Lane, Name, Stretch, Tolerances};
use host_tools::text::place::Place;
use serde_json::json;

const LANES: u64 = 200;

/// A carrier slows, goes steadily and speeds up some times, at shares from a twentieth of the rope speed.
fn lane(rng: &mut Rng) -> Lane {
    let place = Place::default();
    let (mut at, mut share) = (rng.small(0, 500), 1_000_000);
    let mut stretches = Vec::new();
    for _ in 0..rng.small(1, 6) {
        let to = at + rng.small(200, 30_000);
        let next = if rng.chance(30) { share } else { rng.small(50_000, 1_000_000) };
        stretches.push(Stretch { from: at, to, share: (share, next), driven_by: None, carried: false, place });
        (at, share) = (to, next);
    }
    Lane {
        name: Name { text: "trial".into(), place },
        every: 60_000,
        least_every: None,
        most_every: None,
        carrier: 450,
        body: None,
        loads: None,
        tolerances: Tolerances::default(),
        line_speed: None,
        touches: Vec::new(),
        stretches,
        uncouples: 0,
        couples: at,
        held_until: at,
    }
}

fn main() {
    for seed in 0..LANES {
        let mut rng = Rng::new(seed);
        let lane = lane(&mut rng);
        let (start, end) = (lane.stretches.first().unwrap().from, lane.stretches.last().unwrap().to);
        let from = rng.small(start, end - 100);
        let to = rng.small(from + 50, end);
        let ppm = rng.small(0, 50_000);
        let told = |speed| {
            let run = run(&lane, from, to, speed).unwrap();
            [u64::try_from(run.least).unwrap(), u64::try_from(run.most).unwrap()]
        };
        let stretches: Vec<_> = lane.stretches.iter().map(|s| json!([s.from, s.to, s.share.0, s.share.1])).collect();
        let case = json!({
            "stretches": stretches,
            "from": from,
            "to": to,
            "ppm": ppm,
            "rope_mm_a_second": rng.small(300, 6_000),
            "nominal_nm": told(Speed::Nominal),
            "faster_nm": told(Speed::Faster(ppm)),
            "slower_nm": told(Speed::Slower(ppm)),
        });
        println!("{case}");
    }
}
