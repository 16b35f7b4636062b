//! `haltproof compare`.

use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use clap::Args;
use serde::Serialize;

use super::apart::apart;
use super::files::{read_all, read_text};
use super::output::Output;
use super::progress::bar;
use super::stages;
use super::{Failure, Outcome, Shape};
use host_tools::compare::histories::{Effort, Shown};
use host_tools::compare::side::Difference;
use host_tools::compare::timeline::{Whose, merged};
use host_tools::compare::{Both, Comparison, Revision, certificate, compare, recheck};
use host_tools::json::document;
use host_tools::load::load;
use host_tools::prove::history::{recording, timeline};
use host_tools::station::Station;

/// How often a search shows that it goes on.
const TICK: Duration = Duration::from_millis(100);

/// Says what a change of the rules does: whether the new ones can ever answer more mildly, or more severely, than the old.
///
/// Both run on the same inputs from power-up until something that they publish differs; that scan is judged, and after it
/// their histories part. "Never" was proved for all histories and checked by a second solver. It is said of the rules and is no
/// statement about the plant; a change on a running lift needs the procedure of your operation, and the competent
/// authority decides.
#[derive(Debug, Args)]
#[command(
    after_help = "Example: haltproof compare --old approved/drive.rules --new drive.rules --histories differences\n\
    Exit status: 0 it was proved that the new rules never answer more mildly, and nothing else that an approval covers differs; \
    1 they can be milder, or that was not decided, or something else differs; 2 it could not be done."
)]
pub(super) struct Compare {
    /// Rule files as they were, read as one station.
    #[arg(long, required = true, num_args = 1.., value_name = "FILE")]
    old: Vec<PathBuf>,
    /// Rule files as they are to be, read as one station.
    #[arg(long, required = true, num_args = 1.., value_name = "FILE")]
    new: Vec<PathBuf>,
    /// Where histories go, two recordings each: `NUMBER-old.csv` and `NUMBER-new.csv`; the folder is made.
    #[arg(long, value_name = "FOLDER")]
    histories: Option<PathBuf>,
    /// Where the certificate of what was proved goes.
    #[arg(long, value_name = "FILE")]
    certificate: Option<PathBuf>,
    /// Checks this certificate instead of searching.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["histories", "certificate"])]
    recheck: Option<PathBuf>,
    /// Scans of trials around each changed statement.
    #[arg(long, default_value_t = Effort::default().scans)]
    trials: u64,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

#[derive(Serialize)]
struct Judged {
    /// An answer, `NAME beneath another`, `output NAME`, `start permit` or `reset acts`.
    what: String,
    /// `never`, `history` or `undecided`.
    milder: &'static str,
    /// Likewise.
    more_severe: &'static str,
}

#[derive(Serialize)]
struct Told {
    number: usize,
    /// The scan in which the sides differ, from 0.
    scan: u64,
    at_ms: u64,
    differences: Vec<String>,
    /// Published answers differ, not only what is called for while a stop stands anyway.
    visible: bool,
    /// What trips in that scan on one side only.
    only_old: Vec<String>,
    only_new: Vec<String>,
    old: Option<String>,
    new: Option<String>,
}

#[derive(Serialize)]
struct Other {
    statement: String,
    part: &'static str,
    old: Option<String>,
    new: Option<String>,
}

#[derive(Serialize)]
struct Changed {
    statement: String,
    old: Option<String>,
    new: Option<String>,
    /// With this change alone the new rules are never milder; null where that was not tried.
    never_milder_alone: Option<bool>,
    /// Likewise never more severe.
    never_more_severe_alone: Option<bool>,
    /// Numbers of the histories in which it trips on one side only.
    histories: Vec<usize>,
}

#[derive(Serialize)]
struct Content<'a> {
    old: &'a str,
    old_revision: u32,
    new: &'a str,
    new_revision: u32,
    /// The two behave the same in every history: proved.
    equal: bool,
    never_milder: bool,
    never_more_severe: bool,
    judged: Vec<Judged>,
    changes: Vec<Changed>,
    approval: Vec<Other>,
    renamed: Vec<[String; 3]>,
    added: Vec<String>,
    removed: Vec<String>,
    not_comparable: &'a [String],
    histories: Vec<Told>,
    status: u8,
}

