//! `haltproof report`.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;
use serde::de::DeserializeOwned;

use super::apart::apart;
use super::coverage::list;
use super::files::Mapped;
use super::integrity::sheets;
use super::output::Output;
use super::progress::bar;
use super::today::Today;
use super::{Failure, Outcome, files, stages};
use host_tools::campaign::Record;
use host_tools::compare::{Comparison, Revision, compare};
use host_tools::integrity::assess::Sheet;
use host_tools::json::read_document;
use host_tools::load::{Loaded, load};
use host_tools::prove::certificate::digest;
use host_tools::prove::claim::Subject;
use host_tools::prove::model::with_model;
use host_tools::prove::together::{Wanted, judge_all};
use host_tools::prove::upheld::with_upheld;
use host_tools::prove::verdict::{Verdict, taken_for_granted};
use host_tools::recording::read::{Mapping, Reader};
use host_tools::recording::source::open;
use host_tools::refute::Effort;
use host_tools::replay::text::{Lines, Paint};
use host_tools::replay::{Broke, replay};
use host_tools::report::{Judged, Material, Replayed, report};
use host_tools::station::Station;
use host_tools::text::finding::Level;
use host_tools::text::parse::Source;
use host_tools::text::show::tell;
use host_tools::witness::arise;
use logic_rules::plan::Fault;

/// How often the work shows that it goes on.
const TICK: Duration = Duration::from_millis(100);

/// Writes the report that a reviewer reads and signs: one HTML file that stands by itself.
///
/// It checks and proves the rules, replays the recordings that are given, and draws causes and effects, timing windows and the
/// histories that miss a stop. The same files give the same bytes. It supports licensed practice and replaces none of it.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: haltproof report drive.rules requirements.rules --recording morning.csv --output drive.html\n\
    Exit status: 0 all is proved and asked, nothing found but notes, every recording replayed well\n    and every campaign passed, every safety function reaches what is required, the change is never milder and nothing else approved differs, 1 something is not, \
    2 it could not be done."
)]
pub(super) struct ReportOf {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// The rule files of the revision that was approved last; may be given several times.
    #[arg(long)]
    approved: Vec<PathBuf>,
    /// A recording to replay; may be given several times.
    #[arg(long, short)]
    recording: Vec<PathBuf>,
    #[command(flatten)]
    mapped: Mapped,
    /// A published list of safety stops, as for `coverage`.
    #[arg(long)]
    list: Option<PathBuf>,
    /// The record of a campaign (`campaign --format json`); may be given several times.
    #[arg(long)]
    campaign: Vec<PathBuf>,
    /// The slack of the limits (`slack --format json`).
    #[arg(long)]
    slack: Option<PathBuf>,
    /// The table of mutants (`mutants --format json`).
    #[arg(long)]
    mutants: Option<PathBuf>,
    /// A file of safety functions, as for `integrity`; may be given several times.
    #[arg(long)]
    integrity: Vec<PathBuf>,
    /// The file of the report.
    #[arg(long, short)]
    output: PathBuf,
    #[command(flatten)]
    today: Today,
}

