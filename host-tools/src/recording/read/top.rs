//! The lines at the top of a recording.

use std::collections::BTreeMap;

use super::clock::{Clock, Zone};
use super::fault::{Bad, quoted};
use super::linear::Scaling;
use super::marks::Marks;
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
    /// How fields and numbers are written.
    pub(super) marks: Marks,
    /// How the time column is written.
    pub(super) clock: Clock,
    /// Names of columns and what they are.
    pub(super) columns: Named,
    /// Names to be passed over.
    pub(super) ignored: Vec<String>,
}

impl Top {
    /// What a recording says of itself in which no line stands.
    pub(super) fn bare(station_scan_us: u32) -> Self {
        Self {
            layout: Layout::Change,
            starts: Starts::Running,
            stamps_us: u64::from(station_scan_us),
            marks: Marks::default(),
            clock: Clock::Count(0, 1, b'.'),
            columns: Named::default(),
            ignored: Vec::new(),
        }
    }

    /// Its times are dates, so that two recordings can be held against each other.
    pub fn is_dated(&self) -> bool {
        !self.clock.is_count()
    }

    /// What a line says of a column, as it is called in the file: with what looks like a unit behind its name, or without.
    pub(super) fn mapped(&self, text: &str, name: &str) -> Option<&Mapped> {
        self.columns.called(text).or_else(|| self.columns.called(name))
    }
}

/// What lines say of columns, one line for each name.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Named {
    all: Vec<Mapped>,
    places: BTreeMap<String, usize>,
}

impl Named {
    /// Takes what a line says; an error where another has spoken of that name.
    pub(super) fn add(&mut self, mapped: Mapped) -> Result<(), Bad> {
        let Mapped { name, .. } = &mapped;
        if self.places.insert(name.clone(), self.all.len()).is_some() {
            return Err(Bad::new(
                format!("a second line says what {} is", quoted(name.as_bytes())),
                "one line for each name",
                "remove one of the two",
            ));
        }
        self.all.push(mapped);
        Ok(())
    }
    /// What is said of a name.
    pub(super) fn called(&self, name: &str) -> Option<&Mapped> {
        self.all.get(*self.places.get(name)?)
    }
    /// All, in the order of their lines.
    pub(super) fn all(&self) -> &[Mapped] {
        &self.all
    }
}

/// What a line says of a column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Mapped {
    /// Its name in the file.
    pub(super) name: String,
    /// The terminal that it is, or `time`.
    pub(super) terminal: String,
    /// Its unit, where the name does not say it.
    pub(super) unit: Option<String>,
    /// What turns its numbers into that unit.
    pub(super) scaling: Option<Scaling>,
    /// A value holds where none stands, for so long in microseconds.
    pub(super) held_us: Option<u64>,
}

impl Mapped {
    /// Reads what stands behind `column`; none if nothing of a column does.
    pub(super) fn read(text: &str) -> Result<Option<Self>, Bad> {
        let Some((name, rest)) = text.split_once(" is ") else { return Ok(None) };
        let words: Vec<&str> = rest.split_whitespace().collect();
        let (words, held_us) = match words.as_slice() {
            [words @ .., "held", "for", number, unit] => {
                let text = format!("{number} {unit}");
                (words, Some(duration_us(&text).ok_or_else(|| one_of(&text, "a time: `held for 2 s`"))?))
            }
            words => (words, None),
        };
        let (terminal, unit, scaling) = match words {
            [] => return Ok(None),
            [terminal, "in", unit, scaling @ ..] => (terminal, Some((*unit).to_owned()), scaling),
            [terminal, scaling @ ..] => (terminal, None, scaling),
        };
        let scaling = Scaling::read(scaling)?;
        if *terminal == "time" && (unit.is_some() || scaling.is_some() || held_us.is_some()) {
            return Err(Bad::new(
                "the time has its unit in a line of its own",
                "`# column NAME is time`",
                "say its unit with `# time:`",
            ));
        }
        Ok(Some(Self { name: name.trim().to_owned(), terminal: (*terminal).to_owned(), unit, scaling, held_us }))
    }
}

/// The lines read so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Lines {
    version: bool,
    layout: Option<Layout>,
    separator: Option<u8>,
    decimal_sign: Option<u8>,
    clock: Option<Clock>,
    zone: Option<Zone>,
    scan: bool,
    starts: Option<Starts>,
    stamps_us: Option<u64>,
    columns: Named,
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
            return self.columns.add(Mapped::read(rest)?.ok_or_else(|| unknown(line))?);
        }
        if let Some(name) = text.strip_prefix("ignore")
            && (name.is_empty() || name.starts_with(' '))
        {
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
            "separator" => {
                let separator = Marks::separator_called(value);
                let expected = "`comma`, `semicolon` or `tab`";
                once(&mut self.separator, separator.ok_or_else(|| one_of(value, expected))?, word)
            }
            "decimal sign" => {
                let sign = Marks::decimal_sign_called(value);
                once(&mut self.decimal_sign, sign.ok_or_else(|| one_of(value, "`point` or `comma`"))?, word)
            }
            "time" => {
                let expected = "`ns`, `us`, `ms`, `s`, `date`, or how dates are written: `DD.MM.YYYY hh:mm:ss`";
                once(&mut self.clock, Clock::read(value).ok_or_else(|| one_of(value, expected))?, word)
            }
            "zone" => {
                let expected = "`UTC`, `+01:00`, or a zone of the time zone database: `Europe/Vienna`";
                once(&mut self.zone, Zone::read(value).ok_or_else(|| one_of(value, expected))?, word)
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

    /// What stands between fields, by the lines read so far.
    pub(super) fn separator(&self) -> u8 {
        self.separator.unwrap_or(Marks::default().separator)
    }
    /// The first line has said what this is.
    pub(super) fn begun(&self) -> bool {
        self.version
    }
    /// What the last `column` line said.
    pub(super) fn last_column(&self) -> Option<&Mapped> {
        self.columns.all().last()
    }
    /// The same for a dump, which has its own layout and times.
    pub(super) fn of_dump(self, station_scan_us: u32) -> Result<Top, Bad> {
        let of_rows = self.layout.is_some() || self.separator.is_some() || self.decimal_sign.is_some();
        if of_rows || self.clock.is_some() || self.zone.is_some() {
            return Err(Bad::new(
                "the mapping says how rows and times are written, and this is a dump, which says it itself",
                "`# column`, `# ignore`, `# starts:` and `# stamps:` for a dump",
                "give a dump a mapping of its own",
            ));
        }
        let Self { starts, stamps_us, columns, ignored, .. } = self;
        let top = Top::bare(station_scan_us);
        let (starts, stamps_us) = (starts.unwrap_or(top.starts), stamps_us.unwrap_or(top.stamps_us));
        Ok(Top { starts, stamps_us, columns, ignored, ..top })
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
                "add the line at the top of the file, or to its mapping",
            )
        };
        let marks = Marks::of_lines(self.separator, self.decimal_sign)?;
        let clock = self.clock.ok_or_else(|| missing("# time: ms"))?;
        Ok(Top {
            marks,
            layout: self.layout.ok_or_else(|| missing("# rows: scan"))?,
            clock: clock.within(self.zone, marks.decimal_sign)?,
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
        "`# rows:`, `# separator:`, `# decimal sign:`, `# time:`, `# zone:`, `# scan:`, `# starts:`, `# stamps:`, `# column NAME is TERMINAL`, \
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
