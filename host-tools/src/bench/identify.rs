//! Who a target is, and whether it runs what the rule files pack to.

use firmware::link::{Sender, Who};
use logic_rules::image::Image;
use serde::Serialize;

use super::Trouble;
use super::client::Client;
use crate::digest::hex;

/// What a target says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Identity {
    /// `station` or `bench`.
    pub build: &'static str,
    /// Version of its firmware.
    pub version: String,
    /// Version of the images that it reads.
    pub format: u16,
    /// What it runs; nothing if it runs nothing.
    pub runs: Option<Marks>,
}

/// What tells an image from others.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Marks {
    /// SHA-256 of the rule files, in hexadecimal digits.
    pub digest: String,
    /// CRC-32 of the image, in hexadecimal digits.
    pub crc32: String,
    /// Its bytes.
    pub length: u32,
    /// Revision of the rule file.
    pub revision: u32,
    /// Microseconds of a scan.
    pub scan_us: u32,
}

impl Marks {
    /// Of an image.
    pub fn of(image: &Image<'_>) -> Self {
        Self {
            digest: hex(image.digest()),
            crc32: hex(&image.checksum().to_be_bytes()),
            length: u32::try_from(image.length()).unwrap_or(u32::MAX),
            revision: image.revision(),
            scan_us: image.scan_us(),
        }
    }
    /// Names of the fields that differ.
    pub fn differ(&self, other: &Self) -> Vec<&'static str> {
        let same = [
            ("digest", self.digest == other.digest),
            ("crc32", self.crc32 == other.crc32),
            ("length", self.length == other.length),
            ("revision", self.revision == other.revision),
            ("scan_us", self.scan_us == other.scan_us),
        ];
        same.into_iter().filter(|(_, same)| !same).map(|(what, _)| what).collect()
    }
}

/// Asks a target who it is.
///
/// # Errors
/// [`Trouble`] if it does not say.
pub fn identify(client: &mut Client) -> Result<Identity, Trouble> {
    let Who { version: [major, minor, patch], format, runs, digest, checksum, length, revision, scan_us } =
        client.who()?;
    let build = match client.sender() {
        Some(Sender::Station) => "station",
        Some(Sender::Bench) => "bench",
        Some(Sender::Host) | None => return Err(Trouble::Unexpected("it is asked who it is")),
    };
    let marks = Marks { digest: hex(&digest), crc32: hex(&checksum.to_be_bytes()), length, revision, scan_us };
    Ok(Identity { build, version: format!("{major}.{minor}.{patch}"), format, runs: runs.then_some(marks) })
}
