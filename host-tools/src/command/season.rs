//! `haltproof season`.

use std::fs;
use std::io::{self, BufReader, Write};
use std::path::{Path, PathBuf};

use clap::Args;
use serde::{Deserialize, Serialize};

use super::output::{Output, complain, first};
use super::progress::bar;
use super::{Failure, Outcome as Status, Shape};
use host_tools::cores;
use host_tools::json::{document, line, read_document};
use host_tools::season::{Inputs, Outcome, Part, Refused, judge, parts, program};

/// Replays many recordings, part by part, a result a part.
///
/// A part whose result lies there already, made of the same bytes, is not done again: who was stopped goes on where he was.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof season parts.jsonl --into results\n\
    A line of the list: {\"name\": \"drive-07-01\", \"rules\": [\"drive.rules\"], \"recordings\": [\"07-01.csv.gz\"]}\n\
    `haltproof manual season` says more.\n\
    Exit status: 0 every part is well, 1 a part has something to report or could not be done, 2 the list could not be read.")]
pub(super) struct Season {
    /// The list of parts, a JSON object a line; `-` is the standard input.
    list: PathBuf,
    /// Keep a result a part in this folder, NAME.json, and pass over those that stand. Without it each result is a line on the output.
    #[arg(long)]
    into: Option<PathBuf>,
    /// Do this part alone; may be given several times.
    #[arg(long)]
    one: Vec<String>,
    /// Do parts again whose results stand.
    #[arg(long, requires = "into")]
    again: bool,
    /// Go on after gaps, as `replay` does.
    #[arg(long)]
    over_gaps: bool,
    /// Parts that are worked on at once; as many as there are cores if it is not given.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
    /// The account at the end of `--into`, for people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text, requires = "into")]
    format: Shape,
}

/// What the parts came to.
#[derive(Debug, Default, Serialize)]
struct Account {
    /// Parts of the list.
    parts: u64,
    /// Of which a result stood already.
    stood: u64,
    /// That could not be done.
    broken: u64,
    /// Scans judged, counterfactual ones left out.
    scans: u64,
    /// Stops.
    stops: u64,
    /// Of which the recordings did not make.
    not_made: u64,
    /// Starts without the reset of a stop that was made.
    started: u64,
    /// Requirements missed.
    missed: u64,
    /// Parts that have something to report, or could not be done, with their status.
    told: Vec<Told>,
    /// 0 every part is well, else 1.
    status: u8,
}

#[derive(Debug, Serialize)]
struct Told {
    name: String,
    status: u8,
    why: String,
}

/// What is read of a result.
#[derive(Debug, Clone, Deserialize)]
struct Kept {
    name: String,
    inputs: Option<Inputs>,
    summary: Option<Sums>,
    fault: Option<String>,
    status: u8,
}

#[derive(Debug, Clone, Deserialize)]
struct Sums {
    scans: u64,
    stops: u64,
    not_made: u64,
    started: u64,
    requirements: Vec<Asked>,
    cannot_tell: Vec<String>,
}

#[derive(Debug, Clone, Deserialize)]
struct Asked {
    missed: u64,
}

/// One part that was done.
struct Done {
    text: String,
    stood: bool,
}

impl Season {
    pub(super) fn run(&self) -> Status {
        let parts = self.parts()?;
        if let Some(folder) = &self.into {
            fs::create_dir_all(folder).map_err(|e| Failure::Said(format!("{}: {e}", folder.display())))?;
        }
        let threads = self.threads.map_or_else(cores::count, usize::from);
        let (mut account, mut out) = (Account::default(), io::stdout().lock());
        let bar = bar(if self.into.is_some() { parts.len().try_into().unwrap_or(0) } else { 0 });
        let program = program()?;
        let work = |(): &mut (), part: &Part| self.work(&program, part);
        cores::in_order(
            &parts,
            threads,
            || (),
            work,
            |done: Result<Done, Failure>| {
                let done = done?;
                if self.into.is_none() {
                    out.write_all(done.text.as_bytes())?;
                    out.flush()?;
                }
                bar.inc(1);
                account.add(&done)
            },
        )?;
        bar.finish_and_clear();
        if self.into.is_some() {
            match self.format {
                Shape::Json => document(&mut out, "season", &account)?,
                Shape::Text => account.say(&mut out)?,
            }
        }
        Ok(account.status)
    }

    fn parts(&self) -> Result<Vec<Part>, Failure> {
        let named = self.list.display().to_string();
        let said = |e: io::Error| Failure::Said(format!("{named}: {e}"));
        let read = if self.list == Path::new("-") {
            parts(&mut io::stdin().lock())
        } else {
            parts(&mut BufReader::new(fs::File::open(&self.list).map_err(said)?))
        };
        let mut all = read.map_err(said)?.map_err(|refused| {
            for line in first(refused.iter().map(|Refused { line, what }| format!("{named}, line {line}: {what}"))) {
                complain(&line);
            }
            Failure::Said(format!("{named} is no list of parts: nothing was done"))
        })?;
        if let Some(unknown) = self.one.iter().find(|one| !all.iter().any(|part| part.name == **one)) {
            return Err(Failure::Said(format!("{named} has no part {unknown:?}")));
        }
        all.retain(|part| self.one.is_empty() || self.one.contains(&part.name));
        Ok(all)
    }

