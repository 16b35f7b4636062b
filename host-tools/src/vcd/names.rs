//! What the variables of a dump are called.
//!
//! A hyphen of a rule file's name becomes an underscore, so that the name is a simple identifier of IEEE 1364; two
//! underscores part a name from the terminal, and that from the unit. No name of a rule file has an underscore, so that
//! different names stay different.

use crate::recording::write::{Style, signals};
use crate::replay::event::Cause;
use crate::station::Station;

/// What a variable is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Bit,
    Rank,
    Real,
}

/// Variables that belong together.
pub(super) struct Scope {
    pub(super) name: &'static str,
    pub(super) variables: Vec<(String, Kind)>,
}

/// A name as an identifier.
fn identifier(name: &str) -> String {
    name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '_' }).collect()
}

/// A unit as a part of an identifier.
fn unit(unit: &str) -> String {
    identifier(&unit.replace('/', "_per_").replace('%', "percent"))
}

/// Text that cannot end a comment.
pub(super) fn plain(text: &str) -> String {
    text.chars().map(|c| if (c.is_ascii_graphic() && c != '$') || c == ' ' { c } else { '_' }).collect()
}

/// All variables of a station, in the order in which a scan shows them; `tripping` is what can trip.
pub(super) fn scopes(station: &Station, tripping: &[Cause]) -> Vec<Scope> {
    let bits = |name: &'static str, names: Vec<String>| {
        let variables = names.into_iter().map(|name| (identifier(&name), Kind::Bit)).collect();
        Scope { name, variables }
    };
    let slows = station.slows.iter().map(|slow| &slow.name);
    let answers = slows.chain(station.stops.iter().map(|stop| &stop.name)).map(|name| name.text.clone());
    let outputs = station.outputs.iter().map(|output| output.name.text.clone());
    let bypasses = station.bypasses.iter().map(|bypass| bypass.name.text.clone());
    let requirements = station.requirements.iter().map(|requirement| requirement.name.text.clone());
    let trips = tripping.iter().map(
        |Cause { source, name, .. }| {
            if name.is_empty() { (*source).to_owned() } else { format!("{source}__{name}") }
        },
    );
    vec![
        inputs(station),
        bits("stands", answers.collect()),
        bits("outputs_on", outputs.collect()),
        bits("bypasses_active", bypasses.collect()),
        bits("trips", trips.collect()),
        bits("missed", requirements.collect()),
        bits("controller", ["permit", "reset", "counterfactual"].map(str::to_owned).into()),
    ]
}

fn inputs(station: &Station) -> Scope {
    let style = Style { named: true, values: true, ..Style::default() };
    let [channels, gauges, counters, links] = signals(station, &style);
    let mut variables = Vec::new();
    for column in channels {
        variables.push((identifier_of(&column.name, &column.terminal), Kind::Bit));
    }
    for column in gauges {
        let name = identifier_of(&column.name, &column.terminal);
        variables.push((format!("{name}__{}", unit(&column.unit)), Kind::Real));
        variables.push((format!("{name}__doubtful"), Kind::Bit));
        variables.push((format!("{name}__broken"), Kind::Bit));
    }
    for column in counters {
        let name = identifier_of(&column.name, &column.terminal);
        variables.push((format!("{name}__{}", unit(&column.unit)), Kind::Real));
    }
    for column in links {
        let name = identifier_of(&column.name, &column.terminal);
        variables.push((format!("{name}__fresh"), Kind::Bit));
        variables.push((format!("{name}__order"), Kind::Rank));
    }
    Scope { name: "inputs", variables }
}

/// A signal that no input has is called by its terminal alone.
fn identifier_of(name: &str, terminal: &str) -> String {
    if name == terminal { identifier(terminal) } else { format!("{}__{}", identifier(name), identifier(terminal)) }
}
