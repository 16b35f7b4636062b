//! A certificate of a comparison: what stays between the two sides, as text, with what it was made for.
//!
//! ```text
//! haltproof comparison 1
//! old 1f0c...     (SHA-256 of the tables that the old rules become)
//! new 77ab...     (SHA-256 of the tables that the new rules become)
//! pairs 03de...   (SHA-256 of what was taken to belong together)
//! tool 0.1.0
//! never milder emergency
//! never milder output traction
//! never more-severe permit
//! lemma old:gate-open.hold = new:gate-open.hold
//! digest 90c2...  (SHA-256 of all lines above)
//! ```

use super::recheck::Claimed;
use super::side::{Difference, What};
use super::twin::Twin;
use crate::prove::certificate::{Unusable, digest};
use crate::prove::lemma::{CellId, Lemma};
use std::collections::HashMap;
use std::fmt::Write as _;

/// First line of every certificate of a comparison.
pub const FIRST_LINE: &str = "haltproof comparison 1";

/// What it was made for: each line once, in this order.
fn headers(twin: &Twin<'_>) -> [String; 4] {
    let plan = |side: &super::side::Side<'_>| digest(&[format!("{:?}", side.model.plan.tables()).as_bytes()]);
    let pairs = twin.pairs;
    let tied =
        format!("{:?}", (&pairs.answers, &pairs.outputs, &pairs.channels, &pairs.gauges, &pairs.sources, &pairs.links));
    [
        format!("old {}", plan(&twin.old)),
        format!("new {}", plan(&twin.new)),
        format!("pairs {}", digest(&[tied.as_bytes()])),
        format!("tool {}", env!("CARGO_PKG_VERSION")),
    ]
}

/// A difference in a few words.
pub fn says(twin: &Twin<'_>, difference: Difference) -> String {
    let way = if difference.milder { "milder" } else { "more-severe" };
    let what = match difference.what {
        What::Answer(place) => twin.pairs.answers.get(place).map_or_else(String::new, |a| a.name.clone()),
        What::Beneath(place) => {
            let name = twin.pairs.answers.get(place).map_or("", |a| a.name.as_str());
            format!("{name} beneath another")
        }
        What::Output(i) => {
            let name = twin.old.model.station.outputs.get(i).map_or("", |o| o.name.text.as_str());
            format!("output {name}")
        }
        What::Permit => "start permit".into(),
        What::Reset => "reset acts".into(),
        What::Statement(i) => twin.told.get(i).map_or_else(String::new, |told| format!("statement {}", told.name)),
    };
    format!("{way} {what}")
}

/// The text of a certificate.
pub fn write(twin: &Twin<'_>, claimed: &Claimed) -> String {
    let name = |id: CellId| twin.names.get(id).cloned().unwrap_or_else(|| format!("cell-{id}"));
    let mut text = format!("{FIRST_LINE}\n");
    let never = claimed.never.iter().map(|difference| format!("never {}", says(twin, *difference)));
    let lemmas = claimed.lemmas.iter().map(|lemma| format!("lemma {}", lemma.text(&name)));
    for line in headers(twin).into_iter().chain(never).chain(lemmas) {
        text.push_str(&line);
        text.push('\n');
    }
    let seal = digest(&[text.as_bytes()]);
    let _ = writeln!(text, "digest {seal}");
    text
}

/// What a certificate claims of two sides.
///
/// # Errors
/// What is wrong with it, and in which line.
pub fn read(twin: &Twin<'_>, text: &str) -> Result<Claimed, Unusable> {
    let wrong = |line: usize, what: &str| Unusable { line: line + 1, what: what.to_string() };
    let cells: HashMap<String, CellId> = twin.names.iter().cloned().enumerate().map(|(i, name)| (name, i)).collect();
    let known: HashMap<String, Difference> = twin.all().into_iter().map(|d| (says(twin, d), d)).collect();
    let mut expected = std::iter::once(FIRST_LINE.to_string()).chain(headers(twin));
    let (mut claimed, mut before, mut sealed) = (Claimed::default(), 0, false);
    for (at, line) in text.lines().enumerate() {
        if sealed {
            return Err(wrong(at, "nothing may follow the digest"));
        }
        let (key, value) = line.split_once(' ').unwrap_or((line, ""));
        match (expected.next(), key) {
            (Some(header), _) if header == line => {}
            (Some(_), _) => return Err(wrong(at, "it was made for other rules, or by another version")),
            (None, "never") => {
                let difference = known.get(value).ok_or_else(|| wrong(at, "there is no such difference"))?;
                claimed.never.push(*difference);
            }
            (None, "lemma") => {
                claimed.lemmas.push(Lemma::parse(value, &cells).map_err(|what| wrong(at, &what))?);
            }
            (None, "digest") => {
                let above = text.get(..before).unwrap_or_default();
                if value != digest(&[above.as_bytes()]) {
                    return Err(wrong(at, "the digest is not that of the lines above: it was edited"));
                }
                sealed = true;
            }
            (None, _) => return Err(wrong(at, "no certificate of a comparison has such a line")),
        }
        before += line.len() + 1;
    }
    if sealed { Ok(claimed) } else { Err(wrong(text.lines().count(), "it does not say its digest")) }
}
