//! A resolved station as the text of a rule file.
//!
//! It is written from `host-tools/manual/language.md` and the manual's table of rounding, and shares no code with the
//! reader of that text. What it writes must be read as the very station that it was written from.
#![allow(clippy::format_push_string, reason = "a statement is put together clause by clause")]

use std::collections::VecDeque;

use host_tools::load::load;
use host_tools::station::{InputId, Station};
use host_tools::text::finding::Level;
use host_tools::text::parse::Source;
use host_tools::text::place::Place;

mod conditions;
mod inputs;
mod quantities;
mod rules;
mod watches;

use quantities::{Pen, Round};

/// Rope by which the bounds of a window are narrowed: the greatest travel in a scan, mm.
pub fn scan_travel(station: &Station, pace: InputId) -> u32 {
    let host_tools::station::InputKind::Pace(pace) = &station.inputs[pace].kind else { panic!("no pace") };
    pace.top.div_ceil(pace.span)
}

/// How the upper end of a travel's band is written, nm/s: a little above its travel in a span.
fn band_top(station: &Station, pace: InputId, most: u32) -> i64 {
    let host_tools::station::InputKind::Pace(pace) = &station.inputs[pace].kind else { panic!("no pace") };
    i64::from(most) * 1_000_000_000_000 / (i64::from(pace.span) * i64::from(station.scan_us)) + 1
}

/// Rope after which a refill ends, of a travel in time: `latest` and the scan it was narrowed by, at the top of the band.
pub fn run_in_time(station: &Station, pace: InputId, most: u32, latest: u32) -> u32 {
    let time = i64::from(latest + 1) * i64::from(station.scan_us);
    let rope = i128::from(time) * i128::from(band_top(station, pace, most));
    u32::try_from((rope + 999_999_999_999) / 1_000_000_000_000).expect("a short way")
}

/// The rule file of a station; `seed` decides how it is written.
pub fn render(station: &Station, seed: u64) -> String {
    let mut pen = Pen::new(station, seed ^ 0x7E87);
    let mut wired: VecDeque<String> = station.outputs.iter().map(|output| pen.output(output)).collect();
    wired.extend(station.inputs.iter().enumerate().map(|(id, input)| pen.an_input(id, input)));
    let mut top = VecDeque::from([
        format!("station \"{}\"", station.title),
        format!("revision {}", station.revision)
            + &station.temporary.as_ref().map_or_else(String::new, |ends| {
                format!(", temporary until \"{}\" because \"{}\"", ends.until, ends.because)
            }),
        format!("scan {}", pen.us(i64::from(station.scan_us))),
    ]);
    if station.on_fault != station.worst() || pen.rng.chance(50) {
        top.push_back(format!("on fault {}", station.answer(station.on_fault)));
    }
    let mut keys: VecDeque<String> = station.reset.iter().map(|reset| pen.reset(reset)).collect();
    if station.restart > 0 {
        keys.push_back(format!("restart no sooner than {} after a stop", pen.scans(station.restart, Round::Up)));
    }
    // Statements of one kind keep their order; those of different kinds may stand in any.
    let mut queues: Vec<VecDeque<String>> = vec![
        top,
        wired,
        station.modes.iter().map(|mode| pen.mode(mode)).collect(),
        station.slows.iter().map(|slow| pen.slow(slow)).collect(),
        station.stops.iter().map(|stop| pen.stop(stop)).collect(),
        station.watches.iter().map(|watch| pen.watch(watch)).collect(),
        keys,
        station.refills.iter().map(|refill| pen.refill(refill)).collect(),
        station.bypasses.iter().map(|bypass| pen.bypass(bypass)).collect(),
        station.hazards.iter().map(|hazard| format!("hazard {} \"{}\"", hazard.name.text, hazard.title)).collect(),
        station.requirements.iter().map(|requirement| pen.requirement(requirement)).collect(),
        station.entries.iter().map(rules::entry).collect(),
        station.assumptions.iter().map(|assumption| pen.assumption(assumption)).collect(),
    ];
    let mixed = pen.rng.chance(50);
    let mut text = String::new();
    while let Some(first) = queues.iter().position(|queue| !queue.is_empty()) {
        let at = if mixed { pen.rng.index(queues.len()) } else { first };
        if let Some(statement) = queues[at].pop_front() {
            text += &statement;
            text += "\n";
        }
    }
    text
}

/// The station that the text means; the findings if there is none. Every finding that is no error is only a remark.
pub fn read_back(text: &str) -> Result<Station, String> {
    let loaded = load(vec![Source { path: "generated.rules".to_owned(), bytes: text.as_bytes().to_vec() }]);
    let errors = loaded.findings.iter().filter(|finding| finding.level == Level::Error);
    let errors: Vec<String> =
        errors.map(|finding| format!("{}: {} {:?}", finding.code.text(), finding.message, finding.labels)).collect();
    match loaded.station {
        Some(station) if errors.is_empty() => Ok(station),
        _ => Err(format!("{}\n{text}", errors.join("\n"))),
    }
}

/// The station as if nobody had written it: without places in a text.
#[must_use]
pub fn without_places(mut station: Station) -> Station {
    let inputs = station.inputs.iter_mut().map(|it| &mut it.name);
    let names = (inputs.chain(station.modes.iter_mut().map(|it| &mut it.name)))
        .chain(station.outputs.iter_mut().map(|it| &mut it.name))
        .chain(station.slows.iter_mut().map(|it| &mut it.name))
        .chain(station.stops.iter_mut().map(|it| &mut it.name))
        .chain(station.watches.iter_mut().map(|it| &mut it.name))
        .chain(station.bypasses.iter_mut().map(|it| &mut it.name))
        .chain(station.hazards.iter_mut().map(|it| &mut it.name))
        .chain(station.requirements.iter_mut().flat_map(|it| std::iter::once(&mut it.name).chain(&mut it.answers)))
        .chain(station.entries.iter_mut().map(|it| &mut it.name))
        .chain(station.assumptions.iter_mut().map(|it| &mut it.name));
    for name in names {
        name.place = Place::default();
    }
    for refill in &mut station.refills {
        refill.place = Place::default();
    }
    station
}
