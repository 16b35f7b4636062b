//! Writes a recording, scan by scan, in either layout, through a buffer of its own.

use std::io::{self, Write};

use crate::sample::{Frame, Health, Reading, Sample};
use crate::station::{Gauge, InputKind, Station};

mod fields;
#[cfg(test)]
mod tests;

pub(in crate::recording) use fields::field;
pub(crate) use fields::signals;
use fields::{current, decimal};

/// How the rows are laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Rows {
    /// One row a scan.
    #[default]
    Scan,
    /// One row a change.
    Change,
}

/// Unit of the time column.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Clock {
    /// Microseconds.
    Micro,
    /// Milliseconds.
    #[default]
    Milli,
    /// Seconds.
    Second,
}

impl Clock {
    /// Name of the unit, and how many microseconds it has.
    fn unit(self) -> (&'static str, u64) {
        match self {
            Self::Micro => ("us", 1),
            Self::Milli => ("ms", 1_000),
            Self::Second => ("s", 1_000_000),
        }
    }
}

/// What a recording looks like.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Style {
    /// Layout.
    pub rows: Rows,
    /// Unit of the time column.
    pub clock: Clock,
    /// The controller started with the first scan.
    pub powers_up: bool,
    /// Gauges in their own unit instead of mA.
    pub values: bool,
    /// Signals are called after the inputs of the rule file, mapped by `column` lines.
    pub named: bool,
    /// Remarks for the top.
    pub notes: Vec<String>,
}

/// Bytes gathered before they are handed on.
const ENOUGH: usize = 1 << 16;
/// End of a line, RFC 4180.
const END: &[u8] = b"\r\n";

/// A signal's name with its unit, as it stands in the file.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    pub(crate) name: String,
    pub(crate) terminal: String,
    pub(crate) unit: String,
}

impl Column {
    fn title(&self) -> String {
        if self.unit.is_empty() { self.name.clone() } else { format!("{}[{}]", self.name, self.unit) }
    }
}

/// A recording being written.
#[derive(Debug)]
pub struct Writer<'s, W: Write> {
    to: W,
    buffer: Vec<u8>,
    style: Style,
    gauges: Vec<Option<&'s Gauge>>,
    /// Titles of the signals, ready as a field: channels, gauges, counters, links.
    titles: [Vec<String>; 4],
    /// What was last written, for the layout of changes.
    last: Option<Sample>,
    begun: bool,
    at_us: u64,
}

