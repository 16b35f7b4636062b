//! Inputs and scans as a list: what changes, and how many scans are then taken, so that one frame drives many of them.
//!
//! A signal is a byte: channels from 1, gauges from 129, sources from 145, links from 153, each in the order of the plan. A number is
//! signed, turned so that small ones are short (0, -1, 1, -2 ...), and goes seven bits a byte, the least first; every byte but the last has its
//! top bit set.
//!
//! | signal | follows | meaning |
//! |---|---|---|
//! | 0 | scans 1 | takes so many scans |
//! | channel | | its level is the other one |
//! | gauge | number | its current is more by so many nanoampere |
//! | source | number | it moves on by so many pulses before each of the next scans that are taken |
//! | link | number, rank 1 | so many more good frames have come, and the last orders this |

use super::field::Set;
use crate::link::{Read, Write};
use crate::sample::{CHANNELS, Frames, GAUGES, LINKS, SOURCES, Sample};

/// A change of the inputs, or scans.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Item {
    /// So many scans.
    Scans(u8),
    /// This channel has the other level.
    Level(u8),
    /// This gauge, nanoampere more.
    Current(u8, i32),
    /// This source, pulses before each of the next scans.
    Moves(u8, i32),
    /// This link, good frames more, and the rank that the last orders.
    Link(u8, i32, u8),
}

/// Most bytes of one on the line.
pub const LONGEST: usize = 7;

/// First byte of the signals of each kind.
const KINDS: [usize; 4] = [1, 1 + CHANNELS, 1 + CHANNELS + GAUGES, 1 + CHANNELS + GAUGES + SOURCES];

impl Item {
    /// Reads the next one.
    pub fn read(body: &mut Read<'_>) -> Option<Self> {
        let [channel, gauge, source, link] = KINDS;
        let first = usize::from(body.byte()?);
        let at = |kind| u8::try_from(first.checked_sub(kind)?).ok();
        Some(if first >= link + LINKS {
            return None;
        } else if first >= link {
            Self::Link(at(link)?, number(body)?, body.byte()?)
        } else if first >= source {
            Self::Moves(at(source)?, number(body)?)
        } else if first >= gauge {
            Self::Current(at(gauge)?, number(body)?)
        } else if first >= channel {
            Self::Level(at(channel)?)
        } else {
            Self::Scans(body.byte()?)
        })
    }
    /// Writes it.
    pub fn write(self, body: &mut Write) {
        let [channel, gauge, source, link] = KINDS;
        let mut signal = |kind: usize, at: u8| body.byte(u8::try_from(kind).unwrap_or(0).saturating_add(at));
        match self {
            Self::Scans(scans) => body.bytes(&[0, scans]),
            Self::Level(at) => signal(channel, at),
            Self::Current(at, more) => {
                signal(gauge, at);
                write_number(body, more);
            }
            Self::Moves(at, pulses) => {
                signal(source, at);
                write_number(body, pulses);
            }
            Self::Link(at, more, order) => {
                signal(link, at);
                write_number(body, more);
                body.byte(order);
            }
        }
    }
    /// What makes a field that shows one sample show another, moves included; the samples have the same signals.
    pub fn between<'s>(from: &'s Sample, to: &'s Sample) -> impl Iterator<Item = Self> + 's {
        let more = |from: u32, to: u32| to.wrapping_sub(from).cast_signed();
        let levels = (0..).zip(from.channels.iter().zip(&to.channels));
        let levels = levels.filter(|(_, (from, to))| from != to).map(|(at, _)| Self::Level(at));
        let currents = (0..).zip(from.currents.iter().zip(&to.currents));
        let currents = currents.filter(|(_, (from, to))| from != to);
        let currents = currents.map(|(at, (from, to))| Self::Current(at, to.wrapping_sub(*from)));
        let links = (0..).zip(from.links.iter().zip(&to.links));
        let links = links.filter(|(_, (from, to))| from != to);
        let links = links.map(move |(at, (from, to))| Self::Link(at, more(from.good, to.good), to.order));
        let moves = (0..).zip(from.pulses.iter().zip(&to.pulses));
        let moves = moves.filter(|(_, (from, to))| from != to);
        let moves = moves.map(move |(at, (from, to))| Self::Moves(at, more(*from, *to)));
        levels.chain(currents).chain(links).chain(moves)
    }
    /// Does it, but for scans, if there is such a signal.
    pub(super) fn set(self, field: &mut Set) {
        let sample = field.sample();
        match self {
            Self::Scans(_) => {}
            Self::Level(at) => put(&mut sample.channels, at, |level| *level = !*level),
            Self::Current(at, more) => put(&mut sample.currents, at, |current| *current = current.wrapping_add(more)),
            Self::Moves(at, pulses) => put(field.moves(), at, |moves| *moves = pulses),
            Self::Link(at, more, order) => put(&mut sample.links, at, |link| {
                *link = Frames { good: link.good.wrapping_add_signed(more), order };
            }),
        }
    }
    /// Whether the field has such a signal.
    pub(super) fn fits(self, field: &mut Set) -> bool {
        let sample = field.sample();
        let (at, signals) = match self {
            Self::Scans(_) => return true,
            Self::Level(at) => (at, sample.channels.len()),
            Self::Current(at, _) => (at, sample.currents.len()),
            Self::Moves(at, _) => (at, sample.pulses.len()),
            Self::Link(at, ..) => (at, sample.links.len()),
        };
        usize::from(at) < signals
    }
}

