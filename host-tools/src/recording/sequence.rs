//! Several recordings in the order of time, as one.
//!
//! Where one goes on a scan after the one before, nobody sees the seam. Where it does not (a night, a clock that was set, a logger of which each
//! file counts from 0) there is a gap: what happened in it is not known, and is not made up.

use std::collections::VecDeque;
use std::io::{BufRead, ErrorKind};
use std::path::{Path, PathBuf};

use super::read::{Counted, Mapping, ReadFault, Reader, Scans, Starts, Step, Top};
use super::source::{Source, open};
use crate::sample::Sample;
use crate::station::Station;
use crate::stays::{Room, Stays};

/// Recordings, one after the other. Each is opened when the one before is over.
pub struct Sequence<'s> {
    station: &'s Station,
    coming: VecDeque<PathBuf>,
    over_gaps: bool,
    mapping: Option<Mapping>,
    name: String,
    reader: Reader<'s, Box<dyn BufRead>>,
    top: Top,
    last_us: Option<u64>,
    /// Steps that were looked at and not given yet.
    ahead: VecDeque<Step>,
    before: Counted,
    bytes: u64,
    length: u64,
}

impl<'s> Sequence<'s> {
    /// Opens the first. `mapping` holds the lines at the top of all, where they do not stand there themselves. `over_gaps` goes on after gaps, clock steps and doubled rows within a file, and counts them.
    ///
    /// # Errors
    /// The name of the file, and what is wrong with it.
    pub fn open(
        station: &'s Station,
        paths: &[PathBuf],
        mapping: Option<Mapping>,
        over_gaps: bool,
    ) -> Result<Self, (String, ReadFault)> {
        let mut coming: VecDeque<PathBuf> = paths.iter().cloned().collect();
        let path = coming.pop_front().unwrap_or_else(|| PathBuf::from("-"));
        let name = path.display().to_string();
        let (reader, length) =
            reader(station, &path, mapping.as_ref(), over_gaps).map_err(|fault| (name.clone(), fault))?;
        let length = if coming.is_empty() { length } else { 0 };
        let top = reader.top().clone();
        let (last_us, ahead, before) = (None, VecDeque::new(), Counted::default());
        Ok(Self { station, coming, over_gaps, mapping, name, reader, top, last_us, ahead, before, bytes: 0, length })
    }
    /// The name of the file that is being read.
    pub fn file(&self) -> &str {
        &self.name
    }

    /// How many bytes there are; 0 where that is not known.
    pub fn length(&self) -> u64 {
        self.length
    }

    /// Opens the next file, and sees how it goes on.
    fn next(&mut self, path: &Path) -> Result<(), ReadFault> {
        self.before = self.before.and(self.reader.counted());
        self.bytes += self.reader.bytes();
        self.name = path.display().to_string();
        self.reader = reader(self.station, path, self.mapping.as_ref(), self.over_gaps)?.0;
        let Top { starts, stamps_us, .. } = *self.reader.top();
        if stamps_us != self.top.stamps_us {
            return Err(fault(
                format!(
                    "its time stamps are true to {stamps_us} us, those of the recordings before to {} us",
                    self.top.stamps_us
                ),
                "recordings of one kind",
                "replay it by itself",
            ));
        }
        self.ahead.push_back(Step::Recording);
        if let Some(last_us) = self.last_us {
            self.reader.follows(last_us);
        }
        let step = self.reader.advance()?;
        if self.last_us.is_none() && starts != self.top.starts {
            return Err(fault(
                "it starts otherwise than the recordings before it, and those hold no scan".into(),
                "a first recording with scans",
                "leave the empty ones out",
            ));
        }
        if starts == Starts::PowerUp {
            self.ahead.push_back(Step::PowerUp);
        } else if let (Step::Scan { at_us }, Some(from_us)) = (step, self.last_us) {
            let scan_us = u64::from(self.station.scan_us);
            let off = at_us.abs_diff(from_us.saturating_add(scan_us));
            if at_us <= from_us || 2 * off > scan_us {
                self.ahead.push_back(Step::Gap { from_us, to_us: at_us });
            }
        }
        // An empty file has nothing to go on with.
        if step != Step::End {
            self.ahead.push_back(step);
        }
        Ok(())
    }
}

