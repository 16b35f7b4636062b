//! The day on which a command is run, and what it says of a revision that has an end.

use clap::Args;
use host_tools::date::Date;
use host_tools::station::{Station, Temporary};
use jiff::Timestamp;
use serde::Serialize;

/// The day.
#[derive(Debug, Clone, Args)]
pub(super) struct Today {
    /// The day on which a temporary revision is judged, as `2026-12-31`; that of the clock (UTC) if it is not said.
    #[arg(long, value_name = "DAY", value_parser = day)]
    today: Option<Date>,
}

/// A revision that has an end.
#[derive(Debug, Serialize)]
pub(super) struct Ends {
    until: String,
    because: String,
    /// The end is past.
    pub(super) past: bool,
}

impl Today {
    /// Whether that day has passed.
    pub(super) fn is_past(&self, temporary: &Temporary) -> bool {
        self.today.unwrap_or_else(|| Date::of(Timestamp::now())) > temporary.until
    }
    /// The end of a station's revision, if it has one.
    pub(super) fn ends(&self, station: Option<&Station>) -> Option<Ends> {
        let temporary = station?.temporary.as_ref()?;
        let (until, because) = (temporary.until.to_string(), temporary.because.clone());
        Some(Ends { until, because, past: self.is_past(temporary) })
    }
}

impl Ends {
    /// In words, loud if the end is past.
    pub(super) fn words(&self, station: &Station) -> String {
        let Self { until, because, past } = self;
        let revision = station.revision;
        if *past {
            format!(
                "PAST ITS END: revision {revision} was temporary until {until}, because {because}. Take it out of use, or have it \
                 approved anew."
            )
        } else {
            format!("Temporary: revision {revision} ends on {until}, because {because}.")
        }
    }
}

fn day(text: &str) -> Result<Date, String> {
    Date::read(text).ok_or_else(|| format!("`{text}` is no day: write it as `2026-12-31`"))
}
