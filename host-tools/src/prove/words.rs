//! What a requirement asks, in words: what is read of which input, what answers, and by when.
//!
//! A proof speaks of readings. It says what the rules do with what inputs tell them, and never that something cannot
//! happen to a grip or a rope; so these sentences name readings only.

use super::claim::Subject;
use super::standing::STANDING;
use crate::replay::in_words;
use crate::station::{
    Claim, Condition, Form, InputId, InputKind, Measured, Observed, Rank, Requirement, Station, Tally, UnderWay, When,
};
use logic_rules::monitor::MOST_INSIDE;

/// The formula that is proved, in words.
pub fn formula(station: &Station, subject: Subject) -> String {
    match subject {
        Subject::Requirement(i) => station.requirements.get(i).map_or_else(String::new, |r| sentence(station, r)),
        Subject::Standing(i) => STANDING.get(i).map_or_else(String::new, |standing| standing.says.to_string()),
    }
}

/// The formula of a requirement as a sentence.
fn sentence(station: &Station, requirement: &Requirement) -> String {
    let say = Say { station };
    let body = match &requirement.form {
        Form::Whenever { condition, lasting, least, within } => {
            let lasts = if *lasting == 0 { String::new() } else { format!("for {} ms ", station.ms(*lasting)) };
            format!("whenever {lasts}{}, {}", say.condition(condition, false), say.answer(*least, *within))
        }
        Form::WhenRises { detector, when, lasting, gauge, lowest, highest, least, within } => {
            let (detector, out) = (say.name(*detector), say.outside(*gauge, *lowest, *highest));
            let behind =
                |long| format!("in the {long} after {detector} rises {out}, or {detector} rises again in them");
            let asked = match when {
                When::Rise if *lasting > 0 => {
                    format!("{detector} rises, and in that scan and for {} ms after it {out}", station.ms(*lasting))
                }
                When::Rise => format!("{detector} rises while {out}"),
                When::Scans(scans) => behind(format!("{} ms", station.ms(*scans))),
                When::Rope(pace, mm) => behind(format!("{mm} mm of {}", say.name(*pace))),
            };
            format!("whenever {asked}, {}", say.answer(*least, *within))
        }
        Form::After { from, to, measured, earliest, latest, least, within, .. } => {
            let (least_way, most_way) = match measured {
                Measured::Rope(_) => (format!("{earliest} mm"), format!("{latest} mm of rope")),
                Measured::Time { .. } => {
                    (format!("{} ms", station.ms(*earliest)), format!("{} ms", station.ms(*latest)))
                }
            };
            format!(
                "for each carrier of up to {MOST_INSIDE} between {} and {}: if {} does not rise for it between {least_way} \
                 and {most_way} after {} rose, {}",
                say.name(*from),
                say.name(*to),
                say.name(*to),
                say.name(*from),
                say.answer(*least, *within)
            )
        }
        Form::Effect { after, lasting, condition, slower, least, within } => {
            let fallen = slower.map_or_else(String::new, |(pace, drop)| {
                format!(
                    ", or that {} was slower by {} than when it came (under a more severe one, than the fastest since)",
                    say.name(pace),
                    say.speed(pace, drop)
                )
            });
            format!(
                "whenever {} has been the most severe answer for more than {} ms, and at no time since it, or a more severe one, came was it known that {}{fallen}, {}",
                station.answer(*after),
                station.ms(*lasting),
                say.condition(condition, true),
                say.answer(*least, *within)
            )
        }
        Form::Never { condition, least } => {
            format!("never does less than {} stand while {}", station.answer(*least), say.condition(condition, false))
        }
        Form::Held { claim, least, within, .. } => {
            format!("whenever {}, {}", say.breach(claim), say.answer(*least, *within))
        }
        Form::NeverReleased { key } => {
            format!("no stop that stood is gone from the verdict unless {} was pressed and let go", say.name(*key))
        }
        Form::NeverReleasedBut { condition, lasting } => {
            let lasts = if *lasting == 0 { String::new() } else { format!(" for {} ms", station.ms(*lasting)) };
            let had = say.condition(condition, true);
            format!("no stop that stood is gone from the verdict unless until then{lasts} it was known that {had}")
        }
        Form::NeverPermitted { pause } => {
            format!("no start is permitted within {} ms after a stop stood", station.ms(*pause))
        }
        Form::NeverTogether(one, other) => {
            let name = |i: &usize| station.outputs.get(*i).map_or("", |output| output.name.text.as_str());
            format!("{} and {} are never off together", name(one), name(other))
        }
    };
    let aside = match requirement.bounces {
        0 => String::new(),
        scans => format!(", with bounces of up to {} ms set aside", station.ms(scans)),
    };
    match &requirement.unless {
        Some(unless) => format!("{body}, unless it is known that {}{aside}", say.condition(unless, true)),
        None => body + &aside,
    }
}

struct Say<'s> {
    station: &'s Station,
}