/// A revision, or what forbids it.
fn revision(paths: &[PathBuf], which: &str) -> Result<Revision, Failure> {
    let loaded = load(read_all(paths)?);
    stages::sound(&loaded)?;
    Revision::of(&loaded).ok_or_else(|| Failure::Said(format!("the {which} rule files make no station")))
}

impl Compare {
    pub(super) fn run(&self) -> Outcome {
        let reads = || self.old.iter().chain(&self.new);
        apart(reads(), &self.certificate)?;
        let (old, new) = (revision(&self.old, "old")?, revision(&self.new, "new")?);
        if let Some(path) = &self.recheck {
            return again(&old, &new, path);
        }
        let spinner = bar(0);
        spinner.enable_steady_tick(TICK);
        let compared = compare(&old, &new, Effort { scans: self.trials, ..Effort::default() });
        spinner.finish_and_clear();
        let compared = compared?;
        let histories = self.histories.iter().flat_map(|folder| {
            (1..=compared.shown.len()).flat_map(|number| SIDES.map(|side| side_of(folder, number, side)))
        });
        apart(reads(), &self.certificate.iter().cloned().chain(histories).collect::<Vec<_>>())?;
        if let (Some(path), Some(text)) = (&self.certificate, &compared.certificate) {
            let mut to = Output::open(Some(path))?;
            to.write_all(text.as_bytes())?;
            to.finish()?;
        }
        let histories = self.keep(&compared, &new)?;
        let status = u8::from(!compared.is_never_milder() || !compared.matters.is_empty());
        let content = Content {
            old: &old.station.title,
            old_revision: old.station.revision,
            new: &new.station.title,
            new_revision: new.station.revision,
            equal: compared.is_equal(),
            never_milder: compared.is_never_milder(),
            never_more_severe: compared.is_never_more_severe(),
            judged: judged(&compared),
            changes: changes(&compared),
            approval: approval(&compared),
            renamed: compared
                .both
                .pairs
                .renamed
                .iter()
                .map(|r| [r.kind.into(), r.old.clone(), r.new.clone()])
                .collect(),
            added: compared.both.pairs.added.iter().map(|(kind, name)| format!("{kind} {name}")).collect(),
            removed: compared.both.pairs.removed.iter().map(|(kind, name)| format!("{kind} {name}")).collect(),
            not_comparable: &compared.both.pairs.apart,
            histories,
            status,
        };
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => document(&mut to, "comparison", &content)?,
            Shape::Text => say(&mut to, &content, &compared, &host_tools::compare::pairs::bare(&new.station))?,
        }
        to.finish()?;
        Ok(status)
    }
    /// Writes the recordings, if they are wanted, and tells of them.
    fn keep(&self, compared: &Comparison, new: &Revision) -> Result<Vec<Told>, Failure> {
        let mut out = Vec::new();
        for (number, shown) in (1..).zip(&compared.shown) {
            let mut written = [None, None];
            if let Some(folder) = &self.histories {
                fs::create_dir_all(folder)?;
                let stations = [&compared.both.old, &new.station];
                let sides = stations.iter().zip(&shown.histories).zip(SIDES);
                for (((station, history), side), cell) in sides.zip(&mut written) {
                    let path = side_of(folder, number, side);
                    let notes = vec![format!("the {side} rules, of two that differ in the last scan")];
                    let mut to = Output::open(Some(&path))?;
                    to.write_all(&recording(station, history, notes)?)?;
                    to.finish()?;
                    *cell = Some(path.display().to_string());
                }
            }
            let [old, new] = written;
            let scan = shown.parted.scan;
            out.push(Told {
                number,
                scan,
                at_ms: compared.both.old.ms(u32::try_from(scan).unwrap_or(u32::MAX)),
                differences: shown.parted.differences.iter().map(|d| words(compared, *d)).collect(),
                visible: shown.parted.visible,
                only_old: shown.parted.only_old.clone(),
                only_new: shown.parted.only_new.clone(),
                old,
                new,
            });
        }
        Ok(out)
    }
}

/// The two that are compared.
const SIDES: [&str; 2] = ["old", "new"];

/// The file of one side of a history.
fn side_of(folder: &Path, number: usize, side: &str) -> PathBuf {
    folder.join(format!("{number}-{side}.csv"))
}

fn words(compared: &Comparison, difference: Difference) -> String {
    compared.words.iter().find(|(known, _)| *known == difference).map_or_else(String::new, |(_, words)| words.clone())
}

