"""Mistakes that one might make in the step function, for `step_mutants.py`: what stands there, and what might."""
import typing


class Mistake(typing.NamedTuple):
    name: str
    # Below `logic-rules/src`.
    file: str
    old: str
    new: str
    # It is made in every run of CI.
    often: bool = False


MISTAKES = [
    Mistake(
        "a verdict tells of the stops that trip alone", "step/latch.rs",
        "Some(Asked { stops, trips, any: a.or(trips, before) })",
        "Some(Asked { stops, trips: stops, any: a.or(trips, before) })",
    ),
    Mistake(
        "a line settles one sample early", "step/line.rs",
        "a.at_least(*count, long(up)),",
        "a.at_least(*count, long(up).saturating_sub(1).max(1)),",
        True,
    ),
    Mistake(
        "settling up and down exchanged", "step/line.rs",
        "pick(a, *level, long_down, long_up)",
        "pick(a, *level, long_up, long_down)",
    ),
    Mistake(
        "chatter one change early", "step/line.rs",
        "let over = a.more_than(*changes, row.limit);",
        "let over = a.at_least(*changes, row.limit);",
    ),
    Mistake(
        "a covered detector is never stuck", "step/line.rs",
        "let restart = a.or(clear, rise);",
        "let _ = (clear, rise);\n    let restart = a.bit(true);",
    ),
    Mistake(
        "a hold trips one scan early", "step.rs",
        "a.at_least(next, beyond)",
        "a.at_least(next, limit.max(1))",
        True,
    ),
    Mistake(
        "a hold trips one scan late", "step.rs",
        "let beyond = limit.saturating_add(1);",
        "let beyond = limit.saturating_add(2);",
    ),
    Mistake(
        "a hold is skipped while it counts", "step/hold.rs",
        "let mut acts = counting(a, words.hold);",
        "let _ = counting(a, words.hold);\n    let mut acts = a.bit(false);",
        True,
    ),
    Mistake(
        "a total forgets the span before", "step/hold.rs",
        "a.set_word(ends, before, *now);",
        "a.set_word(ends, before, zero);",
    ),
    Mistake(
        "a trip is not latched for long", "step/latch.rs",
        "*latch = a.or(*latch, *trip);",
        "*latch = *trip;",
    ),
    Mistake(
        "first-out takes up what trips later", "step/latch.rs",
        "a.set_bit(begins, first, *trip);",
        "let _ = begins;\n        *first = a.or(*first, *trip);",
        True,
    ),
    Mistake(
        "latches are cleared in every lane", "step/latch.rs",
        "a.set_bit(when, cell, no);",
        "let _ = when;\n            *cell = no;",
    ),
    Mistake(
        "a spent bypass masks for a scan", "step/bypass.rs",
        "let fit = a.but(fit, spent);",
        "let _ = spent;",
        True,
    ),
    Mistake(
        "a spent bypass stays armed", "step/bypass.rs",
        "a.set_bit(now_spent, armed, no);",
        "let _ = now_spent;",
    ),
    Mistake("a held key arms again", "step/bypass.rs", "let press = a.but(held, *was);", "let press = held;"),
    Mistake(
        "a masked event is forgotten", "step/bypass.rs",
        "*memory = a.and(trip, masked);",
        "*memory = a.bit(false);",
    ),
    Mistake(
        "a bypass of another mode", "step/bypass.rs",
        "let fit = a.and(mode, slow);",
        "let _ = mode;\n            let fit = slow;",
    ),
    Mistake(
        "an excuse is not used up", "step/travel.rs",
        "a.set_word(excused, excuses, fewer);",
        "let _ = fewer;",
        True,
    ),
    Mistake(
        "the queue moves up, but its ages do not", "step/travel.rs",
        "a.set_word(when, here, *next);",
        "let _ = next;",
    ),
    Mistake(
        "early by one", "step/travel.rs",
        "let in_time = a.at_least(oldest, row.earliest);",
        "let in_time = a.more_than(oldest, row.earliest);",
    ),
    Mistake(
        "late by one", "step/travel.rs",
        "let [age] = ages.first()?;\n    let over = a.more_than(*age, row.latest);",
        "let [age] = ages.first()?;\n    let over = a.at_least(*age, row.latest);",
    ),
    Mistake(
        "a late carrier stays in front", "step/travel.rs",
        "leave(a, late, place, age, time);",
        "let _ = &time;",
    ),
    Mistake(
        "a pair reads only its first channel", "step/pair.rs",
        "(a.or(one, other), a.and(one, other));",
        "(one, one);",
        True,
    ),
    Mistake(
        "a pair is well while it differs", "step/pair.rs",
        "let well = a.but(moved, differs);",
        "let well = moved;",
    ),
    Mistake(
        "unknown does not trip", "step/condition.rs",
        "*cell = [a.or(reaches, unknown), a.or(below, unknown)];",
        "*cell = [reaches, a.or(below, unknown)];",
        True,
    ),
    Mistake("not both, read as neither", "step/condition.rs", "a.or(not_x, not_y)];", "a.and(not_x, not_y)];"),
    Mistake(
        "the restart delay is skipped", "step/answer.rs",
        "a.set_word(stop, &mut next, zero);",
        "let _ = zero;",
        True,
    ),
    Mistake(
        "a slow order that is not latched does not stand", "step/answer.rs",
        "if i < slows { these } else { latched };",
        "if i < slows { latched } else { latched };\n        let _ = these;",
    ),
    Mistake(
        "a reset while the key is held", "step/reset.rs",
        "let released = a.but(*was, key);",
        "let released = a.and(*was, key);",
        True,
    ),
    Mistake(
        "a reset without its condition", "step/reset.rs",
        "let acts = a.and(acts, ready);",
        "let _ = ready;",
    ),
    Mistake(
        "a press from before the stop resets it", "step/reset.rs",
        "a.set_bit(stopped, pressing, no);",
        "let _ = stopped;",
    ),
    Mistake(
        "a key that is jammed resets", "step/reset.rs",
        "let right = a.but(long_enough, too_long);",
        "let _ = too_long;\n    let right = long_enough;",
    ),
    Mistake(
        "an output is on again before the reset", "step/output.rs",
        "*let_go = a.and(named, kept);",
        "let _ = kept;\n        *let_go = a.and(named, due_now);",
        True,
    ),
    Mistake("an output lets go a scan early", "step/output.rs", "let due = a.and(due, *stood);\n", ""),
    Mistake(
        "a link's silence is ignored", "step/link.rs",
        "let none = a.not(frame.fresh);",
        "let none = a.bit(false);",
        True,
    ),
    Mistake(
        "an order is taken from a bad frame", "step/link.rs",
        "a.set_word(frame.fresh, order, rank);",
        "*order = rank;",
    ),
    Mistake(
        "a count goes below zero unheard", "step/count.rs",
        "trip(a, work.trip, row.below, below);",
        "let _ = below;",
        True,
    ),
    Mistake(
        "one carrier too many", "step/count.rs",
        "let many = a.more_than(*inside, row.most);",
        "let many = a.more_than(*inside, row.most.saturating_add(1));",
    ),
    Mistake(
        "the effect of an earlier stop counts", "step/confirm.rs",
        "*seen = a.and(stands, ever);",
        "*seen = ever;",
        True,
    ),
    Mistake(
        "a fall of a speed that is not known counts", "step/confirm.rs",
        "Some(a.and(trusted, enough))",
        "let _ = trusted;\n    Some(enough)",
    ),
    Mistake(
        "a speed falls from what it was before", "step/confirm.rs",
        "a.set_word(comes, before, kept);",
        "let _ = comes;\n    a.set_word(stands, before, kept);",
    ),
    Mistake(
        "an exercise does not begin anew", "step/exercise.rs",
        "a.set_word(edge, count, zero);",
        "let _ = edge;",
        True,
    ),
    Mistake(
        "a leap from a value that was not good", "step/gauge.rs",
        "let both = a.and(good, *was_good);",
        "let both = good;",
        True,
    ),
    Mistake(
        "two carriers in one window", "step/measure.rs",
        "let again = a.and(before, rise);",
        "let again = a.bit(false);",
        True,
    ),
    Mistake("a mode stays the last", "step/mode.rs", "a.set_bit(one, last, no);", "", True),
    Mistake("the speed backwards is not seen", "step/pace.rs", "a.sub(back_a, forward_a));", "zero);", True),
    Mistake(
        "a source that is cut is believed", "step/pace.rs",
        "let over = a.or(fast, cut);",
        "let _ = cut;\n        let over = fast;",
    ),
    Mistake(
        "a passing backwards leaves a spacing armed", "step/spacing.rs",
        "a.set_bit(gone_back, armed, no);",
        "let _ = gone_back;",
        True,
    ),
    Mistake(
        "a spacing one too close", "step/spacing.rs",
        "a.at_least(measured, row.least);",
        "a.at_least(measured, row.least.saturating_sub(1));",
    ),
    Mistake(
        "a count that holds few carriers", "step/count.rs",
        "let more = a.add(*inside, one, TOP);",
        "let more = a.add(*inside, one, TOP.min(255));",
    ),
    Mistake(
        "an order of an unknown rank is none", "step/link.rs",
        "a.add(frame.order, zero, worst);",
        "a.add(frame.order, zero, worst.saturating_add(1));",
    ),
    Mistake(
        "a source is not cut", "step/pace.rs",
        "let forward = a.add(sample.forward, zero, top);",
        "let _ = zero;\n    let forward = sample.forward;",
    ),
    Mistake(
        "a bypass is free at power-up", "step/latch.rs",
        "*used = a.word(BypassRow::read(row).budget);",
        "let _ = BypassRow::read(row);\n        *used = a.word(0);",
    ),
    Mistake(
        "a confirmation at power-up counts", "step/latch.rs",
        "for [_, was] in bits.count.iter_mut() {\n        *was = yes;",
        "for [_, was] in bits.count.iter_mut() {\n        let _ = was;",
    ),
    Mistake("nothing stood before power-up", "step/latch.rs", "*bits.published.last_mut()? = [yes];", ""),
    Mistake(
        "outputs are not let go at power-up", "step/latch.rs",
        "bits.output.fill([yes, yes]);",
        "bits.output.fill([yes, a.bit(false)]);",
    ),
    Mistake("a refill leaves the count known", "step/reset.rs", "a.set_bit(acts, known, no);", "let _ = known;"),
    Mistake("a refill does not begin anew", "step/reset.rs", "a.set_word(acts, run, zero);", "let _ = (run, zero);"),
    Mistake(
        "a line settles in the first scan, too", "step/line.rs",
        "*settled = a.or(long_enough, at_once);",
        "let _ = at_once;\n        *settled = long_enough;",
    ),
    Mistake(
        "an edge in the first scan", "step/line.rs",
        "let edge = a.but(*rise, first_scan);",
        "let edge = *rise;",
    ),
    Mistake(
        "a permit without a restart delay while a stop stands", "step/answer.rs",
        "Some(a.but(rested, stop))",
        "Some(rested)",
    ),
    Mistake("a window one scan short", "step/measure.rs", "(one, row.limit.saturating_add(1))", "(one, row.limit)"),
    Mistake(
        "a stop lets go a scan early", "step/output.rs",
        "let long = a.more_than(*count, stop.latest);",
        "let long = a.at_least(*count, stop.latest);",
    ),
    Mistake(
        "a refilling stretch does not stir", "step/travel.rs",
        "any = a.or(any, *cell);\n    }",
        "let _ = cell;\n    }",
    ),
    Mistake(
        "a window is not looked at between edges", "step/measure.rs",
        "let acts = a.or(open, edge(work)?);",
        "let _ = open;\n    let acts = edge(work)?;",
    ),
    Mistake("a pair that was faulty is not looked at", "step/pair.rs", "acts = a.or(acts, *cell);", "let _ = cell;"),
    Mistake(
        "an output that is off is not looked at", "step/output.rs",
        "for cell in bits.output.as_flattened() {\n        acts = a.or(acts, *cell);",
        "for cell in bits.output.as_flattened() {\n        let _ = cell;",
    ),
    Mistake(
        "what was seen of a stop stays", "step/confirm.rs",
        "let acts = a.or(seen, counted);",
        "let _ = seen;\n    let acts = counted;",
    ),
    Mistake(
        "a backstop one late", "step/travel.rs",
        "let slow = a.more_than(*time, row.backstop);\n            a.or(over, slow)",
        "let slow = a.more_than(*time, row.backstop.saturating_add(1));\n            a.or(over, slow)",
    ),
    Mistake(
        "carriers stay when the band is left", "step/travel.rs",
        "a.set_bit(outside, taken, no);",
        "let _ = taken;",
    ),
    Mistake(
        "a count does not learn from its confirmation", "step/count.rs",
        "a.set_word(comes, inside, confirmed);",
        "let _ = confirmed;",
    ),
    Mistake(
        "two sources that differ are believed", "step/pace.rs",
        "a.set_bit(ends, differing, differ);",
        "let _ = (differing, differ);",
    ),
    Mistake(
        "a difference of what is not known is known", "step/condition.rs",
        "let trusted = a.and(*sure, *sure_too);",
        "let _ = sure_too;\n        let trusted = *sure;",
    ),
]
