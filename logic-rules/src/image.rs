//! The image of a plan: one run of bytes that a controller reads in place.
//!
//! An image is opened whole or not at all. Its bytes are, all numbers least byte first:
//!
//! | bytes | |
//! |---|---|
//! | 8 | [`MAGIC`] |
//! | 8 | [`StartRow`]: format version, length of the header, length of the image |
//! | 32 | SHA-256 of the rule files |
//! | 36 | [`SizesRow`]: scan time, revision, the cells that are needed, number of sections |
//! | 12 each | [`SectionRow`]: where each section lies |
//! | | the sections in the order of their table, without gaps: head and tables of the plan, then the wiring |
//! | 4 | CRC-32 of everything above ([`crc32`]) |
//!
//! The first 16 bytes are the same in every version.

mod crc;
mod layout;
mod scale;
mod section;
mod wiring;

pub use crc::{Crc32, crc32};
pub use layout::{HEADER, MAGIC, SECTIONS, SectionRow, SizesRow, StartRow, VERSION};
pub use scale::{Health, Scale, Scaled};
pub use wiring::{ScaleRow, TerminalRow, Wiring};

use crate::plan::{self, Needs, Plan};
use core::cmp::Ordering;
use section::Sections;

/// Bytes of a digest.
pub const DIGEST: usize = 32;

/// Why bytes are no image. Nothing of them can be used then.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fault {
    /// They do not begin as an image does.
    NotAnImage,
    /// The format has this version, and this program cannot read it.
    Version(u16),
    /// There are fewer bytes than the image says, or than any image has.
    Short,
    /// There are more bytes than the image says.
    Trailing,
    /// The checksum is not that of the bytes.
    Checksum,
    /// The header is not as long as that of this version, or the number of sections is another.
    Header,
    /// A byte of the header that means nothing in this version is not 0.
    Reserved,
    /// The scan time is not 1 ms to 1 s.
    Scan,
    /// Rows of this section have another size than in this version.
    RowSize(&'static str),
    /// Bytes before this section belong to none.
    Gap(&'static str),
    /// This section begins before the one above ends.
    Overlap(&'static str),
    /// This section reaches beyond the image.
    Outside(&'static str),
    /// This section has another number of rows than the plan wants.
    Rows(&'static str),
    /// A byte of this section that only fills a row is not 0.
    Spare(&'static str),
    /// A row of this section of the wiring is out of range, or names what another row names.
    Wiring(&'static str, u16),
    /// The tables are no plan.
    Plan(plan::Fault),
    /// The cells that the plan needs are not those that the image says.
    Needs,
}

/// An image that has been opened: a verified plan, and what a controller must know beside it.
#[derive(Debug, Clone, Copy)]
pub struct Image<'a> {
    digest: &'a [u8; DIGEST],
    sizes: SizesRow,
    length: usize,
    checksum: u32,
    plan: Plan<'a>,
    wiring: Wiring<'a>,
}

impl<'a> Image<'a> {
    /// Opens an image that is exactly these bytes.
    ///
    /// # Errors
    /// The first [`Fault`] found.
    pub fn open(bytes: &'a [u8]) -> Result<Self, Fault> {
        let length = Self::length_in(bytes)?;
        match bytes.len().cmp(&length) {
            Ordering::Less => return Err(Fault::Short),
            Ordering::Greater => return Err(Fault::Trailing),
            Ordering::Equal => {}
        }
        let (body, checksum) = bytes.split_last_chunk::<4>().ok_or(Fault::Short)?;
        let checksum = u32::from_le_bytes(*checksum);
        if crc32(body) != checksum {
            return Err(Fault::Checksum);
        }
        let (_, start, rest) = begin(body)?;
        let (digest, rest) = rest.split_first_chunk::<DIGEST>().ok_or(Fault::Short)?;
        let (sizes, rest) = rest.split_first_chunk::<{ SizesRow::SIZE }>().ok_or(Fault::Short)?;
        let sizes = SizesRow::read(sizes);
        if start.header != HEADER || sizes.sections != SECTIONS {
            return Err(Fault::Header);
        }
        if !sizes.fill_is_zero() {
            return Err(Fault::Reserved);
        }
        if !(1_000..=1_000_000).contains(&sizes.scan_us) {
            return Err(Fault::Scan);
        }
        let mut sections = Sections::new(body, rest)?;
        let tables = sections.tables()?;
        let plan = Plan::verify(tables).map_err(Fault::Plan)?;
        let wiring = Wiring::cut(&mut sections, &plan)?;
        sections.end()?;
        if sizes.needs() != Some(plan.needs()) {
            return Err(Fault::Needs);
        }
        Ok(Self { digest, sizes, length, checksum, plan, wiring })
    }

    /// Bytes that the image at the beginning of these has, as it says itself: with this it is found in a memory that
    /// holds more. Nothing but the first 16 bytes is looked at.
    ///
    /// # Errors
    /// [`Fault::NotAnImage`], [`Fault::Version`], or [`Fault::Short`] for fewer than 16 bytes.
    pub fn length_in(bytes: &[u8]) -> Result<usize, Fault> {
        let (magic, start, _) = begin(bytes)?;
        if *magic != MAGIC {
            return Err(Fault::NotAnImage);
        }
        if start.version != VERSION {
            return Err(Fault::Version(start.version));
        }
        usize::try_from(start.length).map_err(|_| Fault::Short)
    }

    /// The verified plan.
    pub fn plan(&self) -> &Plan<'a> {
        &self.plan
    }
    /// What is connected where, and what the raw signals mean.
    pub fn wiring(&self) -> &Wiring<'a> {
        &self.wiring
    }
    /// The cells that the plan needs.
    pub fn needs(&self) -> Needs {
        self.plan.needs()
    }
    /// SHA-256 of the rule files, one after the other; certificates name the same.
    pub fn digest(&self) -> &'a [u8; DIGEST] {
        self.digest
    }
    /// Length of a scan, 1 000 to 1 000 000 microseconds.
    pub fn scan_us(&self) -> u32 {
        self.sizes.scan_us
    }
    /// Revision of the rule file.
    pub fn revision(&self) -> u32 {
        self.sizes.revision
    }
    /// CRC-32 of the image, as it stands in its last four bytes.
    pub fn checksum(&self) -> u32 {
        self.checksum
    }
    /// Bytes of the image, the checksum included.
    pub fn length(&self) -> usize {
        self.length
    }
}

/// Magic and start, and what follows.
fn begin(bytes: &[u8]) -> Result<(&[u8; 8], StartRow, &[u8]), Fault> {
    let (magic, rest) = bytes.split_first_chunk::<8>().ok_or(Fault::Short)?;
    let (start, rest) = rest.split_first_chunk::<{ StartRow::SIZE }>().ok_or(Fault::Short)?;
    Ok((magic, StartRow::read(start), rest))
}
