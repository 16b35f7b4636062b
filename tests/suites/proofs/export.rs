//! Proofs and circuits that are written for other tools: the text says what the circuit does.
//!
//! That the questions of a proof are answered as they should be is for other solvers to say:
//! `tests/python/obligations.py`.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test that panics has failed, as it should"
)]

use cross_tests::effort::is_heavy;
use cross_tests::generate::Rng;
use cross_tests::proofs::{Found, STATIONS, granted, proofs};
use host_tools::prove::export::aiger::{Aig, Kind, read};
use host_tools::prove::export::smtlib::obligations;
use host_tools::prove::export::{Role, Roles};
use host_tools::prove::graph::{Node, Wire};
use logic_rules::Cut;
use std::collections::{HashMap, HashSet};

/// Scans that a circuit is followed.
const SCANS: usize = 200;

fn slice(found: &Found<'_>, keep: &dyn Fn(Cut) -> bool) -> (Roles, Aig, Vec<Wire>) {
    let roles = Roles::new(found.system, keep);
    let given = granted(found.system, &found.proof.claimed);
    let bad = found.system.told.bad(found.proof.claimed.subject).unwrap();
    let mut aig = Aig::of(found.system, &roles, ("missed", bad), &given);
    aig.comment = Some(vec![format!("requirement {}", found.name)]);
    (roles, aig, given.into_iter().map(|(_, wire)| wire).chain([bad]).collect())
}

/// What all nodes of the graph are, once closed cuts say what was cut off.
fn evaluate(found: &Found<'_>, roles: &Roles, given: &mut HashMap<usize, u64>) -> Vec<u64> {
    // A cut that is cut off by another has its value only after that: until nothing changes.
    loop {
        let values = found.system.graph.evaluate(given);
        let mut changed = false;
        for (_, after, before) in &found.system.graph.cuts {
            if roles.role(after.node()) == Role::Same(*before) {
                let value = of(&values, *before);
                changed |= given.insert(after.node(), value) != Some(value);
            }
        }
        if !changed {
            return values;
        }
    }
}

fn of(values: &[u64], wire: Wire) -> u64 {
    if wire.inverted() { !values[wire.node()] } else { values[wire.node()] }
}

/// Follows a graph and what was read of it through the same random inputs, 64 histories at once.
fn follow(found: &Found<'_>, roles: &Roles, aig: &Aig, roots: &[Wire], rng: &mut Rng) {
    let graph = &found.system.graph;
    let by_name: HashMap<&str, usize> = (0..graph.len()).filter_map(|node| Some((roles.name(node)?, node))).collect();
    let named = |kind: Kind| -> Vec<usize> {
        aig.symbols.iter().filter(|s| s.kind == kind).map(|s| by_name[s.name.as_str()]).collect()
    };
    let (inputs, latches) = (named(Kind::Input), named(Kind::Latch));
    assert_eq!((inputs.len(), latches.len()), (aig.inputs.len(), aig.latches.len()));
    let order = aig.order().unwrap();
    let mut state = aig.first();
    let mut cells: HashMap<usize, u64> = HashMap::new();
    for node in (0..graph.len()).filter(|&node| graph.node(node) == Node::Variable) {
        if let Role::Cell(_, first) = roles.role(node) {
            cells.insert(node, if first { u64::MAX } else { 0 });
        }
    }
    for scan in 0..SCANS {
        let mut given = cells.clone();
        for node in (0..graph.len()).filter(|&node| graph.node(node) == Node::Variable) {
            if roles.role(node) == Role::Free {
                given.insert(node, rng.bits());
            }
        }
        let words: Vec<u64> = inputs.iter().map(|node| given[node]).collect();
        let values = evaluate(found, roles, &mut given);
        let read = aig.values(&order, &state, &words);
        let told: Vec<u64> = aig.constraints.iter().chain(&aig.bad).map(|&lit| read.get(lit)).collect();
        let wanted: Vec<u64> = roots.iter().map(|&wire| of(&values, wire)).collect();
        assert_eq!(told, wanted, "{}, scan {scan}", found.name);
        state = aig.next(&read);
        for (node, cell) in &mut cells {
            let Role::Cell(next, _) = roles.role(*node) else { panic!("no cell") };
            *cell = of(&values, next);
        }
        for (node, value) in latches.iter().zip(&state) {
            assert_eq!(cells[node], *value, "{}, scan {scan}, {:?}", found.name, roles.name(*node));
        }
    }
}