fn verdict(compared: &Comparison, difference: Difference) -> &'static str {
    if compared.never.contains(&difference) {
        "never"
    } else if compared.is_shown(difference) {
        "history"
    } else {
        "undecided"
    }
}

/// What is judged, the most severe answer first.
fn judged(compared: &Comparison) -> Vec<Judged> {
    let milder = compared.words.iter().filter(|(difference, _)| difference.milder);
    milder
        .map(|(difference, words)| Judged {
            what: words.split_once(' ').map_or_else(String::new, |(_, what)| what.to_string()),
            milder: verdict(compared, *difference),
            more_severe: verdict(compared, Difference { milder: false, ..*difference }),
        })
        .collect()
}

fn changes(compared: &Comparison) -> Vec<Changed> {
    let all = compared.causes.iter();
    all.map(|cause| {
        let (old, new) = (&cause.change.old, &cause.change.new);
        let either = new.as_ref().or(old.as_ref());
        let name = either.map_or("", |said| said.name.as_str());
        let by = |trips: &[String]| trips.iter().any(|trip| trip.split(' ').next() == Some(name));
        let shows = |shown: &Shown| by(&shown.parted.only_old) || by(&shown.parted.only_new);
        Changed {
            statement: either
                .map_or_else(String::new, |said| format!("{} {}", said.keyword, said.name).trim_end().into()),
            old: old.as_ref().map(|said| said.text.clone()),
            new: new.as_ref().map(|said| said.text.clone()),
            never_milder_alone: cause.never_milder,
            never_more_severe_alone: cause.never_more_severe,
            histories: (1..).zip(&compared.shown).filter(|(_, shown)| shows(shown)).map(|(number, _)| number).collect(),
        }
    })
    .collect()
}

fn approval(compared: &Comparison) -> Vec<Other> {
    let all = compared.matters.iter();
    all.map(|matter| Other {
        statement: format!("{} {}", matter.keyword, matter.name).trim_end().to_string(),
        part: matter.part,
        old: matter.old.as_ref().map(|(line, text)| format!("line {line}: {text}")),
        new: matter.new.as_ref().map(|(line, text)| format!("line {line}: {text}")),
    })
    .collect()
}

/// For people.
fn say(to: &mut Output, content: &Content<'_>, compared: &Comparison, new: &Station) -> Result<(), Failure> {
    writeln!(
        to,
        "{}, revision {}, compared with {}, revision {}\n",
        content.new, content.new_revision, content.old, content.old_revision
    )?;
    for reason in content.not_comparable {
        writeln!(to, "not comparable  {reason}")?;
    }
    for [kind, old, new] in &content.renamed {
        writeln!(to, "renamed         {kind} {old} is now {new}")?;
    }
    for (what, list) in [("only old", &content.removed), ("only new", &content.added)] {
        for name in list {
            writeln!(to, "{what:<15} {name}")?;
        }
    }
    rules(to, &content.changes)?;
    writeln!(to, "\n{:<24} {:<24} new rules more severe", "", "new rules milder")?;
    // What is beneath a more severe answer is told only where it differs.
    let quiet =
        |row: &&Judged| row.what.ends_with(" beneath another") && (row.milder, row.more_severe) == ("never", "never");
    for row in content.judged.iter().filter(|row| !quiet(row)) {
        writeln!(to, "{:<24} {:<24} {}", row.what, in_words(row.milder), in_words(row.more_severe))?;
    }
    for (told, shown) in content.histories.iter().zip(&compared.shown) {
        history(to, told, shown, [&compared.both.old, new])?;
    }
    statements(to, "not judged as behaviour, and not the same", &content.approval)?;
    let behaviour = match (content.equal, content.never_milder, content.never_more_severe) {
        (true, ..) => "The two behave the same in every history: proved.",
        (_, true, _) => "The new rules never answer more mildly: proved.",
        (_, _, true) => {
            "The new rules can answer more mildly, or that is not decided; they never answer more severely: proved."
        }
        _ => "The new rules can answer more mildly, or that is not decided.",
    };
    let beside = match content.approval.len() {
        0 => "Nothing else that an approval covers differs.".to_string(),
        1 => "Beside behaviour, one thing that an approval covers differs: see above.".to_string(),
        some => format!("Beside behaviour, {some} things that an approval covers differ: see above."),
    };
    writeln!(
        to,
        "\n{behaviour}\n{beside}\n\
         Compared up to the first scan in which anything published differs; after it the histories part.\n\
         A proof is said of the rules and permits nothing; local codes and the competent authority decide."
    )?;
    Ok(())
}

