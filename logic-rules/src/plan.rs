//! A plan: the tables that say what a station's rules are. [`Tables`] can hold nonsense; a
//! [`Plan`] has been verified whole, and there is no other door.

pub mod row;
pub mod rows;
mod verify;

pub use rows::*;
pub use verify::Fault;

/// A table read in place.
pub type Rows<'a, const N: usize> = &'a [[u8; N]];

/// Tables as they come, unverified. Columns of one number are rows of 4 or 2 bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tables<'a> {
    /// Sizes and single things.
    pub head: HeadRow,
    /// Scans of a differing sample, the first included, after which each line goes high; at least 1.
    pub line_up: Rows<'a, 4>,
    /// The same for going low.
    pub line_down: Rows<'a, 4>,
    /// 1 for a line that reads its channel inverted.
    pub line_invert: Rows<'a, 1>,
    /// Contacts whose changes are counted.
    pub chatters: Rows<'a, 16>,
    /// Pairs, and keys of two channels.
    pub pairs: Rows<'a, 16>,
    /// Detectors that may be stuck.
    pub stucks: Rows<'a, 16>,
    /// Detectors that must rise.
    pub missings: Rows<'a, 12>,
    /// Gauges; the level of gauge `i` is `i`.
    pub gauges: Rows<'a, 32>,
    /// Paces; the levels of pace `i` are `gauges + 3 i` (net travel forward), the next (backward), and the next (either way).
    pub paces: Rows<'a, 48>,
    /// Links.
    pub links: Rows<'a, 16>,
    /// Way of each rank a link can order.
    pub orders: Rows<'a, 2>,
    /// Differences; their levels follow those of the paces.
    pub differs: Rows<'a, 16>,
    /// Comparisons; condition `atoms - nodes - bands - compares + i`.
    pub compares: Rows<'a, 8>,
    /// Bands; the conditions after the comparisons.
    pub bands: Rows<'a, 12>,
    /// Conjunctions; the last conditions.
    pub nodes: Rows<'a, 4>,
    /// Modes.
    pub modes: Rows<'a, 8>,
    /// Sets of modes, bit `i` for mode `i`.
    pub mode_sets: Rows<'a, 4>,
    /// Bypasses.
    pub bypasses: Rows<'a, 24>,
    /// Guards and agrees.
    pub holds: Rows<'a, 8>,
    /// Guards with a total.
    pub totals: Rows<'a, 16>,
    /// Travels: those in rope pace by pace, then those in time.
    pub travels: Rows<'a, 48>,
    /// How the ages grow.
    pub grows: Rows<'a, 4>,
    /// Where each age saturates.
    pub age_tops: Rows<'a, 4>,
    /// How the times grow.
    pub times: Rows<'a, 4>,
    /// Where each time saturates.
    pub time_tops: Rows<'a, 4>,
    /// Measures.
    pub measures: Rows<'a, 16>,
    /// Spacings.
    pub spacings: Rows<'a, 24>,
    /// Confirms.
    pub confirms: Rows<'a, 16>,
    /// Exercises.
    pub exercises: Rows<'a, 16>,
    /// Counts.
    pub counts: Rows<'a, 24>,
    /// Gates.
    pub gates: Rows<'a, 8>,
    /// Number of ways of each rank, mildest first.
    pub ranks: Rows<'a, 2>,
    /// Slow orders, mildest first.
    pub slows: Rows<'a, 8>,
    /// Stops, mildest first.
    pub stops: Rows<'a, 16>,
    /// Outputs.
    pub outputs: Rows<'a, 12>,
    /// Refills by key.
    pub refills: Rows<'a, 8>,
    /// What they refill.
    pub targets: Rows<'a, 4>,
}

/// A verified plan.
#[derive(Debug, Clone, Copy)]
pub struct Plan<'a> {
    tables: Tables<'a>,
    needs: Needs,
}

/// Cells a plan needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Needs {
    /// Bits of state.
    pub bits: usize,
    /// Words of state.
    pub words: usize,
    /// Bits of work.
    pub work_bits: usize,
    /// Words of work.
    pub work_words: usize,
    /// Queue places of all travels.
    pub ages: usize,
    /// Queue places of travels with a backstop.
    pub timed: usize,
}

impl<'a> Plan<'a> {
    /// Verifies tables whole.
    ///
    /// # Errors
    /// The first [`Fault`] found; nothing of the tables can be used then.
    pub fn verify(tables: Tables<'a>) -> Result<Self, Fault> {
        let needs = verify::verify(&tables)?;
        Ok(Self { tables, needs })
    }
    /// The tables.
    pub fn tables(&self) -> &Tables<'a> {
        &self.tables
    }
    /// The cells it needs.
    pub fn needs(&self) -> Needs {
        self.needs
    }
}

/// A column entry of four bytes.
#[inline(always)]
pub(crate) fn long(bytes: &[u8; 4]) -> u32 {
    u32::from_le_bytes(*bytes)
}
/// A column entry of two bytes.
#[inline(always)]
pub(crate) fn short(bytes: &[u8; 2]) -> u16 {
    u16::from_le_bytes(*bytes)
}
