//! A plant for the controller: pins, converters, counters and receivers that show what a simulated station shows, and
//! that can be broken in the ways in which real ones break.

pub mod trial;

use embedded_hal::digital::{Error, ErrorKind, ErrorType, InputPin, OutputPin};
use firmware::wired::{Converter, Counter, Placed, Receiver, Wired, terminal};
use firmware::{Clock, Field, Frames, Missing, Output, Parts, Released, Sample, Watchdog};
pub use host_tools::bench::compare::Ran;
use host_tools::bench::{compare, inputs};
use host_tools::simulate::Scenario;
use host_tools::station::Station;
use host_tools::told::Runner;
use logic_rules::image::{Image, TerminalRow, Wiring};
use logic_rules::plan::Rows;
use std::cell::RefCell;
use std::fmt;
use std::rc::Rc;

/// What the parts of a controller are connected to.
#[derive(Debug, Default)]
pub struct State {
    /// What there is to read.
    pub sample: Sample,
    /// Outputs that are driven.
    pub driven: u32,
    /// Outputs that are off, or on, whatever drives them.
    pub stuck: Option<(u32, bool)>,
    /// Pins cannot be read or driven.
    pub pins_broken: bool,
    /// Readings show what the reading before showed.
    pub frozen: bool,
    /// What to do to readings, by their number: 0 for the next one.
    pub turn: Vec<Option<fn(&mut Sample)>>,
    /// Microseconds.
    pub now: u32,
    /// How long a reading takes.
    pub slow: u32,
    /// When the watchdog was fed last.
    pub fed: Option<u32>,
    /// Times it was fed.
    pub feedings: u32,
}

/// The watchdog of this plant lets go after so long, microseconds.
pub const BITES_AFTER: u32 = 50_000;

impl State {
    /// What the machine does: the watchdog lets go of everything once it was not fed for too long.
    pub fn energised(&self) -> u32 {
        match self.fed {
            Some(fed) if self.now.wrapping_sub(fed) <= BITES_AFTER => self.driven,
            _ => 0,
        }
    }
}

/// A plant, shared by its parts.
pub type Plant = Rc<RefCell<State>>;

/// A part that broke.
#[derive(Debug)]
pub struct Broken;
impl Error for Broken {
    fn kind(&self) -> ErrorKind {
        ErrorKind::Other
    }
}

/// A part of a plant, with its number.
#[derive(Clone)]
pub struct Part {
    plant: Plant,
    number: usize,
}
impl fmt::Debug for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "part {}", self.number)
    }
}

/// The pin that drives an output.
#[derive(Debug, Clone)]
pub struct Drive(Part);
/// The pin that reads it back.
#[derive(Debug, Clone)]
pub struct Back(Part);

