//! A season of recordings, part by part: each part is some rule files and some recordings, and comes to one result.
//!
//! A result holds the digests of everything it was made of, so that whoever asks for it again knows whether it still stands. Parts have nothing
//! in common: they can be worked on in any order, at once, and on several machines.

use crate::digest::hex;
use crate::load::load;
use crate::recording::read::Mapping;
use crate::recording::sequence::Sequence;
use crate::replay::event::{Event, Kind, What, is_start};
use crate::replay::{Broke, Sink, Summary, replay};
use crate::runner::with_runner;
use crate::station::Station;
use crate::text::finding::Level;
use crate::text::parse::Source;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, HashSet};
use std::fs::File;
use std::io::{self, BufRead, Read};
use std::path::{Path, PathBuf};

/// A part of a season, as its line in the list says.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Its name, which its result bears.
    pub name: String,
    /// Rule files, read as one station.
    pub rules: Vec<PathBuf>,
    /// Recordings in the order of time, read as one.
    pub recordings: Vec<PathBuf>,
    /// The lines at their top, where they do not stand there themselves.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mapping: Option<PathBuf>,
}

/// A list of parts that cannot be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// Line, from 1.
    pub line: usize,
    /// What is wrong, and how to mend it.
    pub what: String,
}

/// More parts than this are no list of one season.
const MOST_PARTS: usize = 100_000;
/// A line is no longer than this, in bytes.
const LONGEST_LINE: u64 = 1 << 16;
/// A name is no longer than this, in letters.
const LONGEST_NAME: usize = 100;

/// Reads a list of parts: a JSON object a line.
///
/// # Errors
/// Every line that is no part, or has the name of one before it.
pub fn parts(from: &mut dyn BufRead) -> io::Result<Result<Vec<Part>, Vec<Refused>>> {
    let (mut parts, mut refused, mut names) = (Vec::new(), Vec::new(), HashSet::new());
    let mut bytes = Vec::new();
    for number in 1.. {
        bytes.clear();
        let read = (&mut *from).take(LONGEST_LINE).read_until(b'\n', &mut bytes)?;
        if read == 0 {
            break;
        }
        if number > MOST_PARTS {
            refused.push(Refused { line: number, what: format!("more than {MOST_PARTS} lines: give several lists") });
            break;
        }
        if !bytes.ends_with(b"\n") && u64::try_from(read).is_ok_and(|read| read == LONGEST_LINE) {
            refused.push(Refused {
                line: number,
                what: format!("longer than {LONGEST_LINE} bytes: give its files as several parts"),
            });
            // What is left of the line.
            while !matches!(bytes.last(), Some(b'\n') | None) {
                bytes.clear();
                (&mut *from).take(LONGEST_LINE).read_until(b'\n', &mut bytes)?;
            }
            continue;
        }
        let Ok(line) = std::str::from_utf8(&bytes) else {
            refused.push(Refused { line: number, what: "this is no UTF-8".to_owned() });
            continue;
        };
        if line.trim().is_empty() {
            continue;
        }
        match part(line) {
            Ok(part) if !names.insert(part.name.clone()) => {
                let what =
                    format!("the name {:?} stands twice: a result bears it, so give each part its own", part.name);
                refused.push(Refused { line: number, what });
            }
            Ok(part) => parts.push(part),
            Err(what) => refused.push(Refused { line: number, what }),
        }
    }
    Ok(if refused.is_empty() { Ok(parts) } else { Err(refused) })
}

fn part(line: &str) -> Result<Part, String> {
    let example = r#"{"name": "drive-07-01", "rules": ["drive.rules"], "recordings": ["07-01.csv.gz"]}"#;
    let part: Part =
        serde_json::from_str(line).map_err(|error| format!("this is no part ({error}); write it as {example}"))?;
    let fits = |c: char| c.is_ascii_alphanumeric() || "._-".contains(c);
    if part.name.is_empty()
        || part.name.len() > LONGEST_NAME
        || part.name.starts_with(['.', '-', '_'])
        || !part.name.chars().all(fits)
    {
        return Err(format!(
            "{:?} names no file everywhere: up to {LONGEST_NAME} letters, digits, `_`, `-` and `.`, the first a letter or a digit",
            part.name
        ));
    }
    if part.rules.is_empty() || part.recordings.is_empty() {
        return Err("a part has at least one rule file and one recording".to_owned());
    }
    if part.rules.iter().chain(&part.recordings).chain(&part.mapping).any(|path| path == Path::new("-")) {
        return Err("`-` is no file: a part is read again when its digest is taken".to_owned());
    }
    Ok(part)
}

/// A file that a result was made of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Made {
    /// Its path, as given.
    pub path: String,
    /// SHA-256 of its bytes, as they lie on the disk.
    pub sha256: String,
}

