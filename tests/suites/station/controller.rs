//! The controller on a plant of doubles: it publishes in every scan of every incident what the host's replay does, and
//! whatever breaks in it ends in a stop with its code.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "a test that panics has failed, as it should; counts are what one wants to read of it"
)]

use cross_tests::effort::is_heavy;
use cross_tests::plant::trial::{Controller, Lent, Trial, all_high};
use cross_tests::plant::{BITES_AFTER, Plant, Ran, Rig, plant, rig, run, show};
use cross_tests::proofs::{demo, packed};
use firmware::{Booted, Cause, Fault, Kind, Published, Sample, boot};
use host_tools::runner::with_runner;
use host_tools::simulate::Scenario;
use host_tools::station;
use logic_rules::image::{self, Image};
use std::path::Path;
use std::thread;

/// Changes a plant.
type Change = Box<dyn Fn(&mut cross_tests::plant::State)>;
/// Changes a reading.
type Turn = fn(&mut Sample);

/// Scenarios of a station; the mornings, which are hours, and two of three others only where there is time.
fn scenarios(which: &str) -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo");
    let mut all: Vec<(String, String)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.file_name().unwrap().to_str().unwrap().to_owned(), path))
        .filter(|(name, _)| name.starts_with(which) && name.ends_with(".scenario"))
        .filter(|(name, _)| is_heavy() || !name.ends_with("-morning.scenario"))
        .map(|(name, path)| (name, std::fs::read_to_string(path).unwrap()))
        .collect();
    all.sort();
    all.into_iter().step_by(if is_heavy() { 1 } else { 3 }).collect()
}

/// What both sides say of a scan: answer, permit, reset, outputs that are on.
fn said(told: &host_tools::told::Scanned, outputs: usize) -> Published {
    let all = u32::try_from((1_u64 << outputs) - 1).unwrap();
    Published {
        answer: u32::from(told.answer),
        permit: told.permit,
        reset: told.reset,
        on: all & !u32::try_from(told.off & u64::from(all)).unwrap(),
    }
}

/// Runs a scenario on host and controller side by side; gives the scans, those without a stop, and the powers-up.
fn side_by_side(station: &station::Station, bytes: &[u8], name: &str, text: &str) -> [u32; 3] {
    let scenario = Scenario::read(text, station).unwrap();
    let image = Image::open(bytes).unwrap();
    let plant = plant(&image);
    let (mut scans, mut free, mut starts) = (0, 0, 0);
    let mut controller: Option<Controller<'_>> = None;
    let mut shown = plant.borrow().sample.clone();
    with_runner(station, |runner| {
        run(station, &scenario, runner, &mut |ran: &Ran<'_>| {
            if ran.restarted || controller.is_none() {
                // Powered up anew: what was counted before does not count. Its memory is leaked; there are few starts.
                let memory: &'static mut Lent = Box::leak(Box::new(Lent::of(&image)));
                let Ok(started) = boot(rig(&plant, &image), [bytes, bytes], memory.both(), Cause::PowerUp) else {
                    panic!("{name}: did not start");
                };
                controller = Some(started);
                starts += 1;
            }
            let controller = controller.as_mut().unwrap();
            show(&mut shown, station, &image, ran.sample);
            plant.borrow_mut().sample.copy(&shown);
            scans += 1;
            let want = said(ran.told, station.outputs.len());
            assert_eq!(controller.scan(), Ok(want), "{name}, scan {scans}");
            assert_eq!(controller.driven(), want.on);
            assert_eq!(plant.borrow().energised(), want.on);
            free += u32::from(want.on != 0);
            if ran.adopts {
                controller.twin().adopt().unwrap();
            }
            let now = plant.borrow().now;
            plant.borrow_mut().now = now.wrapping_add(station.scan_us);
            true
        });
    })
    .unwrap();
    assert_eq!(plant.borrow().feedings, scans, "fed once a scan");
    [scans, free, starts]
}

