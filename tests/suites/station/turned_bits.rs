//! A bit turns in a controller: in a cell of its state, in the counts it remembers, in a sample, in the plan that it holds. Whatever
//! the bit, either nothing comes of it, or the controller stops in the scan in which anything would.
//!
//! Tried are all bits of all cells of both copies, at random scans of the incidents of both demo stations.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "a test that panics has failed, as it should; counts are what one wants to read of it"
)]

use cross_tests::damage::seal;
use cross_tests::effort::by_effort;
use cross_tests::generate::Rng;
use cross_tests::plant::{Ran, run, show};
use cross_tests::proofs::{STATIONS, demo, sources};
use firmware::patrol::Patrol;
use firmware::twin::{Kept, Twin};
use firmware::{Fault, Published, Sample};
use host_tools::pack::pack;
use host_tools::runner::with_runner;
use host_tools::simulate::Scenario;
use logic_rules::image::Image;
use std::path::Path;

/// An incident of a station, sample by sample, and where its rules begin to judge.
struct Incident {
    image: Vec<u8>,
    samples: Vec<Sample>,
    adopts: Option<usize>,
    base: Sample,
}

/// The incidents of a station in any order; those with a restart in their midst are left out.
fn incidents(which: &str, rng: &mut Rng, count: usize) -> Vec<Incident> {
    let station = demo(which);
    let bytes = pack(&station, &sources(which)).unwrap().image;
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo");
    let mut names: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    names.retain(|path| {
        let name = path.file_name().unwrap().to_str().unwrap();
        name.starts_with(which) && name.ends_with(".scenario") && !name.contains("morning")
    });
    names.sort();
    rng.shuffle(&mut names);
    let mut found = Vec::new();
    for path in names {
        let scenario = Scenario::read(&std::fs::read_to_string(path).unwrap(), &station).unwrap();
        let image = Image::open(&bytes).unwrap();
        let wiring = image.wiring();
        let mut shown = Sample::default();
        shown.channels.resize(wiring.channels.len(), false).unwrap();
        shown.currents.resize(wiring.gauges.len(), 0).unwrap();
        shown.pulses.resize(wiring.sources.len(), 0).unwrap();
        shown.links.resize_default(wiring.links.len()).unwrap();
        let base = shown.clone();
        let (mut samples, mut adopts, mut restarts) = (Vec::new(), None, false);
        with_runner(&station, |runner| {
            run(&station, &scenario, runner, &mut |ran: &Ran<'_>| {
                restarts |= ran.restarted && !samples.is_empty();
                show(&mut shown, &station, &image, ran.sample);
                if ran.adopts {
                    adopts = Some(samples.len());
                }
                samples.push(shown.clone());
                !restarts
            });
        })
        .unwrap();
        if !restarts {
            found.push(Incident { image: bytes.clone(), samples, adopts, base });
        }
        if found.len() == count {
            break;
        }
    }
    found
}

/// A moment of an incident: the state before a scan, what is read in it, and what comes of it.
struct Moment<'i> {
    incident: &'i Incident,
    at: usize,
    before: [Vec<u32>; 2],
    after: [Vec<u32>; 2],
    published: Published,
}