impl ErrorType for Part {
    type Error = Broken;
}
impl ErrorType for Drive {
    type Error = Broken;
}
impl ErrorType for Back {
    type Error = Broken;
}
impl InputPin for Part {
    fn is_high(&mut self) -> Result<bool, Broken> {
        let plant = self.plant.borrow();
        if plant.pins_broken { Err(Broken) } else { Ok(plant.sample.channels[self.number]) }
    }
    fn is_low(&mut self) -> Result<bool, Broken> {
        self.is_high().map(|high| !high)
    }
}
impl OutputPin for Drive {
    fn set_low(&mut self) -> Result<(), Broken> {
        self.0.plant.borrow_mut().driven &= !(1 << self.0.number);
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Broken> {
        let mut plant = self.0.plant.borrow_mut();
        if plant.pins_broken {
            return Err(Broken);
        }
        plant.driven |= 1 << self.0.number;
        Ok(())
    }
}
impl InputPin for Back {
    fn is_high(&mut self) -> Result<bool, Broken> {
        let plant = self.0.plant.borrow();
        let driven = plant.driven >> self.0.number & 1 == 1;
        Ok(match plant.stuck {
            Some((mask, high)) if mask >> self.0.number & 1 == 1 => high,
            _ => driven,
        })
    }
    fn is_low(&mut self) -> Result<bool, Broken> {
        self.is_high().map(|high| !high)
    }
}
impl Converter for Part {
    fn current(&mut self) -> Option<i32> {
        Some(self.plant.borrow().sample.currents[self.number])
    }
}
impl Counter for Part {
    fn pulses(&mut self) -> Option<u32> {
        Some(self.plant.borrow().sample.pulses[self.number])
    }
}
impl Receiver for Part {
    fn frames(&mut self) -> Option<Frames> {
        Some(self.plant.borrow().sample.links[self.number])
    }
}

/// A field that can freeze, be slow, or turn bits of a reading.
#[derive(Debug)]
pub struct Tap {
    field: Wired<Part, Part, Part, Part, 64, 16, 8, 8>,
    plant: Plant,
    before: Sample,
}
impl Field for Tap {
    const TWICE: bool = true;
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16> {
        self.field.connect(wiring)
    }
    fn sample(&mut self, into: &mut Sample) -> Result<(), Missing> {
        let frozen = {
            let mut plant = self.plant.borrow_mut();
            plant.now = plant.now.wrapping_add(plant.slow);
            plant.frozen
        };
        if frozen {
            into.copy(&self.before);
            return Ok(());
        }
        self.field.sample(into)?;
        self.before.copy(into);
        let mut plant = self.plant.borrow_mut();
        if !plant.turn.is_empty()
            && let Some(turn) = plant.turn.remove(0)
        {
            turn(into);
        }
        Ok(())
    }
}

/// The watchdog and the clock of a plant.
#[derive(Debug, Clone)]
pub struct Dog(Plant);
impl Watchdog for Dog {
    fn feed(&mut self) {
        let mut plant = self.0.borrow_mut();
        plant.fed = Some(plant.now);
        plant.feedings += 1;
    }
}
impl Clock for Dog {
    fn now_us(&mut self) -> u32 {
        self.0.borrow().now
    }
}

/// The parts of a controller.
pub type Rig = Parts<Tap, Released<Drive, Back, 32>, Dog, Dog>;

/// A plant with as many terminals as the image names, everything low, without current and still.
pub fn plant(image: &Image<'_>) -> Plant {
    let sample = inputs::still(image).unwrap();
    Rc::new(RefCell::new(State { sample, ..State::default() }))
}

/// Parts connected to a plant, more of them than the image names, in another order.
pub fn rig(plant: &Plant, image: &Image<'_>) -> Rig {
    fn placed<T, const N: usize>(rows: Rows<'_, 8>, part: impl Fn(usize) -> T) -> [(TerminalRow, T); N] {
        let mut parts: [(TerminalRow, T); N] = std::array::from_fn(|number| {
            let unused = terminal("SPAR", u32::try_from(number).unwrap());
            (rows.get(number).map_or(unused, TerminalRow::read), part(number))
        });
        parts.reverse();
        parts
    }
    let (wiring, part) = (image.wiring(), |number| Part { plant: plant.clone(), number });
    let field = Wired {
        channels: Placed::new(placed(wiring.channels, part)),
        gauges: Placed::new(placed(wiring.gauges, part)),
        sources: Placed::new(placed(wiring.sources, part)),
        links: Placed::new(placed(wiring.links, part)),
        taken: 0,
    };
    let output = |number| Output { drive: Drive(part(number)), back: Back(part(number)) };
    Parts {
        field: Tap { field, plant: plant.clone(), before: Sample::default() },
        outputs: Released::new(placed(wiring.outputs, output)).unwrap(),
        watchdog: Dog(plant.clone()),
        clock: Dog(plant.clone()),
    }
}

/// A plant shows what a sample of its station says.
pub fn show(into: &mut Sample, station: &Station, image: &Image<'_>, sample: &host_tools::sample::Sample) {
    inputs::show(into, station, image, sample).unwrap();
}

/// Runs a scenario with the rules in the loop, as the demo suite does; `each` ends the run by saying so.
pub fn run(station: &Station, scenario: &Scenario, runner: &mut dyn Runner, each: &mut dyn FnMut(&Ran<'_>) -> bool) {
    compare::scenario(station, scenario, runner, &mut |ran| Ok(each(ran))).unwrap();
}