fn every_incident(which: &str) {
    let (station, bytes) = (demo(which), packed(which));
    let all = scenarios(which);
    assert!(all.len() >= if is_heavy() { 30 } else { 10 }, "{which}: {}", all.len());
    let sums: Vec<[u32; 3]> = thread::scope(|scope| {
        let (station, bytes, all) = (&station, &bytes, &all);
        let halves: Vec<_> = (0..2)
            .map(|half| {
                scope.spawn(move || {
                    let these = all.iter().skip(half).step_by(2);
                    these.map(|(name, text)| side_by_side(station, bytes, name, text)).collect::<Vec<_>>()
                })
            })
            .collect();
        halves.into_iter().flat_map(|half| half.join().unwrap()).collect()
    });
    let sum = |at: usize| sums.iter().map(|sums| u64::from(sums[at])).sum::<u64>();
    println!("{which}: {} scenarios, {} scans, outputs on in {}, {} starts", all.len(), sum(0), sum(1), sum(2));
    let (scans, free) = if is_heavy() { (500_000, 250_000) } else { (150_000, 100_000) };
    assert!(sum(0) > scans && sum(1) > free && sum(2) >= u64::try_from(all.len()).unwrap());
}

#[test]
fn the_drive_terminal_is_controlled_as_it_is_replayed() {
    every_incident("drive");
}

#[test]
fn the_return_terminal_is_controlled_as_it_is_replayed() {
    every_incident("return");
}

#[test]
fn whatever_breaks_ends_in_a_stop_with_its_code() {
    let trial = Trial::running();
    assert_eq!(trial.broken(|_| {}).map(|published| published.on != 0), Ok(true));
    let cases: Vec<(&str, Fault, u8, Change)> = vec![
        ("inputs are frozen", Fault::Stale, 17, Box::new(|plant| plant.frozen = true)),
        ("a reading takes too long", Fault::Overrun, 21, Box::new(|plant| plant.slow = 6_000)),
        ("an output is welded off", Fault::ReadBack(0), 23, Box::new(|plant| plant.stuck = Some((1, false)))),
        ("pins cannot be read", Fault::Missing, 16, Box::new(|plant| plant.pins_broken = true)),
    ];
    for (what, fault, code, change) in cases {
        assert_eq!(trial.broken(change), Err(fault), "{what}");
        assert_eq!(fault.code(), code, "{what}");
    }
    // An output that stays on when a stop wants it off.
    trial.on(|controller, plant, samples| {
        plant.borrow_mut().stuck = Some((1, true));
        for sample in samples.take(5) {
            assert!(trial.next(controller, plant, sample).is_ok());
        }
        controller.halt(Fault::Silent);
        assert_eq!(controller.fault(), Some(Fault::Silent));
    });
}

#[test]
fn an_output_that_does_not_let_go_is_told_in_the_next_scan() {
    let trial = Trial::running();
    trial.on(|controller, plant, samples| {
        let sample = all_high(samples.next().unwrap());
        plant.borrow_mut().stuck = Some((0xFF, true));
        // The outputs that were on are stuck so; the others are off.
        let on = controller.driven();
        plant.borrow_mut().stuck = Some((on, true));
        let mut last = Ok(Published::default());
        for _ in 0..200 {
            last = trial.next(controller, plant, &sample);
            if last.is_err() {
                break;
            }
        }
        assert!(matches!(last, Err(Fault::ReadBack(_))), "{last:?}");
    });
}

#[test]
fn a_loop_that_hangs_is_ended_by_the_watchdog_and_stays_so() {
    let trial = Trial::running();
    trial.on(|_, plant, _| {
        assert_ne!(plant.borrow().energised(), 0);
        plant.borrow_mut().now += BITES_AFTER + 1;
        assert_eq!(plant.borrow().energised(), 0, "nobody fed it");
    });
    let image = Image::open(&trial.bytes).unwrap();
    let (plant, mut memory) = (plant(&image), Lent::of(&image));
    let bytes = trial.bytes.as_slice();
    let booted = boot(rig(&plant, &image), [bytes, bytes], memory.both(), Cause::Restart(21));
    assert_eq!(booted.err().map(|halted| halted.fault), Some(Fault::Restarted(21)));
}

#[test]
fn a_scan_that_comes_too_late_is_an_overrun() {
    let trial = Trial::running();
    let late = |by: u32| {
        trial.on(|controller, plant, samples| {
            plant.borrow_mut().now += by;
            trial.next(controller, plant, samples.next().unwrap()).err()
        })
    };
    assert_eq!(late(trial.station.scan_us - 1), None);
    assert_eq!(late(trial.station.scan_us), Some(Fault::Overrun));
}

