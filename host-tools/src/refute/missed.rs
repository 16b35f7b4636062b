//! Why a history misses its stop: what the inputs did at the end, and what each rule that looks at them made of it.

use super::{History, Refutation};
use crate::lower::{Program, lower};
use crate::replay::in_words;
use crate::run::Machine;
use crate::sample::{Health, Sample};
use crate::station::ways::Source;
use crate::station::{InputId, InputKind, Lasting, Rank, Station, WatchId, WatchKind};
use logic_rules::Plain;
use logic_rules::plan::{Fault, HoldRow};

/// Changes of inputs that are told, the last ones.
const CHANGES: usize = 8;

/// A sentence with the scan that it is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// Scan, counting from 0.
    pub scan: u64,
    /// The sentence.
    pub words: String,
}

/// What a rule did in the history.
#[derive(Debug, Clone, Copy, Default)]
struct Seen {
    /// Scan in which it last would have tripped, whatever its mode and the bypasses are.
    struck: Option<u64>,
    /// Scan in which it last tripped.
    tripped: Option<u64>,
    /// Most severe answer with which it did.
    rank: Rank,
    /// Scans for which its condition has held at the end.
    held: Option<u32>,
}

/// Tells why a refutation misses: changes of the inputs that the requirement asks about, and then each rule that looks at
/// one of them.
///
/// # Errors
/// None that a station which was checked can cause.
pub fn missed(station: &Station, found: &Refutation) -> Result<Vec<Remark>, Fault> {
    let Some(requirement) = station.requirements.get(found.requirement) else { return Ok(Vec::new()) };
    let asked: Vec<InputId> = requirement.inputs().into_iter().collect();
    let mut out = changes(station, &asked, &found.history);
    let from = out.first().map_or(0, |first| first.scan);
    let at = found.missed_at;
    if let Some(sample) = found.history.samples().last() {
        out.extend(
            asked.iter().filter_map(|&input| reads(station, input, sample)).map(|words| Remark { scan: at, words }),
        );
    }
    if let Some(least) = requirement.form.least() {
        let words = format!("by now {} should stand, or a more severe answer", station.answer(least));
        out.push(Remark { scan: at, words });
    }
    let looks = |watch: &WatchId| {
        station.watches.get(*watch).is_some_and(|w| w.kind.inputs().iter().any(|input| asked.contains(input)))
    };
    let watches: Vec<WatchId> = (0..station.watches.len()).filter(looks).collect();
    if watches.is_empty() {
        out.push(Remark { scan: at, words: "no watch looks at these inputs".into() });
    }
    let program = lower(station);
    let (seen, masked) = run(&program, &watches, &found.history)?;
    for (&watch, seen) in watches.iter().zip(&seen) {
        let Some(of) = station.watches.get(watch) else { continue };
        let name = &of.name.text;
        let recent = |scan: Option<u64>| scan.filter(|&scan| scan >= from);
        let why = match (recent(seen.tripped), recent(seen.struck)) {
            (Some(scan), _) => {
                format!("tripped {} ms before, with {}", ms(station, at - scan), station.answer(seen.rank))
            }
            (None, Some(_)) => {
                let by: Vec<&str> = (station.bypasses.iter().zip(&masked))
                    .filter(|(bypass, active)| **active && bypass.of.contains(&watch))
                    .map(|(bypass, _)| bypass.name.text.as_str())
                    .collect();
                if by.is_empty() {
                    "would have tripped, but is off in the mode that is selected".into()
                } else {
                    format!("would have tripped, but is masked by {}", by.join(" and "))
                }
            }
            (None, None) => waits(station, &of.kind, seen.held),
        };
        out.push(Remark { scan: at, words: format!("{name} {why}") });
    }
    Ok(out)
}

fn ms(station: &Station, scans: u64) -> u64 {
    station.ms(u32::try_from(scans).unwrap_or(u32::MAX))
}

/// What a rule that did not trip waits for.
fn waits(station: &Station, kind: &WatchKind, held: Option<u32>) -> String {
    let limit = match kind {
        WatchKind::Guard(guard) => match guard.lasting {
            Lasting::Unbroken(limit) => Some(limit),
            Lasting::Total { .. } => None,
        },
        WatchKind::Agree(agree) => Some(agree.apart),
        _ => None,
    };
    match (limit, held) {
        (Some(limit), Some(held)) if held > 0 => {
            format!("has seen it for {} ms, and trips after more than {} ms", station.ms(held), station.ms(limit))
        }
        (Some(_), Some(_)) => "has not seen it: its inputs are settling, or its condition is another".into(),
        _ => "did not trip".into(),
    }
}

