//! The value of one field, put into its place in the sample.

use super::columns::{Columns, Slot, Told};
use super::fault::{Bad, quoted};
use super::marks::{Marks, mend};
use super::number::signed;
use crate::sample::{Frame, Health, Reading, Sample};
use crate::scale::{current_of, current_of_exact, scale, scale_exact, scale_value, scale_value_exact};
use crate::station::Gauge;

/// Currents that no loop carries, in nanoamperes: the unit of the column is wrong, or the digits.
const LEAST_NA: i64 = -1_000_000;
const MOST_NA: i64 = 30_000_000;

/// What a field says.
#[derive(Debug, Clone, Copy, Default)]
pub(super) enum Meant {
    /// Of no concern.
    #[default]
    Nothing,
    Level(bool),
    Reading(Reading),
    /// Millimetres.
    Travel(i32),
    Frame(Frame),
}

/// What values of a terminal meant, as they were written: a gauge says the same few again and again.
#[derive(Debug, Default)]
pub(super) struct Said {
    /// Where they went, and how they were told.
    slot: Option<Slot>,
    /// Nothing before the first value, then a fixed number of places.
    all: Vec<(u64, Meant)>,
}

impl Said {
    /// One for each number of a byte.
    const PLACES: usize = 1 << 8;
    /// A short field as a number, of which no two have the same; 0 of one that is not short, and of an empty one.
    fn key(field: &[u8]) -> u64 {
        let at = |place: usize| field.get(place).map_or(0, |byte| u64::from(*byte) << (8 * place));
        let length = field.len();
        // Bytes that are taken twice come to lie on themselves.
        let bytes = match (field.first_chunk(), field.last_chunk()) {
            _ if length > 7 => return 0,
            (Some(first), Some(last)) => {
                u64::from(u32::from_le_bytes(*first)) | u64::from(u32::from_le_bytes(*last)) << (8 * (length - 4))
            }
            _ => at(0) | at(length / 2) | at(length.saturating_sub(1)),
        };
        bytes << 8 | length as u64
    }
    /// What a field means that goes there.
    pub(super) fn meant(&mut self, slot: &Slot, columns: &Columns<'_>, field: &[u8]) -> Result<Meant, Bad> {
        let key = Self::key(field);
        if key == 0 {
            return anew(slot, field, columns);
        }
        if self.slot.as_ref() != Some(slot) {
            self.slot = Some(*slot);
            self.all.clear();
            self.all.resize(Self::PLACES, (0, Meant::Nothing));
        }
        // The uppermost byte of a product depends on all of the key.
        let [.., place] = key.wrapping_mul(0x9E37_79B9_7F4A_7C15).to_le_bytes();
        let Some(cell) = self.all.get_mut(usize::from(place)) else { return anew(slot, field, columns) };
        if cell.0 != key {
            *cell = (key, anew(slot, field, columns)?);
        }
        Ok(cell.1)
    }
}

/// Puts a field into the sample. A counter's travel is added to what is there. `said` is of the field's terminal alone.
pub(super) fn put(
    slot: &Slot,
    field: &[u8],
    columns: &Columns<'_>,
    said: &mut Said,
    sample: &mut Sample,
) -> Result<(), Bad> {
    if fill(slot, meant(slot, field, columns, said)?, sample) { Ok(()) } else { Err(no_travel(field)) }
}

/// What a field means. `said` is of its terminal alone.
pub(super) fn meant(slot: &Slot, field: &[u8], columns: &Columns<'_>, said: &mut Said) -> Result<Meant, Bad> {
    match (slot, field) {
        (Slot::Channel(_), b"0") => Ok(Meant::Level(false)),
        (Slot::Channel(_), b"1") => Ok(Meant::Level(true)),
        (Slot::Channel(_), _) => Err(no_level(field)),
        (Slot::Ignored, _) => Ok(Meant::Nothing),
        (Slot::Gauge(..) | Slot::Counter(..) | Slot::CounterOn(..) | Slot::Link(_), _) => {
            said.meant(slot, columns, field)
        }
    }
}

/// Puts what a field means into its place. A counter's travel is added to what is there; false if both together are too much for one.
pub(super) fn fill(slot: &Slot, meant: Meant, sample: &mut Sample) -> bool {
    fn set<T>(cell: Option<&mut T>, value: T) {
        if let Some(cell) = cell {
            *cell = value;
        }
    }
    match (slot, meant) {
        (Slot::Channel(i), Meant::Level(level)) => set(sample.channels.get_mut(*i), level),
        (Slot::Gauge(i, _), Meant::Reading(reading)) => set(sample.gauges.get_mut(*i), reading),
        (Slot::Link(i), Meant::Frame(frame)) => set(sample.links.get_mut(*i), frame),
        (Slot::Counter(i, _) | Slot::CounterOn(i, _), Meant::Travel(travel)) => {
            let Some(cell) = sample.travel.get_mut(*i) else { return true };
            let Some(sum) = cell.checked_add(travel) else { return false };
            *cell = sum;
        }
        _ => {}
    }
    true
}

