//! What can go wrong with the controller itself. Each of these lets every output go and stands until the next power-up.

use logic_rules::image;

/// Why the controller stopped itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fault {
    /// A word of memory does not hold what is written to it; its number.
    Memory(u16),
    /// There is no image, or none that can be used.
    Image(image::Fault),
    /// The two copies of the image are not the same.
    Copies,
    /// A calculation whose result is known came out wrong.
    KnownAnswer,
    /// The plan needs more cells, or more terminals, than this controller has.
    Room,
    /// The scale of this gauge is beyond what can be worked out.
    Scale(u8),
    /// The board has no such terminal; counted in the order of the image's `terminals`.
    Terminal(u16),
    /// The controller started, and not because its power came; the code of the fault that stood before, 0 if none is known of.
    Restarted(u8),
    /// Inputs could not be read.
    Missing,
    /// Inputs were not read anew.
    Stale,
    /// Readings of one moment do not agree; the terminal as in [`Fault::Terminal`].
    Unsteady(u16),
    /// The step gave no verdict.
    NoVerdict,
    /// The two copies differ: the number of the cell, 65535 if it is their verdict.
    Differ(u16),
    /// The scan was not done when the next was due.
    Overrun,
    /// An output could not be driven.
    Pin,
    /// This output is not as it was driven.
    ReadBack(u8),
    /// The image is not what it was; copy 0 or 1.
    Changed(u8),
    /// What keeps the controller running was changed by nobody.
    Pledge,
    /// The bench was told nothing for too long.
    Silent,
}

impl Fault {
    /// Its number in the log and on the link: 1 to 15 before the first scan, 16 and more after.
    pub fn code(self) -> u8 {
        match self {
            Self::Memory(_) => 1,
            Self::Image(_) => 2,
            Self::Copies => 3,
            Self::KnownAnswer => 4,
            Self::Room => 5,
            Self::Scale(_) => 6,
            Self::Terminal(_) => 7,
            Self::Restarted(_) => 8,
            Self::Missing => 16,
            Self::Stale => 17,
            Self::Unsteady(_) => 18,
            Self::NoVerdict => 19,
            Self::Differ(_) => 20,
            Self::Overrun => 21,
            Self::Pin => 22,
            Self::ReadBack(_) => 23,
            Self::Changed(_) => 24,
            Self::Pledge => 25,
            Self::Silent => 26,
        }
    }
    /// What it names, 0 if it names nothing. For an image, the line of the table "What is refused" of the manual's page of
    /// images, from 1.
    pub fn detail(self) -> u16 {
        match self {
            Self::Memory(n) | Self::Terminal(n) | Self::Unsteady(n) | Self::Differ(n) => n,
            Self::Scale(n) | Self::Restarted(n) | Self::ReadBack(n) | Self::Changed(n) => u16::from(n),
            Self::Image(fault) => line(fault),
            Self::Copies
            | Self::KnownAnswer
            | Self::Room
            | Self::Missing
            | Self::Stale
            | Self::NoVerdict
            | Self::Overrun
            | Self::Pin
            | Self::Pledge
            | Self::Silent => 0,
        }
    }
}

/// Line of the manual's table.
fn line(fault: image::Fault) -> u16 {
    use image::Fault as Of;
    match fault {
        Of::Short => 1,
        Of::NotAnImage => 2,
        Of::Version(_) => 3,
        Of::Trailing => 4,
        Of::Checksum => 5,
        Of::Header => 6,
        Of::Reserved => 7,
        Of::Scan => 8,
        Of::RowSize(_) => 9,
        Of::Overlap(_) => 10,
        Of::Gap(_) => 11,
        Of::Outside(_) => 12,
        Of::Rows(_) => 13,
        Of::Spare(_) => 14,
        Of::Plan(_) => 15,
        Of::Wiring(..) => 16,
        Of::Needs => 17,
    }
}
