//! The folder in which `prove` keeps what the checker had answered.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

use super::Failure;
use super::output::Output;
use host_tools::prove::claim::Subject;
use host_tools::prove::known::{self, Earlier};
use host_tools::prove::model::Model;

/// Name of the list in the folder.
pub(super) const LIST: &str = "checked";

/// What had been answered, and what is now.
pub(super) struct Answered {
    folder: PathBuf,
    before: BTreeMap<String, String>,
    now: BTreeMap<String, String>,
}

impl Answered {
    /// What the folder holds; without a list, nothing had been answered.
    pub(super) fn open(folder: &Path) -> Self {
        let before = known::read(&fs::read_to_string(folder.join(LIST)).unwrap_or_default());
        Self { folder: folder.to_path_buf(), now: before.clone(), before }
    }
    /// An earlier proof, if there is one that speaks of what is there now.
    pub(super) fn recall(&self, model: &Model<'_>, subject: Subject) -> Option<Earlier> {
        let name = subject.name(model.station);
        let certificate = fs::read_to_string(self.folder.join(format!("{name}.proof"))).ok()?;
        known::recall(model, subject, &certificate, &self.before)
    }
    /// What the checker has answered of a subject, or that it has not.
    pub(super) fn now(&mut self, name: &str, asked: Option<String>) {
        match asked {
            Some(digest) => self.now.insert(name.to_string(), digest),
            None => self.now.remove(name),
        };
    }
    /// Keeps the list.
    pub(super) fn keep(&self) -> Result<(), Failure> {
        let mut to = Output::open(Some(&self.folder.join(LIST)))?;
        to.write_all(known::write(&self.now).as_bytes())?;
        to.finish()?;
        Ok(())
    }
}
