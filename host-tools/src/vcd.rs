//! Writes a replay as a value change dump, which viewers of waveforms read: IEEE 1364-2005, clause 18.
//!
//! Scan by scan and only what changed, so that memory does not grow with the recording. No date is written: the same
//! recording gives the same bytes. Scans are one scan of the station apart, as they are when the dump is read again; stamps of a logger are
//! so but for what its clock wavers.

use std::io::{self, Write};

use vcd::{IdCode, SimulationCommand, TimescaleUnit, Value, VarType, Writer};

use crate::replay::event::{Event, What};
use crate::replay::{Seen, Sink, replay_all, tripped};
use crate::sample::{Health, Sample};
use crate::station::{InputKind, Station};
use crate::told::Scanned;

mod names;
#[cfg(test)]
mod tests;

use names::{Kind, Scope, scopes};

/// What a variable shows.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Shown {
    /// A bit; nothing is known of it in the lead-in.
    Bit(Option<bool>),
    /// A rank.
    Rank(u8),
    /// A number.
    Real(f64),
}

/// A dump being written.
pub struct Dump<'s, W: Write> {
    station: &'s Station,
    /// Millionths of its unit for a step of each gauge, and its lowest step.
    gauges: Vec<(i64, i64)>,
    /// What trips by the number of a way, as a place among what can trip.
    trips: Vec<usize>,
    /// How many there are.
    tripping: usize,
    to: Writer<W>,
    ids: Vec<IdCode>,
    /// What was last written, and what is to be written now.
    last: Vec<Shown>,
    now: Vec<Shown>,
    /// Time of the last scan, and the stamp that it had in the recording.
    at_us: Option<u64>,
    stamp_us: u64,
    /// The controller starts anew with the next scan.
    restarted: bool,
}