/// Everything a result was made of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Inputs {
    /// The program: its version and what tells one build from another.
    pub program: String,
    /// Rule files.
    pub rules: Vec<Made>,
    /// Recordings.
    pub recordings: Vec<Made>,
    /// The lines at their top.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mapping: Option<Made>,
    /// Gaps within a file were gone over.
    pub over_gaps: bool,
}

impl Inputs {
    /// Takes the digests of a part.
    ///
    /// # Errors
    /// The file that cannot be read.
    pub fn of(program: &str, part: &Part, over_gaps: bool) -> Result<Self, String> {
        let all = |paths: &[PathBuf]| paths.iter().map(|path| made(path)).collect::<Result<Vec<_>, _>>();
        Ok(Self {
            program: program.to_owned(),
            rules: all(&part.rules)?,
            recordings: all(&part.recordings)?,
            mapping: part.mapping.as_deref().map(made).transpose()?,
            over_gaps,
        })
    }
}

/// The running program: its version and the SHA-256 of its file.
///
/// # Errors
/// If its file cannot be read: then nobody could tell whether a result is this program's.
pub fn program() -> io::Result<String> {
    let made = made(&std::env::current_exe()?).map_err(io::Error::other)?;
    Ok(format!("{} {}", env!("CARGO_PKG_VERSION"), made.sha256))
}

fn made(path: &Path) -> Result<Made, String> {
    let named = path.display().to_string();
    let digest = || -> io::Result<String> {
        let (mut file, mut hash, mut piece) = (File::open(path)?, Sha256::new(), vec![0; 1 << 18]);
        if !file.metadata()?.is_file() {
            return Err(io::Error::other("no file that can be read twice, as its digest asks for"));
        }
        loop {
            match file.read(&mut piece)? {
                0 => return Ok(hex(&hash.finalize())),
                read => hash.update(piece.get(..read).unwrap_or_default()),
            }
        }
    };
    let sha256 = digest().map_err(|error| format!("{named}: {error}"))?;
    Ok(Made { path: named, sha256 })
}

/// What called for stops: how often, and how often the recording did not make them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Called {
    /// The stop.
    pub answer: String,
    /// The first cause of its first-out, in words.
    pub cause: String,
    /// Name of what tripped, or an empty one.
    pub name: String,
    /// Times, counterfactual ones left out.
    pub times: u64,
    /// Times that the recording did not make the stop.
    pub not_made: u64,
    /// The first of them, on the recording's clock, microseconds.
    pub first_us: u64,
}

/// The result of a part.
#[derive(Debug, Clone, Serialize)]
pub struct Outcome {
    /// Name of the part.
    pub name: String,
    /// What it was made of; none if that could not be read.
    pub inputs: Option<Inputs>,
    /// Title of the station.
    pub station: Option<String>,
    /// Its revision.
    pub revision: Option<u32>,
    /// The sums of the replay; none if it did not come to its end.
    pub summary: Option<Summary>,
    /// What called for stops, by its number of times.
    pub stops: Vec<Called>,
    /// Why there are no sums.
    pub fault: Option<String>,
    /// 0 all is well, 1 there is something to report, 2 it could not be done.
    pub status: u8,
}

impl Outcome {
    /// A part that could not be done.
    pub fn broken(name: &str, inputs: Option<Inputs>, fault: String) -> Self {
        let name = name.to_owned();
        Self {
            name,
            inputs,
            station: None,
            revision: None,
            summary: None,
            stops: Vec::new(),
            fault: Some(fault),
            status: 2,
        }
    }
}

/// What calls for stops, as a replay tells it. Its size is that of the station.
#[derive(Debug, Default)]
struct Calls {
    all: BTreeMap<Kind, Called>,
    /// The last stop, as long as it is open whether the recording makes it.
    last: Option<(Kind, Called)>,
}

impl Calls {
    /// The recording runs on, or starts, in spite of the last stop: then that of a start counts, too.
    fn unheeded(&mut self) -> Option<&mut Called> {
        let (key, called) = self.last.take()?;
        let is_start = is_start(&key);
        let called = self.all.entry(key).or_insert(called);
        called.times += u64::from(is_start);
        Some(called)
    }
}

