//! `haltproof prove`.

use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;
use serde::Serialize;

use super::answered::{Answered, LIST};
use super::apart::apart;
use super::arises::{Arising, Questions};
use super::output::Output;
use super::progress::bar;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::json::document;
use host_tools::plural::plural;
use host_tools::prove::certificate::{self, digest};
use host_tools::prove::claim::Subject;
use host_tools::prove::history::{recording, timeline};
use host_tools::prove::model::{Model, with_model};
use host_tools::prove::recheck::Checker;
use host_tools::prove::together::{Wanted, judge_all};
use host_tools::prove::upheld::with_upheld;
use host_tools::prove::verdict::{Judgement, Verdict, check, taken_for_granted, why};
use host_tools::prove::words::formula;
use host_tools::refute::Effort;
use host_tools::refute::missed::missed;
use host_tools::replay::text::clock;
use host_tools::station::Station;
use host_tools::vcd::dump;

/// Characters in a line of a sentence.
const WIDE: usize = 100;
/// How often a search shows that it goes on.
const TICK: Duration = Duration::from_millis(100);

/// Proves that no history of inputs skips a required stop, or shows one that does.
///
/// Of each requirement, and of what must hold of every station without being asked, it says *proved*, with a certificate that another solver has checked; *refuted*, with a
/// history that was replayed and misses the stop; or *undecided*. It supports the judgement of those who are
/// licensed to judge and replaces none of it.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof prove drive.rules requirements.rules --certificates proofs\n\
    Exit status: 0 all requirements are proved, 1 one is refuted or undecided, or never asked, 2 it could not be done.")]
pub(super) struct Prove {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// Only this requirement, or this property of every station; may be given several times.
    #[arg(long)]
    only: Vec<String>,
    /// Where certificates go, `REQUIREMENT.proof` each; the folder is made.
    #[arg(long)]
    certificates: Option<PathBuf>,
    /// Proofs of an earlier run in this folder are tried first, and those of this run put there. What the checker would be
    /// asked in the very same words as then is not asked again; `--recheck` asks everything.
    #[arg(long, conflicts_with_all = ["certificates", "recheck"])]
    known: Option<PathBuf>,
    /// Checks the certificates in this folder instead of searching.
    #[arg(long, conflicts_with_all = ["certificates", "histories"])]
    recheck: Option<PathBuf>,
    /// Where histories that miss a stop go, `REQUIREMENT.csv` each, and as a value change dump `REQUIREMENT.vcd`; the folder
    /// is made.
    #[arg(long)]
    histories: Option<PathBuf>,
    /// Scans of trials by which a history is looked for where there is no proof.
    #[arg(long, default_value_t = 2_000_000)]
    trials: u64,
    /// Conflicts of the solver that looks for one where no trial finds any.
    #[arg(long, default_value_t = 150_000)]
    conflicts: u64,
    /// Does not look whether the requirements arise, and whether the assumptions leave an ordinary morning.
    #[arg(long)]
    no_witness: bool,
    /// Says of each assumption which faults of the simulator it excludes.
    #[arg(long)]
    assumptions: bool,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

#[derive(Serialize)]
struct Judged<'a> {
    requirement: &'a str,
    title: &'a str,
    /// What was proved or refuted, in words.
    formula: String,
    verdict: &'static str,
    /// What a proof takes for granted.
    assuming: Vec<String>,
    /// Lemmas of the certificate.
    lemmas: usize,
    /// Cells of its slice.
    cells: usize,
    /// The checker had answered all of it in an earlier run.
    known: bool,
    searched_ms: u64,
    checked_ms: u64,
    /// Scans of the history that misses it.
    scans: Option<u64>,
    reason: Option<String>,
    /// Why nothing answers in time, in the history that misses it.
    why: Option<Vec<String>>,
    /// Whether it arises; only of requirements, and if it was looked for.
    arises: Option<Arising>,
}

#[derive(Serialize)]
struct Content<'a> {
    station: &'a str,
    revision: u32,
    requirements: Vec<Judged<'a>>,
    #[serde(flatten)]
    questions: &'a Questions,
    status: u8,
}

