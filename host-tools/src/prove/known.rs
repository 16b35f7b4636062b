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

/// Reads an earlier certificate for a station as it is now, whatever rules it was made for. It claims, and proves nothing.
pub fn recall(model: &Model<'_>, subject: Subject, certificate: &str, list: &str) -> Option<Earlier> {
    let claimed = certificate::recall(model, certificate).ok()?;
    let mut lines = list.lines();
    let ours = lines.next() == Some(FIRST_LINE) && lines.next() == Some(tool().as_str());
    let name = subject.name(model.station);
    let asked = lines.find_map(|line| line.split_once(' ').filter(|(of, _)| *of == name));
    let asked = asked.filter(|_| ours).map(|(_, digest)| digest.to_string());
    (claimed.subject == subject).then_some(Earlier { claimed, asked })
}

fn tool() -> String {
    format!("tool {}", env!("CARGO_PKG_VERSION"))
}

/// The list, of names and digests.
pub fn list(checked: &BTreeMap<String, String>) -> String {
    let mut text = format!("{FIRST_LINE}\n{}\n", tool());
    for (name, digest) in checked {
        let _ = writeln!(text, "{name} {digest}");
    }
    text
}
