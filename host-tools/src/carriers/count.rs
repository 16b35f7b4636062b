//! How many carriers hang on the rope: their forces come again, in the same order, after a round.

use super::robust::{mean, median, real};

/// A number of carriers, and how well it is borne out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Count {
    /// Carriers.
    pub carriers: usize,
    /// Mean difference of a force from that of the round before, the wildest ones left out.
    pub apart: f64,
    /// The same of two carriers that are not one.
    pub strangers: f64,
}

/// A round has at least so many carriers.
const LEAST: usize = 3;

/// The number of carriers that these forces, in steps of their gauge, tell of, or none if they do not come again. At least two rounds are needed.
pub fn count(forces: &[Option<f64>]) -> Option<Count> {
    let all: Vec<(usize, f64)> =
        (LEAST..=forces.len() / 2).filter_map(|carriers| Some((carriers, apart(forces, carriers)?))).collect();
    let strangers = median(all.iter().map(|(_, apart)| *apart))?;
    let least = all.iter().map(|(_, apart)| *apart).min_by(f64::total_cmp)?;
    // Two rounds come again as well as one does: the least number that is nearly as good, give or take half a step.
    let (carriers, apart) = all.into_iter().find(|(_, apart)| *apart <= 1.5 * least + 0.5)?;
    (apart < strangers / 2.0).then_some(Count { carriers, apart, strangers })
}

/// Mean difference of a force from the one so many passings before. The greatest fifth is left out: odd closings, and what lies on either
/// side of a carrier that was taken out.
fn apart(forces: &[Option<f64>], by: usize) -> Option<f64> {
    let pairs = forces.iter().zip(forces.iter().skip(by));
    let mut all: Vec<f64> = pairs.filter_map(|(a, b)| Some((b.as_ref()? - a.as_ref()?).abs())).collect();
    all.sort_unstable_by(f64::total_cmp);
    all.truncate(all.len().div_ceil(5) * 4);
    // Few pairs come near to one another by chance.
    if real(all.len()) < real(by) / 2.0 { None } else { mean(&all) }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Forces that no formula repeats, and a little noise.
    fn forces(carriers: usize, rounds: usize) -> Vec<Option<f64>> {
        let own = |i: usize| real(i * i * 7919 % 601);
        let noise = |i: usize| real(i.wrapping_mul(0x9E37_79B9).wrapping_add(i * i * 31) / 64 % 11);
        (0..carriers * rounds).map(|i| Some(own(i % carriers) + noise(i))).collect()
    }

    #[test]
    fn a_round_is_known_by_its_forces() {
        for carriers in [5, 59, 60, 113] {
            for rounds in [2, 3, 7] {
                let found = count(&forces(carriers, rounds)).map(|count| count.carriers);
                assert_eq!(found, Some(carriers), "{rounds} rounds");
            }
        }
    }

    #[test]
    fn what_does_not_come_again_is_no_round() {
        assert_eq!(count(&forces(200, 1)), None);
        assert_eq!(count(&[]), None);
        assert_eq!(count(&[Some(1.0); 50]), None);
        assert_eq!(count(&[None; 50]), None);
    }
}
