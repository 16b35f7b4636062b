//! Proofs and circuits in the formats of other tools, so that they can be decided by those again.
//!
//! Nothing here looks at the clauses of the search: what a variable stands for and which gates a
//! question needs is worked out anew from the graph.

use super::circuit::System;
use super::graph::{Node, Wire};
use logic_rules::Cut;
use std::collections::HashSet;

pub mod aiger;
pub mod smtlib;

/// What a variable of the graph stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// An input, or a cut left open: anything in each scan.
    Free,
    /// A bit of a cell: what it is after the scan, and what it is at power-up.
    Cell(Wire, bool),
    /// A cut that is closed: what was cut off.
    Same(Wire),
}

/// What all variables of a system stand for, and what they are called.
#[derive(Debug, Clone)]
pub struct Roles {
    roles: Vec<Role>,
    names: Vec<Option<String>>,
}

impl Roles {
    /// Those of a system in which the cuts that `keep` names are closed, and the others open.
    pub fn new(system: &System, keep: &dyn Fn(Cut) -> bool) -> Self {
        let mut roles = vec![Role::Free; system.graph.len()];
        let mut names = Names { taken: HashSet::new(), names: vec![None; system.graph.len()] };
        for cell in &system.cells {
            for ((now, next), i) in cell.now.iter().zip(&cell.next).zip(0_u32..) {
                if let Some(role) = roles.get_mut(now.node()) {
                    *role = Role::Cell(*next, cell.first.checked_shr(i).unwrap_or(0) & 1 == 1);
                }
                names.give(system, now.node(), &format!("{}[{i}]", cell.name));
            }
        }
        for (place, after, before) in &system.graph.cuts {
            if keep(*place)
                && let Some(role) = roles.get_mut(after.node())
            {
                *role = Role::Same(*before);
            }
            let name = match place {
                Cut::Way(i) => format!("cut:way-{i}"),
                Cut::Bypass(i) => format!("cut:bypass-{i}"),
                Cut::Reset => "cut:reset".into(),
            };
            names.give(system, after.node(), &name);
        }
        names.inputs(system);
        Self { roles, names: names.names }
    }
    /// What a variable stands for.
    pub fn role(&self, node: usize) -> Role {
        self.roles.get(node).copied().unwrap_or(Role::Free)
    }
    /// Name of a variable: no other has it, and it is of printable ASCII without `|` and `\`.
    pub fn name(&self, node: usize) -> Option<&str> {
        self.names.get(node)?.as_deref()
    }
    /// A wire with closed cuts taken out: it is no closed cut itself.
    pub fn through(&self, wire: Wire) -> Wire {
        let mut wire = wire;
        // What was cut off is older than the variable that follows it.
        while let Role::Same(before) = self.role(wire.node()) {
            wire = if wire.inverted() { before.opposite() } else { before };
        }
        wire
    }
    /// What a node is made of, closed cuts taken out.
    pub fn parts(&self, system: &System, node: usize) -> Vec<Wire> {
        let parts = match system.graph.node(node) {
            Node::False | Node::Variable => Vec::new(),
            Node::And(a, b) | Node::Xor(a, b) => vec![a, b],
            Node::Select(c, t, e) => vec![c, t, e],
        };
        parts.into_iter().map(|wire| self.through(wire)).collect()
    }
}

struct Names {
    taken: HashSet<String>,
    names: Vec<Option<String>>,
}

impl Names {
    /// Gives a variable a name, unless it has one or is none.
    fn give(&mut self, system: &System, node: usize, name: &str) {
        if system.graph.node(node) != Node::Variable {
            return;
        }
        let Some(place) = self.names.get_mut(node) else { return };
        if place.is_some() {
            return;
        }
        let plain = |c: char| if (c.is_ascii_graphic() && c != '|' && c != '\\') || c == ' ' { c } else { '_' };
        let base: String = name.chars().map(plain).collect();
        let mut name = base.clone();
        let mut number = 2_usize;
        while !self.taken.insert(name.clone()) {
            name = format!("{base}#{number}");
            number += 1;
        }
        *place = Some(name);
    }
    fn inputs(&mut self, system: &System) {
        let given = &system.given;
        for (i, channel) in given.channels.iter().enumerate() {
            self.give(system, channel.node(), &format!("channel-{i}"));
        }
        for (i, gauge) in given.gauges.iter().enumerate() {
            for (bit, wire) in gauge.value.bits().iter().enumerate() {
                self.give(system, wire.node(), &format!("gauge-{i}.value[{bit}]"));
            }
            self.give(system, gauge.good.node(), &format!("gauge-{i}.good"));
        }
        for (i, link) in given.links.iter().enumerate() {
            self.give(system, link.fresh.node(), &format!("link-{i}.fresh"));
            for (bit, wire) in link.order.bits().iter().enumerate() {
                self.give(system, wire.node(), &format!("link-{i}.order[{bit}]"));
            }
        }
        for (i, pick) in given.picks.iter().enumerate() {
            self.give(system, pick.node(), &format!("pick-{i}"));
        }
        // What is left is only a part of an input: that it is broken, or that it moved so far.
        for node in 0..system.graph.len() {
            self.give(system, node, &format!("input-{node}"));
        }
    }
}
