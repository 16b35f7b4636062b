//! Rule files as they are given: read, and named in what is said about them.

use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::Failure;
use host_tools::text::show::Shown;

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Source {
    /// Its name as given.
    pub(super) path: String,
    /// Its bytes as text; what is no UTF-8 is a finding of the parser, not of ours.
    pub(super) text: String,
}

/// Reads files; `-` is the input.
pub(super) fn read_all(paths: &[PathBuf]) -> Result<Vec<Source>, Failure> {
    paths.iter().map(|path| read(path)).collect()
}

/// Reads one file; `-` is the input.
pub(super) fn read(path: &Path) -> Result<Source, Failure> {
    let named = path.display().to_string();
    let bytes = if path == Path::new("-") {
        let mut bytes = Vec::new();
        io::stdin().read_to_end(&mut bytes).map(|_| bytes)
    } else {
        fs::read(path)
    };
    let bytes = bytes.map_err(|e| Failure::Said(format!("{named}: {e}")))?;
    let text = String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        Failure::Said(format!(
            "{named}: byte {at} is no UTF-8; save the file as UTF-8"
        ))
    })?;
    Ok(Source { path: named, text })
}

/// The files as findings are shown in them.
pub(super) fn shown(sources: &[Source]) -> Vec<Shown<'_>> {
    sources
        .iter()
        .map(|s| Shown {
            path: &s.path,
            source: &s.text,
        })
        .collect()
}