fn put<T>(cells: &mut [T], at: u8, change: impl FnOnce(&mut T)) {
    if let Some(cell) = cells.get_mut(usize::from(at)) {
        change(cell);
    }
}

/// A number of up to 32 bits, sign included.
fn number(body: &mut Read<'_>) -> Option<i32> {
    let mut turned = 0_u32;
    for shift in [0, 7, 14, 21, 28] {
        let byte = body.byte()?;
        let bits = u32::from(byte & 0x7F);
        // Of the fifth byte four bits belong to the number.
        if shift == 28 && byte > 0x0F {
            return None;
        }
        turned |= bits << shift;
        if byte < 0x80 {
            return Some((turned >> 1 ^ 0_u32.wrapping_sub(turned & 1)).cast_signed());
        }
    }
    None
}

fn write_number(body: &mut Write, number: i32) {
    let mut turned = (number << 1 ^ number >> 31).cast_unsigned();
    loop {
        let [bits, ..] = (turned & 0x7F).to_le_bytes();
        turned >>= 7;
        body.byte(if turned == 0 { bits } else { bits | 0x80 });
        if turned == 0 {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_item_reads_as_it_was_written() {
        let numbers = [0, 1, -1, 63, -64, 64, 8_191, 1 << 20, 1 << 27, i32::MAX, i32::MIN];
        let mut items = [Item::Scans(3), Item::Level(0), Item::Level(127)].to_vec();
        for more in numbers {
            items.extend([Item::Current(15, more), Item::Moves(7, more), Item::Link(7, more, 255)]);
        }
        for item in items {
            let mut body = Write::new();
            item.write(&mut body);
            let body = body.done();
            assert!(body.len() <= LONGEST);
            let mut read = Read::new(&body);
            assert_eq!(Item::read(&mut read), Some(item));
            assert!(read.ends());
            assert_eq!(Item::read(&mut Read::new(&body[..body.len() - 1])), None);
        }
        let beyond = [161, 0, 0];
        assert_eq!(Item::read(&mut Read::new(&beyond)), None);
        assert_eq!(Item::read(&mut Read::new(&[129, 0xFF, 0xFF, 0xFF, 0xFF, 0x1F])), None, "more than 32 bits");
    }

    #[test]
    fn what_changes_between_samples_is_all_that_is_told() {
        let mut from = Sample::default();
        from.channels.extend([true, false]);
        from.currents.extend([4_000_000, 12_000_000]);
        from.pulses.push(u32::MAX).unwrap();
        from.links.push(Frames { good: u32::MAX, order: 1 }).unwrap();
        let mut to = from.clone();
        assert_eq!(Item::between(&from, &to).count(), 0);
        (to.channels[1], to.currents[0], to.pulses[0]) = (true, 3_999_990, 4);
        to.links[0] = Frames { good: 0, order: 2 };
        let items: Vec<_> = Item::between(&from, &to).collect();
        assert_eq!(items, [Item::Level(1), Item::Current(0, -10), Item::Link(0, 1, 2), Item::Moves(0, 5)]);
    }
}
