//! Which inputs a statement speaks of.

use super::{
    Claim, Condition, Every, Form, InputId, InputKind, Measured, Observed, Rank, Requirement, Station, WatchKind, When,
};
use std::collections::BTreeSet;

impl Condition {
    /// Calls for every simple condition in it.
    pub fn each(&self, see: &mut impl FnMut(&Condition)) {
        match self {
            Self::All(parts) | Self::Any(parts) => parts.iter().for_each(|part| part.each(see)),
            Self::Not(part) => part.each(see),
            simple => see(simple),
        }
    }
    /// The inputs it reads, as often as it names them.
    pub fn inputs(&self) -> Vec<InputId> {
        let mut all = Vec::new();
        self.each(&mut |simple| match simple {
            Self::High(i) | Self::AtLeast(i, _) | Self::Faster(i, _) | Self::Back(i, _) | Self::Faulty(i) => {
                all.push(*i);
            }
            Self::Observed(observed) => all.extend(observed.inputs()),
            _ => {}
        });
        all
    }
    /// The bypasses it speaks of.
    pub fn bypasses(&self) -> Vec<usize> {
        let mut all = Vec::new();
        self.each(&mut |simple| {
            if let Self::Bypassed(bypass) = simple {
                all.push(*bypass);
            }
        });
        all
    }
}

impl Measured {
    /// The pace.
    pub fn pace(self) -> InputId {
        match self {
            Self::Rope(pace) | Self::Time { pace, .. } => pace,
        }
    }
}

impl WatchKind {
    /// The word with which its statement begins.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Guard(_) => "guard",
            Self::Travel(_) => "travel",
            Self::Measure(_) => "measure",
            Self::Spacing(_) => "spacing",
            Self::Agree(_) => "agree",
            Self::Confirm(_) => "confirm",
            Self::Exercise(_) => "exercise",
            Self::Count(_) => "count",
        }
    }
    /// The inputs it watches, as often as it names them.
    pub fn inputs(&self) -> Vec<InputId> {
        match self {
            Self::Guard(g) => g.when.inputs(),
            Self::Travel(t) => vec![t.from, t.to, t.measured.pace()],
            Self::Measure(m) => {
                let pace = if let When::Rope(pace, _) = m.when { Some(pace) } else { None };
                [m.detector, m.gauge].into_iter().chain(pace).collect()
            }
            Self::Spacing(s) => vec![s.detector, s.measured.pace()],
            Self::Agree(a) => a.between.to_vec(),
            Self::Confirm(c) => c.see.inputs(),
            Self::Exercise(e) => match e.every {
                Every::Carrier(by) | Every::Rope(by, _) => vec![e.input, by],
                Every::Scans(_) => vec![e.input],
            },
            Self::Count(c) => [c.enter, c.leave].into_iter().chain(c.when.inputs()).collect(),
        }
    }
}

impl Requirement {
    /// The inputs it asks about, without those that only excuse.
    pub fn inputs(&self) -> BTreeSet<InputId> {
        match &self.form {
            Form::Whenever { condition, .. } | Form::Never { condition, .. } => BTreeSet::from_iter(condition.inputs()),
            Form::WhenRises { detector, gauge, when, .. } => {
                let pace = if let When::Rope(pace, _) = when { Some(*pace) } else { None };
                [*detector, *gauge].into_iter().chain(pace).collect()
            }
            Form::After { from, to, measured, .. } => BTreeSet::from([*from, *to, measured.pace()]),
            Form::NeverReleasedBut { condition, .. } | Form::Effect { condition, .. } => {
                BTreeSet::from_iter(condition.inputs())
            }
            Form::NeverReleased { key } => BTreeSet::from([*key]),
            Form::NeverPermitted { .. } => BTreeSet::new(),
            Form::NeverTogether(..) => BTreeSet::new(),
            Form::Held { claim, .. } => claim.inputs(),
        }
    }
    /// What it asks that no rule can.
    pub fn observed(&self) -> BTreeSet<Observed> {
        let mut out = BTreeSet::new();
        let mut see = |simple: &Condition| {
            if let Condition::Observed(observed) = simple {
                out.insert(*observed);
            }
        };
        if let Form::Whenever { condition, .. }
        | Form::Never { condition, .. }
        | Form::Effect { condition, .. }
        | Form::NeverReleasedBut { condition, .. } = &self.form
        {
            condition.each(&mut see);
        }
        if let Some(unless) = &self.unless {
            unless.each(&mut see);
        }
        out
    }
    /// The bypasses it speaks of.
    pub fn bypasses(&self) -> BTreeSet<usize> {
        let mut out = BTreeSet::new();
        if let Form::Whenever { condition, .. }
        | Form::Never { condition, .. }
        | Form::Effect { condition, .. }
        | Form::NeverReleasedBut { condition, .. }
        | Form::Held { claim: Claim::Always(condition), .. } = &self.form
        {
            out.extend(condition.bypasses());
        }
        if let Some(unless) = &self.unless {
            out.extend(unless.bypasses());
        }
        out
    }
}

impl Claim {
    /// The inputs it speaks of.
    pub fn inputs(&self) -> BTreeSet<InputId> {
        match self {
            Self::RopeApart(detector, pace, _) => BTreeSet::from([*detector, *pace]),
            Self::ScansApart(detector, _) => BTreeSet::from([*detector]),
            Self::Always(condition) => condition.inputs().into_iter().collect(),
        }
    }
}

impl Form {
    /// Least rank of the answer it asks for, if it asks for one.
    pub fn least(&self) -> Option<Rank> {
        match self {
            Self::Whenever { least, .. }
            | Self::WhenRises { least, .. }
            | Self::After { least, .. }
            | Self::Effect { least, .. }
            | Self::Never { least, .. }
            | Self::Held { least, .. } => Some(*least),
            Self::NeverReleased { .. }
            | Self::NeverReleasedBut { .. }
            | Self::NeverPermitted { .. }
            | Self::NeverTogether(..) => None,
        }
    }
}

impl Station {
    /// Digital channels of an input.
    pub fn channels_of(&self, input: InputId) -> Vec<usize> {
        self.inputs.get(input).map_or_else(Vec::new, |input| input.kind.channels())
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
