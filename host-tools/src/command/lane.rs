//! `haltproof lane`.

use clap::{Args, Subcommand};

use super::Outcome;

mod windows;

/// What the lane of a station says of its limits.
#[derive(Debug, Args)]
#[command(
    subcommand_required = true,
    arg_required_else_help = true,
    after_help = "Example: haltproof lane windows drive.rules\n\
    Exit status: 0 nothing to report, 1 something to report, 2 it could not be done."
)]
pub(super) struct LaneOf {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    Windows(windows::WindowsOf),
}

impl LaneOf {
    pub(super) fn run(&self) -> Outcome {
        match &self.what {
            What::Windows(command) => command.run(),
        }
    }
}