    /// Does one part, if its result does not stand.
    fn work(&self, program: &str, part: &Part) -> Result<Done, Failure> {
        let path = self.into.as_ref().map(|folder| folder.join(format!("{}.json", part.name)));
        let there = path.as_ref().and_then(|path| fs::read(path).ok()).map(String::from_utf8);
        let stood = there.as_ref().and_then(|text| read_document::<Kept>(text.as_ref().ok()?, "part").ok());
        let mut outcome = match Inputs::of(program, part, self.over_gaps) {
            Err(fault) => Outcome::broken(&part.name, None, fault),
            Ok(inputs) => {
                if let (Some(stood), Some(Ok(text)), false) = (&stood, &there, self.again)
                    && stands(stood, &part.name, &inputs)
                {
                    return Ok(Done { text: text.clone(), stood: true });
                }
                cores::apart(|| judge(part, inputs.clone())).unwrap_or_else(|said| {
                    let fault = format!("this program failed at it ({said}): that is a fault of its own, please tell it to those who keep it");
                    Outcome::broken(&part.name, Some(inputs), fault)
                })
            }
        };
        // What was judged must be what the digests are of.
        if outcome.status < 2 && Inputs::of(program, part, self.over_gaps).ok() != outcome.inputs {
            let fault = "a file changed while it was read: do the part again".to_owned();
            outcome = Outcome::broken(&part.name, None, fault);
        }
        let foreign = there.is_some_and(|text| !text.is_ok_and(|text| begins_as_result(&text)));
        if let (true, Some(path)) = (foreign, &path) {
            let fault = format!(
                "{} is there and no result of a part: it is left as it is; delete it, or write the results into another folder",
                path.display()
            );
            outcome = Outcome::broken(&part.name, None, fault);
        }
        let mut text = Vec::new();
        line(&mut text, "part", &outcome)?;
        // A result is not lost to a part that cannot be done just now.
        let kept = outcome.status > 1 && stood.is_some_and(|stood| stood.status < 2);
        if let Some(path) = path.filter(|_| !foreign && !kept) {
            let mut to = Output::open(Some(&path))?;
            to.write_all(&text)?;
            to.finish()?;
        }
        Ok(Done { text: String::from_utf8_lossy(&text).into_owned(), stood: false })
    }
}

/// It was a result once, perhaps one that was cut short.
fn begins_as_result(text: &str) -> bool {
    let head: String = text.chars().take(60).collect();
    head.starts_with(r#"{"schema":"haltproof/"#) && head.contains(r#""kind":"part""#)
}

/// What a result was made of is the same. One of a part that could not be done is never kept.
fn stands(result: &Kept, name: &str, inputs: &Inputs) -> bool {
    result.name == name && result.status < 2 && result.inputs.as_ref() == Some(inputs)
}

impl Account {
    fn add(&mut self, done: &Done) -> Result<(), Failure> {
        let Kept { name, summary, fault, status, .. } = read_document(&done.text, "part")?;
        self.parts += 1;
        self.stood += u64::from(done.stood);
        self.broken += u64::from(status > 1);
        let mut why: Vec<String> = fault.into_iter().collect();
        if let Some(sums) = summary {
            let missed = sums.requirements.iter().fold(0_u64, |sum, asked| sum.saturating_add(asked.missed));
            for (sum, more) in [
                (&mut self.scans, sums.scans),
                (&mut self.stops, sums.stops),
                (&mut self.not_made, sums.not_made),
                (&mut self.started, sums.started),
                (&mut self.missed, missed),
            ] {
                *sum = sum.saturating_add(more);
            }
            for (count, what) in [
                (missed, "missed requirements"),
                (sums.not_made, "stops that the recording did not make"),
                (sums.started, "starts without the reset of a stop"),
            ] {
                if count > 0 {
                    why.push(format!("{count} {what}"));
                }
            }
            why.extend(sums.cannot_tell);
        }
        if status > 0 {
            self.status = 1;
            self.told.push(Told { name, status, why: why.join("; ") });
        }
        Ok(())
    }
    fn say(&self, to: &mut dyn Write) -> io::Result<()> {
        for Told { name, status, why } in &self.told {
            writeln!(to, "{:<12}{name}: {why}", if *status > 1 { "not done" } else { "to report" })?;
        }
        writeln!(
            to,
            "{} parts, {} of which stood already, {} not done: {} scans, {} stops, {} of which the recordings did not make, {} requirements missed",
            self.parts, self.stood, self.broken, self.scans, self.stops, self.not_made, self.missed
        )
    }
}
