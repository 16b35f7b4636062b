//! From power to a station that runs, or to one that holds its outputs off and says why.

use crate::fault::Fault;
use crate::log::{Event, Kind, Log};
use crate::march::march;
use crate::parts::{Clock, Outputs, Parts, Watchdog};
use crate::patrol::Patrol;
use crate::sample::{Field, Sample};
use crate::scan::{Station, Tested};
use crate::twin::{Kept, Twin};
use logic_rules::image::{Image, crc32};

/// Why the controller starts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// Its power came.
    PowerUp,
    /// The watchdog, or anything else that is not its power. Code of the fault that stood before it, 0 if none is known of.
    Restart(u8),
}

/// The bytes of both copies of the image: two memories where the board has them, else one twice. What turns in one
/// of two memories is found in the scan in which it matters; what turns in a single one, when the image has been gone round.
pub type Images<'m> = [&'m [u8]; 2];

/// Memory of a controller. It is lent, so that it lies where it is and is never moved.
#[derive(Debug)]
pub struct Memory<'m> {
    /// For the cells of both copies, as many words as the image's needs add up to, or more.
    pub cells: [&'m mut [u32]; 2],
    /// For the rest.
    pub store: &'m mut Store,
}

/// What a controller keeps beside its cells.
#[derive(Debug, Default)]
pub struct Store {
    kept: [Kept; 2],
    samples: [Sample; 3],
    log: Log,
}

impl Store {
    /// An empty one.
    pub const fn new() -> Self {
        Self {
            kept: [Kept::new(), Kept::new()],
            samples: [Sample::new(), Sample::new(), Sample::new()],
            log: Log::new(),
        }
    }
}

/// A controller that does not run: its outputs are off, and it can be asked why.
#[derive(Debug)]
pub struct Halted<'m, F, O, W, C> {
    /// Its parts; their outputs have been told to let go.
    pub parts: Parts<F, O, W, C>,
    /// Why.
    pub fault: Fault,
    /// What happened.
    pub log: &'m mut Log,
}

impl<F, O: Outputs, W, C> Halted<'_, F, O, W, C> {
    /// Tells every output to let go once more; to be called again and again.
    pub fn hold(&mut self) {
        let _ = self.parts.outputs.release();
    }
}

/// A station that runs, or a controller that does not.
pub type Booted<'m, F, O, W, C> = Result<Station<'m, F, O, W, C>, Halted<'m, F, O, W, C>>;

/// Tests memory and images and makes a station of them.
///
/// # Errors
/// Whatever is wrong comes to a controller that holds its outputs off; there is no plan that it runs instead.
#[inline(never)]
pub fn boot<'m, F: Field, O: Outputs, W: Watchdog, C: Clock>(
    mut parts: Parts<F, O, W, C>,
    images: Images<'m>,
    memory: Memory<'m>,
    cause: Cause,
) -> Booted<'m, F, O, W, C> {
    let Memory { cells, store: Store { kept, samples, log } } = memory;
    log.clear();
    match tested(&mut parts, images, (cells, kept, samples), cause) {
        Ok((twin, patrols)) => Ok(Station::new(Tested { parts, twin, patrols, samples, log })),
        Err(fault) => {
            let _ = parts.outputs.release();
            let (number, value) = (u16::from(fault.code()), u32::from(fault.detail()));
            log.tell(Event { scan: 0, kind: Kind::Fault, number, value });
            Err(Halted { parts, fault, log })
        }
    }
}

/// Cells, what copies keep beside them, and samples.
type Lent<'m, 's> = ([&'m mut [u32]; 2], &'m mut [Kept; 2], &'s mut [Sample; 3]);

/// Everything that must be well before the first scan.
#[inline(never)]
fn tested<'m, F: Field, O: Outputs, W, C>(
    parts: &mut Parts<F, O, W, C>,
    images: Images<'m>,
    (cells, kept, samples): Lent<'m, '_>,
    cause: Cause,
) -> Result<(Twin<'m>, [Patrol<'m>; 2]), Fault> {
    parts.outputs.release().map_err(|_| Fault::Pin)?;
    if let Cause::Restart(code) = cause {
        return Err(Fault::Restarted(code));
    }
    let [upright, inverted] = cells;
    for cells in [&mut *upright, &mut *inverted] {
        march(cells).map_err(|word| Fault::Memory(u16::try_from(word).unwrap_or(u16::MAX)))?;
    }
    if crc32(b"123456789") != 0xCBF4_3926 {
        return Err(Fault::KnownAnswer);
    }
    let [first, second] = images;
    let opened = [Image::open(first).map_err(Fault::Image)?, Image::open(second).map_err(Fault::Image)?];
    if first != second {
        return Err(Fault::Copies);
    }
    let [image, _] = &opened;
    parts.field.connect(image.wiring()).map_err(Fault::Terminal)?;
    parts.outputs.connect(image.wiring()).map_err(Fault::Terminal)?;
    let [first_sample, base, third] = samples;
    for sample in [&mut *first_sample, &mut *base, third] {
        sample.clear();
    }
    parts.field.sample(base).map_err(|_| Fault::Missing)?;
    first_sample.copy(base);
    let patrols = [Patrol::new(0, first).ok_or(Fault::Room)?, Patrol::new(1, second).ok_or(Fault::Room)?];
    Ok((Twin::power_up(&opened, [upright, inverted], kept, base)?, patrols))
}
