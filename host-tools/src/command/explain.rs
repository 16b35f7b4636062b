//! `haltproof explain`.

use std::io::Write;

use clap::Args;

use super::output::Output;
use super::{Failure, Outcome};
use host_tools::text::codes::Code;
use host_tools::text::show::word;

/// Explains the code of a finding; without one, lists all codes.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof explain unit-missing\n\
    Exit status: 0 explained, 2 there is no such code.")]
pub(super) struct Explain {
    /// The code, as it stands in a finding.
    code: Option<String>,
}

impl Explain {
    pub(super) fn run(&self) -> Outcome {
        let mut to = Output::open(None)?;
        if let Some(text) = &self.code {
            let code = Code::find(text).ok_or_else(|| {
                Failure::Said(format!("there is no code `{text}`; `haltproof explain` lists all of them"))
            })?;
            writeln!(to, "{} ({})\n\n{}", code.text(), word(code.level()), code.explain())?;
        } else {
            for code in Code::ALL {
                let first = code.explain().split_inclusive(". ").next().unwrap_or_default();
                writeln!(to, "{:<26} {:<8} {first}", code.text(), word(code.level()))?;
            }
        }
        to.finish()?;
        Ok(0)
    }
}
