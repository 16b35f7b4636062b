//! Carriers by number: which of them came by, what its grip and its way through the station were day by day, and which of them is
//! no longer as it was.
//!
//! Nobody reads a number plate. The carriers keep their order on the rope and each grip closes with a force of its own, so the forces come again
//! after a round (`count`), and the likeliest way round the loop says whose each passing was (`numbering`): also after a night, and where a carrier
//! was taken out or put in. What a carrier does is then held against what it did and against what its fleet does (`trend`).

pub mod charts;
pub mod count;
mod days;
mod numbering;
mod robust;
pub mod seen;
pub mod strip;
pub mod told;
pub mod trend;

pub use days::{Change, Day, Days, Refused};

/// A carrier that came by.
#[derive(Debug, Clone, PartialEq)]
pub struct Passing {
    /// When, microseconds on the recording's clock.
    pub at_us: u64,
    /// Rope that had run, mm.
    pub rope_mm: i64,
    /// The least force while it was measured, in steps of the gauge; then what each travel took, in mm of rope. None of what was in doubt or not seen.
    pub values: Vec<Option<f64>>,
}

/// Carriers that came by one after the other, with nothing unseen between them.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct View {
    /// In their order.
    pub passings: Vec<Passing>,
}

impl View {
    fn forces(&self) -> impl Iterator<Item = Option<f64>> {
        self.passings.iter().map(|passing| passing.values.first().copied().flatten())
    }
    /// Rope since the passing before.
    fn gaps(&self) -> impl Iterator<Item = Option<f64>> {
        let before = std::iter::once(None).chain(self.passings.iter().map(|passing| Some(passing.rope_mm)));
        self.passings.iter().zip(before).map(|(passing, before)| Some(exact(passing.rope_mm - before?)))
    }
}

/// A whole number as a real one.
#[expect(
    clippy::cast_precision_loss,
    reason = "steps and millimetres of a recording stay far below two to the power of 53"
)]
fn exact(whole: i64) -> f64 {
    whole as f64
}
