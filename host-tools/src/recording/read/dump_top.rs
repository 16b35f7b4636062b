//! The declarations of a value change dump: units, comments that map names, variables.

use std::collections::{BTreeSet, HashMap, HashSet};
use std::io::BufRead;

use super::columns::{Columns, Slot, Told};
use super::fault::{Bad, ReadFault, quoted};
use super::mapping::Mapping;
use super::number::duration_us;
use super::tokens::Tokens;
use super::top::{Mapped, Starts, Top};
use crate::recording::dumped::{Dumped, identifier, inputs};
use crate::station::Station;

/// More variables than this are none of a station.
const MOST: usize = 100_000;

/// Where the value of a variable goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Target {
    /// A digital channel.
    Level(usize),
    /// A gauge; millionths of its unit in one.
    Value(usize, f64),
    /// A gauge, as a current; nanoamperes in one.
    Current(usize, f64),
    /// A gauge or counter whose numbers a straight line turns into its unit.
    Scaled(Slot),
    /// A gauge of one of our own dumps, in its unit; its health has variables of its own.
    Steps(usize),
    /// One of those, which [`Head::doubts`] says more of.
    Health,
    /// A counter, and the millimetres of what it counts.
    Travel(usize, u32),
    /// A frame came.
    Fresh(usize),
    /// The rank of a link.
    Order(usize),
    /// The same of one that has no variable for its frames: one comes in every scan in which the rank is known.
    Rank(usize),
}

/// A variable that is read.
#[derive(Debug, Clone)]
pub(super) struct Variable {
    pub(super) name: String,
    pub(super) id: Box<[u8]>,
    pub(super) signed: bool,
    pub(super) target: Target,
}

impl Variable {
    /// No doubt of it can be replayed.
    pub(super) fn must_be_known(&self) -> bool {
        matches!(self.target, Target::Level(_) | Target::Travel(..) | Target::Scaled(Slot::CounterOn(..)))
    }
}

/// The places of the variables that tell the health of a gauge.
#[derive(Debug, Clone)]
pub(super) struct Doubt {
    pub(super) gauge: usize,
    pub(super) doubtful: Option<usize>,
    pub(super) broken: Option<usize>,
}

/// What stands before the changes.
#[derive(Debug)]
pub(super) struct Head<'s> {
    pub(super) columns: Columns<'s>,
    pub(super) variables: Vec<Variable>,
    pub(super) doubts: Vec<Doubt>,
    /// Identifiers of variables that are passed over.
    pub(super) others: HashSet<Box<[u8]>>,
    /// Microseconds in a unit of time, or units in a microsecond.
    unit: (u64, u64),
}

/// A variable as it is declared.
struct Declared {
    scope: String,
    name: String,
    id: Box<[u8]>,
    signed: bool,
}

impl<'s> Head<'s> {
    pub(super) fn read<R: BufRead>(
        tokens: &mut Tokens<R>,
        station: &'s Station,
        mapping: Option<&Mapping>,
    ) -> Result<Self, ReadFault> {
        let lines = mapping.map(Mapping::lines).unwrap_or_default();
        let mut top = lines.of_dump(station.scan_us).map_err(|bad| tokens.blame(bad))?;
        let (mut unit, mut scopes, mut declared): (_, Vec<String>, Vec<Declared>) = (None, Vec::new(), Vec::new());
        loop {
            let word = tokens.expect("`$enddefinitions $end`")?.to_vec();
            match word.as_slice() {
                b"$enddefinitions" => {
                    tokens.until_end()?;
                    break;
                }
                b"$comment" => {
                    let text = tokens.until_end()?;
                    comment(&String::from_utf8_lossy(&text), &mut top).map_err(|bad| tokens.blame(bad))?;
                }
                b"$timescale" => {
                    let text = tokens.until_end()?;
                    unit = Some(timescale(&text).ok_or_else(|| tokens.blame(no_timescale(&text)))?);
                }
                b"$scope" => {
                    let text = tokens.until_end()?;
                    let text = String::from_utf8_lossy(&text);
                    if scopes.len() > 100 {
                        let bad = Bad::new(
                            "scopes within scopes, more than a hundred deep",
                            "`$upscope $end`",
                            "copy the dump anew",
                        );
                        return Err(tokens.blame(bad));
                    }
                    scopes.push(text.split(' ').nth(1).unwrap_or_default().to_owned());
                }
                b"$upscope" => {
                    tokens.until_end()?;
                    scopes.pop();
                }
                b"$var" => {
                    let text = tokens.until_end()?;
                    let text = String::from_utf8_lossy(&text);
                    let parts: Vec<&str> = text.split(' ').collect();
                    let [kind, _, id, name, ..] = *parts.as_slice() else {
                        let bad = Bad::new(
                            format!("{} declares no variable", quoted(text.as_bytes())),
                            "a type, a size, an identifier and a name",
                            "copy the dump anew",
                        );
                        return Err(tokens.blame(bad));
                    };
                    if declared.len() >= MOST {
                        let bad = Bad::new(
                            format!("more than {MOST} variables"),
                            "those of one station",
                            "write a dump of the station alone",
                        );
                        return Err(tokens.blame(bad));
                    }
                    let (scope, id) = (scopes.first().cloned().unwrap_or_default(), id.as_bytes().into());
                    declared.push(Declared { scope, name: name.to_owned(), id, signed: kind == "integer" });
                }
                // `$date`, `$version`, and what others have added to the format.
                other if other.starts_with(b"$") => {
                    tokens.until_end()?;
                }
                other => {
                    let bad = Bad::new(
                        format!("{} stands where a declaration must begin", quoted(other)),
                        "`$timescale`, `$scope`, `$var` ... up to `$enddefinitions $end`",
                        "a recording begins with `# haltproof recording 1`, or is a value change dump; `haltproof manual recordings`",
                    );
                    return Err(tokens.blame(bad));
                }
            }
        }
        let unit = unit.ok_or_else(|| tokens.blame(no_timescale(b"")))?;
        if let Some(mapped) = top.columns.all().iter().find(|mapped| mapped.held_us.is_some()) {
            let bad = Bad::new(
                format!("`{}` is held for some time only, and a dump tells of changes alone", mapped.name),
                "a column without `held for`: what does not change in a dump holds",
                "leave it out",
            );
            return Err(tokens.blame(bad));
        }
        let columns = Columns::new(station, top);
        columns.lines_fit().map_err(|bad| tokens.blame(bad))?;
        resolve(station, columns, declared, unit).map_err(|bad| tokens.blame(bad))
    }
    /// A time in microseconds; a part of one is cut off.
    pub(super) fn microseconds(&self, time: u64) -> Option<u64> {
        // A time of rows has a sign, and no more room either.
        let most = u64::MAX / 2;
        time.checked_mul(self.unit.0).map(|time| time / self.unit.1.max(1)).filter(|time| *time < most)
    }
}

