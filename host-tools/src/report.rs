//! The report that a reviewer signs: what was checked, what the rules do, what is proved of them, and on what grounds.
//!
//! One page that stands by itself ([`crate::page`]). No clock is read: the same inputs give the same bytes. It is a reading of
//! results and works nothing out that is not worked out elsewhere.

use crate::campaign::Record;
use crate::compare::Comparison;
use crate::coverage::List;
use crate::integrity::assess::Sheet;
use crate::page::{CAUTION, page, plain, signatures};
use crate::plural::plural;
use crate::prove::verdict::{Judgement, Verdict};
use crate::replay::Summary;
use crate::station::{Station, Temporary};
use crate::text::show::Told;
use crate::text::tree::File;
use crate::witness::Arises;
use maud::{Markup, html};

mod answers;
mod campaigns;
mod changes;
mod coverage;
mod draw;
pub mod fleet;
mod integrity;
mod matrix;
mod mutants;
pub mod recorded;
mod requirements;
mod rules;
mod slack;
mod stands;
mod traces;
mod windows;

/// Everything that goes into a report.
pub struct Material<'a> {
    /// The station.
    pub station: &'a Station,
    /// Its rule files.
    pub files: &'a [File],
    /// SHA-256 of the rule files, one after the other.
    pub digest: &'a str,
    /// What `check` found.
    pub findings: &'a [Told],
    /// What `prove` says, of each requirement and of what must hold of every station.
    pub judged: &'a [Judged],
    /// Whether the requirements arise, by their index.
    pub arises: &'a [(usize, Arises)],
    /// The rule files that were approved last, by path and text.
    pub approved: &'a [(String, String)],
    /// What the change since then does, if it could be judged.
    pub compared: Option<&'a Comparison>,
    /// A published list of safety stops.
    pub list: &'a List,
    /// Records of campaigns.
    pub campaigns: &'a [Record],
    /// How far limits can move before a requirement is lost.
    pub slack: Option<&'a crate::slack::table::Table>,
    /// Which small changes a requirement catches.
    pub mutants: Option<&'a crate::mutants::table::Table>,
    /// What safety functions come to.
    pub integrity: &'a [Sheet],
    /// Recordings that were replayed.
    pub replays: &'a [Replayed],
    /// The revision is temporary, and its end is past.
    pub past: bool,
}

/// A judgement with what it takes for granted.
pub struct Judged {
    /// The judgement.
    pub judgement: Judgement,
    /// In words.
    pub granted: Vec<String>,
}

/// A recording that was replayed.
pub struct Replayed {
    /// Its path.
    pub path: String,
    /// The replay as text.
    pub text: String,
    /// Its sums.
    pub summary: Summary,
}

/// The end of a temporary revision.
fn ends(of: &Material<'_>) -> Markup {
    let Some(Temporary { until, because }) = &of.station.temporary else { return html! {} };
    let until = until.to_string();
    html! {
        p.caution role=[of.past.then_some("alert")] {
            @if of.past {
                strong { "THIS TEMPORARY REVISION IS PAST ITS END, " (until) "." } " Take it out of use, or have it approved anew. "
            } @else {
                strong { "This revision is temporary: it ends on " (until) "." } " "
            }
            "It is temporary because " (plain(because)) "."
        }
    }
}

/// The report.
pub fn report(of: &Material<'_>) -> String {
    let station = of.station;
    let title = format!("{}, revision {}", station.title, station.revision);
    let sections = [
        ("identity", "What was checked", identity(of)),
        ("requirements", "Requirements", requirements::section(of)),
        ("matrix", "Causes and effects", matrix::section(station)),
        ("answers", "Answers", answers::section(station)),
        ("windows", "Timing windows", windows::section(of)),
        ("stands", "Stopping and keeping apart", stands::section(station)),
        ("slack", "Slack of the limits", slack::section(of)),
        ("mutants", "Mutants", mutants::section(of)),
        ("coverage", "A published list", coverage::section(of)),
        ("integrity", "Integrity of safety functions", integrity::section(of)),
        ("changes", "Changes since the approved revision", changes::section(of)),
        ("campaigns", "Campaigns on a controller", campaigns::section(of)),
        ("replays", "Recordings", replays(of.replays)),
        ("findings", "Findings", findings(of.findings)),
        ("rules", "The rule files", rules::section(of)),
        ("approval", "Approval", approval()),
    ];
    let body = html! {
        header {
            h1 { (plain(&title)) }
            p { "Report on the stop rules of a station, for review. " (summary(of)) }
            (ends(of))
            p.caution { (CAUTION) }
            nav aria-label="Sections" {
                ol { @for (id, title, _) in &sections { li { a href={ "#" (id) } { (title) } } } }
            }
        }
        @for (id, title, content) in &sections {
            section id=(id) { h2 { (title) } (content) }
        }
    };
    page(&title, &body)
}

/// Verdicts, counted.
fn summary(of: &Material<'_>) -> String {
    let count = |wanted: fn(&Verdict) -> bool| of.judged.iter().filter(|j| wanted(&j.judgement.verdict)).count();
    let proved = count(|v| matches!(v, Verdict::Proved(_)));
    let refuted = count(|v| matches!(v, Verdict::Refuted(_)));
    let open = of.judged.len() - proved - refuted;
    format!(
        "Of {} statements {proved} are proved, {refuted} are refuted and {open} are undecided; {}.",
        of.judged.len(),
        plural(of.findings.iter().filter(|finding| finding.level != "note").count(), "finding")
    )
}

fn identity(of: &Material<'_>) -> Markup {
    let station = of.station;
    let rows = [
        ("Station", plain(&station.title)),
        ("Revision", station.revision.to_string()),
        ("Scan", format!("{} ms", station.ms(1))),
        ("Files", of.files.iter().map(|file| plain(&file.path)).collect::<Vec<_>>().join(", ")),
        ("SHA-256 of the files, one after the other", of.digest.to_owned()),
        ("Made with", concat!("haltproof ", env!("CARGO_PKG_VERSION")).to_owned()),
        ("Inputs", station.inputs.len().to_string()),
        ("Watches", station.watches.len().to_string()),
        ("Requirements", station.required().to_string()),
    ];
    html! {
        table.long { tbody { @for (what, value) in rows { tr { th scope="row" { (what) } td { (value) } } } } }
        p.soft { "No time of day stands in this report: the same files give the same report, byte for byte." }
    }
}

fn replays(replays: &[Replayed]) -> Markup {
    html! {
        @if replays.is_empty() { p { "No recording was given: nothing was replayed." } }
        @for replay in replays {
            h3 { (plain(&replay.path)) }
            pre { (plain(&replay.text)) }
        }
    }
}

fn findings(findings: &[Told]) -> Markup {
    html! {
        @if findings.is_empty() { p { "None." } } @else {
            div.wide { table {
                thead { tr { th scope="col" { "Weight" } th scope="col" { "Code" } th scope="col" { "Where" } th scope="col" { "What" } th scope="col" { "Help" } } }
                tbody { @for finding in findings {
                    tr {
                        td { (finding.level) }
                        td { code { (finding.code) } }
                        td { (plain(&finding.file)) @if finding.line > 0 { ":" (finding.line) } }
                        td { (plain(&finding.message)) }
                        td { (plain(finding.help.as_deref().unwrap_or(""))) }
                    }
                } }
            } }
        }
    }
}

fn approval() -> Markup {
    html! {
        div.together {
            p { "Whoever signs has read the rule files and what is said here to be proved, refuted, undecided and not run." }
            (signatures(&["Controls engineer", "Commissioning", "Reviewer", "For the competent authority"]))
        }
    }
}
