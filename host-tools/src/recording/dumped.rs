//! What the inputs of a station are called in a value change dump.
//!
//! A hyphen of a rule file's name becomes an underscore, so that the name is a simple identifier of IEEE 1364; two
//! underscores part a name from the terminal, and that from the unit. No name of a rule file has an underscore, so that
//! different names stay different.

use super::write::{Style, signals};
use crate::station::Station;

/// What a variable is of an input; with the number of its terminal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Dumped {
    /// Level of a channel, a bit.
    Level(usize),
    /// Value of a gauge in its unit, a real number.
    Value(usize),
    /// The gauge is in doubt, a bit.
    Doubtful(usize),
    /// It is broken, a bit.
    Broken(usize),
    /// How far a counter moved since the scan before, mm, a real number.
    Travel(usize),
    /// A frame came, a bit.
    Fresh(usize),
    /// The rank that it ordered.
    Order(usize),
}

/// A name as an identifier.
pub(crate) fn identifier(name: &str) -> String {
    name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }).collect()
}

/// A unit as a part of an identifier.
fn unit(unit: &str) -> String {
    identifier(&unit.replace('/', "_per_").replace('%', "percent"))
}

/// All variables of the inputs of a station, in the order in which a scan shows them.
pub(crate) fn inputs(station: &Station) -> Vec<(String, Dumped)> {
    let style = Style { named: true, values: true, ..Style::default() };
    let [channels, gauges, counters, links] = signals(station, &style);
    let mut variables = Vec::new();
    for (i, column) in channels.into_iter().enumerate() {
        variables.push((identifier_of(&column.name, &column.terminal), Dumped::Level(i)));
    }
    for (i, column) in gauges.into_iter().enumerate() {
        let name = identifier_of(&column.name, &column.terminal);
        variables.push((format!("{name}__{}", unit(&column.unit)), Dumped::Value(i)));
        variables.push((format!("{name}__doubtful"), Dumped::Doubtful(i)));
        variables.push((format!("{name}__broken"), Dumped::Broken(i)));
    }
    for (i, column) in counters.into_iter().enumerate() {
        let name = identifier_of(&column.name, &column.terminal);
        variables.push((format!("{name}__{}", unit(&column.unit)), Dumped::Travel(i)));
    }
    for (i, column) in links.into_iter().enumerate() {
        let name = identifier_of(&column.name, &column.terminal);
        variables.push((format!("{name}__fresh"), Dumped::Fresh(i)));
        variables.push((format!("{name}__order"), Dumped::Order(i)));
    }
    variables
}

/// A signal that no input has is called by its terminal alone.
fn identifier_of(name: &str, terminal: &str) -> String {
    if name == terminal { identifier(terminal) } else { format!("{}__{}", identifier(name), identifier(terminal)) }
}
