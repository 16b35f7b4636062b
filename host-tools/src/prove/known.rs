//! Proofs of an earlier run: tried first, and not checked again where the checker would ask the very same.
//!
//! A changed limit touches few requirements. Of the others the checker's questions are what they were, and so are the
//! answers; which questions it had answered is kept in a list beside the certificates:
//!
//! ```text
//! haltproof checked 1
//! tool 0.1.0
//! R2 77ab...      (SHA-256 of all that the checker asked)
//! ```
//!
//! Who can write that list can have a proof believed without a check. `prove --recheck` never reads it.

use super::certificate;
use super::claim::{Claimed, Subject};
use super::model::Model;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// First line of the list.
const FIRST_LINE: &str = "haltproof checked 1";

/// A proof of an earlier run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Earlier {
    /// What its certificate claims, if all that it speaks of is still there.
    pub claimed: Claimed,
    /// Digest of what the checker asked and had answered.
    pub asked: Option<String>,
}

/// What the checker had answered, by the names of requirements; nothing, if another version of this program kept the list.
pub fn read(list: &str) -> BTreeMap<String, String> {
    let mut lines = list.lines();
    if lines.next() != Some(FIRST_LINE) || lines.next() != Some(tool().as_str()) {
        return BTreeMap::new();
    }
    lines.filter_map(|line| line.split_once(' ')).map(|(name, digest)| (name.to_string(), digest.to_string())).collect()
}

/// The list, to be kept.
pub fn write(checked: &BTreeMap<String, String>) -> String {
    let mut text = format!("{FIRST_LINE}\n{}\n", tool());
    for (name, digest) in checked {
        let _ = writeln!(text, "{name} {digest}");
    }
    text
}

fn tool() -> String {
    format!("tool {}", env!("CARGO_PKG_VERSION"))
}

/// Reads an earlier certificate for a station as it is now, whatever rules it was made for. It claims, and proves nothing.
pub fn recall(
    model: &Model<'_>,
    subject: Subject,
    certificate: &str,
    checked: &BTreeMap<String, String>,
) -> Option<Earlier> {
    let claimed = certificate::recall(model, certificate).ok()?;
    let asked = checked.get(subject.name(model.station)).cloned();
    (claimed.subject == subject).then_some(Earlier { claimed, asked })
}
