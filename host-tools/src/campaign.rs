//! A campaign: what a rule file declares, driven on a target just inside and just outside each limit.
//!
//! There are rows for each way to trip, and for what acts on answers: bypasses, outputs that are released later, the reset, refills by key.
//! What is expected of a row is worked out from the declarations of the station alone: its limits, settling times and holds
//! say in which scan which way must trip. It is never read off a run of the rules, so that a plan that is not
//! what the rule file says fails the rows of what is wrong in it. The host runs every row as well, and what it says is told beside.

use serde::{Deserialize, Serialize};

use crate::bench::Trouble;
use crate::bench::client::Client;
use crate::bench::took::Took;
use crate::station::Station;
use crate::station::ways::{WayOf, ways};
use crate::told::Runner;

mod calm;
mod conduct;
mod event;
pub mod html;
mod rows;
mod script;
pub mod text;

use conduct::Conduct;
use rows::{Plan, Trial};

/// What must be read with every record.
pub const CAUTIONS: [&str; 5] = [
    "A campaign tests logic, not wiring: inputs are set behind the terminals.",
    "Response times are counted in scans. What an emulator counts is not the worst-case time on silicon.",
    "A step that is run twice is not a second channel.",
    "Rows stand at single points beside the limits; between them nothing was tried.",
    "The record supports the practice of licensed professionals; local codes and the competent authority decide.",
];

/// What came of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Result {
    /// As expected.
    Passed,
    /// Not as expected.
    Failed,
    /// The campaign cannot drive it; it counts as not passed.
    NotDriven,
}

/// A line of the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// From 1.
    pub number: usize,
    /// What is driven, in words: a way to trip, or what acts on answers.
    pub way: String,
    /// The answer of a way, or what is waited for.
    pub answer: String,
    /// What is done, or why nothing is.
    pub stimulus: String,
    /// What must come of it, in words.
    pub expected: String,
    /// What came of it; empty if it was not driven.
    pub observed: String,
    /// Scans from the stimulus to the verdict with the answer, both included; nothing if there was none.
    pub response_scans: Option<u32>,
    /// The verdict of the row.
    pub result: Result,
    /// What the host's plain reading says beside it: `same`, or where the target parts from it.
    pub host: String,
}

/// What a campaign comes to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Record {
    /// Title of the station.
    pub station: String,
    /// Revision of the rule file.
    pub revision: u32,
    /// Microseconds of a scan.
    pub scan_us: u32,
    /// Where it was run.
    pub target: String,
    /// Checksum of the image that was loaded, in hexadecimal digits.
    pub crc32: String,
    /// SHA-256 of the rule files.
    pub digest: String,
    /// Rows that there are in all.
    pub in_all: usize,
    /// Words of which a row had to have one to be driven; none, and all were.
    pub only: Vec<String>,
    /// Rows that were driven, or would have been if that could be done.
    pub rows: Vec<Row>,
    /// Scans that the target took.
    pub scans: u64,
    /// How long they took.
    pub took: Took,
    /// Rows that passed.
    pub passed: usize,
    /// Rows that failed.
    pub failed: usize,
    /// Rows that were not driven.
    pub not_driven: usize,
    /// Of a temporary revision, when it ends and why, loud if its end is past; whoever knows the day says so.
    #[serde(default)]
    pub ends: Option<String>,
}

impl Record {
    /// No row was left out.
    pub fn is_whole(&self) -> bool {
        self.rows.len() == self.in_all
    }
    /// Says that rows were left out; nothing if none was.
    pub fn left_out(&self) -> Option<String> {
        let (rows, all) = (self.rows.len(), self.in_all);
        (!self.is_whole()).then(|| {
            format!(
                "PARTIAL: {} of {all} rows were left out, all but those with {}",
                all.abs_diff(rows),
                self.only.join(" or ")
            )
        })
    }
}

/// What a campaign is told to run with.
#[derive(Debug, Clone, Copy)]
pub struct Given<'g> {
    /// The station, which says what is expected.
    pub station: &'g Station,
    /// The image that the target runs.
    pub image: &'g [u8],
    /// Name of the target.
    pub target: &'g str,
    /// Words of which a row must have one in its way or its stimulus; none, and all rows are driven.
    pub only: &'g [String],
}

/// Drives everything; `progress` is told rows done and rows in all.
///
/// # Errors
/// [`Trouble`] with the target; then there is no record.
pub fn campaign(
    given: Given<'_>,
    client: &mut Client,
    runner: &mut dyn Runner,
    progress: &mut dyn FnMut(usize, usize),
) -> std::result::Result<Record, Trouble> {
    let Given { station, image, target, only } = given;
    let all = ways(station);
    let trials = Plan::new(station, &all).trials();
    let mut conduct = Conduct::new(station, image, &all)?;
    let mut rows = Vec::new();
    for (trial, number) in trials.iter().zip(1..) {
        progress(number - 1, trials.len());
        let row = Row {
            number,
            way: trial.subject.clone(),
            answer: trial.event.answer(station, &all),
            stimulus: trial.stimulus.clone(),
            expected: expected(station, trial, &all),
            observed: String::new(),
            response_scans: None,
            result: Result::NotDriven,
            host: String::new(),
        };
        if !only.is_empty() && !only.iter().any(|words| row.way.contains(words) || row.stimulus.contains(words)) {
            continue;
        }
        rows.push(match &trial.script {
            None => row,
            Some(script) => conduct.row(client, runner, trial, script, row)?,
        });
    }
    progress(trials.len(), trials.len());
    let count = |result| rows.iter().filter(|row| row.result == result).count();
    let (passed, failed, not_driven) = (count(Result::Passed), count(Result::Failed), count(Result::NotDriven));
    let marks = conduct.marks();
    Ok(Record {
        station: station.title.clone(),
        revision: station.revision,
        scan_us: station.scan_us,
        target: target.to_owned(),
        crc32: marks.crc32,
        digest: marks.digest,
        scans: conduct.scans(),
        took: conduct.took(),
        in_all: trials.len(),
        only: only.to_vec(),
        rows,
        passed,
        failed,
        not_driven,
        ends: None,
    })
}

fn expected(station: &Station, trial: &Trial, ways: &[WayOf]) -> String {
    match (trial.script.is_some(), trial.at) {
        (false, _) => "not driven".to_owned(),
        (true, None) => trial.event.none().to_owned(),
        (true, Some(at)) => {
            let answer = trial.event.answer(station, ways);
            format!("{answer}, in scan {} of the stimulus", at.saturating_sub(trial.mark) + 1)
        }
    }
}
