//! A small random generator that gives the same numbers everywhere.

/// Xorshift with a multiplied result (Vigna's xorshift64*).
#[derive(Debug, Clone)]
pub struct Rng(u64);

impl Rng {
    /// From any seed.
    pub fn new(seed: u64) -> Self {
        // Spread small seeds apart (the finaliser of splitmix64); 0 would stay 0 for ever.
        let mut z = seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        Self((z ^ (z >> 31)).max(1))
    }

    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// From 0 to one less than `n`.
    pub fn below(&mut self, n: u64) -> u64 {
        (self.bits() >> 16) % n
    }

    /// From `least` to `most`, both included.
    pub fn within(&mut self, least: i64, most: i64) -> i64 {
        let count = u64::try_from(most - least + 1).expect("least is at most most");
        least + i64::try_from(self.below(count)).expect("the count is small")
    }

    /// Like [`Rng::within`], for the limits of a station.
    pub fn small(&mut self, least: u32, most: u32) -> u32 {
        u32::try_from(self.within(i64::from(least), i64::from(most))).expect("between two u32")
    }

    /// Like [`Rng::within`], for numbers of things.
    pub fn size(&mut self, least: usize, most: usize) -> usize {
        least + self.index(most - least + 1)
    }

    /// An index into `len` things.
    pub fn index(&mut self, len: usize) -> usize {
        let len = u64::try_from(len).expect("64 bits");
        usize::try_from(self.below(len)).expect("below a usize")
    }

    /// True in so many of a hundred.
    pub fn chance(&mut self, percent: u64) -> bool {
        self.below(100) < percent
    }

    /// True once in so many.
    pub fn once_in(&mut self, n: u64) -> bool {
        self.below(n) == 0
    }

    /// One of several.
    pub fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.index(from.len())].clone()
    }

    /// Into any order.
    pub fn shuffle<T>(&mut self, all: &mut [T]) {
        for i in (1..all.len()).rev() {
            let other = self.index(i + 1);
            all.swap(i, other);
        }
    }

    /// Some of so many things, at least `least` of them, in order.
    pub fn some_of(&mut self, count: usize, least: usize) -> Vec<usize> {
        let mut all: Vec<usize> = (0..count).collect();
        self.shuffle(&mut all);
        all.truncate(self.size(least, count));
        all.sort_unstable();
        all
    }
}
