//! `haltproof mutants`.

use std::io::Write;
use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::Args;

use super::output::Output;
use super::progress::bar_of;
use super::report::given;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::cores;
use host_tools::json::document;
use host_tools::mutants::make::{Mutant, mutants};
use host_tools::mutants::table::{Row, Table, row, sampled};
use host_tools::mutants::{Original, Tries};

/// Changes the rules in one small place at a time, and says which changes a requirement catches.
///
/// Caught is a mutant on which a requirement that was proved is missed in a history, which was replayed. The share says how
/// much of what the rules do is held by a requirement. It cannot see a rule that was never written, and permits nothing.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof mutants drive.rules requirements.rules --sample 40 --seed 7\n\
    Exit status: 0 no mutant survives, 1 one does, or a requirement is not proved as the rules stand, 2 it could not be done.")]
pub(super) struct MutantsOf {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// Only so many mutants, drawn by the seed.
    #[arg(long)]
    sample: Option<NonZeroUsize>,
    /// Of two samples with the same seed one holds the other.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Only mutants of this statement, by its name; may be given several times.
    #[arg(long)]
    only: Vec<String>,
    /// Only mutants whose change says this, such as "90 s becomes"; may be given several times.
    #[arg(long)]
    change: Vec<String>,
    /// Only mutants that survived in this table (`mutants --format json`), as after requirements were added.
    #[arg(long)]
    again: Option<PathBuf>,
    /// A limit moves by so many hundredths of itself, and by the smallest step at least; 0 is the smallest step.
    #[arg(long, default_value_t = 10, value_parser = clap::value_parser!(u32).range(0..=100))]
    step: u32,
    /// Says of every mutant what became of it, not only of those that survive.
    #[arg(long)]
    all: bool,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

impl MutantsOf {
    pub(super) fn run(&self) -> Outcome {
        let sources = files::read_all(&self.rules)?;
        let station = stages::sound_station(sources.clone())?;
        let mut all = mutants(&sources, &station, self.step);
        if let Some(unknown) = self.only.iter().find(|name| all.iter().all(|mutant| !mutant.is_of(name))) {
            return Err(Failure::Said(format!("no statement that is called {unknown} has mutants")));
        }
        let (made, written) = (all.len(), all.clone());
        all.retain(|mutant| self.only.is_empty() || self.only.iter().any(|name| mutant.is_of(name)));
        all.retain(|mutant| self.change.is_empty() || self.change.iter().any(|words| mutant.what.contains(words)));
        if let Some(table) = &self.again {
            let path = table.display();
            let table = given::<Table>(table, "mutants")?;
            if table.station != station.title || table.step != self.step {
                let of = format!("{}, with steps of {} hundredths", table.station, table.step);
                return Err(Failure::Said(format!(
                    "{path}: this is the table of {of}; give one of the same station and step"
                )));
            }
            if let Some(gone) = table.gone(&written) {
                let what = format!(
                    "{} {}, {}, survived there and is no mutant of these rules",
                    gone.file, gone.statement, gone.what
                );
                return Err(Failure::Said(format!("{path}: {what}; make the table anew")));
            }
            all.retain(|mutant| table.survived(mutant));
        }
        let all = match self.sample {
            Some(size) => sampled(all, size.get(), self.seed),
            None => all,
        };
        let original = Original::new(&sources)?;
        let original = original.ok_or_else(|| Failure::Said("the rule files make no station".into()))?;
        let rows = judged(&original, &all, |mutant| {
            sources.get(usize::from(mutant.file)).map_or_else(String::new, |source| source.path.clone())
        })?;
        let table = Table::new(&original, self.step, made, rows);
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => document(&mut to, "mutants", &table)?,
            Shape::Text => write!(to, "{}", table.text(self.all))?,
        }
        to.finish()?;
        Ok(table.status)
    }
}

/// What becomes of each, over all cores.
fn judged(original: &Original<'_>, all: &[Mutant], path: impl Fn(&Mutant) -> String) -> Result<Vec<Row>, Failure> {
    let bar = bar_of("mutants");
    bar.set_length(u64::try_from(all.len()).unwrap_or(0));
    let (mut rows, mut mutants) = (Vec::new(), all.iter());
    let fate = |(): &mut (), mutant: &Mutant| original.fate(mutant, Tries::default());
    cores::in_order(
        all,
        cores::count(),
        || (),
        fate,
        |fate| -> Result<(), Failure> {
            rows.extend(mutants.next().map(|mutant| Ok::<_, Failure>(row(mutant, path(mutant), fate?))).transpose()?);
            bar.inc(1);
            Ok(())
        },
    )?;
    bar.finish_and_clear();
    Ok(rows)
}