impl Scans for Sequence<'_> {
    fn advance(&mut self) -> Result<Step, ReadFault> {
        let step = loop {
            if let Some(step) = self.ahead.pop_front() {
                break step;
            }
            let step = self.reader.advance()?;
            if step != Step::End {
                break step;
            }
            let Some(path) = self.coming.pop_front() else { return Ok(Step::End) };
            self.next(&path)?;
        };
        if let Step::Scan { at_us } = step {
            self.last_us = Some(at_us);
        }
        Ok(step)
    }
    fn sample(&self) -> &Sample {
        self.reader.sample()
    }
    fn repeats(&mut self) -> bool {
        self.ahead.is_empty() && self.reader.repeats()
    }
    fn pass(&mut self, stays: Stays, rooms: &[Room]) -> u32 {
        let scans = if self.ahead.is_empty() { self.reader.pass(stays, rooms) } else { 0 };
        let lasted = u64::from(scans) * u64::from(self.station.scan_us);
        self.last_us = self.last_us.map(|last| last.saturating_add(lasted));
        scans
    }
    fn top(&self) -> &Top {
        &self.top
    }
    fn bytes(&self) -> u64 {
        self.bytes + self.reader.bytes()
    }
    fn counted(&self) -> Counted {
        self.before.and(self.reader.counted())
    }
    fn name(&self) -> Option<&str> {
        Some(&self.name)
    }
}

/// A file, and its length.
fn reader<'s>(
    station: &'s Station,
    path: &Path,
    mapping: Option<&Mapping>,
    over_gaps: bool,
) -> Result<(Reader<'s, Box<dyn BufRead>>, u64), ReadFault> {
    let Source { bytes, length } = open(path).map_err(|error| {
        let mend = match error.kind() {
            ErrorKind::Unsupported => "build it so, or export the recording as CSV",
            ErrorKind::InvalidData => "copy or write the recording anew",
            _ => "is the name right?",
        };
        fault(error.to_string(), "a recording", mend)
    })?;
    let reader = Reader::mapped(bytes, station, mapping)?;
    Ok((if over_gaps { reader.over_gaps() } else { reader }, length))
}

