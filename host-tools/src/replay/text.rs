//! A replay for people: a line an event, cause first, and a short account at the end.

use std::io::{self, Write};

use super::Sink;
use super::event::{Cause, Event, InputTold, What};
use super::limits::in_words;
use super::tally::Summary;
use crate::date::instant;

/// Colours, or none.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Paint(pub bool);

impl Paint {
    fn put(self, code: &str, text: &str) -> String {
        if self.0 { format!("\u{1b}[{code}m{text}\u{1b}[0m") } else { text.to_owned() }
    }
    fn alarm(self, text: &str) -> String {
        self.put("1;31", text)
    }
    fn caution(self, text: &str) -> String {
        self.put("33", text)
    }
    fn good(self, text: &str) -> String {
        self.put("32", text)
    }
    fn faint(self, text: &str) -> String {
        self.put("2", text)
    }
}

/// Writes events as lines.
#[derive(Debug)]
pub struct Lines<W> {
    to: W,
    paint: Paint,
}

impl<W: Write> Lines<W> {
    /// A writer of lines.
    pub fn new(to: W, paint: Paint) -> Self {
        Self { to, paint }
    }

    /// Ends and gives the writer back.
    pub fn into_inner(self) -> W {
        self.to
    }

    fn causes(&mut self, causes: &[Cause]) -> io::Result<()> {
        for cause in causes {
            let name =
                if cause.name.is_empty() { String::new() } else { format!(" [{} {}]", cause.source, cause.name) };
            writeln!(self.to, "{INDENT}{}{}{name}", doubt(&cause.unknown), cause.words)?;
            if !cause.title.is_empty() && !cause.words.starts_with(&cause.title) {
                writeln!(self.to, "{INDENT}  watched: {}", cause.title)?;
            }
            if let Some(margin) = &cause.margin {
                let left = in_words(margin.left.abs(), &margin.unit);
                let fate = if margin.left < 0 { "missed" } else { "kept" };
                writeln!(
                    self.to,
                    "{INDENT}  measured {}, limit {}: {fate} by {left}",
                    in_words(margin.measured, &margin.unit),
                    in_words(margin.limit, &margin.unit),
                )?;
            }
        }
        Ok(())
    }

    fn requirements(&mut self, summary: &Summary) -> io::Result<()> {
        let paint = self.paint;
        if !summary.requirements.is_empty() {
            writeln!(self.to)?;
        }
        let (mut idle, mut kept) = (Vec::new(), Vec::new());
        for r in &summary.requirements {
            let longest = r
                .longest_us
                .map_or_else(String::new, |us| format!(", at the longest after {}", in_words(micro(us), "s")));
            let fate = match (r.missed, r.met) {
                (0, 0) => {
                    if r.throughout { &mut kept } else { &mut idle }.push(r.name.as_str());
                    continue;
                }
                (0, 1) => paint.good(&format!("met once{longest}")),
                (0, met) => paint.good(&format!("met {met} times{longest}")),
                (missed, met) => {
                    let late = r
                        .latest_us
                        .map_or_else(String::new, |us| format!("; answered up to {} late", in_words(micro(us), "s")));
                    let never =
                        if r.unanswered > 0 { format!("; {} not answered", r.unanswered) } else { String::new() };
                    paint.alarm(&format!("MISSED {missed}, met {met}{longest}{late}{never}"))
                }
            };
            writeln!(self.to, "  requirement {}: {fate}", r.name)?;
        }
        for (what, names) in [("never broken", kept), ("never called for", idle)] {
            if !names.is_empty() {
                let line = paint.faint(&format!("{what}: {}", names.join(", ")));
                writeln!(self.to, "  {line}")?;
            }
        }
        Ok(())
    }

    /// The account at the end.
    pub fn summary(&mut self, summary: &Summary) -> io::Result<()> {
        let paint = self.paint;
        let to = &mut self.to;
        writeln!(to)?;
        writeln!(
            to,
            "{} judged scans over {}; stops {}, not made by the recording {}, resets {}",
            summary.scans,
            clock(summary.lasted_us),
            summary.stops,
            summary.not_made,
            summary.resets
        )?;
        if summary.started > 0 {
            writeln!(to, "{} times it had made the stop, and started again without its reset", summary.started)?;
        }
        if summary.counterfactual > 0 {
            writeln!(to, "{} scans were counterfactual and are not counted", summary.counterfactual)?;
        }
        if summary.doubled > 0 {
            writeln!(to, "{} rows stood there twice and were passed over", summary.doubled)?;
        }
        if summary.watches.iter().any(|w| w.judged > 0) {
            let (name, judged) = ("watch", "judged");
            writeln!(
                to,
                "\n  {name:<22}{judged:>8}{:>14}{:>14}{:>16}{:>16}",
                "least", "greatest", "above lower", "below upper"
            )?;
        }
        for w in summary.watches.iter().filter(|w| w.judged > 0) {
            let cell = |value: Option<i64>| value.map_or_else(|| "-".to_owned(), |v| in_words(v, &w.unit));
            writeln!(
                to,
                "  {:<22}{:>8}{:>14}{:>14}{:>16}{:>16}",
                w.name,
                w.judged,
                cell(w.least),
                cell(w.greatest),
                cell(w.above_lower),
                cell(w.below_upper)
            )?;
        }
        for w in summary.watches.iter().filter(|w| w.beyond > 0) {
            let end = w.measured_to.map_or_else(String::new, |end| in_words(end, &w.unit));
            writeln!(to, "  {}: {} of {} lay at {end} or beyond; farther is not measured", w.name, w.beyond, w.judged)?;
        }
        self.requirements(summary)?;
        let to = &mut self.to;
        for a in summary.assumptions.iter().filter(|a| a.broken > 0) {
            let fate = paint.alarm(&format!("broken {} times", a.broken));
            writeln!(to, "  assumption {}: {fate}", a.name)?;
        }
        for b in summary.bypasses.iter().filter(|b| b.uses > 0) {
            let sum = in_words(b.lasted, "s");
            writeln!(to, "  bypass {}: used {} times, {sum} in all", b.name, b.uses)?;
        }
        for what in &summary.cannot_tell {
            writeln!(to, "  {} {what}", paint.caution("cannot tell:"))?;
        }
        Ok(())
    }
}

