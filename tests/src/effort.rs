//! How much suites try, as `HALTPROOF_HEAVY` says.

/// What belongs to the effort: to that of the test command (0, or unset), to what must pass before a change lands (1), or to what a release wants (2).
pub fn by_effort<T>([short, long, whole]: [T; 3]) -> T {
    match std::env::var("HALTPROOF_HEAVY").as_deref() {
        Err(_) | Ok("" | "0") => short,
        Ok("1") => long,
        Ok("2") => whole,
        Ok(other) => panic!("HALTPROOF_HEAVY is `{other}`, and says nothing but 0, 1 or 2"),
    }
}

/// More is tried than the test command does.
pub fn is_heavy() -> bool {
    by_effort([false, true, true])
}
