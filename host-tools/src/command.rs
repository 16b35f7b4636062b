//! The command line. Each command is a thin file over calls of the library; only these files write
//! to the terminal.
//!
//! Exit status: 0 all is well, 1 there is something to report, 2 it could not be done.

use std::io;
use std::process::ExitCode;

use clap::{Parser, Subcommand, ValueEnum};

use host_tools::bench::Trouble;
use logic_rules::plan::Fault;

mod answered;
mod apart;
mod arises;
mod bench;
mod broken_off;
mod campaign;
mod carriers;
mod check;
mod compare;
mod coverage;
mod demo;
mod explain;
mod files;
mod format;
mod integrity;
mod lane;
mod manual;
mod mutants;
mod output;
mod pack;
mod passings;
mod progress;
mod prove;
mod replay;
mod report;
mod season;
mod simulate;
mod slack;
mod stages;
mod today;

/// Checks and proves the stop rules of a detachable chairlift station, and runs them on recordings and controllers.
#[derive(Debug, Parser)]
#[command(
    name = "haltproof",
    version,
    after_help = "Without a command the demo runs.\n\
    Example: haltproof check drive.rules && haltproof replay drive.rules --recording morning.csv\n\
    Exit status: 0 all is well, 1 there is something to report, 2 it could not be done."
)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    Check(check::Check),
    Format(format::Format),
    Explain(explain::Explain),
    Simulate(simulate::Simulate),
    Prove(prove::Prove),
    Slack(slack::SlackOf),
    Mutants(mutants::MutantsOf),
    Coverage(coverage::CoverageOf),
    Lane(lane::LaneOf),
    Integrity(integrity::IntegrityOf),
    Compare(compare::Compare),
    Pack(pack::Pack),
    Bench(bench::Bench),
    Campaign(campaign::Campaign),
    Replay(replay::Replay),
    Season(season::Season),
    Passings(passings::PassingsOf),
    Carriers(carriers::CarriersOf),
    Report(report::ReportOf),
    Demo(demo::Demo),
    Manual(manual::Manual),
}

/// For whom a result is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Shape {
    /// For people.
    Text,
    /// For machines; `haltproof manual json` describes the schema.
    Json,
}

/// Why a command could not be done.
#[derive(Debug)]
enum Failure {
    /// In words, for people.
    Said(String),
    /// The reader of our output has gone, as `head` does: nothing to say.
    Gone,
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Self {
        if error.kind() == io::ErrorKind::BrokenPipe { Self::Gone } else { Self::Said(error.to_string()) }
    }
}

// No station which was checked can cause one.
impl From<Fault> for Failure {
    fn from(fault: Fault) -> Self {
        Self::Said(format!("the station is no plan: {fault:?}"))
    }
}

impl From<Trouble> for Failure {
    fn from(trouble: Trouble) -> Self {
        Self::Said(trouble.to_string())
    }
}

/// What a command comes to: its exit status, 0 or 1.
type Outcome = Result<u8, Failure>;

/// Runs the command that was asked for.
pub(crate) fn run() -> ExitCode {
    match done(Cli::parse().command) {
        Ok(status) => ExitCode::from(status),
        Err(Failure::Gone) => ExitCode::from(2),
        Err(Failure::Said(what)) => {
            output::complain(&what);
            ExitCode::from(2)
        }
    }
}

fn done(command: Option<Command>) -> Outcome {
    match command {
        None => demo::Demo::default().run(),
        Some(Command::Check(command)) => command.run(),
        Some(Command::Format(command)) => command.run(),
        Some(Command::Explain(command)) => command.run(),
        Some(Command::Simulate(command)) => command.run(),
        Some(Command::Prove(command)) => command.run(),
        Some(Command::Slack(command)) => command.run(),
        Some(Command::Mutants(command)) => command.run(),
        Some(Command::Coverage(command)) => command.run(),
        Some(Command::Lane(command)) => command.run(),
        Some(Command::Integrity(command)) => command.run(),
        Some(Command::Compare(command)) => command.run(),
        Some(Command::Pack(command)) => command.run(),
        Some(Command::Bench(command)) => command.run(),
        Some(Command::Campaign(command)) => command.run(),
        Some(Command::Replay(command)) => command.run(),
        Some(Command::Season(command)) => command.run(),
        Some(Command::Passings(command)) => command.run(),
        Some(Command::Carriers(command)) => command.run(),
        Some(Command::Report(command)) => command.run(),
        Some(Command::Demo(command)) => command.run(),
        Some(Command::Manual(command)) => command.run(),
    }
}

#[cfg(test)]
mod tests {
    use super::Cli;
    use clap::{CommandFactory, Parser};

    #[test]
    fn the_command_line_is_sound() {
        Cli::command().debug_assert();
    }

    #[test]
    fn a_sample_of_nothing_is_refused() {
        let sample = |size: &str| Cli::try_parse_from(["haltproof", "mutants", "a.rules", "--sample", size]);
        assert!(sample("0").is_err() && sample("1").is_ok());
    }

    #[test]
    fn every_help_has_an_example_and_the_exit_status() {
        for command in Cli::command().get_subcommands() {
            let after = command.get_after_help().map(ToString::to_string).unwrap_or_default();
            assert!(after.contains("Example"), "{}", command.get_name());
            assert!(after.contains("Exit status"), "{}", command.get_name());
        }
    }
}
