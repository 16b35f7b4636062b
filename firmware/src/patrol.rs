//! Goes round an image while the plan runs, and finds what has changed in it.

use crate::fault::Fault;
use logic_rules::image::Crc32;

/// Bytes looked at in a scan: an image of 6 kB is gone round in a second of 10 ms scans.
const PIECE: usize = 64;

/// A round under way.
#[derive(Debug, Clone)]
pub struct Patrol<'i> {
    copy: u8,
    body: &'i [u8],
    checksum: &'i [u8; 4],
    rest: &'i [u8],
    crc: Crc32,
    /// Rounds that were made.
    pub rounds: u32,
}

impl<'i> Patrol<'i> {
    /// Of the image of this copy; `None` if it is too short to have a checksum.
    pub fn new(copy: u8, image: &'i [u8]) -> Option<Self> {
        let (body, checksum) = image.split_last_chunk::<4>()?;
        Some(Self { copy, body, checksum, rest: body, crc: Crc32::new(), rounds: 0 })
    }
    /// Looks at the next piece.
    ///
    /// # Errors
    /// [`Fault::Changed`] at the end of a round in which a bit was found turned.
    pub fn look(&mut self) -> Result<(), Fault> {
        let (piece, rest) = self.rest.split_at_checked(PIECE).unwrap_or((self.rest, &[]));
        self.crc.add(piece);
        self.rest = rest;
        if rest.is_empty() {
            if self.crc.sum() != u32::from_le_bytes(*self.checksum) {
                return Err(Fault::Changed(self.copy));
            }
            self.rest = self.body;
            self.crc = Crc32::new();
            self.rounds = self.rounds.wrapping_add(1);
        }
        Ok(())
    }
}
