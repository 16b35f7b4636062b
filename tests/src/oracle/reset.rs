//! The reset.

use host_tools::station::Station;

use super::conditions::View;
use super::timing::Hold;

/// A press of the reset key, and how long its condition has held.
#[derive(Debug, Clone, Default)]
pub(crate) struct ResetKey {
    /// Scans of the press that has begun and was not forgotten.
    press: Option<i64>,
    when: Hold,
}

impl ResetKey {
    /// One scan; true if the reset acts.
    pub(crate) fn scan(&mut self, station: &Station, view: &View, any_stop_trips: bool) -> bool {
        let Some(reset) = &station.reset else {
            return false;
        };
        let key = &view.inputs[reset.key];
        let lasted = self.when.longer(view.bits(&reset.when).must, reset.lasting);
        if key.pressed {
            self.press = Some(0);
        }
        if any_stop_trips {
            self.press = None;
        }
        if key.high.must {
            self.press = self.press.map(|length| length + 1);
            return false;
        }
        // Not held: a press that is still remembered has ended in this scan.
        let Some(length) = self.press.take() else {
            return false;
        };
        length >= i64::from(reset.shortest) && length <= i64::from(reset.longest) && lasted
    }
}
