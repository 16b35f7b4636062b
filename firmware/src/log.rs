//! What happened, kept until it is asked for: the last events, each with the scan in which it was.
//!
//! A stop, and a fault, is followed by the inputs of that scan. Numbers are those of the manifest beside the image.

use crate::sample::Sample;
use heapless::Deque;

/// Events that are kept.
pub const KEPT: usize = 256;

/// What an event is; its number and value mean what is written here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Kind {
    /// The controller powered up. Value: checksum of the image.
    PowerUp,
    /// The most severe answer is another. Number: its rank, 0 for none. Value: outputs that are on.
    Answer,
    /// A way trips that did not in the scan before. Number: the way, in the order of the plan.
    Trip,
    /// A way is among the first of a stoppage. Number: the way.
    First,
    /// The reset acted.
    Reset,
    /// A bypass began or ended. Number: the bypass. Value: 1 if it is active.
    Bypass,
    /// The controller stopped itself. Number: code of the fault. Value: what it names.
    Fault,
    /// Levels of 32 channels. Number: the first of them. Value: bit `i` for the channel `i` after it.
    Channels,
    /// A gauge. Number: which. Value: nanoampere, two's complement.
    Gauge,
    /// A source of travel. Number: which. Value: pulses counted so far.
    Source,
    /// A link. Number: which. Value: good frames so far, modulo 2^24, times 256, plus the rank last ordered.
    Link,
}

impl Kind {
    const ALL: [Self; 11] = [
        Self::PowerUp,
        Self::Answer,
        Self::Trip,
        Self::First,
        Self::Reset,
        Self::Bypass,
        Self::Fault,
        Self::Channels,
        Self::Gauge,
        Self::Source,
        Self::Link,
    ];
    /// From its number on the link.
    pub fn from_number(number: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.number() == number)
    }
    /// Its number on the link.
    pub fn number(self) -> u8 {
        match self {
            Self::PowerUp => 1,
            Self::Answer => 2,
            Self::Trip => 3,
            Self::First => 4,
            Self::Reset => 5,
            Self::Bypass => 6,
            Self::Fault => 7,
            Self::Channels => 8,
            Self::Gauge => 9,
            Self::Source => 10,
            Self::Link => 11,
        }
    }
}

/// An event.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Event {
    /// Scans since power-up, this one included; 0 before the first; wraps.
    pub scan: u32,
    /// What it is.
    pub kind: Kind,
    /// As the kind says.
    pub number: u16,
    /// As the kind says.
    pub value: u32,
}

/// The last events.
#[derive(Debug, Default)]
pub struct Log {
    events: Deque<Event, KEPT>,
    told: u32,
}

impl Log {
    /// An empty log.
    pub const fn new() -> Self {
        Self { events: Deque::new(), told: 0 }
    }
    /// Forgets everything.
    pub fn clear(&mut self) {
        self.events.clear();
        self.told = 0;
    }
    /// Keeps an event; the oldest goes if there is no room.
    pub fn tell(&mut self, event: Event) {
        #[cfg(feature = "defmt")]
        defmt::println!("{}", event);
        if self.events.is_full() {
            self.events.pop_front();
        }
        if self.events.push_back(event).is_ok() {
            self.told = self.told.wrapping_add(1);
        }
    }
    /// Keeps the inputs of a scan.
    pub fn inputs(&mut self, scan: u32, sample: &Sample) {
        let mut tell = |kind, number: usize, value| {
            self.tell(Event { scan, kind, number: u16::try_from(number).unwrap_or(u16::MAX), value });
        };
        for (i, levels) in sample.channels.chunks(32).enumerate() {
            let bits = levels.iter().rev().fold(0_u32, |bits, level| bits << 1 | u32::from(*level));
            tell(Kind::Channels, i.saturating_mul(32), bits);
        }
        for (i, current) in sample.currents.iter().enumerate() {
            tell(Kind::Gauge, i, current.cast_unsigned());
        }
        for (i, pulses) in sample.pulses.iter().enumerate() {
            tell(Kind::Source, i, *pulses);
        }
        for (i, link) in sample.links.iter().enumerate() {
            tell(Kind::Link, i, link.good << 8 | u32::from(link.order));
        }
    }
    /// Events told so far; the number of the next one. Wraps.
    pub fn told(&self) -> u32 {
        self.told
    }
    /// Number of the oldest event that is kept.
    pub fn oldest(&self) -> u32 {
        self.told.wrapping_sub(u32::try_from(self.events.len()).unwrap_or(0))
    }
    /// Events from this number on; from the oldest if that one is gone, none if it is still to come.
    pub fn from(&self, number: u32) -> impl Iterator<Item = (u32, &Event)> {
        let oldest = self.oldest();
        let gone = usize::try_from(number.wrapping_sub(oldest)).unwrap_or(usize::MAX);
        // A number further ahead than the log can be is one of the past.
        let skip = if gone > usize::try_from(u32::MAX >> 1).unwrap_or(usize::MAX) { 0 } else { gone };
        let numbered = self.events.iter().enumerate().skip(skip);
        numbered.map(move |(i, event)| (oldest.wrapping_add(u32::try_from(i).unwrap_or(0)), event))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_go_and_numbers_go_on() {
        let mut log = Log::new();
        for scan in 0..300 {
            log.tell(Event { scan, kind: Kind::Reset, number: 0, value: 0 });
        }
        assert_eq!((log.told(), log.oldest()), (300, 44));
        let scans = |number| log.from(number).map(|(number, event)| (number, event.scan)).collect::<Vec<_>>();
        assert_eq!(scans(298), [(298, 298), (299, 299)]);
        assert_eq!(scans(0).first(), Some(&(44, 44)));
        assert_eq!(scans(300), []);
        assert_eq!(scans(1_000), []);
    }

    #[test]
    fn the_inputs_of_a_scan_are_told() {
        let mut sample = Sample::default();
        sample.channels.extend([true; 33]);
        sample.currents.push(-1).unwrap();
        let mut log = Log::new();
        log.inputs(7, &sample);
        let told: Vec<_> = log.from(0).map(|(_, event)| (event.kind, event.number, event.value)).collect();
        assert_eq!(told, [(Kind::Channels, 0, u32::MAX), (Kind::Channels, 32, 1), (Kind::Gauge, 0, u32::MAX)]);
    }

    #[test]
    fn each_kind_has_its_own_number() {
        for kind in Kind::ALL {
            assert_eq!(Kind::from_number(kind.number()), Some(kind));
        }
        assert_eq!((0..=255).filter_map(Kind::from_number).count(), Kind::ALL.len());
    }
}
