//! What the variables of a dump are called; those of the inputs as `recording::dumped` has it.

use crate::recording::dumped::{self, Dumped, identifier};
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
    let kind = |dumped| match dumped {
        Dumped::Level(_) | Dumped::Doubtful(_) | Dumped::Broken(_) | Dumped::Fresh(_) => Kind::Bit,
        Dumped::Value(_) | Dumped::Travel(_) => Kind::Real,
        Dumped::Order(_) => Kind::Rank,
    };
    let variables = dumped::inputs(station).into_iter().map(|(name, dumped)| (name, kind(dumped))).collect();
    Scope { name: "inputs", variables }
}
