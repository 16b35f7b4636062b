//! haltproof, the command.
#![forbid(unsafe_code)]

mod command;

fn main() -> std::process::ExitCode {
    command::run()
}
