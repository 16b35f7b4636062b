//! Parts of conditions dropped, one at a time.

use super::make::{Edit, Kind, Making};
use crate::text::tree::{Condition, ConditionKind, File, Kind as Statement, WatchKind};

pub(super) fn parts(making: &mut Making<'_>, files: &[File]) {
    for statement in files.iter().flat_map(|file| &file.statements) {
        let (name, condition) = match &statement.kind {
            Statement::Watch(watch) => match &watch.kind {
                WatchKind::Guard { when, .. } => (format!("guard {}", watch.name.value), when),
                _ => continue,
            },
            _ => continue,
        };
        within(making, &name, condition);
    }
}

/// Each part of each list, at any depth.
fn within(making: &mut Making<'_>, name: &str, condition: &Condition) {
    let (parts, joint) = match &condition.kind {
        ConditionKind::All(parts) => (parts, " and "),
        ConditionKind::Any(parts) => (parts, " or "),
        ConditionKind::Not(part) => return within(making, name, part),
        ConditionKind::Simple(..) => return,
    };
    let texts: Vec<String> = parts.iter().map(|part| alone(&making.text(part.place), part)).collect();
    for (at, part) in parts.iter().enumerate() {
        let rest: Vec<&str> =
            texts.iter().enumerate().filter(|(other, _)| *other != at).map(|(_, text)| text.as_str()).collect();
        let what = format!("part dropped: {}", texts.get(at).map_or("", String::as_str));
        let edit = Edit { place: condition.place, text: rest.join(joint) };
        making.add(Kind::Part, name.to_string(), what, vec![edit]);
        within(making, name, part);
    }
}

/// A part as it may stand beside others.
fn alone(text: &str, part: &Condition) -> String {
    let is_list = matches!(part.kind, ConditionKind::All(_) | ConditionKind::Any(_));
    if is_list && !text.starts_with('(') { format!("({text})") } else { text.to_string() }
}
