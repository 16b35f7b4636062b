//! The form as it is being built, statement by statement; what is missing is told when a thing ends.

use super::line::Line;
use crate::integrity::fault::Fault;
use crate::integrity::form::{Channel, Demand, Form, Function, Level, Measure, Method, Part, Place, Stated, Subsystem};
use crate::integrity::iec61508::{Architecture, Channels, Edition};
use crate::integrity::iso13849::Category;

/// Something that may be said once.
#[derive(Debug)]
pub(super) struct Once<T>(Option<T>);

impl<T> Default for Once<T> {
    fn default() -> Self {
        Self(None)
    }
}

impl<T> Once<T> {
    pub(super) fn put(&mut self, value: T) -> Result<(), String> {
        if self.0.is_some() {
            return Err("it is said already".into());
        }
        self.0 = Some(value);
        Ok(())
    }
}

/// By what a subsystem is judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Iso13849(Category),
    Iec61508(Edition, Architecture),
    Statement,
}

#[derive(Debug)]
pub(super) struct FunctionBeing {
    name: String,
    title: String,
    at: Place,
    pub(super) serves: Once<Vec<(String, Place)>>,
    pub(super) required: Once<Level>,
    pub(super) demand: Once<Demand>,
    pub(super) measure: Once<(Measure, Place)>,
    subsystems: Vec<SubsystemBeing>,
    /// A statement of it could not be read: what is missing is not told.
    broken: bool,
}

#[derive(Debug)]
pub(super) struct SubsystemBeing {
    role: &'static str,
    title: String,
    kind: Kind,
    at: Place,
    pub(super) channels: Vec<(Channel, Place)>,
    pub(super) common_cause: Once<u32>,
    pub(super) failures: Once<(f64, bool)>,
    pub(super) coverage: Once<f64>,
    pub(super) beta: Once<(f64, f64)>,
    pub(super) tested: Once<(f64, f64)>,
    pub(super) stated: Once<Stated>,
    pub(super) at_most: Once<Level>,
    broken: bool,
}

impl FunctionBeing {
    pub(super) fn new(name: String, title: String, at: Place) -> Self {
        let (serves, required, demand, measure) = Default::default();
        Self { name, title, at, serves, required, demand, measure, subsystems: Vec::new(), broken: false }
    }
}

impl SubsystemBeing {
    pub(super) fn new(role: &'static str, title: String, kind: Kind, at: Place) -> Self {
        let (common_cause, failures, coverage, beta, tested, stated, at_most) = Default::default();
        let (channels, broken) = (Vec::new(), false);
        Self {
            role,
            title,
            kind,
            at,
            channels,
            common_cause,
            failures,
            coverage,
            beta,
            tested,
            stated,
            at_most,
            broken,
        }
    }
    pub(super) fn part(&mut self, part: Part) -> Result<(), String> {
        let (channel, _) = self.channels.last_mut().ok_or("a part stands outside a channel")?;
        channel.parts.push(part);
        Ok(())
    }
    /// Whether a statement belongs to a subsystem that is judged so.
    pub(super) fn takes(&self, keyword: &str) -> Result<(), String> {
        let (by, takes): (&str, &[&str]) = match self.kind {
            // Their PFHd is worked out.
            Kind::Iso13849(Category::B | Category::One) => ("ISO 13849-1 of one channel", &["channel", "part", "at"]),
            Kind::Iso13849(_) => ("ISO 13849-1", &["channel", "part", "common", "stated", "at"]),
            Kind::Iec61508(Edition::First | Edition::Second, Architecture::OneOfOne) => {
                ("IEC 61508-6 1oo1", &["failures", "dangerous", "coverage", "tested", "at"])
            }
            Kind::Iec61508(..) => ("IEC 61508-6", &["failures", "dangerous", "coverage", "beta", "tested", "at"]),
            Kind::Statement => ("statement", &["stated", "at"]),
        };
        if takes.contains(&keyword) { Ok(()) } else { Err(format!("`{keyword}` says nothing of a subsystem by {by}")) }
    }
}

/// The form so far.
#[derive(Debug, Default)]
pub(super) struct Building {
    title: Once<String>,
    source: Once<String>,
    functions: Vec<FunctionBeing>,
    faults: Vec<Fault>,
    /// The statement that begins a function could not be read: what follows belongs to nothing.
    lost: bool,
}