/// Runs the history and looks at rules; gives with what they did the bypasses that were active in the last scan.
fn run(program: &Program, watches: &[WatchId], history: &History) -> Result<(Vec<Seen>, Vec<bool>), Fault> {
    let plan = program.plan()?;
    let ways: Vec<(usize, usize, Rank)> = (program.by_severity.iter().enumerate())
        .filter_map(|(place, &way)| {
            let of = program.ways.get(way)?;
            let Source::Watch(watch) = of.source else { return None };
            Some((place, watches.iter().position(|&own| own == watch)?, of.answer))
        })
        .collect();
    let mut seen = vec![Seen::default(); watches.len()];
    let mut active = Vec::new();
    let Some(mut machine) = Machine::power_up(Plain, &plan) else { return Ok((seen, active)) };
    for (scan, sample) in (0_u64..).zip(history.samples()) {
        machine.scan(sample);
        machine.look(|bound| {
            for &(way, watch, rank) in &ways {
                let Some(seen) = seen.get_mut(watch) else { continue };
                if bound.work.struck.get(way) == Some(&[true]) {
                    seen.struck = Some(scan);
                }
                if bound.work.trip.get(way) == Some(&[true]) {
                    let before = seen.tripped == Some(scan) && seen.rank > rank;
                    (seen.tripped, seen.rank) = (Some(scan), if before { seen.rank } else { rank });
                }
            }
        });
    }
    machine.look(|bound| {
        active = bound.work.active.iter().map(|[active]| *active).collect();
        for (row, [count]) in plan.tables().holds.iter().zip(bound.words().hold.iter()) {
            let way = usize::from(HoldRow::read(row).way);
            if let Some(seen) = ways.iter().find(|of| of.0 == way).and_then(|of| seen.get_mut(of.1)) {
                seen.held = Some(*count);
            }
        }
    });
    Ok((seen, active))
}

/// The last changes of the inputs that are asked about.
fn changes(station: &Station, asked: &[InputId], history: &History) -> Vec<Remark> {
    let mut out: Vec<Remark> = Vec::new();
    let (mut scan, mut before): (u64, Option<&Sample>) = (0, None);
    for stay in history.stays() {
        if let Some(before) = before {
            for &input in asked {
                out.extend(
                    change(station, input, before, &stay.sample).into_iter().map(|words| Remark { scan, words }),
                );
            }
        }
        scan = scan.saturating_add(u64::from(stay.scans));
        before = Some(&stay.sample);
    }
    out.split_off(out.len().saturating_sub(CHANGES))
}

/// What a gauge reads, in words.
fn reads(station: &Station, input: InputId, sample: &Sample) -> Option<String> {
    let of = station.inputs.get(input)?;
    let InputKind::Gauge(gauge) = &of.kind else { return None };
    let reading = sample.gauges.get(gauge.terminal)?;
    Some(match reading.health {
        Health::Good => {
            let steps = gauge.lowest.saturating_add(i64::from(reading.steps));
            format!("{} reads {}", of.name.text, in_words(steps.saturating_mul(gauge.step_micro), &gauge.unit))
        }
        Health::Doubtful | Health::Broken => format!("{} cannot be trusted", of.name.text),
    })
}

/// Which channels of an input change from one sample to the next, in words.
fn change(station: &Station, input: InputId, before: &Sample, after: &Sample) -> Vec<String> {
    let Some(of) = station.inputs.get(input) else { return Vec::new() };
    let name = &of.name.text;
    let channels = of.kind.channels();
    let two = channels.len() > 1;
    let mut out = Vec::new();
    for (place, channel) in channels.into_iter().enumerate() {
        let (Some(was), Some(is)) = (before.channels.get(channel), after.channels.get(channel)) else { continue };
        if was == is {
            continue;
        }
        // The second channel of an opposed pair reads the other way round.
        let turned = matches!(&of.kind, InputKind::Pair(pair) if pair.opposed && place == 1);
        let verb = match (&of.kind, *is != turned) {
            (InputKind::Detector(_), true) => "rises",
            (InputKind::Detector(_), false) => "falls",
            (InputKind::Key(_), true) => "is pressed",
            (InputKind::Key(_), false) => "is let go",
            (_, true) => "closes",
            (_, false) => "opens",
        };
        let terminal = station.channels.get(channel).map_or("", String::as_str);
        out.push(if two { format!("{name} {verb} on {terminal}") } else { format!("{name} {verb}") });
    }
    out
}
