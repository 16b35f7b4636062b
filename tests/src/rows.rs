//! Rows of a campaign that need no long rest.

/// Words that every row has in its way or its stimulus, but those of bypasses: these wait until a bypass may be used again, for an hour
/// at the drive terminal.
pub const QUICK: &[&str] =
    &["controller", "mode ", "output ", "slow ", "input ", "watch ", "stop ", "reset ", "restart", "refill "];
