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

/// Times within which two recordings may overlap: a clock that was set, or rows that stand in both where one file ends and the next begins. Five minutes, common
/// practice, no source.
const SEAM_US: u64 = 300_000_000;
/// Pieces of one recording that are told apart.
const PIECES: usize = 1_000;

/// The time of a recording: pieces without a gap, from the first scan of each to its last, microseconds.
#[derive(Debug, Clone)]
pub struct Span {
    scan_us: u64,
    pieces: Vec<[u64; 2]>,
}

impl Span {
    /// Of scans that are so far apart.
    pub fn new(scan_us: u32) -> Self {
        Self { scan_us: scan_us.into(), pieces: Vec::new() }
    }
    /// Takes a scan.
    pub fn take(&mut self, at_us: u64) {
        let is_full = self.pieces.len() >= PIECES;
        match self.pieces.last_mut() {
            Some([_, last]) if at_us >= *last && (is_full || 2 * (at_us - *last) <= 3 * self.scan_us) => *last = at_us,
            Some([first, last]) if is_full => (*first, *last) = ((*first).min(at_us), (*last).max(at_us)),
            _ => self.pieces.push([at_us; 2]),
        }
    }
    /// Takes so many scans behind the last one.
    pub(crate) fn again(&mut self, scans: u32) {
        if let Some([_, last]) = self.pieces.last_mut() {
            *last = last.saturating_add(u64::from(scans) * self.scan_us);
        }
    }
}

/// Times of recordings whose rows are dated; others may all count from 0.
#[derive(Debug, Default)]
pub struct Spans(Vec<(String, Vec<[u64; 2]>)>);

/// How a recording is to stand to those before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// None of its time is theirs.
    Any,
    /// It begins behind the begin of each as well.
    OfTime,
}

impl Spans {
    /// Takes the time of a recording. What it tells, if it tells anything, is where a little of it is that of another.
    ///
    /// # Errors
    /// If much of it is that of one before it, or it is out of its order.
    pub fn take(&mut self, name: &str, top: &Top, span: Span, order: Order) -> Result<Option<String>, String> {
        if !top.is_dated() || span.pieces.is_empty() {
            return Ok(None);
        }
        let at = |us: u64| instant(us).unwrap_or_else(|| us.to_string());
        let mut told = None;
        for (before, pieces) in &self.0 {
            let pairs = span.pieces.iter().flat_map(|mine| pieces.iter().map(move |theirs| (mine, theirs)));
            let shared = pairs.map(|([first, last], [from, to])| [*from.max(first), *to.min(last)]);
            let shared: Vec<[u64; 2]> = shared.filter(|[from, to]| from <= to).collect();
            if let (Some([from, _]), Some([_, to])) = (shared.first(), shared.last()) {
                let both = format!("what it holds between {} and {} is in {before} as well", at(*from), at(*to));
                if shared.iter().map(|[from, to]| to - from).sum::<u64>() > SEAM_US {
                    return Err(format!("{name}: {both}, and would count twice"));
                }
                told = Some(format!("{name}: {both}: was the clock set, or do rows stand in both?"));
            }
            let begins = |pieces: &[[u64; 2]]| pieces.iter().map(|[first, _]| *first).min();
            if order == Order::OfTime && begins(&span.pieces) < begins(pieces) {
                return Err(format!("{name}: it begins before {before} does: give recordings in the order of time"));
            }
        }
        self.0.push((name.to_owned(), span.pieces));
        Ok(told)
    }
}

#[cfg(test)]
mod tests {
    use super::{Order, Span, Spans, each_once};
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
        // Hours of a day, each a piece.
        let span = |pieces: &[[u64; 2]]| {
            let mut span = Span::new(10_000);
            for [from, to] in pieces.iter().map(|piece| piece.map(|minute| (1_800_000_000 + minute * 60) * 1_000_000)) {
                span.take(from);
                span.again(u32::try_from((to - from) / 10_000).unwrap());
            }
            span
        };
        let mut spans = Spans::default();
        assert_eq!(spans.take("b", &dated, span(&[[60, 120], [240, 300]]), Order::OfTime), Ok(None));
        // Another may lie where that was not.
        assert_eq!(spans.take("c", &dated, span(&[[130, 230]]), Order::OfTime), Ok(None));
        let twice = spans.take("d", &dated, span(&[[290, 400]]), Order::Any).unwrap_err();
        assert!(
            twice.starts_with("d: what it holds between 2027-01-15T12:50:00")
                && twice.contains("in b as well, and would count twice"),
            "{twice}"
        );
        // So are many pieces, of which none is long.
        let short: Vec<[u64; 2]> = (0..20).map(|piece| [60 + 2 * piece, 61 + 2 * piece]).collect();
        assert!(spans.take("many", &dated, span(&short), Order::Any).unwrap_err().contains("would count twice"));
        // A minute that stands in both is told.
        let seam = spans.take("e", &dated, span(&[[299, 400]]), Order::OfTime).unwrap().unwrap();
        assert!(seam.contains("is in b as well: was the clock set"), "{seam}");
        assert!(spans.take("a", &dated, span(&[[0, 50]]), Order::OfTime).unwrap_err().contains("in the order of time"));
        assert_eq!(spans.take("a", &dated, span(&[[0, 50]]), Order::Any), Ok(None));
        assert_eq!(spans.take("empty", &dated, span(&[]), Order::OfTime), Ok(None));
        // Loggers that count from 0 say nothing of when.
        assert_eq!(spans.take("counted", &counted, span(&[[0, 400]]), Order::OfTime), Ok(None));
    }

    #[test]
    fn many_pieces_become_one() {
        let mut span = Span::new(10_000);
        for piece in 0..3_000 {
            span.take(piece * 1_000_000);
            span.take(piece * 1_000_000 + 10_000);
        }
        assert_eq!(span.pieces.len(), 1_000);
        assert_eq!((span.pieces[0], span.pieces[999]), ([0, 10_000], [999_000_000, 2_999_010_000]));
    }
}
