//! What a reading of a station tells of one scan; every reading fills the same struct, so that two
//! of them can be compared field by field.

use host_tools::station::Rank;

/// The verdict of one scan, and what of the state is worth comparing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Told {
    /// Per way (order of `ways`): it trips in this scan, after modes and bypasses.
    pub trips: Vec<bool>,
    /// Per way: latched, after this scan's reset.
    pub latched: Vec<bool>,
    /// Per way: in the first-out, after this scan's reset.
    pub first: Vec<bool>,
    /// Per rank from 1: a stop latched or tripping (before this scan's reset), a slow order asked for.
    pub stands: Vec<bool>,
    /// The most severe rank that stands; 0 is nothing.
    pub answer: Rank,
    /// Per output: it is off.
    pub off: Vec<bool>,
    /// The start permit is on.
    pub permit: bool,
    /// Per bypass: it is active in this scan.
    pub active: Vec<bool>,
    /// Per bypass: scans used, this one included.
    pub used: Vec<u32>,
    /// The reset acted at the end of this scan.
    pub reset: bool,
    /// Per watch: a travel whose stretch excuses after this scan; false for other kinds.
    pub refilling: Vec<bool>,
    /// Per watch: carriers under way of a travel after this scan; 0 for other kinds.
    pub queue: Vec<usize>,
}

impl Told {
    /// Names of the fields in which two of them differ, with both values.
    pub fn differences(&self, other: &Self) -> Vec<String> {
        let mut found = Vec::new();
        let mut field = |name: &str, mine: String, theirs: String| {
            if mine != theirs {
                found.push(format!("{name}: {mine} against {theirs}"));
            }
        };
        let set = |bits: &[bool]| {
            let on: Vec<usize> = (0..bits.len()).filter(|&i| bits[i]).collect();
            format!("{on:?} of {}", bits.len())
        };
        field("trips", set(&self.trips), set(&other.trips));
        field("latched", set(&self.latched), set(&other.latched));
        field("first", set(&self.first), set(&other.first));
        field("stands", set(&self.stands), set(&other.stands));
        field("answer", self.answer.to_string(), other.answer.to_string());
        field("off", set(&self.off), set(&other.off));
        field("permit", self.permit.to_string(), other.permit.to_string());
        field("active", set(&self.active), set(&other.active));
        field("used", format!("{:?}", self.used), format!("{:?}", other.used));
        field("reset", self.reset.to_string(), other.reset.to_string());
        field("refilling", set(&self.refilling), set(&other.refilling));
        field("queue", format!("{:?}", self.queue), format!("{:?}", other.queue));
        found
    }
}
