//! `haltproof passings`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;

use super::apart::apart;
use super::files::Mapped;
use super::output::Output;
use super::progress::bar;
use super::{Failure, Outcome, Shape, files, stages};
use host_tools::json::document;
use host_tools::passings::counts::quantile;
use host_tools::passings::share::interval;
use host_tools::passings::tolerance::Wanted;
use host_tools::passings::{At, NoWindow, Other, Passings, Told};
use host_tools::plural::plural;
use host_tools::recording::given::{Order, Span, Spans, each_once};
use host_tools::recording::read::{Mapping, Reader};
use host_tools::recording::source::open;
use host_tools::replay::{Both, Broke, Summary, in_words, replay};
use host_tools::station::Station;

/// Quantiles that are told, in parts of a million.
const QUANTILES: [u32; 5] = [10_000, 250_000, 500_000, 750_000, 990_000];

/// Counts what each watch measured in recordings, and says in what window a share of all passings lies.
///
/// The window is a tolerance interval without a distribution: the least and the greatest of enough passings. It takes passings not to depend on one
/// another, which they do: the same carriers come round. It narrows what the geometry allows and never widens a limit.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof passings drive.rules --recording monday.csv --recording tuesday.csv.gz\n\
    Exit status: 0 no passing lay outside the limits, 1 one did, or parts of a recording were left out, 2 the recordings or the rules could not be read.")]
pub(super) struct PassingsOf {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// A recording, as it is or packed; several may be given, none of them twice. Each is replayed by itself.
    #[arg(long, short, required = true)]
    recording: Vec<PathBuf>,
    #[command(flatten)]
    mapped: Mapped,
    /// Share of all passings that is to lie in the window: `99%`, `99.9%`.
    #[arg(long, default_value = "99%", value_parser = share)]
    share: u32,
    /// Confidence that it does.
    #[arg(long, default_value = "95%", value_parser = share)]
    confidence: u32,
    /// How many would have tripped at another lower limit, in the unit of the watch: `shut-force=6500`. With the share of all passings, by the
    /// same confidence.
    #[arg(long, value_name = "WATCH=VALUE", value_parser = limit)]
    least: Vec<(String, i64)>,
    /// The same of an upper limit.
    #[arg(long, value_name = "WATCH=VALUE", value_parser = limit)]
    most: Vec<(String, i64)>,
    /// Go on after gaps, clock steps and doubled rows within a file; what was under way is left out.
    #[arg(long)]
    over_gaps: bool,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
    /// Write the result to a file.
    #[arg(long, short)]
    output: Option<PathBuf>,
}

#[derive(Serialize)]
struct Row<'a> {
    watch: &'a str,
    unit: &'a str,
    judged: u64,
    /// Of which so many have no value: beyond what is measured, or too late.
    beyond: u64,
    /// Where measuring ends.
    measured_to: Option<String>,
    outside: u64,
    /// Limits of the rules.
    limits: [Option<String>; 2],
    /// The least value of a passing, and how often it was that.
    least: Vec<(String, u64)>,
    /// The greatest value of a passing, and how often it was that.
    greatest: Vec<(String, u64)>,
    /// What is suggested.
    window: Option<[String; 2]>,
    /// Passings that are missing for a suggestion.
    missing: Option<u64>,
    /// What would have tripped at other limits.
    others: Vec<OtherTold>,
}

/// What would have tripped at another limit.
#[derive(Serialize)]
struct OtherTold {
    /// `least` or `most`.
    side: &'static str,
    limit: String,
    trips: u64,
    /// Passings that lie, as the limit does, beyond what is measured.
    untold: u64,
    /// Share of all passings, from and to.
    share: [f64; 2],
}

#[derive(Serialize)]
struct Content<'a> {
    station: &'a str,
    revision: u32,
    share: String,
    confidence: String,
    passed_over: Vec<String>,
    /// Of each recording in parts of which nothing was counted, how much.
    left_out: Vec<String>,
    watches: Vec<Row<'a>>,
    status: u8,
}

