//! Travels: a carrier that passed one detector reaches the next neither early nor late, nobody comes
//! from nowhere, and no more are under way than declared.
//!
//! The queues of all travels lie in one flat array, in the order of the rows, so that all ages grow
//! in one dense pass. What an edge of a detector causes is worked out only where an edge may be, and
//! nothing but growth is where nothing stirs.

use super::condition::must;
use super::{at, backwards, edge, trip};
use crate::algebra::Algebra;
use crate::cells::{Bits, Words, WorkBits, WorkWords};
use crate::plan::{GrowRow, NONE, Tables, TimeRow, TravelRow, long};

/// Ages and times of all queues grow, whether a place is taken or not: a free place's age means
/// nothing, and is set to 0 when the place is taken.
#[inline(always)]
fn grow<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    words: &mut Words<'_, A::Word>,
    work: &WorkBits<'_, A::Bit>,
    levels: &WorkWords<'_, A::Word>,
) -> Option<()> {
    let (one, zero) = (a.word(1), a.word(0));
    let (mut ages, mut tops) = (&mut *words.age, tables.age_tops);
    for row in tables.grows {
        let row = GrowRow::read(row);
        let cells = usize::from(row.cells);
        let (these, rest) = ages.split_at_mut_checked(cells)?;
        let (limits, later) = tops.split_at_checked(cells)?;
        (ages, tops) = (rest, later);
        if row.pace == NONE {
            for ([age], top) in these.iter_mut().zip(limits) {
                *age = a.add(*age, one, long(top));
            }
        } else {
            let [forward, back] = *levels.travel.get(usize::from(row.pace))?;
            for ([age], top) in these.iter_mut().zip(limits) {
                *age = a.add(*age, forward, long(top));
            }
            let backward = a.at_least(back, 1);
            if a.possible(backward) {
                for [age] in these {
                    *age = a.sub(*age, back);
                }
            }
        }
    }
    let (mut times, mut tops) = (&mut *words.time, tables.time_tops);
    for row in tables.times {
        let row = TimeRow::read(row);
        let cells = usize::from(row.cells);
        let (these, rest) = times.split_at_mut_checked(cells)?;
        let (limits, later) = tops.split_at_checked(cells)?;
        (times, tops) = (rest, later);
        let still = must(a, work.may, row.still)?;
        let mut step = one;
        a.set_word(still, &mut step, zero);
        for ([time], top) in these.iter_mut().zip(limits) {
            *time = a.add(*time, step, long(top));
        }
    }
    Some(())
}

/// Everybody behind the front moves up one place, where `when` holds.
#[inline(always)]
fn leave<A: Algebra>(
    a: &mut A,
    when: A::Bit,
    places: &mut [[A::Bit; 1]],
    ages: &mut [[A::Word; 1]],
    times: &mut [[A::Word; 1]],
) {
    let no = a.bit(false);
    let mut rest = places;
    while let Some(([here], more)) = rest.split_first_mut() {
        let next = more.first().map_or(no, |[next]| *next);
        a.set_bit(when, here, next);
        rest = more;
    }
    for cells in [ages, times] {
        let mut rest = cells;
        while let Some(([here], more)) = rest.split_first_mut() {
            if let Some([next]) = more.first() {
                a.set_word(when, here, *next);
            }
            rest = more;
        }
    }
}

/// The age or the time of the front carrier is over its limit.
#[inline(always)]
fn overdue<A: Algebra>(a: &mut A, row: &TravelRow, ages: &[[A::Word; 1]], times: &[[A::Word; 1]]) -> Option<A::Bit> {
    let [age] = ages.first()?;
    let over = a.more_than(*age, row.latest);
    Some(match times.first() {
        Some([time]) => {
            let slow = a.more_than(*time, row.backstop);
            a.or(over, slow)
        }
        None => over,
    })
}

/// Whether there is anything to judge: somebody in front is over a limit, a stretch refills, or a speed has left its band.
#[inline(always)]
fn stirs<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &Bits<'_, A::Bit>,
    words: &Words<'_, A::Word>,
    work: &WorkBits<'_, A::Bit>,
) -> Option<A::Bit> {
    let mut any = a.bit(false);
    for cell in bits.stretch.as_flattened() {
        any = a.or(any, *cell);
    }
    for row in tables.travels {
        let row = TravelRow::read(row);
        let place = usize::from(row.place);
        let ([front], [age]) = (bits.under_way.get(place)?, words.age.get(place)?);
        let over = a.more_than(*age, row.latest);
        let late = a.and(*front, over);
        any = a.or(any, late);
        if row.time != NONE {
            let [time] = words.time.get(usize::from(row.time))?;
            let slow = a.more_than(*time, row.backstop);
            let late = a.and(*front, slow);
            any = a.or(any, late);
        }
        if row.band != NONE {
            let inside = must(a, work.may, row.band)?;
            let outside = a.not(inside);
            any = a.or(any, outside);
        }
    }
    Some(any)
}

/// Lets ages grow, and judges the travels in any scan in which there is something to judge.
#[inline(always)]
pub(super) fn travels<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
) -> Option<()> {
    grow(a, tables, words, work, levels)?;
    let stirs = stirs(a, tables, bits, words, work)?;
    let acts = a.or(stirs, edge(work)?);
    // Every write of the judging is under an edge, a carrier that is late, a stretch that refills, or a band that is left.
    if a.possible(acts) { judge(a, tables, bits, words, work, levels) } else { Some(()) }
}

