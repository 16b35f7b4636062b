//! The tables of a plan. Names of fields that occur in many rows:
//!
//! - `line`: a digital channel after settling. `atom`: index of a condition's two bits.
//! - `literal`: twice an atom, plus one for its opposite.
//! - `way`: index of a way, in the plan's order (by severity). [`NONE`] stands for "not there".
//! - limits are scans, millimetres or steps.

use super::row::row;

/// Nothing is named.
pub const NONE: u16 = u16::MAX;

row! {
    /// A contact whose changes are counted.
    ChatterRow, 16 {
        /// Its line.
        line: u16,
        /// Its condition.
        atom: u16,
        /// Condition "has this fault".
        fault: u16,
        /// Way.
        way: u16,
        /// Changes in a span that are borne.
        limit: u32,
        /// Scans of a span.
        span: u32,
    }
}
row! {
    /// Two channels that say the same; also a two-channel key, which has no way and no fault.
    PairRow, 16 {
        /// First line.
        a: u16,
        /// Second line.
        b: u16,
        /// Its condition "closed".
        atom: u16,
        /// Condition "has this fault", or none for a key.
        fault: u16,
        /// Way.
        way: u16,
        /// Fills the row.
        spare: u16,
        /// Scans for which the channels may differ.
        limit: u32,
    }
}
row! {
    /// A detector that may stay covered for so much rope.
    StuckRow, 16 {
        /// Its line.
        line: u16,
        /// Its condition "covered".
        atom: u16,
        /// Condition "has this fault".
        fault: u16,
        /// Way.
        way: u16,
        /// Pace.
        pace: u16,
        /// Fills the row.
        spare: u16,
        /// Rope, mm.
        limit: u32,
    }
}
row! {
    /// A detector that must rise again within so much rope.
    MissingRow, 12 {
        /// Its line.
        line: u16,
        /// Way.
        way: u16,
        /// Pace.
        pace: u16,
        /// Fills the row.
        spare: u16,
        /// Rope, mm.
        limit: u32,
    }
}
row! {
    /// A gauge.
    GaugeRow, 32 {
        /// Condition "loop broken".
        broken: u16,
        /// Condition "current doubtful".
        doubtful: u16,
        /// Way of a broken loop.
        way_broken: u16,
        /// Way of a doubtful current.
        way_doubtful: u16,
        /// Way of a leap, or none.
        way_leap: u16,
        /// Way of not resting, or none.
        way_unrested: u16,
        /// Line of the detector at whose rise it must rest.
        rest_line: u16,
        /// Fills the row.
        spare: u16,
        /// Greatest movement a scan, steps.
        leap: u32,
        /// Least resting step.
        rest_least: u32,
        /// Greatest resting step.
        rest_most: u32,
        /// Greatest step.
        top: u32,
    }
}
row! {
    /// A pace.
    PaceRow, 48 {
        /// First source.
        source: u16,
        /// Second source, or none.
        second: u16,
        /// Condition "the drive runs", or none.
        running: u16,
        /// Condition "unsure".
        unsure: u16,
        /// Condition "over the top".
        over: u16,
        /// Way of being unsure, or none.
        way_unsure: u16,
        /// Way of being over the top.
        way_over: u16,
        /// 1 if the first source tells direction.
        signed: u16,
        /// Scans of a span.
        span: u32,
        /// Greatest travel in a span, mm.
        top: u32,
        /// Greatest travel in a scan, mm.
        top_scan: u32,
        /// Greatest difference of the sources in a span, mm.
        differ: u32,
        /// Scans for which a doubt may last.
        fault_after: u32,
        /// Greatest travel that a span sums up: `top_scan` in each of its scans.
        most: u32,
        /// Fills the row.
        spare: u32,
        /// Fills the row.
        spare2: u32,
    }
}
row! {
    /// A link.
    LinkRow, 16 {
        /// Condition "silent".
        silent: u16,
        /// Way of silence.
        way_silent: u16,
        /// First of its entries in the table of ordered ways; one for each rank.
        orders: u16,
        /// Fills the row.
        spare: u16,
        /// Scans of silence that are borne.
        limit: u32,
        /// Fills the row.
        spare2: u32,
    }
}
row! {
    /// The comparison of a level with a limit: `level >= limit`.
    CompareRow, 8 {
        /// Level.
        level: u16,
        /// Fills the row.
        spare: u16,
        /// Limit.
        limit: u32,
    }
}
row! {
    /// A level that lies in a band: `least <= level <= most`.
    BandRow, 12 {
        /// Level.
        level: u16,
        /// Fills the row.
        spare: u16,
        /// Least.
        least: u32,
        /// Greatest.
        most: u32,
    }
}
row! {
    /// The difference of two gauges or of two paces (net travel), as a level of its own.
    DifferRow, 16 {
        /// Level of the first: of the gauge, or the forward one of the pace.
        a: u16,
        /// Level of the second.
        b: u16,
        /// 1 for paces.
        paces: u16,
        /// Fills the row.
        spare: u16,
        /// Steps by which the first gauge's lowest value lies above the second's, if it does.
        above: u32,
        /// Steps by which it lies below, if it does.
        below: u32,
    }
}
row! {
    /// Both of two literals.
    NodeRow, 4 {
        /// First.
        a: u16,
        /// Second.
        b: u16,
    }
}
row! {
    /// A guard or an agree: trips while a literal may have held for more than a number of scans.
    HoldRow, 8 {
        /// Literal.
        literal: u16,
        /// Way.
        way: u16,
        /// Scans that are borne.
        limit: u32,
    }
}
row! {
    /// A guard with a total within a span.
    TotalRow, 16 {
        /// Literal.
        literal: u16,
        /// Way.
        way: u16,
        /// Scans in two spans that trip, at least 1.
        of: u32,
        /// Scans of a span.
        span: u32,
        /// Fills the row.
        spare: u32,
    }
}
row! {
    /// A mode.
    ModeRow, 8 {
        /// Condition "its key is held".
        key: u16,
        /// Literal "its pace is too fast", or none.
        fast: u16,
        /// Way of being too fast.
        way: u16,
        /// Fills the row.
        spare: u16,
    }
}
row! {
    /// A bypass.
    BypassRow, 24 {
        /// Condition "its key is held".
        key: u16,
        /// Literal "the pace is at most its limit".
        slow: u16,
        /// Bit `i`: works in mode `i`.
        modes: u32,
        /// Scans that may be used.
        budget: u32,
        /// Scans without use that restore them.
        rest: u32,
        /// Fills the row.
        spare: u32,
        /// Fills the row.
        spare2: u32,
    }
}
row! {
    /// A travel.
    TravelRow, 48 {
        /// Line of the first detector.
        from: u16,
        /// Line of the second detector.
        to: u16,
        /// Pace of the stretch.
        pace: u16,
        /// Literal "the speed is in its band" of a time window, or none.
        band: u16,
        /// Way.
        early: u16,
        /// Way.
        late: u16,
        /// Way.
        stray: u16,
        /// Way.
        crowded: u16,
        /// Way.
        backwards: u16,
        /// Carriers under way at most; 1 to 64.
        capacity: u16,
        /// First of its places.
        place: u16,
        /// First of their times, or none without a backstop.
        time: u16,
        /// Least age that is not early.
        earliest: u32,
        /// Greatest age that is not late.
        latest: u32,
        /// Greatest time that is not late.
        backstop: u32,
        /// Rope after which a refill ends.
        run: u32,
        /// Fills the row.
        spare2: u32,
        /// Fills the row.
        spare3: u32,
    }
}
row! {
    /// A run of age cells that grow alike.
    GrowRow, 4 {
        /// Pace; [`NONE`] for time.
        pace: u16,
        /// Cells.
        cells: u16,
    }
}
row! {
    /// A run of backstop times that grow alike.
    TimeRow, 4 {
        /// Literal "the pace is still".
        still: u16,
        /// Cells.
        cells: u16,
    }
}
row! {
    /// A measure.
    MeasureRow, 16 {
        /// Line of the detector.
        line: u16,
        /// Literal "the value is outside".
        outside: u16,
        /// Level of the gauge, for the record.
        level: u16,
        /// Pace that measures the window, [`NONE`] for scans.
        pace: u16,
        /// Way.
        way: u16,
        /// Fills the row.
        spare: u16,
        /// Length of the window after the rise: scans, or mm that must have run (0: the rise only).
        limit: u32,
    }
}
row! {
    /// A spacing.
    SpacingRow, 24 {
        /// Line of the detector.
        line: u16,
        /// Pace.
        pace: u16,
        /// Literal "the speed is in its band" of a time spacing, or none.
        band: u16,
        /// Way.
        closer: u16,
        /// Way, or none.
        farther: u16,
        /// Fills the row.
        spare: u16,
        /// Least distance.
        least: u32,
        /// Greatest distance, where there is one.
        most: u32,
        /// Where the count saturates.
        top: u32,
    }
}
row! {
    /// A confirm.
    ConfirmRow, 16 {
        /// Rank of the stop, less one.
        rank: u16,
        /// Literal that must be seen.
        literal: u16,
        /// Way.
        way: u16,
        /// Speed of a pace, in either direction, whose fall is seen too, or none.
        level: u16,
        /// Scans that are borne.
        limit: u32,
        /// By how much it must have fallen, mm in its span.
        drop: u32,
    }
}
row! {
    /// An exercise.
    ExerciseRow, 16 {
        /// Line of the input.
        a: u16,
        /// Second line, or none.
        b: u16,
        /// 0 by carriers, 1 by rope, 2 by scans.
        kind: u16,
        /// Line of the detector, or the pace.
        by: u16,
        /// Way.
        way: u16,
        /// Fills the row.
        spare: u16,
        /// Limit.
        limit: u32,
    }
}
row! {
    /// A count.
    CountRow, 24 {
        /// Line at the way in.
        enter: u16,
        /// Line at the way out.
        leave: u16,
        /// Literal that confirms.
        literal: u16,
        /// Way.
        over: u16,
        /// Way.
        below: u16,
        /// Way.
        wrong: u16,
        /// Most inside.
        most: u32,
        /// Number confirmed.
        confirmed: u32,
        /// Fills the row.
        spare: u32,
    }
}
row! {
    /// What may keep a way from tripping: modes of its watch, and bypasses.
    GateRow, 8 {
        /// Way.
        way: u16,
        /// Index of a set of modes, or none.
        set: u16,
        /// Bit `i`: masked by bypass `i`.
        bypasses: u16,
        /// Memory cell of an event, or none for a level.
        memory: u16,
    }
}
row! {
    /// A slow order.
    SlowRow, 8 {
        /// Literal "the pace is faster than the cap".
        fast: u16,
        /// Way of not being reached.
        way: u16,
        /// Scans that are borne.
        limit: u32,
    }
}
row! {
    /// A stop: which outputs it releases, bit `i` for output `i`.
    StopRow, 16 {
        /// At once.
        releases: u32,
        /// At standstill.
        then: u32,
        /// Literal "the pace is still".
        still: u16,
        /// Fills the row.
        spare: u16,
        /// Scans after which they are released in any case.
        latest: u32,
    }
}
row! {
    /// An output.
    OutputRow, 12 {
        /// Channel of the read-back, or none.
        channel: u16,
        /// Condition "seen off".
        atom: u16,
        /// Way of contradiction.
        way: u16,
        /// Fills the row.
        spare: u16,
        /// Scans that are borne.
        limit: u32,
    }
}
row! {
    /// A key that refills.
    RefillRow, 8 {
        /// Condition "its key is held".
        key: u16,
        /// Literal that must hold.
        literal: u16,
        /// First of its targets.
        first: u16,
        /// Number of its targets.
        count: u16,
    }
}
row! {
    /// What a key refills: a travel, or a count.
    TargetRow, 4 {
        /// Row of the travel, or of the count.
        row: u16,
        /// 1 for a count.
        count: u16,
    }
}
row! {
    /// Sizes and single things.
    HeadRow, 56 {
        /// Digital channels.
        lines: u16,
        /// Conditions.
        atoms: u16,
        /// Sources of travel.
        sources: u16,
        /// Ways.
        ways: u16,
        /// First way whose answer is a stop.
        first_stop: u16,
        /// Way of the power-up.
        way_started: u16,
        /// Way of no or two modes; none without modes.
        way_unselected: u16,
        /// Way of a changed mode; none without modes.
        way_changed: u16,
        /// Literal "the rope is still" for a change of mode.
        mode_still: u16,
        /// Memory cells of events.
        memories: u16,
        /// Condition of the reset key, or none.
        reset_key: u16,
        /// Literal of the reset.
        reset_when: u16,
        /// Scans it must have held.
        reset_lasting: u32,
        /// Shortest press.
        reset_shortest: u32,
        /// Longest press.
        reset_longest: u32,
        /// Restart delay.
        restart: u32,
        /// Fills the row.
        spare: u16,
        /// Fills the row.
        spare2: u16,
        /// Fills the row.
        spare3: u32,
        /// Fills the row.
        spare4: u32,
        /// Fills the row.
        spare5: u32,
    }
}
