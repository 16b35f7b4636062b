//! What is no behaviour but is approved with it: requirements, assumptions, hazards, wiring, scaling, parameters of stops,
//! outputs, modes, titles and notes.

use super::pairs::is_watch;
use super::statements::Said;
use super::{Both, Revision};
use crate::station::Station;
use std::collections::HashMap;

/// Something that an approval covers, and that is not the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Matter {
    /// Keyword of the statement.
    pub keyword: String,
    /// Its name, the old one if it has two; may be empty.
    pub name: String,
    /// `statement`, `title`, `hazards` or `note`.
    pub part: &'static str,
    /// As it was, with its line; none if it is new.
    pub old: Option<(usize, String)>,
    /// As it is, with its line; none if it is gone.
    pub new: Option<(usize, String)>,
}

/// Statements whose behaviour is judged, and nothing else of them but title, hazards and note.
fn is_rule(keyword: &str) -> bool {
    is_watch(keyword) || ["reset", "restart", "refill", "bypass"].contains(&keyword)
}

/// Everything that is not the same, in the order of the new rules; what is gone comes last. The revision number is none.
pub fn matters(both: &Both, old: &Revision, new: &Revision) -> Vec<Matter> {
    let mut out = Vec::new();
    let (before, after) = (numbered(&both.olds), numbered(&both.news));
    let known: HashMap<_, &Said> = before.iter().copied().collect();
    let kept: HashMap<_, &Said> = after.iter().copied().collect();
    for (key, said) in &after {
        let was = known.get(key).copied();
        let mut add = |part, old: Option<String>, new: Option<String>| {
            let (line, own) = (was.map_or(0, |was| was.line), said.line);
            out.push(Matter {
                keyword: said.keyword.clone(),
                name: said.name.clone(),
                part,
                old: old.map(|text| (line, text)),
                new: new.map(|text| (own, text)),
            });
        };
        let Some(was) = was else {
            if !is_rule(&said.keyword) {
                add("statement", None, Some(said.text.clone()));
            }
            continue;
        };
        // Its number is to change; an end that comes, goes or moves is told.
        let end = |said: &Said| said.text.split_once(',').map(|(_, end)| end.trim().to_owned());
        let revision = said.keyword == "revision";
        let same = if revision { end(was) == end(said) } else { was.tokens == said.tokens };
        if !is_rule(&said.keyword) && !same {
            add("statement", Some(was.text.clone()), Some(said.text.clone()));
        }
        if was.title != said.title && !revision {
            add("title", was.title.clone(), said.title.clone());
        }
        if was.note != said.note {
            let text = |note: &[String]| (!note.is_empty()).then(|| note.join(" "));
            add("note", text(&was.note), text(&said.note));
        }
        if is_watch(&said.keyword) {
            let hazards = |station: &Station, watches: &Station| -> Vec<String> {
                let at = watches.watches.iter().position(|watch| watch.name.text == said.name);
                let watch = at.and_then(|at| station.watches.get(at));
                let all = watch.into_iter().flat_map(|watch| &watch.hazards);
                let mut names: Vec<String> =
                    all.filter_map(|i| station.hazards.get(*i)).map(|hazard| hazard.name.text.clone()).collect();
                names.sort();
                names
            };
            let (a, b) = (hazards(&old.station, &both.old), hazards(&new.station, &both.new));
            if a != b {
                add("hazards", Some(a.join(", ")), Some(b.join(", ")));
            }
        }
    }
    for (key, said) in &before {
        if !kept.contains_key(key) && !is_rule(&said.keyword) {
            out.push(Matter {
                keyword: said.keyword.clone(),
                name: said.name.clone(),
                part: "statement",
                old: Some((said.line, said.text.clone())),
                new: None,
            });
        }
    }
    out
}

/// Statements by keyword, name, and how many of those came before.
fn numbered(all: &[Said]) -> Vec<((&str, &str, usize), &Said)> {
    let mut seen: HashMap<(&str, &str), usize> = HashMap::new();
    all.iter()
        .map(|said| {
            let count = seen.entry((said.keyword.as_str(), said.name.as_str())).or_insert(0);
            *count += 1;
            ((said.keyword.as_str(), said.name.as_str(), *count), said)
        })
        .collect()
}

/// A statement of the rules that is not the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// As it was.
    pub old: Option<Said>,
    /// As it is, with the names of the old rules.
    pub new: Option<Said>,
}

/// Statements that act and are not the same: all but titles, hazards' names, requirements, assumptions and the lane.
pub fn changes(both: &Both) -> Vec<Change> {
    let idle = ["station", "revision", "hazard", "require", "assume", "lane"];
    let (before, after) = (numbered(&both.olds), numbered(&both.news));
    let known: HashMap<_, &Said> = before.iter().copied().collect();
    let kept: HashMap<_, &Said> = after.iter().copied().collect();
    let mut out = Vec::new();
    for (key, said) in after.iter().filter(|(_, said)| !idle.contains(&said.keyword.as_str())) {
        match known.get(key) {
            Some(was) if was.tokens == said.tokens => {}
            was => out.push(Change { old: was.map(|was| (*was).clone()), new: Some((*said).clone()) }),
        }
    }
    for (key, said) in before.iter().filter(|(_, said)| !idle.contains(&said.keyword.as_str())) {
        if !kept.contains_key(key) {
            out.push(Change { old: Some((*said).clone()), new: None });
        }
    }
    out
}
