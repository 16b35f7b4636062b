//! Samples as the field shows them: currents instead of steps, pulses instead of millimetres, frames that were counted.

use firmware::{Frames, Sample as Field};
use logic_rules::image::Image;

use super::Trouble;
use crate::sample::{Health, Reading, Sample};
use crate::scale::{current_of, scale};
use crate::station::{Gauge, InputKind, Station};

/// A field in which everything is low, without current and still.
///
/// # Errors
/// [`Trouble::Unshown`] if a controller has not so many terminals.
pub fn still(image: &Image<'_>) -> Result<Field, Trouble> {
    let (wiring, mut field) = (image.wiring(), Field::default());
    let room = field.channels.resize(wiring.channels.len(), false).is_ok()
        && field.currents.resize(wiring.gauges.len(), 0).is_ok()
        && field.pulses.resize(wiring.sources.len(), 0).is_ok()
        && field.links.resize_default(wiring.links.len()).is_ok();
    if room { Ok(field) } else { Err(Trouble::Unshown("the station has more terminals than a controller".to_owned())) }
}

/// Shows a sample: levels and currents are those of this scan, pulses and frames are counted on.
///
/// # Errors
/// [`Trouble::Unshown`] if no current means the steps, or the travel is no whole number of pulses.
pub fn show(into: &mut Field, station: &Station, image: &Image<'_>, sample: &Sample) -> Result<(), Trouble> {
    for (to, from) in into.channels.iter_mut().zip(&sample.channels) {
        *to = *from;
    }
    for input in &station.inputs {
        let InputKind::Gauge(gauge) = &input.kind else { continue };
        let to = into.currents.get_mut(gauge.terminal);
        if let (Some(to), Some(&reading)) = (to, sample.gauges.get(gauge.terminal)) {
            *to = current(gauge, reading).ok_or_else(|| {
                Trouble::Unshown(format!("no current of {} means {} steps", input.name.text, reading.steps))
            })?;
        }
    }
    for ((pulses, mm), row) in into.pulses.iter_mut().zip(&sample.travel).zip(image.wiring().pulses) {
        let one = i32::from_le_bytes(*row).max(1);
        if mm % one != 0 {
            return Err(Trouble::Unshown(format!(
                "a travel of {mm} mm in a scan is no whole number of pulses of {one} mm; record pulses"
            )));
        }
        *pulses = pulses.wrapping_add_signed(mm / one);
    }
    for (link, frame) in into.links.iter_mut().zip(&sample.links) {
        if frame.fresh {
            *link = Frames { good: link.good.wrapping_add(1), order: frame.order };
        }
    }
    Ok(())
}

/// A current of this health that means these steps, nanoampere; none if there is no such current.
pub fn current(gauge: &Gauge, reading: Reading) -> Option<i32> {
    let nanoamps = match reading.health {
        Health::Broken => 0,
        Health::Doubtful => (i64::from(gauge.broken_ua.0) + i64::from(gauge.trusted_ua.0)) * 500,
        Health::Good => {
            let value = (gauge.lowest + i64::from(reading.steps)) * gauge.step_micro;
            let (above, below) = current_of(gauge, value)?;
            // A step beyond the trusted range is the nearest one to a current within it.
            let bounds = (i128::from(gauge.trusted_ua.0) * 1_000, i128::from(gauge.trusted_ua.1) * 1_000);
            i64::try_from((above / below).clamp(bounds.0, bounds.1)).ok()?
        }
    };
    let shown = scale(gauge, nanoamps);
    let same = shown.health == reading.health && (shown.health != Health::Good || shown.steps == reading.steps);
    if same { i32::try_from(nanoamps).ok() } else { None }
}
