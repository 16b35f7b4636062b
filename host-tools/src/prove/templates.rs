//! Lemmas written down from the kinds of rule and monitor that a requirement meets.
//!
//! Each file beside this one knows one kind. Lemmas are offered, not believed: what is false or not
//! kept is dropped by the search, and what is used is checked again from the certificate.

use super::cells::channel;
use super::circuit::System;
use super::lemma::{CellId, Claim, Lemma};
use super::model::Model;
use crate::station::ways::Source;
use crate::station::{Assumption, Form, Ground, InputId, InputKind, Observed, Rank, Requirement, WatchId, WatchKind};
use logic_rules::Cut;
use std::collections::{BTreeSet, HashMap};

mod apart;
mod bypass;
mod clearing;
mod effect;
mod hold;
mod line;
mod link;
mod measure;
mod observed;
mod pace;
mod release;
pub mod standing;
mod steady;
mod tally;
mod travel;

/// Cells by name.
pub type Named = HashMap<String, CellId>;

/// What the templates know of the task at hand.
pub struct Scene<'m> {
    /// The station.
    pub model: &'m Model<'m>,
    /// The requirement.
    pub requirement: &'m Requirement,
    /// Inputs that it, or a rule that is kept for it, speaks of.
    pub inputs: BTreeSet<InputId>,
    /// Watches that are kept for it.
    pub watches: BTreeSet<WatchId>,
    /// Bypasses that mask one of them, or that it speaks of.
    pub bypasses: BTreeSet<usize>,
    cells: &'m Named,
    lemmas: Vec<Lemma>,
}

/// Cells by name.
pub fn by_name(system: &System) -> Named {
    system.cells.iter().enumerate().map(|(i, cell)| (cell.name.clone(), i)).collect()
}

/// Least rank of the answer that counts; any stop where none is asked for by name.
fn least(model: &Model<'_>, requirement: &Requirement) -> Rank {
    requirement.form.least().unwrap_or_else(|| model.station.first_stop())
}

/// Watches that answer what a requirement asks, and speak of its inputs.
pub fn own_watches(model: &Model<'_>, requirement: &Requirement) -> BTreeSet<WatchId> {
    let (least, mut inputs) = (least(model, requirement), requirement.inputs());
    if let Some([from, to]) = travel::ends(&requirement.form) {
        // Whatever else watches the same rope answers something else.
        inputs = BTreeSet::from([from, to]);
    }
    if let Form::Held { assumption, .. } = requirement.form
        && let Some(Assumption { ground: Ground::HeldBy(watch), .. }) = model.station.assumptions.get(assumption)
    {
        return BTreeSet::from([*watch]);
    }
    let ways = model.program.ways.iter().filter(|way| way.answer >= least);
    let watch = |source| if let Source::Watch(watch) = source { Some(watch) } else { None };
    let own = ways.filter_map(|way| watch(way.source));
    let counted = requirement.observed().iter().any(|observed| matches!(observed, Observed::Miscounting(_)));
    let speaks = |watch: &WatchId| {
        model.station.watches.get(*watch).is_some_and(|w| {
            let of_kind = !counted || matches!(w.kind, WatchKind::Count(_));
            of_kind && causes(&w.kind).iter().any(|input| inputs.contains(input))
        })
    };
    own.filter(speaks).collect()
}

/// Inputs whose values make a watch trip. A pace by which it only measures is none.
fn causes(watch: &WatchKind) -> Vec<InputId> {
    match watch {
        WatchKind::Travel(travel) => vec![travel.from, travel.to],
        WatchKind::Spacing(spacing) => vec![spacing.detector],
        WatchKind::Measure(measure) => vec![measure.detector, measure.gauge],
        other => other.inputs(),
    }
}

/// Which cuts are closed for a requirement, when only its own rules are kept.
pub fn own_cuts(model: &Model<'_>, requirement: &Requirement, watches: &BTreeSet<WatchId>) -> BTreeSet<Cut> {
    let (inputs, observed) = (requirement.inputs(), requirement.observed());
    let mut keep = BTreeSet::new();
    for (plan_way, &way) in model.program.by_severity.iter().enumerate() {
        let own = match model.program.ways.get(way).map(|way| way.source) {
            Some(Source::Watch(watch)) => watches.contains(&watch),
            Some(Source::Input(input)) => inputs.contains(&input),
            Some(Source::Output(output)) => observed.contains(&Observed::Released(output)),
            Some(Source::Slow(slow)) => {
                observed.iter().any(|&it| matches!(it, Observed::Stands(rank) if usize::from(rank) == slow + 1))
            }
            _ => false,
        };
        if own {
            keep.insert(Cut::Way(plan_way));
        }
    }
    keep.extend(requirement.bypasses().into_iter().map(Cut::Bypass));
    if matches!(requirement.form, Form::NeverReleased { .. } | Form::NeverReleasedBut { .. }) {
        keep.insert(Cut::Reset);
    }
    keep
}

