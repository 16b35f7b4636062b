//! What recordings came to, as one page with pictures: stops over time, the first incident of each kind, and the windows that passings kept.
//!
//! It is gathered while a replay runs, in memory that is bounded by the station, whatever the length of the recordings.

use crate::page::{page_of, plain};
use crate::passings::counts::Counts;
use crate::plural::plural;
use crate::replay::event::{Cause, Event, Kind, What, is_start};
use crate::replay::text::clock;
use crate::replay::{Limits, Seen, Sink, Summary, in_words};
use crate::sample::Sample;
use crate::station::{InputKind, Station};
use bins::Bins;
use incident::Incident;
use maud::{Markup, html};
use std::collections::{BTreeMap, VecDeque};
use std::io;

mod bins;
mod histogram;
mod incident;
#[cfg(test)]
mod tests;

/// Scans before a stop that its picture shows.
const BEFORE: usize = 300;
/// Incidents that are drawn.
const MOST_INCIDENTS: usize = 12;

/// What is known of a kind of stop.
#[derive(Debug)]
struct Calls {
    cause: Cause,
    times: u64,
    not_made: u64,
    first_us: u64,
    /// Its picture, counted from 0, if it has one.
    drawn: Option<usize>,
}

impl Calls {
    fn new(cause: &Cause, first_us: u64, drawn: Option<usize>) -> Self {
        Self { cause: cause.clone(), times: 0, not_made: 0, first_us, drawn }
    }
}

/// Gathers while a replay runs.
#[derive(Debug)]
pub struct Recorded<'s> {
    station: &'s Station,
    bins: Bins,
    /// What each watch measured.
    measured: Vec<Counts>,
    /// Stops by what called for them.
    kinds: BTreeMap<Kind, Calls>,
    /// The last stop that the recording may still make.
    last: Option<(Kind, Calls)>,
    incidents: Vec<Incident<'s>>,
    /// The last scans, with the answers that stood in them.
    before: VecDeque<(Sample, u64)>,
    scan: u64,
    /// Scans since the first pace moved, in what is judged.
    moved: Option<u64>,
    /// Scans in which the first pace had moved within a second, counterfactual ones left out.
    ran: u64,
}

impl<'s> Recorded<'s> {
    /// Nothing yet.
    pub fn new(station: &'s Station) -> Self {
        Self {
            station,
            bins: Bins::new(u64::from(station.scan_us)),
            measured: vec![Counts::default(); station.watches.len()],
            kinds: BTreeMap::new(),
            last: None,
            incidents: Vec::new(),
            before: VecDeque::new(),
            scan: 0,
            moved: None,
            ran: 0,
        }
    }
    fn stop(&mut self, event: &Event, answer: &str, causes: &[Cause], concerned: Vec<usize>) {
        // The stop that an earlier one raised no longer is what the recording makes or does not.
        self.last = None;
        let Some(cause) = causes.first() else { return };
        let key = cause.kind(answer);
        self.last = Some((key.clone(), Calls::new(cause, event.at_us, None)));
        if is_start(&key) {
            return;
        }
        let is_new = !self.kinds.contains_key(&key);
        let drawn = (self.incidents.len() < MOST_INCIDENTS).then_some(self.incidents.len());
        let kind = self.kinds.entry(key).or_insert_with(|| Calls::new(cause, event.at_us, drawn));
        kind.times += 1;
        self.bins.stop(event.at_us);
        if is_new && kind.drawn.is_some() {
            self.incidents.push(Incident::begin(self.station, event, answer, cause, concerned, &self.before));
        }
    }
    /// The recording runs on, or starts, in spite of the last stop, which came then: that of a start counts now, too.
    fn unheeded(&mut self) -> Option<(&mut Calls, u64)> {
        let (key, stop) = self.last.take()?;
        let (is_start, at_us) = (is_start(&key), stop.first_us);
        if is_start {
            self.bins.stop(at_us);
        }
        let kind = self.kinds.entry(key).or_insert(stop);
        kind.times += u64::from(is_start);
        Some((kind, at_us))
    }
    /// What comes does not follow on what was.
    fn parted(&mut self) {
        self.last = None;
        self.before.clear();
        self.moved = None;
    }
    /// Scans in hours.
    #[expect(clippy::cast_precision_loss, reason = "scans stay far below two to the power of 53")]
    fn hours(&self, scans: u64) -> f64 {
        scans as f64 * f64::from(self.station.scan_us) / 3_600e6
    }
}

