//! `haltproof manual`.

use std::io::Write;

use clap::{Args, ValueEnum};

use super::Outcome;
use super::output::Output;

/// Prints a chapter of the manual.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof manual recordings\nExit status: 0.")]
pub(super) struct Manual {
    /// The chapter.
    #[arg(value_enum, default_value_t = Chapter::Language)]
    chapter: Chapter,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Chapter {
    /// Every statement of a rule file.
    Language,
    /// What the statements do, scan by scan.
    Meaning,
    /// The format of recordings.
    Recordings,
    /// Many recordings, part by part.
    Season,
    /// What can happen in a simulated run.
    Scenarios,
    /// What a proof says, and its certificates.
    Proof,
    /// Published lists, and what answers them.
    Coverage,
    /// How far the rope runs until it stands, how near carriers come, and published limits.
    Stopping,
    /// Files of safety functions, and what is worked out of them.
    Integrity,
    /// What a comparison of two revisions says, and its certificates.
    Compare,
    /// What mutants of the rules say of the requirements.
    Mutants,
    /// What a campaign drives, and what it expects.
    Campaign,
    /// On what the numbers of carriers rest, and what is said of each.
    Carriers,
    /// What windows the lane asks for, and what takes which part of them.
    Lane,
    /// The image of a plan, byte by byte.
    Image,
    /// Faults of the controller, by their codes.
    Faults,
    /// The schema of `--format json`.
    Json,
}

impl Manual {
    pub(super) fn run(&self) -> Outcome {
        let text = match self.chapter {
            Chapter::Language => include_str!("../../manual/language.md"),
            Chapter::Meaning => include_str!("../../manual/meaning.md"),
            Chapter::Recordings => include_str!("../../manual/recordings.md"),
            Chapter::Season => include_str!("../../manual/season.md"),
            Chapter::Scenarios => include_str!("../../manual/scenarios.md"),
            Chapter::Proof => include_str!("../../manual/proof.md"),
            Chapter::Coverage => include_str!("../../manual/coverage.md"),
            Chapter::Stopping => include_str!("../../manual/stopping.md"),
            Chapter::Integrity => include_str!("../../manual/integrity.md"),
            Chapter::Compare => include_str!("../../manual/compare.md"),
            Chapter::Mutants => include_str!("../../manual/mutants.md"),
            Chapter::Campaign => include_str!("../../manual/campaign.md"),
            Chapter::Carriers => include_str!("../../manual/carriers.md"),
            Chapter::Lane => include_str!("../../manual/lane.md"),
            Chapter::Image => include_str!("../../manual/image.md"),
            Chapter::Faults => include_str!("../../manual/faults.md"),
            Chapter::Json => include_str!("../../manual/json.md"),
        };
        let mut to = Output::open(None)?;
        to.write_all(text.as_bytes())?;
        to.finish()?;
        Ok(0)
    }
}
