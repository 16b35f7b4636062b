//! What is proved of every station needs to know why an output is off, and what power-up leaves latched.

use super::Named;
use crate::prove::cells::way;
use crate::prove::lemma::{CellId, Claim, Lemma};
use crate::prove::model::Model;
use crate::station::Stop;

/// Lemmas for the properties of every station.
pub fn lemmas(model: &Model<'_>, cells: &Named) -> Vec<Lemma> {
    let cell = |of: &str, what: &str| cells.get(&format!("{of}.{what}")).copied();
    let mut out = Vec::new();
    let started = usize::from(model.plan.tables().head.way_started);
    if let (Some(started), Some(latched)) = (cell("controller", "started"), latch(model, cells, started)) {
        out.push(Lemma::when(&[Claim::Not(started)], &[Claim::Is(latched)]));
    }
    for (i, output) in model.station.outputs.iter().enumerate() {
        let (Some(off), Some(let_go)) = (cell(&output.name.text, "off"), cell(&output.name.text, "let-go")) else {
            continue;
        };
        // It is off because a stop that releases it is latched, or because one that lets it go later has done so.
        let mut why = vec![Claim::Is(let_go)];
        why.extend(latches(model, cells, |stop| stop.releases.contains(&i)).into_iter().map(Claim::Is));
        let later = latches(model, cells, |stop| stop.then.as_ref().is_some_and(|then| then.outputs.contains(&i)));
        out.extend(later.into_iter().map(|latched| Lemma::when(&[Claim::Is(off), Claim::Is(latched)], &why)));
    }
    out
}

fn latch(model: &Model<'_>, cells: &Named, number: usize) -> Option<CellId> {
    let name = way(model.station, model.program, u16::try_from(number).ok()?);
    cells.get(&format!("{name}.latched")).copied()
}

/// Latches of all ways that are answered by such a stop.
fn latches(model: &Model<'_>, cells: &Named, such: impl Fn(&Stop) -> bool) -> Vec<CellId> {
    let first = model.station.first_stop();
    let stop = |rank: u8| model.station.stops.get(usize::from(rank.checked_sub(first)?));
    let ways = model.program.by_severity.iter().filter_map(|&way| model.program.ways.get(way)).enumerate();
    let ways = ways.filter(|(_, way)| stop(way.answer).is_some_and(&such));
    ways.filter_map(|(number, _)| latch(model, cells, number)).collect()
}
