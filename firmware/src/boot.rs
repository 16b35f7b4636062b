//! From power to a station that runs, or to one that holds its outputs off and says why.

use crate::fault::Fault;
use crate::log::{Event, Kind, Log};
use crate::march::march;
use crate::parts::{Clock, Outputs, Parts, Watchdog};
use crate::patrol::Patrol;
use crate::sample::{Field, Sample};
use crate::scan::{Station, Tested};
use crate::twin::Twin;
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

/// Memory for the cells of both copies, as many words as the image's needs add up to, or more.
pub type Memory<'m> = [&'m mut [u32]; 2];

/// A controller that does not run: its outputs are off, and it can be asked why.
#[derive(Debug)]
pub struct Halted<F, O, W, C> {
    /// Its parts; their outputs have been told to let go.
    pub parts: Parts<F, O, W, C>,
    /// Why.
    pub fault: Fault,
    /// What happened.
    pub log: Log,
}

impl<F, O: Outputs, W, C> Halted<F, O, W, C> {
    /// Tells every output to let go once more; to be called again and again.
    pub fn hold(&mut self) {
        let _ = self.parts.outputs.release();
    }
}

/// A station that runs, or a controller that does not.
pub type Booted<'m, F, O, W, C> = Result<Station<'m, F, O, W, C>, Halted<F, O, W, C>>;

/// Tests memory and images and makes a station of them.
///
/// # Errors
/// Whatever is wrong comes to a controller that holds its outputs off; there is no plan that it runs instead.
#[expect(clippy::result_large_err, reason = "there is no heap, and either way it is made once")]
pub fn boot<'m, F: Field, O: Outputs, W: Watchdog, C: Clock>(
    mut parts: Parts<F, O, W, C>,
    images: Images<'m>,
    memory: Memory<'m>,
    cause: Cause,
) -> Booted<'m, F, O, W, C> {
    match tested(&mut parts, images, memory, cause) {
        Ok((twin, patrols, base)) => Ok(Station::new(Tested { parts, twin, patrols, base, log: Log::new() })),
        Err(fault) => {
            let _ = parts.outputs.release();
            let mut log = Log::new();
            let (number, value) = (u16::from(fault.code()), u32::from(fault.detail()));
            log.tell(Event { scan: 0, kind: Kind::Fault, number, value });
            Err(Halted { parts, fault, log })
        }
    }
}

/// Everything that must be well before the first scan.
fn tested<'m, F: Field, O: Outputs, W, C>(
    parts: &mut Parts<F, O, W, C>,
    images: Images<'m>,
    memory: Memory<'m>,
    cause: Cause,
) -> Result<(Twin<'m>, [Patrol<'m>; 2], Sample), Fault> {
    parts.outputs.release().map_err(|_| Fault::Pin)?;
    if let Cause::Restart(code) = cause {
        return Err(Fault::Restarted(code));
    }
    let [upright, inverted] = memory;
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
    let mut base = Sample::default();
    parts.field.sample(&mut base).map_err(|_| Fault::Missing)?;
    let patrols = [Patrol::new(0, first).ok_or(Fault::Room)?, Patrol::new(1, second).ok_or(Fault::Room)?];
    let twin = Twin::power_up(&opened, [upright, inverted], &base)?;
    Ok((twin, patrols, base))
}
