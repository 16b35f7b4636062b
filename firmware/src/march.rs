//! The memory that will hold the state, tested before it does.
//!
//! March C−, as van de Goor describes it in "Testing Semiconductor Memories" (1991), over words, with four backgrounds:
//! it finds cells that are stuck, do not turn, or turn with another cell, and addresses that are not told apart. What was
//! in the memory is lost.

use core::hint::black_box;

/// Words that can be read and written, so that a memory with faults can stand in for one.
pub trait Words {
    /// Number of words.
    fn count(&self) -> usize;
    /// A word.
    fn read(&self, at: usize) -> Option<u32>;
    /// Writes a word.
    fn write(&mut self, at: usize, word: u32);
}

impl Words for [u32] {
    fn count(&self) -> usize {
        self.len()
    }
    fn read(&self, at: usize) -> Option<u32> {
        // Whatever was written stands in the memory before it is read: nothing is known of it beforehand.
        black_box(self).get(at).copied()
    }
    fn write(&mut self, at: usize, word: u32) {
        if let Some(cell) = black_box(self).get_mut(at) {
            *cell = word;
        }
    }
}

/// Backgrounds that tell the bits of a word apart.
const BACKGROUNDS: [u32; 4] = [0x0000_0000, 0x5555_5555, 0x3333_3333, 0x0F0F_0F0F];

/// Tests a memory; at the end it holds the last background.
///
/// # Errors
/// The first word found not to hold what was written.
pub fn march(memory: &mut (impl Words + ?Sized)) -> Result<(), usize> {
    let last = memory.count();
    for zero in BACKGROUNDS {
        let one = !zero;
        for at in 0..last {
            memory.write(at, zero);
        }
        for (from, to) in [(zero, one), (one, zero)] {
            for at in 0..last {
                turn(memory, at, from, to)?;
            }
        }
        for (from, to) in [(zero, one), (one, zero)] {
            for at in (0..last).rev() {
                turn(memory, at, from, to)?;
            }
        }
        for at in 0..last {
            if memory.read(at) != Some(zero) {
                return Err(at);
            }
        }
    }
    Ok(())
}

/// A word holds what it should, and is given its complement.
fn turn(memory: &mut (impl Words + ?Sized), at: usize, from: u32, to: u32) -> Result<(), usize> {
    if memory.read(at) != Some(from) {
        return Err(at);
    }
    memory.write(at, to);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is wrong with a memory of a few words.
    #[derive(Debug, Clone, Copy)]
    enum Broken {
        /// A bit that has this value for ever.
        Stuck(usize, u32, bool),
        /// A bit that cannot rise, or cannot fall.
        Lazy(usize, u32, bool),
        /// Writing a rise (or a fall) of one bit turns another.
        Coupled((usize, u32), bool, (usize, u32)),
        /// Two addresses are one.
        Alias(usize, usize),
    }
    struct Memory([u32; 8], Broken);
    impl Words for Memory {
        fn count(&self) -> usize {
            8
        }
        fn read(&self, at: usize) -> Option<u32> {
            let word = match self.1 {
                Broken::Alias(a, b) if at == a => self.0[b],
                _ => self.0[at],
            };
            Some(match self.1 {
                Broken::Stuck(place, bit, high) if place == at => {
                    if high {
                        word | 1 << bit
                    } else {
                        word & !(1 << bit)
                    }
                }
                _ => word,
            })
        }
        fn write(&mut self, at: usize, word: u32) {
            let at = match self.1 {
                Broken::Alias(a, b) if at == a => b,
                _ => at,
            };
            let before = self.0[at];
            self.0[at] = word;
            match self.1 {
                Broken::Lazy(place, bit, up) if place == at => {
                    let stays = if up { !before & word } else { before & !word } & 1 << bit;
                    self.0[at] ^= stays;
                }
                Broken::Coupled((place, bit), up, (other, turned)) if place == at => {
                    let moved = if up { !before & word } else { before & !word };
                    if moved >> bit & 1 == 1 {
                        self.0[other] ^= 1 << turned;
                    }
                }
                _ => {}
            }
        }
    }

    #[test]
    fn a_sound_memory_passes() {
        assert_eq!(march([0xDEAD_BEEF; 8].as_mut_slice()), Ok(()));
        assert_eq!(march([].as_mut_slice()), Ok(()));
    }

    #[test]
    fn each_kind_of_fault_is_found_wherever_it_is() {
        let mut tried = 0;
        let mut finds = |broken| {
            tried += 1;
            assert!(march(&mut Memory([0; 8], broken)).is_err(), "{broken:?}");
        };
        for place in 0..8 {
            for bit in [0, 1, 2, 7, 16, 31] {
                for way in [false, true] {
                    finds(Broken::Stuck(place, bit, way));
                    finds(Broken::Lazy(place, bit, way));
                    for other in (0..8).filter(|other| *other != place) {
                        finds(Broken::Coupled((place, bit), way, (other, 31 - bit)));
                    }
                    for turned in (0..32).filter(|turned| *turned != bit) {
                        finds(Broken::Coupled((place, bit), way, (place, turned)));
                    }
                }
            }
            for other in (0..8).filter(|other| *other != place) {
                finds(Broken::Alias(place, other));
            }
        }
        assert!(tried > 3_000, "{tried}");
    }
}
