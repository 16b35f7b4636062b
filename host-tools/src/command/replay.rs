//! `haltproof replay`.

use std::io::Write as _;
use std::path::PathBuf;

use clap::Args;

use super::apart::apart;
use super::files::Mapped;
use super::output::{Output, coloured, is_terminal};
use super::progress::bar;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::digest::{hex, sha256};
use host_tools::json::Timeline;
use host_tools::recording::read::{ReadFault, Scans};
use host_tools::recording::sequence::Sequence;
use host_tools::replay::text::{Lines, Paint};
use host_tools::replay::{Both, Broke, Sink, Summary, replay};
use host_tools::report::recorded::{Recorded, Replayed, recorded};
use host_tools::station::Station;
use host_tools::vcd::{Beside, Dump};

/// Runs a recording through the rules: stops with their causes, margins, requirements.
///
/// Memory does not grow with the recording.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof replay drive.rules --recording morning.csv --recording afternoon.csv.gz\n\
    Exit status: 0 every requirement met and every stop made by the recording as well, \
    1 a requirement missed, a stop that the recording did not make or started from without a reset, or something that cannot be told, \
    2 the recording or the rules could not be read.")]
pub(super) struct Replay {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// The recording, as it is or packed with gzip or zstd; `-` is the standard input. Several are given in the order of time, and read as one.
    /// `haltproof manual recordings` describes them.
    #[arg(long, short, required = true)]
    recording: Vec<PathBuf>,
    #[command(flatten)]
    mapped: Mapped,
    /// Go on after gaps, clock steps and doubled rows within a file: each is told and counted, and judging begins anew behind it.
    #[arg(long)]
    over_gaps: bool,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
    /// Write the result to a file.
    #[arg(long, short)]
    output: Option<PathBuf>,
    /// Write the recording, and what the rules say of it, to a file as a value change dump (VCD, IEEE 1364) for viewers of
    /// waveforms.
    #[arg(long)]
    vcd: Option<PathBuf>,
    /// Write a page with pictures to a file: stops over time, the first of each kind, and what passings measured.
    #[arg(long)]
    report: Option<PathBuf>,
}

impl Replay {
    pub(super) fn run(&self) -> Outcome {
        let reads = self.rules.iter().chain(&self.recording).chain(self.mapped.path());
        apart(reads, self.output.iter().chain(&self.vcd).chain(&self.report))?;
        let sources = files::read_all(&self.rules)?;
        let parts: Vec<&[u8]> = sources.iter().map(|source| source.bytes.as_slice()).collect();
        let digest = hex(&sha256(&parts));
        let station = stages::sound_station(sources)?;
        let beside = [&self.vcd, &self.report].into_iter().flatten().filter(|path| is_terminal(Some(path))).count();
        if beside + usize::from(is_terminal(self.output.as_deref())) > 1 {
            return Err(Failure::Said(
                "only one of result, dump and page can go to the output: give the others files".into(),
            ));
        }
        let to = Output::open(self.output.as_deref())?;
        let mapping = self.mapped.read(&station)?;
        let mut reader = Sequence::open(&station, &self.recording, mapping, self.over_gaps)
            .map_err(|(name, fault)| said(&name, &fault))?;
        let Some(path) = &self.report else {
            return self.on(&station, &mut reader, to, None).map(|(status, _)| status);
        };
        let mut page = Output::open(Some(path))?;
        let mut gathered = Recorded::new(&station);
        let (status, summary) = self.on(&station, &mut reader, to, Some(&mut gathered))?;
        if let Some(summary) = summary {
            let names = |paths: &[PathBuf]| paths.iter().map(|path| path.display().to_string()).collect::<Vec<_>>();
            let (rules, recordings) = (&names(&self.rules), &names(&self.recording));
            let replayed = Replayed { rules, digest: &digest, recordings, summary: &summary };
            page.write_all(recorded(&gathered, &replayed).as_bytes())?;
            page.finish()?;
        }
        Ok(status)
    }

    fn on(
        &self,
        station: &Station,
        reader: &mut Sequence<'_>,
        to: Output,
        beside: Option<&mut Recorded<'_>>,
    ) -> Result<(u8, Option<Summary>), Failure> {
        match self.format {
            Shape::Text => {
                let paint = Paint(self.output.is_none() && coloured());
                let mut lines = Lines::new(to, paint);
                match self.drive(station, reader, &mut lines, beside)? {
                    Ok(summary) => {
                        lines.summary(&summary)?;
                        lines.into_inner().finish()?;
                        Ok((summary.status(), Some(summary)))
                    }
                    Err(fault) => {
                        // What was told so far is worth having on a terminal; a file stays away.
                        if self.output.is_none() {
                            lines.into_inner().finish()?;
                        }
                        Err(said(reader.file(), &fault))
                    }
                }
            }
            Shape::Json => {
                let mut timeline = Timeline::begin(to, station, reader.file())?;
                match self.drive(station, reader, &mut timeline, beside)? {
                    Ok(summary) => {
                        let status = summary.status();
                        timeline.end(&summary)?.finish()?;
                        Ok((status, Some(summary)))
                    }
                    Err(fault) => {
                        timeline.broke(&fault)?.finish()?;
                        Err(said(reader.file(), &fault))
                    }
                }
            }
        }
    }

    /// Replays with a bar; a recording that broke off is no failure of ours.
    fn drive(
        &self,
        station: &Station,
        reader: &mut Sequence<'_>,
        sink: &mut dyn Sink,
        beside: Option<&mut Recorded<'_>>,
    ) -> Result<Result<Summary, ReadFault>, Failure> {
        match beside {
            Some(beside) => self.dumped(station, reader, &mut Both(sink, beside)),
            None => self.dumped(station, reader, sink),
        }
    }

    /// The same, with a dump of waveforms if one is asked for.
    fn dumped(
        &self,
        station: &Station,
        reader: &mut Sequence<'_>,
        sink: &mut dyn Sink,
    ) -> Result<Result<Summary, ReadFault>, Failure> {
        let bytes = reader.length();
        let Some(path) = &self.vcd else { return watched(station, reader, sink, bytes) };
        let mut to = Output::open(Some(path))?;
        let mut dump = Dump::new(&mut to, station)?;
        let done = watched(station, reader, &mut Beside { sink, dump: &mut dump }, bytes)?;
        if done.is_ok() {
            dump.finish()?;
            to.finish()?;
        }
        Ok(done)
    }
}

fn watched<R: Scans>(
    station: &Station,
    reader: &mut R,
    sink: &mut dyn Sink,
    bytes: u64,
) -> Result<Result<Summary, ReadFault>, Failure> {
    let bar = bar(bytes);
    let done = stages::with_runner(station, |runner| {
        replay(station, reader, runner, sink, &mut |read| {
            bar.set_position(read);
        })
    })?;
    bar.finish_and_clear();
    match done {
        Ok(summary) => Ok(Ok(summary)),
        Err(Broke::Read(fault)) => Ok(Err(fault)),
        Err(Broke::Write(error)) => Err(error.into()),
    }
}

fn said(named: &str, fault: &ReadFault) -> Failure {
    Failure::Said(format!("{named}, {fault}"))
}
