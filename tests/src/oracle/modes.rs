//! Which modes are selected, and what of that trips.

use host_tools::station::ways::{Source, Way};
use host_tools::station::{InputKind, Station, Watch};

use super::conditions::View;

/// The modes of one scan.
#[derive(Debug, Clone)]
pub(crate) struct Selection {
    /// Per mode: its key may be held.
    pub(crate) selected: Vec<bool>,
    /// Per mode: its key must be held and no other mode may be selected.
    pub(crate) known: Vec<bool>,
}

impl Selection {
    /// Reads the keys of the modes.
    pub(crate) fn of(station: &Station, view: &View) -> Self {
        let selected: Vec<bool> = station.modes.iter().map(|mode| view.inputs[mode.key].high.may).collect();
        let mut known = Vec::new();
        for (i, mode) in station.modes.iter().enumerate() {
            let another = (0..selected.len()).any(|other| other != i && selected[other]);
            known.push(view.inputs[mode.key].high.must && !another);
        }
        Self { selected, known }
    }

    /// A watch with modes is off while another mode, not among its own, is known.
    pub(crate) fn off(&self, watch: &Watch) -> bool {
        let another = (0..self.known.len()).any(|mode| self.known[mode] && !watch.modes.contains(&mode));
        !watch.modes.is_empty() && another
    }

    /// The mode that is selected alone, if there is exactly one.
    fn alone(&self) -> Option<usize> {
        let all: Vec<usize> = (0..self.selected.len()).filter(|&i| self.selected[i]).collect();
        if all.len() == 1 { Some(all[0]) } else { None }
    }
}

/// The mode last selected alone.
#[derive(Debug, Clone, Default)]
pub(crate) struct Modes {
    last: Option<usize>,
}

impl Modes {
    /// One scan.
    pub(crate) fn scan(
        &mut self,
        station: &Station,
        scan: i64,
        selection: &Selection,
        view: &View,
        raw: &mut Vec<(Source, Way)>,
    ) {
        if station.modes.is_empty() {
            return;
        }
        let alone = selection.alone();
        if alone.is_none() {
            raw.push((Source::Modes, Way::Unselected));
        }
        if alone.is_some() {
            let pace = station.inputs.iter().position(|input| matches!(input.kind, InputKind::Pace(_)));
            let still = pace.is_some_and(|pace| view.still(pace));
            if scan > 0 && alone != self.last && !still {
                raw.push((Source::Modes, Way::Changed));
            }
            self.last = alone;
        }
        for (i, mode) in station.modes.iter().enumerate() {
            if let Some((pace, most)) = mode.at_most
                && selection.selected[i]
                && view.may_exceed(pace, most)
            {
                raw.push((Source::Mode(i), Way::TooFast));
            }
        }
    }
}
