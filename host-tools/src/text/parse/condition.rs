//! Conditions.

use super::cursor::Cursor;
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::Place;
use crate::text::tree::{Condition, ConditionKind, Said, Tally, UnderWay};

/// How deep parentheses and `not` may stand.
const DEEPEST: usize = 32;

/// A condition.
pub(super) fn condition(c: &mut Cursor<'_>) -> Option<Condition> {
    joined(c, 0)
}

fn joined(c: &mut Cursor<'_>, depth: usize) -> Option<Condition> {
    let start = c.place();
    let mut parts = vec![part(c, depth)?];
    let mut with_and = None;
    loop {
        let joint = c.place();
        if clause_follows(c) {
            break;
        }
        let Some(is_and) = c.take_joint() else { break };
        if with_and.is_some_and(|before| before != is_and) {
            c.findings.push(
                Finding::new(Code::MixedAndOr, "'and' and 'or' stand side by side")
                    .at(joint, "here the other begins")
                    .help("put parentheses around the part that belongs together"),
            );
            return None;
        }
        with_and = Some(is_and);
        parts.push(part(c, depth)?);
    }
    let place = c.since(start);
    Some(match (parts.len(), with_and) {
        (1, _) | (_, None) => parts.pop()?,
        (_, Some(true)) => Condition { place, kind: ConditionKind::All(parts) },
        (_, Some(false)) => Condition { place, kind: ConditionKind::Any(parts) },
    })
}

/// `, and` stands before the next clause, not before the next part of the condition.
fn clause_follows(c: &Cursor<'_>) -> bool {
    const CLAUSES: [&str; 25] = [
        "above", "after", "always", "at", "below", "bounces", "by", "else", "for", "hazard", "held", "in", "is",
        "need", "never", "on", "out", "over", "slow", "stop", "unbroken", "unless", "when", "within", "wrong",
    ];
    const SAID: [&str; 29] = [
        "above",
        "active",
        "at",
        "awaits",
        "below",
        "between",
        "changes",
        "clear",
        "closed",
        "covered",
        "differed",
        "differing",
        "differs",
        "faster",
        "faulty",
        "free",
        "has",
        "held",
        "miscounts",
        "moves",
        "moving",
        "open",
        "outside",
        "released",
        "rises",
        "rolls",
        "seen",
        "stands",
        "still",
    ];
    c.comma_next()
        && c.word_at(1) == Some("and")
        && c.word_at(2).is_some_and(|word| CLAUSES.contains(&word))
        && !c.word_at(3).is_some_and(|word| SAID.contains(&word))
}

fn part(c: &mut Cursor<'_>, depth: usize) -> Option<Condition> {
    let start = c.place();
    if depth > DEEPEST {
        c.findings.push(
            Finding::new(Code::TooDeep, "parentheses stand too deep")
                .at(start, "the thirty-third")
                .help("split the condition into several guards"),
        );
        return None;
    }
    if c.take("not") {
        let inner = part(c, depth + 1)?;
        return Some(Condition { place: c.since(start), kind: ConditionKind::Not(Box::new(inner)) });
    }
    if c.take_paren(true) {
        let inner = joined(c, depth + 1)?;
        if !c.take_paren(false) {
            c.expected("a closing parenthesis");
            return None;
        }
        return Some(inner);
    }
    simple(c, start)
}

fn simple(c: &mut Cursor<'_>, start: Place) -> Option<Condition> {
    let name = c.name("an input, output or bypass")?;
    let said = said(c)?;
    Some(Condition { place: c.since(start), kind: ConditionKind::Simple(name, said) })
}

