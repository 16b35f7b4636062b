//! `haltproof demo`: the main job on a station that is compiled in.

use clap::Args;

use super::Outcome;
use super::output::{Output, coloured};
use host_tools::demo::show;

/// Checks a station that is compiled in, simulates an incident at it and replays the recording.
#[derive(Debug, Args, Default)]
#[command(after_help = "Example: haltproof demo\nExit status: 0 shown, 2 it could not be done.")]
pub(super) struct Demo {}

impl Demo {
    #[expect(clippy::unused_self, reason = "every command runs by itself")]
    pub(super) fn run(&self) -> Outcome {
        show(Output::open(None)?, coloured())?.finish()?;
        Ok(0)
    }
}