impl Prove {
    pub(super) fn run(&self) -> Outcome {
        let sources = files::read_all(&self.rules)?;
        let parts: Vec<&[u8]> = sources.iter().map(|source| source.bytes.as_slice()).collect();
        let rules = digest(&parts);
        let station = with_upheld(&stages::sound_station(sources)?);
        let wanted = self.wanted(&station)?;
        apart(&self.rules, &self.files(&station, &wanted))?;
        with_model(&station, |model| self.judge(model, &rules, &wanted))?
    }
    fn judge(&self, model: &Model<'_>, rules: &str, wanted: &[Subject]) -> Outcome {
        let station = model.station;
        if let Some(folder) = &self.recheck {
            return recheck(model, rules, wanted, folder);
        }
        for folder in self.certificates.iter().chain(&self.known).chain(&self.histories) {
            fs::create_dir_all(folder).map_err(|e| Failure::Said(format!("{}: {e}", folder.display())))?;
        }
        let mut to = Output::open(None)?;
        let effort = Effort { scans: self.trials, conflicts: self.conflicts, ..Effort::default() };
        let questions = Questions::ask(station, wanted, self.no_witness, self.assumptions)?;
        let (mut all, mut status) = (Vec::new(), questions.status());
        let mut answered = self.known.as_deref().map(Answered::open);
        let bar = bar(0);
        bar.enable_steady_tick(TICK);
        let recall = |subject| answered.as_ref().map(|answered| answered.recall(model, subject));
        let wanted: Vec<Wanted> = wanted.iter().map(|&subject| Wanted { subject, earlier: recall(subject) }).collect();
        judge_all(model, &wanted, effort, |(judged, asked)| -> Result<(), Failure> {
            if let Some(answered) = &mut answered {
                answered.now(judged.subject.name(station), asked);
            }
            if !matches!(judged.verdict, Verdict::Proved(_)) {
                status = 1;
            }
            self.keep(model, rules, &judged)?;
            let told = tell(model, &judged, questions.of(judged.subject));
            if self.format == Shape::Text {
                bar.suspend(|| say(&mut to, station, &judged, &told))?;
            }
            all.push(told);
            Ok(())
        })?;
        bar.finish_and_clear();
        if let Some(answered) = &answered {
            answered.keep()?;
        }
        let proved = all.iter().filter(|told| told.verdict == "proved").count();
        match self.format {
            Shape::Json => {
                let (station, revision) = (station.title.as_str(), station.revision);
                let content = Content { station, revision, requirements: all, questions: &questions, status };
                document(&mut to, "proof", &content)?;
            }
            Shape::Text => {
                writeln!(to)?;
                questions.say(&mut to)?;
                writeln!(to, "{}: {proved} of {} proved.", station.about(), all.len())?;
                writeln!(
                    to,
                    "Proved is: of these rules, as the controller runs them, for every history of inputs from power-up, under\n\
                     what is said to be taken for granted. It speaks of readings, and says nothing of sensors, wiring, brakes,\n\
                     or of what no requirement asks. Local codes and the competent authority decide."
                )?;
            }
        }
        to.finish()?;
        Ok(status)
    }
    /// All files that may be written.
    fn files(&self, station: &Station, wanted: &[Subject]) -> Vec<PathBuf> {
        let of = |folders: [&Option<PathBuf>; 2], ending: &str| -> Vec<PathBuf> {
            let names = || wanted.iter().map(|subject| format!("{}.{ending}", subject.name(station)));
            folders.into_iter().flatten().flat_map(|folder| names().map(|name| folder.join(name))).collect()
        };
        let mut files = of([&self.certificates, &self.known], "proof");
        files.extend(["csv", "vcd"].iter().flat_map(|ending| of([&self.histories, &None], ending)));
        files.extend(self.known.iter().map(|folder| folder.join(LIST)));
        files
    }
    fn wanted(&self, station: &Station) -> Result<Vec<Subject>, Failure> {
        let all = Subject::all(station);
        if let Some(unknown) =
            self.only.iter().find(|name| all.iter().all(|known| known.name(station) != name.as_str()))
        {
            let known: Vec<&str> = all.iter().map(|subject| subject.name(station)).collect();
            return Err(Failure::Said(format!("no requirement is called {unknown}; there are {}", known.join(", "))));
        }
        if station.required() == 0 && self.only.is_empty() {
            return Err(Failure::Said(
                "the files hold no requirement: give the file with the `require` statements too".into(),
            ));
        }
        let asked = |name: &str| self.only.is_empty() || self.only.iter().any(|only| only == name);
        Ok(all.into_iter().filter(|subject| asked(subject.name(station))).collect())
    }
    /// Writes the certificate or the history.
    fn keep(&self, model: &Model<'_>, rules: &str, judged: &Judgement) -> Result<(), Failure> {
        let name = judged.subject.name(model.station);
        let folder = self.certificates.as_ref().or(self.known.as_ref());
        let mut files = Vec::new();
        match (&judged.verdict, folder, &self.histories) {
            (Verdict::Proved(claimed), Some(folder), _) => {
                files.push((
                    folder.join(format!("{name}.proof")),
                    certificate::write(model, rules, claimed).into_bytes(),
                ));
            }
            (Verdict::Refuted(found), _, Some(folder)) => {
                let note = format!("misses requirement {name} in its last scan");
                let history = recording(model.station, &found.history, vec![note])?;
                files.push((folder.join(format!("{name}.vcd")), dump(model.station, &history)?));
                files.push((folder.join(format!("{name}.csv")), history));
            }
            _ => {}
        }
        for (path, bytes) in files {
            let mut to = Output::open(Some(&path))?;
            to.write_all(&bytes)?;
            to.finish()?;
        }
        Ok(())
    }
}

