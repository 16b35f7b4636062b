//! One plan in two copies: upright over one memory, inverted over another, each from its own sample and its own image.
//!
//! After every scan **every cell** of the two states must be the complement of the other's, and so must the verdicts. A rolling part
//! would cost less, but all of it gives a law instead of a probability: whatever single thing
//! turned (a cell, a sample, a byte of one image), either both copies came to the same state and verdict, one of them
//! untouched, so that it is right; or the controller stops in the same scan.

use crate::fault::Fault;
use crate::sample::{CHANNELS, GAUGES, LINKS, SOURCES, Sample};
use heapless::Vec;
use logic_rules::image::{Health, Image, Scale, ScaleRow};
use logic_rules::plan::{GaugeRow, Needs, StopRow};
use logic_rules::step::{self, Bound, Frame, Inputs, Moved, Reading};
use logic_rules::{Algebra, Inverted, Upright};

/// What a scan publishes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Published {
    /// Rank of the most severe answer; 0 for none.
    pub answer: u32,
    /// A start is permitted.
    pub permit: bool,
    /// The reset acted, after this verdict.
    pub reset: bool,
    /// Outputs to be energised, bit `i` for output `i`; all others are off.
    pub on: u32,
}

/// A reading whose bits and words are cells of memory.
trait Stored: Algebra<Bit = u32, Word = u32> {
    /// The cell, upright.
    fn seen(cell: u32) -> u32;
}
impl Stored for Upright {
    fn seen(cell: u32) -> u32 {
        cell
    }
}
impl Stored for Inverted {
    fn seen(cell: u32) -> u32 {
        !cell
    }
}

/// What a copy keeps beside its cells.
#[derive(Debug, Default)]
pub struct Kept {
    scales: Vec<Scale, GAUGES>,
    /// Pulses of each source at the scan before.
    pulses: Vec<u32, SOURCES>,
    /// Good frames of each link at the scan before.
    frames: Vec<u32, LINKS>,
}

impl Kept {
    /// Nothing yet.
    pub const fn new() -> Self {
        Self { scales: Vec::new(), pulses: Vec::new(), frames: Vec::new() }
    }
}

/// One copy.
#[derive(Debug)]
struct Copy<'m, A> {
    algebra: A,
    image: Image<'m>,
    cells: &'m mut [u32],
    kept: &'m mut Kept,
}

/// What a copy found, upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Found {
    answer: u32,
    permit: u32,
    reset: u32,
    on: u32,
    stirs: Stirs,
}

/// What there may be to tell of a scan beside its verdict.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Stirs {
    /// Bypasses that are active, bit `i` for bypass `i`.
    pub bypasses: u32,
    /// Something trips.
    pub trips: bool,
}

/// Cells of state, which must agree, and all cells.
fn sizes(needs: Needs) -> Option<(usize, usize)> {
    let state = needs.bits.checked_add(needs.words)?;
    Some((state, state.checked_add(needs.work_bits)?.checked_add(needs.work_words)?))
}

