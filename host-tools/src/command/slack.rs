//! `haltproof slack`.

use std::io::Write;
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use super::output::Output;
use super::progress::bar_of;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::cores;
use host_tools::json::document;
use host_tools::plural::plural;
use host_tools::prove::certificate::digest;
use host_tools::slack::limits::{Limit, limits};
use host_tools::slack::table::{Table, row};
use host_tools::slack::{Base, Slack};

/// How often a search shows that it goes on.
const TICK: Duration = Duration::from_millis(100);

/// Says of each limit how far it could move before a requirement is no longer proved.
///
/// Slack is the distance to a lost requirement, and permits nothing: what no requirement asks is not seen, and the numbers of
/// a station come from its mechanics, its tests and the authority. Every value that is given was proved and checked.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof slack drive.rules requirements.rules --watch slow-down\n\
    Exit status: 0 every limit was looked at, 1 a requirement is not proved as the rules stand, 2 it could not be done.")]
pub(super) struct SlackOf {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// Only limits of this watch; may be given several times.
    #[arg(long)]
    watch: Vec<String>,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

impl SlackOf {
    pub(super) fn run(&self) -> Outcome {
        let sources = files::read_all(&self.rules)?;
        let station = stages::sound_station(sources.clone())?;
        let whole = limits(&sources);
        let in_all = whole.len();
        let all: Vec<Limit> =
            whole.into_iter().filter(|limit| self.watch.is_empty() || self.watch.contains(&limit.watch)).collect();
        if let Some(unknown) = self.watch.iter().find(|name| station.watches.iter().all(|w| w.name.text != **name)) {
            return Err(Failure::Said(format!("no watch is called {unknown}")));
        }
        let (base, not_proved) = Base::new(&sources, &station)?;
        let found = search(&base, &all)?;
        let parts: Vec<&[u8]> = sources.iter().map(|source| source.bytes.as_slice()).collect();
        let table = Table {
            station: station.title.clone(),
            revision: station.revision,
            digest: digest(&parts),
            status: u8::from(!not_proved.is_empty()),
            not_proved,
            in_all,
            limits: all.iter().zip(found).map(|(limit, slack)| row(&sources, limit, slack)).collect(),
        };
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => document(&mut to, "slack", &table)?,
            Shape::Text => {
                let mut watch = "";
                for row in &table.limits {
                    if row.watch != watch {
                        writeln!(to, "{}", row.watch)?;
                        watch = &row.watch;
                    }
                    write!(to, "{}", row.text())?;
                }
                for name in &table.not_proved {
                    writeln!(to, "not proved as the rules stand, and left out: {name}")?;
                }
                writeln!(
                    to,
                    "\n{}: {}.\n\
                     Slack is the distance to a lost requirement, and permits nothing. It sees only what requirements ask.\n\
                     Between two values that were tried nothing was tried. Local codes and the competent authority decide.",
                    station.about(),
                    plural(table.limits.len(), "limit")
                )?;
            }
        }
        to.finish()?;
        Ok(table.status)
    }
}

/// All limits, over all cores.
fn search(base: &Base<'_>, all: &[Limit]) -> Result<Vec<Slack>, Failure> {
    let bar = bar_of("limits");
    bar.enable_steady_tick(TICK);
    bar.set_length(u64::try_from(all.len()).unwrap_or(0));
    let mut found = Vec::new();
    let slack = |(): &mut (), limit: &Limit| base.slack(limit);
    cores::in_order(
        all,
        cores::count(),
        || (),
        slack,
        |slack| -> Result<(), Failure> {
            found.push(slack?);
            bar.inc(1);
            Ok(())
        },
    )?;
    bar.finish_and_clear();
    Ok(found)
}