impl PassingsOf {
    pub(super) fn run(&self) -> Outcome {
        apart(self.rules.iter().chain(&self.recording).chain(self.mapped.path()), &self.output)?;
        let station = stages::sound_station(files::read_all(&self.rules)?)?;
        let mut to = Output::open(self.output.as_deref())?;
        let mut passings = Passings::new(&station);
        each_once(&self.recording).map_err(Failure::Said)?;
        let (mut passed_over, mut left_out, mut spans) = (Vec::new(), Vec::new(), Spans::default());
        let mapping = self.mapped.read(&station)?;
        for path in &self.recording {
            let [over, seam, out] = count(&station, path, mapping.as_ref(), self.over_gaps, &mut passings, &mut spans)?;
            passed_over.extend(over.into_iter().chain(seam));
            left_out.extend(out);
            passings.cut();
        }
        let wanted = Wanted { share: self.share, confidence: self.confidence };
        let told = passings.told(&station, wanted);
        let others = self.others(&told)?;
        let status = u8::from(!left_out.is_empty() || told.iter().any(|told| told.outside > 0));
        match self.format {
            Shape::Json => {
                let content = Content {
                    station: &station.title,
                    revision: station.revision,
                    share: percent(self.share),
                    confidence: percent(self.confidence),
                    passed_over,
                    left_out,
                    watches: told.iter().zip(others).map(|(told, others)| row(told, others)).collect(),
                    status,
                };
                document(&mut to, "passings", &content)?;
            }
            Shape::Text => {
                for of in passed_over.iter().chain(&left_out) {
                    writeln!(to, "{of}")?;
                }
                for (told, others) in told.iter().zip(&others) {
                    say(&mut to, told)?;
                    for OtherTold { side, limit, trips, untold, share: [low, high] } in others {
                        let [low, high] = [low, high].map(|share| share * 100.0);
                        let (judged, unit) = (told.judged, &told.unit);
                        let untold = if *untold == 0 {
                            String::new()
                        } else {
                            format!(" and of {untold} it cannot be told, since nothing that far is measured,")
                        };
                        writeln!(
                            to,
                            "    at {side} {limit} {unit}: {trips} of {judged} would have tripped,{untold} {low:.4} % to {high:.4} % of all"
                        )?;
                    }
                }
                writeln!(
                    to,
                    "\n{}: windows for {} of all passings with a confidence of {}, from the least to the greatest of {} passings or more.\n\
                     That holds for passings that do not depend on one another; the same carriers come round, so take many rounds and\n\
                     many days, and none of them twice. A window narrows what the geometry allows, and widens no limit. Limits and windows are\n\
                     as the controller counts them: a rule file is rounded to the strict side, so the same numbers written there are narrower.\n\
                     Passings under a bypass, with a gauge in doubt, or of which a part was not seen are left out. Local codes and the\n\
                     competent authority decide.",
                    station.about(),
                    percent(self.share),
                    percent(self.confidence),
                    wanted.passings(),
                )?;
            }
        }
        to.finish()?;
        Ok(status)
    }
}

impl PassingsOf {
    /// What would have tripped at the other limits, watch by watch.
    fn others(&self, told: &[Told]) -> Result<Vec<Vec<OtherTold>>, Failure> {
        let mut all: Vec<Vec<OtherTold>> = told.iter().map(|_| Vec::new()).collect();
        let least = self.least.iter().map(|(watch, micro)| (watch, *micro, "least", Other::Least(*micro)));
        let most = self.most.iter().map(|(watch, micro)| (watch, *micro, "most", Other::Most(*micro)));
        for (watch, micro, side, other) in least.chain(most) {
            let Some((told, of)) = told.iter().zip(&mut all).find(|(told, _)| told.name == *watch) else {
                let names: Vec<&str> = told.iter().map(|told| told.name.as_str()).collect();
                return Err(Failure::Said(format!(
                    "no watch `{watch}` measures anything; these do: {}",
                    names.join(", ")
                )));
            };
            let At { trips, untold } = told.at(other);
            let limit = in_words(micro, "").trim_end().to_owned();
            let [low, _] = interval(trips, told.judged, self.confidence);
            let [_, high] = interval(trips + untold, told.judged, self.confidence);
            of.push(OtherTold { side, limit, trips, untold, share: [low, high] });
        }
        Ok(all)
    }
}