impl<'s, W: Write> Dump<'s, W> {
    /// Writes what comes before the first scan: the variables.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn new(to: W, station: &'s Station) -> io::Result<Self> {
        let mut to = Writer::new(to);
        to.version(concat!("haltproof ", env!("CARGO_PKG_VERSION")))?;
        to.comment(&names::plain(&station.about()))?;
        to.timescale(1, TimescaleUnit::US)?;
        let (tripping, trips) = tripped(station);
        let mut ids = Vec::new();
        for Scope { name, variables } in scopes(station, &tripping) {
            to.add_module(name)?;
            for (name, kind) in variables {
                ids.push(match kind {
                    Kind::Bit => to.add_wire(1, &name)?,
                    Kind::Rank => to.add_wire(u8::BITS, &name)?,
                    Kind::Real => to.add_var(VarType::Real, u64::BITS, &name, None)?,
                });
            }
            to.upscope()?;
        }
        let mut gauges = vec![(0, 0); station.gauge_terminals.len()];
        for input in &station.inputs {
            if let InputKind::Gauge(gauge) = &input.kind
                && let Some(place) = gauges.get_mut(gauge.terminal)
            {
                *place = (gauge.step_micro, gauge.lowest);
            }
        }
        let (last, now, tripping) = (Vec::new(), Vec::new(), tripping.len());
        Ok(Self { station, gauges, trips, tripping, to, ids, last, now, at_us: None, stamp_us: 0, restarted: false })
    }
    /// Writes what a scan changed.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn scan(&mut self, seen: &Seen<'_>) -> io::Result<()> {
        self.now.clear();
        self.inputs(seen.sample);
        self.rules(seen.scanned, seen.counterfactual);
        let (first, marked) = (self.at_us.is_none(), std::mem::take(&mut self.restarted));
        let next_us = self.at_us.map_or(0, |last_us| last_us.saturating_add(u64::from(self.station.scan_us)));
        let stamp_us = std::mem::replace(&mut self.stamp_us, seen.at_us);
        if marked && !first && seen.at_us <= stamp_us {
            return Err(io::Error::other(
                "a dump has one time that runs on, and the controller starts again at an earlier one: replay each part by itself",
            ));
        }
        let at_us = if first || marked { seen.at_us.max(next_us) } else { next_us };
        self.at_us = Some(at_us);
        let changed = |(i, shown): (usize, &Shown)| self.last.get(i) != Some(shown);
        if first {
            // Nothing is judged of one that was running, at first.
            let starts = if seen.scanned.is_none() { "starts running" } else { "starts power-up" };
            self.to.comment(starts)?;
            self.to.enddefinitions()?;
        }
        if first || marked || self.now.iter().enumerate().any(changed) {
            self.to.timestamp(at_us)?;
        }
        if first {
            self.to.begin(SimulationCommand::Dumpvars)?;
        }
        for (i, (&shown, &id)) in self.now.iter().zip(&self.ids).enumerate() {
            if self.last.get(i) == Some(&shown) {
                continue;
            }
            match shown {
                Shown::Bit(bit) => self.to.change_scalar(id, bit.map_or(Value::X, Value::from))?,
                Shown::Real(value) => self.to.change_real(id, value)?,
                Shown::Rank(rank) => {
                    let bits = (0..u8::BITS).rev().map(|i| Value::from(rank >> i & 1 == 1));
                    self.to.change_vector(id, bits)?;
                }
            }
        }
        if first {
            self.to.end()?;
        }
        std::mem::swap(&mut self.last, &mut self.now);
        Ok(())
    }
    /// The controller starts anew with the next scan.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn restart(&mut self) -> io::Result<()> {
        self.last_ends()?;
        self.restarted = true;
        self.to.comment("power-up")
    }
    /// The last scan lasts as long as all others: a dump ends with its last time.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn finish(mut self) -> io::Result<()> {
        self.last_ends()?;
        if self.at_us.is_none() {
            self.to.enddefinitions()?;
        }
        self.to.flush()
    }
    /// The last scan lasts as long as all others.
    fn last_ends(&mut self) -> io::Result<()> {
        match self.at_us {
            Some(at_us) => self.to.timestamp(at_us.saturating_add(u64::from(self.station.scan_us))),
            None => Ok(()),
        }
    }
    fn bit(&mut self, bit: bool) {
        self.now.push(Shown::Bit(Some(bit)));
    }
    #[expect(clippy::cast_precision_loss, reason = "values stay far below two to the power of 53")]
    fn inputs(&mut self, sample: &Sample) {
        for &level in &sample.channels {
            self.bit(level);
        }
        for (i, reading) in sample.gauges.iter().enumerate() {
            // What a gauge shows that cannot be believed is no value: it keeps its last one, and two bits say so.
            let (step, lowest) = self.gauges.get(i).copied().unwrap_or_default();
            let value = match reading.health {
                Health::Good => {
                    let micro = lowest.saturating_add(i64::from(reading.steps)).saturating_mul(step);
                    Shown::Real(micro as f64 / 1_000_000.0)
                }
                _ => self.last.get(self.now.len()).copied().unwrap_or(Shown::Real(0.0)),
            };
            self.now.push(value);
            self.bit(reading.health == Health::Doubtful);
            self.bit(reading.health == Health::Broken);
        }
        for &travel in &sample.travel {
            self.now.push(Shown::Real(f64::from(travel)));
        }
        for frame in &sample.links {
            self.bit(frame.fresh);
            let before = self.last.get(self.now.len()).copied().unwrap_or(Shown::Rank(0));
            self.now.push(if frame.fresh { Shown::Rank(frame.order) } else { before });
        }
    }
    fn rules(&mut self, scanned: Option<&Scanned>, counterfactual: bool) {
        let station = self.station;
        let set = |bits: u64, i: usize| u32::try_from(i).is_ok_and(|i| bits.checked_shr(i).unwrap_or(0) & 1 == 1);
        let mut tell = |known: &dyn Fn(&Scanned) -> bool| self.now.push(Shown::Bit(scanned.map(known)));
        for rank in 1..=usize::from(station.worst()) {
            tell(&|told| set(told.stands, rank));
        }
        for output in 0..station.outputs.len() {
            tell(&|told| !set(told.off, output));
        }
        for bypass in 0..station.bypasses.len() {
            tell(&|told| set(told.active, bypass));
        }
        let trips = &self.trips;
        for source in 0..self.tripping {
            tell(&|told| told.trips.iter().any(|&way| trips.get(usize::from(way)) == Some(&source)));
        }
        for requirement in 0..station.requirements.len() {
            tell(&|told| told.missed.iter().any(|&missed| usize::from(missed) == requirement));
        }
        tell(&|told| told.permit);
        tell(&|told| told.reset);
        tell(&|_| counterfactual);
    }
}

/// A sink that writes a dump beside another sink.
pub struct Beside<'a, 's, W: Write> {
    /// Gets the events.
    pub sink: &'a mut dyn Sink,
    /// Gets the scans.
    pub dump: &'a mut Dump<'s, W>,
}

impl<W: Write> Sink for Beside<'_, '_, W> {
    fn event(&mut self, event: &Event) -> io::Result<()> {
        match event.what {
            What::PowerUp => self.dump.restart()?,
            What::Gap { .. } => {
                return Err(io::Error::other("a dump has no gaps: replay what lies before and behind each by itself"));
            }
            _ => {}
        }
        self.sink.event(event)
    }
    fn scan(&mut self, seen: &Seen<'_>) -> io::Result<()> {
        self.sink.scan(seen)?;
        self.dump.scan(seen)
    }
}

/// The dump of a recording.
///
/// # Errors
/// If the recording cannot be read back, or the station is no plan.
pub fn dump(station: &Station, recording: &[u8]) -> io::Result<Vec<u8>> {
    let mut out = Vec::new();
    let mut dump = Dump::new(&mut out, station)?;
    replay_all(station, recording, &mut Beside { sink: &mut |_: &Event| Ok(()), dump: &mut dump })?;
    dump.finish()?;
    Ok(out)
}
