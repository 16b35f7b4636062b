//! What a proof rests on, as questions in SMT-LIB 2.6 over truth values alone: every answer must be `unsat`.
//!
//! Two runs of scans are written out, as far as the questions need them: one that begins at power-up
//! (frames `power-up`, `power-up+1`, ...) and one that begins in any state (frames `0`, `1`, ...).
//! Questions that rest on the same are asked one after the other, each between its own `push` and `pop`,
//! after that was asserted once: a solver then need not begin anew with each.

use super::{Role, Roles};
use crate::prove::attempt::Proof;
use crate::prove::circuit::System;
use crate::prove::graph::{Node, Wire};
use crate::prove::lemma::Lemma;
use logic_rules::Cut;
use std::fmt::Write as _;

/// A run of scans.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Run {
    PowerUp,
    Anywhere,
}

/// A wire in a frame, as it is or inverted.
#[derive(Debug, Clone, Copy)]
struct Part {
    run: Run,
    frame: usize,
    wire: Wire,
}

/// Questions that rest on the same.
struct Group {
    /// All of these hold.
    known: Vec<Part>,
    /// Name of each question, and what cannot be then.
    asked: Vec<(String, Part)>,
}

/// The questions that a proof rests on, as one script: that each lemma holds at power-up, that the first
/// frames are good (where the induction looks at more than one), that each lemma is kept, and that
/// together they exclude that the requirement is missed.
///
/// `lemmas` are those of the proof with their wires; cuts that `keep` names are closed. What is assumed
/// of a frame is never used for an earlier one, so that the proof holds for histories that end, too.
pub fn obligations(system: &System, proof: &Proof, lemmas: &[(Lemma, Wire)], keep: &dyn Fn(Cut) -> bool) -> String {
    let roles = Roles::new(system, keep);
    let groups = groups(system, proof, lemmas);
    let mut out = String::new();
    let _ = writeln!(out, "(set-info :smt-lib-version 2.6)\n(set-logic QF_UF)");
    let called = |id: usize| system.cells.get(id).map_or_else(String::new, |cell| cell.name.clone());
    for (i, (lemma, _)) in lemmas.iter().enumerate() {
        let _ = writeln!(out, "; lemma {i}: {}", lemma.text(&called).replace(['\n', '\r'], " "));
    }
    for run in [Run::PowerUp, Run::Anywhere] {
        Unrolled::of(system, &roles, run, &groups).write(&mut out);
    }
    let assert = |out: &mut String, part: &Part| {
        let term = term(system, &roles, part.run, part.frame, part.wire);
        let _ = writeln!(out, "(assert {term})");
    };
    for group in &groups {
        out.push_str("(push 1)\n");
        group.known.iter().for_each(|part| assert(&mut out, part));
        for (name, part) in &group.asked {
            let _ = writeln!(out, "(echo \"{name}\")\n(push 1)");
            assert(&mut out, part);
            out.push_str("(check-sat)\n(pop 1)\n");
        }
        out.push_str("(pop 1)\n");
    }
    out
}

fn groups(system: &System, proof: &Proof, lemmas: &[(Lemma, Wire)]) -> Vec<Group> {
    let depth = proof.claimed.depth.max(1);
    // A requirement that is not there is always missed, and nothing is known of a declaration that is not.
    let bad = system.told.bad(proof.claimed.subject).unwrap_or(Wire::TRUE);
    let kept = proof.claimed.signals.iter().filter_map(|&i| system.told.kept.get(i)).copied();
    let unbroken =
        proof.claimed.assumptions.iter().filter_map(|&i| system.told.broken.get(i)).map(|broken| broken.opposite());
    let given: Vec<Wire> = kept.chain(unbroken).collect();
    let given = |run: Run, scans: usize| -> Vec<Part> {
        (0..scans).flat_map(|frame| given.iter().map(move |&wire| Part { run, frame, wire })).collect()
    };
    // That each lemma does not hold in a frame.
    let violated = |run: Run, frame: usize, when: &str| -> Vec<(String, Part)> {
        let of = |(i, (_, wire)): (usize, &(Lemma, Wire))| {
            (format!("lemma {i} {when}"), Part { run, frame, wire: wire.opposite() })
        };
        lemmas.iter().enumerate().map(of).collect()
    };
    let run = Run::PowerUp;
    let mut out = vec![Group { known: Vec::new(), asked: violated(run, 0, "holds at power-up") }];
    for frame in (0..depth).filter(|_| depth > 1) {
        let when = format!("in scan {frame} after power-up");
        if frame > 0 {
            out.push(Group { known: given(run, frame), asked: violated(run, frame, &format!("holds {when}")) });
        }
        let asked = vec![(format!("not missed {when}"), Part { run, frame, wire: bad })];
        out.push(Group { known: given(run, frame + 1), asked });
    }
    let run = Run::Anywhere;
    let known = |good: usize| {
        let mut all = given(run, depth);
        for frame in 0..depth {
            all.extend(lemmas.iter().map(|&(_, wire)| Part { run, frame, wire }));
        }
        all.extend((0..good).map(|frame| Part { run, frame, wire: bad.opposite() }));
        all
    };
    out.push(Group { known: known(depth), asked: violated(run, depth, "is kept") });
    let asked = vec![("never missed".into(), Part { run, frame: depth - 1, wire: bad })];
    out.push(Group { known: known(depth - 1), asked });
    out
}

