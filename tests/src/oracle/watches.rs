//! Every watch, scan by scan: state goes on whatever the mode; who may trip is decided later.

mod count;
mod judged;
mod lasting;
mod spacing;
mod travel;

use host_tools::station::ways::Way;
use host_tools::station::{Station, Watch, WatchKind};

use super::conditions::View;
use count::CountState;
use judged::ExerciseState;
pub(super) use judged::MeasureState;
use lasting::{AgreeState, ConfirmState, GuardState};
use spacing::SpacingState;
pub(crate) use travel::TravelState;

/// State of one watch; the kinds are those of [`WatchKind`].
#[derive(Debug, Clone)]
pub(crate) enum State {
    Guard(GuardState),
    Travel(TravelState),
    Measure(MeasureState),
    Spacing(SpacingState),
    Agree(AgreeState),
    Confirm(ConfirmState),
    Exercise(ExerciseState),
    Count(CountState),
}

impl State {
    /// As at power-up.
    pub(crate) fn power_up(watch: &Watch) -> Self {
        match &watch.kind {
            WatchKind::Guard(_) => Self::Guard(GuardState::default()),
            WatchKind::Travel(travel) => Self::Travel(TravelState::power_up(travel)),
            WatchKind::Measure(_) => Self::Measure(MeasureState::default()),
            WatchKind::Spacing(_) => Self::Spacing(SpacingState::default()),
            WatchKind::Agree(_) => Self::Agree(AgreeState::default()),
            WatchKind::Confirm(_) => Self::Confirm(ConfirmState::default()),
            WatchKind::Exercise(_) => Self::Exercise(ExerciseState::default()),
            WatchKind::Count(_) => Self::Count(CountState::default()),
        }
    }

    /// One scan: the ways that would trip if no mode and no bypass were asked.
    ///
    /// `published` is what stood in the verdict of the scan before, per rank from 1.
    pub(crate) fn scan(
        &mut self,
        station: &Station,
        watch: &Watch,
        scan: i64,
        view: &View,
        published: &[bool],
    ) -> Vec<Way> {
        match (self, &watch.kind) {
            (Self::Guard(state), WatchKind::Guard(guard)) => state.scan(guard, scan, view),
            (Self::Travel(state), WatchKind::Travel(travel)) => state.scan(travel, view),
            (Self::Measure(state), WatchKind::Measure(measure)) => state.scan(measure, view),
            (Self::Spacing(state), WatchKind::Spacing(spacing)) => state.scan(spacing, view),
            (Self::Agree(state), WatchKind::Agree(agree)) => state.scan(station, agree, view),
            (Self::Confirm(state), WatchKind::Confirm(confirm)) => {
                state.scan(confirm, published[usize::from(confirm.after) - 1], view)
            }
            (Self::Exercise(state), WatchKind::Exercise(exercise)) => state.scan(exercise, view),
            (Self::Count(state), WatchKind::Count(count)) => state.scan(count, view),
            _ => Vec::new(),
        }
    }

    /// A refill by key.
    pub(crate) fn refill_by_key(&mut self, watch: &Watch) {
        match (self, &watch.kind) {
            (Self::Travel(state), WatchKind::Travel(travel)) => {
                state.empty();
                state.refill(travel);
            }
            (Self::Count(state), WatchKind::Count(_)) => state.forget(),
            _ => {}
        }
    }

    /// Judging of a field recording begins: every stretch is empty and in refill.
    pub(crate) fn adopt(&mut self, watch: &Watch) {
        if let (Self::Travel(state), WatchKind::Travel(travel)) = (self, &watch.kind) {
            state.empty();
            state.refill(travel);
        }
    }

    /// The travel in it, if it is one.
    pub(crate) fn travel(&self) -> Option<&TravelState> {
        match self {
            Self::Travel(state) => Some(state),
            _ => None,
        }
    }
}

/// The single way of a watch that has one.
fn tripped(trips: bool) -> Vec<Way> {
    if trips { vec![Way::Tripped] } else { Vec::new() }
}
