//! `haltproof carriers`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::apart::apart;
use super::files::Mapped;
use super::output::{Output, is_terminal};
use super::progress::bar;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::carriers::seen::{Looked, Looking};
use host_tools::carriers::told::Told;
use host_tools::carriers::trend::Own;
use host_tools::carriers::{Change, Days, Refused, View};
use host_tools::digest::{hex, sha256};
use host_tools::json::document;
use host_tools::plural::plural;
use host_tools::recording::given::{Order, Span, Spans, each_once};
use host_tools::recording::read::{Mapping, Reader, Step};
use host_tools::recording::source::open;
use host_tools::report::fleet::{Followed, fleet};
use host_tools::station::{Measure, Station, WatchKind};

/// Follows each carrier over days of recordings: its grip's force, its way through the station, and which of them changes.
///
/// Each recording is a day, in the order given. Carriers are known by their order on the rope and by the force with which each grip closes;
/// `haltproof manual carriers` says on what their numbers rest.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof carriers drive.rules --recording monday.csv --recording tuesday.csv.gz\n\
    Exit status: 0 no carrier changed, stood out or is taken out, 1 one does, or too few days were numbered to tell, 2 the carriers could not be numbered, or the recordings or \
    the rules not read.")]
pub(super) struct CarriersOf {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// A day, as it is or packed; several are given in the order of time, none of them twice.
    #[arg(long, short, required = true)]
    recording: Vec<PathBuf>,
    #[command(flatten)]
    mapped: Mapped,
    /// How many carriers hang on the rope, on the first day. It is found without; given, it must be what is found.
    #[arg(long)]
    carriers: Option<usize>,
    /// The measure of the grip's force, if there are several.
    #[arg(long)]
    measure: Option<String>,
    /// Go on after gaps, clock steps and doubled rows within a file; what was under way is left out.
    #[arg(long)]
    over_gaps: bool,
    /// Write a page with pictures to a file: which carriers to look at, and each one's force and travels as a strip over the days.
    #[arg(long)]
    report: Option<PathBuf>,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
    /// Write the result to a file.
    #[arg(long, short)]
    output: Option<PathBuf>,
}

/// What is told of one value of one carrier.
#[derive(Serialize)]
struct Value {
    name: String,
    /// Smoothed over the days.
    now: Option<String>,
    /// By the trend of its last days.
    today: Option<String>,
    a_day: Option<String>,
    against_fleet: Option<String>,
    /// Days until its limit, if it goes on so.
    days_to_limit: Option<String>,
    found: Vec<FoundTold>,
}

#[derive(Serialize)]
struct FoundTold {
    what: &'static str,
    day: usize,
    recording: String,
}

#[derive(Serialize)]
struct Row {
    carrier: u32,
    passings: u64,
    there: bool,
    values: Vec<Value>,
}

#[derive(Serialize)]
struct ChangeTold {
    what: &'static str,
    carrier: u32,
    after: Option<u32>,
}

#[derive(Serialize)]
struct DayTold<'a> {
    recording: &'a str,
    numbered: u64,
    left_out: u64,
    unknown: u64,
    changes: Vec<ChangeTold>,
}

#[derive(Serialize)]
struct Content<'a> {
    station: &'a str,
    revision: u32,
    carriers: usize,
    passed_over: Vec<String>,
    days: Vec<DayTold<'a>>,
    units: Vec<(String, String)>,
    rows: Vec<Row>,
    status: u8,
}

impl CarriersOf {
    pub(super) fn run(&self) -> Outcome {
        let reads = self.rules.iter().chain(&self.recording).chain(self.mapped.path());
        apart(reads, self.output.iter().chain(&self.report))?;
        let sources = files::read_all(&self.rules)?;
        let parts: Vec<&[u8]> = sources.iter().map(|source| source.bytes.as_slice()).collect();
        let digest = hex(&sha256(&parts));
        let station = stages::sound_station(sources)?;
        if self.report.as_deref().is_some_and(|path| is_terminal(Some(path))) && is_terminal(self.output.as_deref()) {
            return Err(Failure::Said(
                "only one of result and page can go to the output: give the other a file".into(),
            ));
        }
        let mut to = Output::open(self.output.as_deref())?;
        let (number, measure) = self.measure(&station)?;
        let (looked, travels) = Looked::new(&station, number)
            .ok_or_else(|| Failure::Said("carriers are counted along a pace, and these rules have none".into()))?;
        let told = Told::all(&station, number, measure, travels);
        let mut days = Days::new(self.carriers, &looked.resolutions());
        each_once(&self.recording).map_err(Failure::Said)?;
        let (mut passed_over, mut spans) = (Vec::new(), Spans::default());
        let mapping = self.mapped.read(&station)?;
        for path in &self.recording {
            let (views, of) = views(&station, path, &looked, mapping.as_ref(), self.over_gaps, &mut spans)?;
            passed_over.extend(of);
            let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
            days.day(&name, &views)
                .map_err(|refused| Failure::Said(refused_words(&path.display().to_string(), &refused)))?;
        }
        if let Some(path) = &self.report {
            let rules: Vec<String> = self.rules.iter().map(|path| path.display().to_string()).collect();
            let (rules, digest, days, told, passed_over) = (&rules, &digest, &days, &told, &passed_over);
            let mut page = Output::open(Some(path))?;
            page.write_all(fleet(&Followed { station: &station, rules, digest, days, told, passed_over }).as_bytes())?;
            page.finish()?;
        }
        let rows = rows(&days, &told);
        let is_judged = days.is_judged();
        let found = !is_judged || rows.iter().any(|row| row.values.iter().any(|value| !value.found.is_empty()));
        let status = u8::from(found || days.gone().next().is_some());
        match self.format {
            Shape::Json => {
                let content = Content {
                    station: &station.title,
                    revision: station.revision,
                    carriers: days.there().count(),
                    passed_over,
                    days: days.days.iter().map(day_told).collect(),
                    units: told.iter().map(|told| (told.name.clone(), told.unit.clone())).collect(),
                    rows,
                    status,
                };
                document(&mut to, "carriers", &content)?;
            }
            Shape::Text => {
                for of in &passed_over {
                    writeln!(to, "{of}")?;
                }
                say(&mut to, &station, &days, &told, &rows)?;
            }
        }
        to.finish()?;
        Ok(status)
    }

