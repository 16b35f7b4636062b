//! A certificate: the invariant as text, with what it was made for.
//!
//! ```text
//! haltproof certificate 1
//! station Quillmoor, drive terminal
//! revision 4
//! requirement R2  (or `standing NAME`: what is proved of every station)
//! rules 1f0c...   (SHA-256 of the rule files, one after the other)
//! plan 77ab...    (SHA-256 of the tables that the controller runs, and of those that judge it)
//! tool 0.1.0
//! depth 1
//! signal grip-gate.DI-20
//! assume carriers-apart
//! lemma when not emergency.stood then grip-gate.DI-20.level
//! digest 90c2...  (SHA-256 of all lines above)
//! ```

use super::cells::{channel, names};
use super::claim::{Claimed, Subject};
use super::lemma::{CellId, Lemma};
use super::model::Model;
use super::standing::STANDING;
use crate::digest::{hex, sha256};
use logic_rules::plan::Plan;
use std::collections::{HashMap, HashSet};
use std::fmt::Write as _;

/// First line of every certificate.
pub const FIRST_LINE: &str = "haltproof certificate 1";

/// What every certificate says, once each; its subject is a requirement or what is proved of every station.
const HEADERS: [&str; 8] = ["station", "revision", "subject", "rules", "plan", "tool", "depth", "digest"];

/// SHA-256 as hexadecimal digits.
pub fn digest(parts: &[&[u8]]) -> String {
    hex(&sha256(parts))
}

/// Digest of two plans, by all rows of all tables.
fn plans(model: &Model<'_>) -> String {
    let say = |plan: &Plan<'_>| format!("{:?}", plan.tables());
    digest(&[say(model.plan).as_bytes(), say(model.raw).as_bytes()])
}

/// Why a certificate cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unusable {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong with it.
    pub what: String,
}

/// The text of a certificate.
pub fn write(model: &Model<'_>, rules: &str, claimed: &Claimed) -> String {
    let names = names(model);
    let name = |id: CellId| names.get(id).cloned().unwrap_or_else(|| format!("cell-{id}"));
    let station = model.station;
    let mut text = String::new();
    let kind = match claimed.subject {
        Subject::Requirement(_) => "requirement",
        Subject::Standing(_) => "standing",
    };
    let lines = [
        FIRST_LINE.to_string(),
        format!("station {}", station.title),
        format!("revision {}", station.revision),
        format!("{kind} {}", claimed.subject.name(station)),
        format!("rules {rules}"),
        format!("plan {}", plans(model)),
        format!("tool {}", env!("CARGO_PKG_VERSION")),
        format!("depth {}", claimed.depth),
    ];
    let signals = claimed.signals.iter().filter_map(|&i| model.signals.get(i));
    let signals = signals.map(|signal| format!("signal {}", channel(station, signal.channel)));
    let assumptions = claimed.assumptions.iter().filter_map(|&i| station.assumptions.get(i));
    let assumptions = assumptions.map(|assumption| format!("assume {}", assumption.name.text));
    let lemmas = claimed.lemmas.iter().map(|lemma| format!("lemma {}", lemma.text(&name)));
    for line in lines.into_iter().chain(signals).chain(assumptions).chain(lemmas) {
        text.push_str(&line);
        text.push('\n');
    }
    let seal = digest(&[text.as_bytes()]);
    let _ = writeln!(text, "digest {seal}");
    text
}

/// Reads a certificate for a station; it claims, and proves nothing until it has been checked.
///
/// # Errors
/// The first line that is not as it must be: another station, other rules, another digest, no lemma.
pub fn read(model: &Model<'_>, rules: &str, text: &str) -> Result<Claimed, Unusable> {
    claims(model, Some(rules), text)
}

/// Reads a certificate that may have been made for other rules or another revision of the same station.
///
/// # Errors
/// As [`read`], but for other rules, another plan and another revision.
pub fn recall(model: &Model<'_>, text: &str) -> Result<Claimed, Unusable> {
    claims(model, None, text)
}

fn claims(model: &Model<'_>, rules: Option<&str>, text: &str) -> Result<Claimed, Unusable> {
    let wrong = |line: usize, what: &str| Unusable { line: line + 1, what: what.to_string() };
    let cells: HashMap<String, CellId> = names(model).into_iter().enumerate().map(|(i, name)| (name, i)).collect();
    let station = model.station;
    let nobody = Subject::Requirement(usize::MAX);
    let mut claimed = Claimed { subject: nobody, depth: 0, signals: vec![], assumptions: vec![], lemmas: vec![] };
    let (mut sealed, mut before) = (false, 0);
    let mut said = HashSet::new();
    for (at, line) in text.lines().enumerate() {
        if sealed {
            return Err(wrong(at, "nothing may follow the digest"));
        }
        let (key, value) = line.split_once(' ').unwrap_or((line, ""));
        let once = match key {
            "signal" | "assume" | "lemma" => None,
            "requirement" | "standing" => Some("subject"),
            other => Some(other),
        };
        if once.is_some_and(|once| !said.insert(once)) {
            return Err(wrong(at, "it says this a second time"));
        }
        match key {
            "haltproof" if at == 0 && line == FIRST_LINE => {}
            _ if at == 0 => return Err(wrong(at, "this is no certificate that this program can read")),
            "station" if value == station.title => {}
            "revision" if rules.is_none() || value == station.revision.to_string() => {}
            "station" | "revision" => return Err(wrong(at, "it was made for another station or revision")),
            "tool" => {}
            "rules" if rules.is_none_or(|rules| value == rules) => {}
            "rules" => return Err(wrong(at, "it was made for other rule files")),
            "plan" if rules.is_none() || value == plans(model) => {}
            "plan" => return Err(wrong(at, "it was made for another plan")),
            "requirement" => {
                let found = station.requirements.iter().position(|r| r.name.text == value);
                let found = found.ok_or_else(|| wrong(at, "the station has no such requirement"))?;
                claimed.subject = Subject::Requirement(found);
            }
            "standing" => {
                let found = STANDING.iter().position(|standing| standing.name == value);
                let found = found.ok_or_else(|| wrong(at, "nothing of that name is proved of every station"))?;
                claimed.subject = Subject::Standing(found);
            }
            "depth" => claimed.depth = value.parse().map_err(|_| wrong(at, "the depth is a number"))?,
            "signal" => {
                let found = model.signals.iter().position(|s| channel(station, s.channel) == value);
                claimed.signals.push(found.ok_or_else(|| wrong(at, "nothing is declared of such a signal"))?);
            }
            "assume" => {
                let found = station.assumptions.iter().position(|a| a.name.text == value);
                claimed.assumptions.push(found.ok_or_else(|| wrong(at, "the station has no such assumption"))?);
            }
            "lemma" => {
                let lemma = Lemma::parse(value, &cells).map_err(|what| wrong(at, &what))?;
                claimed.lemmas.push(lemma);
            }
            "digest" => {
                let above = text.get(..before).unwrap_or_default();
                if value != digest(&[above.as_bytes()]) {
                    return Err(wrong(at, "the digest is not that of the lines above: it was edited"));
                }
                sealed = true;
            }
            _ => return Err(wrong(at, "no certificate has such a line")),
        }
        before += line.len() + 1;
    }
    match HEADERS.iter().find(|header| !said.contains(*header)) {
        None => Ok(claimed),
        Some(missing) => Err(wrong(text.lines().count(), &format!("it does not say its {missing}"))),
    }
}