const INDENT: &str = "                ";

impl<W: Write> Sink for Lines<W> {
    fn looks(&self) -> bool {
        false
    }
    fn event(&mut self, event: &Event) -> io::Result<()> {
        let paint = self.paint;
        let seconds = |us: u64| in_words(micro(us), "s");
        let line = match &event.what {
            What::Begins { starts: "running" } => {
                "judging begins; the station was running, every stretch refills".to_owned()
            }
            What::Begins { .. } => "judging begins at power-up".to_owned(),
            What::PowerUp => "the controller restarts".to_owned(),
            What::Gap { from_us, to_us } if to_us > from_us => paint.caution(&format!(
                "a gap of {}: nothing is known of it, judging begins anew",
                seconds(to_us - from_us)
            )),
            What::Gap { to_us, .. } => {
                paint.caution(&format!("the clock was set to {}: judging begins anew", clock(*to_us).trim()))
            }
            What::Recording { name } => format!("{name} begins"),
            What::Stop { answer, .. } => paint.alarm(&format!("STOP {answer}")),
            What::Raised { answer, .. } => paint.alarm(&format!("STOP raised to {answer}")),
            What::Also { .. } => "also, while stopped:".to_owned(),
            What::Standstill { after_us } => {
                format!("the recording stands, {} after the stop", seconds(*after_us))
            }
            What::WentOn => {
                paint.caution("the recording went on: it did not make this stop; what follows is counterfactual")
            }
            What::Started => paint.caution(
                "the recording started again while the stop stands, not reset; what follows is counterfactual",
            ),
            What::Adopted => "the recording stands: judging begins anew, every stretch refills".to_owned(),
            What::Reset => paint.good("reset"),
            What::Slow { answer, causes } => {
                let why = if causes.is_empty() { ": a stretch refills" } else { "" };
                paint.caution(&format!("slow order {answer}{why}"))
            }
            What::SlowEnds { answer } => format!("slow order {answer} ends"),
            What::Mode { mode } => format!("mode {mode}"),
            What::Bypass { bypass } => paint.caution(&format!("bypass {bypass} is active")),
            What::BypassEnds { bypass, lasted_us } => {
                format!("bypass {bypass} ends after {}", seconds(*lasted_us))
            }
            What::Met { requirement, delay_us } => {
                paint.good(&format!("requirement {requirement} met after {}", seconds(*delay_us)))
            }
            What::Missed { requirement, title } => paint.alarm(&format!("requirement {requirement} MISSED: {title}")),
            What::Answered { requirement, late_us } => {
                paint.caution(&format!("requirement {requirement} answered {} late", seconds(*late_us)))
            }
            What::Unanswered { requirement, late_us, by } => {
                let why = match *by {
                    "end" => "when the recording ends",
                    "restart" => "when the controller restarts",
                    "gap" => "when a gap begins",
                    "standstill" => "when judging begins anew",
                    _ => "when it is asked no longer",
                };
                paint.alarm(&format!("requirement {requirement} not answered: {} late {why}", seconds(*late_us)))
            }
            What::Broken { assumption, title } => paint.alarm(&format!("assumption {assumption} broken: {title}")),
        };
        let mark = if event.counterfactual { "? " } else { "  " };
        writeln!(self.to, "{:>12}{mark}  {line}", clock(event.at_us))?;
        match &event.what {
            What::Stop { causes, inputs, off, .. } => {
                self.causes(causes)?;
                let seen: Vec<String> = inputs.iter().filter(|i| i.concerned).map(seen).collect();
                if !seen.is_empty() {
                    writeln!(self.to, "{INDENT}inputs: {}", seen.join("; "))?;
                }
                if !off.is_empty() {
                    writeln!(self.to, "{INDENT}off: {}", off.join(", "))?;
                }
            }
            What::Raised { causes, .. } | What::Also { causes } | What::Slow { causes, .. } => {
                self.causes(causes)?;
            }
            _ => {}
        }
        Ok(())
    }
}

/// That something trips only since inputs are unknown, or nothing.
fn doubt(unknown: &[String]) -> String {
    match unknown {
        [] => String::new(),
        [one] => format!("not excluded, because {one} is unknown: "),
        [several @ .., last] => format!("not excluded, because {} and {last} are unknown: ", several.join(", ")),
    }
}

/// What was seen of an input, and whether the rules know it.
fn seen(input: &InputTold) -> String {
    let doubt = if input.known { "" } else { " (unknown)" };
    format!("{} {}{doubt}", input.name, input.value)
}

fn micro(us: u64) -> i64 {
    i64::try_from(us).unwrap_or(i64::MAX)
}

/// A time as hours, minutes, seconds and milliseconds; as a date, UTC, if it is one.
pub fn clock(us: u64) -> String {
    if let Some(date) = instant(us) {
        return date;
    }
    let ms = us / 1_000;
    let (h, m, s) = (ms / 3_600_000, ms / 60_000 % 60, ms / 1_000 % 60);
    format!("{h}:{m:02}:{s:02}.{:03}", ms % 1_000)
}