impl<'s, W: Write> Writer<'s, W> {
    /// Writes the lines at the top.
    pub fn new(to: W, station: &'s Station, style: Style) -> io::Result<Self> {
        let columns = signals(station, &style);
        let titles = columns.clone().map(|kind| kind.iter().map(|c| field(&c.title())).collect::<Vec<_>>());
        let gauges = (0..station.gauge_terminals.len()).map(|t| gauge(station, t)).collect();
        let buffer = Vec::with_capacity(ENOUGH + 4_096);
        let mut writer = Self { to, buffer, style, gauges, titles, last: None, begun: false, at_us: 0 };
        writer.top(station, &columns);
        writer.pass_on(ENOUGH)?;
        Ok(writer)
    }
    fn line(&mut self, text: &str) {
        self.buffer.extend_from_slice(text.as_bytes());
        self.buffer.extend_from_slice(END);
    }
    fn top(&mut self, station: &Station, columns: &[Vec<Column>; 4]) {
        self.line("# haltproof recording 1");
        let rows = match self.style.rows {
            Rows::Scan => "scan",
            Rows::Change => "change",
        };
        self.line(&format!("# rows: {rows}"));
        self.line(&format!("# time: {}", self.style.clock.unit().0));
        let mut scan = Vec::new();
        decimal(&mut scan, u64::from(station.scan_us), 1_000);
        self.line(&format!("# scan: {} ms", String::from_utf8_lossy(&scan)));
        self.line(if self.style.powers_up { "# starts: power-up" } else { "# starts: running" });
        for column in columns.iter().flatten().filter(|c| c.name != c.terminal) {
            self.line(&format!("# column {} is {}", column.name, column.terminal));
        }
        for note in std::mem::take(&mut self.style.notes) {
            // A remark is one line.
            self.line(&format!("# note: {}", note.replace(['\r', '\n'], " ")));
        }
        let header = match self.style.rows {
            Rows::Change => "time,signal,value".to_owned(),
            Rows::Scan => {
                let titles = self.titles.iter().flatten().map(String::as_str);
                std::iter::once("time").chain(titles).collect::<Vec<_>>().join(",")
            }
        };
        self.line(&header);
    }
    /// Writes a scan; `restarted` says that the controller started with it.
    pub fn scan(&mut self, at_us: u64, restarted: bool, sample: &Sample) -> io::Result<()> {
        if restarted && self.begun {
            self.line("# power-up");
            self.last = None;
        }
        self.begun = true;
        self.at_us = at_us;
        match self.style.rows {
            Rows::Scan => self.wide(sample)?,
            Rows::Change => self.changes(sample)?,
        }
        self.pass_on(ENOUGH)
    }
    /// Writes what is left and gives the target back.
    pub fn finish(mut self) -> io::Result<W> {
        if self.style.rows == Rows::Change && self.begun {
            self.buffer.extend_from_slice(b"# end: ");
            decimal(&mut self.buffer, self.at_us, self.style.clock.unit().1);
            self.buffer.extend_from_slice(END);
        }
        self.pass_on(1)?;
        self.to.flush()?;
        Ok(self.to)
    }
    fn pass_on(&mut self, enough: usize) -> io::Result<()> {
        if self.buffer.len() >= enough {
            self.to.write_all(&self.buffer)?;
            self.buffer.clear();
        }
        Ok(())
    }
    fn wide(&mut self, sample: &Sample) -> io::Result<()> {
        let values = self.style.values;
        let out = &mut self.buffer;
        decimal(out, self.at_us, self.style.clock.unit().1);
        for level in &sample.channels {
            out.extend_from_slice(if *level { b",1" } else { b",0" });
        }
        for (reading, gauge) in sample.gauges.iter().zip(&self.gauges) {
            out.push(b',');
            reading_field(out, *reading, *gauge, values)?;
        }
        for travel in &sample.travel {
            // Most counters stand or give a pulse or two; the general way is for the rest.
            match u8::try_from(*travel) {
                Ok(digit) if digit < 10 => out.extend_from_slice(&[b',', b'0' + digit]),
                _ => write!(out, ",{travel}")?,
            }
        }
        for frame in &sample.links {
            out.push(b',');
            if frame.fresh {
                write!(out, "{}", frame.order)?;
            }
        }
        out.extend_from_slice(END);
        Ok(())
    }
    fn changes(&mut self, sample: &Sample) -> io::Result<()> {
        let values = self.style.values;
        let (at_us, unit) = (self.at_us, self.style.clock.unit().1);
        let out = &mut self.buffer;
        let begin = |out: &mut Vec<u8>, title: &str| {
            decimal(out, at_us, unit);
            out.push(b',');
            out.extend_from_slice(title.as_bytes());
            out.push(b',');
        };
        let [channels, gauges, counters, links] = &self.titles;
        let last = self.last.as_ref();
        for (i, (level, title)) in sample.channels.iter().zip(channels).enumerate() {
            if last.and_then(|l| l.channels.get(i)) != Some(level) {
                begin(out, title);
                out.extend_from_slice(if *level { b"1\r\n" } else { b"0\r\n" });
            }
        }
        for (i, ((reading, title), gauge)) in sample.gauges.iter().zip(gauges).zip(&self.gauges).enumerate() {
            if last.and_then(|l| l.gauges.get(i)) != Some(reading) {
                begin(out, title);
                reading_field(out, *reading, *gauge, values)?;
                out.extend_from_slice(END);
            }
        }
        for (travel, title) in sample.travel.iter().zip(counters).filter(|t| *t.0 != 0) {
            begin(out, title);
            write!(out, "{travel}\r\n")?;
        }
        for (Frame { order, .. }, title) in sample.links.iter().zip(links).filter(|l| l.0.fresh) {
            begin(out, title);
            write!(out, "{order}\r\n")?;
        }
        match &mut self.last {
            Some(last) => {
                last.channels.clone_from(&sample.channels);
                last.gauges.clone_from(&sample.gauges);
            }
            None => self.last = Some(sample.clone()),
        }
        Ok(())
    }
}

/// The gauge on a terminal.
fn gauge(station: &Station, terminal: usize) -> Option<&Gauge> {
    station.inputs.iter().find_map(|i| match &i.kind {
        InputKind::Gauge(g) if g.terminal == terminal => Some(g),
        _ => None,
    })
}

/// Writes what a gauge shows: its current, or its value in its own unit.
fn reading_field(out: &mut Vec<u8>, reading: Reading, gauge: Option<&Gauge>, values: bool) -> io::Result<()> {
    let Some(gauge) = gauge else {
        out.push(b'0');
        return Ok(());
    };
    if !values {
        return current(out, reading, gauge);
    }
    match reading.health {
        Health::Broken => out.extend_from_slice(b"broken"),
        Health::Doubtful => out.extend_from_slice(b"doubtful"),
        Health::Good => {
            let value = (gauge.lowest + i64::from(reading.steps)) * gauge.step_micro;
            if value < 0 {
                out.push(b'-');
            }
            decimal(out, value.unsigned_abs(), 1_000_000);
        }
    }
    Ok(())
}
