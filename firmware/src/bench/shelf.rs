//! Where a bench keeps the image that it is given, twice.

/// Two memories of the same size.
#[derive(Debug)]
pub struct Shelf<'m> {
    copies: [&'m mut [u8]; 2],
    /// Bytes that were announced, and those that have come.
    length: usize,
    come: usize,
}

impl<'m> Shelf<'m> {
    /// An empty shelf.
    pub fn new(copies: [&'m mut [u8]; 2]) -> Self {
        Self { copies, length: 0, come: 0 }
    }
    /// Begins an image of so many bytes; false if there is no room. What was here is gone.
    pub fn begin(&mut self, length: u32) -> bool {
        let room = self.copies.iter().map(|copy| copy.len()).min().unwrap_or(0);
        let length = usize::try_from(length).unwrap_or(usize::MAX);
        (self.length, self.come) = (0, 0);
        if length <= room {
            self.length = length;
        }
        length <= room
    }
    /// Takes the next piece; false if it is not the next, or too long.
    pub fn add(&mut self, offset: u32, piece: &[u8]) -> bool {
        let end = self.come.saturating_add(piece.len());
        if usize::try_from(offset) != Ok(self.come) || end > self.length {
            return false;
        }
        for copy in &mut self.copies {
            if let Some(place) = copy.get_mut(self.come..end) {
                place.copy_from_slice(piece);
            }
        }
        self.come = end;
        true
    }
    /// Both copies of what has come, whole or not: an image says itself whether it is.
    pub fn images(&self) -> [&[u8]; 2] {
        let [first, second] = &self.copies;
        [first.get(..self.come).unwrap_or_default(), second.get(..self.come).unwrap_or_default()]
    }
}
