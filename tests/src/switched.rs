//! Many scripts of questions in SMT-LIB as one: what they define is written once, and what they assert stands
//! behind switches, so that a solver learns the circuit once and is then asked under some switches at a time.

use std::collections::{HashMap, HashSet};
use std::fmt::Write as _;

/// Questions that rest on the same: terms.
#[derive(Debug, Default)]
pub struct Group {
    /// All of these hold.
    known: Vec<String>,
    /// Name of each question, and what cannot be then.
    asked: Vec<(String, String)>,
}

/// A script as `export::smtlib` writes it.
#[derive(Debug, Default)]
pub struct Questions {
    /// Lines that declare or define something.
    pub definitions: Vec<String>,
    /// Groups.
    pub groups: Vec<Group>,
}

/// Takes a script apart.
pub fn questions(script: &str) -> Questions {
    let (mut out, mut inside, mut name) = (Questions::default(), 0, String::new());
    for line in script.lines() {
        match line {
            "(push 1)" => {
                inside += 1;
                if inside == 1 {
                    out.groups.push(Group::default());
                }
            }
            "(pop 1)" => inside -= 1,
            _ if line.starts_with("(de") => out.definitions.push(line.into()),
            _ => {
                if let Some(echo) = line.strip_prefix("(echo \"") {
                    name = echo.trim_end_matches("\")").into();
                }
                if let Some(term) = line.strip_prefix("(assert ").and_then(|line| line.strip_suffix(')')) {
                    let group = out.groups.last_mut().expect("an assertion stands in a group");
                    if inside == 1 {
                        group.known.push(term.into());
                    } else {
                        group.asked.push((name.clone(), term.into()));
                    }
                }
            }
        }
    }
    out
}

/// Everything that some scripts speak of.
#[derive(Debug, Default)]
pub struct Script {
    names: HashSet<String>,
    definitions: String,
    switches: HashMap<String, usize>,
    terms: Vec<String>,
}

impl Script {
    /// Adds what is not defined yet.
    pub fn define(&mut self, lines: &[String]) {
        for line in lines {
            let name = line.split('|').nth(1).expect("what is defined has a name");
            if self.names.insert(name.into()) {
                self.definitions.push_str(line);
                self.definitions.push('\n');
            }
        }
    }
    /// The switch of a term.
    fn switch(&mut self, term: &str) -> usize {
        if let Some(&number) = self.switches.get(term) {
            return number;
        }
        let number = self.terms.len();
        self.switches.insert(term.into(), number);
        self.terms.push(term.into());
        number
    }
    /// A group by its switches: those that are known, and each question with its own.
    pub fn switched(&mut self, group: &Group) -> (Vec<usize>, Vec<(String, usize)>) {
        let known = group.known.iter().map(|term| self.switch(term)).collect();
        (known, group.asked.iter().map(|(name, term)| (name.clone(), self.switch(term))).collect())
    }
    /// The script: definitions, and that each switch, where it is on, means its term.
    pub fn text(&self) -> String {
        let mut out = self.definitions.clone();
        for (i, term) in self.terms.iter().enumerate() {
            let _ = writeln!(out, "(declare-const |switch {i}| Bool)\n(assert (=> |switch {i}| {term}))");
        }
        out
    }
}
