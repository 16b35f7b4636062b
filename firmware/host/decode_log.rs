//! Tells on a host what a board's second serial line says: `decode-log BINARY FILE`, the binary that the board runs and the bytes that
//! came. An event is a line. Exit status: 0 all of it was told, 1 some frames were damaged, 2 it could not be done.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "it is a command")]

use defmt_decoder::{DecodeError, Table};
use std::process::ExitCode;

fn main() -> ExitCode {
    match told() {
        Ok(0) => ExitCode::SUCCESS,
        Ok(damaged) => {
            eprintln!("decode-log: {damaged} frames are damaged");
            ExitCode::from(1)
        }
        Err(why) => {
            eprintln!("decode-log: {why}\nExample: decode-log bench-mps2-an386 log.bytes");
            ExitCode::from(2)
        }
    }
}

/// Tells everything; gives the number of frames that are damaged.
fn told() -> Result<usize, String> {
    let arguments: Vec<_> = std::env::args_os().skip(1).collect();
    let [binary, file] = arguments.as_slice() else {
        return Err("two files are wanted, the board's binary and the bytes that came".to_owned());
    };
    let read = |path| std::fs::read(path).map_err(|error| format!("{}: {error}", std::path::Path::new(path).display()));
    let (elf, bytes) = (read(binary)?, read(file)?);
    let table = Table::parse(&elf).map_err(|error| error.to_string())?;
    let table = table.ok_or("the binary logs nothing: build it with the feature `defmt`")?;
    let mut decoder = table.new_stream_decoder();
    decoder.received(&bytes);
    let mut damaged = 0;
    loop {
        match decoder.decode() {
            Ok(frame) => println!("{}", frame.display_message()),
            Err(DecodeError::UnexpectedEof) => return Ok(damaged),
            Err(DecodeError::Malformed) => damaged += 1,
        }
    }
}