/// Counts the passings of a recording, and says what of it was passed over, and in what of it nothing could be counted.
fn count(
    station: &Station,
    path: &Path,
    mapping: Option<&Mapping>,
    over_gaps: bool,
    passings: &mut Passings,
    spans: &mut Spans,
) -> Result<[Option<String>; 3], Failure> {
    let named = path.display();
    let source = open(path).map_err(|e| Failure::Said(format!("{named}: {e}")))?;
    let mut reader =
        Reader::mapped(source.bytes, station, mapping).map_err(|f| Failure::Said(format!("{named}, {f}")))?;
    if over_gaps {
        reader = reader.over_gaps();
    }
    let (bar, mut span) = (bar(source.length), Span::new(station.scan_us));
    let done = stages::with_runner(station, |runner| {
        let mut both = Both(passings, &mut span);
        replay(station, &mut reader, runner, &mut both, &mut |read| bar.set_position(read))
    })?;
    bar.finish_and_clear();
    let seam = spans.take(&named.to_string(), reader.top(), span, Order::Any).map_err(Failure::Said)?;
    match done {
        Ok(summary) => {
            let passed_over = reader.counted().words(summary.gaps).map(|words| format!("{named}: {words}"));
            Ok([passed_over, seam, left_out(&summary).map(|words| format!("{named}: {words}"))])
        }
        Err(Broke::Read(fault)) => Err(Failure::Said(format!("{named}, {fault}"))),
        Err(Broke::Write(error)) => Err(error.into()),
    }
}

/// What of a recording was read and taught nothing, in words.
fn left_out(summary: &Summary) -> Option<String> {
    let Summary { scans, counterfactual, .. } = *summary;
    if counterfactual > 0 {
        return Some(format!(
            "{counterfactual} of {} scans are left out with their passings: the recording runs on in them after a stop of the rules that it did not make, \
             or start; `haltproof replay` shows which",
            scans + counterfactual
        ));
    }
    (scans == 0).then(|| "nothing was judged, since the recording is no longer than its lead-in".to_owned())
}

fn say(to: &mut Output, told: &Told) -> Result<(), Failure> {
    let value = |micro: i64| in_words(micro, &told.unit);
    let limit = |at: usize| told.limits.get(at).copied().flatten().map_or_else(|| "-".into(), value);
    let passings = plural(told.judged, "passing");
    writeln!(to, "{:<20} {passings}, limits {} to {}", told.name, limit(0), limit(1))?;
    let many = told.least != told.greatest;
    let rows = if many { [Some("least of each "), Some("greatest of each ")] } else { [Some(""), None] };
    for (each, values) in rows.into_iter().zip([&told.least, &told.greatest]) {
        if let (Some(each), Some((least, _)), Some((greatest, _))) = (each, values.first(), values.last()) {
            let beyond = || "beyond".to_owned();
            let at = |part: &u32| quantile(values.iter().copied(), told.judged, *part).map_or_else(beyond, value);
            let quantiles: Vec<String> = QUANTILES.iter().map(at).collect();
            let least = value(*least);
            let greatest = if told.beyond > 0 { beyond() } else { value(*greatest) };
            writeln!(to, "    {each}from {least} to {greatest}; at 1, 25, 50, 75 and 99 %: {}", quantiles.join(", "))?;
        }
    }
    if let Some(end) = told.measured_to.filter(|_| told.beyond > 0) {
        let never = if told.limits.last().is_some_and(Option::is_some) { ", or never came" } else { "" };
        writeln!(to, "    {} of them lay at {} or beyond{never}; farther is not measured", told.beyond, value(end))?;
    }
    match told.window {
        Ok([low, high]) => writeln!(to, "    window: {} to {}", value(low), value(high))?,
        Err(NoWindow::Outside) => {
            writeln!(to, "    no window: {} of them lay outside the limits, which data may not widen", told.outside)?;
        }
        Err(NoWindow::Beyond) => writeln!(to, "    no window: not all of them were measured")?,
        Err(NoWindow::TooFew(needed)) => {
            let more = needed.saturating_sub(told.judged);
            let are = if more == 1 { "passing is" } else { "passings are" };
            writeln!(to, "    no window: {more} more {are} needed")?;
        }
    }
    Ok(())
}

