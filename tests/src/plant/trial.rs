//! A controller on a plant of doubles that runs with its outputs on, to be broken.

use super::{Back, Dog, Drive, Plant, Ran, State, Tap, plant, rig, run, show};
use crate::proofs::{demo, packed};
use firmware::sample::OUTPUTS;
use firmware::{Cause, Fault, Kind, Memory, Published, Released, Sample, Station, Store, boot};
use host_tools::runner::with_runner;
use host_tools::simulate::Scenario;
use host_tools::station;
use logic_rules::image::Image;

/// A controller whose parts are those of a plant.
pub type Controller<'m> = Station<'m, Tap, Outputs, Dog, Dog>;
type Outputs = Released<Drive, Back, OUTPUTS>;

/// Memory for a controller.
pub struct Lent(Vec<u32>, Vec<u32>, Store);
impl Lent {
    /// As many cells as an image needs.
    pub fn of(image: &Image<'_>) -> Self {
        let needs = image.needs();
        let cells = needs.bits + needs.words + needs.work_bits + needs.work_words;
        Self(vec![0; cells], vec![0; cells], Store::new())
    }
    /// All of it.
    pub fn both(&mut self) -> Memory<'_> {
        self.but(0)
    }
    /// So many words fewer than there are.
    pub fn but(&mut self, words: usize) -> Memory<'_> {
        Memory { cells: [&mut self.0[words..], &mut self.1[words..]], store: &mut self.2 }
    }
}

/// A controller that runs, with outputs on.
pub struct Trial {
    /// Its image.
    pub bytes: Vec<u8>,
    /// Its station: the drive terminal.
    pub station: station::Station,
    /// What it reads while nothing happens.
    calm: Vec<Sample>,
}

impl Trial {
    /// Fifteen seconds of the drive terminal, the rope running, are what it may read.
    pub fn running() -> Self {
        let (station, bytes) = (demo("drive"), packed("drive"));
        let text = "scenario \"running\"\nlast 1 min\nrope starts at 5.0 m/s\ngauge rope-tension lies at 220 kN\ngauge wind lies at 4 m/s\n";
        let scenario = Scenario::read(text, &station).unwrap();
        let mut calm = Vec::new();
        let image = Image::open(&bytes).unwrap();
        let mut shown = plant(&image).borrow().sample.clone();
        with_runner(&station, |runner| {
            run(&station, &scenario, runner, &mut |ran: &Ran<'_>| {
                show(&mut shown, &station, &image, ran.sample);
                calm.push(shown.clone());
                calm.len() < 1_500
            });
        })
        .unwrap();
        Self { bytes, station, calm }
    }
    /// Runs a controller until its outputs are on, hands it over, and looks that nothing revives it once it has stopped.
    pub fn on<T>(&self, act: impl FnOnce(&mut Controller<'_>, &Plant, &mut dyn Iterator<Item = &Sample>) -> T) -> T {
        let image = Image::open(&self.bytes).unwrap();
        let (plant, mut memory) = (plant(&image), Lent::of(&image));
        let bytes = self.bytes.as_slice();
        let Ok(mut controller) = boot(rig(&plant, &image), [bytes, bytes], memory.both(), Cause::PowerUp) else {
            panic!("did not start");
        };
        let mut samples = self.calm.iter();
        for sample in samples.by_ref().take(1_000) {
            self.next(&mut controller, &plant, sample).unwrap();
        }
        controller.twin().adopt().unwrap();
        for sample in samples.by_ref().take(100) {
            self.next(&mut controller, &plant, sample).unwrap();
        }
        assert_ne!(plant.borrow().energised(), 0, "outputs are on");
        let out = act(&mut controller, &plant, &mut samples);
        let feedings = plant.borrow().feedings;
        if let Some(fault) = controller.fault() {
            assert_eq!(plant.borrow().driven, 0);
            {
                let mut plant = plant.borrow_mut();
                (plant.stuck, plant.frozen, plant.pins_broken, plant.slow) = (None, false, false, 0);
            }
            for sample in samples.take(20) {
                assert_eq!(self.next(&mut controller, &plant, sample), Err(fault), "it stands until power-up");
                assert_eq!((plant.borrow().driven, plant.borrow().feedings), (0, feedings));
            }
            let log: Vec<_> = controller.log().from(0).map(|(_, event)| *event).collect();
            let at = log.iter().position(|event| event.kind == Kind::Fault).expect("the log tells it");
            assert_eq!((log[at].number, log[at].value), (u16::from(fault.code()), u32::from(fault.detail())));
            let gauges = log[at..].iter().filter(|event| event.kind == Kind::Gauge).count();
            assert_eq!(gauges, self.station.gauge_terminals.len(), "and the inputs with it");
        }
        out
    }
    /// One scan, a scan's time after the one before.
    pub fn next(&self, controller: &mut Controller<'_>, plant: &Plant, sample: &Sample) -> Result<Published, Fault> {
        plant.borrow_mut().sample.copy(sample);
        let published = controller.scan();
        plant.borrow_mut().now += self.station.scan_us;
        published
    }
    /// What comes of a plant that is changed so.
    pub fn broken(&self, change: impl Fn(&mut State)) -> Result<Published, Fault> {
        self.on(|controller, plant, samples| {
            change(&mut plant.borrow_mut());
            self.next(controller, plant, samples.next().unwrap())
        })
    }
}

/// Every channel high: a stop, surely.
pub fn all_high(sample: &Sample) -> Sample {
    let mut sample = sample.clone();
    sample.channels.iter_mut().for_each(|level| *level = true);
    sample
}