impl Building {
    pub(super) fn head(&mut self, keyword: &str, text: String) -> Result<(), String> {
        if keyword == "functions" { self.title.put(text) } else { self.source.put(text) }
    }
    pub(super) fn function(&mut self, function: FunctionBeing) -> Result<(), String> {
        let twice = self.functions.iter().any(|other| other.name == function.name);
        let name = function.name.clone();
        self.functions.push(function);
        self.lost = false;
        if twice { Err(format!("there is a function {name} already")) } else { Ok(()) }
    }
    pub(super) fn subsystem(&mut self, subsystem: SubsystemBeing) -> Result<(), String> {
        if self.lost {
            return Ok(());
        }
        let function = self.functions.last_mut().ok_or("a subsystem stands before the first function")?;
        function.subsystems.push(subsystem);
        Ok(())
    }
    /// A statement that may have begun anything could not be read.
    pub(super) fn loses(&mut self) {
        if let Some(function) = self.functions.last_mut() {
            function.broken = true;
            if let Some(subsystem) = function.subsystems.last_mut() {
                subsystem.broken = true;
            }
        }
        self.lost = true;
    }
    /// The statement that begins a subsystem could not be read.
    pub(super) fn loses_subsystem(&mut self, at: &Place) {
        if let Some(function) = self.functions.last_mut() {
            function.broken = true;
            let mut stand_in = SubsystemBeing::new("input", String::new(), Kind::Statement, at.clone());
            stand_in.broken = true;
            function.subsystems.push(stand_in);
        }
    }

