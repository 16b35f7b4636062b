//! Lengths, times and speeds as people read them.

/// Millimetres as metres.
pub fn metres(mm: u64) -> String {
    decimal(mm, 1_000) + " m"
}

/// Millimetres, which may be negative, as metres.
pub fn signed_metres(mm: i64) -> String {
    let sign = if mm < 0 { "-" } else { "" };
    format!("{sign}{}", metres(mm.unsigned_abs()))
}

/// Microseconds as seconds, to the millisecond, rounded up.
pub fn seconds(us: u64) -> String {
    decimal(us.div_ceil(1_000), 1_000) + " s"
}

/// Microseconds as seconds, to the millisecond, rounded down.
pub fn seconds_down(us: u64) -> String {
    decimal(us / 1_000, 1_000) + " s"
}

/// Millimetres a second as metres a second.
pub fn speed(mm_s: u32) -> String {
    decimal(mm_s.into(), 1_000) + " m/s"
}

/// A value over a power of ten, without trailing zeros.
pub fn decimal(value: u64, whole: u64) -> String {
    let digits = whole.max(1).ilog10() as usize;
    if digits == 0 {
        return value.to_string();
    }
    let text = format!("{}.{:0digits$}", value / whole, value % whole);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
