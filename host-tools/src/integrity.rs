//! The integrity of safety functions, as far as it is arithmetic: what is required beside what their parts come to.
//!
//! A plain text file (`manual/integrity.md`) gives the functions, their subsystems and the data of these ([`read`]); [`assess::Sheet`] works
//! out each number by ISO 13849-1 or IEC 61508-6 and names its source beside it. It informs a qualified assessment and replaces none: what a table
//! of a standard would be needed for is told as not computed, never guessed.

pub mod assess;
pub mod fault;
pub mod form;
pub mod iec61508;
pub mod iso13849;
pub mod levels;
mod read;
pub mod text;

use crate::station::Station;
use fault::Fault;
use form::Form;

pub use read::read;

/// What belongs to every result.
pub const NOTICE: &str = "It informs a qualified assessment and replaces none. Data are as given; nothing is said of systematic failures, of software, of \
    the constraints on architecture of IEC 61508-2, nor of whether a category is really built.";

/// Requirements that a form serves and a station does not have.
pub fn unknown(form: &Form, station: &Station) -> Vec<Fault> {
    let known: Vec<&str> = station.requirements.iter().map(|requirement| requirement.name.text.as_str()).collect();
    let served = form.functions.iter().flat_map(|function| &function.serves);
    let unknown = served.filter(|(name, _)| !known.contains(&name.as_str()));
    let fault = |(name, at): &(String, form::Place)| Fault {
        at: at.clone(),
        what: format!("the rule files have no requirement {name}"),
        expected: "a requirement of the rule files".into(),
        mend: if known.is_empty() {
            "they have none at all; give the file of requirements too".into()
        } else {
            format!("they have {}", known.join(", "))
        },
    };
    unknown.map(fault).collect()
}
