//! A field made of parts at named terminals: pins, converters, counters, receivers.

use crate::sample::{Field, Frames, Missing, Sample};
use embedded_hal::digital::InputPin;
use embedded_hal::spi::SpiDevice;
use heapless::Vec;
use logic_rules::image::{TerminalRow, Wiring};
use logic_rules::plan::Rows;

/// The terminal with these letters (one to four capitals) and this number, as images name it.
pub const fn terminal(letters: &str, number: u32) -> TerminalRow {
    let mut bytes = [0; 4];
    let mut rest = letters.as_bytes();
    let mut shift = 0;
    let mut all = 0_u32;
    while let [first, others @ ..] = rest {
        bytes[0] = *first;
        if shift < 32 {
            all |= u32::from_le_bytes(bytes) << shift;
            shift += 8;
        }
        rest = others;
    }
    TerminalRow { letters: all, number }
}

/// Parts at their terminals, and which of them a plan uses, in its order.
#[derive(Debug, Clone)]
pub struct Placed<T, const N: usize> {
    parts: [(TerminalRow, T); N],
    order: Vec<u8, N>,
}

impl<T, const N: usize> Placed<T, N> {
    /// Parts at their terminals; at most 256.
    pub fn new(parts: [(TerminalRow, T); N]) -> Self {
        Self { parts, order: Vec::new() }
    }
    /// Finds the terminals of a plan.
    ///
    /// # Errors
    /// The first row whose terminal is not here.
    pub fn connect(&mut self, rows: Rows<'_, 8>) -> Result<(), usize> {
        self.order.clear();
        for (i, row) in rows.iter().enumerate() {
            let wanted = TerminalRow::read(row);
            let place = self.parts.iter().position(|(at, _)| *at == wanted).ok_or(i)?;
            let place = u8::try_from(place).map_err(|_| i)?;
            self.order.push(place).map_err(|_| i)?;
        }
        Ok(())
    }
    /// Parts that the plan uses.
    pub fn used(&self) -> usize {
        self.order.len()
    }
    /// The part with this number in the plan.
    pub fn get(&mut self, number: usize) -> Option<&mut T> {
        let place = usize::from(*self.order.get(number)?);
        self.parts.get_mut(place).map(|(_, part)| part)
    }
    /// All parts, used or not, in no order of a plan.
    pub fn all(&mut self) -> impl Iterator<Item = &mut T> {
        self.parts.iter_mut().map(|(_, part)| part)
    }
    /// Reads each used part, in the order of the plan.
    fn read<V, const M: usize>(
        &mut self,
        into: &mut Vec<V, M>,
        mut one: impl FnMut(&mut T) -> Option<V>,
    ) -> Result<(), Missing> {
        for number in 0..self.order.len() {
            let value = self.get(number).and_then(&mut one).ok_or(Missing)?;
            into.push(value).map_err(|_| Missing)?;
        }
        Ok(())
    }
}

/// A loop whose current is measured.
pub trait Converter {
    /// Nanoampere; `None` if it could not be measured.
    fn current(&mut self) -> Option<i32>;
}

/// A source of travel whose pulses are counted up forward and down backward.
pub trait Counter {
    /// Pulses so far; wraps. `None` if it could not be read.
    fn pulses(&mut self) -> Option<u32>;
}

/// A link from another station.
pub trait Receiver {
    /// How it stands; `None` if it could not be read.
    fn frames(&mut self) -> Option<Frames>;
}

/// A converter behind SPI that answers each transfer of two bytes, highest first, with a code.
#[derive(Debug, Clone)]
pub struct Serial<S> {
    /// The converter, with its own chip select.
    pub device: S,
    /// Greatest code: 4 095 for 12 bits, 65 535 for 16.
    pub top: u16,
    /// Current at the greatest code, nanoampere; code 0 is no current.
    pub full: i32,
}

impl<S: SpiDevice> Converter for Serial<S> {
    fn current(&mut self) -> Option<i32> {
        let mut bytes = [0; 2];
        self.device.read(&mut bytes).ok()?;
        let code = u16::from_be_bytes(bytes);
        if code > self.top {
            return None;
        }
        nanoamps(code, self.top, self.full)
    }
}

/// The current that a code means, rounded towards none; `full` is that of the greatest code. `None` if there is only code 0.
pub fn nanoamps(code: u16, top: u16, full: i32) -> Option<i32> {
    let scaled = i64::from(full).checked_mul(i64::from(code))?.checked_div(i64::from(top))?;
    i32::try_from(scaled).ok()
}

/// A field of such parts.
#[derive(Debug, Clone)]
pub struct Wired<P, A, S, L, const CH: usize, const GA: usize, const SO: usize, const LI: usize> {
    /// Digital inputs.
    pub channels: Placed<P, CH>,
    /// Gauges.
    pub gauges: Placed<A, GA>,
    /// Sources of travel.
    pub sources: Placed<S, SO>,
    /// Links.
    pub links: Placed<L, LI>,
    /// Readings so far.
    pub taken: u32,
}

impl<P, A, S, L, const CH: usize, const GA: usize, const SO: usize, const LI: usize> Field
    for Wired<P, A, S, L, CH, GA, SO, LI>
where
    P: InputPin,
    A: Converter,
    S: Counter,
    L: Receiver,
{
    const TWICE: bool = true;
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16> {
        let count = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
        let mut before = 0_usize;
        let mut found = |this: Result<(), usize>, rows: Rows<'_, 8>| {
            this.map_err(|i| count(before.saturating_add(i)))?;
            before = before.saturating_add(rows.len());
            Ok(())
        };
        found(self.channels.connect(wiring.channels), wiring.channels)?;
        found(self.gauges.connect(wiring.gauges), wiring.gauges)?;
        found(self.sources.connect(wiring.sources), wiring.sources)?;
        found(self.links.connect(wiring.links), wiring.links)
    }
    fn sample(&mut self, into: &mut Sample) -> Result<(), Missing> {
        into.clear();
        self.channels.read(&mut into.channels, |pin| pin.is_high().ok())?;
        self.gauges.read(&mut into.currents, A::current)?;
        self.sources.read(&mut into.pulses, S::pulses)?;
        self.links.read(&mut into.links, L::frames)?;
        self.taken = self.taken.wrapping_add(1);
        into.taken = self.taken;
        Ok(())
    }
}
