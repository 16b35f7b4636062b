//! What stands where in the header of an image.

use crate::plan::Needs;
use crate::plan::row::row;

/// How every image begins.
pub const MAGIC: [u8; 8] = *b"HALTPLAN";
/// The format that this program writes and reads. It rises with every change of the header, of a row or of what a row means.
pub const VERSION: u16 = 1;
/// Sections: the head, the 37 tables of a plan, and three of wiring.
pub const SECTIONS: u16 = 41;
/// Bytes before the first section.
pub const HEADER: u16 = 576;

row! {
    /// What every version begins with, after the magic.
    StartRow, 8 {
        /// Format version.
        version: u16,
        /// Bytes of the header, the table of sections included.
        header: u16,
        /// Bytes of the image, the checksum included.
        length: u32,
    }
}
row! {
    /// What a controller wants to know before it looks at rows.
    SizesRow, 36 {
        /// Length of a scan, 1 000 to 1 000 000 microseconds.
        scan_us: u32,
        /// Revision of the rule file.
        revision: u32,
        /// Bits of state.
        bits: u32,
        /// Words of state.
        words: u32,
        /// Bits of work.
        work_bits: u32,
        /// Words of work.
        work_words: u32,
        /// Queue places of all travels.
        ages: u32,
        /// Queue places of travels with a backstop.
        timed: u32,
        /// Number of sections.
        sections: u16,
        /// Fills the row.
        spare: u16,
    }
}
row! {
    /// Where a section lies.
    SectionRow, 12 {
        /// Its first byte, counted from the beginning of the image.
        offset: u32,
        /// Its rows.
        rows: u32,
        /// Bytes of a row.
        size: u16,
        /// Fills the row.
        spare: u16,
    }
}

impl SizesRow {
    /// The cells that the image says its plan needs; `None` if they are more than any memory here.
    pub fn needs(&self) -> Option<Needs> {
        let size = |n: u32| usize::try_from(n).ok();
        Some(Needs {
            bits: size(self.bits)?,
            words: size(self.words)?,
            work_bits: size(self.work_bits)?,
            work_words: size(self.work_words)?,
            ages: size(self.ages)?,
            timed: size(self.timed)?,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_header_is_as_long_as_its_parts() {
        let parts = MAGIC.len() + StartRow::SIZE + super::super::DIGEST + SizesRow::SIZE;
        assert_eq!(usize::from(HEADER), parts + usize::from(SECTIONS) * SectionRow::SIZE);
    }
}