/// A run of scans, as far as questions need it.
struct Unrolled<'s> {
    system: &'s System,
    roles: &'s Roles,
    run: Run,
    /// For each frame, which nodes are needed.
    needed: Vec<Vec<bool>>,
}

impl<'s> Unrolled<'s> {
    fn of(system: &'s System, roles: &'s Roles, run: Run, groups: &[Group]) -> Self {
        let mut all = Self { system, roles, run, needed: Vec::new() };
        let parts = groups.iter().flat_map(|g| g.known.iter().chain(g.asked.iter().map(|(_, part)| part)));
        for part in parts.filter(|part| part.run == run) {
            all.need(part.frame, part.wire);
        }
        for frame in (0..all.needed.len()).rev() {
            // Every node is made of older ones.
            for node in (0..system.graph.len()).rev() {
                if all.needed.get(frame).is_none_or(|f| f.get(node) != Some(&true)) {
                    continue;
                }
                for part in roles.parts(system, node) {
                    all.need(frame, part);
                }
                if let (Node::Variable, Role::Cell(next, _), Some(before)) =
                    (system.graph.node(node), roles.role(node), frame.checked_sub(1))
                {
                    all.need(before, next);
                }
            }
        }
        all
    }
    fn need(&mut self, frame: usize, wire: Wire) {
        while self.needed.len() <= frame {
            self.needed.push(vec![false; self.system.graph.len()]);
        }
        let node = self.roles.through(wire).node();
        if let Some(place) = self.needed.get_mut(frame).and_then(|f| f.get_mut(node)) {
            *place = true;
        }
    }
    fn write(&self, out: &mut String) {
        for (frame, needed) in self.needed.iter().enumerate() {
            for (node, _) in needed.iter().enumerate().filter(|(_, needed)| **needed) {
                self.define(frame, node, out);
            }
        }
    }
    fn define(&self, frame: usize, node: usize, out: &mut String) {
        let parts: Vec<String> = {
            let parts = self.roles.parts(self.system, node);
            parts.into_iter().map(|wire| term(self.system, self.roles, self.run, frame, wire)).collect()
        };
        let parts = parts.join(" ");
        let what = match self.system.graph.node(node) {
            Node::False => return,
            Node::Variable => match (self.roles.role(node), frame.checked_sub(1), self.run) {
                (Role::Cell(next, _), Some(before), run) => term(self.system, self.roles, run, before, next),
                (Role::Cell(_, first), None, Run::PowerUp) => first.to_string(),
                _ => {
                    let _ = writeln!(out, "(declare-const {} Bool)", name(self.roles, self.run, frame, node));
                    return;
                }
            },
            Node::And(..) => format!("(and {parts})"),
            Node::Xor(..) => format!("(xor {parts})"),
            Node::Select(..) => format!("(ite {parts})"),
        };
        let _ = writeln!(out, "(define-fun {} () Bool {what})", name(self.roles, self.run, frame, node));
    }
}

/// What stands for a wire in a frame.
fn term(system: &System, roles: &Roles, run: Run, frame: usize, wire: Wire) -> String {
    let wire = roles.through(wire);
    match (system.graph.node(wire.node()), wire.inverted()) {
        (Node::False, inverted) => inverted.to_string(),
        (_, false) => name(roles, run, frame, wire.node()),
        (_, true) => format!("(not {})", name(roles, run, frame, wire.node())),
    }
}

/// Name of a node in a frame. No variable is called like a gate: a cell ends with its bit, an input begins otherwise.
fn name(roles: &Roles, run: Run, frame: usize, node: usize) -> String {
    let frame = match (run, frame) {
        (Run::Anywhere, _) => frame.to_string(),
        (Run::PowerUp, 0) => "power-up".into(),
        (Run::PowerUp, _) => format!("power-up+{frame}"),
    };
    match roles.name(node) {
        Some(name) => format!("|{name}@{frame}|"),
        None => format!("|gate {node}@{frame}|"),
    }
}