impl Incident {
    fn cells(&self) -> usize {
        let needs = Image::open(&self.image).unwrap().needs();
        needs.bits + needs.words + needs.work_bits + needs.work_words
    }
    fn state(&self) -> usize {
        let needs = Image::open(&self.image).unwrap().needs();
        needs.bits + needs.words
    }
    fn sample(&self, at: Option<usize>) -> &Sample {
        at.map_or(&self.base, |at| &self.samples[at])
    }
    /// Goes through the incident and stops at these scans, which are in order.
    fn moments(&self, at: &[usize], each: &mut dyn FnMut(&Moment<'_>)) {
        let image = Image::open(&self.image).unwrap();
        let (mut a, mut b) = (vec![0; self.cells()], vec![0; self.cells()]);
        let mut kept = [Kept::new(), Kept::new()];
        let mut twin = Twin::power_up(&[image, image], [&mut a, &mut b], &mut kept, &self.base).unwrap();
        for (scan, sample) in self.samples.iter().enumerate() {
            let before = at.contains(&scan).then(|| twin.cells().map(|cells| cells.to_vec()));
            let published = twin.scan([sample, sample]).unwrap();
            if let Some(before) = before {
                let after = twin.cells().map(|cells| cells.to_vec());
                each(&Moment { incident: self, at: scan, before, after, published });
            }
            if self.adopts == Some(scan) {
                twin.adopt().unwrap();
            }
        }
    }
}

/// What came of turned bits.
#[derive(Debug, Default)]
struct Counts {
    tried: u64,
    stopped: u64,
    nothing: u64,
}

impl Counts {
    /// A turned bit stops the controller, or leaves verdict and state as they were, so that nothing can come of it later.
    fn judge(
        &mut self,
        got: Result<Published, Fault>,
        moment: &Moment<'_>,
        twin: &mut Twin<'_>,
        what: &dyn Fn() -> String,
    ) {
        self.tried += 1;
        match got {
            Err(Fault::Differ(_) | Fault::NoVerdict) => self.stopped += 1,
            Ok(published) => {
                assert_eq!(published, moment.published, "{}: another verdict", what());
                let state = moment.incident.state();
                let cells = twin.cells();
                for (cells, after) in cells.iter().zip(&moment.after) {
                    assert_eq!(cells[..state], after[..state], "{}: another state", what());
                }
                self.nothing += 1;
            }
            Err(fault) => panic!("{}: {fault:?}", what()),
        }
    }
}

impl Moment<'_> {
    fn restore(&self, twin: &mut Twin<'_>) {
        let before = self.incident.sample(self.at.checked_sub(1));
        for (cells, kept) in twin.cells().into_iter().zip(&self.before) {
            cells.copy_from_slice(kept);
        }
        twin.rebase([before, before]);
    }
    /// Turns every bit of every cell of state, in one copy and in the other.
    fn turn_cells(&self, counts: &mut Counts) {
        let image = Image::open(&self.incident.image).unwrap();
        let (mut a, mut b) = (vec![0; self.incident.cells()], vec![0; self.incident.cells()]);
        let mut kept = [Kept::new(), Kept::new()];
        let mut twin = Twin::power_up(&[image, image], [&mut a, &mut b], &mut kept, &self.incident.base).unwrap();
        let sample = &self.incident.samples[self.at];
        for copy in 0..2 {
            for cell in 0..self.incident.state() {
                for bit in 0..32 {
                    self.restore(&mut twin);
                    twin.cells()[copy][cell] ^= 1 << bit;
                    let got = twin.scan([sample, sample]);
                    let what = || format!("bit {bit} of cell {cell} of copy {copy}, scan {}", self.at);
                    counts.judge(got, self, &mut twin, &what);
                }
            }
        }
    }
    /// Turns every bit of the sample of one copy, and of the counts that it remembers.
    fn turn_samples(&self, counts: &mut Counts) {
        let image = Image::open(&self.incident.image).unwrap();
        let (mut a, mut b) = (vec![0; self.incident.cells()], vec![0; self.incident.cells()]);
        let mut kept = [Kept::new(), Kept::new()];
        let mut twin = Twin::power_up(&[image, image], [&mut a, &mut b], &mut kept, &self.incident.base).unwrap();
        let (sample, before) = (&self.incident.samples[self.at], self.incident.sample(self.at.checked_sub(1)));
        for (remembered, original) in [(false, sample), (true, before)] {
            for turned in turned_samples(original) {
                for copy in 0..2 {
                    self.restore(&mut twin);
                    let mut pair = [original, original];
                    pair[copy] = &turned;
                    let got = if remembered {
                        twin.rebase(pair);
                        twin.scan([sample, sample])
                    } else {
                        twin.scan(pair)
                    };
                    let what = || format!("{turned:?} in copy {copy}, remembered {remembered}");
                    counts.judge(got, self, &mut twin, &what);
                }
            }
        }
    }
    /// Turns a bit of the image of one copy, which then runs on to the end of the incident or a stop.
    fn turn_plan(&self, bit: usize, copy: usize, further: usize, counts: &mut Plans) {
        let whole = Image::open(&self.incident.image).unwrap();
        let mut bytes = self.incident.image.clone();
        bytes[bit / 8] ^= 1 << (bit % 8);
        seal(&mut bytes);
        // What is no plan any more cannot be tried here: nothing but verification makes a plan.
        let Ok(turned) = Image::open(&bytes) else {
            counts.no_plan += 1;
            return;
        };
        if turned.needs() != whole.needs() {
            counts.no_plan += 1;
            return;
        }
        let mut images = [whole, whole];
        images[copy] = turned;
        let (mut a, mut b) = (vec![0; self.incident.cells()], vec![0; self.incident.cells()]);
        let mut kept = [Kept::new(), Kept::new()];
        let Ok(mut twin) = Twin::power_up(&images, [&mut a, &mut b], &mut kept, &self.incident.base) else {
            counts.stopped += 1;
            return;
        };
        let (mut c, mut d) = (vec![0; self.incident.cells()], vec![0; self.incident.cells()]);
        let mut others = [Kept::new(), Kept::new()];
        let mut sound = Twin::power_up(&[whole, whole], [&mut c, &mut d], &mut others, &self.incident.base).unwrap();
        self.restore(&mut twin);
        self.restore(&mut sound);
        for sample in self.incident.samples[self.at..].iter().take(further) {
            let want = sound.scan([sample, sample]).unwrap();
            let Ok(got) = twin.scan([sample, sample]) else {
                counts.stopped += 1;
                return;
            };
            assert_eq!(got, want, "bit {bit} of the image of copy {copy}");
        }
        counts.nothing += 1;
    }
}