impl<'m, A: Stored> Copy<'m, A> {
    fn power_up(
        algebra: A,
        image: &Image<'m>,
        cells: &'m mut [u32],
        kept: &'m mut Kept,
        base: &Sample,
    ) -> Result<Self, Fault> {
        let (gauges, wiring) = (image.plan().tables().gauges, image.wiring());
        kept.scales.clear();
        for (number, (gauge, scale)) in (0_u8..).zip(gauges.iter().zip(wiring.scales)) {
            let scale = Scale::new(&ScaleRow::read(scale), GaugeRow::read(gauge).top).ok_or(Fault::Scale(number))?;
            kept.scales.push(scale).map_err(|_| Fault::Room)?;
        }
        let mut copy = Self { algebra, image: *image, cells, kept };
        copy.rebase(base);
        copy.restart()?;
        Ok(copy)
    }
    /// What counters and links have counted so far does not count.
    fn rebase(&mut self, base: &Sample) {
        self.kept.pulses.clone_from(&base.pulses);
        self.kept.frames = base.links.iter().map(|link| link.good).collect();
    }
    /// The state at power-up.
    fn restart(&mut self) -> Result<(), Fault> {
        let needs = self.image.needs();
        let (no, zero) = (self.algebra.bit(false), self.algebra.word(0));
        self.cells.fill(zero);
        let (bits, rest) = self.cells.split_at_mut_checked(needs.bits).ok_or(Fault::Room)?;
        let (words, rest) = rest.split_at_mut_checked(needs.words).ok_or(Fault::Room)?;
        bits.fill(no);
        let work_bits = rest.get_mut(..needs.work_bits).ok_or(Fault::Room)?;
        work_bits.fill(no);
        step::power_up(&mut self.algebra, self.image.plan(), bits, words).ok_or(Fault::Room)
    }
    /// The plan bound to its cells. It is bound anew in every scan: between scans nothing stands in memory but cells.
    #[expect(clippy::inline_always, reason = "what is bound would be moved, which takes longer than the binding")]
    #[inline(always)]
    fn bind(&mut self) -> Option<(&mut A, Bound<'_, '_, A>)> {
        let needs = self.image.needs();
        let (bits, rest) = self.cells.split_at_mut_checked(needs.bits)?;
        let (words, rest) = rest.split_at_mut_checked(needs.words)?;
        let (work_bits, rest) = rest.split_at_mut_checked(needs.work_bits)?;
        let work_words = rest.get_mut(..needs.work_words)?;
        Some((&mut self.algebra, Bound::over(self.image.plan(), bits, words, work_bits, work_words)?))
    }
    /// One scan; `None` if the sample is not of this plan.
    #[inline(never)]
    fn scan(&mut self, sample: &Sample) -> Option<Found> {
        let a = &mut self.algebra;
        let mut channels: Vec<u32, CHANNELS> = Vec::new();
        for level in &sample.channels {
            channels.push(a.bit(*level)).ok()?;
        }
        let mut gauges: Vec<Reading<A>, GAUGES> = Vec::new();
        for (scale, current) in self.kept.scales.iter().zip(&sample.currents) {
            let scaled = scale.read(i64::from(*current));
            let good = a.bit(scaled.health == Health::Good);
            let broken = a.bit(scaled.health == Health::Broken);
            gauges.push(Reading { value: a.word(scaled.steps), good, broken }).ok()?;
        }
        let mut sources: Vec<Moved<A>, SOURCES> = Vec::new();
        for ((mm, now), before) in self.image.wiring().pulses.iter().zip(&sample.pulses).zip(&mut self.kept.pulses) {
            let ahead = now.wrapping_sub(*before);
            *before = *now;
            // Half the range of the counter is far more than any scan's travel: what seems more ran backwards.
            let (forward, back) = if ahead > u32::MAX >> 1 { (0, ahead.wrapping_neg()) } else { (ahead, 0) };
            let mm = u32::from_le_bytes(*mm);
            let moved = |pulses: u32| pulses.saturating_mul(mm);
            sources.push(Moved { forward: a.word(moved(forward)), back: a.word(moved(back)) }).ok()?;
        }
        let mut links: Vec<Frame<A>, LINKS> = Vec::new();
        for (link, before) in sample.links.iter().zip(&mut self.kept.frames) {
            let fresh = a.bit(link.good != *before);
            *before = link.good;
            links.push(Frame { fresh, order: a.word(u32::from(link.order)) }).ok()?;
        }
        let (a, mut bound) = self.bind()?;
        let inputs = Inputs { channels: &channels, gauges: &gauges, sources: &sources, links: &links };
        let verdict = bound.scan(a, &inputs)?;
        let mut on = 0;
        for ([off, _], bit) in bound.bits().output.iter().zip(0_u32..) {
            if A::seen(*off) == 0 {
                on |= 1_u32.checked_shl(bit)?;
            }
        }
        let (answer, permit, reset) = (A::seen(verdict.answer), A::seen(verdict.permit), A::seen(verdict.reset));
        let set = |cells: &[[u32; 1]]| {
            cells.iter().zip(0_u32..32).fold(0, |all, ([cell], bit)| all | (A::seen(*cell) & 1) << bit)
        };
        let stirs = Stirs { bypasses: set(bound.work.active), trips: A::seen(verdict.trips) != 0 };
        Some(Found { answer, permit, reset, on, stirs })
    }
    /// Whether a scan from power-up comes to what every plan must: the most severe stop stands, what it releases is off.
    fn knows(&self, found: Found) -> bool {
        let tables = self.image.plan().tables();
        let releases = tables.stops.last().map_or(u32::MAX, |row| StopRow::read(row).releases);
        usize::try_from(found.answer) == Ok(tables.ranks.len()) && found.permit == 0 && found.on & releases == 0
    }
}

/// Both copies.
#[derive(Debug)]
pub struct Twin<'m> {
    upright: Copy<'m, Upright>,
    inverted: Copy<'m, Inverted>,
    /// Cells of state.
    state: usize,
    stirs: Stirs,
}

