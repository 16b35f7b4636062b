//! Names: each declared once, each found by what it may be here.

use super::Resolver;
use crate::station::{Name, Rank};
use crate::text::codes::Code;
use crate::text::finding::Finding;
use crate::text::parse::near;
use crate::text::place::Place;
use crate::text::tree::{Answer, Kind, Word};
use std::collections::BTreeMap;

/// What a name stands for; the number is its index in the station.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Thing {
    Mode(usize),
    Output(usize),
    Slow(usize),
    Stop(usize),
    Input(usize),
    Watch(usize),
    Bypass(usize),
    Hazard(usize),
    Requirement,
    Assumption,
}

impl Thing {
    fn text(self) -> &'static str {
        match self {
            Thing::Mode(_) => "a mode",
            Thing::Output(_) => "an output",
            Thing::Slow(_) => "a slow order",
            Thing::Stop(_) => "a stop",
            Thing::Input(_) => "an input",
            Thing::Watch(_) => "a watch",
            Thing::Bypass(_) => "a bypass",
            Thing::Hazard(_) => "a hazard",
            Thing::Requirement => "a requirement",
            Thing::Assumption => "an assumption",
        }
    }
}

/// All declared names.
#[derive(Debug, Default)]
pub(super) struct Names {
    all: BTreeMap<String, (Thing, Place)>,
}

/// Which kind of input a statement declares, if it declares one.
fn input_kind(kind: &Kind) -> Option<&'static str> {
    Some(match kind {
        Kind::Contact(_) => "a contact",
        Kind::Pair(_) => "a pair",
        Kind::Detector(_) => "a detector",
        Kind::Gauge(_) => "a gauge",
        Kind::Pace(_) => "a pace",
        Kind::Link(_) => "a link",
        Kind::Key(_) => "a key",
        _ => return None,
    })
}

/// A word as the name of a declared thing.
pub(super) fn named(word: &Word) -> Name {
    Name { text: word.value.clone(), place: word.place }
}