    /// A statement of the function that is being built.
    pub(super) fn within(
        &mut self,
        line: &mut Line<'_>,
        say: impl FnOnce(&mut Line<'_>, &mut FunctionBeing) -> Result<Result<(), String>, Fault>,
    ) -> Result<(), String> {
        if self.lost {
            return Ok(());
        }
        let function = self.functions.last_mut().ok_or("it stands before the first function")?;
        if !function.subsystems.is_empty() {
            return Err("it stands behind a subsystem of its function".into());
        }
        say(line, function).unwrap_or_else(|fault| {
            function.broken = true;
            self.faults.push(fault);
            Ok(())
        })
    }
    /// A statement of the subsystem that is being built.
    pub(super) fn within_subsystem(
        &mut self,
        line: &mut Line<'_>,
        say: impl FnOnce(&mut Line<'_>, &mut SubsystemBeing) -> Result<Result<(), String>, Fault>,
    ) -> Result<(), String> {
        if self.lost {
            return Ok(());
        }
        let function = self.functions.last_mut().ok_or("it stands before the first function")?;
        let subsystem = function.subsystems.last_mut().ok_or("it stands before the first subsystem of its function")?;
        let sound = !subsystem.broken;
        let said = say(line, subsystem).unwrap_or_else(|fault| {
            subsystem.broken = true;
            self.faults.push(fault);
            Ok(())
        });
        // What belongs to a subsystem that could not be read is not judged.
        if sound { said } else { Ok(()) }
    }

    /// The form, if it is whole; what is wrong goes to `faults`.
    pub(super) fn finish(mut self, faults: &mut Vec<Fault>) -> Option<Form> {
        faults.append(&mut self.faults);
        let mut missing = |at: &Place, what: String, expected: &str, mend: &str| {
            faults.push(Fault { at: at.clone(), what, expected: expected.into(), mend: mend.into() });
        };
        let start = 0..0;
        if self.title.0.is_none() {
            missing(&start, "the file has no title".into(), "a title", "begin it with: functions \"TITLE\"");
        }
        if self.source.0.is_none() {
            missing(
                &start,
                "the file does not say where its data come from".into(),
                "a source",
                "say so: from \"WHERE\"",
            );
        }
        if self.functions.is_empty() && !self.lost {
            missing(&start, "the file has no function".into(), "a function", "begin one: function NAME \"TITLE\"");
        }
        let functions: Vec<Option<Function>> =
            self.functions.into_iter().map(|function| function.finish(&mut missing)).collect();
        let functions: Option<Vec<Function>> = functions.into_iter().collect();
        Some(Form { title: self.title.0?, source: self.source.0?, functions: functions? })
    }
}

impl FunctionBeing {
    fn finish(self, missing: &mut impl FnMut(&Place, String, &str, &str)) -> Option<Function> {
        let name = &self.name;
        if !self.broken {
            let mut ask = |there: bool, what: &str, mend: &str| {
                if !there {
                    missing(&self.at, format!("function {name} {what}"), "what is missing, in this function", mend);
                }
            };
            ask(self.serves.0.is_some(), "serves no requirement", "say which: serves REQUIREMENT");
            ask(self.required.0.is_some(), "requires nothing", "say what: requires PL d, or: requires SIL 2");
            ask(
                self.demand.0.is_some(),
                "does not say how often it is demanded",
                "say so: demand every carrier, or: demand 12 per year",
            );
            for role in ["input", "logic", "output"] {
                let there = self.subsystems.iter().any(|subsystem| subsystem.role == role || subsystem.broken);
                ask(there, &format!("has no {role}"), &format!("say what it is: {role} \"TITLE\" by ..."));
            }
        }
        let demand = self.demand.0;
        if let (Some((Measure::PfdAvg, at)), Some(demand)) = (&self.measure.0, demand)
            && demand.is_high()
        {
            let how = if demand == Demand::EveryCarrier {
                "every carrier demands it"
            } else {
                "it is demanded more than once a year"
            };
            let what = format!(
                "PFDavg is refused for function {name}: {how}, so that a mean probability on demand says nothing of it"
            );
            missing(at, what, "PFHd", "failures per hour count: leave the line out, or: measure PFHd");
        }
        if let (Some((Measure::Pfh, at)), Some(false)) = (&self.measure.0, demand.map(Demand::is_high)) {
            let what = format!("PFHd is refused for function {name}: it is demanded once a year or less");
            missing(
                at,
                what,
                "PFDavg",
                "the mean probability on demand counts: leave the line out, or: measure PFDavg",
            );
        }
        if let (Some(Level::Pl(_)), Some(false)) = (self.required.0, demand.map(Demand::is_high)) {
            let what =
                format!("a performance level is required of function {name}, which is demanded once a year or less");
            missing(
                &self.at,
                what,
                "a function of which a SIL is required",
                "a performance level is about failures per hour: require a SIL, or see how often it is demanded",
            );
        }
        let subsystems: Vec<Option<Subsystem>> = self.subsystems.into_iter().map(|s| s.finish(missing)).collect();
        let subsystems: Option<Vec<Subsystem>> = subsystems.into_iter().collect();
        let (serves, required) = (self.serves.0?, self.required.0?);
        Some(Function {
            name: self.name,
            title: self.title,
            serves,
            required,
            demand: demand?,
            subsystems: subsystems?,
        })
    }
}

impl SubsystemBeing {
    fn finish(self, missing: &mut impl FnMut(&Place, String, &str, &str)) -> Option<Subsystem> {
        if self.broken {
            return None;
        }
        let title = &self.title;
        let mut ask = |there: bool, what: &str, mend: &str| {
            if !there {
                missing(&self.at, format!("\"{title}\" {what}"), "what is missing, in this subsystem", mend);
            }
        };
        let method = match self.kind {
            Kind::Iso13849(category) => {
                let (wanted, given) = (category.channels(), self.channels.len());
                let what = format!("has channels: {given}, where category {} has {wanted}", category.word());
                ask(wanted == given, &what, "write each channel with its parts: channel \"NAME\"");
                for (channel, _) in &self.channels {
                    let what = format!("has a channel \"{}\" without parts", channel.name);
                    ask(!channel.parts.is_empty(), &what, "write its parts: part \"NAME\" MTTFd 40 years, DC 60 %");
                }
                let whole = wanted == given && self.channels.iter().all(|(channel, _)| !channel.parts.is_empty());
                let channels = self.channels.into_iter().map(|(channel, _)| channel).collect();
                whole.then_some(Method::Iso13849 { category, channels, common_cause: self.common_cause.0 })
            }
            Kind::Iec61508(edition, architecture) => {
                ask(self.failures.0.is_some(), "has no failure rate", "write: failures 1e-6 per hour");
                ask(self.coverage.0.is_some(), "does not say what its diagnosis finds", "write: coverage 60 %");
                ask(
                    self.tested.0.is_some(),
                    "does not say when it is tested",
                    "write: tested each 1 years, repaired in 8 h",
                );
                let single = architecture == Architecture::OneOfOne;
                ask(
                    single || self.beta.0.is_some(),
                    "does not say what takes all channels",
                    "write: beta 2 %, detected 1 %",
                );
                let beta = self.beta.0.or(single.then_some((0.0, 0.0)));
                match (self.failures.0, self.coverage.0, beta, self.tested.0) {
                    (Some((rate, halved)), Some(coverage), Some((beta, beta_detected)), Some((proof_test, repair))) => {
                        let dangerous = if halved { rate / 2.0 } else { rate };
                        let channels = Channels { dangerous, coverage, beta, beta_detected, proof_test, repair };
                        Some(Method::Iec61508 { edition, architecture, channels, halved })
                    }
                    _ => None,
                }
            }
            Kind::Statement => {
                ask(self.stated.0.is_some(), "states nothing", "write: stated PFHd 2e-8 per hour from \"SOURCE\"");
                self.stated.0.is_some().then_some(Method::Statement)
            }
        };
        let (stated, at_most) = (self.stated.0, self.at_most.0);
        Some(Subsystem { role: self.role, title: self.title, method: method?, stated, at_most })
    }
}
