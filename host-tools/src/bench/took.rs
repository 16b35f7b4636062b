//! How long scans took, by the target's clock.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// Scans by the microseconds that they took.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Times(BTreeMap<u16, u64>);

impl Times {
    /// One more scan.
    pub fn add(&mut self, took_us: u16) {
        *self.0.entry(took_us).or_default() += 1;
    }
    /// In short.
    pub fn took(&self) -> Took {
        let all: u64 = self.0.values().sum();
        let mut below = 0;
        let median = self.0.iter().find(|(_, scans)| {
            below += *scans;
            below * 2 >= all
        });
        let longest = self.0.last_key_value();
        let us = |entry: Option<(&u16, &u64)>| entry.map_or(0, |(us, _)| *us);
        Took { median_us: us(median), longest_us: us(longest) }
    }
}

/// How long scans took; 0 on a target whose clock stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Took {
    /// Half of them took no longer.
    pub median_us: u16,
    /// The longest.
    pub longest_us: u16,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_is_one_of_them() {
        let of = |took: &[u16]| {
            let mut times = Times::default();
            for us in took {
                times.add(*us);
            }
            times.took()
        };
        assert_eq!(of(&[]), Took::default());
        assert_eq!(of(&[3]), Took { median_us: 3, longest_us: 3 });
        assert_eq!(of(&[9, 1, 5, 5, 2]), Took { median_us: 5, longest_us: 9 });
    }
}