impl Resolver<'_> {
    /// Collects every declared name; indices count the statements of a kind in order.
    pub(super) fn declare(&mut self) {
        let (mut modes, mut outputs, mut slows, mut stops) = (0, 0, 0, 0);
        let (mut inputs, mut watches, mut bypasses, mut hazards) = (0, 0, 0, 0);
        let next = |count: &mut usize| {
            *count += 1;
            *count - 1
        };
        for statement in self.statements.clone() {
            let (word, thing) = match &statement.kind {
                Kind::Mode(m) => (&m.name, Thing::Mode(next(&mut modes))),
                Kind::Output(o) => (&o.name, Thing::Output(next(&mut outputs))),
                Kind::Slow(s) => (&s.name, Thing::Slow(next(&mut slows))),
                Kind::Stop(s) => (&s.name, Thing::Stop(next(&mut stops))),
                Kind::Contact(i) => (&i.name, Thing::Input(next(&mut inputs))),
                Kind::Pair(i) => (&i.name, Thing::Input(next(&mut inputs))),
                Kind::Detector(i) => (&i.name, Thing::Input(next(&mut inputs))),
                Kind::Gauge(i) => (&i.name, Thing::Input(next(&mut inputs))),
                Kind::Pace(i) => (&i.name, Thing::Input(next(&mut inputs))),
                Kind::Link(i) => (&i.name, Thing::Input(next(&mut inputs))),
                Kind::Key(i) => (&i.name, Thing::Input(next(&mut inputs))),
                Kind::Watch(w) => (&w.name, Thing::Watch(next(&mut watches))),
                Kind::Bypass(b) => (&b.name, Thing::Bypass(next(&mut bypasses))),
                Kind::Hazard(h, _) => (h, Thing::Hazard(next(&mut hazards))),
                Kind::Require(q) => (&q.name, Thing::Requirement),
                Kind::Assume(a) => (&a.name, Thing::Assumption),
                _ => continue,
            };
            if let Some((_, first)) = self.names.all.get(&word.value) {
                let finding = Finding::new(Code::NameTwice, format!("'{}' is declared twice", word.value));
                let finding = finding
                    .at(word.place, "declared a second time here")
                    .at(*first, "declared here first")
                    .help("rename one of them");
                self.find(finding);
            } else {
                self.names.all.insert(word.value.clone(), (thing, word.place));
            }
        }
    }

    /// Finds a name that must be of some kind; `what` says which.
    fn look<T>(&mut self, word: &Word, what: &str, fits: impl Fn(Thing) -> Option<T>) -> Option<T> {
        let Some((thing, declared)) = self.names.all.get(&word.value).copied() else {
            let near = near(
                &word.value,
                self.names.all.iter().filter(|(_, (thing, _))| fits(*thing).is_some()).map(|(name, _)| name.as_str()),
            );
            let help = near.map(|near| format!("did you mean '{near}'?"));
            let mut finding = Finding::new(Code::NameUnknown, format!("nothing is declared as '{}'", word.value))
                .at(word.place, format!("{what} is expected"));
            finding.help =
                Some(help.unwrap_or_else(|| format!("declare {what} of this name, or give the file that does")));
            self.find(finding);
            return None;
        };
        let found = fits(thing);
        if found.is_none() {
            self.unfit(word, thing.text(), what, declared);
        }
        found
    }
    fn unfit(&mut self, word: &Word, is: &str, what: &str, declared: Place) {
        let finding = Finding::new(Code::NameKind, format!("'{}' is {is}", word.value));
        let finding =
            finding.at(word.place, format!("{what} is expected")).at(declared, format!("declared here as {is}"));
        self.find(finding);
    }
    pub(super) fn mode(&mut self, word: &Word) -> Option<usize> {
        self.look(word, "a mode", |t| if let Thing::Mode(i) = t { Some(i) } else { None })
    }
    pub(super) fn output(&mut self, word: &Word) -> Option<usize> {
        self.look(word, "an output", |t| if let Thing::Output(i) = t { Some(i) } else { None })
    }
    pub(super) fn watch(&mut self, word: &Word) -> Option<usize> {
        self.look(word, "a watch", |t| if let Thing::Watch(i) = t { Some(i) } else { None })
    }
    pub(super) fn hazard(&mut self, word: &Word) -> Option<usize> {
        self.look(word, "a hazard", |t| if let Thing::Hazard(i) = t { Some(i) } else { None })
    }
    pub(super) fn hazards(&mut self, words: &[Word]) -> Vec<usize> {
        words.iter().filter_map(|word| self.hazard(word)).collect()
    }
    pub(super) fn modes(&mut self, words: &[Word]) -> Vec<usize> {
        words.iter().filter_map(|word| self.mode(word)).collect()
    }
    pub(super) fn outputs(&mut self, words: &[Word]) -> Vec<usize> {
        words.iter().filter_map(|word| self.output(word)).collect()
    }
    /// Rank of a stop.
    pub(super) fn stop(&mut self, word: &Word) -> Option<Rank> {
        let slows = self.statements.iter().filter(|s| matches!(s.kind, Kind::Slow(_))).count();
        let at = self.look(word, "a stop", |t| if let Thing::Stop(i) = t { Some(i) } else { None })?;
        Rank::try_from(slows + 1 + at).ok()
    }
    /// Rank of a slow order.
    pub(super) fn slow(&mut self, word: &Word) -> Option<Rank> {
        let at = self.look(word, "a slow order", |t| if let Thing::Slow(i) = t { Some(i) } else { None })?;
        Rank::try_from(at + 1).ok()
    }
    pub(super) fn answer(&mut self, answer: &Answer) -> Option<Rank> {
        match answer {
            Answer::Stop(word) => self.stop(word),
            Answer::Slow(word) => self.slow(word),
        }
    }
    /// What a name in a condition stands for.
    pub(super) fn subject(&mut self, word: &Word) -> Option<Thing> {
        self.look(word, "an input, output or bypass", |t| match t {
            Thing::Input(_) | Thing::Output(_) | Thing::Bypass(_) => Some(t),
            _ => None,
        })
    }
    pub(super) fn input(&mut self, word: &Word) -> Option<usize> {
        self.look(word, "an input", |t| if let Thing::Input(i) = t { Some(i) } else { None })
    }
    /// An input of one kind, told by the statement that declares it.
    fn input_of(&mut self, word: &Word, what: &str) -> Option<usize> {
        let at = self.look(word, what, |t| if let Thing::Input(i) = t { Some(i) } else { None })?;
        let (is, place) = self.statements.iter().filter_map(|s| input_kind(&s.kind).map(|is| (is, s.place))).nth(at)?;
        if is == what {
            return Some(at);
        }
        self.unfit(word, is, what, place);
        None
    }
    /// Whether an input is a key by its statement. One whose statement holds a mistake has a key put
    /// in its place, of which nothing should be said.
    pub(super) fn declared_key(&self, at: usize) -> bool {
        self.statements.iter().filter_map(|s| input_kind(&s.kind)).nth(at) == Some("a key")
    }
    pub(super) fn detector(&mut self, word: &Word) -> Option<usize> {
        self.input_of(word, "a detector")
    }
    pub(super) fn gauge(&mut self, word: &Word) -> Option<usize> {
        self.input_of(word, "a gauge")
    }
    pub(super) fn pace(&mut self, word: &Word) -> Option<usize> {
        self.input_of(word, "a pace")
    }
    pub(super) fn contact(&mut self, word: &Word) -> Option<usize> {
        self.input_of(word, "a contact")
    }
    pub(super) fn key(&mut self, word: &Word) -> Option<usize> {
        self.input_of(word, "a key")
    }
}