impl Sink for Calls {
    fn looks(&self) -> bool {
        false
    }
    fn event(&mut self, event: &Event) -> io::Result<()> {
        match &event.what {
            What::Stop { answer, causes, .. } if !event.counterfactual => {
                self.last = None;
                let Some(cause) = causes.first() else { return Ok(()) };
                let key = cause.kind(answer);
                let called = Called {
                    answer: answer.clone(),
                    cause: cause.words.clone(),
                    name: cause.name.clone(),
                    times: 0,
                    not_made: 0,
                    first_us: event.at_us,
                };
                if !is_start(&key) {
                    self.all.entry(key.clone()).or_insert_with(|| called.clone()).times += 1;
                }
                self.last = Some((key, called));
            }
            What::WentOn => {
                if let Some(called) = self.unheeded() {
                    called.not_made += 1;
                }
            }
            What::Started => {
                self.unheeded();
            }
            What::Reset | What::PowerUp | What::Gap { .. } => self.last = None,
            _ => {}
        }
        Ok(())
    }
}

fn mapped(path: &Path, station: &Station) -> Result<Mapping, String> {
    let named = path.display();
    let bytes = std::fs::read(path).map_err(|error| format!("{named}: {error}"))?;
    Mapping::read(&bytes, station).map_err(|fault| format!("{named}, {fault}"))
}

/// Judges a part of which the digests have been taken.
pub fn judge(part: &Part, inputs: Inputs) -> Outcome {
    let over_gaps = inputs.over_gaps;
    let mut sources = Vec::new();
    for path in &part.rules {
        match std::fs::read(path) {
            Ok(bytes) => sources.push(Source { path: path.display().to_string(), bytes }),
            Err(error) => return Outcome::broken(&part.name, Some(inputs), format!("{}: {error}", path.display())),
        }
    }
    let loaded = load(sources);
    let Some(station) = &loaded.station else {
        let errors = loaded.findings.iter().filter(|finding| finding.level == Level::Error).count();
        let fault = format!("the rule files make no station: {errors} errors; `haltproof check` says more");
        return Outcome::broken(&part.name, Some(inputs), fault);
    };
    let mapping = match part.mapping.as_deref().map(|path| mapped(path, station)).transpose() {
        Ok(mapping) => mapping,
        Err(fault) => return Outcome::broken(&part.name, Some(inputs), fault),
    };
    let mut calls = Calls::default();
    let replayed = Sequence::open(station, &part.recordings, mapping, over_gaps)
        .map_err(|(name, fault)| format!("{name}, {fault}"))
        .and_then(|mut reader| {
            let done = with_runner(station, |runner| replay(station, &mut reader, runner, &mut calls, &mut |_| {}));
            let done = done.map_err(|fault| format!("the station is no plan: {fault:?}"))?;
            done.map_err(|broke| match broke {
                Broke::Read(fault) => format!("{}, {fault}", reader.file()),
                Broke::Write(error) => error.to_string(),
            })
        });
    let summary = match replayed {
        Ok(summary) => summary,
        Err(fault) => return Outcome::broken(&part.name, Some(inputs), fault),
    };
    let mut stops: Vec<Called> = calls.all.into_values().collect();
    stops.sort_by(|a, b| {
        b.times.cmp(&a.times).then_with(|| (&a.answer, &a.cause, &a.name).cmp(&(&b.answer, &b.cause, &b.name)))
    });
    Outcome {
        name: part.name.clone(),
        inputs: Some(inputs),
        station: Some(station.title.clone()),
        revision: Some(station.revision),
        status: summary.status(),
        summary: Some(summary),
        stops,
        fault: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(text: &str) -> Vec<Refused> {
        parts(&mut text.as_bytes()).unwrap().unwrap_err()
    }

    #[test]
    fn a_list_is_taken_whole_or_not_at_all() {
        let line =
            |name: &str| format!(r#"{{"name": "{name}", "rules": ["a.rules"], "recordings": ["b.csv", "c.csv"]}}"#);
        let text = [line("a-1"), String::new(), line("a-2")].join("\n");
        assert_eq!(parts(&mut text.as_bytes()).unwrap().unwrap().len(), 2);
        let wrong = [
            line("a"),
            line("a"),
            line("../a"),
            line(".a"),
            "{".to_owned(),
            line("b").replace("\"b.csv\", \"c.csv\"", ""),
        ];
        let lines: Vec<usize> = refused(&wrong.join("\n")).iter().map(|refused| refused.line).collect();
        assert_eq!(lines, [2, 3, 4, 5, 6]);
        // A line that is too long is one line, and a letter cut in two is no end of the list.
        let long = [line("a"), format!("{}{}", "x".repeat(65_535), "ü".repeat(40_000)), line("_b"), line("c")];
        let told: Vec<(usize, bool)> =
            refused(&long.join("\n")).iter().map(|refused| (refused.line, refused.what.contains("longer"))).collect();
        assert_eq!(told, [(2, true), (3, false)]);
        assert!(refused(&line("a").replace("b.csv", "-"))[0].what.contains("`-`"));
        assert!(refused(&line("a").replace("rules", "ruler"))[0].what.contains("ruler"));
    }
}