    /// The measure of the grip's force.
    fn measure<'s>(&self, station: &'s Station) -> Result<(usize, &'s Measure), Failure> {
        let measures = station.watches.iter().enumerate().filter_map(|(number, watch)| match &watch.kind {
            WatchKind::Measure(measure) => Some((number, watch.name.text.as_str(), measure)),
            _ => None,
        });
        let measures: Vec<_> =
            measures.filter(|(_, name, _)| self.measure.as_deref().is_none_or(|wanted| wanted == *name)).collect();
        match measures.as_slice() {
            [(number, _, measure)] => Ok((*number, *measure)),
            [] => Err(Failure::Said(match &self.measure {
                Some(name) => format!("the rules have no measure `{name}`"),
                None => "the rules have no measure, and carriers are told apart by the force of their grips".into(),
            })),
            several => {
                let names: Vec<&str> = several.iter().map(|(_, name, _)| *name).collect();
                Err(Failure::Said(format!(
                    "which measure is the grip's force? Say it with `--measure`: {}",
                    names.join(", ")
                )))
            }
        }
    }
}

/// What a recording shows of carriers, cut where it breaks off, and what of it was passed over.
fn views(
    station: &Station,
    path: &Path,
    looked: &Looked,
    mapping: Option<&Mapping>,
    over_gaps: bool,
    spans: &mut Spans,
) -> Result<(Vec<View>, Vec<String>), Failure> {
    let named = path.display();
    let source = open(path).map_err(|e| Failure::Said(format!("{named}: {e}")))?;
    let mut reader =
        Reader::mapped(source.bytes, station, mapping).map_err(|f| Failure::Said(format!("{named}, {f}")))?;
    if over_gaps {
        reader = reader.over_gaps();
    }
    let (bar, mut looking, mut views) = (bar(source.length), Looking::new(looked), Vec::new());
    let (mut gaps, mut span) = (0, Span::new(station.scan_us));
    loop {
        match reader.advance().map_err(|f| Failure::Said(format!("{named}, {f}")))? {
            Step::Scan { at_us } => {
                span.take(at_us);
                looking.scan(at_us, reader.sample());
            }
            Step::PowerUp => views.push(looking.cut()),
            Step::Gap { .. } => {
                gaps += 1;
                views.push(looking.cut());
            }
            Step::Recording => {}
            Step::End => break,
        }
        bar.set_position(reader.bytes());
    }
    bar.finish_and_clear();
    let seam = spans.take(&named.to_string(), reader.top(), span, Order::OfTime).map_err(Failure::Said)?;
    views.push(looking.cut());
    let passed_over = reader.counted().words(gaps).map(|words| format!("{named}: {words}"));
    Ok((views, passed_over.into_iter().chain(seam).collect()))
}

fn refused_words(path: &str, refused: &Refused) -> String {
    match refused {
        Refused::NoRound(passings) => format!(
            "{path}: carriers cannot be numbered: the forces of its {passings} passings do not come again after a round\n  \
             expected: two rounds or more in the first recording, and grips that close with forces of their own\n  \
             mend:     begin with a longer recording"
        ),
        Refused::OtherCount { said, found } => format!(
            "{path}: {said} carriers were said, but the forces come again after {}\n  \
             mend:     count the carriers on the rope, or leave `--carriers` out",
            found.carriers
        ),
    }
}

