//! Which controller: `in-process`, `emulator`, or `serial:PATH`.

use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::time::Duration;

use super::client::Client;
use super::emulator::Emulator;
use super::in_process::InProcess;
use super::serial::Serial;
use super::{Trouble, Wire};

/// A controller to speak with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// The firmware's bench in a thread of this program.
    InProcess,
    /// An emulated board.
    Emulator,
    /// A serial port, by its path.
    Serial(String),
}

impl FromStr for Target {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        match (text, text.strip_prefix("serial:")) {
            ("in-process", _) => Ok(Self::InProcess),
            ("emulator", _) => Ok(Self::Emulator),
            (_, Some(path)) if !path.is_empty() => Ok(Self::Serial(path.to_owned())),
            _ => Err("a target is `in-process`, `emulator`, or `serial:` with the path of a port".to_owned()),
        }
    }
}

impl std::fmt::Display for Target {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::InProcess => write!(f, "in-process"),
            Self::Emulator => write!(f, "emulator"),
            Self::Serial(path) => write!(f, "serial:{path}"),
        }
    }
}

impl Target {
    /// Opens the line. `firmware` is the binary of the board, which the emulator alone needs.
    ///
    /// # Errors
    /// [`Trouble::NoTarget`], with what is missing.
    pub fn open(&self, firmware: Option<&Path>) -> Result<Client, Trouble> {
        self.open_logged(firmware, None)
    }
    /// As [`Target::open`]; what an emulated board says on its second serial line, which is its log, goes to this file.
    ///
    /// # Errors
    /// As [`Target::open`].
    pub fn open_logged(&self, firmware: Option<&Path>, log: Option<&Path>) -> Result<Client, Trouble> {
        let (wire, patience): (Box<dyn Wire>, u64) = match self {
            Self::InProcess => (Box::new(InProcess::start()?), 30),
            Self::Emulator => {
                let binary: PathBuf = firmware.map(Path::to_path_buf).ok_or_else(|| {
                    Trouble::NoTarget("the emulator needs the board's binary: name it with --firmware FILE".to_owned())
                })?;
                (Box::new(Emulator::start(&binary, log)?), 20)
            }
            Self::Serial(path) => (Box::new(Serial::open(path)?), 1),
        };
        Ok(Client::new(wire, Duration::from_secs(patience)))
    }
}
