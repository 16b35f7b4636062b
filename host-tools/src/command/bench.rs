//! `haltproof bench`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde::Serialize;

use super::files::Mapped;
use super::output::Output;
use super::progress::bar;
use super::simulate::read_scenario;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::bench::Trouble;
use host_tools::bench::client::Client;
use host_tools::bench::compare::{Compared, Comparison, recording, scenario};
use host_tools::bench::identify::{Identity, Marks, identify};
use host_tools::bench::target::Target;
use host_tools::bench::took::Took;
use host_tools::json::document;
use host_tools::pack::{Packed, pack};
use host_tools::recording::read::Reader;
use host_tools::recording::source::open;
use host_tools::station::Station;
use logic_rules::image::Image;

/// Speaks with a controller: who it is, and whether it does what the host works out.
#[derive(Debug, Args)]
#[command(
    subcommand_required = true,
    arg_required_else_help = true,
    after_help = "Example: haltproof bench run drive.rules --scenario weak-grip.scenario\n\
    Exit status: 0 the same, 1 it differs, 2 it could not be done. A target that does not answer is 2."
)]
pub(super) struct Bench {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, Subcommand)]
enum What {
    Identify(Identify),
    Run(Run),
}

/// Which controller.
#[derive(Debug, Args)]
pub(super) struct At {
    /// `in-process` (the firmware in this program), `emulator` (a board in QEMU), or `serial:` with the path of a port.
    #[arg(long, default_value = "in-process")]
    target: Target,
    /// Binary of the board, for the emulator.
    #[arg(long)]
    firmware: Option<PathBuf>,
}

impl At {
    pub(super) fn name(&self) -> String {
        self.target.to_string()
    }
    /// The program for the emulator, if one is named.
    pub(super) fn firmware(&self) -> Option<&PathBuf> {
        self.firmware.as_ref()
    }
    pub(super) fn open(&self) -> Result<Client, Failure> {
        self.target.open(self.firmware.as_deref()).map_err(Failure::from)
    }
}

/// Asks a controller who it is, and whether it runs what these rule files pack to.
///
/// It is asked, and changed in nothing: this is for stations as well.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: haltproof bench identify drive.rules requirements.rules --target serial:/dev/ttyUSB0\n\
    Exit status: 0 it runs that image, 1 it runs another one or none, 2 it could not be asked."
)]
struct Identify {
    /// Rule files, in the order in which they were packed.
    #[arg(required_unless_present = "image")]
    rules: Vec<PathBuf>,
    /// An image to compare with, instead of rule files.
    #[arg(long, conflicts_with = "rules")]
    image: Option<PathBuf>,
    #[command(flatten)]
    at: At,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

/// Replays on a bench, and compares every scan with the host.
///
/// The bench is given the image that the rule files pack to. Answer, outputs, permit, reset and trips of every scan must be
/// those of the plain reading on the host, and what was first wherever a stop begins. The first difference ends the run.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof bench run drive.rules --recording morning.csv --target emulator \
    --firmware bench-mps2-an386\n\
    Exit status: 0 every scan is the same, 1 one differs, 2 it could not be done. \
    A target that does not answer in time is 2.")]
struct Run {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// A recording; can be given several times.
    #[arg(long, short, required_unless_present = "scenario")]
    recording: Vec<PathBuf>,
    #[command(flatten)]
    mapped: Mapped,
    /// A scenario; can be given several times. The host's rules close the loop.
    #[arg(long, short)]
    scenario: Vec<PathBuf>,
    #[command(flatten)]
    at: At,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

impl Bench {
    pub(super) fn run(&self) -> Outcome {
        match &self.what {
            What::Identify(identify) => identify.run(),
            What::Run(run) => run.run(),
        }
    }
}

#[derive(Serialize)]
struct Identified {
    target: String,
    identity: Identity,
    expected: Marks,
    /// Fields that are not as expected; `runs` if nothing runs.
    differs: Vec<&'static str>,
    status: u8,
}

impl Identify {
    fn run(&self) -> Outcome {
        let bytes = match &self.image {
            Some(path) => files::read(path)?.bytes,
            None => packed(&self.rules)?.1.image,
        };
        let image = Image::open(&bytes)
            .map_err(|fault| Failure::Said(format!("the image does not open: {fault:?}; pack it again")))?;
        let expected = Marks::of(&image);
        let identity = identify(&mut self.at.open()?).map_err(Failure::from)?;
        let differs = identity.runs.as_ref().map_or_else(|| vec!["runs"], |runs| runs.differ(&expected));
        let status = u8::from(!differs.is_empty());
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => {
                let target = self.at.name();
                document(&mut to, "identity", &Identified { target, identity, expected, differs, status })?;
            }
            Shape::Text => {
                let Identity { build, version, format, runs } = &identity;
                writeln!(to, "a {build} build, firmware {version}, reads images of format {format}")?;
                match runs {
                    None => writeln!(to, "it runs no image")?,
                    Some(runs) => {
                        writeln!(to, "{:<10}{:<66}expected", "", "it runs")?;
                        let rows = [
                            ("digest", runs.digest.clone(), expected.digest.clone()),
                            ("CRC-32", runs.crc32.clone(), expected.crc32.clone()),
                            ("bytes", runs.length.to_string(), expected.length.to_string()),
                            ("revision", runs.revision.to_string(), expected.revision.to_string()),
                            ("scan, us", runs.scan_us.to_string(), expected.scan_us.to_string()),
                        ];
                        for (what, is, should) in rows {
                            let should = if is == should { "the same" } else { &should };
                            writeln!(to, "{what:<10}{is:<66}{should}")?;
                        }
                    }
                }
                writeln!(to, "{}", if status == 0 { "It runs this image." } else { "It does NOT run this image." })?;
            }
        }
        to.finish()?;
        Ok(status)
    }
}

/// A station and the image of its plan.
pub(super) fn packed(rules: &[PathBuf]) -> Result<(Station, Packed), Failure> {
    let sources = files::read_all(rules)?;
    let station = stages::sound_station(sources.clone())?;
    let packed = pack(&station, &sources).map_err(|why| Failure::Said(why.to_string()))?;
    Ok((station, packed))
}

#[derive(Serialize)]
struct Told<'a> {
    target: String,
    station: &'a str,
    revision: u32,
    crc32: &'a str,
    runs: Vec<ToldRun>,
    /// Frames that were sent again, and what came that was of no use.
    again: u32,
    useless: u32,
    status: u8,
}