/// A comment may say how the recording starts, and whose a variable is.
fn comment(text: &str, top: &mut Top) -> Result<(), Bad> {
    match text.split(' ').collect::<Vec<_>>().as_slice() {
        ["starts", "running"] => top.starts = Starts::Running,
        ["starts", "power-up"] => top.starts = Starts::PowerUp,
        ["column" | "ignore", ..] if top.columns.all().len() + top.ignored.len() >= MOST => {
            return Err(Bad::new(
                format!("more than {MOST} comments say whose a variable is"),
                "those of one station",
                "write a dump of the station alone",
            ));
        }
        ["column", _, "is", ..] => {
            let mapped = Mapped::read(text.strip_prefix("column").unwrap_or_default())?;
            mapped.map_or(Ok(()), |mapped| top.columns.add(mapped))?;
        }
        ["ignore", name] => top.ignored.push((*name).to_owned()),
        ["stamps", number, unit] => {
            top.stamps_us = duration_us(&format!("{number} {unit}"))
                .ok_or_else(|| Bad::new(format!("`{number} {unit}` is no time"), "a time: `100 ms`", "write one"))?;
        }
        _ => {}
    }
    Ok(())
}

/// `1 ms`, `100us`: microseconds in a unit, and units in a microsecond.
fn timescale(text: &[u8]) -> Option<(u64, u64)> {
    let text = String::from_utf8_lossy(text).replace(' ', "");
    let split = text.find(|c: char| !c.is_ascii_digit())?;
    let (number, unit) = text.split_at_checked(split)?;
    let number: u64 = number.parse().ok().filter(|number| matches!(number, 1 | 10 | 100))?;
    Some(match unit {
        "s" => (number * 1_000_000, 1),
        "ms" => (number * 1_000, 1),
        "us" => (number, 1),
        "ns" => (number, 1_000),
        "ps" => (number, 1_000_000),
        "fs" => (number, 1_000_000_000),
        _ => return None,
    })
}

fn no_timescale(text: &[u8]) -> Bad {
    Bad::new(
        format!("{} is no unit of time", quoted(text)),
        "`$timescale 1 us $end`: 1, 10 or 100 of s, ms, us, ns, ps or fs",
        "write the unit in which the times are counted",
    )
}

