//! `haltproof demo`: the main job on a station that is compiled in.

use std::io::{BufReader, Write};

use clap::Args;

use super::files::{Source, shown};
use super::output::{Output, coloured};
use super::simulate::read_scenario;
use super::{Failure, Outcome, seam};
use host_tools::recording::read::Reader;
use host_tools::recording::write::{Style, Writer};
use host_tools::replay::text::{Lines, Paint};
use host_tools::replay::{Broke, replay};
use host_tools::simulate::{Rules, Simulator, record};
use host_tools::text::show::render;

/// The rule files of the demo station, by name. SEAM: the drive terminal, with `include_str!`.
const RULES: &[(&str, &str)] = &[];
/// The incident. SEAM: a scenario of the drive terminal, with `include_str!`.
const SCENARIO: (&str, &str) = ("", "");

/// Checks a station that is compiled in, simulates an incident at it and replays the recording.
#[derive(Debug, Args, Default)]
#[command(after_help = "Example: haltproof demo\nExit status: 0 shown, 2 it could not be done.")]
pub(super) struct Demo {}

impl Demo {
    #[expect(clippy::unused_self, reason = "every command runs by itself")]
    pub(super) fn run(&self) -> Outcome {
        let sources: Vec<Source> = RULES.iter().map(source).collect();
        let files = shown(&sources);
        let (findings, station) = seam::station(&files);
        let mut to = Output::open(None)?;
        write!(to, "{}", render(&findings, &files, coloured()))?;
        let Some(station) = station else {
            to.finish()?;
            return Err(Failure::Said("the demo station is not whole".to_owned()));
        };
        writeln!(
            to,
            "{}, revision {}: {} inputs, {} watches and {} requirements are checked.\n",
            station.title,
            station.revision,
            station.inputs.len(),
            station.watches.len(),
            station.requirements.len()
        )?;

        let scenario = read_scenario(&source(&SCENARIO), &station)?;
        writeln!(to, "Simulated incident: {}\n", SCENARIO.0)?;
        let style = Style {
            powers_up: scenario.powers_up,
            ..Style::default()
        };
        let mut recording = Vec::new();
        let mut writer = Writer::new(&mut recording, &station, style)?;
        let mut simulator = Simulator::new(&station, &scenario, 1);
        seam::with_runner(&station, |runner| {
            let mut rules = Rules::new(runner, &station, &scenario);
            record(&mut simulator, &mut writer, |scan| rules.answer(scan))
        })??;
        writer.finish()?;

        let mut reader = Reader::open(BufReader::new(recording.as_slice()), &station)
            .map_err(|fault| Failure::Said(fault.to_string()))?;
        let mut lines = Lines::new(to, Paint(coloured()));
        let summary = seam::with_runner(&station, |runner| {
            replay(&station, &mut reader, runner, &mut lines, &mut |_| {})
        })?;
        let summary = summary.map_err(|broke| match broke {
            Broke::Read(fault) => Failure::Said(fault.to_string()),
            Broke::Write(error) => error.into(),
        })?;
        lines.summary(&summary)?;
        let mut to = lines.into_inner();
        writeln!(
            to,
            "\nNext: `haltproof --help`, `haltproof manual language`."
        )?;
        to.finish()?;
        Ok(0)
    }
}

fn source((path, text): &(&str, &str)) -> Source {
    Source {
        path: (*path).to_owned(),
        text: (*text).to_owned(),
    }
}