fn tell<'a>(model: &Model<'a>, judged: &Judgement, arises: Option<Arising>) -> Judged<'a> {
    let ms = |time: std::time::Duration| u64::try_from(time.as_millis()).unwrap_or(u64::MAX);
    let mut out = Judged {
        requirement: judged.subject.name(model.station),
        title: judged.subject.title(model.station),
        formula: formula(model.station, judged.subject),
        verdict: "undecided",
        assuming: Vec::new(),
        lemmas: 0,
        cells: judged.cells,
        known: judged.known,
        searched_ms: ms(judged.searched),
        checked_ms: ms(judged.checked),
        scans: None,
        reason: None,
        why: None,
        arises,
    };
    match &judged.verdict {
        Verdict::Proved(claimed) => {
            out.verdict = "proved";
            out.lemmas = claimed.lemmas.len();
            out.assuming = taken_for_granted(model, claimed);
        }
        Verdict::Refuted(found) => {
            out.verdict = "refuted";
            out.scans = Some(found.history.scans());
            out.why = missed(model.station, found).ok().map(|remarks| {
                let at = |scan: u64| clock(scan.saturating_mul(u64::from(model.station.scan_us)));
                remarks.iter().map(|remark| format!("{}    {}", at(remark.scan), remark.words)).collect()
            });
        }
        Verdict::Undecided(reason) => out.reason = Some(reason.clone()),
    }
    out
}

fn say(to: &mut Output, station: &Station, judged: &Judgement, told: &Judged<'_>) -> Result<(), Failure> {
    writeln!(to, "{:<10} {:<10} {}", told.verdict, told.requirement, told.title)?;
    for line in wrapped(&told.formula) {
        writeln!(to, "           {line}")?;
    }
    match &judged.verdict {
        Verdict::Proved(_) => {
            writeln!(
                to,
                "             {} lemmas {}",
                told.lemmas,
                if told.known {
                    format!("of an earlier run, whose check asked the very same; compared in {} ms", told.checked_ms)
                } else {
                    format!(
                        "over {} cells, found in {} ms, checked again in {} ms",
                        told.cells, told.searched_ms, told.checked_ms
                    )
                }
            )?;
            for granted in &told.assuming {
                writeln!(to, "             taken for granted: {granted}")?;
            }
        }
        Verdict::Refuted(found) => {
            let bytes = recording(station, &found.history, Vec::new())?;
            writeln!(
                to,
                "             a history of {} scans misses it; replayed from power-up:",
                found.history.scans()
            )?;
            for line in timeline(station, &bytes)?.lines() {
                writeln!(to, "    {line}")?;
            }
            writeln!(to, "             why nothing answers in time:")?;
            for remark in told.why.iter().flatten() {
                writeln!(to, "     {remark}")?;
            }
        }
        Verdict::Undecided(reason) => writeln!(to, "             {reason}")?,
    }
    if let Some(arising) = &told.arises {
        writeln!(to, "             {}", arising.words)?;
    }
    to.flush()?;
    Ok(())
}

/// A sentence in lines of at most a hundred characters.
fn wrapped(sentence: &str) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in sentence.split(' ') {
        match lines.last_mut() {
            Some(line) if line.is_empty() => line.push_str(word),
            Some(line) if line.len() + word.len() < WIDE => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines
}

fn recheck(model: &Model<'_>, rules: &str, wanted: &[Subject], folder: &Path) -> Outcome {
    let mut checker = Checker::new(model);
    let mut to = Output::open(None)?;
    let mut status = 0;
    let bar = bar(0);
    bar.enable_steady_tick(TICK);
    for &subject in wanted {
        let name = subject.name(model.station);
        let checked = certified(model, rules, subject, &folder.join(format!("{name}.proof")), &mut checker);
        status |= u8::from(checked.is_err());
        bar.suspend(|| match checked {
            Ok((lemmas, granted)) => {
                writeln!(to, "proved     {name:<10} {} checked", plural(lemmas, "lemma"))?;
                granted.iter().try_for_each(|granted| writeln!(to, "             taken for granted: {granted}"))
            }
            Err(why) => writeln!(to, "not proved {name:<10} {why}"),
        })?;
        to.flush()?;
    }
    bar.finish_and_clear();
    to.finish()?;
    Ok(status)
}

/// Number of the lemmas of a certificate that was checked and what it takes for granted, or why it proves nothing.
fn certified(
    model: &Model<'_>,
    rules: &str,
    subject: Subject,
    path: &Path,
    checker: &mut Checker<'_>,
) -> Result<(usize, Vec<String>), String> {
    let text = fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()))?;
    let claimed = certificate::read(model, rules, &text)
        .map_err(|unusable| format!("{}, line {}: {}", path.display(), unusable.line, unusable.what))?;
    if claimed.subject != subject {
        return Err(format!("{}: it is the certificate of another requirement", path.display()));
    }
    check(model, checker, &claimed).map_err(|refused| why(&refused))?;
    Ok((claimed.lemmas.len(), taken_for_granted(model, &claimed)))
}