fn rows(days: &Days, told: &[Told]) -> Vec<Row> {
    let there: Vec<u32> = days.there().collect();
    let value = |carrier: u32, (at, told): (usize, &Told)| {
        let own = days.trends.get(at).and_then(|trend| trend.own.get(&carrier));
        let recording =
            |day: usize| day.checked_sub(1).and_then(|at| days.days.get(at)).map_or("", |day| &day.name).to_owned();
        let found = own.iter().flat_map(|own| &own.found);
        Value {
            name: told.name.clone(),
            now: own.map(|own| told.bare(own.smooth())),
            today: own.and_then(Own::today).map(|today| told.bare(today)),
            a_day: own.and_then(Own::slope).map(|slope| told.bare_apart(slope)),
            against_fleet: own.and_then(|own| own.against_fleet).map(|off| format!("{off:.1}")),
            days_to_limit: own.and_then(|own| told.days_to_limit(own)).map(|days| format!("{days:.1}")),
            found: found
                .map(|(found, day)| FoundTold { what: found.words(), day: *day, recording: recording(*day) })
                .collect(),
        }
    };
    let row = |(carrier, passings): (&u32, &u64)| Row {
        carrier: *carrier,
        passings: *passings,
        there: there.contains(carrier),
        values: told.iter().enumerate().map(|of| value(*carrier, of)).collect(),
    };
    days.passings.iter().map(row).collect()
}

fn change_told(change: &Change) -> ChangeTold {
    let (what, carrier, after) = match *change {
        Change::TakenOut(carrier) => ("taken-out", carrier, None),
        Change::Back(carrier) => ("back", carrier, None),
        Change::New(carrier, after) => ("new", carrier, Some(after)),
    };
    ChangeTold { what, carrier, after }
}

fn day_told(day: &host_tools::carriers::Day) -> DayTold<'_> {
    DayTold {
        recording: &day.name,
        numbered: day.numbered,
        left_out: day.left_out,
        unknown: day.unknown,
        changes: day.changes.iter().map(change_told).collect(),
    }
}

fn say(to: &mut Output, station: &Station, days: &Days, told: &[Told], rows: &[Row]) -> Result<(), Failure> {
    for (number, day) in days.days.iter().enumerate() {
        write!(to, "day {:<4} {}: {} numbered", number + 1, day.name, plural(day.numbered, "passing"))?;
        if day.left_out > 0 {
            write!(to, ", {} left out (less than a round, or it is not clear whose they are)", day.left_out)?;
        }
        if day.unknown > 0 {
            write!(to, ", {} of nobody known", day.unknown)?;
        }
        writeln!(to)?;
        for change in &day.changes {
            match change {
                Change::TakenOut(carrier) => {
                    writeln!(to, "         carrier {carrier} does not come any more: taken out")?;
                }
                Change::Back(carrier) => {
                    writeln!(to, "         carrier {carrier} is back in its place, with the force that it had")?;
                }
                Change::New(carrier, after) => {
                    writeln!(
                        to,
                        "         a carrier that is not known comes behind {after}: it gets number {carrier}"
                    )?;
                }
            }
        }
    }
    let Some(force) = told.first() else { return Ok(()) };
    writeln!(to, "\n{:>7} {:>9}  {:>12} {:>14} {:>8}", "carrier", "passings", force.name, "a day", "fleet")?;
    let trend = days.trends.first();
    for row in rows {
        let own = trend.and_then(|trend| trend.own.get(&row.carrier));
        let now = own.map_or_else(|| "-".into(), |own| force.in_unit(own.smooth()));
        let slope = own.and_then(Own::slope).map_or_else(|| "-".into(), |slope| force.apart(slope));
        let off = own.and_then(|own| own.against_fleet).map_or_else(|| "-".into(), |off| format!("{off:+.1}"));
        let there = if row.there { "" } else { "  taken out" };
        writeln!(to, "{:>7} {:>9}  {now:>12} {slope:>14} {off:>8}{there}", row.carrier, row.passings)?;
    }
    writeln!(to)?;
    let mut any = false;
    for row in rows {
        for (at, value) in row.values.iter().enumerate() {
            let named =
                value.found.iter().map(|found| format!("{} since day {} ({})", found.what, found.day, found.recording));
            let named: Vec<String> = named.collect();
            let (Some(of), Some(own)) =
                (told.get(at), days.trends.get(at).and_then(|trend| trend.own.get(&row.carrier)))
            else {
                continue;
            };
            if named.is_empty() {
                continue;
            }
            any = true;
            writeln!(to, "carrier {}: {} {}", row.carrier, value.name, named.join(", "))?;
            let slope = own.slope().map_or_else(|| "-".into(), |slope| of.apart(slope));
            let today =
                own.today().map_or_else(String::new, |today| format!("{} today by its last days, ", of.in_unit(today)));
            write!(to, "    {today}{} smoothed, {slope} a day", of.in_unit(own.smooth()))?;
            if let Some(left) = of.days_to_limit(own) {
                write!(to, "; if it goes on so it is at the limit in about {left:.0} days")?;
            }
            writeln!(to)?;
        }
    }
    if !days.is_judged() {
        writeln!(to, "Not judged: too few days were numbered to tell how much carriers differ from day to day.")?;
    } else if !any {
        writeln!(to, "No carrier moves away from what it was or stands out.")?;
    }
    writeln!(
        to,
        "\n{}: {}, known by their order and by the forces of their grips. `fleet`: how far one is from the middle of all, in\n\
         robust standard deviations. What is named here is a reason to look at a grip; what is not named is no proof that a grip is sound.\n\
         Local codes and the competent authority decide.",
        station.about(),
        plural(days.there().count(), "carrier"),
    )?;
    Ok(())
}
