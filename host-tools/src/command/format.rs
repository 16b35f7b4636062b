//! `haltproof format`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use super::files::{Source, read_all, shown};
use super::output::{Output, coloured, complain};
use super::{Failure, Outcome, seam};
use host_tools::text::show::render;

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
        let sources = read_all(&self.rules)?;
        let mut changed = false;
        let mut to = Output::open(None)?;
        for source in &sources {
            let text = canonical(source)?;
            let differs = text != source.text;
            changed |= differs;
            if self.diff {
                diff(&mut to, source, &text)?;
            } else if self.check {
                if differs {
                    writeln!(to, "{} is not in canonical form", source.path)?;
                }
            } else if self.write && source.path != "-" {
                if differs {
                    let mut file = Output::open(Some(source.path.as_ref()))?;
                    file.write_all(text.as_bytes())?;
                    file.finish()?;
                }
            } else {
                to.write_all(text.as_bytes())?;
            }
        }
        to.finish()?;
        Ok(u8::from(changed && (self.check || self.diff)))
    }
}

fn canonical(source: &Source) -> Result<String, Failure> {
    let files = shown(std::slice::from_ref(source));
    let canonical = files.first().map(seam::canonical);
    match canonical {
        Some(Ok(text)) => Ok(text),
        Some(Err(findings)) => {
            complain(render(&findings, &files, false).trim_end());
            Err(Failure::Said(format!(
                "{} is not formatted: it has errors",
                source.path
            )))
        }
        None => Ok(String::new()),
    }
}

/// The lines that differ, between those that both begin and end with.
fn diff(to: &mut Output, source: &Source, text: &str) -> Result<(), Failure> {
    let old: Vec<&str> = source.text.lines().collect();
    let new: Vec<&str> = text.lines().collect();
    if source.text == text {
        return Ok(());
    }
    let same = |(a, b): &(&&str, &&str)| a == b;
    let head = old.iter().zip(&new).take_while(same).count();
    let room = old.len().min(new.len()) - head;
    let tail = old
        .iter()
        .rev()
        .zip(new.iter().rev())
        .take(room)
        .take_while(same)
        .count();
    let (red, green, plain) = if coloured() {
        ("\u{1b}[31m", "\u{1b}[32m", "\u{1b}[0m")
    } else {
        ("", "", "")
    };
    writeln!(to, "{}, from line {}:", source.path, head + 1)?;
    for line in old.iter().take(old.len() - tail).skip(head) {
        writeln!(to, "{red}-{line}{plain}")?;
    }
    for line in new.iter().take(new.len() - tail).skip(head) {
        writeln!(to, "{green}+{line}{plain}")?;
    }
    Ok(())
}
