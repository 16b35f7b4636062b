//! What a board reads of the field: levels, currents, counts. What they mean is worked out by each copy on its own.

use heapless::Vec;
use logic_rules::image::Wiring;

/// Digital channels a controller can have.
pub const CHANNELS: usize = 128;
/// Gauges.
pub const GAUGES: usize = 16;
/// Sources of travel.
pub const SOURCES: usize = 8;
/// Links.
pub const LINKS: usize = 8;
/// Outputs; a plan has no more.
pub const OUTPUTS: usize = 32;

/// A link from another station, as its receiver stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Frames {
    /// Whole, undamaged frames with the next sequence number that have come so far; wraps.
    pub good: u32,
    /// The rank that the last of them orders; 0 for nothing.
    pub order: u8,
}

/// One reading of everything, in the order of the plan. Nothing is used up by reading: it can be read again at once.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sample {
    /// Differs from that of the reading before; so one sees that the inputs were really read.
    pub taken: u32,
    /// Level of each channel; true is high.
    pub channels: Vec<bool, CHANNELS>,
    /// Current of each gauge, nanoampere.
    pub currents: Vec<i32, GAUGES>,
    /// Pulses of each source so far, forward less backward; wraps.
    pub pulses: Vec<u32, SOURCES>,
    /// Each link.
    pub links: Vec<Frames, LINKS>,
}

impl Sample {
    /// An empty one.
    pub const fn new() -> Self {
        Self { taken: 0, channels: Vec::new(), currents: Vec::new(), pulses: Vec::new(), links: Vec::new() }
    }
    /// Empties it, to be filled anew.
    pub fn clear(&mut self) {
        self.taken = 0;
        self.channels.clear();
        self.currents.clear();
        self.pulses.clear();
        self.links.clear();
    }
    /// Takes over what another one holds.
    pub fn copy(&mut self, other: &Self) {
        self.clone_from(other);
    }
}

/// The inputs could not be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Missing;

/// The inputs of a station.
pub trait Field {
    /// Whether a second reading at once is a reading of its own. If not, one serves both copies.
    const TWICE: bool;
    /// Finds the terminals that the image names, in its order.
    ///
    /// # Errors
    /// The terminal that there is not, counted over channels, gauges, sources, links and outputs.
    fn connect(&mut self, wiring: &Wiring<'_>) -> Result<(), u16>;
    /// Reads everything once, in the order of the wiring.
    ///
    /// # Errors
    /// [`Missing`] if anything could not be read.
    fn sample(&mut self, into: &mut Sample) -> Result<(), Missing>;
}