/// What is wrong with a file as a whole.
fn fault(what: String, expected: &str, mend: &str) -> ReadFault {
    ReadFault { line: 1, column: 1, what, expected: expected.into(), mend: mend.into() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::small_station;
    use std::fs;

    const TOP: &str = "# haltproof recording 1\n# rows: scan\n# time: ms\n";
    const HEAD: &str = "time,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n";

    fn rows(times: &[u64]) -> String {
        let rows: Vec<String> = times.iter().map(|at| format!("{at},0,0,0,4,{},\n", at / 10)).collect();
        format!("{TOP}{HEAD}{}", rows.concat())
    }
    /// Files of these texts, read as one.
    fn read(name: &str, texts: &[String], over_gaps: bool) -> Result<(Vec<Step>, Counted), String> {
        read_with(name, texts, over_gaps, |at_us, travel| assert_eq!(u64::try_from(travel).unwrap(), at_us / 10_000))
    }
    fn read_with(
        name: &str,
        texts: &[String],
        over_gaps: bool,
        scan: impl Fn(u64, i32),
    ) -> Result<(Vec<Step>, Counted), String> {
        let folder = std::env::temp_dir().join(format!("haltproof-sequence-{name}-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let path = |(number, text): (usize, &String)| {
            let path = folder.join(format!("{number}.csv"));
            fs::write(&path, text).unwrap();
            path
        };
        let paths: Vec<PathBuf> = texts.iter().enumerate().map(path).collect();
        let station = small_station();
        let mut steps = Vec::new();
        let read = Sequence::open(&station, &paths, None, over_gaps).map_err(|(_, fault)| fault.to_string()).and_then(
            |mut all| {
                loop {
                    match all.advance().map_err(|fault| fault.to_string())? {
                        Step::End => return Ok(all.counted()),
                        step => steps.push(step),
                    }
                    if let Some(Step::Scan { at_us }) = steps.last() {
                        scan(*at_us, all.sample().travel[0]);
                    }
                }
            },
        );
        fs::remove_dir_all(&folder).unwrap();
        read.map(|counted| (steps, counted))
    }
    fn scans(times: &[u64]) -> Vec<Step> {
        times.iter().map(|at| Step::Scan { at_us: at * 1_000 }).collect()
    }

    #[test]
    fn what_goes_on_has_no_seam() {
        let texts = [rows(&[0, 10, 20]), rows(&[30, 40]), rows(&[51, 61])];
        let expected =
            [scans(&[0, 10, 20]), vec![Step::Recording], scans(&[30, 40]), vec![Step::Recording], scans(&[51, 61])];
        assert_eq!(read("seam", &texts, false).unwrap(), (expected.concat(), Counted::default()));
    }

    #[test]
    fn a_gap_a_clock_that_was_set_and_a_restart_are_told() {
        let gap = |from: u64, to: u64| vec![Step::Recording, Step::Gap { from_us: from * 1_000, to_us: to * 1_000 }];
        let texts = [rows(&[0, 10]), rows(&[90, 100]), rows(&[0, 10]), rows(&[10])];
        let expected =
            [scans(&[0, 10]), gap(10, 90), scans(&[90, 100]), gap(100, 0), scans(&[0, 10]), gap(10, 10), scans(&[10])];
        assert_eq!(read("gap", &texts, false).unwrap().0, expected.concat());
        let starts = rows(&[5]).replace("# time", "# starts: power-up\n# time");
        let expected = [scans(&[0]), vec![Step::Recording, Step::PowerUp], scans(&[5])];
        assert_eq!(read("power", &[rows(&[0]), starts], false).unwrap().0, expected.concat());
        // Nothing comes of a file without rows.
        let expected = [scans(&[0]), vec![Step::Recording, Step::Recording], scans(&[10])];
        assert_eq!(read("empty", &[rows(&[0]), rows(&[]), rows(&[10])], false).unwrap().0, expected.concat());
        let coarse = rows(&[10]).replace("# time", "# stamps: 50 ms\n# time");
        assert!(read("coarse", &[rows(&[0]), coarse], false).unwrap_err().contains("true to 50000 us"));
        assert!(read("broken", &[rows(&[0]), "x".into()], false).unwrap_err().starts_with("line 1, column 1"));
    }

    /// A file may begin within the hour that clocks show twice: it goes on where the one before ended.
    #[test]
    fn an_hour_that_comes_twice_goes_on() {
        let dated = |times: &[&str]| {
            let rows: Vec<String> =
                times.iter().zip(0..).map(|(at, n)| format!("2026-10-25 {at},0,0,0,4,{n},\n")).collect();
            format!("{}{HEAD}{}", TOP.replace("time: ms", "time: date\n# zone: Europe/Vienna"), rows.concat())
        };
        let (first, second) = (dated(&["01:59:59.99", "02:00:00.00"]), dated(&["02:00:00.01", "02:00:00.02"]));
        let at = 1_792_886_399_990;
        let read = |name, texts: &[String]| read_with(name, texts, false, |_, _| ()).map(|(steps, _)| steps);
        let expected = [scans(&[at, at + 10]), vec![Step::Recording], scans(&[at + 20, at + 30])].concat();
        assert_eq!(read("goes-on", &[first, second.clone()]).unwrap(), expected);
        assert!(read("alone", &[second]).unwrap_err().contains("twice, an hour apart"));
    }

    #[test]
    fn within_a_file_it_is_asked_for() {
        let times = [0, 10, 10, 20, 90, 100, 40, 50, 52, 62];
        assert!(read("refused", &[rows(&times)], false).is_err());
        let gap = |from: u64, to: u64| vec![Step::Gap { from_us: from * 1_000, to_us: to * 1_000 }];
        let expected = [
            scans(&[0, 10, 20]),
            gap(20, 90),
            scans(&[90, 100]),
            gap(100, 40),
            scans(&[40, 50]),
            gap(50, 52),
            scans(&[52, 62]),
        ];
        assert_eq!(
            read("asked", &[rows(&times)], true).unwrap(),
            (expected.concat(), Counted { doubled: 1, ..Counted::default() })
        );
        // The same time with something else in it is no doubled row.
        let other = format!("{}10,1,0,0,4,1,\n", rows(&[0, 10]));
        assert_eq!(read("other", &[other], true).unwrap().0, [scans(&[0, 10]), gap(10, 10), scans(&[10])].concat());
    }
}