impl Sink for Recorded<'_> {
    fn event(&mut self, event: &Event) -> io::Result<()> {
        match &event.what {
            What::Stop { answer, causes, inputs, .. } if !event.counterfactual => {
                let concerned = inputs.iter().enumerate().filter(|(_, input)| input.concerned).map(|(i, _)| i);
                self.stop(event, answer, causes, concerned.collect());
            }
            What::WentOn => {
                if let Some((kind, at_us)) = self.unheeded() {
                    kind.not_made += 1;
                    self.bins.not_made(at_us);
                }
            }
            What::Started => {
                self.unheeded();
            }
            What::Gap { .. } => {
                self.bins.gap();
                self.parted();
            }
            What::PowerUp => self.parted(),
            What::Reset => self.last = None,
            _ => {}
        }
        Ok(())
    }
    fn scan(&mut self, seen: &Seen<'_>) -> io::Result<()> {
        self.scan += 1;
        let stands = seen.scanned.map_or(0, |scanned| scanned.stands);
        let judged = seen.scanned.filter(|_| !seen.counterfactual);
        let stopped = stands >> self.station.first_stop() != 0;
        self.bins.scan(seen.at_us, judged.is_some(), stopped && !seen.counterfactual);
        if let Some(scanned) = judged {
            for judged in &scanned.judged {
                if let Some(counts) = self.measured.get_mut(usize::from(judged.watch)) {
                    counts.add(judged.measured);
                }
            }
            let travel = self.station.inputs.iter().find_map(|input| match &input.kind {
                InputKind::Pace(pace) => seen.sample.travel.get(pace.source),
                _ => None,
            });
            // A slow rope gives no pulse in many scans.
            self.moved = match (travel, self.moved) {
                (Some(mm), _) if *mm != 0 => Some(0),
                (_, Some(scans)) => Some(scans + 1),
                (_, None) => None,
            };
            let second = 1_000_000 / u64::from(self.station.scan_us.max(1));
            self.ran += u64::from(self.moved.is_some_and(|scans| scans < second.max(1)));
        }
        for incident in &mut self.incidents {
            incident.scan(self.scan, seen.sample, stands);
        }
        // What was kept longest ago is written over.
        let mut oldest = if self.before.len() < BEFORE { None } else { self.before.pop_front() };
        let kept = oldest.get_or_insert_with(Default::default);
        kept.0.clone_from(seen.sample);
        kept.1 = stands;
        self.before.extend(oldest);
        Ok(())
    }
}

/// What was replayed.
#[derive(Debug)]
pub struct Replayed<'r> {
    /// Names of the rule files.
    pub rules: &'r [String],
    /// SHA-256 of the rule files, one after the other.
    pub digest: &'r str,
    /// Names of the recordings.
    pub recordings: &'r [String],
    /// The sums.
    pub summary: &'r Summary,
}

/// The page.
pub fn recorded(of: &Recorded<'_>, replayed: &Replayed<'_>) -> String {
    let station = of.station;
    let title = format!("Recordings of {}, revision {}", station.title, station.revision);
    let sections = [
        ("identity", "What was replayed", identity(of, replayed)),
        ("time", "Stops over time", of.bins.picture(&of.incidents.iter().map(Incident::at_us).collect::<Vec<_>>())),
        ("stops", "Stops by what called for them", stops(of)),
        ("incidents", "The first of each kind", incidents(of)),
        ("margins", "What passings measured", margins(of)),
        ("requirements", "Requirements in these recordings", requirements(replayed.summary)),
        ("unknown", "What cannot be told", unknown(replayed.summary)),
    ];
    page_of(&title, &sections)
}

fn identity(of: &Recorded<'_>, replayed: &Replayed<'_>) -> Markup {
    let (station, summary) = (of.station, replayed.summary);
    let names = |all: &[String]| all.iter().map(|name| plain(name)).collect::<Vec<_>>().join(", ");
    let hours = |scans: u64| format!("{:.2} h", of.hours(scans));
    let rows = [
        ("Station", plain(&station.title)),
        ("Revision", station.revision.to_string()),
        ("Rule files", names(replayed.rules)),
        ("SHA-256 of the files, one after the other", replayed.digest.to_owned()),
        ("Recordings", names(replayed.recordings)),
        ("Made with", concat!("haltproof ", env!("CARGO_PKG_VERSION")).to_owned()),
        ("Judged", hours(summary.scans)),
        ("Of which the first pace moved within a second (operating hours)", hours(of.ran)),
        (
            "Counterfactual: after a stop that the recording did not make, or a start without its reset",
            hours(summary.counterfactual),
        ),
        ("Starts without the reset of a stop that was made", summary.started.to_string()),
        ("Not judged, to lead in", hours(summary.lead_in)),
        ("Gaps and clock steps", summary.gaps.to_string()),
    ];
    html! {
        table.long { tbody { @for (what, value) in rows { tr { th scope="row" { (what) } td { (value) } } } } }
        p.soft { "A replay says what the rules would have done; it proves nothing, and says nothing of what was not recorded." }
    }
}