fn reads_back_and_does_the_same(found: &Found<'_>, rng: &mut Rng) {
    let all = |_: Cut| true;
    for keep in [found.keep, &all as &dyn Fn(Cut) -> bool] {
        let (roles, aig, roots) = slice(found, keep);
        let text = read(aig.text().as_bytes()).unwrap_or_else(|fault| panic!("{}: {fault}", found.name));
        assert_eq!(text, aig);
        let bytes = read(&aig.bytes().unwrap()).unwrap_or_else(|fault| panic!("{}: {fault}", found.name));
        assert_eq!(Some(&bytes), aig.numbered().as_ref());
        assert_eq!(bytes.bytes(), aig.bytes());
        follow(found, &roles, &bytes, &roots, rng);
    }
}

/// Each question is asked once, under its own name, and nothing is used before it is there.
fn asks_what_it_should(found: &Found<'_>) {
    let script = obligations(found.system, found.proof, found.lemmas, found.keep);
    let (lemmas, depth) = (found.lemmas.len(), found.proof.claimed.depth);
    let first = if depth > 1 { depth + (depth - 1) * lemmas } else { 0 };
    let (mut names, mut asked, mut checks, mut inside) = (HashSet::new(), HashSet::new(), 0, 0_i32);
    for line in script.lines().filter(|line| !line.starts_with(';')) {
        let defines = line.starts_with("(define-fun") || line.starts_with("(declare-const");
        for (i, symbol) in line.split('|').skip(1).step_by(2).enumerate() {
            let new = defines && i == 0;
            assert_eq!(names.contains(symbol), !new, "{}: {line}", found.name);
            names.insert(symbol);
        }
        match line {
            "(push 1)" => inside += 1,
            "(pop 1)" => inside -= 1,
            "(check-sat)" => {
                assert_eq!(inside, 2);
                checks += 1;
            }
            line if line.starts_with("(echo") => assert!(asked.insert(line), "{line}"),
            line => assert_eq!(line.starts_with("(assert"), inside > 0, "{line}"),
        }
    }
    assert_eq!((checks, asked.len()), (2 * lemmas + 1 + first, checks), "{}", found.name);
}

fn all_of(which: &str) {
    let mut rng = Rng::new(11);
    let open = proofs(which, &mut |found| {
        reads_back_and_does_the_same(found, &mut rng);
        asks_what_it_should(found);
    });
    assert!(open.len() < 3, "{which}: no proof of {open:?}");
}

#[test]
fn what_is_written_of_the_drive_terminal_is_right() {
    // One station is enough in the short form.
    if is_heavy() {
        all_of(STATIONS[0]);
    }
}

#[test]
fn what_is_written_of_the_return_terminal_is_right() {
    all_of(STATIONS[1]);
}

/// The graphs of the two reports on the format: "The AIGER And-Inverter Graph (AIG) Format Version 20071012"
/// (Biere, FMV report 07/1) and "AIGER 1.9 and Beyond" (Biere, Heljanko, Wieringa, FMV report 11/2, in its
/// draft of May 2011), as both stand in the sources of the AIGER library.
const REPORTS: [(&str, &str); 12] = [
    ("empty", "aag 0 0 0 0 0\n"),
    ("false", "aag 0 0 0 1 0\n0\n"),
    ("true", "aag 0 0 0 1 0\n1\n"),
    ("buffer", "aag 1 1 0 1 0\n2\n2\n"),
    ("inverter", "aag 1 1 0 1 0\n2\n3\n"),
    ("and", "aag 3 2 0 1 1\n2\n4\n6\n6 2 4\n"),
    ("or", "aag 3 2 0 1 1\n2\n4\n7\n6 3 5\n"),
    ("half adder", "aag 7 2 0 2 3\n2\n4\n6\n12\n6 13 15\n12 2 4\n14 3 5\ni0 x\ni1 y\no0 s\no1 c\nc\nhalf adder\n"),
    ("toggle", "aag 1 0 1 2 0\n2 3\n2\n3\n"),
    ("toggle with enable and reset", "aag 7 2 1 2 4\n2\n4\n6 8\n6\n7\n8 4 10\n10 13 15\n12 2 6\n14 3 7\n"),
    ("counter", "aag 5 1 1 0 3 1\n2\n4 10 0\n4\n6 5 3\n8 4 2\n10 9 7\n"),
    ("counter never enabled", "aag 5 1 1 0 3 1 1\n2\n4 10 0\n4\n3\n6 5 3\n8 4 2\n10 9 7\n"),
];

