//! One scan of the station, from the read-back of the outputs to the feeding of the watchdog.

use crate::agree::Tolerance;
use crate::fault::Fault;
use crate::log::{Event, Kind, Log};
use crate::parts::{Clock, Outputs, Parts, Watchdog};
use crate::patrol::Patrol;
use crate::sample::{Field, Sample};
use crate::twin::Twin;
use logic_rules::image::Image;

mod note;
mod pledge;

pub use crate::twin::Published;
use note::Note;
use pledge::Pledge;

/// What the controller has counted since power-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counters {
    /// Scans; wraps.
    pub scans: u32,
    /// Longest time from when a scan was due to its end, microseconds.
    pub longest_us: u32,
    /// The same of the last scan.
    pub last_us: u32,
    /// Scans in which a third reading of the inputs was taken.
    pub thirds: u32,
    /// Times that both images were gone through and found as they were.
    pub rounds: u32,
}

/// A station that runs.
#[derive(Debug)]
pub struct Station<'m, F, O, W, C> {
    parts: Parts<F, O, W, C>,
    twin: Twin<'m>,
    patrols: [Patrol<'m>; 2],
    samples: &'m mut [Sample; 3],
    tolerance: Tolerance,
    pledge: Pledge,
    fault: Option<Fault>,
    published: Published,
    driven: u32,
    due: u32,
    scan_us: u32,
    log: &'m mut Log,
    note: Note,
    counters: Counters,
}

/// What [`boot`](crate::boot()) hands over.
pub(crate) struct Tested<'m, F, O, W, C> {
    pub(crate) parts: Parts<F, O, W, C>,
    pub(crate) twin: Twin<'m>,
    pub(crate) patrols: [Patrol<'m>; 2],
    /// The first two hold the reading from which is counted.
    pub(crate) samples: &'m mut [Sample; 3],
    pub(crate) log: &'m mut Log,
}

