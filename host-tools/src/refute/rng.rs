//! A small random generator that gives the same numbers everywhere.

/// Xorshift with a multiplied result.
#[derive(Debug, Clone)]
pub(super) struct Rng(u64);

impl Rng {
    pub(super) fn new(seed: u64) -> Self {
        let mut z = seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        Self((z ^ (z >> 31)).max(1))
    }
    pub(super) fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let bits = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 16;
        usize::try_from(bits % u64::try_from(n.max(1)).unwrap_or(1)).unwrap_or(0)
    }
    pub(super) fn pick<T: Copy>(&mut self, from: &[T]) -> Option<T> {
        let at = self.below(from.len());
        from.get(at).copied()
    }
}