/// Justice and fairness, which the reports describe without a graph as small as these: by hand, after version 1.9 of the
/// format as it is remembered. The toggle is low and high again and again; the buffer is high again and again, if its input is.
const BY_HAND: [(&str, &str); 2] = [
    ("justice", "aag 1 0 1 0 0 0 0 1\n2 3\n2\n2\n3\nj0 both\n"),
    ("justice and fairness", "aag 2 1 1 0 0 0 0 1 1\n2\n4 2\n1\n4\n2\nj0 high\nf0 given\n"),
];

/// Outputs, constraints and bad states of a graph of the reports in each step.
fn run(name: &str, inputs: &[&[u64]]) -> Vec<Vec<u64>> {
    let (_, text) = REPORTS.iter().find(|(n, _)| *n == name).unwrap();
    let aig = read(text.as_bytes()).unwrap();
    let aig = read(&aig.bytes().unwrap()).unwrap();
    let (order, mut state) = (aig.order().unwrap(), aig.first());
    let mut out = Vec::new();
    for given in inputs {
        let values = aig.values(&order, &state, given);
        let told = aig.outputs.iter().chain(&aig.constraints).chain(&aig.bad);
        out.push(told.map(|&lit| values.get(lit) & 0b1111).collect());
        state = aig.next(&values);
    }
    out
}

#[test]
fn the_graphs_of_the_reports_are_read_written_and_do_what_is_said_of_them() {
    for (name, text) in REPORTS.into_iter().chain(BY_HAND) {
        let aig = read(text.as_bytes()).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        // A reset to 0 may be left out, and is.
        assert_eq!(aig.text(), text.replace("4 10 0\n", "4 10\n"), "{name}");
        let bytes = aig.bytes().unwrap();
        let again = read(&bytes).unwrap_or_else(|fault| panic!("{name}: {fault}"));
        assert_eq!(again.bytes(), Some(bytes), "{name}");
        assert_eq!(read(again.text().as_bytes()), Ok(again), "{name}");
    }
    let [justice, both] = BY_HAND.map(|(_, text)| read(text.as_bytes()).unwrap());
    assert_eq!((justice.justice, justice.fairness), (vec![vec![2, 3]], vec![]));
    assert_eq!((both.justice, both.fairness), (vec![vec![4]], vec![2]));
    // The four cases of two inputs, side by side.
    let (x, y) = (0b1100, 0b1010);
    assert_eq!(run("false", &[&[]]), [[0]]);
    assert_eq!(run("true", &[&[]]), [[0b1111]]);
    assert_eq!(run("buffer", &[&[x]]), [[x]]);
    assert_eq!(run("inverter", &[&[x]]), [[0b0011]]);
    assert_eq!(run("and", &[&[x, y]]), [[0b1000]]);
    assert_eq!(run("or", &[&[x, y]]), [[0b1110]]);
    assert_eq!(run("half adder", &[&[x, y]]), [[0b0110, 0b1000]]);
    assert_eq!(run("toggle", &[&[], &[], &[]]), [[0, 0b1111], [0b1111, 0], [0, 0b1111]]);
    // Enabled in the first case of x alone, and reset (active low) everywhere in the third step.
    let toggle = run("toggle with enable and reset", &[&[x, 0b1111], &[x, 0b1111], &[0b1111, 0], &[0, 0b1111]]);
    assert_eq!(toggle, [[0, 0b1111], [x, 0b0011], [0, 0b1111], [0, 0b1111]]);
    // The witness of the report: enabled in both steps, bad in the second.
    assert_eq!(run("counter", &[&[0b1111], &[0b1111]]), [[0], [0b1111]]);
    assert_eq!(run("counter never enabled", &[&[0b1111], &[0]]), [[0, 0], [0b1111, 0b1111]]);
}

#[test]
fn differences_are_packed_as_in_the_table_of_the_report() {
    // A graph whose one gate is made of the constant and so far away: 2 (I + 1) - 0.
    for (inputs, packed) in [(63, &[0x80, 0x01][..]), (128, &[0x82, 0x02]), (8191, &[0x80, 0x80, 0x01])] {
        let header = format!("aig {} {inputs} 0 0 1\n", inputs + 1);
        let bytes = [header.as_bytes(), packed, &[0]].concat();
        let aig = read(&bytes).unwrap();
        assert_eq!(aig.ands[0].of, [0, 0]);
        assert_eq!(aig.bytes(), Some(bytes));
    }
}