fn said(c: &mut Cursor<'_>) -> Option<Said> {
    if c.take("covered for over") {
        let length = c.quantity("a length (m)")?;
        c.need("of")?;
        return c.name("a pace").map(|pace| Said::CoveredOver(length, pace));
    }
    for (word, said) in [
        ("open", Said::Open),
        ("closed", Said::Closed),
        ("covered", Said::Covered),
        ("clear", Said::Clear),
        ("held", Said::Held),
        ("free", Said::Free),
        ("still", Said::Still),
        ("moving", Said::Moving),
        ("faulty", Said::Faulty),
        ("seen off", Said::SeenOff),
        ("active", Said::Active),
        ("stands", Said::Stands),
        ("released", Said::Released),
        ("differing", Said::Differing),
        ("silent", Said::Silent),
    ] {
        if c.take(word) {
            return Some(said);
        }
    }
    if c.take("pressed for") {
        return c.quantity("a time (ms, s)").map(Said::Pressed);
    }
    if c.take("above") {
        return c.quantity("a value with its unit").map(Said::Above);
    }
    if c.take("below") {
        return c.quantity("a value with its unit").map(Said::Below);
    }
    if c.take("between") {
        let low = c.quantity("a value with its unit")?;
        c.need("and")?;
        return c.quantity("a value with its unit").map(|high| Said::Between(low, high));
    }
    if c.take("outside") {
        let low = c.quantity("a value with its unit")?;
        c.need("to")?;
        return c.quantity("a value with its unit").map(|high| Said::Outside(low, high));
    }
    if c.take("faster than") {
        return c.quantity("a speed (m/s)").map(Said::Faster);
    }
    if c.take("at most") {
        return c.quantity("a speed (m/s)").map(Said::AtMost);
    }
    if c.take("rolls back faster than") {
        return c.quantity("a speed (m/s)").map(Said::RollsBack);
    }
    if c.take("moves over") {
        let by = c.quantity("a value with its unit")?;
        c.need("a scan")?;
        return Some(Said::MovesOver(by));
    }
    if c.take("differed for over") {
        return c.quantity("a time (ms)").map(Said::DifferedOver);
    }
    if c.take("has sources that differ by more than") {
        return c.quantity("a speed (m/s)").map(Said::SourcesDiffer);
    }
    if c.take("changes over") {
        let count = c.count("a number of changes")?;
        c.need("times a second")?;
        return Some(Said::Changes(count));
    }
    for (words, closer) in [("rises less than", true), ("rises more than", false)] {
        if c.take(words) {
            let length = c.quantity("a length (m)")?;
            c.need("of")?;
            let pace = c.name("a pace")?;
            c.need("apart")?;
            return Some(if closer { Said::RisesCloser(length, pace) } else { Said::RisesFarther(length, pace) });
        }
    }
    if c.take("rises with no carrier") {
        return under_way(c).map(Said::RisesUnawaited);
    }
    if c.take("awaits over") {
        let count = c.count("a number of carriers")?;
        if !(count.value == 1 && c.take("carrier")) {
            c.need("carriers")?;
        }
        return under_way(c).map(|way| Said::Awaits(count, way));
    }
    if c.take("miscounts carriers from") {
        return tally(c).map(|tally| Said::Miscounts(Box::new(tally)));
    }
    if c.take("differs from") {
        let other = c.name("a pace or gauge")?;
        c.need("by more than")?;
        return c.quantity("a value with its unit").map(|by| Said::DiffersFrom(other, by));
    }
    c.expected("what is said of it: open, closed, covered, clear, held, free, above, below, between, outside, faster than, at most, still, moving, rolls back faster than, faulty, seen off or, in requirements, active, stands, released, differing, differed for over, silent, pressed for, covered for over, changes over, moves over, has sources that differ by more than, differs from, rises less than, rises more than, rises with no carrier, awaits over, miscounts carriers from");
    None
}

fn tally(c: &mut Cursor<'_>) -> Option<Tally> {
    let pressed = |c: &mut Cursor<'_>| {
        let key = c.name("a key")?;
        c.need("pressed for")?;
        Some((key, c.quantity("a time (ms)")?))
    };
    let from = c.name("a detector")?;
    c.take_comma();
    c.need("at most")?;
    let most = c.count("a number of carriers")?;
    c.need("and")?;
    let confirmed = c.count("a number of carriers")?;
    c.need("when")?;
    let (key, time) = pressed(c)?;
    let more = c.comma_next() && c.word_at(1) == Some("unknown");
    let unknown = if more {
        c.take_comma();
        c.need("unknown once")?;
        Some(pressed(c)?)
    } else {
        None
    };
    Some(Tally { from, most, confirmed, key, pressed: time, unknown })
}

fn under_way(c: &mut Cursor<'_>) -> Option<UnderWay> {
    c.need("under way from")?;
    let from = c.name("a detector")?;
    c.need("for at most")?;
    let length = c.quantity("a length (m)")?;
    c.need("of")?;
    c.name("a pace").map(|pace| UnderWay { from, length, pace })
}
