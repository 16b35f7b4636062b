//! Which inputs a statement speaks of.

use super::{Condition, Every, Form, InputId, InputKind, Measured, Requirement, Station, WatchKind, When};
use std::collections::BTreeSet;

impl Condition {
    /// Adds the inputs it speaks of.
    pub fn inputs(&self, into: &mut BTreeSet<InputId>) {
        match self {
            Self::All(parts) | Self::Any(parts) => parts.iter().for_each(|part| part.inputs(into)),
            Self::Not(part) => part.inputs(into),
            Self::High(i) | Self::AtLeast(i, _) | Self::Faster(i, _) | Self::Back(i, _) | Self::Faulty(i) => {
                into.insert(*i);
            }
            Self::SeenOff(_) | Self::Bypassed(_) => {}
        }
    }
    /// Adds the bypasses it speaks of.
    pub fn bypasses(&self, into: &mut BTreeSet<usize>) {
        match self {
            Self::All(parts) | Self::Any(parts) => parts.iter().for_each(|part| part.bypasses(into)),
            Self::Not(part) => part.bypasses(into),
            Self::Bypassed(b) => {
                into.insert(*b);
            }
            _ => {}
        }
    }
}

impl Measured {
    fn pace(self) -> InputId {
        match self {
            Self::Rope(pace) | Self::Time { pace, .. } => pace,
        }
    }
}

impl WatchKind {
    /// The inputs it watches.
    pub fn inputs(&self) -> BTreeSet<InputId> {
        let mut out = BTreeSet::new();
        match self {
            Self::Guard(g) => g.when.inputs(&mut out),
            Self::Travel(t) => out.extend([t.from, t.to, t.measured.pace()]),
            Self::Measure(m) => {
                out.extend([m.detector, m.gauge]);
                if let When::Rope(pace, _) = m.when {
                    out.insert(pace);
                }
            }
            Self::Spacing(s) => out.extend([s.detector, s.measured.pace()]),
            Self::Agree(a) => out.extend(a.between),
            Self::Confirm(c) => c.see.inputs(&mut out),
            Self::Exercise(e) => {
                out.insert(e.input);
                match e.every {
                    Every::Carrier(by) | Every::Rope(by, _) => {
                        out.insert(by);
                    }
                    Every::Scans(_) => {}
                }
            }
            Self::Count(c) => {
                out.extend([c.enter, c.leave]);
                c.when.inputs(&mut out);
            }
        }
        out
    }
}

impl Requirement {
    /// The inputs it asks about, without those that only excuse.
    pub fn inputs(&self) -> BTreeSet<InputId> {
        let mut out = BTreeSet::new();
        match &self.form {
            Form::Whenever { condition, .. } | Form::Never { condition, .. } => condition.inputs(&mut out),
            Form::WhenRises { detector, gauge, .. } => out.extend([*detector, *gauge]),
            Form::After { from, to, measured, .. } => out.extend([*from, *to, measured.pace()]),
            Form::NeverReleased { key } => {
                out.insert(*key);
            }
            Form::NeverTogether(..) => {}
        }
        out
    }
    /// The bypasses it speaks of.
    pub fn bypasses(&self) -> BTreeSet<usize> {
        let mut out = BTreeSet::new();
        if let Form::Whenever { condition, .. } | Form::Never { condition, .. } = &self.form {
            condition.bypasses(&mut out);
        }
        if let Some(unless) = &self.unless {
            unless.bypasses(&mut out);
        }
        out
    }
    /// Least rank of the answer it asks for; the mildest stop where it asks for none by name.
    pub fn least(&self, station: &Station) -> super::Rank {
        match &self.form {
            Form::Whenever { least, .. }
            | Form::WhenRises { least, .. }
            | Form::After { least, .. }
            | Form::Never { least, .. } => *least,
            Form::NeverReleased { .. } | Form::NeverTogether(..) => station.first_stop(),
        }
    }
}

impl InputKind {
    /// Its digital channels.
    pub fn channels(&self) -> Vec<usize> {
        match self {
            Self::Contact(c) => vec![c.channel],
            Self::Detector(d) => vec![d.channel],
            Self::Pair(p) => p.channels.to_vec(),
            Self::Key(k) => std::iter::once(k.channels.0).chain(k.channels.1).collect(),
            Self::Pace(_) | Self::Gauge(_) | Self::Link(_) => vec![],
        }
    }
}
