//! The demo stations with their requirements as circuits, and the proofs that are found for them; and their images.

use host_tools::load::load;
use host_tools::pack::pack;
use host_tools::prove::attempt::{Proof, attempt};
use host_tools::prove::circuit::{System, with_system};
use host_tools::prove::claim::Claimed;
use host_tools::prove::graph::Wire;
use host_tools::prove::lemma::Lemma;
use host_tools::prove::search::wires;
use host_tools::prove::templates::{own_cuts, own_watches};
use host_tools::station::Station;
use host_tools::text::parse::Source;
use logic_rules::Cut;
use std::path::Path;

/// Demo stations.
pub const STATIONS: [&str; 2] = ["drive", "return"];

/// A proof of a requirement of a demo station.
pub struct Found<'f> {
    /// Name of the requirement.
    pub name: &'f str,
    /// The circuit.
    pub system: &'f System,
    /// The proof.
    pub proof: &'f Proof,
    /// Its lemmas, with their wires.
    pub lemmas: &'f [(Lemma, Wire)],
    /// Which cuts it closes.
    pub keep: &'f dyn Fn(Cut) -> bool,
}

/// The rule files of a demo station.
pub fn sources(which: &str) -> Vec<Source> {
    let names = [format!("{which}-terminal.rules"), format!("{which}-terminal.requirements.rules")];
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo");
    names.map(|path| Source { bytes: std::fs::read(folder.join(&path)).unwrap(), path }).into()
}

/// The image of a demo station.
pub fn packed(which: &str) -> Vec<u8> {
    pack(&demo(which), &sources(which)).unwrap().image
}

/// A demo station.
pub fn demo(which: &str) -> Station {
    load(sources(which)).station.expect("a demo station is whole")
}

/// What a claim takes for granted in every scan, with names for it.
pub fn granted(system: &System, claimed: &Claimed) -> Vec<(String, Wire)> {
    let told = &system.told;
    let kept = claimed.signals.iter().map(|&i| (format!("signal {i} is kept"), told.kept[i]));
    let unbroken = claimed.assumptions.iter().map(|&i| (format!("assumption {i}"), told.broken[i].opposite()));
    kept.chain(unbroken).collect()
}

/// Goes through the requirements of a demo station that are proved; says which are not.
pub fn proofs(which: &str, each: &mut dyn FnMut(&Found<'_>)) -> Vec<String> {
    let station = demo(which);
    with_system(&station, |model, system| {
        let mut open = Vec::new();
        for (i, requirement) in station.requirements.iter().enumerate() {
            let name = &requirement.name.text;
            let Some(proof) = attempt(model, system, i) else {
                open.push(name.clone());
                continue;
            };
            let own = own_cuts(model, requirement, &own_watches(model, requirement));
            let keep = |cut: Cut| proof.whole || own.contains(&cut);
            let lemmas = wires(system, proof.claimed.lemmas.clone());
            each(&Found { name, system, proof: &proof, lemmas: &lemmas, keep: &keep });
        }
        open
    })
    .unwrap()
}