impl ReportOf {
    pub(super) fn run(&self) -> Outcome {
        let results = self.campaign.iter().chain(&self.slack).chain(&self.mutants).chain(&self.integrity);
        let reads = self.rules.iter().chain(&self.approved).chain(&self.recording).chain(self.mapped.path());
        apart(reads.chain(&self.list).chain(results), [&self.output])?;
        let sources = files::read_all(&self.rules)?;
        let parts: Vec<&[u8]> = sources.iter().map(|source| source.bytes.as_slice()).collect();
        let digest = digest(&parts);
        let loaded = load(sources);
        let written = stages::sound(&loaded)?;
        let station = &with_upheld(written);
        let findings = tell(&loaded.findings, &files::shown(&loaded.files));
        let approved = self.approved.iter().map(|path| files::read_text(path)).collect::<Result<Vec<_>, _>>()?;
        let campaigns = self.campaign.iter().map(|path| given(path, "campaign")).collect::<Result<Vec<_>, _>>()?;
        let slack = self.slack.as_deref().map(|path| given(path, "slack")).transpose()?;
        let mutants = self.mutants.as_deref().map(|path| given(path, "mutants")).transpose()?;
        let list = list(self.list.as_deref())?;
        let integrity = sheets(&self.integrity, Some(written))?;
        let mut to = Output::open(Some(&self.output))?;
        let bar = bar(0);
        bar.enable_steady_tick(TICK);
        let mapping = self.mapped.read(written)?;
        let replays = self
            .recording
            .iter()
            .map(|path| replayed(written, path, mapping.as_ref()))
            .collect::<Result<Vec<_>, _>>()?;
        let all: Vec<usize> = (0..station.requirements.len()).collect();
        let arises = arise(station, &all)?;
        let judged = judged(station)?;
        let compared = compared(&approved, &loaded)?;
        bar.finish_and_clear();
        let (files, findings) = (&loaded.files, &findings);
        let (digest, approved) = (&digest, &approved);
        let (arises, judged, replays) = (&arises, &judged, &replays);
        let past = station.temporary.as_ref().is_some_and(|temporary| self.today.is_past(temporary));
        let material = Material {
            station,
            files,
            digest,
            findings,
            judged,
            arises,
            approved,
            compared: compared.as_ref(),
            list: &list,
            campaigns: &campaigns,
            slack: slack.as_ref(),
            mutants: mutants.as_ref(),
            integrity: &integrity,
            replays,
            past,
        };
        to.write_all(report(&material).as_bytes())?;
        to.finish()?;
        let open = judged.iter().any(|judged| !matches!(judged.judgement.verdict, Verdict::Proved(_)));
        let unasked = arises.iter().any(|(_, arises)| matches!(arises, host_tools::witness::Arises::NotFound));
        let found = loaded.findings.iter().any(|finding| finding.level != Level::Note);
        let missed = replays.iter().any(|replay| replay.summary.status() != 0);
        let changed = !self.approved.is_empty()
            && compared.as_ref().is_none_or(|compared| !compared.is_never_milder() || !compared.matters.is_empty());
        let tried =
            |record: &Record| record.failed + record.not_driven == 0 && record.is_whole() && record.digest == *digest;
        let short = !integrity.iter().all(Sheet::is_reached);
        Ok(u8::from(past || open || unasked || found || missed || changed || short || !campaigns.iter().all(tried)))
    }
}

/// Judges every requirement, and what must hold of every station.
fn judged(station: &Station) -> Result<Vec<Judged>, Fault> {
    with_model(station, |model| {
        let mut all = Vec::new();
        let wanted: Vec<Wanted> =
            Subject::all(station).into_iter().map(|subject| Wanted { subject, earlier: None }).collect();
        judge_all(model, &wanted, Effort::default(), |(judgement, _)| -> Result<(), Fault> {
            let granted = match &judgement.verdict {
                Verdict::Proved(claimed) => taken_for_granted(model, claimed),
                _ => Vec::new(),
            };
            all.push(Judged { judgement, granted });
            Ok(())
        })?;
        Ok(all)
    })?
}

/// What changed since the approved revision does; nothing if none is given, or what is given makes no station.
fn compared(approved: &[(String, String)], loaded: &Loaded) -> Result<Option<Comparison>, Fault> {
    let source = |(path, text): &(String, String)| Source { path: path.clone(), bytes: text.clone().into_bytes() };
    let old = load(approved.iter().map(source).collect());
    match (Revision::of(&old), Revision::of(loaded)) {
        (Some(old), Some(new)) if !approved.is_empty() => {
            compare(&old, &new, host_tools::compare::histories::Effort::default()).map(Some)
        }
        _ => Ok(None),
    }
}

/// A result that another command has written.
pub(super) fn given<T: DeserializeOwned>(path: &Path, kind: &str) -> Result<T, Failure> {
    let (named, text) = files::read_text(path)?;
    read_document(&text, kind).map_err(|e| Failure::Said(format!("{named}: {e}")))
}

fn replayed(station: &Station, path: &Path, mapping: Option<&Mapping>) -> Result<Replayed, Failure> {
    let named = path.display().to_string();
    let said = |what: String| Failure::Said(format!("{named}: {what}"));
    let source = open(path).map_err(|e| said(e.to_string()))?;
    let mut reader = Reader::mapped(source.bytes, station, mapping).map_err(|fault| said(fault.to_string()))?;
    let mut lines = Lines::new(Vec::new(), Paint(false));
    let summary = stages::with_runner(station, |runner| replay(station, &mut reader, runner, &mut lines, &mut |_| {}))?
        .map_err(|broke| match broke {
            Broke::Read(fault) => said(fault.to_string()),
            Broke::Write(error) => Failure::from(error),
        })?;
    lines.summary(&summary)?;
    let text = String::from_utf8_lossy(&lines.into_inner()).into_owned();
    Ok(Replayed { path: named, text, summary })
}
