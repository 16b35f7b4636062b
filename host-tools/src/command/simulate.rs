//! `haltproof simulate`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::apart::apart;
use super::output::{Output, complain, first};
use super::progress::bar;
use super::{Failure, Outcome, files, stages};
use host_tools::recording::write::{Rows, Style, Writer};
use host_tools::simulate::{Rules, Scenario, Simulator, record};
use host_tools::station::Station;

/// Makes a recording of what a scenario says happens at the station.
///
/// The rules are obeyed: a stop brakes. The same files and seed give the same bytes.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof simulate drive.rules --scenario weak-grip.scenario \
    --seed 7 --output weak-grip.csv\n\
    Exit status: 0 recorded, 1 recorded, but something in the scenario could not be done, \
    2 not recorded.")]
pub(super) struct Simulate {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// What happens; `haltproof manual scenarios` describes it.
    #[arg(long, short)]
    scenario: PathBuf,
    /// Seed of all noise.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// One row a scan, or one row a change.
    #[arg(long, value_enum, default_value_t = Layout::Scan)]
    rows: Layout,
    /// The station does only what the scenario says, whatever the rules answer.
    #[arg(long)]
    without_rules: bool,
    /// Signals called after the inputs of the rule file instead of their terminals.
    #[arg(long)]
    named: bool,
    /// Where the recording goes; `-` is the standard output.
    #[arg(long, short)]
    output: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Layout {
    Scan,
    Change,
}

impl Simulate {
    pub(super) fn run(&self) -> Outcome {
        apart(self.rules.iter().chain([&self.scenario]), &self.output)?;
        let sources = files::read_all(&self.rules)?;
        let station = stages::sound_station(sources)?;
        let scenario = read_scenario(&files::read_text(&self.scenario)?, &station)?;
        let style = Style {
            rows: match self.rows {
                Layout::Scan => Rows::Scan,
                Layout::Change => Rows::Change,
            },
            powers_up: scenario.powers_up,
            named: self.named,
            ..Style::default()
        };
        let mut to = Output::open(self.output.as_deref())?;
        let mut writer = Writer::new(&mut to, &station, style)?;
        let mut simulator = Simulator::new(&station, &scenario, self.seed);
        let bar = bar(0);
        if self.without_rules {
            record(&mut simulator, &mut writer, |_| {
                bar.tick();
                None
            })?;
        } else {
            stages::with_runner(&station, |runner| {
                let mut rules = Rules::new(runner, &station, &scenario);
                record(&mut simulator, &mut writer, |scan| {
                    bar.tick();
                    rules.answer(scan)
                })
            })??;
        }
        writer.finish()?;
        bar.finish_and_clear();
        to.finish()?;
        for line in simulator.missed() {
            complain(&format!("{}, line {line}: this could not be done when its time came", self.scenario.display()));
        }
        Ok(u8::from(!simulator.missed().is_empty()))
    }
}

/// A scenario (its path and its text), or all that is wrong with it.
pub(super) fn read_scenario((path, text): &(String, String), station: &Station) -> Result<Scenario, Failure> {
    Scenario::read(text, station)
        .map_err(|problems| Failure::Said(first(problems.iter().map(|p| format!("{path}, {p}"))).join("\n")))
}
