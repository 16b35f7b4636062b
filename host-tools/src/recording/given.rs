//! Recordings that are counted one by one: none twice, and where it matters in the order of time.

use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::path::{Path, PathBuf};

use super::read::Top;
use crate::date::instant;

/// Refuses a recording that is given twice, by whatever name and as whatever copy; one that was packed anew is another file.
///
/// # Errors
/// Which, in words.
pub fn each_once(paths: &[PathBuf]) -> Result<(), String> {
    for (number, path) in paths.iter().enumerate() {
        if let Some(before) = paths.iter().take(number).find(|before| is_same(before, path)) {
            let copy = if before == path { String::new() } else { format!(", also as {}", before.display()) };
            return Err(format!("{}: it is given twice{copy}, and what is in it would count twice", path.display()));
        }
    }
    Ok(())
}

/// Two files hold the same bytes. What cannot be read is told where it is read.
fn is_same(one: &Path, other: &Path) -> bool {
    if one == other {
        return true;
    }
    let length = |path: &Path| path.metadata().ok().filter(std::fs::Metadata::is_file).map(|about| about.len());
    match (length(one), length(other)) {
        (Some(length), Some(same)) if length == same => are_equal(one, other).unwrap_or(false),
        _ => false,
    }
}

fn are_equal(one: &Path, other: &Path) -> io::Result<bool> {
    let (mut one, mut other) = (BufReader::new(File::open(one)?), BufReader::new(File::open(other)?));
    loop {
        let (mine, theirs) = (one.fill_buf()?, other.fill_buf()?);
        let both = mine.len().min(theirs.len());
        if both == 0 {
            return Ok(mine.len() == theirs.len());
        }
        if mine.get(..both) != theirs.get(..both) {
            return Ok(false);
        }
        one.consume(both);
        other.consume(both);
    }
}

/// The time of a recording, from its first scan to its last, microseconds.
#[derive(Debug, Clone, Copy, Default)]
pub struct Span(Option<[u64; 2]>);

impl Span {
    /// Takes a scan.
    pub fn take(&mut self, at_us: u64) {
        let [first, last] = self.0.unwrap_or([at_us; 2]);
        self.0 = Some([first.min(at_us), last.max(at_us)]);
    }
}

/// Times of recordings whose rows are dated; others may all count from 0.
#[derive(Debug, Default)]
pub struct Spans(Vec<(String, [u64; 2])>);

impl Spans {
    /// Takes the time of a recording.
    ///
    /// # Errors
    /// If some of it is that of one before it; or, where they are to be in order, it does not come behind all before it.
    pub fn take(&mut self, name: &str, top: &Top, span: Span, in_order: bool) -> Result<(), String> {
        let Some([first, last]) = span.0.filter(|_| top.is_dated()) else { return Ok(()) };
        let at = |us: u64| instant(us).unwrap_or_else(|| us.to_string());
        for (before, [from, to]) in &self.0 {
            if first <= *to && *from <= last {
                return Err(format!(
                    "{name}: it holds {} to {}, and some of that is in {before} already, from {} to {}: it would count twice",
                    at(first),
                    at(last),
                    at(*from),
                    at(*to)
                ));
            }
            if in_order && last < *from {
                return Err(format!(
                    "{name}: it ends at {}, before {before} begins at {}: give recordings in the order of time",
                    at(last),
                    at(*from)
                ));
            }
        }
        self.0.push((name.to_owned(), [first, last]));
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::{Span, Spans, each_once};
    use crate::recording::read::Reader;
    use crate::testing::small_station;
    use std::fs;

    #[test]
    fn a_copy_is_given_twice() {
        let folder = std::env::temp_dir().join(format!("haltproof-given-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        let write = |name: &str, text: &str| {
            let path = folder.join(name);
            fs::write(&path, text).unwrap();
            path
        };
        let long = "0,1\n".repeat(10_000);
        let [one, copy] = ["one", "copy"].map(|name| write(name, &long));
        let [other, shorter] = [write("other", &(long[4..].to_owned() + "1,1\n")), write("shorter", &long[4..])];
        let missing = folder.join("missing");
        assert_eq!(each_once(&[one.clone(), other, shorter, missing.clone()]), Ok(()));
        assert!(each_once(&[one.clone(), copy]).unwrap_err().contains("it is given twice, also as"));
        assert!(each_once(&[missing.clone(), one, missing]).unwrap_err().ends_with("what is in it would count twice"));
        fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn dated_recordings_have_times_of_their_own() {
        let station = small_station();
        let top = |time: &str| {
            let text = format!(
                "# haltproof recording 1\n# rows: scan\n# time: {time}\ntime,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n"
            );
            Reader::open(text.as_bytes(), &station).unwrap().top().clone()
        };
        let (dated, counted) = (top("date"), top("ms"));
        let span = |from: u64, to: u64| {
            let mut span = Span::default();
            span.take(from * 1_000_000);
            span.take(to * 1_000_000);
            span
        };
        let mut spans = Spans::default();
        let day = 1_800_000_000;
        assert_eq!(spans.take("b", &dated, span(day + 100, day + 200), true), Ok(()));
        assert!(spans.take("c", &dated, span(day + 200, day + 300), true).unwrap_err().contains("would count twice"));
        assert!(spans.take("a", &dated, span(day, day + 50), true).unwrap_err().contains("in the order of time"));
        assert_eq!(spans.take("a", &dated, span(day, day + 50), false), Ok(()));
        assert_eq!(spans.take("empty", &dated, Span::default(), true), Ok(()));
        // Loggers that count from 0 say nothing of when.
        assert_eq!(spans.take("counted", &counted, span(day, day + 50), true), Ok(()));
    }
}