/// From the names to the places in a sample.
fn resolve<'s>(
    station: &'s Station,
    columns: Columns<'s>,
    declared: Vec<Declared>,
    unit: (u64, u64),
) -> Result<Head<'s>, Bad> {
    let own: HashMap<String, Dumped> = inputs(station).into_iter().collect();
    // What our own dumps say of the rules is no input.
    let inputs_only = declared.iter().any(|variable| variable.scope == "inputs");
    let (mut variables, mut others, mut slots) = (Vec::new(), HashSet::new(), Vec::new());
    let (mut doubtful, mut broken): (HashMap<usize, usize>, HashMap<usize, usize>) = (HashMap::new(), HashMap::new());
    for Declared { scope, name, id, signed } in declared {
        if (inputs_only && scope != "inputs") || columns.top().ignored.contains(&name) {
            others.insert(id);
            continue;
        }
        let target = match own.get(&name) {
            Some(Dumped::Level(i)) => Target::Level(*i),
            Some(Dumped::Value(i)) => Target::Steps(*i),
            Some(Dumped::Travel(i)) => Target::Travel(*i, 1),
            Some(Dumped::Fresh(i)) => Target::Fresh(*i),
            Some(Dumped::Order(i)) => Target::Order(*i),
            Some(Dumped::Doubtful(i)) => {
                doubtful.insert(*i, variables.len());
                Target::Health
            }
            Some(Dumped::Broken(i)) => {
                broken.insert(*i, variables.len());
                Target::Health
            }
            None => foreign(station, &columns, &name)?,
        };
        slots.extend(slot(target));
        variables.push(Variable { name, id, signed, target });
    }
    columns.complete(&slots)?;
    // A gauge whose health is not told apart is judged by its value.
    for variable in &mut variables {
        if let Target::Steps(i) = variable.target
            && !(doubtful.contains_key(&i) || broken.contains_key(&i))
        {
            variable.target = Target::Value(i, 1e6);
        }
    }
    // One of the two alone is heeded as well.
    let gauges: BTreeSet<usize> = doubtful.keys().chain(broken.keys()).copied().collect();
    let doubt =
        |gauge: usize| Doubt { gauge, doubtful: doubtful.get(&gauge).copied(), broken: broken.get(&gauge).copied() };
    let doubts = gauges.into_iter().map(doubt).collect();
    Ok(Head { columns, variables, doubts, others, unit })
}

/// A variable that is called as its terminal, or is mapped to one by a comment. A unit follows after two underscores.
fn foreign(station: &Station, columns: &Columns<'_>, name: &str) -> Result<Target, Bad> {
    let (plain, unit) = name.rsplit_once("__").map_or((name, None), |(plain, unit)| (plain, Some(unit)));
    let all =
        station.channels.iter().chain(&station.gauge_terminals).chain(&station.sources).chain(&station.link_terminals);
    let mapped = columns.top().mapped(name, plain);
    let terminal = mapped.map(|mapped| &mapped.terminal);
    let Some(terminal) = terminal.or_else(|| all.into_iter().find(|all| identifier(all) == plain || *all == plain))
    else {
        return Err(Bad::new(
            format!("`{name}` is no signal of this station"),
            "a variable called as its terminal: `DI_01`, `AI_01__mA`, `CI_01__mm`, `L_01`",
            "write `$comment column NAME is TERMINAL $end` or `$comment ignore NAME $end` before `$enddefinitions`",
        ));
    };
    let gauge = station.gauge_terminals.iter().position(|gauge| gauge == terminal);
    let own = gauge.and_then(|gauge| columns.gauges.get(gauge).copied().flatten()).map(|gauge| gauge.unit.clone());
    let said = unit.map(|unit| unit.replace("_per_", "/").replace("percent", "%"));
    let said = said.or_else(|| mapped.and_then(|mapped| mapped.unit.clone()));
    let unit = said.or(own).or_else(|| station.sources.contains(terminal).then(|| "mm".to_owned()));
    let called = mapped.map_or(terminal, |mapped| &mapped.name);
    let written = unit.map_or_else(|| called.clone(), |unit| format!("{called}[{unit}]"));
    let ten_to = |places: u32| f64::from(10_u32.pow(places.min(9)));
    Ok(match columns.slot(written.as_bytes())? {
        Slot::Channel(i) => Target::Level(i),
        Slot::Gauge(i, Told::Current(places)) => Target::Current(i, ten_to(places)),
        Slot::Gauge(i, Told::Value(places)) => Target::Value(i, ten_to(places)),
        slot @ (Slot::Gauge(_, Told::CurrentOn(_) | Told::ValueOn(_)) | Slot::CounterOn(..)) => Target::Scaled(slot),
        Slot::Counter(i, mm) => Target::Travel(i, mm),
        Slot::Link(i) => Target::Rank(i),
        Slot::Ignored => Target::Health,
    })
}

/// What a variable covers.
fn slot(target: Target) -> Option<Slot> {
    match target {
        Target::Level(i) => Some(Slot::Channel(i)),
        Target::Value(i, _) | Target::Current(i, _) | Target::Steps(i) => Some(Slot::Gauge(i, Told::Current(6))),
        Target::Scaled(slot) => Some(slot),
        Target::Travel(i, mm) => Some(Slot::Counter(i, mm)),
        Target::Order(i) | Target::Rank(i) => Some(Slot::Link(i)),
        Target::Fresh(_) | Target::Health => None,
    }
}
