//! Sections of an image, cut in their order. Each must begin where the one above ends, so that every
//! byte belongs to exactly one.

use super::layout::{SECTIONS, SectionRow};
use super::{Fault, HEADER};
use crate::plan::{
    BandRow, BypassRow, ChatterRow, CompareRow, ConfirmRow, CountRow, DifferRow, ExerciseRow, GateRow, GaugeRow,
    GrowRow, HeadRow, HoldRow, LinkRow, MeasureRow, MissingRow, ModeRow, NodeRow, OutputRow, PaceRow, PairRow,
    RefillRow, Rows, SlowRow, SpacingRow, StopRow, StuckRow, Tables, TargetRow, TimeRow, TotalRow, TravelRow,
};
use core::cmp::Ordering;

/// What is left to cut.
pub(super) struct Sections<'a> {
    /// The image but for its checksum.
    body: &'a [u8],
    entries: core::slice::Iter<'a, [u8; SectionRow::SIZE]>,
    /// End of the section above.
    at: usize,
}

impl<'a> Sections<'a> {
    /// `entries` are the bytes from the table of sections on.
    pub(super) fn new(body: &'a [u8], entries: &'a [u8]) -> Result<Self, Fault> {
        let (entries, _) = entries.as_chunks();
        let entries = entries.get(..usize::from(SECTIONS)).ok_or(Fault::Short)?;
        if entries.iter().any(|entry| !SectionRow::read(entry).fill_is_zero()) {
            return Err(Fault::Reserved);
        }
        Ok(Self { body, entries: entries.iter(), at: usize::from(HEADER) })
    }

    /// The next section.
    pub(super) fn take<const N: usize>(&mut self, name: &'static str) -> Result<Rows<'a, N>, Fault> {
        let entry = SectionRow::read(self.entries.next().ok_or(Fault::Header)?);
        if usize::from(entry.size) != N {
            return Err(Fault::RowSize(name));
        }
        let number = |n: u32| usize::try_from(n).map_err(|_| Fault::Outside(name));
        match number(entry.offset)?.cmp(&self.at) {
            Ordering::Less => return Err(Fault::Overlap(name)),
            Ordering::Greater => return Err(Fault::Gap(name)),
            Ordering::Equal => {}
        }
        let bytes = number(entry.rows)?.checked_mul(N).ok_or(Fault::Outside(name))?;
        let end = self.at.checked_add(bytes).ok_or(Fault::Outside(name))?;
        let own = self.body.get(self.at..end).ok_or(Fault::Outside(name))?;
        self.at = end;
        Ok(own.as_chunks().0)
    }

    /// Nothing may be left.
    pub(super) fn end(&self) -> Result<(), Fault> {
        if self.at == self.body.len() { Ok(()) } else { Err(Fault::Gap("checksum")) }
    }

    /// Head and tables of the plan, unverified but for what only fills rows.
    pub(super) fn tables(&mut self) -> Result<Tables<'a>, Fault> {
        let [head] = self.take("head")? else { return Err(Fault::Rows("head")) };
        let tables = Tables {
            head: HeadRow::read(head),
            line_up: self.take("line_up")?,
            line_down: self.take("line_down")?,
            line_invert: self.take("line_invert")?,
            chatters: self.take("chatters")?,
            pairs: self.take("pairs")?,
            stucks: self.take("stucks")?,
            missings: self.take("missings")?,
            gauges: self.take("gauges")?,
            paces: self.take("paces")?,
            links: self.take("links")?,
            orders: self.take("orders")?,
            differs: self.take("differs")?,
            compares: self.take("compares")?,
            bands: self.take("bands")?,
            nodes: self.take("nodes")?,
            modes: self.take("modes")?,
            mode_sets: self.take("mode_sets")?,
            bypasses: self.take("bypasses")?,
            holds: self.take("holds")?,
            totals: self.take("totals")?,
            travels: self.take("travels")?,
            grows: self.take("grows")?,
            age_tops: self.take("age_tops")?,
            times: self.take("times")?,
            time_tops: self.take("time_tops")?,
            measures: self.take("measures")?,
            spacings: self.take("spacings")?,
            confirms: self.take("confirms")?,
            exercises: self.take("exercises")?,
            counts: self.take("counts")?,
            gates: self.take("gates")?,
            ranks: self.take("ranks")?,
            slows: self.take("slows")?,
            stops: self.take("stops")?,
            outputs: self.take("outputs")?,
            refills: self.take("refills")?,
            targets: self.take("targets")?,
        };
        fill(&tables)?;
        Ok(tables)
    }
}

/// What only fills a row must be 0: a plan has one image.
fn fill(t: &Tables<'_>) -> Result<(), Fault> {
    if !t.head.fill_is_zero() {
        return Err(Fault::Spare("head"));
    }
    macro_rules! filled {
        ($($table:ident: $row:ident;)*) => {$(
            if !t.$table.iter().all(|row| $row::read(row).fill_is_zero()) {
                return Err(Fault::Spare(stringify!($table)));
            }
        )*};
    }
    filled! {
        chatters: ChatterRow; pairs: PairRow; stucks: StuckRow; missings: MissingRow; gauges: GaugeRow; paces: PaceRow;
        links: LinkRow; differs: DifferRow; compares: CompareRow; bands: BandRow; nodes: NodeRow; modes: ModeRow;
        bypasses: BypassRow; holds: HoldRow; totals: TotalRow; travels: TravelRow; grows: GrowRow; times: TimeRow;
        measures: MeasureRow; spacings: SpacingRow; confirms: ConfirmRow; exercises: ExerciseRow; counts: CountRow;
        gates: GateRow; slows: SlowRow; stops: StopRow; outputs: OutputRow; refills: RefillRow; targets: TargetRow;
    }
    Ok(())
}
