//! The value of one field, put into its place in the sample.

use super::columns::{Slot, Told};
use super::fault::{Bad, quoted};
use super::number::decimal;
use crate::sample::{Frame, Health, Reading, Sample};
use crate::scale::{current_of, scale, scale_value};
use crate::station::Gauge;

/// Currents that no loop carries, in nanoamperes: the unit of the column is wrong, or the digits.
const LEAST_NA: i64 = -1_000_000;
const MOST_NA: i64 = 30_000_000;

/// What values of a terminal meant, as they were written: a gauge says the same few again and again.
#[derive(Debug, Default)]
pub(super) struct Said {
    /// How they were told.
    told: Option<Told>,
    /// Nothing before the first value, then a fixed number of places.
    all: Vec<(u64, Reading)>,
}

impl Said {
    /// One for each number of a byte.
    const PLACES: usize = 1 << 8;
    /// A short field as a number, of which no two have the same; never 0.
    fn key(field: &[u8]) -> Option<u64> {
        let mut bytes = [0; 8];
        let (length, cells) = bytes.split_first_mut()?;
        *length = u8::try_from(field.len()).ok()?;
        cells.get_mut(..field.len())?.copy_from_slice(field);
        Some(u64::from_le_bytes(bytes)).filter(|key| *key != 0)
    }
    /// The reading that a field means.
    fn reading(&mut self, gauge: &Gauge, told: Told, field: &[u8]) -> Result<Reading, Bad> {
        let Some(key) = Self::key(field) else { return reading(gauge, told, field) };
        if self.told != Some(told) {
            self.told = Some(told);
            self.all.clear();
            self.all.resize(Self::PLACES, (0, Reading::default()));
        }
        // The uppermost byte of a product depends on all of the key.
        let [.., place] = key.wrapping_mul(0x9E37_79B9_7F4A_7C15).to_le_bytes();
        let Some(cell) = self.all.get_mut(usize::from(place)) else { return reading(gauge, told, field) };
        if cell.0 != key {
            *cell = (key, reading(gauge, told, field)?);
        }
        Ok(cell.1)
    }
}

/// Puts a field into the sample. A counter's travel is added to what is there. `said` is of the field's terminal alone.
pub(super) fn put(
    slot: Slot,
    field: &[u8],
    gauges: &[Option<&Gauge>],
    said: &mut Said,
    sample: &mut Sample,
) -> Result<(), Bad> {
    match slot {
        Slot::Channel(i) => {
            let level = match field {
                b"0" => false,
                b"1" => true,
                _ => return Err(no_level(field)),
            };
            if let Some(cell) = sample.channels.get_mut(i) {
                *cell = level;
            }
        }
        Slot::Gauge(i, told) => {
            let Some(gauge) = gauges.get(i).copied().flatten() else {
                return Ok(());
            };
            let reading = said.reading(gauge, told, field)?;
            if let Some(cell) = sample.gauges.get_mut(i) {
                *cell = reading;
            }
        }
        Slot::Counter(i, mm) => {
            let travel = whole(field)
                .and_then(|v| v.checked_mul(i64::from(mm)))
                .and_then(|v| i32::try_from(v).ok())
                .ok_or_else(|| no_travel(field))?;
            if let Some(cell) = sample.travel.get_mut(i) {
                *cell = cell.checked_add(travel).ok_or_else(|| no_travel(field))?;
            }
        }
        Slot::Link(i) => {
            let frame = if field.is_empty() {
                Frame::default()
            } else {
                let order = whole(field).and_then(|v| u8::try_from(v).ok()).ok_or_else(|| no_rank(field))?;
                Frame { fresh: true, order }
            };
            if let Some(cell) = sample.links.get_mut(i) {
                *cell = frame;
            }
        }
        Slot::Ignored => {}
    }
    Ok(())
}

fn reading(gauge: &Gauge, told: Told, field: &[u8]) -> Result<Reading, Bad> {
    match told {
        Told::Current(places) => {
            let na = decimal(field, places).ok_or_else(|| no_current(field))?;
            if (LEAST_NA..=MOST_NA).contains(&na) {
                Ok(scale(gauge, na))
            } else {
                Err(outside(field, "-1 mA to 30 mA", "mA against uA"))
            }
        }
        Told::Value(places) => match field {
            b"broken" => Ok(Reading { steps: 0, health: Health::Broken }),
            b"doubtful" => Ok(Reading { steps: 0, health: Health::Doubtful }),
            _ => {
                let micro = decimal(field, places).ok_or_else(|| no_value(gauge, field))?;
                let carried = current_of(gauge, micro).is_some_and(|(above, below)| {
                    above >= i128::from(LEAST_NA) * below && above <= i128::from(MOST_NA) * below
                });
                if carried {
                    Ok(scale_value(gauge, micro))
                } else {
                    let range = "a value whose current on the gauge's line is -1 mA to 30 mA";
                    Err(outside(field, range, &gauge.unit))
                }
            }
        },
    }
}

/// A whole number; no point, no blank.
fn whole(field: &[u8]) -> Option<i64> {
    if field.contains(&b'.') { None } else { decimal(field, 0) }
}

fn no_level(field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no level of a channel", quoted(field)),
        "`0` (low) or `1` (high), without blanks",
        "export the channel as 0 and 1",
    )
}

fn no_current(field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no current", quoted(field)),
        "a decimal number with a point, without blanks and exponents",
        "write the number plainly; write a broken wire as 0.000",
    )
}

fn no_value(gauge: &Gauge, field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no value of this gauge", quoted(field)),
        format!("a decimal number of {}, `broken` or `doubtful`", gauge.unit),
        "write the number plainly, with a point and without blanks",
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

fn no_rank(field: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no order of a link", quoted(field)),
        "a whole number from 0 to 255, or nothing where no frame came",
        "write the rank: 0 for nothing, 1 for the mildest answer of the rule file",
    )
}
