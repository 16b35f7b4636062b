//! `haltproof campaign`.

use std::io::Write as _;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde::Serialize;

use super::apart::apart;
use super::bench::{At, packed};
use super::output::Output;
use super::progress::bar_of_rows;
use super::today::Today;
use super::{Failure, Outcome, files, stages};
use host_tools::campaign::{CAUTIONS, Given, Record, campaign, html, text};
use host_tools::json::document;
use logic_rules::image::Image;

/// Drives every way to trip of a station on a controller, just inside and just outside each limit, for the record.
///
/// So are bypasses, the reset, the start permit, refills by key and outputs that a stop releases later.
/// Rows and what is expected of them come from the rule file's declarations: its limits, settling times and holds. The bench is
/// given the image that the rule files pack to, or the one that is named. A way that cannot be driven is a row, and did not pass.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: haltproof campaign drive.rules requirements.rules --format html --output record.html\n\
    Exit status: 0 every row passed, 1 one failed or was not driven, or a temporary revision is past its end, 2 it could not be done."
)]
pub(super) struct Campaign {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    #[command(flatten)]
    at: At,
    #[command(flatten)]
    today: Today,
    /// An image to load, instead of what the rule files pack to.
    #[arg(long)]
    image: Option<PathBuf>,
    /// Only rows that have these words in their way or their stimulus; may be given several times. The record then says that it is
    /// partial, and a report counts it as open.
    #[arg(long)]
    only: Vec<String>,
    /// For people, for machines, or for paper.
    #[arg(long, value_enum, default_value_t = Form::Text)]
    format: Form,
    /// All rows in the text, not only those that did not pass.
    #[arg(long)]
    all: bool,
    /// Write the record to a file.
    #[arg(long, short)]
    output: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Form {
    /// For people.
    Text,
    /// For machines; `haltproof manual json` describes the schema.
    Json,
    /// One page to be printed and signed.
    Html,
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    record: &'a Record,
    cautions: [&'static str; 5],
    status: u8,
}

impl Campaign {
    pub(super) fn run(&self) -> Outcome {
        apart(self.rules.iter().chain(&self.image).chain(self.at.firmware()), &self.output)?;
        let (station, packed) = packed(&self.rules)?;
        let image = match &self.image {
            Some(path) => {
                let bytes = files::read(path)?.bytes;
                Image::open(&bytes).map_err(|fault| {
                    Failure::Said(format!("{}: the image does not open: {fault:?}", path.display()))
                })?;
                bytes
            }
            None => packed.image,
        };
        let mut to = Output::open(self.output.as_deref())?;
        let mut client = self.at.open()?;
        let target = self.at.name();
        let given = Given { station: &station, image: &image, target: &target, only: &self.only };
        let bar = bar_of_rows();
        let mut record = stages::with_runner(&station, |runner| {
            campaign(given, &mut client, runner, &mut |done, all| {
                bar.set_length(u64::try_from(all).unwrap_or(0));
                bar.set_position(u64::try_from(done).unwrap_or(0));
            })
        })??;
        bar.finish_and_clear();
        if record.rows.is_empty() {
            return Err(Failure::Said("no row has such words; without --only all are driven".to_owned()));
        }
        let ends = self.today.ends(Some(&station));
        record.ends = ends.as_ref().map(|ends| ends.words(&station));
        let past = ends.is_some_and(|ends| ends.past);
        let status = u8::from(past || record.passed < record.rows.len());
        match self.format {
            Form::Text => text::write(&mut to, &record, self.all)?,
            Form::Html => to.write_all(html::write(&record).as_bytes())?,
            Form::Json => document(&mut to, "campaign", &Told { record: &record, cautions: CAUTIONS, status })?,
        }
        to.finish()?;
        Ok(status)
    }
}
