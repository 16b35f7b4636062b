//! What keeps a controller running: a word and its complement. Any single bit that turns ends it, and none begins it again.

/// Given once at power-up, withdrawn by the first fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Pledge {
    word: u32,
    complement: u32,
}

const GIVEN: u32 = 0x5AC3_3C96;

impl Pledge {
    pub(super) fn given() -> Self {
        Self { word: GIVEN, complement: !GIVEN }
    }
    pub(super) fn withdraw(&mut self) {
        *self = Self { word: 0, complement: 0 };
    }
    pub(super) fn holds(self) -> bool {
        self.word == GIVEN && self.complement == !GIVEN
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_bit_keeps_it_or_renews_it() {
        let mut withdrawn = Pledge::given();
        assert!(withdrawn.holds());
        withdrawn.withdraw();
        for pledge in [Pledge::given(), withdrawn] {
            for bit in 0..32 {
                assert!(!Pledge { word: pledge.word ^ 1 << bit, ..pledge }.holds());
                assert!(!Pledge { complement: pledge.complement ^ 1 << bit, ..pledge }.holds());
            }
        }
    }
}
