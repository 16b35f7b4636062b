//! The demo: a station that is compiled in is checked, an incident at it simulated and replayed.

use std::io::{self, Write};

use crate::load::load;
use crate::plural::plural;
use crate::recording::write::{Style, Writer};
use crate::replay::replay_all;
use crate::replay::text::{Lines, Paint};
use crate::respond::slowest_table;
use crate::runner::with_runner;
use crate::simulate::{Rules, Scenario, Simulator, record};
use crate::text::parse::Source;
use crate::text::show::{Shown, render};

/// The rule files of the demo station, by name.
const RULES: [(&str, &str); 2] = [
    ("drive-terminal.rules", include_str!("../demo/drive-terminal.rules")),
    ("drive-terminal.requirements.rules", include_str!("../demo/drive-terminal.requirements.rules")),
];
/// The incident.
const SCENARIO: &str = include_str!("../demo/drive-weak-grip.scenario");
/// Paths whose response time is shown.
const SHOWN: usize = 5;

/// Shows the demo, with colours or without. What is compiled in is tested: that it should not be whole
/// is an error like any other.
pub fn show<W: Write>(mut to: W, colours: bool) -> io::Result<W> {
    let reading = load(RULES.map(source).into());
    let shown: Vec<Shown<'_>> =
        reading.files.iter().map(|file| Shown { path: &file.path, source: &file.source }).collect();
    write!(to, "{}", render(&reading.findings, &shown, colours))?;
    let station = reading.station.ok_or_else(|| io::Error::other("the demo station is not whole"))?;
    writeln!(to, "{}: checked, {}\n", station.about(), plural(reading.findings.len(), "finding"))?;
    writeln!(to, "The slowest answers by an emergency stop, at the worst:\n")?;
    writeln!(to, "{}", slowest_table(&station, station.worst(), SHOWN))?;

    let scenario = Scenario::read(SCENARIO, &station)
        .map_err(|all| io::Error::other(all.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")))?;
    writeln!(to, "Simulated and replayed: {}\n", scenario.title)?;
    let no_plan = |fault| io::Error::other(format!("the demo station is no plan: {fault:?}"));
    let style = Style { powers_up: scenario.powers_up, ..Style::default() };
    let mut recording = Vec::new();
    let mut writer = Writer::new(&mut recording, &station, style)?;
    let mut simulator = Simulator::new(&station, &scenario, 1);
    with_runner(&station, |runner| {
        let mut rules = Rules::new(runner, &station, &scenario);
        record(&mut simulator, &mut writer, |scan| rules.answer(scan))
    })
    .map_err(no_plan)??;
    writer.finish()?;

    let mut lines = Lines::new(to, Paint(colours));
    let summary = replay_all(&station, &recording, &mut lines)?;
    lines.summary(&summary)?;
    let mut to = lines.into_inner();
    writeln!(to, "\nNext: `haltproof --help`, `haltproof manual language`.")?;
    Ok(to)
}

fn source((path, text): (&str, &str)) -> Source {
    Source { path: path.to_owned(), bytes: text.as_bytes().to_vec() }
}
