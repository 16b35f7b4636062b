//! Outputs: de-energised acts; read back; off until the stop is reset.

use super::condition::{know, must};
use super::{Inputs, any, counting, held, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits};
use crate::plan::{NONE, OutputRow, StopRow, Tables};

/// Compares each read-back with what was published.
#[inline(always)]
pub(super) fn read_back<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    inputs: &Inputs<'_, A>,
) -> Option<()> {
    let yes = a.bit(true);
    for ((row, [off, _]), [count]) in tables.outputs.iter().zip(bits.output.iter()).zip(words.output.iter_mut()) {
        let bytes = row;
        let row = OutputRow::read(bytes);
        if row.channel == NONE {
            // Without a read-back it is never known to be off.
            *work.may.get_mut(usize::from(row.atom))? = [yes, yes];
            continue;
        }
        let seen = *inputs.channels.get(usize::from(row.channel))?;
        know(a, work, row.atom, seen);
        let differs = a.xor(seen, *off);
        let counts = a.at_least(*count, 1);
        let acts = a.or(differs, counts);
        if a.possible(acts) {
            contradict(a, bytes, differs, count, work);
        }
    }
    Some(())
}

/// Counts for how long a read-back has differed.
#[inline(never)]
fn contradict<A: Algebra>(
    a: &mut A,
    row: &[u8; OutputRow::SIZE],
    differs: A::Bit,
    count: &mut A::Word,
    work: &mut WorkBits<'_, A::Bit>,
) {
    let row = OutputRow::read(row);
    let contradicted = held(a, differs, count, row.limit);
    trip(a, work.trip, row.way, contradicted);
}

/// Which outputs are off, from the stops that stand now and those that stood before.
#[inline(always)]
pub(super) fn outputs<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &WorkBits<'_, A::Bit>,
    stood: A::Bit,
) -> Option<()> {
    let slows = tables.slows.len();
    let (now, counts) = (any(a, work.stands.get(slows..)?), counting(a, words.stop));
    let acts = a.or(now, counts);
    let mut acts = a.or(acts, stood);
    for cell in bits.output.as_flattened() {
        acts = a.or(acts, *cell);
    }
    // Without a stop nothing is counted, nothing is off, and what is on stays on.
    if a.possible(acts) { release(a, tables, bits, words, work) } else { Some(()) }
}

/// Releases the outputs that the stops name.
#[inline(never)]
fn release<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &WorkBits<'_, A::Bit>,
) -> Option<()> {
    let no = a.bit(false);
    let slows = tables.slows.len();
    let (now, before) = (work.stands.get(slows..)?, bits.published.get(slows..)?);
    for ((stop, [stood]), [count]) in tables.stops.iter().zip(before).zip(words.stop.iter_mut()) {
        let _ = held(a, *stood, count, StopRow::read(stop).latest);
    }
    for ([off, let_go], bit) in bits.output.iter_mut().zip(0_u32..) {
        let (mut named, mut due_now) = (no, no);
        *off = no;
        for (((stop, [stands]), [stood]), [count]) in tables.stops.iter().zip(now).zip(before).zip(words.stop.iter()) {
            let stop = StopRow::read(stop);
            if stop.releases.checked_shr(bit).unwrap_or(0) & 1 == 1 {
                *off = a.or(*off, *stands);
            }
            if stop.then.checked_shr(bit).unwrap_or(0) & 1 == 0 {
                continue;
            }
            // A stop that stood in the verdict before lets go once the pace is known to be still, or
            // its time has run out; what was let go stays so while any such stop stands.
            let still = must(a, work.may, stop.still)?;
            let long = a.more_than(*count, stop.latest);
            let due = a.or(still, long);
            let due = a.and(due, *stood);
            let due = a.and(due, *stands);
            named = a.or(named, *stands);
            due_now = a.or(due_now, due);
        }
        let kept = a.or(*let_go, due_now);
        *let_go = a.and(named, kept);
        *off = a.or(*off, *let_go);
    }
    Some(())
}
