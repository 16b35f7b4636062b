//! `haltproof lane windows`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use crate::command::output::{Output, complain};
use crate::command::{Failure, Outcome, Shape, files, stages};
use host_tools::json::document;
use host_tools::lane::windows::rewrite::{diff, rewritten};
use host_tools::lane::windows::table::table;
use host_tools::lane::windows::windows;
use host_tools::load::load;
use host_tools::text::finding::Level;
use host_tools::text::parse::Source;
use host_tools::text::show::render;

/// Works out the window of each travel and the least of each spacing from the lane and its tolerances.
///
/// A limit that lies inside its derived window may stop the lift for a carrier that keeps to the lane. `haltproof manual lane`
/// says what is reckoned with. With `--diff` or `--write` the derived limits are put into the text of the rule files.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof lane windows drive.rules requirements.rules --watch slow-down --diff\n\
    Exit status: 0 every limit fits (with --diff: nothing would change; with --write: done), \
    1 one lies inside its derived window (with --diff: something would change), 2 it could not be done.")]
pub(super) struct WindowsOf {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// Only this travel or spacing; may be given several times.
    #[arg(long)]
    watch: Vec<String>,
    /// Write nothing; show what the derived limits would change in the files.
    #[arg(long, conflicts_with = "format")]
    diff: bool,
    /// Show the same, and then rewrite the files.
    #[arg(long, conflicts_with_all = ["diff", "format"])]
    write: bool,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

impl WindowsOf {
    pub(in crate::command) fn run(&self) -> Outcome {
        let sources = files::read_all(&self.rules)?;
        let station = stages::sound_station(sources.clone())?;
        if station.lane.is_none() {
            return Err(Failure::Said("no lane is described; `haltproof manual language` says how to".to_owned()));
        }
        let mut derived = windows(&station);
        let named = |at: usize| station.watches.get(at).map_or("", |watch| watch.name.text.as_str());
        if let Some(unknown) = self.watch.iter().find(|name| derived.iter().all(|it| named(it.watch) != **name)) {
            return Err(Failure::Said(format!("no travel or spacing is called {unknown}")));
        }
        derived.retain(|it| self.watch.is_empty() || self.watch.iter().any(|name| named(it.watch) == name));
        if self.diff || self.write {
            return self.put(&sources, &rewritten(&sources, &station, &derived));
        }
        let told = table(&station, &derived);
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => document(&mut to, "windows", &told)?,
            Shape::Text => {
                write!(to, "{}", told.text())?;
                writeln!(
                    to,
                    "\n{}: {} windows.\n\
                     A derived window is what healthy carriers need, and no more than the lane says of them. Whether it still\n\
                     finds the carrier that is not healthy, requirements and tests on the plant must show.",
                    station.about(),
                    told.windows.len()
                )?;
            }
        }
        to.finish()?;
        Ok(told.status)
    }

    /// Shows what changes; writes it if that was asked for, and if the files then still make a station.
    fn put(&self, old: &[Source], new: &[Source]) -> Outcome {
        let changes = diff(old, new);
        let mut to = Output::open(None)?;
        to.write_all(changes.as_bytes())?;
        to.finish()?;
        if self.diff || changes.is_empty() {
            return Ok(u8::from(!changes.is_empty()));
        }
        let (before, after) = (load(old.to_vec()), load(new.to_vec()));
        let serious = |findings: &[host_tools::text::finding::Finding]| {
            findings.iter().filter(|finding| finding.level != Level::Note).count()
        };
        if after.station.is_none() || serious(&after.findings) > serious(&before.findings) {
            complain(render(&after.findings, &files::shown(&after.files), false).trim_end());
            return Err(Failure::Said("nothing is written: with these limits `haltproof check` finds more".to_owned()));
        }
        let changed: Vec<&Source> =
            old.iter().zip(new).filter(|(old, new)| old.bytes != new.bytes).map(|(_, new)| new).collect();
        if changed.iter().any(|source| source.path == "-") {
            return Err(Failure::Said("nothing is written: the standard input cannot be rewritten".to_owned()));
        }
        for source in changed {
            let mut whole = Output::open(Some(Path::new(&source.path)))?;
            whole.write_all(&source.bytes)?;
            whole.finish()?;
        }
        Ok(0)
    }
}
