//! The words of every reading against machine integers, operation by operation, on any values: also
//! on those that no state of a plan reaches.
#![allow(
    clippy::indexing_slicing,
    clippy::many_single_char_names,
    reason = "64 lanes have 64 values; numbers have no names"
)]

use host_tools::run::Legible;
use logic_rules::{Algebra, Eager, Inverted, Lanes, Plain, Sliced, Upright};
use proptest::prelude::*;

/// What each operation gives, as plain numbers.
fn all<A: Legible>(a: &mut A, x: u32, y: u32, limit: u32, when: bool) -> Vec<u32> {
    let (p, q, when) = (a.word(x), a.word(y), a.bit(when));
    let mut chosen = p;
    a.set_word(when, &mut chosen, q);
    let mut bit = a.at_least(p, limit);
    let other = a.at_least(q, limit);
    let [both, either, one, only, not] =
        [a.and(bit, other), a.or(bit, other), a.xor(bit, other), a.but(bit, other), a.not(bit)].map(A::truth);
    a.set_bit(when, &mut bit, other);
    let words = [a.add(p, q, limit), a.sub(p, q), a.difference(p, q), chosen];
    let mut out: Vec<u32> = words.into_iter().map(A::number).collect();
    let fits = A::truth(a.at_most(p, q));
    out.extend([both, either, one, only, not, A::truth(bit), fits].map(u32::from));
    out
}

/// Small numbers, numbers beside powers of two, and any number.
fn number() -> impl Strategy<Value = u32> {
    prop_oneof![
        0_u32..40,
        (0_u32..32, -1_i64..2).prop_map(|(bit, by)| ((1_i64 << bit) + by).try_into().unwrap_or(0)),
        any::<u32>()
    ]
}

proptest! {
    #[test]
    fn every_reading_computes_what_machine_integers_do(x in number(), y in number(), limit in number(), when in any::<bool>()) {
        let want = all(&mut Plain, x, y, limit, when);
        let sum = u32::try_from((u64::from(x) + u64::from(y)).min(u64::from(limit))).unwrap_or(limit);
        prop_assert_eq!(&want[..4], &[sum, x.saturating_sub(y), x.abs_diff(y), if when { y } else { x }]);
        prop_assert_eq!(want.last(), Some(&u32::from(x <= y)));
        prop_assert_eq!(&all(&mut Upright, x, y, limit, when), &want);
        prop_assert_eq!(&all(&mut Inverted, x, y, limit, when), &want);
        prop_assert_eq!(&all(&mut Eager(Plain), x, y, limit, when), &want);
        prop_assert_eq!(&all(&mut Sliced(Lanes), x, y, limit, when), &want);
    }

    #[test]
    fn lanes_do_not_touch_each_other(xs in prop::collection::vec(number(), 64), ys in prop::collection::vec(number(), 64), limit in number()) {
        let mut a = Sliced(Lanes);
        let (p, q) = (Lanes::word(&xs), Lanes::word(&ys));
        let (sum, less, apart) = (a.add(p, q, limit), a.sub(p, q), a.difference(p, q));
        let reaches = a.at_least(p, limit);
        for (lane, (&x, &y)) in (0_u32..).zip(xs.iter().zip(&ys)) {
            let mut plain = Plain;
            prop_assert_eq!(Lanes::value(&sum, lane), plain.add(x, y, limit));
            prop_assert_eq!(Lanes::value(&less, lane), plain.sub(x, y));
            prop_assert_eq!(Lanes::value(&apart, lane), plain.difference(x, y));
            prop_assert_eq!(reaches >> lane & 1 == 1, plain.at_least(x, limit));
        }
    }
}
