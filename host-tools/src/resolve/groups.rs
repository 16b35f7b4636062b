//! The statements of a reading, sorted by what they declare; every name declared once.

use super::context::Cx;
use super::{beginning, declared};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::place::{Place, Placed};
use crate::text::tree::{self, File, Kind, Quantity, Word};

/// References into the tree; the index of each is the index of what it becomes.
#[derive(Debug, Default)]
pub(super) struct Groups<'a> {
    pub(super) first: Option<Place>,
    pub(super) title: Option<&'a Placed<String>>,
    pub(super) revision: Option<&'a tree::Revision>,
    pub(super) scan: Option<&'a Quantity>,
    pub(super) on_fault: Option<&'a Word>,
    pub(super) modes: Vec<&'a tree::Mode>,
    pub(super) outputs: Vec<&'a tree::Output>,
    pub(super) slows: Vec<&'a tree::Slow>,
    pub(super) stops: Vec<&'a tree::Stop>,
    pub(super) inputs: Vec<&'a Kind>,
    /// Inputs and outputs together, in order of declaration.
    pub(super) wired: Vec<&'a Kind>,
    pub(super) watches: Vec<&'a tree::Watch>,
    pub(super) reset: Option<&'a tree::Reset>,
    pub(super) restart: Option<&'a Quantity>,
    pub(super) refills: Vec<(&'a tree::Refill, Place)>,
    pub(super) bypasses: Vec<&'a tree::Bypass>,
    pub(super) hazards: Vec<(&'a Word, &'a Placed<String>)>,
    pub(super) requirements: Vec<&'a tree::Require>,
    pub(super) entries: Vec<(&'a Word, &'a tree::Excuse)>,
    pub(super) assumptions: Vec<&'a tree::Assume>,
    pub(super) lane: Option<&'a tree::Lane>,
}

/// Places of the statements that may stand once.
#[derive(Debug, Default)]
struct Once<'a> {
    seen: Vec<(&'a str, Place)>,
}

impl<'a> Once<'a> {
    /// Keeps the first and refuses the others.
    fn keep<T>(&mut self, cell: &mut Option<T>, value: T, what: &'a str, place: Place, cx: &mut Cx) {
        if let Some((_, first)) = self.seen.iter().find(|(known, _)| *known == what) {
            let finding = Finding::new(Code::StatementTwice, format!("'{what}' stands twice"))
                .at(place, "again here")
                .at(*first, "first here")
                .help("take one of them out");
            cx.findings.push(finding);
            return;
        }
        self.seen.push((what, place));
        *cell = Some(value);
    }
}

fn push<T>(list: &mut Vec<T>, item: T) -> usize {
    list.push(item);
    list.len() - 1
}

impl<'a> Groups<'a> {
    /// Sorts the statements and declares their names.
    pub(super) fn of(files: &'a [File], cx: &mut Cx) -> Self {
        let mut groups = Self { first: beginning(files), ..Self::default() };
        let mut once = Once::default();
        for statement in files.iter().flat_map(|file| &file.statements) {
            let index = groups.add(&statement.kind, statement.place, &mut once, cx);
            if let Some((word, sort)) = declared(&statement.kind) {
                cx.names.declare(word, sort, index, &mut cx.findings);
            }
        }
        let place = groups.first.unwrap_or_default();
        for (missing, what, example) in [
            (groups.title.is_none(), "station", "station \"Top station\""),
            (groups.revision.is_none(), "revision", "revision 1"),
            (groups.scan.is_none(), "scan", "scan 10 ms"),
            (groups.stops.is_empty(), "stop", "stop NAME category 1, releases OUTPUT, bites within T, slows at A to A"),
        ] {
            if missing {
                let finding = Finding::new(Code::StatementMissing, format!("there is no '{what}' statement"))
                    .at(place, "nowhere in this reading")
                    .help(format!("add '{example}'"));
                cx.findings.push(finding);
            }
        }
        groups
    }
    fn add(&mut self, kind: &'a Kind, place: Place, once: &mut Once<'a>, cx: &mut Cx) -> usize {
        match kind {
            Kind::Station(title) => once.keep(&mut self.title, title, "station", place, cx),
            Kind::Revision(revision) => once.keep(&mut self.revision, revision, "revision", place, cx),
            Kind::Scan(scan) => once.keep(&mut self.scan, scan, "scan", place, cx),
            Kind::OnFault(stop) => once.keep(&mut self.on_fault, stop, "on fault", place, cx),
            Kind::Reset(reset) => once.keep(&mut self.reset, reset, "reset", place, cx),
            Kind::Restart(time) => once.keep(&mut self.restart, time, "restart", place, cx),
            Kind::Lane(lane) => once.keep(&mut self.lane, lane, "lane", place, cx),
            Kind::Mode(mode) => return push(&mut self.modes, mode),
            Kind::Output(output) => {
                self.wired.push(kind);
                return push(&mut self.outputs, output);
            }
            Kind::Slow(slow) => return push(&mut self.slows, slow),
            Kind::Stop(stop) => return push(&mut self.stops, stop),
            Kind::Contact(_)
            | Kind::Pair(_)
            | Kind::Detector(_)
            | Kind::Gauge(_)
            | Kind::Pace(_)
            | Kind::Link(_)
            | Kind::Key(_) => {
                self.wired.push(kind);
                return push(&mut self.inputs, kind);
            }
            Kind::Watch(watch) => return push(&mut self.watches, watch),
            Kind::Refill(refill) => return push(&mut self.refills, (refill, place)),
            Kind::Bypass(bypass) => return push(&mut self.bypasses, bypass),
            Kind::Hazard(word, title) => return push(&mut self.hazards, (word, title)),
            Kind::Require(require) => return push(&mut self.requirements, require),
            Kind::Entry(word, excuse) => return push(&mut self.entries, (word, excuse)),
            Kind::Assume(assume) => return push(&mut self.assumptions, assume),
        }
        0
    }
}
