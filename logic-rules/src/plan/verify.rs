//! Verification of tables: every index in range, every condition after those it refers to, every
//! size within what a step can hold. What passes cannot make a step fail.

use super::{
    BandRow, BypassRow, ChatterRow, CompareRow, ConfirmRow, CountRow, DifferRow, ExerciseRow, GateRow, GaugeRow,
    GrowRow, HoldRow, LinkRow, MeasureRow, MissingRow, ModeRow, NONE, Needs, NodeRow, OutputRow, PaceRow, PairRow,
    Plan, RefillRow, SlowRow, SpacingRow, StopRow, StuckRow, Tables, TargetRow, TimeRow, TotalRow, TravelRow, long,
    short,
};

/// Why tables are no plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fault {
    /// Two columns that belong together differ in length.
    Columns(&'static str),
    /// An index in a row of this table points nowhere.
    Index(&'static str, u16),
    /// A condition refers to itself or a later one.
    Order(u16),
    /// A limit of this table is out of its range.
    Limit(&'static str, u16),
    /// There are more rows of this table than a step can hold.
    TooMany(&'static str),
    /// Numbers of ways by rank do not add up.
    Ranks,
    /// Queue places do not add up.
    Places,
}

/// The greatest limit: what a settled sum of two limits and a scan's travel still fits.
pub(super) const MOST: u32 = 1 << 28;

struct Look<'t> {
    t: &'t Tables<'t>,
}

impl Look<'_> {
    fn literal(&self, table: &'static str, row: usize, literal: u16) -> Result<(), Fault> {
        below(table, row, literal >> 1, usize::from(self.t.head.atoms))
    }
    fn optional(&self, table: &'static str, row: usize, literal: u16) -> Result<(), Fault> {
        if literal == NONE { Ok(()) } else { self.literal(table, row, literal) }
    }
    fn atom(&self, table: &'static str, row: usize, atom: u16) -> Result<(), Fault> {
        below(table, row, atom, usize::from(self.t.head.atoms))
    }
    fn line(&self, table: &'static str, row: usize, line: u16) -> Result<(), Fault> {
        below(table, row, line, usize::from(self.t.head.lines))
    }
    fn pace(&self, table: &'static str, row: usize, pace: u16) -> Result<(), Fault> {
        below(table, row, pace, self.t.paces.len())
    }
    fn way(&self, table: &'static str, row: usize, way: u16) -> Result<(), Fault> {
        below(table, row, way, usize::from(self.t.head.ways))
    }
    fn stop(&self, table: &'static str, row: usize, way: u16) -> Result<(), Fault> {
        self.way(table, row, way)?;
        if way < self.t.head.first_stop { Err(Fault::Index(table, index(row))) } else { Ok(()) }
    }
    fn may_way(&self, table: &'static str, row: usize, way: u16) -> Result<(), Fault> {
        if way == NONE { Ok(()) } else { self.way(table, row, way) }
    }
}

fn index(row: usize) -> u16 {
    u16::try_from(row).unwrap_or(NONE)
}
fn below(table: &'static str, row: usize, value: u16, count: usize) -> Result<(), Fault> {
    if usize::from(value) < count { Ok(()) } else { Err(Fault::Index(table, index(row))) }
}
fn limit(table: &'static str, row: usize, value: u32, least: u32) -> Result<(), Fault> {
    if (least..=MOST).contains(&value) { Ok(()) } else { Err(Fault::Limit(table, index(row))) }
}
fn same(name: &'static str, a: usize, b: usize) -> Result<(), Fault> {
    if a == b { Ok(()) } else { Err(Fault::Columns(name)) }
}

/// Verifies, and counts the cells that are needed.
pub(super) fn verify(t: &Tables<'_>) -> Result<Needs, Fault> {
    let look = Look { t };
    let h = &t.head;
    let lines = usize::from(h.lines);
    for (name, count, most) in [
        ("lines", lines, 1024),
        ("modes", t.modes.len(), 32),
        ("bypasses", t.bypasses.len(), 16),
        ("outputs", t.outputs.len(), 32),
        ("ranks", t.ranks.len(), 250),
        ("ways", usize::from(h.ways), 4096),
        ("atoms", usize::from(h.atoms), 16_384),
        ("travels", t.travels.len(), 1_000),
    ] {
        if count > most {
            return Err(Fault::TooMany(name));
        }
    }
    same("line_up", t.line_up.len(), lines)?;
    same("line_down", t.line_down.len(), lines)?;
    same("line_invert", t.line_invert.len(), lines)?;
    for (i, cell) in t.line_up.iter().chain(t.line_down).enumerate() {
        limit("settling", i, long(cell), 1)?;
    }
    let leaves = usize::from(h.atoms)
        .checked_sub(t.nodes.len())
        .and_then(|n| n.checked_sub(t.bands.len()))
        .and_then(|n| n.checked_sub(t.compares.len()))
        .ok_or(Fault::Columns("atoms"))?;
    if leaves <= lines {
        return Err(Fault::Columns("atoms"));
    }
    ranks(t)?;
    conditions(t, &look, leaves)?;
    inputs(t, &look)?;
    single(t, &look)?;
    watches(t, &look)?;
    answers(t, &look)?;
    let (ages, timed) = queues(t, &look)?;
    let trial = Plan { tables: *t, needs: Needs { ages, timed, ..Needs::default() } };
    let too_many = Fault::TooMany("cells");
    Ok(Needs {
        bits: crate::cells::count_bits(&trial).ok_or(too_many)?,
        words: crate::cells::count_words(&trial).ok_or(too_many)?,
        work_bits: crate::cells::count_work_bits(&trial).ok_or(too_many)?,
        work_words: crate::cells::count_work_words(&trial).ok_or(too_many)?,
        ages,
        timed,
    })
}

fn ranks(t: &Tables<'_>) -> Result<(), Fault> {
    same("ranks", t.ranks.len(), t.slows.len().saturating_add(t.stops.len()))?;
    let count = |rows: &[[u8; 2]]| rows.iter().fold(0_usize, |sum, row| sum.saturating_add(usize::from(short(row))));
    let slow_ways = count(t.ranks.get(..t.slows.len()).unwrap_or(&[]));
    if t.stops.is_empty() || count(t.ranks) != usize::from(t.head.ways) || slow_ways != usize::from(t.head.first_stop) {
        return Err(Fault::Ranks);
    }
    Ok(())
}

fn conditions(t: &Tables<'_>, look: &Look<'_>, leaves: usize) -> Result<(), Fault> {
    let levels = t.gauges.len().saturating_add(t.paces.len().saturating_mul(3)).saturating_add(t.differs.len());
    for (i, row) in t.differs.iter().enumerate() {
        let row = DifferRow::read(row);
        for level in [row.a, row.b] {
            let pace = usize::from(level).checked_sub(t.gauges.len());
            let sound = match pace {
                Some(of) => row.paces != 0 && of.is_multiple_of(3) && of < t.paces.len().saturating_mul(3),
                None => row.paces == 0,
            };
            if !sound {
                return Err(Fault::Index("differs", index(i)));
            }
        }
        limit("differs", i, row.above.max(row.below), 0)?;
    }
    for (i, row) in t.compares.iter().enumerate() {
        below("compares", i, CompareRow::read(row).level, levels)?;
    }
    for (i, row) in t.bands.iter().enumerate() {
        let row = BandRow::read(row);
        below("bands", i, row.level, levels)?;
        limit("bands", i, row.most, 0)?;
    }
    let first = leaves.saturating_add(t.compares.len()).saturating_add(t.bands.len());
    for (i, row) in t.nodes.iter().enumerate() {
        let row = NodeRow::read(row);
        let own = first.saturating_add(i);
        for literal in [row.a, row.b] {
            if usize::from(literal >> 1) >= own {
                return Err(Fault::Order(index(i)));
            }
        }
    }
    let _ = look;
    Ok(())
}

fn inputs(t: &Tables<'_>, look: &Look<'_>) -> Result<(), Fault> {
    for (i, row) in t.chatters.iter().enumerate() {
        let row = ChatterRow::read(row);
        look.line("chatters", i, row.line)?;
        look.atom("chatters", i, row.atom)?;
        look.atom("chatters", i, row.fault)?;
        look.stop("chatters", i, row.way)?;
        limit("chatters", i, row.limit, 0)?;
        limit("chatters", i, row.span, 1)?;
    }
    for (i, row) in t.pairs.iter().enumerate() {
        let row = PairRow::read(row);
        look.line("pairs", i, row.a)?;
        look.line("pairs", i, row.b)?;
        look.atom("pairs", i, row.atom)?;
        if row.fault != NONE {
            look.atom("pairs", i, row.fault)?;
            look.stop("pairs", i, row.way)?;
        }
        limit("pairs", i, row.limit, 0)?;
    }
    for (i, row) in t.stucks.iter().enumerate() {
        let row = StuckRow::read(row);
        look.line("stucks", i, row.line)?;
        look.pace("stucks", i, row.pace)?;
        look.atom("stucks", i, row.atom)?;
        look.atom("stucks", i, row.fault)?;
        look.stop("stucks", i, row.way)?;
        limit("stucks", i, row.limit, 0)?;
    }
    for (i, row) in t.missings.iter().enumerate() {
        let row = MissingRow::read(row);
        look.line("missings", i, row.line)?;
        look.pace("missings", i, row.pace)?;
        look.stop("missings", i, row.way)?;
        limit("missings", i, row.limit, 0)?;
    }
    for (i, row) in t.gauges.iter().enumerate() {
        let row = GaugeRow::read(row);
        look.atom("gauges", i, row.broken)?;
        look.atom("gauges", i, row.doubtful)?;
        look.stop("gauges", i, row.way_broken)?;
        look.stop("gauges", i, row.way_doubtful)?;
        look.may_way("gauges", i, row.way_leap)?;
        look.may_way("gauges", i, row.way_unrested)?;
        if row.way_unrested != NONE {
            look.line("gauges", i, row.rest_line)?;
        }
        limit("gauges", i, row.top, 1)?;
        limit("gauges", i, row.leap, 0)?;
    }
    for (i, row) in t.paces.iter().enumerate() {
        let row = PaceRow::read(row);
        below("paces", i, row.source, usize::from(t.head.sources))?;
        if row.second != NONE {
            below("paces", i, row.second, usize::from(t.head.sources))?;
        }
        if row.running != NONE {
            look.atom("paces", i, row.running)?;
        }
        look.may_way("paces", i, row.way_unsure)?;
        look.stop("paces", i, row.way_over)?;
        look.atom("paces", i, row.over)?;
        look.atom("paces", i, row.unsure)?;
        limit("paces", i, row.span, 1)?;
        limit("paces", i, row.top_scan, 1)?;
        limit("paces", i, row.most, 1)?;
        if row.most != row.top_scan.saturating_mul(row.span) {
            return Err(Fault::Limit("paces", index(i)));
        }
        limit("paces", i, row.fault_after, 0)?;
        limit("paces", i, row.differ, 0)?;
    }
    for (i, row) in t.links.iter().enumerate() {
        let row = LinkRow::read(row);
        look.atom("links", i, row.silent)?;
        look.stop("links", i, row.way_silent)?;
        limit("links", i, row.limit, 0)?;
        let first = usize::from(row.orders);
        let orders = t.orders.get(first..first.saturating_add(t.ranks.len())).ok_or(Fault::Index("links", index(i)))?;
        for way in orders {
            look.way("links", i, short(way))?;
        }
    }
    Ok(())
}

fn single(t: &Tables<'_>, look: &Look<'_>) -> Result<(), Fault> {
    let h = &t.head;
    look.stop("head", 0, h.way_started)?;
    if !t.modes.is_empty() {
        look.stop("head", 0, h.way_unselected)?;
        look.stop("head", 0, h.way_changed)?;
        look.literal("head", 0, h.mode_still)?;
    }
    if h.reset_key != NONE {
        look.atom("head", 0, h.reset_key)?;
        look.literal("head", 0, h.reset_when)?;
        limit("head", 0, h.reset_lasting, 0)?;
        limit("head", 0, h.reset_shortest, 1)?;
        limit("head", 0, h.reset_longest, 1)?;
    }
    limit("head", 0, h.restart, 0)?;
    for (i, row) in t.modes.iter().enumerate() {
        let row = ModeRow::read(row);
        look.atom("modes", i, row.key)?;
        look.optional("modes", i, row.fast)?;
        if row.fast != NONE {
            look.stop("modes", i, row.way)?;
        }
    }
    for (i, row) in t.bypasses.iter().enumerate() {
        let row = BypassRow::read(row);
        look.atom("bypasses", i, row.key)?;
        look.literal("bypasses", i, row.slow)?;
        limit("bypasses", i, row.budget, 1)?;
        limit("bypasses", i, row.rest, 1)?;
    }
    Ok(())
}

fn watches(t: &Tables<'_>, look: &Look<'_>) -> Result<(), Fault> {
    for (i, row) in t.holds.iter().enumerate() {
        let row = HoldRow::read(row);
        look.literal("holds", i, row.literal)?;
        look.way("holds", i, row.way)?;
        limit("holds", i, row.limit, 0)?;
    }
    for (i, row) in t.totals.iter().enumerate() {
        let row = TotalRow::read(row);
        look.literal("totals", i, row.literal)?;
        look.way("totals", i, row.way)?;
        limit("totals", i, row.of, 1)?;
        limit("totals", i, row.span, 1)?;
    }
    for (i, row) in t.measures.iter().enumerate() {
        let row = MeasureRow::read(row);
        look.line("measures", i, row.line)?;
        look.literal("measures", i, row.outside)?;
        below("measures", i, row.level, t.gauges.len())?;
        if row.pace != NONE {
            look.pace("measures", i, row.pace)?;
        }
        look.stop("measures", i, row.way)?;
        limit("measures", i, row.limit, 0)?;
    }
    for (i, row) in t.spacings.iter().enumerate() {
        let row = SpacingRow::read(row);
        look.line("spacings", i, row.line)?;
        look.pace("spacings", i, row.pace)?;
        look.optional("spacings", i, row.band)?;
        look.stop("spacings", i, row.closer)?;
        if row.farther != NONE {
            look.stop("spacings", i, row.farther)?;
            if row.most >= row.top {
                return Err(Fault::Limit("spacings", index(i)));
            }
        }
        limit("spacings", i, row.least, 0)?;
        limit("spacings", i, row.top, row.least)?;
    }
    for (i, row) in t.confirms.iter().enumerate() {
        let row = ConfirmRow::read(row);
        below("confirms", i, row.rank, t.ranks.len())?;
        look.literal("confirms", i, row.literal)?;
        look.stop("confirms", i, row.way)?;
        limit("confirms", i, row.limit, 0)?;
        if row.level != NONE {
            // The speed in either direction is the third level of a pace.
            let of = usize::from(row.level).checked_sub(t.gauges.len()).filter(|of| of % 3 == 2);
            if of.is_none_or(|of| of >= t.paces.len().saturating_mul(3)) {
                return Err(Fault::Index("confirms", index(i)));
            }
            limit("confirms", i, row.drop, 1)?;
        }
    }
    for (i, row) in t.exercises.iter().enumerate() {
        let row = ExerciseRow::read(row);
        look.line("exercises", i, row.a)?;
        if row.b != NONE {
            look.line("exercises", i, row.b)?;
        }
        match row.kind {
            0 => look.line("exercises", i, row.by)?,
            1 => look.pace("exercises", i, row.by)?,
            2 => {}
            _ => return Err(Fault::Limit("exercises", index(i))),
        }
        look.stop("exercises", i, row.way)?;
        limit("exercises", i, row.limit, 0)?;
    }
    for (i, row) in t.counts.iter().enumerate() {
        let row = CountRow::read(row);
        look.line("counts", i, row.enter)?;
        look.line("counts", i, row.leave)?;
        look.literal("counts", i, row.literal)?;
        for way in [row.over, row.below, row.wrong] {
            look.stop("counts", i, way)?;
        }
        limit("counts", i, row.most.max(row.confirmed), 0)?;
    }
    Ok(())
}

fn answers(t: &Tables<'_>, look: &Look<'_>) -> Result<(), Fault> {
    for (i, row) in t.gates.iter().enumerate() {
        let row = GateRow::read(row);
        look.way("gates", i, row.way)?;
        if row.set != NONE {
            below("gates", i, row.set, t.mode_sets.len())?;
        }
        if row.memory != NONE {
            below("gates", i, row.memory, usize::from(t.head.memories))?;
        }
    }
    for (i, row) in t.slows.iter().enumerate() {
        let row = SlowRow::read(row);
        look.literal("slows", i, row.fast)?;
        look.way("slows", i, row.way)?;
        limit("slows", i, row.limit, 0)?;
    }
    for (i, row) in t.stops.iter().enumerate() {
        let row = StopRow::read(row);
        look.literal("stops", i, row.still)?;
        limit("stops", i, row.latest, 0)?;
    }
    for (i, row) in t.outputs.iter().enumerate() {
        let row = OutputRow::read(row);
        look.atom("outputs", i, row.atom)?;
        if row.channel != NONE {
            look.line("outputs", i, row.channel)?;
            look.stop("outputs", i, row.way)?;
        }
        limit("outputs", i, row.limit, 0)?;
    }
    for (i, row) in t.refills.iter().enumerate() {
        let row = RefillRow::read(row);
        look.atom("refills", i, row.key)?;
        look.literal("refills", i, row.literal)?;
        let first = usize::from(row.first);
        let targets = t
            .targets
            .get(first..first.saturating_add(usize::from(row.count)))
            .ok_or(Fault::Index("refills", index(i)))?;
        for target in targets {
            let target = TargetRow::read(target);
            let count = if target.count == 0 { t.travels.len() } else { t.counts.len() };
            below("targets", i, target.row, count)?;
        }
    }
    Ok(())
}

/// Checks the travels and how their queues grow; gives the places of all, and of the timed ones.
fn queues(t: &Tables<'_>, look: &Look<'_>) -> Result<(usize, usize), Fault> {
    let mut ages = 0_usize;
    let mut timed = 0_usize;
    let mut growing = t.grows.iter().flat_map(|row| {
        let row = GrowRow::read(row);
        core::iter::repeat_n(row.pace, usize::from(row.cells))
    });
    let mut timing = t.times.iter().flat_map(|row| core::iter::repeat_n((), usize::from(TimeRow::read(row).cells)));
    let (mut tops, mut time_tops) = (t.age_tops.iter(), t.time_tops.iter());
    for (i, row) in t.travels.iter().enumerate() {
        let row = TravelRow::read(row);
        look.line("travels", i, row.from)?;
        look.line("travels", i, row.to)?;
        look.pace("travels", i, row.pace)?;
        look.optional("travels", i, row.band)?;
        for way in [row.early, row.late, row.stray, row.crowded, row.backwards] {
            look.stop("travels", i, way)?;
        }
        if !(1..=64).contains(&row.capacity) {
            return Err(Fault::Limit("travels", index(i)));
        }
        limit("travels", i, row.latest, row.earliest)?;
        limit("travels", i, row.backstop, 0)?;
        limit("travels", i, row.run, 1)?;
        let time = if row.time == NONE { usize::from(NONE) } else { timed };
        if usize::from(row.place) != ages || usize::from(row.time) != time {
            return Err(Fault::Places);
        }
        let pace = if row.band == NONE { row.pace } else { NONE };
        for _ in 0..row.capacity {
            let top = tops.next().map(long);
            if growing.next() != Some(pace) || top != Some(row.latest.saturating_add(1)) {
                return Err(Fault::Places);
            }
            if row.time != NONE
                && (timing.next().is_none() || time_tops.next().map(long) != Some(row.backstop.saturating_add(1)))
            {
                return Err(Fault::Places);
            }
        }
        ages = ages.saturating_add(usize::from(row.capacity));
        if row.time != NONE {
            timed = timed.saturating_add(usize::from(row.capacity));
        }
    }
    if growing.next().is_some() || timing.next().is_some() || tops.next().is_some() || time_tops.next().is_some() {
        return Err(Fault::Places);
    }
    for (i, row) in t.grows.iter().enumerate() {
        let row = GrowRow::read(row);
        if row.pace != NONE {
            look.pace("grows", i, row.pace)?;
        }
    }
    for (i, row) in t.times.iter().enumerate() {
        look.literal("times", i, TimeRow::read(row).still)?;
    }
    Ok((ages, timed))
}
