//! Which statement does it: each change alone, made to the old rules.

use super::matters::{Change, changes};
use super::side::Difference;
use super::{Both, Revision, proved};
use crate::load::load;
use crate::text::parse::Source;
use logic_rules::plan::Fault;

/// Changes that are tried alone at most; each takes about as long as the whole.
const MOST: usize = 12;

/// A change of the rules, and what it does without the others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cause {
    /// What is said otherwise.
    pub change: Change,
    /// With this change alone the new rules are never milder: proved and checked. None where that was not tried, or the
    /// change makes no station by itself.
    pub never_milder: Option<bool>,
    /// Likewise never more severe.
    pub never_more_severe: Option<bool>,
}

/// All changes; what each of them does alone is tried where there are several, and not all of them together do nothing.
///
/// # Errors
/// None that stations which were checked can cause.
pub fn causes(
    both: &Both,
    [old, new]: [&Revision; 2],
    never: &[Difference],
    asked: usize,
) -> Result<Vec<Cause>, Fault> {
    let all = changes(both);
    let whole = |milder: bool| never.iter().filter(|d| d.milder == milder).count() * 2 == asked;
    let trying = (2..=MOST).contains(&all.len()) && !(whole(true) && whole(false)) && both.pairs.apart.is_empty();
    let mut out = Vec::new();
    for change in all {
        let alone = if trying { alone(old, new, &change)? } else { None };
        let (never_milder, never_more_severe) = (alone.map(|[milder, _]| milder), alone.map(|[_, severer]| severer));
        out.push(Cause { change, never_milder, never_more_severe });
    }
    Ok(out)
}

/// Whether a change alone is never milder, and never more severe.
fn alone(old: &Revision, new: &Revision, change: &Change) -> Result<Option<[bool; 2]>, Fault> {
    let Some(sources) = applied(old, new, change) else { return Ok(None) };
    let Some(changed) = Revision::of(&load(sources)) else { return Ok(None) };
    let both = Both::new(old, &changed);
    if !both.pairs.apart.is_empty() {
        return Ok(None);
    }
    let claimed = both.with_twin(|twin| Ok((proved(twin, &both)?.0, super::side::all(&both.pairs))))?;
    let (claimed, all) = claimed?;
    let never = |milder: bool| all.iter().filter(|d| d.milder == milder).all(|d| claimed.never.contains(d));
    Ok(Some([never(true), never(false)]))
}

/// The old files with one change made.
fn applied(old: &Revision, new: &Revision, change: &Change) -> Option<Vec<Source>> {
    let range = |place: crate::text::place::Place| {
        Some((usize::from(place.file), usize::try_from(place.start).ok()?, usize::try_from(place.end).ok()?))
    };
    let text = match &change.new {
        Some(said) => {
            let (file, start, end) = range(said.place)?;
            new.files.get(file)?.bytes.get(start..end)?.to_vec()
        }
        None => Vec::new(),
    };
    let mut sources = old.files.clone();
    if let Some(said) = &change.old {
        let (file, start, end) = range(said.place)?;
        let source = sources.get_mut(file).filter(|source| start <= end && end <= source.bytes.len())?;
        source.bytes.splice(start..end, text);
    } else {
        let source = sources.first_mut()?;
        source.bytes.push(b'\n');
        source.bytes.extend(text);
        source.bytes.push(b'\n');
    }
    Some(sources)
}