impl<'m> Twin<'m> {
    /// Powers both copies up over their cells. What counters and links have counted before `base` does not count.
    ///
    /// # Errors
    /// [`Fault::Room`] if the plan needs more than there is, [`Fault::Scale`], [`Fault::KnownAnswer`].
    pub fn power_up(
        images: &[Image<'m>; 2],
        cells: [&'m mut [u32]; 2],
        kept: &'m mut [Kept; 2],
        base: &Sample,
    ) -> Result<Self, Fault> {
        let ([first, second], [upright, inverted], [one, other]) = (images, cells, kept);
        let (state, all) = sizes(first.needs()).ok_or(Fault::Room)?;
        if upright.len() < all || inverted.len() < all {
            return Err(Fault::Room);
        }
        let upright = Copy::power_up(Upright, first, upright, one, base)?;
        let inverted = Copy::power_up(Inverted, second, inverted, other, base)?;
        let mut twin = Self { upright, inverted, state, stirs: Stirs::default() };
        twin.known_answer(base)?;
        Ok(twin)
    }
    /// Takes a scan whose result is known, and powers up again.
    fn known_answer(&mut self, base: &Sample) -> Result<(), Fault> {
        let upright = self.upright.scan(base).ok_or(Fault::NoVerdict)?;
        let inverted = self.inverted.scan(base).ok_or(Fault::NoVerdict)?;
        if !self.upright.knows(upright) || !self.inverted.knows(inverted) {
            return Err(Fault::KnownAnswer);
        }
        self.compare(upright, inverted)?;
        self.upright.restart()?;
        self.inverted.restart()
    }
    /// One scan of both copies, each from its own sample.
    ///
    /// # Errors
    /// [`Fault::NoVerdict`] if a sample is not of this plan, [`Fault::Differ`] if the copies come to different ends. Neither copy can be
    /// used after it.
    pub fn scan(&mut self, samples: [&Sample; 2]) -> Result<Published, Fault> {
        let [first, second] = samples;
        let upright = self.upright.scan(first).ok_or(Fault::NoVerdict)?;
        let inverted = self.inverted.scan(second).ok_or(Fault::NoVerdict)?;
        self.compare(upright, inverted)?;
        self.stirs = upright.stirs;
        Ok(Published {
            answer: upright.answer,
            permit: upright.permit == u32::MAX,
            reset: upright.reset == u32::MAX,
            // Each must want it on.
            on: upright.on & inverted.on,
        })
    }
    /// Every cell of state and the verdict, each against its complement.
    fn compare(&self, upright: Found, inverted: Found) -> Result<(), Fault> {
        if upright != inverted {
            return Err(Fault::Differ(u16::MAX));
        }
        let (Some(a), Some(b)) = (self.upright.cells.get(..self.state), self.inverted.cells.get(..self.state)) else {
            return Err(Fault::Room);
        };
        // Without a branch a cell, and eight at a time: the place is looked for only once something is wrong.
        let differ = |a: &[u32], b: &[u32]| a.iter().zip(b).fold(u32::MAX, |all, (a, b)| all & (a ^ b));
        let ((a8, a1), (b8, b1)) = (a.as_chunks::<8>(), b.as_chunks::<8>());
        if a8.iter().zip(b8).fold(differ(a1, b1), |all, (a, b)| all & differ(a, b)) == u32::MAX {
            return Ok(());
        }
        let place = a.iter().zip(b).position(|(a, b)| a ^ b != u32::MAX).unwrap_or(0);
        Err(Fault::Differ(u16::try_from(place).unwrap_or(u16::MAX)))
    }
    /// The image of the first copy.
    pub fn image(&self) -> &Image<'m> {
        &self.upright.image
    }
    /// What there may be to tell of the last scan.
    pub fn stirs(&self) -> Stirs {
        self.stirs
    }
    /// Looks at the first copy after a scan.
    pub fn look<T>(&mut self, at: impl FnOnce(&Bound<'_, '_, Upright>) -> T) -> Option<T> {
        self.upright.bind().map(|(_, bound)| at(&bound))
    }
    /// Begins with a lift that runs, see [`Bound::adopt`]: so a bench replays a recording that was made of one.
    #[cfg(any(test, feature = "bench"))]
    pub fn adopt(&mut self) -> Option<()> {
        let (a, mut bound) = self.upright.bind()?;
        bound.adopt(a);
        let (a, mut bound) = self.inverted.bind()?;
        bound.adopt(a);
        Some(())
    }
    /// Takes these samples, one for each copy, for those of the scan before.
    #[cfg(any(test, feature = "bench"))]
    pub fn rebase(&mut self, bases: [&Sample; 2]) {
        let [first, second] = bases;
        self.upright.rebase(first);
        self.inverted.rebase(second);
    }
    /// The cells of both copies, so that trials can turn bits in them.
    #[cfg(any(test, feature = "bench"))]
    pub fn cells(&mut self) -> [&mut [u32]; 2] {
        [self.upright.cells, self.inverted.cells]
    }
}
