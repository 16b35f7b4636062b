//! Which inputs a statement speaks of.

use super::{
    Claim, Condition, Every, Form, InputId, InputKind, Measured, Observed, Rank, Requirement, Scans, Station,
    WatchKind, When,
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
    /// Each input whose level it reads, or whose rises it counts: what settles where bounces are set aside. What else
    /// requirements speak of has a settling of its own, or none.
    fn each_settling(&mut self, of: &mut impl FnMut(&mut InputId)) {
        match self {
            Self::All(parts) | Self::Any(parts) => parts.iter_mut().for_each(|part| part.each_settling(of)),
            Self::Not(part) => part.each_settling(of),
            Self::High(input) | Self::Observed(Observed::Differing(input)) => of(input),
            Self::Observed(Observed::Stray(way) | Observed::Crowded(way, _)) => {
                of(&mut way.from);
                of(&mut way.to);
            }
            _ => {}
        }
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
    /// Each input of it, or of what excuses, that settles where bounces are set aside.
    pub(crate) fn each_settling(&mut self, of: &mut impl FnMut(&mut InputId)) {
        match &mut self.form {
            Form::Whenever { condition, .. }
            | Form::Never { condition, .. }
            | Form::Effect { condition, .. }
            | Form::NeverReleasedBut { condition, .. } => condition.each_settling(of),
            Form::WhenRises { detector, .. } => of(detector),
            Form::After { from, to, .. } => {
                of(from);
                of(to);
            }
            Form::NeverReleased { .. } | Form::NeverPermitted { .. } | Form::NeverTogether(..) | Form::Held { .. } => {}
        }
        if let Some(unless) = &mut self.unless {
            unless.each_settling(of);
        }
    }
    /// Scans by which it has what bounces settle before it asks; 0 if nothing that it reads does.
    pub fn settles(&self, station: &Station) -> Scans {
        let mut bounces = false;
        self.clone().each_settling(&mut |input| bounces |= !station.channels_of(*input).is_empty());
        if bounces { self.bounces } else { 0 }
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

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test: what fails here is a failed test")]

    use crate::load::load;
    use crate::respond::demands;
    use crate::text::codes::Code;
    use crate::text::parse::Source;

    #[test]
    fn bounces_of_what_has_a_settling_of_its_own_are_not_set_aside() {
        let source = |text: &str| Source { path: "a.rules".into(), bytes: text.as_bytes().to_vec() };
        let rules = source(include_str!("../../demo/return-terminal.rules"));
        let required = source(include_str!("../../demo/return-terminal.requirements.rules"));
        let more = include_str!("../../demo/return-terminal.supervision.rules");
        let counted = "unknown once refill-key pressed for 20 ms, stop at least service within 70 ms";
        assert_eq!(more.matches(counted).count(), 1);
        let loaded = load(vec![
            rules,
            required,
            source(&more.replace(counted, &format!("{counted}\n    bounces of up to 500 ms aside"))),
        ]);
        let idle: Vec<&str> =
            loaded.findings.iter().filter(|f| f.code == Code::BouncesIdle).map(|f| &*f.message).collect();
        assert_eq!(idle, ["requirement S131 sets bounces aside, and reads nothing that bounces"]);
        let station = loaded.station.unwrap();
        let lasting = |name: &str| demands(&station).into_iter().find(|d| d.name == name).map(|d| d.lasting_us);
        assert_eq!((lasting("S129"), lasting("S131")), (Some(10_000), Some(0)));
    }
}