fn in_words(verdict: &str) -> &str {
    match verdict {
        "never" => "never, proved",
        "history" => "yes, in a history below",
        _ => "UNDECIDED",
    }
}

/// What the rules say otherwise, and what it does.
fn rules(to: &mut Output, all: &[Changed]) -> Result<(), Failure> {
    if !all.is_empty() {
        writeln!(to, "\nrules that say something else:")?;
    }
    for one in all {
        writeln!(to, "  {}", one.statement)?;
        writeln!(to, "    was  {}", one.old.as_deref().unwrap_or("-"))?;
        writeln!(to, "    is   {}", one.new.as_deref().unwrap_or("-"))?;
        if let (Some(milder), Some(severer)) = (one.never_milder_alone, one.never_more_severe_alone) {
            let says = match (milder, severer) {
                (true, true) => "the same in every history, proved",
                (true, false) => "never milder, proved; it may be more severe",
                (false, true) => "it may be milder; never more severe, proved",
                (false, false) => "it may be milder, and it may be more severe",
            };
            writeln!(to, "    alone: {says}")?;
        }
        let numbers: Vec<String> = one.histories.iter().map(ToString::to_string).collect();
        if !numbers.is_empty() {
            writeln!(to, "    it is what trips on one side only in history {}", numbers.join(", "))?;
        }
    }
    Ok(())
}

fn statements(to: &mut Output, title: &str, all: &[Other]) -> Result<(), Failure> {
    if !all.is_empty() {
        writeln!(to, "\n{title}:")?;
    }
    for one in all {
        let part = if one.part == "statement" { String::new() } else { format!(" ({})", one.part) };
        writeln!(to, "  {}{part}", one.statement)?;
        writeln!(to, "    was  {}", one.old.as_deref().unwrap_or("-"))?;
        writeln!(to, "    is   {}", one.new.as_deref().unwrap_or("-"))?;
    }
    Ok(())
}

/// A history, as both sides tell it.
fn history(to: &mut Output, told: &Told, shown: &Shown, stations: [&Station; 2]) -> Result<(), Failure> {
    let stands = if told.visible { "" } else { ", while a stop stands anyway" };
    writeln!(
        to,
        "\nhistory {}: scan {}, {} ms after power-up{stands}: {}",
        told.number,
        told.scan,
        told.at_ms,
        told.differences.join(", ")
    )?;
    let text =
        |station, history| -> io::Result<String> { timeline(station, &recording(station, history, Vec::new())?) };
    for (side, trips) in [("old", &told.only_old), ("new", &told.only_new)] {
        if !trips.is_empty() {
            writeln!(to, "  only the {side} rules: {}", trips.join(", "))?;
        }
    }
    let ([old, new], [was, is]) = (&shown.histories, stations);
    for (whose, line) in merged(&text(was, old)?, &text(is, new)?) {
        let side = match whose {
            Whose::Both => "    ",
            Whose::Old => "old ",
            Whose::New => "new ",
        };
        writeln!(to, "  {side}| {line}")?;
    }
    for path in told.old.iter().chain(&told.new) {
        writeln!(to, "  in {path}")?;
    }
    Ok(())
}

/// Checks a certificate.
fn again(old: &Revision, new: &Revision, path: &Path) -> Outcome {
    let (name, text) = read_text(path)?;
    let both = Both::new(old, new);
    if let Some(reason) = both.pairs.apart.first() {
        return Err(Failure::Said(format!("nothing is claimed of these: {reason}")));
    }
    let mut to = Output::open(None)?;
    let status = both.with_twin(|twin| -> Outcome {
        let claimed = match certificate::read(twin, &text) {
            Ok(claimed) => claimed,
            Err(wrong) => {
                writeln!(to, "refused  {name}:{}: {}", wrong.line, wrong.what)?;
                return Ok(1);
            }
        };
        match recheck::check(twin, &claimed) {
            Ok(()) => {
                for never in &claimed.never {
                    writeln!(to, "checked  never {}", certificate::says(twin, *never))?;
                }
                Ok(0)
            }
            Err(refused) => {
                writeln!(to, "refused  {name}: {refused:?}")?;
                Ok(1)
            }
        }
    })??;
    to.finish()?;
    Ok(status)
}