#[expect(clippy::cast_precision_loss, reason = "counts stay far below two to the power of 53")]
fn stops(of: &Recorded<'_>) -> Markup {
    if of.kinds.is_empty() {
        return html! { p { "The rules called for no stop." } };
    }
    let mut kinds: Vec<_> = of.kinds.iter().collect();
    kinds.sort_by(|a, b| b.1.times.cmp(&a.1.times).then_with(|| a.0.cmp(b.0)));
    let hours = of.hours(of.ran);
    // To the strict side: a rate is rounded up.
    let rate = |times: u64| {
        if hours > 0.0 { format!("{:.3}", (times as f64 / hours * 1e3).ceil() / 1e3) } else { "none ran".into() }
    };
    html! {
        div.wide { table {
            thead { tr { th scope="col" { "Stop" } th scope="col" { "First cause" } th scope="col" { "Times" } th scope="col" { "An operating hour" }
                th scope="col" { "Not made by the recording" } th scope="col" { "First at" } } }
            tbody { @for ((answer, ..), kind) in kinds { tr {
                td { (plain(answer)) }
                td { (plain(&kind.cause.words)) @if !kind.cause.name.is_empty() { " [" (kind.cause.source) " " (plain(&kind.cause.name)) "]" } }
                td.number { (kind.times) }
                td.number { (rate(kind.times)) }
                td.number { (kind.not_made) @if kind.not_made > 0 { " (" (rate(kind.not_made)) " an hour)" } }
                td.number { @if let Some(drawn) = kind.drawn { a href={ "#" (incident_id(drawn)) } { (clock(kind.first_us)) } } @else { (clock(kind.first_us)) } }
            } } }
        } }
        p { "A stop that the recording did not make is one that today's rules call for and the lift ran on without: a needless one, or one that was missed. "
            "Which of them it is, the recording alone cannot tell. Rates are rounded up. Times are those of the recordings' clocks: where each of several counts from the same time, they lie over each other." }
    }
}

fn incidents(of: &Recorded<'_>) -> Markup {
    html! {
        @if of.kinds.is_empty() { p { "There is none." } }
        @for (at, incident) in of.incidents.iter().enumerate() { (incident.picture(of.station, at)) }
        @if of.kinds.len() > of.incidents.len() {
            p { "In the table, and without a picture: " (plural(of.kinds.len() - of.incidents.len(), "kind")) "." }
        }
    }
}

fn margins(of: &Recorded<'_>) -> Markup {
    let watches = of.station.watches.iter().zip(&of.measured);
    let known: Vec<_> =
        watches.filter_map(|(watch, counts)| Some((watch, Limits::of(of.station, watch)?, counts))).collect();
    html! {
        @if known.is_empty() { p { "No watch measures anything." } }
        @for (watch, limits, counts) in &known { (histogram::picture(watch, limits, counts)) }
    }
}

fn requirements(summary: &Summary) -> Markup {
    let time = |us: Option<u64>| us.map_or(String::new(), |us| in_words(i64::try_from(us).unwrap_or(i64::MAX), "s"));
    html! {
        @if summary.requirements.is_empty() { p { "There are none." } } @else { div.wide { table {
            thead { tr { th scope="col" { "Requirement" } th scope="col" { "Met" } th scope="col" { "At the longest" } th scope="col" { "Missed" } th scope="col" { "Without any answer" } } }
            tbody { @for asked in &summary.requirements { tr {
                td { strong { (plain(&asked.name)) } " " (plain(&asked.title)) }
                td.number {
                    @if asked.met + asked.missed > 0 { (asked.met) } @else if asked.throughout { "never broken" } @else { "never called for" }
                }
                td.number { (time(asked.longest_us)) }
                td.number { (asked.missed) }
                td.number { (asked.unanswered) }
            } } }
        } } }
        @for broken in summary.assumptions.iter().filter(|assumption| assumption.broken > 0) {
            p.caution { "Assumption " strong { (plain(&broken.name)) } " was broken " (broken.broken) " times: what is proved with it does not speak of that." }
        }
    }
}

fn unknown(summary: &Summary) -> Markup {
    html! {
        @if summary.cannot_tell.is_empty() { p { "Nothing that these recordings were asked." } } @else {
            ul { @for what in &summary.cannot_tell { li { (plain(what)) } } }
        }
    }
}

/// The place on the page of an incident, counted from 0.
fn incident_id(at: usize) -> String {
    format!("incident-{}", at + 1)
}