#[test]
fn what_is_no_graph_is_told_where() {
    let told = |bytes: &[u8]| read(bytes).map(|aig| aig.most).map_err(|fault| fault.to_string());
    let no = |fault: &str| Err(fault.to_owned());
    assert_eq!(told(b"abc 0 0 0 0 0\n"), no("line 1, byte 0: it begins with neither `aag` nor `aig`"));
    assert_eq!(told(b"aag 0 0 0 0\n"), no("line 1, byte 11: the header has fewer than five numbers"));
    assert_eq!(told(b"aag 01 0 0 0 0\n"), no("line 1, byte 6: a number begins with 0"));
    assert_eq!(told(b"aag 99999999999 0 0 0 0\n"), no("line 1, byte 13: a number is too large"));
    assert_eq!(
        told(b"aig 99999999 99999999 0 0 0\n"),
        no("line 1, byte 27: more than 16777216 variables are not read")
    );
    let unlike = "the largest variable does not go with inputs, latches and gates";
    assert_eq!(told(b"aag 1 1 1 0 0\n"), no(&format!("line 1, byte 13: {unlike}")));
    assert_eq!(told(b"aig 3 1 1 0 0\n"), no(&format!("line 1, byte 13: {unlike}")));
    assert_eq!(
        told(b"aag 1 1 0 0 0\n3\n"),
        no("line 2, byte 15: literal 3 is inverted or beyond the largest variable")
    );
    assert_eq!(told(b"aag 2 2 0 0 0\n2\n2\n"), no("line 3, byte 17: literal 2 has a meaning already"));
    assert_eq!(told(b"aag 2 1 0 1 0\n2\n4\n"), no("line 3, byte 16: literal 4 has no meaning"));
    assert_eq!(told(b"aag 1 1 0 1 0\n2\n4\n"), no("line 3, byte 16: literal 4 is beyond the largest variable"));
    assert_eq!(told(b"aag 1 0 1 0 0\n2 3 4\n"), no("line 2, byte 19: a latch begins with 0, 1 or itself"));
    let circle = no("line 4, byte 26: gates are made of each other in a circle");
    assert_eq!(told(b"aag 2 0 0 0 2\n2 4 4\n4 2 2\n"), circle);
    assert_eq!(told(b"aig 1 0 0 0 1\n\x00\x00"), no("line 2, byte 15: a gate is made of itself"));
    assert_eq!(told(b"aig 1 0 0 0 1\n\x03\x00"), no("line 2, byte 15: a difference is too large"));
    assert_eq!(told(b"aig 1 0 0 0 1\n\x82"), no("line 2, byte 15: the file ends in a gate"));
    let twice = "a symbol names what is not there, or names it again";
    assert_eq!(told(b"aag 1 1 0 0 0\n2\ni0 a\ni0 b\n"), no(&format!("line 4, byte 23: {twice}")));
    assert_eq!(told(b"aag 1 1 0 0 0\n2\nc\nnever ended"), no("line 4, byte 29: the end of the line is missing"));
    assert_eq!(told(b"aag 1 0 1 0 0\n2 3 2\n"), Ok(1));
}

#[test]
fn whatever_is_read_is_a_graph_or_a_fault() {
    let mut rng = Rng::new(3);
    let (mut graphs, mut faults) = (0, 0);
    for round in 0..60_000 {
        let (_, text) = REPORTS[rng.index(REPORTS.len())];
        let mut bytes = if round % 2 == 0 { text.into() } else { read(text.as_bytes()).unwrap().bytes().unwrap() };
        for _ in 0..rng.size(1, 3) {
            let at = rng.index(bytes.len());
            match rng.below(4) {
                0 => bytes[at] = rng.bits().to_le_bytes()[0],
                1 => bytes[at] = b" \n0123456789"[rng.index(12)],
                2 => bytes.insert(at, b" \n0123456789"[rng.index(12)]),
                _ => bytes.truncate(at.max(1)),
            }
        }
        match read(&bytes) {
            Ok(aig) => {
                graphs += 1;
                let again = read(aig.text().as_bytes()).unwrap_or_else(|fault| panic!("{bytes:?}: {fault}"));
                assert_eq!(again, aig);
                assert!(aig.bytes().is_some_and(|bytes| read(&bytes).is_ok()), "{bytes:?}");
            }
            Err(_) => faults += 1,
        }
    }
    assert!(graphs > 1_000 && faults > 10_000, "{graphs} graphs, {faults} faults");
}
