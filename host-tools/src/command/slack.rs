//! `haltproof slack`.

use std::io::Write;
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use clap::Args;
use serde::Serialize;

use super::output::Output;
use super::progress::bar;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::json::document;
use host_tools::slack::limits::{Limit, limits};
use host_tools::slack::{Base, End, Slack, Way};

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

#[derive(Serialize)]
struct OneWay {
    /// The farthest value at which all was proved and checked, as it would be written.
    to: String,
    /// The nearest value tried at which it was not.
    beyond: Option<String>,
    /// `refuted`, `unproved`, `refused` or `never`.
    end: &'static str,
    /// The requirement, or the finding.
    by: Option<String>,
}

#[derive(Serialize)]
struct Row<'a> {
    file: &'a str,
    line: usize,
    watch: &'a str,
    sentence: &'a str,
    limit: String,
    down: OneWay,
    up: OneWay,
    /// Requirements whose rules include the watch.
    asked_by: Vec<String>,
    /// No requirement was lost either way.
    held_by_none: bool,
}

#[derive(Serialize)]
struct Content<'a> {
    station: &'a str,
    revision: u32,
    not_proved: &'a [String],
    limits: Vec<Row<'a>>,
    status: u8,
}

impl SlackOf {
    pub(super) fn run(&self) -> Outcome {
        let sources = files::read_all(&self.rules)?;
        let station = stages::sound_station(sources.clone())?;
        let all: Vec<Limit> = limits(&sources)
            .into_iter()
            .filter(|limit| self.watch.is_empty() || self.watch.contains(&limit.watch))
            .collect();
        if let Some(unknown) = self.watch.iter().find(|name| station.watches.iter().all(|w| w.name.text != **name)) {
            return Err(Failure::Said(format!("no watch is called {unknown}")));
        }
        let (base, not_proved) = Base::new(&sources, &station).map_err(stages::no_plan)?;
        let found = search(&base, &all)?;
        let mut to = Output::open(None)?;
        let status = u8::from(!not_proved.is_empty());
        let rows: Vec<Row<'_>> = all.iter().zip(found).map(|(limit, slack)| row(&sources, limit, slack)).collect();
        match self.format {
            Shape::Json => {
                let (station, revision) = (station.title.as_str(), station.revision);
                document(
                    &mut to,
                    "slack",
                    &Content { station, revision, not_proved: &not_proved, limits: rows, status },
                )?;
            }
            Shape::Text => {
                let mut watch = "";
                for row in &rows {
                    if row.watch != watch {
                        writeln!(to, "{}", row.watch)?;
                        watch = row.watch;
                    }
                    say(&mut to, row)?;
                }
                for name in &not_proved {
                    writeln!(to, "not proved as the rules stand, and left out: {name}")?;
                }
                writeln!(
                    to,
                    "\n{}: {} limits.\n\
                     Slack is the distance to a lost requirement, and permits nothing. It sees only what requirements ask.\n\
                     Between two values that were tried nothing was tried. Local codes and the competent authority decide.",
                    station.about(),
                    rows.len()
                )?;
            }
        }
        to.finish()?;
        Ok(status)
    }
}

/// All limits, over all cores.
fn search(base: &Base<'_>, all: &[Limit]) -> Result<Vec<Slack>, Failure> {
    let (next, found) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    let bar = bar(0);
    bar.enable_steady_tick(TICK);
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(1, std::num::NonZero::get) {
            scope.spawn(|| {
                while let Some((place, limit)) =
                    Some(next.fetch_add(1, Ordering::Relaxed)).and_then(|place| all.get(place).map(|l| (place, l)))
                {
                    bar.set_message(limit.watch.clone());
                    let slack = base.slack(limit);
                    found.lock().unwrap_or_else(PoisonError::into_inner).push((place, slack));
                }
            });
        }
    });
    bar.finish_and_clear();
    let mut found = found.into_inner().unwrap_or_else(PoisonError::into_inner);
    found.sort_by_key(|(place, _)| *place);
    let slacks = found.into_iter().map(|(_, slack)| slack);
    slacks.collect::<Result<_, _>>().map_err(stages::no_plan)
}

fn row<'a>(sources: &'a [host_tools::text::parse::Source], limit: &'a Limit, slack: Slack) -> Row<'a> {
    let held_by_none = slack.ways.iter().all(|way| matches!(way.end, End::Never | End::Refused(_)));
    let [down, up] = slack.ways.map(|way| one(limit, way));
    Row {
        file: sources.get(usize::from(limit.place.file)).map_or("", |source| source.path.as_str()),
        line: limit.line,
        watch: &limit.watch,
        sentence: &limit.sentence,
        limit: limit.text(limit.value),
        down,
        up,
        asked_by: slack.asked,
        held_by_none,
    }
}

fn one(limit: &Limit, way: Way) -> OneWay {
    let (end, by) = match way.end {
        End::Refuted(name) => ("refuted", Some(name)),
        End::Unproved(name) => ("unproved", Some(name)),
        End::Refused(code) => ("refused", Some(code.to_string())),
        End::Never => ("never", None),
    };
    OneWay { to: limit.text(way.to), beyond: way.beyond.map(|value| limit.text(value)), end, by }
}

fn say(to: &mut Output, row: &Row<'_>) -> Result<(), Failure> {
    writeln!(to, "  {}  [{}:{}]", row.sentence, row.file, row.line)?;
    for (name, way) in [("down", &row.down), ("up", &row.up)] {
        let by = way.by.as_deref().unwrap_or_default();
        let beyond = way.beyond.as_deref().unwrap_or_default();
        let end = match way.end {
            "refuted" => format!("at {beyond} a history misses {by}"),
            "unproved" => format!("at {beyond} {by} is not proved"),
            "refused" => format!("at {beyond} check refuses the file: {by}"),
            _ => "no farther was tried".to_string(),
        };
        writeln!(to, "    {:>10}  {name:<4} to {:>10}; {end}", row.limit, way.to)?;
    }
    if row.held_by_none {
        writeln!(
            to,
            "                no value that check accepts loses a requirement: either the rule is idle, or a requirement is missing"
        )?;
    }
    Ok(())
}
