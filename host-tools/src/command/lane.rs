//! `haltproof lane`.

use std::io::Write;
use std::path::PathBuf;

use clap::{Args, Subcommand};
use serde::Serialize;

use super::output::Output;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::json::document;
use host_tools::station::Station;

mod apart;
mod limits;
mod stops;
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
    /// How far the rope runs until each stop has brought it to standstill, and where the carrier stands then.
    #[command(after_help = "Example: haltproof lane stops drive.rules requirements.rules\n\
        Exit status: 0 no badly closed grip gets past where it is held, 1 one may, 2 it could not be done.")]
    Stops(Files),
    /// How near two carriers can come, how many are under way, and whether a standing one is found in time.
    #[command(after_help = "Example: haltproof lane apart drive.rules requirements.rules\n\
        Exit status: 0 carriers stay apart, 1 they may touch, 2 it could not be done.")]
    Apart(Files),
    /// Limits from published rules, beside what the station has.
    #[command(after_help = "Example: haltproof lane limits drive.rules requirements.rules\n\
        Exit status: 0 each is kept, 1 one is not or is not known, 2 it could not be done.")]
    Limits(Files),
}

#[derive(Debug, Args)]
struct Files {
    /// Rule files, read as one station; `-` is the standard input.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

impl Files {
    /// The station, which must have a lane.
    fn station(&self) -> Result<Station, Failure> {
        let station = stages::sound_station(files::read_all(&self.rules)?)?;
        if station.lane.is_none() {
            return Err(Failure::Said("no lane is described; add a 'lane' (`haltproof manual language`)".to_owned()));
        }
        Ok(station)
    }
    fn told<T: Serialize>(&self, kind: &str, content: &T, text: &str) -> Result<(), Failure> {
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => document(&mut to, kind, content)?,
            Shape::Text => write!(to, "{text}")?,
        }
        to.finish()?;
        Ok(())
    }
}

impl LaneOf {
    pub(super) fn run(&self) -> Outcome {
        match &self.what {
            What::Windows(command) => command.run(),
            What::Stops(files) => stops::run(files),
            What::Apart(files) => apart::run(files),
            What::Limits(files) => limits::run(files),
        }
    }
}