impl Say<'_> {
    fn name(&self, input: InputId) -> &str {
        self.station.inputs.get(input).map_or("", |input| input.name.text.as_str())
    }
    /// The answer with its time, and what it releases at once.
    fn answer(&self, least: Rank, within: u32) -> String {
        let station = self.station;
        let stop = least.checked_sub(station.first_stop()).and_then(|i| station.stops.get(usize::from(i)));
        let name = |i: &usize| station.outputs.get(*i).map(|output| output.name.text.as_str());
        let released: Vec<&str> = stop.map(|stop| stop.releases.iter().filter_map(name).collect()).unwrap_or_default();
        let released = if released.is_empty() { String::new() } else { format!(" ({} off)", released.join(" and ")) };
        let more = if least == station.worst() { "" } else { ", or a more severe answer," };
        format!("{}{released}{more} stands within {} ms", station.answer(least), station.ms(within))
    }
    /// How an assumption is broken.
    fn breach(&self, claim: &Claim) -> String {
        match claim {
            Claim::RopeApart(detector, pace, mm) => format!(
                "{} rises, as it settles, before {} has run {mm} mm since it last rose, and never back",
                self.name(*detector),
                self.name(*pace)
            ),
            Claim::ScansApart(detector, scans) => {
                let ms = self.station.ms(*scans);
                format!("{} rises, as it settles, less than {ms} ms after it last rose", self.name(*detector))
            }
            Claim::Always(condition) => self.part(condition, false, true),
        }
    }
    /// A value of a gauge.
    fn steps(&self, gauge: InputId, steps: u32) -> String {
        match self.station.inputs.get(gauge).map(|input| &input.kind) {
            Some(InputKind::Gauge(g)) => {
                in_words(g.lowest.saturating_add(i64::from(steps)).saturating_mul(g.step_micro), &g.unit)
            }
            _ => steps.to_string(),
        }
    }
    /// Travel in a span as a speed.
    fn speed(&self, pace: InputId, travel: u32) -> String {
        let span = match self.station.inputs.get(pace).map(|input| &input.kind) {
            Some(InputKind::Pace(pace)) => self.station.ms(pace.span).max(1),
            _ => 1,
        };
        in_words(i64::from(travel).saturating_mul(1_000_000) / i64::try_from(span).unwrap_or(1), "m/s")
    }
    /// A condition. Where it must be known, nothing is said of doubt; elsewhere an input in doubt may have any value.
    fn condition(&self, condition: &Condition, known: bool) -> String {
        self.part(condition, true, known)
    }
    fn part(&self, condition: &Condition, holds: bool, known: bool) -> String {
        let either = |yes: &str, no: &str| if holds { yes.to_string() } else { no.to_string() };
        let doubt = if known { "" } else { ", or cannot be trusted" };
        match condition {
            Condition::All(parts) => self.join(parts, holds, holds, known),
            Condition::Any(parts) => self.join(parts, !holds, holds, known),
            Condition::Not(part) => self.part(part, !holds, known),
            Condition::High(input) => self.level(*input, holds, known),
            Condition::AtLeast(gauge, steps) => {
                let (less, value) = (steps.saturating_sub(1), self.name(*gauge));
                if holds {
                    format!("{value} reads {} or more{doubt}", self.steps(*gauge, *steps))
                } else {
                    format!("{value} reads {} or less{doubt}", self.steps(*gauge, less))
                }
            }
            Condition::Faster(pace, travel) => {
                let less = travel.saturating_sub(1);
                let bound = if holds { self.speed(*pace, *travel) } else { self.speed(*pace, less) };
                format!("{} runs at {bound} or {}, either way{doubt}", self.name(*pace), either("more", "less"))
            }
            Condition::Back(pace, travel) => {
                let back = either("runs back at", "does not run back at");
                format!("{} {back} {} or more{doubt}", self.name(*pace), self.speed(*pace, *travel))
            }
            Condition::Faulty(input) => {
                format!("{} is {}", self.name(*input), either("found faulty", "not found faulty"))
            }
            Condition::SeenOff(output) => {
                let name = self.station.outputs.get(*output).map_or("", |output| output.name.text.as_str());
                format!("the read-back shows {name} {}", either("off", "on"))
            }
            Condition::Bypassed(bypass) => {
                let name = self.station.bypasses.get(*bypass).map_or("", |bypass| bypass.name.text.as_str());
                format!("{name} is {}", either("active", "not active"))
            }
            Condition::Observed(observed) => self.observed(*observed, holds),
        }
    }
    /// A gauge that is not between its bounds.
    fn outside(&self, gauge: InputId, lowest: u32, highest: u32) -> String {
        let (name, lowest, highest) = (self.name(gauge), self.steps(gauge, lowest), self.steps(gauge, highest));
        format!("{name} reads less than {lowest} or more than {highest}, or cannot be trusted")
    }
    /// What only requirements speak of.
    fn observed(&self, observed: Observed, holds: bool) -> String {
        let no = if holds { "" } else { "not " };
        match observed {
            Observed::Stands(rank) => format!("{} was {no}the most severe answer", self.station.answer(rank)),
            Observed::Released(output) => {
                let name = self.station.outputs.get(output).map_or("", |output| output.name.text.as_str());
                format!("{name} was {no}ordered off")
            }
            Observed::Differing(pair) => format!("the channels of {} do {no}differ", self.name(pair)),
            Observed::Distrusted(pair, scans) => {
                let (name, ms) = (self.name(pair), self.station.ms(scans));
                let trusted = if holds { "is not trusted" } else { "is trusted" };
                format!(
                    "{name} {trusted} (its channels, settled, differed for more than {ms} ms, until both have moved and say the same)"
                )
            }
            Observed::Leaping(gauge, steps) => {
                let moves = if holds { "moves" } else { "does not move" };
                format!("{} {moves} by more than {} in a scan", self.name(gauge), self.movement(gauge, steps))
            }
            Observed::Sources(pace, by) => {
                format!("the sources of {} do {no}differ by more than {}", self.name(pace), self.speed(pace, by))
            }
            Observed::Silent(link) => {
                format!("{} {} a fresh frame", self.name(link), if holds { "does not give" } else { "gives" })
            }
            Observed::Pressed(key, scans) => {
                format!(
                    "{} comes {no}to be held, its channels settled by {} ms",
                    self.name(key),
                    self.station.ms(scans)
                )
            }
            Observed::Covered(detector, pace, mm) => {
                format!("{} reads {no}covered for more than {mm} mm of {}", self.name(detector), self.name(pace))
            }
            Observed::Closer(detector, pace, mm) => {
                let (detector, pace) = (self.name(detector), self.name(pace));
                format!("{detector} rises, as it settles, {no}less than {mm} mm of {pace} after it last rose")
            }
            Observed::Farther(detector, pace, mm) => {
                let (detector, pace) = (self.name(detector), self.name(pace));
                format!("{detector} has {no}gone without a rise, as it settles, for more than {mm} mm of {pace}")
            }
            Observed::Stray(way) => format!("{} rises while nobody is {}", self.name(way.to), self.way(way)),
            Observed::Miscounting(tally) => self.miscounts(&tally),
            Observed::Crowded(way, most) => format!("more than {most} carriers are {}", self.way(way)),
            Observed::Changing(contact, most) => {
                format!("{} has {no}changed more than {most} times in a second", self.name(contact))
            }
            Observed::Apart([one, other], by) => {
                let by = match self.station.inputs.get(one).map(|input| &input.kind) {
                    Some(InputKind::Gauge(_)) => self.movement(one, by),
                    _ => self.speed(one, by),
                };
                format!("{} and {} do {no}differ by more than {by}", self.name(one), self.name(other))
            }
        }
    }
    /// A count that is wrong.
    fn miscounts(&self, tally: &Tally) -> String {
        let held = |(key, scans): (InputId, u32)| {
            format!("{} comes to be held, its channels settled by {} ms", self.name(key), self.station.ms(scans))
        };
        let unknown = tally.unknown.map_or_else(String::new, |key| format!(", until {}", held(key)));
        format!(
            "of the carriers from {} to {}, as these settle, more than {} are inside, or one leaves and none is, or not {} are when {}; counted from such a scan on{unknown}",
            self.name(tally.from),
            self.name(tally.to),
            tally.most,
            tally.confirmed,
            held(tally.key)
        )
    }
    /// So many steps of a gauge, from no matter where.
    fn movement(&self, gauge: InputId, steps: u32) -> String {
        match self.station.inputs.get(gauge).map(|input| &input.kind) {
            Some(InputKind::Gauge(g)) => in_words(i64::from(steps).saturating_mul(g.step_micro), &g.unit),
            _ => String::new(),
        }
    }
    /// Where carriers are that are counted, and since when it is known.
    fn way(&self, way: UnderWay) -> String {
        format!(
            "under way from {} to {}, of up to {MOST_INSIDE} since {} has run more than {} mm without the answer",
            self.name(way.from),
            self.name(way.to),
            self.name(way.pace),
            way.latest
        )
    }
    fn join(&self, parts: &[Condition], all: bool, holds: bool, known: bool) -> String {
        let parts: Vec<String> = parts.iter().map(|part| self.part(part, holds, known)).collect();
        parts.join(if all { " and " } else { " or " })
    }
    fn level(&self, input: InputId, high: bool, known: bool) -> String {
        let name = self.name(input);
        let word = match (self.station.inputs.get(input).map(|input| &input.kind), high) {
            (Some(InputKind::Detector(_)), true) => "covered",
            (Some(InputKind::Detector(_)), false) => "clear",
            (Some(InputKind::Key(_)), true) => "held",
            (Some(InputKind::Key(_)), false) => "free",
            (_, true) => "closed",
            (_, false) => "open",
        };
        match self.station.channels_of(input).as_slice() {
            [_, _] if known => format!("both channels of {name} read {word}"),
            [_, _] => format!("either channel of {name} reads {word}"),
            _ => format!("{name} reads {word}"),
        }
    }
}
