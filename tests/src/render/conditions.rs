//! Conditions in words.

use host_tools::station::{Condition, InputId, InputKind, Observed, UnderWay};

use super::quantities::{Pen, Round};

/// Gauge, least and greatest step, if a condition says that the value lies between them.
fn between(condition: &Condition) -> Option<(usize, u32, u32)> {
    let Condition::All(parts) = condition else { return None };
    let [Condition::AtLeast(gauge, least), Condition::Not(above)] = parts.as_slice() else { return None };
    match above.as_ref() {
        Condition::AtLeast(other, beyond) if gauge == other => Some((*gauge, *least, beyond - 1)),
        _ => None,
    }
}

impl Pen<'_> {
    /// What must be seen of a stop: a condition, or a fall of speed beside the standstill that it stands for.
    pub(super) fn effect(&mut self, see: &Condition, slower: Option<(InputId, u32)>) -> String {
        let Some((pace, drop)) = slower else { return self.condition(see) };
        let drop = self.speed(drop, pace, Round::Up);
        format!("{} slower by {drop}", self.input(pace))
    }

    /// A condition; one that is joined stands in parentheses where something is joined to it.
    pub(super) fn condition(&mut self, condition: &Condition) -> String {
        if let Some(bounds) = between(condition) {
            return self.bounds(bounds, "between", "and");
        }
        match condition {
            Condition::All(parts) => self.parts(parts, "and"),
            Condition::Any(parts) => self.parts(parts, "or"),
            Condition::Not(part) => self.opposite(part),
            Condition::High(input) => format!("{} {}", self.input(*input), self.high(*input)),
            Condition::AtLeast(gauge, steps) => {
                let last = self.steps(*gauge, i64::from(*steps) - 1, Round::Down);
                format!("{} above {last}", self.input(*gauge))
            }
            Condition::Faster(pace, mm) if *mm == self.pace(*pace).still + 1 && self.rng.chance(60) => {
                format!("{} moving", self.input(*pace))
            }
            Condition::Faster(pace, mm) => {
                let limit = self.speed(mm - 1, *pace, Round::Down);
                format!("{} faster than {limit}", self.input(*pace))
            }
            Condition::Back(pace, mm) => {
                let limit = self.speed(mm - 1, *pace, Round::Down);
                format!("{} rolls back faster than {limit}", self.input(*pace))
            }
            Condition::Faulty(input) => format!("{} faulty", self.input(*input)),
            Condition::SeenOff(output) => format!("{} seen off", self.station.outputs[*output].name.text),
            Condition::Bypassed(bypass) => format!("{} active", self.station.bypasses[*bypass].name.text),
            Condition::Observed(observed) => self.observed(*observed),
        }
    }

    fn observed(&mut self, observed: Observed) -> String {
        match observed {
            Observed::Stands(rank) => format!("{} stands", self.station.answer(rank)),
            Observed::Released(output) => format!("{} released", self.station.outputs[output].name.text),
            Observed::Differing(pair) => format!("{} differing", self.input(pair)),
            Observed::Distrusted(pair, scans) => {
                format!("{} differed for over {}", self.input(pair), self.scans(scans, Round::Down))
            }
            Observed::Leaping(gauge, steps) => {
                format!("{} moves over {} a scan", self.input(gauge), self.movement(gauge, steps))
            }
            Observed::Sources(pace, mm) => {
                let by = self.speed(mm, pace, Round::Down);
                format!("{} has sources that differ by more than {by}", self.input(pace))
            }
            Observed::Silent(link) => format!("{} silent", self.input(link)),
            Observed::Pressed(key, scans) => {
                format!("{} pressed for {}", self.input(key), self.scans(scans, Round::Down))
            }
            Observed::Covered(detector, pace, mm) => {
                let length = self.mm(mm, Round::Down);
                format!("{} covered for over {length} of {}", self.input(detector), self.input(pace))
            }
            Observed::Closer(detector, pace, mm) => {
                let length = self.mm(mm, Round::Up);
                format!("{} rises less than {length} of {} apart", self.input(detector), self.input(pace))
            }
            Observed::Farther(detector, pace, mm) => {
                let length = self.mm(mm, Round::Down);
                format!("{} rises more than {length} of {} apart", self.input(detector), self.input(pace))
            }
            Observed::Stray(way) => format!("{} rises with no carrier {}", self.input(way.to), self.way(way)),
            Observed::Crowded(way, most) => {
                let carriers = if most == 1 { "carrier" } else { "carriers" };
                format!("{} awaits over {most} {carriers} {}", self.input(way.to), self.way(way))
            }
            Observed::Miscounting(tally) => {
                let mut pressed = |(key, scans): (InputId, u32)| {
                    format!("{} pressed for {}", self.input(key), self.scans(scans, Round::Down))
                };
                let key = pressed(tally.key);
                let unknown = tally.unknown.map_or_else(String::new, |key| format!(", unknown once {}", pressed(key)));
                let (from, to) = (self.input(tally.from), self.input(tally.to));
                let (most, confirmed) = (tally.most, tally.confirmed);
                format!("{to} miscounts carriers from {from}, at most {most} and {confirmed} when {key}{unknown}")
            }
            Observed::Changing(contact, most) => format!("{} changes over {most} times a second", self.input(contact)),
            Observed::Apart([one, other], by) => {
                let by = match self.station.inputs[one].kind {
                    InputKind::Pace(_) => self.speed(by, one, Round::Down),
                    _ => self.movement(one, by),
                };
                format!("{} differs from {} by more than {by}", self.input(one), self.input(other))
            }
        }
    }

    fn way(&mut self, way: UnderWay) -> String {
        let length = self.mm(way.latest, Round::Down);
        format!("under way from {} for at most {length} of {}", self.input(way.from), self.input(way.pace))
    }

    fn bounds(&mut self, (gauge, least, most): (usize, u32, u32), said: &str, joint: &str) -> String {
        let least = self.steps(gauge, i64::from(least), Round::Up);
        let most = self.steps(gauge, i64::from(most), Round::Down);
        format!("{} {said} {least} {joint} {most}", self.input(gauge))
    }

    fn parts(&mut self, parts: &[Condition], joint: &str) -> String {
        let comma = if self.rng.chance(20) { "," } else { "" };
        let parts: Vec<String> = parts.iter().map(|part| self.part(part)).collect();
        parts.join(&format!("{comma} {joint} "))
    }

    fn part(&mut self, part: &Condition) -> String {
        let text = self.condition(part);
        let joined = match part {
            Condition::All(_) | Condition::Any(_) => true,
            _ => self.rng.chance(5),
        };
        if joined { format!("({text})") } else { text }
    }

    fn opposite(&mut self, part: &Condition) -> String {
        if self.rng.chance(30) {
            return format!("not {}", self.part(part));
        }
        if let Some(bounds) = between(part) {
            return self.bounds(bounds, "outside", "to");
        }
        match part {
            Condition::High(input) => {
                let said = match self.station.inputs[*input].kind {
                    InputKind::Detector(_) => "clear",
                    InputKind::Key(_) => "free",
                    _ => "open",
                };
                format!("{} {said}", self.input(*input))
            }
            Condition::AtLeast(gauge, steps) => {
                let first = self.steps(*gauge, i64::from(*steps), Round::Up);
                format!("{} below {first}", self.input(*gauge))
            }
            Condition::Faster(pace, mm) if *mm == self.pace(*pace).still + 1 && self.rng.chance(60) => {
                format!("{} still", self.input(*pace))
            }
            Condition::Faster(pace, mm) => {
                let limit = self.speed(mm - 1, *pace, Round::Down);
                format!("{} at most {limit}", self.input(*pace))
            }
            _ => format!("not {}", self.part(part)),
        }
    }

    fn high(&self, input: usize) -> &'static str {
        match self.station.inputs[input].kind {
            InputKind::Detector(_) => "covered",
            InputKind::Key(_) => "held",
            _ => "closed",
        }
    }
}
