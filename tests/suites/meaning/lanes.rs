//! 64 different histories at once in the lanes reading, each against the plain reading of its own.
#![allow(
    clippy::indexing_slicing,
    clippy::expect_used,
    clippy::cast_possible_truncation,
    reason = "a test that panics has failed, as it should"
)]

use cross_tests::effort::is_heavy;
use cross_tests::generate::{History, Raw, case};
use cross_tests::machines::Stepped;
use cross_tests::reading::Reading;
use cross_tests::told::Told;
use host_tools::lower::lower;
use host_tools::sample::{Health, Sample};
use logic_rules::step::{self, Bound, Frame, Inputs, Moved, Reading as Read};
use logic_rules::{Algebra, Lanes, Plain, Sliced};

const LANES: usize = 64;

/// One bit of each sample.
fn bits(samples: &[Sample], of: impl Fn(&Sample) -> bool) -> u64 {
    samples.iter().enumerate().fold(0, |bits, (lane, sample)| bits | u64::from(of(sample)) << lane)
}
/// One number of each sample.
fn words(samples: &[Sample], of: impl Fn(&Sample) -> u32) -> logic_rules::Slices<u64> {
    let values: Vec<u32> = samples.iter().map(of).collect();
    Lanes::word(&values)
}

fn compare(seed: u64, scans: usize, raw: bool) {
    let case = case(seed);
    let station = &case.station;
    let program = lower(station);
    let plan = program.plan().expect("a generated station is a plan");
    let mut a = Sliced(Lanes);
    let (needs, no, zero) = (plan.needs(), a.bit(false), a.word(0));
    let (mut state, mut numbers) = (vec![no; needs.bits], vec![zero; needs.words]);
    let (mut work, mut work_numbers) = (vec![no; needs.work_bits], vec![zero; needs.work_words]);
    step::power_up(&mut a, &plan, &mut state, &mut numbers).expect("as many cells as it needs");
    let mut bound = Bound::over(&plan, &mut state, &mut numbers, &mut work, &mut work_numbers).expect("the same");
    let mut plain: Vec<Stepped<Plain>> = (0..LANES).map(|_| Stepped::power_up(station)).collect();
    let mut lively: Vec<History> = (0..LANES).map(|lane| History::new(&case, seed * 64 + lane as u64)).collect();
    let mut noise: Vec<Raw> = (0..LANES).map(|lane| Raw::new(station, seed * 64 + lane as u64)).collect();
    let mut told: Vec<Option<Told>> = vec![None; LANES];
    for scan in 0..scans {
        let sample = |lane: usize, lively: &mut [History], noise: &mut [Raw]| {
            if raw { noise[lane].next_sample() } else { lively[lane].next_sample(told[lane].as_ref()) }
        };
        let samples: Vec<Sample> = (0..LANES).map(|lane| sample(lane, &mut lively, &mut noise)).collect();
        let first = &samples[0];
        let channels: Vec<u64> = (0..first.channels.len()).map(|i| bits(&samples, |s| s.channels[i])).collect();
        let gauges: Vec<_> = (0..first.gauges.len())
            .map(|i| Read {
                value: words(&samples, |s| s.gauges[i].steps),
                good: bits(&samples, |s| s.gauges[i].health == Health::Good),
                broken: bits(&samples, |s| s.gauges[i].health == Health::Broken),
            })
            .collect();
        let sources: Vec<_> = (0..first.travel.len())
            .map(|i| Moved {
                forward: words(&samples, |s| u32::try_from(s.travel[i]).unwrap_or(0)),
                back: words(&samples, |s| if s.travel[i] < 0 { s.travel[i].unsigned_abs() } else { 0 }),
            })
            .collect();
        let links: Vec<_> = (0..first.links.len())
            .map(|i| Frame {
                fresh: bits(&samples, |s| s.links[i].fresh),
                order: words(&samples, |s| u32::from(s.links[i].order)),
            })
            .collect();
        let inputs = Inputs { channels: &channels, gauges: &gauges, sources: &sources, links: &links };
        let verdict = bound.scan(&mut a, &inputs).expect("whole inputs");
        for (lane, sample) in samples.iter().enumerate() {
            let mine = plain[lane].scan(sample);
            let at = |word: u64| word >> lane & 1 == 1;
            assert_eq!(Lanes::value(&verdict.answer, lane as u32), u32::from(mine.answer), "lane {lane}, scan {scan}");
            assert_eq!((at(verdict.permit), at(verdict.reset)), (mine.permit, mine.reset), "lane {lane}, scan {scan}");
            for (plan, &way) in program.by_severity.iter().enumerate() {
                let lanes =
                    [bound.work.trip[plan][0], bound.bits().latch[plan][0], bound.bits().first[plan][0]].map(at);
                let same = [mine.trips[way], mine.latched[way], mine.first[way]];
                assert_eq!(lanes, same, "seed {seed}, lane {lane}, scan {scan}, {:?}", program.ways[way]);
            }
            for (output, [off, _]) in bound.bits().output.iter().enumerate() {
                assert_eq!(at(*off), mine.off[output], "lane {lane}, scan {scan}, output {output}");
            }
            told[lane] = Some(mine);
        }
    }
}

#[test]
fn sixty_four_histories_at_once_are_those_of_the_plain_reading() {
    let stations = if is_heavy() { 40 } else { 4 };
    for seed in 0..stations {
        compare(seed, 400, false);
        compare(seed, 100, true);
    }
}
