//! From a station to the image that a controller opens, and its manifest for people.
//!
//! The image is read back as the controller reads it, and given out only if it says what was put in.

use crate::digest::sha256;
use crate::lower::lower;
use crate::station::Station;
use crate::text::parse::Source;
use logic_rules::image::{self, Image};
use logic_rules::plan::{self, Plan};
use std::fmt;

mod manifest;
mod names;
mod wiring;
mod write;

pub use manifest::{Manifest, NOTICE};
pub use names::Names;
pub use wiring::scale;

/// What packing gives.
#[derive(Debug, Clone)]
pub struct Packed {
    /// The bytes of the image.
    pub image: Vec<u8>,
    /// What it is, for people.
    pub manifest: Manifest,
}

/// Why a station cannot be packed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unpackable {
    /// It is beyond the capacities of a plan.
    Plan(plan::Fault),
    /// A terminal that an image cannot name, and why.
    Terminal(String, &'static str),
    /// The image would be longer than 4 GiB.
    Long,
    /// The image does not open.
    Closed(image::Fault),
    /// The image opens, and this of it is not what was put in.
    Differs(&'static str),
}

impl fmt::Display for Unpackable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Plan(fault) => write!(f, "the station is no plan: {fault:?}"),
            Self::Terminal(name, why) => write!(f, "terminal {name}: {why}"),
            Self::Long => write!(f, "the image would be longer than 4 GiB"),
            Self::Closed(fault) => write!(f, "the image does not open ({fault:?}); this is a mistake of haltproof"),
            Self::Differs(what) => {
                write!(f, "read back, the {what} of the image differs; this is a mistake of haltproof")
            }
        }
    }
}

/// Packs a station. `sources` are the rule files that it was read from, in that order.
///
/// # Errors
/// [`Unpackable`]; nothing is given out then.
pub fn pack(station: &Station, sources: &[Source]) -> Result<Packed, Unpackable> {
    let program = lower(station);
    let plan = program.plan().map_err(Unpackable::Plan)?;
    let wiring = wiring::wiring(station)?;
    let parts: Vec<&[u8]> = sources.iter().map(|source| source.bytes.as_slice()).collect();
    let content = write::Content {
        plan: &plan,
        wiring: &wiring,
        digest: sha256(&parts),
        scan_us: station.scan_us,
        revision: station.revision,
    };
    let (bytes, sections) = write::write(&content)?;
    let opened = compare(&content, &bytes)?;
    let manifest = Manifest::new(&opened, station, &program, sources, sections);
    Ok(Packed { image: bytes, manifest })
}

/// Opens the image as a controller does, and compares it with what was put in.
fn compare<'i>(content: &write::Content<'_>, bytes: &'i [u8]) -> Result<Image<'i>, Unpackable> {
    let image = Image::open(bytes).map_err(Unpackable::Closed)?;
    let same = [
        ("plan", same_tables(image.plan(), content.plan)),
        ("wiring", *image.wiring() == content.wiring.rows()),
        ("digest", *image.digest() == content.digest),
        ("scan time", image.scan_us() == content.scan_us),
        ("revision", image.revision() == content.revision),
    ];
    match same.iter().find(|(_, same)| !same) {
        None => Ok(image),
        Some((what, _)) => Err(Unpackable::Differs(what)),
    }
}

/// Every byte of every table, and the cells they need.
fn same_tables(a: &Plan<'_>, b: &Plan<'_>) -> bool {
    a.tables() == b.tables() && a.needs() == b.needs()
}

#[cfg(test)]
mod tests;
