//! How much suites try, as `HALTPROOF_HEAVY` says.

/// How much is tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effort {
    /// Unset or 0: the test command.
    Short,
    /// 1: what must pass before a change lands.
    Long,
    /// 2: as much as a release wants, for hours.
    Whole,
}

/// How much is to be tried.
pub fn effort() -> Effort {
    match std::env::var("HALTPROOF_HEAVY").as_deref() {
        Err(_) | Ok("" | "0") => Effort::Short,
        Ok("1") => Effort::Long,
        Ok("2") => Effort::Whole,
        Ok(other) => panic!("HALTPROOF_HEAVY is `{other}`, and says nothing but 0, 1 or 2"),
    }
}

/// More is tried than the test command does.
pub fn is_heavy() -> bool {
    effort() > Effort::Short
}

/// What belongs to each effort, the least first.
pub fn by_effort<T>([short, long, whole]: [T; 3]) -> T {
    match effort() {
        Effort::Short => short,
        Effort::Long => long,
        Effort::Whole => whole,
    }
}