#[test]
fn a_single_bad_reading_is_not_used() {
    let trial = Trial::running();
    let turns: [(&str, Turn); 4] = [
        ("channel", |sample| sample.channels[3] ^= true),
        ("current", |sample| sample.currents[0] ^= 1 << 22),
        ("pulses", |sample| sample.pulses[0] ^= 1 << 9),
        ("link", |sample| sample.links[0].order ^= 1),
    ];
    for (what, turn) in turns {
        for reading in 0..2 {
            trial.on(|controller, plant, samples| {
                let thirds = controller.counters().thirds;
                let mut turned = vec![None; reading];
                turned.push(Some(turn));
                plant.borrow_mut().turn = turned;
                let published = trial.next(controller, plant, samples.next().unwrap());
                assert_eq!(published.map(|published| published.on != 0), Ok(true), "{what}");
                assert_eq!(controller.counters().thirds, thirds + 1);
            });
        }
    }
    // No two of three agree.
    let published = trial.broken(|plant| {
        plant.turn = vec![
            Some(|sample: &mut Sample| sample.currents[1] = 4_000_000),
            Some(|sample: &mut Sample| sample.currents[1] = 19_000_000),
            Some(|sample: &mut Sample| sample.currents[1] = 21_000_000),
        ];
    });
    let terminal = u16::try_from(trial.station.channels.len() + 1).unwrap();
    assert_eq!(published, Err(Fault::Unsteady(terminal)));
}

/// What a controller comes to that is booted so.
fn booted(images: [&[u8]; 2], change: impl Fn(&mut Rig, &Plant), words: usize) -> Option<Fault> {
    let whole = packed("drive");
    let image = Image::open(&whole).unwrap();
    let (plant, mut memory) = (plant(&image), Lent::of(&image));
    plant.borrow_mut().fed = Some(0);
    let mut rig = rig(&plant, &image);
    change(&mut rig, &plant);
    let booted: Booted<'_, _, _, _, _> = boot(rig, images, memory.but(words), Cause::PowerUp);
    let mut halted = booted.err()?;
    halted.hold();
    assert_eq!(plant.borrow().driven, 0);
    let event = *halted.log.from(0).next().unwrap().1;
    assert_eq!((event.kind, event.number), (Kind::Fault, u16::from(halted.fault.code())));
    Some(halted.fault)
}

#[test]
fn what_is_wrong_before_the_first_scan_leaves_the_outputs_off() {
    let whole = packed("drive");
    let other = packed("return");
    let nothing = |_: &mut Rig, _: &Plant| {};
    let mut turned = whole.clone();
    turned[1_000] ^= 4;
    assert_eq!(booted([&whole, &whole], nothing, 0), None);
    let missing = Fault::Image(image::Fault::Short);
    assert_eq!((missing.code(), missing.detail()), (2, 1));
    assert_eq!(booted([&[], &[]], nothing, 0), Some(missing));
    let blank = vec![0xFF; 4_096];
    assert_eq!(booted([&blank, &blank], nothing, 0), Some(Fault::Image(image::Fault::NotAnImage)));
    for images in [[whole.as_slice(), &turned], [&turned, &whole]] {
        assert_eq!(booted(images, nothing, 0), Some(Fault::Image(image::Fault::Checksum)));
    }
    assert_eq!(booted([&whole, &other], nothing, 0), Some(Fault::Copies));
    assert_eq!(booted([&whole, &whole], nothing, 1), Some(Fault::Room));
    assert!(matches!(booted([&other, &other], nothing, 0), Some(Fault::Terminal(_))));
    let pins = |_: &mut Rig, plant: &Plant| plant.borrow_mut().pins_broken = true;
    assert_eq!(booted([&whole, &whole], pins, 0), Some(Fault::Missing));
}

#[test]
fn a_stop_is_told_with_its_cause_and_its_inputs() {
    let trial = Trial::running();
    trial.on(|controller, plant, samples| {
        let told = controller.log().told();
        let sample = all_high(samples.next().unwrap());
        while controller.published().on != 0 {
            trial.next(controller, plant, &sample).unwrap();
        }
        let log: Vec<_> = controller.log().from(told).map(|(_, event)| *event).collect();
        let count = |kind| log.iter().filter(|event| event.kind == kind).count();
        assert!(count(Kind::Trip) > 0 && count(Kind::First) > 0 && count(Kind::Answer) > 0, "{log:?}");
        assert!(count(Kind::Gauge) >= trial.station.gauge_terminals.len());
        let scan = log.iter().find(|event| event.kind == Kind::First).unwrap().scan;
        assert!(log.iter().any(|event| event.kind == Kind::Channels && event.scan == scan));
    });
}