impl<'m, F: Field, O: Outputs, W: Watchdog, C: Clock> Station<'m, F, O, W, C> {
    pub(crate) fn new(tested: Tested<'m, F, O, W, C>) -> Self {
        let Tested { mut parts, twin, patrols, samples, log } = tested;
        let (scan_us, value) = (twin.image().scan_us(), twin.image().checksum());
        log.tell(Event { scan: 0, kind: Kind::PowerUp, number: 0, value });
        let due = parts.clock.now_us();
        Self {
            parts,
            twin,
            patrols,
            samples,
            tolerance: Tolerance::default(),
            pledge: Pledge::given(),
            fault: None,
            published: Published::default(),
            driven: 0,
            due,
            scan_us,
            log,
            note: Note::default(),
            counters: Counters::default(),
        }
    }
    /// Whether the next scan is due.
    pub fn is_due(&mut self) -> bool {
        // What is due lies at most half the range of the clock back.
        self.parts.clock.now_us().wrapping_sub(self.due) <= u32::MAX >> 1
    }
    /// Takes one scan. It is to be called as soon as it is due: too late is an overrun.
    ///
    /// # Errors
    /// The [`Fault`] that stopped the controller, in this scan or before. Every output has then been told to let go, and the
    /// watchdog was not fed.
    pub fn scan(&mut self) -> Result<Published, Fault> {
        if let Some(fault) = self.fault() {
            let _ = self.parts.outputs.release();
            return Err(fault);
        }
        match self.work() {
            Ok(published) => {
                self.parts.watchdog.feed();
                Ok(published)
            }
            Err(fault) => Err(self.halt(fault)),
        }
    }
    /// Between scans: lets go of what is no longer allowed, as on a bench whose enabling contact opens.
    pub fn hold(&mut self) {
        let allowed = if self.fault().is_some() { 0 } else { self.parts.outputs.allowed(self.driven) };
        if allowed == self.driven {
            return;
        }
        self.driven = allowed;
        if self.parts.outputs.energise(allowed).is_err() {
            self.halt(Fault::Pin);
        }
    }
    /// Stops the controller, as a fault of its own does. Gives the fault that stands, which is the first.
    pub fn halt(&mut self, fault: Fault) -> Fault {
        let _ = self.parts.outputs.release();
        self.pledge.withdraw();
        self.driven = 0;
        if let Some(first) = self.fault {
            return first;
        }
        self.fault = Some(fault);
        let scan = self.counters.scans;
        self.log.tell(Event {
            scan,
            kind: Kind::Fault,
            number: u16::from(fault.code()),
            value: u32::from(fault.detail()),
        });
        let [_, sample, _] = &*self.samples;
        self.log.inputs(scan, sample);
        fault
    }
    /// The fault that stands.
    pub fn fault(&self) -> Option<Fault> {
        match self.fault {
            None if self.pledge.holds() => None,
            None => Some(Fault::Pledge),
            fault => fault,
        }
    }
    fn work(&mut self) -> Result<Published, Fault> {
        self.counters.scans = self.counters.scans.wrapping_add(1);
        self.read_back()?;
        self.sample()?;
        let [first, second, _] = &*self.samples;
        let published = self.twin.scan([first, second])?;
        self.published = published;
        self.driven = self.parts.outputs.allowed(published.on);
        self.parts.outputs.energise(self.driven).map_err(|_| Fault::Pin)?;
        for patrol in &mut self.patrols {
            patrol.look()?;
        }
        let [_, last] = &self.patrols;
        self.counters.rounds = last.rounds;
        self.note.take(self.log, &mut self.twin, published, second, self.counters.scans);
        self.in_time()?;
        Ok(published)
    }
    /// The outputs are still as the scan before drove them.
    fn read_back(&mut self) -> Result<(), Fault> {
        let energised = self.parts.outputs.energised().map_err(|_| Fault::Pin)?;
        match energised ^ self.driven {
            0 => Ok(()),
            wrong => Err(Fault::ReadBack(u8::try_from(wrong.trailing_zeros()).unwrap_or(u8::MAX))),
        }
    }
    /// Reads the inputs until two readings agree, and leaves them in the first two samples.
    fn sample(&mut self) -> Result<(), Fault> {
        let [first, second, third] = &mut *self.samples;
        read(&mut self.parts.field, first, second.taken)?;
        if !F::TWICE {
            second.copy(first);
            return Ok(());
        }
        read(&mut self.parts.field, second, first.taken)?;
        if !self.tolerance.agree(first, second) {
            self.counters.thirds = self.counters.thirds.wrapping_add(1);
            read(&mut self.parts.field, third, second.taken)?;
            self.tolerance.settle(first, second, third)?;
            second.copy(third);
        }
        first.copy(second);
        Ok(())
    }
    /// The scan has ended before the next is due.
    fn in_time(&mut self) -> Result<(), Fault> {
        let took = self.parts.clock.now_us().wrapping_sub(self.due);
        if took >= self.scan_us {
            return Err(Fault::Overrun);
        }
        self.counters.last_us = took;
        self.counters.longest_us = self.counters.longest_us.max(took);
        self.due = self.due.wrapping_add(self.scan_us);
        Ok(())
    }
    /// What the last scan published.
    pub fn published(&self) -> Published {
        self.published
    }
    /// Outputs that were told to be on; fewer than published on a bench that is not enabled.
    pub fn driven(&self) -> u32 {
        self.driven
    }
    /// The image that runs.
    pub fn image(&self) -> &Image<'m> {
        self.twin.image()
    }
    /// What happened.
    pub fn log(&self) -> &Log {
        self.log
    }
    /// What was counted.
    pub fn counters(&self) -> Counters {
        self.counters
    }
    /// The parts, to be looked at.
    pub fn parts(&self) -> &Parts<F, O, W, C> {
        &self.parts
    }
    /// Ends the station: every output lets go, and the parts are given back.
    pub fn retire(mut self) -> Parts<F, O, W, C> {
        let _ = self.parts.outputs.release();
        self.parts
    }
    /// The parts, so that a bench can set inputs and a trial can make faults.
    #[cfg(any(test, feature = "bench"))]
    pub fn parts_mut(&mut self) -> &mut Parts<F, O, W, C> {
        &mut self.parts
    }
    /// Both copies, so that a trial can turn bits in them.
    #[cfg(any(test, feature = "bench"))]
    pub fn twin(&mut self) -> &mut Twin<'m> {
        &mut self.twin
    }
    /// The next scan is due now: a bench counts scans, not time.
    #[cfg(any(test, feature = "bench"))]
    pub fn begin_now(&mut self) {
        self.due = self.parts.clock.now_us();
    }
}

/// Reads the inputs, which must be read anew.
fn read<F: Field>(field: &mut F, into: &mut Sample, before: u32) -> Result<(), Fault> {
    field.sample(into).map_err(|_| Fault::Missing)?;
    if into.taken == before { Err(Fault::Stale) } else { Ok(()) }
}