fn row(told: &Told, others: Vec<OtherTold>) -> Row<'_> {
    let value = |micro: i64| in_words(micro, "").trim_end().to_owned();
    let all = |values: &[(i64, u64)]| values.iter().map(|(micro, count)| (value(*micro), *count)).collect();
    Row {
        watch: &told.name,
        unit: &told.unit,
        judged: told.judged,
        beyond: told.beyond,
        measured_to: told.measured_to.map(value),
        outside: told.outside,
        limits: told.limits.map(|limit| limit.map(value)),
        least: all(&told.least),
        greatest: all(&told.greatest),
        window: told.window.ok().map(|window| window.map(value)),
        missing: match told.window {
            Err(NoWindow::TooFew(needed)) => Some(needed.saturating_sub(told.judged)),
            _ => None,
        },
        others,
    }
}

/// Reads `WATCH=VALUE`; the value in millionths.
fn limit(text: &str) -> Result<(String, i64), String> {
    let wrong = || {
        format!(
            "`{text}` is no limit: write `shut-force=6500`, the value in the unit of the watch with at most six decimals"
        )
    };
    let (watch, value) = text.split_once('=').ok_or_else(wrong)?;
    let (sign, digits) = value.strip_prefix('-').map_or((1, value), |rest| (-1, rest));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if watch.is_empty() || whole.is_empty() || whole.len() > 9 || part.len() > 6 || !plain(whole) || !plain(part) {
        return Err(wrong());
    }
    let micro: i64 = format!("{whole}{part:0<6}").parse().map_err(|_| wrong())?;
    Ok((watch.to_owned(), sign * micro))
}

/// Reads a percentage as parts of a million, exactly.
fn share(text: &str) -> Result<u32, String> {
    let wrong = || format!("`{text}` is no share: write `99%` or `99.9%`, more than 0 and less than 100");
    let number = text.strip_suffix('%').ok_or_else(wrong)?;
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || whole.len() > 2 || part.len() > 4 || !digits(whole) || !digits(part) {
        return Err(wrong());
    }
    let parts = format!("{whole}{part:0<4}").parse::<u32>().map_err(|_| wrong())?;
    if (1..1_000_000).contains(&parts) { Ok(parts) } else { Err(wrong()) }
}

/// Parts of a million as a percentage.
fn percent(parts: u32) -> String {
    let text = format!("{}.{:04}", parts / 10_000, parts % 10_000);
    format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_and_limits_are_read_exactly_or_refused() {
        for (text, parts) in [("99%", 990_000), ("99.9%", 999_000), ("5%", 50_000), ("0.0001%", 1)] {
            assert_eq!(share(text), Ok(parts));
            assert_eq!(share(&percent(parts).replace(' ', "")), Ok(parts));
        }
        for (text, micro) in [("a=6500", 6_500_000_000), ("a=-1.5", -1_500_000), ("a=0.000001", 1)] {
            assert_eq!(limit(text), Ok(("a".into(), micro)));
        }
        for text in ["a", "=1", "a=", "a=1e3", "a=1.0000001", "a=--1", "a=6500 N", "a=9999999999"] {
            assert!(limit(text).is_err(), "{text}");
        }
        for text in ["99", "100%", "0%", "-1%", "99.99999%", "%", "1e1%", "9 %"] {
            assert!(share(text).is_err(), "{text}");
        }
    }
}
