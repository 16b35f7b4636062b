//! `haltproof integrity`.

use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::output::{Output, coloured, complain};
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::integrity::assess::{Assessed, Verdict};
use host_tools::integrity::fault::Fault;
use host_tools::integrity::form::Form;
use host_tools::integrity::text::text;
use host_tools::integrity::{NOTICE, assess, read, unknown};
use host_tools::json::document;

/// Works out the integrity of safety functions: what is required beside what their parts come to, by ISO 13849-1 or IEC 61508-6.
///
/// Each number has its source beside it. It informs a qualified assessment and replaces none.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: haltproof integrity drive-terminal.functions --rules drive.rules --rules requirements.rules\n\
    Exit status: 0 every function reaches what is required, 1 one does not or is not computed, 2 it could not be done."
)]
pub(super) struct IntegrityOf {
    /// Files of safety functions; `haltproof manual integrity` describes them.
    #[arg(required = true)]
    functions: Vec<PathBuf>,
    /// A rule file, in which every requirement that is served must stand; may be given several times.
    #[arg(long)]
    rules: Vec<PathBuf>,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

#[derive(Serialize)]
struct File {
    file: String,
    title: String,
    source: String,
    functions: Vec<Assessed>,
}

#[derive(Serialize)]
struct Content<'a> {
    notice: &'a str,
    files: &'a [File],
    status: u8,
}

/// What is wrong with a file is said, each place marked.
fn broken(path: &str, text: &str, faults: &[Fault]) -> Failure {
    for fault in faults {
        complain(&(fault.render(path, text, coloured()) + "\n"));
    }
    Failure::Said(format!("{path}: nothing is worked out"))
}

impl IntegrityOf {
    pub(super) fn run(&self) -> Outcome {
        let station =
            if self.rules.is_empty() { None } else { Some(stages::sound_station(files::read_all(&self.rules)?)?) };
        let mut all: Vec<(Form, File)> = Vec::new();
        for path in &self.functions {
            let (path, text) = files::read_text(path)?;
            let form = read(&text).map_err(|faults| broken(&path, &text, &faults))?;
            let faults = station.as_ref().map(|station| unknown(&form, station)).unwrap_or_default();
            if !faults.is_empty() {
                return Err(broken(&path, &text, &faults));
            }
            let (title, source) = (form.title.clone(), form.source.clone());
            let functions = assess(&form);
            all.push((form, File { file: path, title, source, functions }));
        }
        let (forms, files): (Vec<Form>, Vec<File>) = all.into_iter().unzip();
        let reached = files.iter().flat_map(|file| &file.functions).all(|of| of.verdict == Verdict::Reached);
        let status = u8::from(!reached);
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => document(&mut to, "integrity", &Content { notice: NOTICE, files: &files, status })?,
            Shape::Text => {
                for (form, file) in forms.iter().zip(&files) {
                    write!(to, "{}", text(form, &file.functions))?;
                }
            }
        }
        to.finish()?;
        Ok(status)
    }
}