/// A sample with each of its bits turned.
fn turned_samples(sample: &Sample) -> Vec<Sample> {
    let mut all = Vec::new();
    let mut with = |change: &dyn Fn(&mut Sample)| {
        let mut turned = sample.clone();
        change(&mut turned);
        all.push(turned);
    };
    for i in 0..sample.channels.len() {
        with(&|sample| sample.channels[i] ^= true);
    }
    for bit in 0..32 {
        (0..sample.currents.len()).for_each(|i| with(&|sample| sample.currents[i] ^= 1 << bit));
        (0..sample.pulses.len()).for_each(|i| with(&|sample| sample.pulses[i] ^= 1 << bit));
        (0..sample.links.len()).for_each(|i| with(&|sample| sample.links[i].good ^= 1 << bit));
    }
    for bit in 0..8 {
        (0..sample.links.len()).for_each(|i| with(&|sample| sample.links[i].order ^= 1 << bit));
    }
    all
}

/// What came of turned bits of a plan.
#[derive(Debug, Default)]
struct Plans {
    no_plan: u32,
    stopped: u32,
    nothing: u32,
}

/// So many random scans of so many incidents of each station.
fn at_random_scans(count: usize, per: usize, seed: u64, each: &mut dyn FnMut(&Moment<'_>, &mut Rng)) {
    let mut rng = Rng::new(seed);
    for which in STATIONS {
        for incident in incidents(which, &mut rng, count / (STATIONS.len() * per)) {
            let first = incident.adopts.map_or(0, |at| at + 1);
            let at: Vec<usize> = (0..per).map(|_| rng.size(first, incident.samples.len() - 1)).collect();
            incident.moments(&at, &mut |moment| each(moment, &mut rng));
        }
    }
}

#[test]
fn a_turned_bit_of_the_state_stops_or_changes_nothing() {
    let (count, per) = by_effort([(4, 2), (50, 4), (200, 4)]);
    let (mut counts, mut moments) = (Counts::default(), 0);
    at_random_scans(count, per, 1, &mut |moment, _| {
        moment.turn_cells(&mut counts);
        moments += 1;
    });
    println!("{moments} scans: {counts:?}");
    assert!(moments >= count * 9 / 10 && counts.stopped > counts.nothing / 2);
}

#[test]
fn a_turned_bit_of_a_sample_stops_or_changes_nothing() {
    let (count, per) = by_effort([(16, 4), (50, 4), (200, 4)]);
    let mut counts = Counts::default();
    at_random_scans(count, per, 2, &mut |moment, _| moment.turn_samples(&mut counts));
    println!("{counts:?}");
    assert!(counts.stopped > 1_000 && counts.tried > 5_000);
}

#[test]
fn a_turned_bit_of_one_image_stops_before_it_changes_a_verdict() {
    let (count, per, bits) = by_effort([(8, 2, 150), (50, 4, 500), (200, 4, 1_000)]);
    let mut plans = Plans::default();
    at_random_scans(count, per, 3, &mut |moment, rng| {
        for _ in 0..bits {
            let bit = rng.index(8 * (moment.incident.image.len() - 4));
            moment.turn_plan(bit, rng.index(2), 200, &mut plans);
        }
    });
    println!("{plans:?}");
    assert!(plans.stopped > 50 && plans.nothing > 20);
}

/// Where both copies read one image, doubling cannot see what turns in it; going round it does.
#[test]
fn a_turned_bit_of_an_image_is_found_when_it_has_been_gone_round() {
    let whole = pack(&demo("drive"), &sources("drive")).unwrap().image;
    let scans = whole.len().div_ceil(64) + 1;
    let mut sound = Patrol::new(0, &whole).unwrap();
    for _ in 0..3 * scans {
        sound.look().unwrap();
    }
    assert!(sound.rounds >= 2);
    for bit in 0..8 * whole.len() {
        let mut turned = whole.clone();
        turned[bit / 8] ^= 1 << (bit % 8);
        let mut patrol = Patrol::new(1, &turned).unwrap();
        let found = (0..scans).find_map(|_| patrol.look().err());
        assert_eq!(found, Some(Fault::Changed(1)), "bit {bit}");
    }
}
