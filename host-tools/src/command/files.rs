//! Files as they are given: read, and named in what is said about them.

use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use clap::Args;

use super::Failure;
use host_tools::recording::read::Mapping;
use host_tools::station::Station;
use host_tools::text::parse::Source;
use host_tools::text::show::Shown;
use host_tools::text::tree::File;

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
    Ok(Source { path: named, bytes })
}

/// What the columns of recordings are.
#[derive(Debug, Args)]
pub(super) struct Mapped {
    /// The lines at the top of the recordings, in a file of their own, for recordings that a logger writes without them.
    #[arg(long, value_name = "FILE")]
    mapping: Option<PathBuf>,
}

impl Mapped {
    /// The file, if there is one.
    pub(super) fn path(&self) -> Option<&PathBuf> {
        self.mapping.as_ref()
    }
    /// Reads the file, if there is one.
    pub(super) fn read(&self, station: &Station) -> Result<Option<Mapping>, Failure> {
        let Some(path) = &self.mapping else { return Ok(None) };
        let Source { path, bytes } = read(path)?;
        Mapping::read(&bytes, station).map(Some).map_err(|fault| Failure::Said(format!("{path}, {fault}")))
    }
}

/// Reads one file of text that is no rule file.
pub(super) fn read_text(path: &Path) -> Result<(String, String), Failure> {
    let Source { path, bytes } = read(path)?;
    match String::from_utf8(bytes) {
        Ok(text) => Ok((path, text)),
        Err(error) => {
            let at = error.utf8_error().valid_up_to();
            Err(Failure::Said(format!("{path}: byte {at} is no UTF-8; save the file as UTF-8")))
        }
    }
}

/// The files as findings are shown in them.
pub(super) fn shown(files: &[File]) -> Vec<Shown<'_>> {
    files.iter().map(|file| Shown { path: &file.path, source: &file.source }).collect()
}