/// Judges every travel.
#[inline(never)]
fn judge<A: Algebra>(
    a: &mut A,
    tables: &Tables<'_>,
    bits: &mut Bits<'_, A::Bit>,
    words: &mut Words<'_, A::Word>,
    work: &mut WorkBits<'_, A::Bit>,
    levels: &mut WorkWords<'_, A::Word>,
) -> Option<()> {
    let (yes, no, one, zero) = (a.bit(true), a.bit(false), a.word(1), a.word(0));
    let (mut places, mut ages, mut times) = (&mut *bits.under_way, &mut *words.age, &mut *words.time);
    let stretches = bits.stretch.iter_mut().zip(words.stretch.iter_mut());
    for (i, (row, ([excusing, held], [excuses, run]))) in tables.travels.iter().zip(stretches).enumerate() {
        let row = TravelRow::read(row);
        let capacity = usize::from(row.capacity);
        let (place, rest) = places.split_at_mut_checked(capacity)?;
        let (age, more) = ages.split_at_mut_checked(capacity)?;
        let (time, later) = times.split_at_mut_checked(if row.time == NONE { 0 } else { capacity })?;
        (places, ages, times) = (rest, more, later);
        let full = a.word(u32::from(row.capacity));
        let [forward, _] = *levels.travel.get(usize::from(row.pace))?;
        let refilling = a.or(*excusing, *held);
        let ran = a.add(*run, forward, row.run);
        a.set_word(refilling, run, ran);
        let mut just_set = no;
        let mut judging = yes;
        if row.band != NONE {
            judging = must(a, work.may, row.band)?;
            let outside = a.not(judging);
            for [taken] in place.iter_mut() {
                a.set_bit(outside, taken, no);
            }
            a.set_bit(outside, excusing, yes);
            a.set_bit(outside, held, no);
            a.set_word(outside, excuses, full);
            a.set_word(outside, run, zero);
            just_set = outside;
        }
        let (rise, arrive) = (at(work.rise, row.from)?, at(work.rise, row.to)?);
        let (fall_from, fall_to) = (at(work.fall, row.from)?, at(work.fall, row.to)?);
        let rises = a.or(rise, arrive);
        let falls = a.or(fall_from, fall_to);
        let edge = a.or(rises, falls);
        let gone_back = if a.possible(edge) {
            let backward = backwards(a, levels, row.pace)?;
            let gone_back = a.and(edge, backward);
            trip(a, work.trip, row.backwards, gone_back);
            for [taken] in place.iter_mut() {
                a.set_bit(gone_back, taken, no);
            }
            // Whatever the edge was, backwards it neither arrives nor starts.
            let arrive = a.but(arrive, backward);
            let [front] = *place.first()?;
            let [oldest] = *age.first()?;
            let in_time = a.at_least(oldest, row.earliest);
            let some_excuse = a.at_least(*excuses, 1);
            let can_excuse = a.and(*excusing, some_excuse);
            let no_excuse = a.not(can_excuse);
            let fits = a.or(in_time, no_excuse);
            let matches = a.and(front, fits);
            let arrives = a.and(arrive, matches);
            let early = a.but(arrives, in_time);
            trip(a, work.trip, row.early, early);
            let over = overdue(a, &row, age, time)?;
            let late = a.and(arrives, over);
            trip(a, work.trip, row.late, late);
            let others = a.but(arrive, matches);
            let excused = a.and(others, can_excuse);
            let fewer = a.sub(*excuses, one);
            a.set_word(excused, excuses, fewer);
            let stray = a.but(others, can_excuse);
            trip(a, work.trip, row.stray, stray);
            *work.judged.get_mut(i)? = [arrives];
            *levels.measured.get_mut(i)? = [oldest];
            leave(a, arrives, place, age, time);
            gone_back
        } else {
            no
        };
        // The carrier that is now in front. Every write below is under this one bit.
        let [front] = *place.first()?;
        let over = overdue(a, &row, age, time)?;
        let late = a.and(front, over);
        if a.possible(late) {
            trip(a, work.trip, row.late, late);
            leave(a, late, place, age, time);
        }
        let refills = a.or(gone_back, late);
        if a.possible(rise) {
            let backward = backwards(a, levels, row.pace)?;
            let starts = a.but(rise, backward);
            let starts = a.and(starts, judging);
            let mut free = starts;
            let mut times = time.iter_mut();
            for ([taken], [age]) in place.iter_mut().zip(age.iter_mut()) {
                let here = a.but(free, *taken);
                free = a.and(free, *taken);
                a.set_bit(here, taken, yes);
                a.set_word(here, age, zero);
                if let Some([time]) = times.next() {
                    a.set_word(here, time, zero);
                }
            }
            trip(a, work.trip, row.crowded, free);
        }
        a.set_bit(refills, excusing, yes);
        a.set_bit(refills, held, yes);
        a.set_word(refills, excuses, full);
        a.set_word(refills, run, zero);
        let just_set = a.or(just_set, refills);
        let through = a.at_least(*run, row.run);
        let ends = a.but(through, just_set);
        a.set_bit(ends, excusing, no);
        a.set_bit(ends, held, no);
    }
    Some(())
}
