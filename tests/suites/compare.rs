//! Twelve edits of the drive terminal, compared with what was before: is a rewrite equal, is each weakening found, and is a
//! strengthening never called milder?
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::indexing_slicing,
    reason = "a test: what fails here is a failed test, and says where"
)]

use host_tools::compare::recheck::{Claimed, check};
use host_tools::compare::search::search;
use host_tools::compare::{Both, Revision, certificate};
use host_tools::load::load;
use host_tools::text::parse::Source;
use std::fs;
use std::path::Path;
use std::time::Instant;

/// What an edit is to come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Wanted {
    Equal,
    Milder,
    MoreSevere,
    Both,
}

/// A name, what it is to come to, and what is written in the place of what.
type Edit = (&'static str, Wanted, &'static [(&'static str, &'static str)]);

const EDITS: [Edit; 12] = [
    (
        "a watch and an input have other names",
        Wanted::Equal,
        &[("guard gate-open", "guard gate-pushed"), ("rope-fork-in", "fork-in"), ("measure shut-force", "measure closing-force")],
    ),
    (
        "statements in another order",
        Wanted::Equal,
        &[
            ("guard gate-open \"the gate behind the coupling point is pushed open\"\n    hazard H3\n    when grip-gate open\n    stop emergency\n", ""),
            ("reset by reset-key", "guard gate-open \"the gate behind the coupling point is pushed open\"\n    hazard H3\n    when grip-gate open\n    stop emergency\n\nreset by reset-key"),
            ("guard overspeed \"the rope runs faster than it may\"\n    hazard H5\n    when rope faster than 5.3 m/s\n    unbroken for 100 ms\n    stop emergency\n", ""),
            ("count carriers-inside", "guard overspeed \"the rope runs faster than it may\"\n    hazard H5\n    when rope faster than 5.3 m/s\n    unbroken for 100 ms\n    stop emergency\n\ncount carriers-inside"),
        ],
    ),
    (
        "a condition said the other way round",
        Wanted::Equal,
        &[
            ("when rope-height-in below -18 mm or rope-fork-in open", "when not (rope-fork-in closed and not rope-height-in below -18 mm)"),
            ("when rope-tension outside 180 kN to 260 kN", "when not rope-tension between 180 kN and 260 kN"),
        ],
    ),
    (
        "the same limits in other units",
        Wanted::Equal,
        &[("takes 4.55 m to 5.25 m of rope, and at most 30 s", "takes 4550 mm to 5250 mm of rope, and at most 0.5 min"), ("unbroken for 500 ms", "unbroken for 0.5 s")],
    ),
    ("overspeed waits longer", Wanted::Milder, &[("5.3 m/s\n    unbroken for 100 ms", "5.3 m/s\n    unbroken for 200 ms")]),
    ("a weaker grip is let through", Wanted::Milder, &[("stays between 6200 N", "stays between 6100 N")]),
    (
        "a watch is gone",
        Wanted::Milder,
        &[("guard catch-fired \"the last catch has jammed a carrier\"\n    hazard H3\n    when last-catch open\n    stop emergency\n", "")],
    ),
    ("the gate is answered late", Wanted::Milder, &[("when grip-gate open\n", "when grip-gate open\n    unbroken for 60 ms\n")]),
    ("overspeed is sooner", Wanted::MoreSevere, &[("faster than 5.3 m/s", "faster than 5.2 m/s")]),
    ("more force is asked for", Wanted::MoreSevere, &[("stays between 6200 N", "stays between 6300 N")]),
    (
        "the rope may hang low for less long",
        Wanted::MoreSevere,
        &[("rope-height-out below -18 mm or rope-fork-out open\n    unbroken for 20 ms", "rope-height-out below -18 mm or rope-fork-out open")],
    ),
    ("the bounds of the force move up", Wanted::Both, &[("between 6200 N and 8400 N", "between 6300 N and 8500 N")]),
];

/// The drive terminal's rule files after an edit.
fn edited(edit: &[(&str, &str)]) -> Vec<Source> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo");
    let mut sources = Vec::new();
    for name in ["drive-terminal.rules", "drive-terminal.requirements.rules"] {
        let mut text = fs::read_to_string(folder.join(name)).unwrap();
        for (from, to) in edit {
            assert!(name.contains("requirements") || text.contains(from), "nothing says: {from}");
            text = text.replace(from, to);
        }
        sources.push(Source { path: name.to_string(), bytes: text.into_bytes() });
    }
    sources
}

/// A revision of the drive terminal.
fn revision(edit: &[(&str, &str)]) -> Revision {
    let loaded = load(edited(edit));
    Revision::of(&loaded).unwrap_or_else(|| panic!("{:?}", loaded.findings))
}

#[test]
fn twelve_edits_of_the_drive_terminal() {
    let old = revision(&[]);
    for (name, wanted, edit) in EDITS {
        let started = Instant::now();
        let both = Both::new(&old, &revision(edit));
        both.with_twin(|twin| {
            let found = search(twin, &both.numbers()).unwrap();
            let searched = started.elapsed();
            let claimed = Claimed { lemmas: found.lemmas, never: found.never };
            let checked = check(twin, &claimed);
            let open = host_tools::compare::side::all(twin.pairs);
            let open: Vec<String> = open.into_iter().filter(|d| !claimed.never.contains(d)).map(|d| certificate::says(twin, d)).collect();
            println!("{name}: {wanted:?}: {checked:?}, {} of {} cells equal, {} lemmas, {} questions, {searched:?} {:?} open {open:?}",
                found.equal, twin.olds, claimed.lemmas.len(), found.questions, started.elapsed());
        }).unwrap();
    }
}
