//! What the station reads in one scan, before any rule has looked at it.

/// How far the current of a gauge can be believed (bands of NAMUR NE 43 unless narrowed).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Health {
    /// In the trusted range.
    #[default]
    Good,
    /// Neither measurement nor fault.
    Doubtful,
    /// Broken wire or short circuit.
    Broken,
}

/// A gauge in one scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Reading {
    /// Steps above the gauge's `lowest`; 0 to its `top`. Means nothing unless `Good`.
    pub steps: u32,
    /// May the value be believed.
    pub health: Health,
}

/// A link in one scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Frame {
    /// A whole, undamaged frame with the next sequence number came since the last scan.
    pub fresh: bool,
    /// The rank it orders (0: nothing). Means nothing unless `fresh`.
    pub order: u8,
}

/// Everything that is read in one scan; indices as in `Station`.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sample {
    /// Level of each digital channel.
    pub channels: Vec<bool>,
    /// Each gauge.
    pub gauges: Vec<Reading>,
    /// Signed millimetres each counter moved since the last scan.
    pub travel: Vec<i32>,
    /// Each link.
    pub links: Vec<Frame>,
}
