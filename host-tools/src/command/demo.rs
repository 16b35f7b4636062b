//! `haltproof demo`: the main job on a station that is compiled in.

use std::io::{BufReader, Write};

use clap::Args;

use super::check::about;
use super::files::shown;
use super::output::{Output, coloured};
use super::simulate::read_scenario;
use super::{Failure, Outcome, stages};
use host_tools::load::load;
use host_tools::recording::read::Reader;
use host_tools::recording::write::{Style, Writer};
use host_tools::replay::text::{Lines, Paint};
use host_tools::replay::{Broke, replay};
use host_tools::simulate::{Rules, Simulator, record};
use host_tools::text::parse::Source;
use host_tools::text::show::render;

/// The rule files of the demo station, by name.
const RULES: &[(&str, &str)] = &[
    ("drive-terminal.rules", include_str!("../../demo/drive-terminal.rules")),
    ("drive-terminal.requirements.rules", include_str!("../../demo/drive-terminal.requirements.rules")),
];
/// The incident, by name.
const SCENARIO: (&str, &str) = ("drive-weak-grip.scenario", include_str!("../../demo/drive-weak-grip.scenario"));

/// Checks a station that is compiled in, simulates an incident at it and replays the recording.
#[derive(Debug, Args, Default)]
#[command(after_help = "Example: haltproof demo\nExit status: 0 shown, 2 it could not be done.")]
pub(super) struct Demo {}

impl Demo {
    #[expect(clippy::unused_self, reason = "every command runs by itself")]
    pub(super) fn run(&self) -> Outcome {
        let reading = load(RULES.iter().map(source).collect());
        let findings = render(&reading.findings, &shown(&reading.files), coloured());
        let mut to = Output::open(None)?;
        write!(to, "{findings}")?;
        let Some(station) = reading.station else {
            to.finish()?;
            return Err(Failure::Said("the demo station is not whole".to_owned()));
        };
        writeln!(to, "{}: checked.\n", about(&station))?;

        let (path, text) = SCENARIO;
        let scenario = read_scenario(&(path.to_owned(), text.to_owned()), &station)?;
        writeln!(to, "Simulated incident: {}\n", scenario.title)?;
        let style = Style { powers_up: scenario.powers_up, ..Style::default() };
        let mut recording = Vec::new();
        let mut writer = Writer::new(&mut recording, &station, style)?;
        let mut simulator = Simulator::new(&station, &scenario, 1);
        stages::with_runner(&station, |runner| {
            let mut rules = Rules::new(runner, &station, &scenario);
            record(&mut simulator, &mut writer, |scan| rules.answer(scan))
        })??;
        writer.finish()?;

        let mut reader = Reader::open(BufReader::new(recording.as_slice()), &station)
            .map_err(|fault| Failure::Said(fault.to_string()))?;
        let mut lines = Lines::new(to, Paint(coloured()));
        let summary =
            stages::with_runner(&station, |runner| replay(&station, &mut reader, runner, &mut lines, &mut |_| {}))?;
        let summary = summary.map_err(|broke| match broke {
            Broke::Read(fault) => Failure::Said(fault.to_string()),
            Broke::Write(error) => error.into(),
        })?;
        lines.summary(&summary)?;
        let mut to = lines.into_inner();
        writeln!(to, "\nNext: `haltproof --help`, `haltproof manual language`.")?;
        to.finish()?;
        Ok(0)
    }
}

fn source((path, text): &(&str, &str)) -> Source {
    Source { path: (*path).to_owned(), bytes: text.as_bytes().to_vec() }
}
