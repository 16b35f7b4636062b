//! From syntax trees to the station they mean: names, units, rounding to the strict side.

use crate::station::Station;
use crate::text::codes::Code;
use crate::text::finding::{Finding, Level};
use crate::text::place::Place;
use crate::text::tree::{File, Kind, Statement};

mod answers;
mod conditions;
mod inputs;
mod lane;
mod names;
mod requirements;
mod units;
mod watches;

use names::Names;

/// What a resolution works on.
struct Resolver<'t> {
    statements: Vec<&'t Statement>,
    names: Names,
    station: Station,
    findings: Vec<Finding>,
}

impl Resolver<'_> {
    fn find(&mut self, finding: Finding) {
        self.findings.push(finding);
    }
}

/// Resolves files that are read as one. There is no station if there is an error.
pub fn resolve(files: &[File]) -> (Option<Station>, Vec<Finding>) {
    let statements: Vec<&Statement> = files.iter().flat_map(|file| &file.statements).collect();
    let mut r = Resolver {
        names: Names::default(),
        station: Station { scan_us: 10_000, ..Station::default() },
        findings: Vec::new(),
        statements,
    };
    head(&mut r);
    r.declare();
    // Order matters: paces before what is measured by them, inputs before conditions, conditions before rules.
    r.terminals();
    r.paces();
    r.inputs();
    r.answers();
    r.watches();
    r.rules();
    r.requirements();
    r.lane();
    r.limits();
    let sound = r.findings.iter().all(|f| f.level != Level::Error);
    (sound.then_some(r.station), r.findings)
}

/// Title, revision and scan.
fn head(r: &mut Resolver<'_>) {
    let mut seen: Vec<(&str, Place)> = Vec::new();
    for statement in r.statements.clone() {
        let what = match &statement.kind {
            Kind::Station(title) => {
                r.station.title.clone_from(&title.value);
                "station"
            }
            Kind::Revision(revision) => {
                r.station.revision = revision.value;
                "revision"
            }
            Kind::Scan(time) => {
                let us = r.micros(time);
                if let Some(us) = us {
                    if (1_000..=1_000_000).contains(&us) {
                        r.station.scan_us = u32::try_from(us).unwrap_or(10_000);
                    } else {
                        r.find(
                            Finding::new(Code::NumberSenseless, "a scan lasts 1 ms to 1 s")
                                .at(time.place, "out of this range"),
                        );
                    }
                }
                "scan"
            }
            Kind::OnFault(_) => "on fault",
            Kind::Reset(_) => "reset",
            Kind::Restart(_) => "restart",
            Kind::Lane(_) => "lane",
            _ => continue,
        };
        if let Some((_, first)) = seen.iter().find(|(name, _)| *name == what) {
            let finding = Finding::new(Code::StatementTwice, format!("'{what}' stands twice"));
            r.find(finding.at(statement.place, "a second time here").at(*first, "it stands here already"));
        }
        seen.push((what, statement.place));
    }
    let start = r.statements.first().map(|s| s.place).unwrap_or_default();
    for (what, example) in
        [("station", "station \"Quillmoor, drive terminal\""), ("revision", "revision 1"), ("scan", "scan 10 ms")]
    {
        if !seen.iter().any(|(name, _)| *name == what) {
            r.find(
                Finding::new(Code::StatementMissing, format!("there is no '{what}' statement"))
                    .at(start, "in these files")
                    .help(format!("write '{example}'")),
            );
        }
    }
    if !r.statements.iter().any(|s| matches!(s.kind, Kind::Stop(_))) {
        r.find(
            Finding::new(Code::StatementMissing, "there is no 'stop' statement")
                .at(start, "in these files")
                .help("declare the stops, mildest first"),
        );
    }
}
