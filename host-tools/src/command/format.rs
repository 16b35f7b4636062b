//! `haltproof format`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::files::{read_all, shown};
use super::output::{Output, coloured, complain};
use super::{Failure, Outcome};
use host_tools::text::finding::Level;
use host_tools::text::format::format;
use host_tools::text::parse::parse;
use host_tools::text::show::render;
use host_tools::text::tree::File;

/// Writes rule files in their canonical form.
///
/// Comments stay; formatting twice changes nothing. Without an option the text goes to the output.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof format --diff drive.rules\n\
    Exit status: 0 done (with --check or --diff: nothing to change), 1 something to change, \
    2 a file could not be read.")]
pub(super) struct Format {
    /// Rule files; `-` is the standard input.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// Rewrite the files in place.
    #[arg(long, conflicts_with_all = ["check", "diff"])]
    write: bool,
    /// Write nothing; only tell by the exit status whether something would change.
    #[arg(long)]
    check: bool,
    /// Write nothing; show what would change.
    #[arg(long)]
    diff: bool,
}

impl Format {
    pub(super) fn run(&self) -> Outcome {
        let (files, mut findings) = parse(read_all(&self.rules)?);
        findings.retain(|f| f.level == Level::Error);
        if !findings.is_empty() {
            // A statement with a mistake is not in the tree; formatting would lose it.
            complain(render(&findings, &shown(&files), false).trim_end());
            return Err(Failure::Said("nothing is formatted: there are errors".to_owned()));
        }
        let mut changed = false;
        let mut to = Output::open(None)?;
        for file in &files {
            let text = format(file);
            let differs = text != file.source;
            changed |= differs;
            if self.diff {
                diff(&mut to, file, &text)?;
            } else if self.check {
                if differs {
                    writeln!(to, "{} is not in canonical form", file.path)?;
                }
            } else if self.write && file.path != "-" {
                if differs {
                    let mut whole = Output::open(Some(file.path.as_ref()))?;
                    whole.write_all(text.as_bytes())?;
                    whole.finish()?;
                }
            } else {
                to.write_all(text.as_bytes())?;
            }
        }
        to.finish()?;
        Ok(u8::from(changed && (self.check || self.diff)))
    }
}

/// The lines that differ, between those that both begin and end with.
fn diff(to: &mut Output, file: &File, text: &str) -> Result<(), Failure> {
    let old: Vec<&str> = file.source.lines().collect();
    let new: Vec<&str> = text.lines().collect();
    if file.source == text {
        return Ok(());
    }
    let same = |(a, b): &(&&str, &&str)| a == b;
    let head = old.iter().zip(&new).take_while(same).count();
    let room = old.len().min(new.len()) - head;
    let tail = old.iter().rev().zip(new.iter().rev()).take(room).take_while(same).count();
    let (red, green, plain) = if coloured() { ("\u{1b}[31m", "\u{1b}[32m", "\u{1b}[0m") } else { ("", "", "") };
    writeln!(to, "{}, from line {}:", file.path, head + 1)?;
    for line in old.iter().take(old.len() - tail).skip(head) {
        writeln!(to, "{red}-{line}{plain}")?;
    }
    for line in new.iter().take(new.len() - tail).skip(head) {
        writeln!(to, "{green}+{line}{plain}")?;
    }
    Ok(())
}
