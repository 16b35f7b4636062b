//! Tells on a host what a board's second serial line says: `decode-log BINARY FILE`, the binary that the board runs and the bytes that
//! came. An event is a line; so is a frame that is not understood, with its place and why. Exit status: 0 all of it was told, 1 some
//! frames were not understood, 2 it could not be done.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "it is a command")]
#![cfg_attr(test, allow(clippy::unwrap_used, reason = "a test that panics has failed, as it should"))]

mod frames;
mod message;
mod strings;

use std::io::{self, BufWriter, Write};
use std::path::Path;
use std::process::ExitCode;
use strings::Strings;

const HELP: &str = "decode-log BINARY FILE: tells what a board logged. BINARY is what it runs, FILE the bytes of its second serial line.\n\
    Example: decode-log bench-mps2-an386 log.bytes";

fn main() -> ExitCode {
    let arguments: Vec<_> = std::env::args_os().skip(1).collect();
    let done = match arguments.as_slice() {
        [help] if help == "--help" || help == "-h" => {
            println!("{HELP}");
            return ExitCode::SUCCESS;
        }
        [binary, file] => told(binary.as_ref(), file.as_ref()),
        _ => Err("two files are wanted, the board's binary and the bytes that came".to_owned()),
    };
    match done {
        Ok(0) => ExitCode::SUCCESS,
        Ok(count) => {
            eprintln!("decode-log: {count} frames are not understood: the lines that begin with `?`");
            ExitCode::from(1)
        }
        Err(why) => {
            eprintln!("decode-log: {why}\n{HELP}");
            ExitCode::from(2)
        }
    }
}

/// Tells everything; gives the number of frames that are not understood.
fn told(binary: &Path, file: &Path) -> Result<usize, String> {
    let read = |path: &Path| std::fs::read(path).map_err(|error| format!("{}: {error}", path.display()));
    let (elf, bytes) = (read(binary)?, read(file)?);
    let strings = Strings::of_binary(&elf).map_err(|why| format!("{}: {why}", binary.display()))?;
    let mut out = BufWriter::new(io::stdout().lock());
    let mut strange = 0;
    for frame in frames::frames(&bytes) {
        let said = if frame.ended {
            let held = frames::held(frame.written).ok_or_else(|| "it is damaged".to_owned());
            held.and_then(|held| message::message(&strings, &held))
        } else {
            Err("its end is missing".to_owned())
        };
        let line = said.unwrap_or_else(|why| {
            strange += 1;
            format!("? byte {}, {} bytes: {why}", frame.at, frame.written.len())
        });
        writeln!(out, "{line}").map_err(|error| format!("it cannot be told: {error}"))?;
    }
    out.flush().map_err(|error| format!("it cannot be told: {error}"))?;
    Ok(strange)
}