/// All lemmas for a requirement.
pub fn lemmas(model: &Model<'_>, cells: &Named, requirement: &Requirement, watches: &BTreeSet<WatchId>) -> Vec<Lemma> {
    let mut inputs = requirement.inputs();
    if let Some(unless) = &requirement.unless {
        inputs.extend(unless.inputs());
    }
    for watch in watches {
        if let Some(watch) = model.station.watches.get(*watch) {
            inputs.extend(watch.kind.inputs());
        }
    }
    let mut bypasses = requirement.bypasses();
    let masks = |of: &[WatchId]| of.iter().any(|watch| watches.contains(watch));
    bypasses.extend(model.station.bypasses.iter().enumerate().filter(|(_, b)| masks(&b.of)).map(|(i, _)| i));
    inputs.extend(bypasses.iter().filter_map(|&b| model.station.bypasses.get(b)).map(|b| b.at_most.0));
    let watches = watches.clone();
    let mut scene = Scene { model, requirement, inputs, watches, bypasses, cells, lemmas: Vec::new() };
    line::lemmas(&mut scene);
    steady::lemmas(&mut scene);
    pace::lemmas(&mut scene);
    link::lemmas(&mut scene);
    hold::lemmas(&mut scene);
    measure::lemmas(&mut scene);
    bypass::lemmas(&mut scene);
    travel::lemmas(&mut scene);
    release::lemmas(&mut scene);
    clearing::lemmas(&mut scene);
    effect::lemmas(&mut scene);
    apart::lemmas(&mut scene);
    observed::lemmas(&mut scene);
    let mut seen = BTreeSet::new();
    scene.lemmas.into_iter().filter(|lemma| seen.insert(lemma.clone())).collect()
}

impl Scene<'_> {
    /// A cell, by what it belongs to and what it is.
    fn cell(&self, of: &str, what: &str) -> Option<CellId> {
        self.cells.get(&format!("{of}.{what}")).copied()
    }
    /// A cell of the requirement.
    fn own(&self, what: &str) -> Option<CellId> {
        self.cell(&self.requirement.name.text, what)
    }
    fn name(&self, input: InputId) -> String {
        self.model.station.inputs.get(input).map_or_else(String::new, |i| i.name.text.clone())
    }
    fn kind(&self, input: InputId) -> Option<&InputKind> {
        self.model.station.inputs.get(input).map(|i| &i.kind)
    }
    fn always(&mut self, claim: Claim) {
        self.lemmas.push(Lemma::always(claim));
    }
    fn when(&mut self, when: &[Claim], then: &[Claim]) {
        self.lemmas.push(Lemma::when(when, then));
    }
    /// The answer did not stand in the verdict before, and none of the bypasses was active.
    fn unserved(&self) -> Vec<Claim> {
        let mut out = Vec::new();
        for rank in self.least()..=self.model.station.worst() {
            out.extend(self.cell(self.model.station.answer(rank), "stood").map(Claim::Not));
        }
        out
    }
    /// As [`unserved`](Self::unserved), and no bypass that masks the rules was active.
    fn unserved_and_unmasked(&self) -> Vec<Claim> {
        let mut out = self.unserved();
        for &bypass in &self.bypasses {
            if let Some(bypass) = self.model.station.bypasses.get(bypass) {
                out.extend(self.cell(&format!("raw:{}", bypass.name.text), "active").map(Claim::Not));
            }
        }
        out
    }
    fn least(&self) -> Rank {
        least(self.model, self.requirement)
    }
    /// Channels of all inputs, with their names.
    fn lines(&self) -> Vec<(usize, String)> {
        let channels: BTreeSet<usize> = self.inputs.iter().flat_map(|&i| self.model.station.channels_of(i)).collect();
        channels.into_iter().map(|c| (c, channel(self.model.station, c))).collect()
    }
    /// Samples after which a line goes high, and low.
    fn samples(&self, channel: usize) -> (u32, u32) {
        let tables = self.model.plan.tables();
        let of = |rows: logic_rules::plan::Rows<'_, 4>| rows.get(channel).map_or(1, |row| u32::from_le_bytes(*row));
        (of(tables.line_up), of(tables.line_down))
    }
    /// The raw line as the requirement reads it, and the samples after which the rules' line is as high, and as low, as that.
    fn reading(&self, channel: usize) -> (String, (u32, u32)) {
        match steady::copy(self, channel) {
            Some((copy, true)) => (copy, (1, 1)),
            Some((copy, false)) => (copy, self.samples(channel)),
            None => (format!("raw:{}", self::channel(self.model.station, channel)), self.samples(channel)),
        }
    }
    /// Most that a pace moves in a scan, mm.
    fn pace_step(&self, pace: InputId) -> u32 {
        let number = crate::monitor::pace_number(self.model.station, pace);
        let row = self.model.plan.tables().paces.get(number);
        row.map_or(0, |row| logic_rules::plan::PaceRow::read(row).top_scan)
    }
    fn inverted(&self, channel: usize) -> bool {
        self.model.plan.tables().line_invert.get(channel).is_some_and(|[invert]| *invert != 0)
    }
}
