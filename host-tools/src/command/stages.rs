//! What several commands ask of the library in the same way.

use host_tools::load::{Loaded, load};
use host_tools::runner;
use host_tools::station::Station;
use host_tools::text::finding::Level;
use host_tools::text::parse::Source;
use host_tools::text::show::render;
use host_tools::told::Runner;

use super::files::shown;
use super::{Failure, output};

/// Hands a running step of the station to `run`.
pub(super) fn with_runner<T>(station: &Station, run: impl FnOnce(&mut dyn Runner) -> T) -> Result<T, Failure> {
    Ok(runner::with_runner(station, run)?)
}

/// The station of some rule files; if there is none, what was found is said.
pub(super) fn sound_station(sources: Vec<Source>) -> Result<Station, Failure> {
    let loaded = load(sources);
    sound(&loaded).cloned()
}

/// The station of rule files that were read; if there is none, what was found is said.
pub(super) fn sound(loaded: &Loaded) -> Result<&Station, Failure> {
    loaded.station.as_ref().ok_or_else(|| {
        let errors: Vec<_> = loaded.findings.iter().filter(|f| f.level == Level::Error).cloned().collect();
        output::complain(render(&errors, &shown(&loaded.files), false).trim_end());
        Failure::Said("the rule files make no station; `haltproof check` says more".to_owned())
    })
}
