//! Numbers in the body of a frame, least byte first.

use super::Body;

/// Reads a body from its beginning. Once there are too few bytes, nothing more is read.
#[derive(Debug, Clone)]
pub struct Read<'b>(&'b [u8]);

impl<'b> Read<'b> {
    /// At the beginning.
    pub fn new(body: &'b [u8]) -> Self {
        Self(body)
    }
    /// So many bytes.
    pub fn array<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (own, rest) = self.0.split_first_chunk()?;
        self.0 = rest;
        Some(*own)
    }
    /// A byte.
    pub fn byte(&mut self) -> Option<u8> {
        self.array().map(|[byte]| byte)
    }
    /// Two bytes.
    pub fn short(&mut self) -> Option<u16> {
        self.array().map(u16::from_le_bytes)
    }
    /// Four bytes.
    pub fn long(&mut self) -> Option<u32> {
        self.array().map(u32::from_le_bytes)
    }
    /// A byte that is 0 or 1.
    pub fn flag(&mut self) -> Option<bool> {
        match self.byte()? {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        }
    }
    /// What is left.
    pub fn rest(&mut self) -> &'b [u8] {
        core::mem::take(&mut self.0)
    }
    /// Nothing is left.
    pub fn ends(&self) -> bool {
        self.0.is_empty()
    }
}

/// Writes a body. What has no room is left out; callers write no more than there is.
#[derive(Debug, Clone, Default)]
pub struct Write(Body);

impl Write {
    /// Empty.
    pub fn new() -> Self {
        Self::default()
    }
    /// Bytes.
    pub fn bytes(&mut self, bytes: &[u8]) {
        let _ = self.0.extend_from_slice(bytes);
    }
    /// A byte.
    pub fn byte(&mut self, byte: u8) {
        self.bytes(&[byte]);
    }
    /// Two bytes.
    pub fn short(&mut self, number: u16) {
        self.bytes(&number.to_le_bytes());
    }
    /// Four bytes.
    pub fn long(&mut self, number: u32) {
        self.bytes(&number.to_le_bytes());
    }
    /// A byte that is 0 or 1.
    pub fn flag(&mut self, flag: bool) {
        self.byte(u8::from(flag));
    }
    /// Bytes written so far.
    pub fn len(&self) -> usize {
        self.0.len()
    }
    /// Nothing was written yet.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
    /// The body.
    pub fn done(self) -> Body {
        self.0
    }
}
