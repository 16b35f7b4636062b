//! What is connected where, and what the raw signals mean. The step wants none of it: it counts channels, steps and
//! millimetres in the order of the plan. A controller must know it to sample.

use super::Fault;
use super::section::Sections;
use crate::plan::row::row;
use crate::plan::{NONE, Plan, Rows};

row! {
    /// A terminal of the controller: `DI-07` has the letters `DI` and the number 7.
    TerminalRow, 8 {
        /// One to four capital letters, the first in the least byte; unused bytes are 0.
        letters: u32,
        /// Its number.
        number: u32,
    }
}
row! {
    /// How the current of a gauge becomes steps. The straight line through the points is followed exactly and rounded once, to the
    /// nearest step; `manual/recordings.md` says how.
    ScaleRow, 56 {
        /// Current of the first point, microampere.
        from_ua: i32,
        /// Current of the second point, another one.
        to_ua: i32,
        /// Least current that is trusted, microampere.
        trusted_from_ua: i32,
        /// Greatest current that is trusted.
        trusted_to_ua: i32,
        /// At or below this current the loop is broken, microampere.
        broken_from_ua: i32,
        /// At or above this current it is short.
        broken_to_ua: i32,
        /// Value at the first point, millionths of the unit.
        from: i64,
        /// Value at the second point.
        to: i64,
        /// Value of step 0, in steps.
        lowest: i64,
        /// Value of one step, millionths of the unit; at least 1.
        step: i64,
    }
}

/// Wiring of a plan; rows in its order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Wiring<'a> {
    /// Scale of each gauge: [`ScaleRow`].
    pub scales: Rows<'a, 56>,
    /// Millimetres a pulse of each source of travel, a number of 4 bytes; at least 1.
    pub pulses: Rows<'a, 4>,
    /// Terminal of each channel: [`TerminalRow`], as those below.
    pub channels: Rows<'a, 8>,
    /// Terminal of each gauge.
    pub gauges: Rows<'a, 8>,
    /// Terminal of each source of travel.
    pub sources: Rows<'a, 8>,
    /// Terminal of each link.
    pub links: Rows<'a, 8>,
    /// Terminal of each output.
    pub outputs: Rows<'a, 8>,
}

impl<'a> Wiring<'a> {
    /// Cuts the three sections and checks them against the plan.
    pub(super) fn cut(sections: &mut Sections<'a>, plan: &Plan<'_>) -> Result<Self, Fault> {
        let t = plan.tables();
        let (lines, sources) = (usize::from(t.head.lines), usize::from(t.head.sources));
        let scales = sections.take("scales")?;
        let pulses: Rows<'a, 4> = sections.take("pulses")?;
        let terminals = sections.take("terminals")?;
        if scales.len() != t.gauges.len() {
            return Err(Fault::Rows("scales"));
        }
        if pulses.len() != sources {
            return Err(Fault::Rows("pulses"));
        }
        first("scales", scales, |_, row| ScaleRow::read(row).is_sound())?;
        first("pulses", pulses, |_, row| u32::from_le_bytes(*row) > 0)?;
        first("terminals", terminals, |i, row| {
            let before = terminals.get(..i).unwrap_or_default();
            TerminalRow::read(row).is_sound() && !before.contains(row)
        })?;
        let mut rest = terminals;
        let mut these = |count| {
            let (own, others) = rest.split_at_checked(count).ok_or(Fault::Rows("terminals"))?;
            rest = others;
            Ok(own)
        };
        let (channels, gauges, sources) = (these(lines)?, these(t.gauges.len())?, these(sources)?);
        let (links, outputs) = (these(t.links.len())?, these(t.outputs.len())?);
        if !rest.is_empty() {
            return Err(Fault::Rows("terminals"));
        }
        Ok(Self { scales, pulses, channels, gauges, sources, links, outputs })
    }
}

/// Every row is sound, or the first that is not is told.
fn first<const N: usize>(
    name: &'static str,
    rows: Rows<'_, N>,
    sound: impl Fn(usize, &[u8; N]) -> bool,
) -> Result<(), Fault> {
    match rows.iter().enumerate().position(|(i, row)| !sound(i, row)) {
        Some(i) => Err(Fault::Wiring(name, u16::try_from(i).unwrap_or(NONE))),
        None => Ok(()),
    }
}

impl TerminalRow {
    /// Whether its letters are one to four capitals.
    fn is_sound(self) -> bool {
        let letters = self.letters.to_le_bytes();
        let written = letters.iter().take_while(|byte| byte.is_ascii_uppercase()).count();
        written > 0 && letters.iter().skip(written).all(|byte| *byte == 0)
    }
}

impl ScaleRow {
    /// Whether the line can be followed, and the bands lie within each other.
    pub(super) fn is_sound(&self) -> bool {
        let bands = [self.broken_from_ua, self.trusted_from_ua, self.trusted_to_ua, self.broken_to_ua];
        self.from_ua != self.to_ua && self.step > 0 && bands.is_sorted()
    }
}

#[cfg(test)]
impl ScaleRow {
    /// 4 mA to 20 mA for 0 to 12 kN, in steps of 100 N.
    pub(super) const EXAMPLE: Self = Self {
        from_ua: 4_000,
        to_ua: 20_000,
        trusted_from_ua: 3_800,
        trusted_to_ua: 20_500,
        broken_from_ua: 3_600,
        broken_to_ua: 21_000,
        from: 0,
        to: 12_000_000_000,
        lowest: -2,
        step: 100_000_000,
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_terminal_has_one_to_four_capitals_and_nothing_behind_them() {
        let sound = |letters: &[u8; 4]| TerminalRow { letters: u32::from_le_bytes(*letters), number: 7 }.is_sound();
        assert!(sound(b"L\0\0\0") && sound(b"DI\0\0") && sound(b"ABCD"));
        for letters in [b"\0\0\0\0", b"\0DI\0", b"D\0I\0", b"di\0\0", b"D1\0\0"] {
            assert!(!sound(letters), "{letters:?}");
        }
    }

    #[test]
    fn a_scale_is_a_line_within_its_bands() {
        let sound = ScaleRow::EXAMPLE;
        assert!(sound.is_sound());
        assert_eq!(ScaleRow::read(&sound.write()), sound);
        for unsound in [
            ScaleRow { to_ua: 4_000, ..sound },
            ScaleRow { step: 0, ..sound },
            ScaleRow { step: -1, ..sound },
            ScaleRow { broken_from_ua: 3_801, ..sound },
            ScaleRow { trusted_to_ua: 3_799, ..sound },
            ScaleRow { broken_to_ua: 20_499, ..sound },
        ] {
            assert!(!unsound.is_sound(), "{unsound:?}");
        }
    }
}