/// What a field means, worked out.
pub(super) fn anew(slot: &Slot, field: &[u8], columns: &Columns<'_>) -> Result<Meant, Bad> {
    let marks = columns.top().marks;
    Ok(match *slot {
        Slot::Channel(_) | Slot::Ignored => Meant::Nothing,
        Slot::Gauge(i, told) => match columns.gauges.get(i).copied().flatten() {
            Some(gauge) => Meant::Reading(reading(gauge, told, field, marks)?),
            None => Meant::Nothing,
        },
        Slot::Counter(_, mm) => {
            let travel =
                whole(field, marks).and_then(|v| v.checked_mul(i64::from(mm))).and_then(|v| i32::try_from(v).ok());
            Meant::Travel(travel.ok_or_else(|| no_travel(field))?)
        }
        Slot::CounterOn(_, line) => {
            let no_number = || {
                let bad = no_travel(field);
                Bad { mend: mend(marks.decimal_sign, field, &bad.mend), ..bad }
            };
            let (above, below) = line.of(field, marks.decimal_sign).ok_or_else(no_number)?;
            if above % below != 0 {
                return Err(no_whole_travel(field));
            }
            Meant::Travel(i32::try_from(above / below).map_err(|_| no_travel(field))?)
        }
        Slot::Link(_) if field.is_empty() => Meant::Frame(Frame::default()),
        Slot::Link(_) => {
            let order = whole(field, marks).and_then(|v| u8::try_from(v).ok()).ok_or_else(|| no_rank(field))?;
            Meant::Frame(Frame { fresh: true, order })
        }
    })
}

fn reading(gauge: &Gauge, told: Told, field: &[u8], marks: Marks) -> Result<Reading, Bad> {
    let sign = marks.decimal_sign;
    match told {
        Told::Current(places) => {
            let na = signed(field, places, sign).ok_or_else(|| no_current(field, marks))?;
            if (LEAST_NA..=MOST_NA).contains(&na) {
                Ok(scale(gauge, na))
            } else {
                Err(outside(field, CARRIED, "mA against uA"))
            }
        }
        Told::CurrentOn(line) => {
            let current = line.of(field, sign).ok_or_else(|| no_current(field, marks))?;
            if carried(current) { Ok(scale_exact(gauge, current)) } else { Err(outside(field, CARRIED, ITS_LINE)) }
        }
        Told::Value(_) | Told::ValueOn(_) if matches!(field, b"broken" | b"doubtful") => {
            let health = if field == b"broken" { Health::Broken } else { Health::Doubtful };
            Ok(Reading { steps: 0, health })
        }
        Told::ValueOn(line) => {
            let value = line.of(field, sign).ok_or_else(|| no_value(gauge, field, marks))?;
            match current_of_exact(gauge, value).filter(|current| carried(*current)) {
                Some(current) => Ok(scale_value_exact(gauge, value, current)),
                None => Err(outside(field, OF_A_VALUE, ITS_LINE)),
            }
        }
        Told::Value(places) => {
            let micro = signed(field, places, sign).ok_or_else(|| no_value(gauge, field, marks))?;
            if current_of(gauge, micro).is_some_and(carried) {
                Ok(scale_value(gauge, micro))
            } else {
                Err(outside(field, OF_A_VALUE, &gauge.unit))
            }
        }
    }
}

/// What a loop may carry, in words.
const CARRIED: &str = "-1 mA to 30 mA";
const OF_A_VALUE: &str = "a value whose current on the gauge's line is -1 mA to 30 mA";
/// What may be wrong beside the unit of a column that is scaled.
const ITS_LINE: &str = "and the numbers of its line at the top";

/// A loop may carry this current, nanoamperes as a fraction.
fn carried((above, below): (i128, i128)) -> bool {
    let bound = |na: i64| i128::from(na).saturating_mul(below);
    above >= bound(LEAST_NA) && above <= bound(MOST_NA)
}

/// A whole number; no decimal sign, no blank.
fn whole(field: &[u8], marks: Marks) -> Option<i64> {
    if field.contains(&marks.decimal_sign) { None } else { signed(field, 0, marks.decimal_sign) }
}

fn no_level(field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no level of a channel", quoted(field)),
        "`0` (low) or `1` (high), without blanks",
        "export the channel as 0 and 1",
    )
}

fn no_current(field: &[u8], marks: Marks) -> Bad {
    if field.is_empty() {
        return no_reading();
    }
    Bad::new(
        format!("{} is no current", quoted(field)),
        marks.number(),
        mend(marks.decimal_sign, field, "write the number plainly; write a broken wire as 0"),
    )
}

/// A gauge without a value.
fn no_reading() -> Bad {
    Bad::new(
        "this gauge has no value here",
        "a value in every scan, or a line that says how long the last one holds",
        "if it is recorded slower than the scan write `held for T` into its `# column` line",
    )
}

fn no_value(gauge: &Gauge, field: &[u8], marks: Marks) -> Bad {
    if field.is_empty() {
        return no_reading();
    }
    Bad::new(
        format!("{} is no value of this gauge", quoted(field)),
        format!("{}, of {}; or `broken`, or `doubtful`", marks.number(), gauge.unit),
        mend(marks.decimal_sign, field, "write the number plainly"),
    )
}

fn outside(field: &[u8], range: &str, unit: &str) -> Bad {
    Bad::new(
        format!("{} is outside what this gauge can be", quoted(field)),
        range,
        format!("is the unit of the column right ({unit})?"),
    )
}

fn no_travel(field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no travel of a counter", quoted(field)),
        "a signed whole number: how far it moved since the scan before",
        "write the movement of each scan, not the count",
    )
}

fn no_whole_travel(field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no whole number of millimetres, by its line at the top", quoted(field)),
        "what is whole once it is scaled: a part of a millimetre would be lost in every scan",
        "correct the number in the line, or export the pulses and say `in pulses`",
    )
}

fn no_rank(field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no order of a link", quoted(field)),
        "a whole number from 0 to 255, or nothing where no frame came",
        "write the rank: 0 for nothing, 1 for the mildest answer of the rule file",
    )
}
