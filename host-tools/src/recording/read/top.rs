//! The lines at the top of a recording.

use super::fault::{Bad, quoted};
use super::number::duration_us;

/// One row a scan, or one row a change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layout {
    /// One row a scan.
    Scan,
    /// One row a change.
    Change,
}

/// How the recording begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Starts {
    /// The controller started with the first row.
    PowerUp,
    /// The controller had been running.
    Running,
}

/// What the lines at the top say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Top {
    /// The layout.
    pub layout: Layout,
    /// How it begins.
    pub starts: Starts,
    /// Time stamps are true to this, in microseconds.
    pub stamps_us: u64,
    /// Decimal places that turn the time column into microseconds.
    pub(super) time_places: u32,
    /// Names of columns and their terminals.
    pub(super) columns: Vec<(String, String)>,
    /// Names to be passed over.
    pub(super) ignored: Vec<String>,
}

/// The lines read so far.
#[derive(Debug, Default)]
pub(super) struct Lines {
    version: bool,
    layout: Option<Layout>,
    time_places: Option<u32>,
    scan: bool,
    starts: Option<Starts>,
    stamps_us: Option<u64>,
    columns: Vec<(String, String)>,
    ignored: Vec<String>,
}

impl Lines {
    /// Takes one line, with its `#`.
    pub(super) fn take(&mut self, line: &[u8], station_scan_us: u32) -> Result<(), Bad> {
        let text = std::str::from_utf8(line)
            .map_err(|_| Bad::new("this line is no UTF-8", "text in UTF-8", "save the file as UTF-8"))?;
        let text = text.strip_prefix('#').unwrap_or(text).trim();
        if !self.version {
            if text == "haltproof recording 1" {
                self.version = true;
                return Ok(());
            }
            return Err(no_version(line));
        }
        if let Some(rest) = text.strip_prefix("column ") {
            let Some((name, terminal)) = rest.split_once(" is ") else {
                return Err(unknown(line));
            };
            self.columns.push((name.trim().to_owned(), terminal.trim().to_owned()));
            return Ok(());
        }
        if let Some(name) = text.strip_prefix("ignore ") {
            self.ignored.push(name.trim().to_owned());
            return Ok(());
        }
        let Some((word, value)) = text.split_once(':') else {
            return Err(unknown(line));
        };
        let value = value.trim();
        match word {
            "note" => Ok(()),
            "rows" => {
                let layout = match value {
                    "scan" => Layout::Scan,
                    "change" => Layout::Change,
                    _ => return Err(one_of(value, "`scan` or `change`")),
                };
                once(&mut self.layout, layout, word)
            }
            "time" => {
                let places = match value {
                    "us" => 0,
                    "ms" => 3,
                    "s" => 6,
                    _ => return Err(one_of(value, "`us`, `ms` or `s`")),
                };
                once(&mut self.time_places, places, word)
            }
            "scan" => {
                let us = duration_us(value).ok_or_else(|| one_of(value, "a time: `10 ms`"))?;
                if us != u64::from(station_scan_us) {
                    return Err(Bad::new(
                        format!("the recording has a scan every {us} us"),
                        format!("the scan of the rule file, {station_scan_us} us"),
                        "replay it with the rules it was recorded under, or as `rows: change` without this line",
                    ));
                }
                if std::mem::replace(&mut self.scan, true) {
                    return Err(twice(word));
                }
                Ok(())
            }
            "starts" => {
                let starts = match value {
                    "power-up" => Starts::PowerUp,
                    "running" => Starts::Running,
                    _ => return Err(one_of(value, "`power-up` or `running`")),
                };
                once(&mut self.starts, starts, word)
            }
            "stamps" => {
                let us = duration_us(value).ok_or_else(|| one_of(value, "a time: `100 ms`"))?;
                once(&mut self.stamps_us, us, word)
            }
            _ => Err(unknown(line)),
        }
    }

    /// All lines are read: is everything there?
    pub(super) fn whole(self, station_scan_us: u32) -> Result<Top, Bad> {
        if !self.version {
            return Err(no_version(b"the header row"));
        }
        let missing = |what: &str| {
            Bad::new(
                format!("no line `{what}` above the header row"),
                format!("`{what}`"),
                "add the line at the top of the file",
            )
        };
        Ok(Top {
            layout: self.layout.ok_or_else(|| missing("# rows: scan"))?,
            time_places: self.time_places.ok_or_else(|| missing("# time: ms"))?,
            starts: self.starts.unwrap_or(Starts::Running),
            stamps_us: self.stamps_us.unwrap_or(u64::from(station_scan_us)),
            columns: self.columns,
            ignored: self.ignored,
        })
    }
}

fn once<T>(cell: &mut Option<T>, value: T, word: &str) -> Result<(), Bad> {
    match cell.replace(value) {
        None => Ok(()),
        Some(_) => Err(twice(word)),
    }
}

fn twice(word: &str) -> Bad {
    Bad::new(format!("`# {word}:` stands here for the second time"), "each line once", "remove one of the two")
}

fn one_of(value: &str, expected: &str) -> Bad {
    Bad::new(format!("{} is not understood", quoted(value.as_bytes())), expected, "write one of these")
}

pub(super) fn unknown(line: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no line of a recording", quoted(line)),
        "`# rows:`, `# time:`, `# scan:`, `# starts:`, `# stamps:`, `# column NAME is TERMINAL`, \
         `# ignore NAME` at the top; `# note:`, `# power-up`, `# end:` between rows",
        "write a remark as `# note: TEXT`",
    )
}

fn no_version(line: &[u8]) -> Bad {
    Bad::new(
        format!("{} stands where the file must say what it is", quoted(line)),
        "`# haltproof recording 1` as the first line",
        "add the line; `haltproof manual recordings` describes the format",
    )
}
