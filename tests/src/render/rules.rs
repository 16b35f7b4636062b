//! Answers, keys, requirements and assumptions in words.

use host_tools::station::{
    Assumption, Bypass, Claim, Condition, Entry, Excuse, Form, Ground, Measured, Mode, Rank, Refill, Requirement,
    Reset, Slow, Stop, When,
};

use super::quantities::{Pen, Round, decimal, joined};

impl Pen<'_> {
    fn outputs(&self, ids: &[usize]) -> String {
        joined(ids.iter().map(|&i| self.station.outputs[i].name.text.as_str()))
    }
    fn watches(&self, ids: &[usize]) -> String {
        joined(ids.iter().map(|&i| self.station.watches[i].name.text.as_str()))
    }

    pub(super) fn mode(&mut self, mode: &Mode) -> String {
        let mut text = format!("mode {} selected by {}", mode.name.text, self.input(mode.key));
        if let Some((pace, mm)) = mode.at_most {
            text += &format!(", {} at most {}", self.input(pace), self.speed(mm, pace, Round::Down));
        }
        text
    }

    pub(super) fn slow(&mut self, slow: &Slow) -> String {
        let (cap, within) = (self.speed(slow.down_to, slow.pace, Round::Down), self.scans(slow.within, Round::Down));
        format!("slow {} {} down to {cap} within {within}", slow.name.text, self.input(slow.pace))
    }

    pub(super) fn stop(&mut self, stop: &Stop) -> String {
        let emergencies = if stop.for_emergencies { ", for emergencies" } else { "" };
        let mut text = format!("stop {} category {}{emergencies}", stop.name.text, stop.category);
        text += &format!("\n    releases {}", self.outputs(&stop.releases));
        if let Some(then) = &stop.then {
            let (pace, latest) = (self.input(then.pace), self.scans(then.latest, Round::Down));
            text +=
                &format!("\n    then {} when {pace} still, at the latest after {latest}", self.outputs(&then.outputs));
        }
        let (least, most) = stop.slows;
        let slows = format!("{} m/s2 to {} m/s2", decimal(least.into(), 3), decimal(most.into(), 3));
        text + &format!("\n    bites within {}, slows at {slows}", self.us(i64::from(stop.bites_us)))
    }

    pub(super) fn reset(&mut self, reset: &Reset) -> String {
        let mut text =
            format!("reset by {} pressed and let go, when {}", self.input(reset.key), self.condition(&reset.when));
        if reset.lasting > 0 {
            text += &format!(" for {}", self.scans(reset.lasting, Round::Up));
        }
        text
    }

    pub(super) fn refill(&mut self, refill: &Refill) -> String {
        let when = self.condition(&refill.when);
        format!("refill {} by {}, when {when}", self.watches(&refill.watches), self.input(refill.key))
    }

    pub(super) fn bypass(&mut self, bypass: &Bypass) -> String {
        let (pace, mm) = bypass.at_most;
        let limit = self.speed(mm, pace, Round::Down);
        let (budget, rest) = (self.scans(bypass.budget, Round::Down), self.scans(bypass.rest, Round::Up));
        let modes = joined(bypass.modes.iter().map(|&i| self.station.modes[i].name.text.as_str()));
        format!(
            "bypass {} of {}\n    in {modes}\n    while {} held\n    {} at most {limit}, for at most {budget}, then not again for {rest}",
            bypass.name.text,
            self.watches(&bypass.of),
            self.input(bypass.key),
            self.input(pace),
        )
    }

    pub(super) fn requirement(&mut self, requirement: &Requirement) -> String {
        let mut text = format!("require {} \"{}\"", requirement.name.text, requirement.title);
        if !requirement.hazards.is_empty() {
            let hazards = requirement.hazards.iter().map(|&i| self.station.hazards[i].name.text.as_str());
            text += &format!("\n    hazard {}", joined(hazards));
        }
        text += &format!("\n    {}", self.form(requirement));
        if let Some(unless) = &requirement.unless {
            text += &format!("\n    unless {}", self.condition(unless));
        }
        if requirement.bounces > 0 {
            text += &format!("\n    bounces of up to {} aside", self.scans(requirement.bounces, Round::Down));
        }
        if let Some(because) = &requirement.need_not_arise {
            text += &format!("\n    need not arise because \"{because}\"");
        }
        if !requirement.answers.is_empty() {
            text += &format!("\n    answers {}", joined(requirement.answers.iter().map(|entry| entry.text.as_str())));
        }
        text
    }

    fn due(&mut self, least: Rank, requirement: &Requirement) -> String {
        format!(
            "{} within {}",
            self.answered(least).replacen(' ', " at least ", 1),
            self.us(requirement.within_us.into())
        )
    }

    fn form(&mut self, requirement: &Requirement) -> String {
        match &requirement.form {
            Form::Whenever { condition, lasting, least, .. } => {
                let mut text = format!("whenever {}", self.condition(condition));
                if *lasting > 0 {
                    text += &format!(" for {}", self.scans(*lasting, Round::Down));
                }
                text + ", " + &self.due(*least, requirement)
            }
            Form::WhenRises { detector, when, lasting, gauge, lowest, highest, least, .. } => {
                let low = self.steps(*gauge, i64::from(*lowest), Round::Up);
                let high = self.steps(*gauge, i64::from(*highest), Round::Down);
                let (gauge, detector) = (self.input(*gauge), self.input(*detector));
                let when = match *when {
                    When::Rise if *lasting > 0 => format!("for {} when", self.scans(*lasting, Round::Down)),
                    When::Rise => "when".to_owned(),
                    When::Scans(scans) => format!("in the {} after", self.scans(scans, Round::Down)),
                    When::Rope(pace, mm) => {
                        format!("in the {} of {} after", self.mm(mm, Round::Down), self.input(pace))
                    }
                };
                let due = self.due(*least, requirement);
                format!("whenever {gauge} outside {low} to {high} {when} {detector} rises, {due}")
            }
            Form::After { from, to, measured, earliest, latest, capacity, least, .. } => {
                let (from, to) = (self.input(*from), self.input(*to));
                let window = match measured {
                    Measured::Rope(pace) => {
                        let (low, high) = (self.mm(*earliest, Round::Up), self.mm(*latest, Round::Down));
                        format!("{low} to {high} of {} must rise {to}", self.input(*pace))
                    }
                    Measured::Time { pace, least, most } => {
                        let (low, high) = (self.scans(*earliest, Round::Up), self.scans(*latest, Round::Down));
                        format!("{low} to {high} must rise {to}, {}", self.band(*pace, *least, *most))
                    }
                };
                let mut text = format!("after {from} rises, in {window}, else {}", self.due(*least, requirement));
                if *capacity != 8 || self.rng.chance(50) {
                    let carriers = if *capacity == 1 { "carrier" } else { "carriers" };
                    text += &format!(", up to {capacity} {carriers}");
                }
                text
            }
            Form::Effect { after, lasting, condition, slower, least, .. } => {
                let (lasting, due) = (self.scans(*lasting, Round::Down), self.due(*least, requirement));
                let (after, seen) = (self.station.answer(*after).to_owned(), self.effect(condition, *slower));
                format!("after {after} stands, within {lasting} must be seen {seen}, else {due}")
            }
            Form::Never { condition, least } => {
                format!("never less than {} while {}", self.station.answer(*least), self.condition(condition))
            }
            Form::Held { .. } => panic!("no rule file says it"),
            Form::NeverReleased { key } => format!("never released without {}", self.input(*key)),
            Form::NeverReleasedBut { condition, lasting } => {
                let lasts =
                    if *lasting > 0 { format!(" for {}", self.scans(*lasting, Round::Up)) } else { String::new() };
                format!("never released but when {}{lasts}", self.condition(condition))
            }
            Form::NeverPermitted { pause } => {
                format!("never permitted within {} after a stop", self.scans(*pause, Round::Up))
            }
            Form::NeverTogether(one, other) => {
                format!("never {} together with {}", self.outputs(&[*one]), self.outputs(&[*other]))
            }
        }
    }

    pub(super) fn assumption(&mut self, assumption: &Assumption) -> String {
        let mut text = format!("assume {}", assumption.name.text);
        if !assumption.title.is_empty() {
            text += &format!(" \"{}\"", assumption.title);
        }
        let claim = match &assumption.claim {
            Claim::RopeApart(detector, pace, mm) => {
                let length = self.mm(*mm, Round::Down);
                format!("{} rises at least {length} of {} apart", self.input(*detector), self.input(*pace))
            }
            Claim::ScansApart(detector, scans) => {
                format!("{} rises at least {} apart", self.input(*detector), self.scans(*scans, Round::Down))
            }
            Claim::Always(Condition::Not(part)) if self.rng.chance(60) => format!("never {}", self.condition(part)),
            Claim::Always(condition) => format!("always {}", self.condition(condition)),
        };
        let ground = match &assumption.ground {
            Ground::HeldBy(watch) => format!("held by {}", self.station.watches[*watch].name.text),
            Ground::Evidence(text) => format!("on evidence \"{text}\""),
        };
        text + &format!("\n    {claim}\n    {ground}")
    }
}

pub(super) fn entry(entry: &Entry) -> String {
    match &entry.excuse {
        Excuse::NotApplicable(text) => format!("entry {} not applicable because \"{text}\"", entry.name.text),
        Excuse::Elsewhere(text) => format!("entry {} answered elsewhere by \"{text}\"", entry.name.text),
    }
}