#[derive(Serialize)]
struct ToldRun {
    name: String,
    #[serde(flatten)]
    compared: Compared,
}

impl Run {
    fn run(&self) -> Outcome {
        let (station, packed) = packed(&self.rules)?;
        let comparison = Comparison::new(&station, &packed.image).map_err(Failure::from)?;
        let scenarios: Vec<_> = self
            .scenario
            .iter()
            .map(|path| Ok((path, read_scenario(&files::read_text(path)?, &station)?)))
            .collect::<Result<_, Failure>>()?;
        let mapping = self.mapped.read(&station)?;
        let mut client = self.at.open()?;
        let mut runs = Vec::new();
        let bar = bar(0);
        for path in &self.recording {
            let source = open(path).map_err(|error| Failure::Said(format!("{}: {error}", path.display())))?;
            let mut reader = Reader::mapped(source.bytes, &station, mapping.as_ref())
                .map_err(|fault| Failure::Said(format!("{}, {fault}", path.display())))?;
            let compared = stages::with_runner(&station, |runner| {
                comparison.run(&mut client, &mut |_| bar.tick(), |each| recording(&station, &mut reader, runner, each))
            })?;
            runs.push(told(path, compared)?);
        }
        for (path, read) in &scenarios {
            let compared = stages::with_runner(&station, |runner| {
                comparison.run(&mut client, &mut |_| bar.tick(), |each| scenario(&station, read, runner, each))
            })?;
            runs.push(told(path, compared)?);
        }
        bar.finish_and_clear();
        let status = u8::from(runs.iter().any(|run| run.compared.parted.is_some()));
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => {
                let counted = client.counted();
                let content = Told {
                    target: self.at.name(),
                    station: &station.title,
                    revision: station.revision,
                    crc32: &packed.manifest.crc32,
                    runs,
                    again: counted.again,
                    useless: counted.useless,
                    status,
                };
                document(&mut to, "bench", &content)?;
            }
            Shape::Text => self.say(&mut to, &station, &runs)?,
        }
        to.finish()?;
        Ok(status)
    }

    fn say(&self, to: &mut Output, station: &Station, runs: &[ToldRun]) -> Result<(), Failure> {
        for ToldRun { name, compared } in runs {
            let Compared { scans, stops, powered_up, took, parted } = compared;
            let mut came = format!("{scans} scans, {stops} stops, powered up {powered_up} times");
            // The clock of a controller in this program stands.
            if took.longest_us > 0 {
                let Took { median_us, longest_us } = took;
                came = format!("{came}; a scan took {median_us} us in the median, {longest_us} us at most");
            }
            match parted {
                None => writeln!(to, "same      {name}: {came}")?,
                Some(at) => {
                    writeln!(to, "DIFFERS   {name}: {came}")?;
                    writeln!(to, "          in scan {}, at {} us, by {}", at.scan, at.at_us, at.what)?;
                    writeln!(to, "          host    {}", at.host)?;
                    writeln!(to, "          target  {}", at.target)?;
                }
            }
        }
        let parted = runs.iter().filter(|run| run.compared.parted.is_some()).count();
        let scans: u64 = runs.iter().map(|run| u64::from(run.compared.scans)).sum();
        writeln!(
            to,
            "{}, revision {}, on {}: {} of {} runs the same, {scans} scans compared",
            station.title,
            station.revision,
            self.at.name(),
            runs.len() - parted,
            runs.len(),
        )?;
        Ok(())
    }
}

/// What came of a file.
fn told(path: &Path, compared: Result<Compared, Trouble>) -> Result<ToldRun, Failure> {
    let name = path.display().to_string();
    match compared {
        Ok(compared) => Ok(ToldRun { name, compared }),
        Err(trouble) => Err(Failure::Said(format!("{name}: {trouble}"))),
    }
}
