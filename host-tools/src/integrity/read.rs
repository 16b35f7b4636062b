//! From the text of a file of safety functions to its form. Every mistake is told, each with its place, but those that another may have
//! made: behind a line that may have begun a function, the next function is waited for.

mod build;
mod line;

use super::fault::Fault;
use super::form::{Channel, Life, Part};
use super::form::{Demand, Form, Level, Measure, Place, Stated};
use super::iec61508::{Architecture, Edition, years};
use super::iso13849::{Category, operations};
use super::levels::{Pl, Sil};
use build::{Building, FunctionBeing, Kind, SubsystemBeing};
use line::Line;

/// Greatest number of hours or years that is believed.
const LONG: f64 = 1e7;

/// Each statement: its first words, and how it is written.
const FORMS: [(&str, &str); 19] = [
    ("functions", "functions \"TITLE\""),
    ("from", "from \"WHERE THE DATA COME FROM\""),
    ("function", "function NAME \"TITLE\""),
    ("serves", "serves REQUIREMENT {and REQUIREMENT}"),
    ("requires", "requires PL a|b|c|d|e, or: requires SIL 1|2|3|4"),
    ("demand", "demand every carrier, or: demand NUMBER per year"),
    ("measure", "measure PFHd, or: measure PFDavg"),
    ("input", SUBSYSTEM),
    ("logic", SUBSYSTEM),
    ("output", SUBSYSTEM),
    ("channel", "channel \"NAME\""),
    (
        "part",
        "part \"NAME\" MTTFd|MTTF YEARS years, DC SHARE %, or: part \"NAME\" B10d|B10 NUMBER cycles, NUMBER per year, DC SHARE %, \
        or with the use as: one each NUMBER s in NUMBER h of NUMBER days",
    ),
    ("common", "common cause NUMBER points"),
    ("failures", "failures RATE per hour (half of them count as dangerous), or: dangerous failures RATE per hour"),
    ("dangerous", "dangerous failures RATE per hour"),
    ("coverage", "coverage SHARE %"),
    ("beta", "beta SHARE %, detected SHARE %"),
    ("tested", "tested each NUMBER years, repaired in NUMBER h"),
    ("stated", "stated PFHd RATE per hour from \"SOURCE\", or: stated PFDavg NUMBER from \"SOURCE\""),
];
const SUBSYSTEM: &str = "input|logic|output \"TITLE\" by ISO 13849-1 category B|1|2|3|4, or: by IEC 61508-6 edition 1|2 1oo1|1oo2|2oo3, or: by statement";
const AT_MOST: &str = "at most PL a|b|c|d|e, or: at most SIL 1|2|3|4";

/// Reads a file of safety functions.
///
/// # Errors
/// What is wrong with it, in the order of the text.
pub fn read(text: &str) -> Result<Form, Vec<Fault>> {
    let mut building = Building::default();
    let mut faults = Vec::new();
    let mut from = 0;
    for written in text.split_inclusive('\n') {
        let line = Line::split(written, from, text);
        from += written.len();
        match line {
            Ok(mut line) if !line.is_empty() => {
                if let Err(fault) = statement(&mut line, &mut building) {
                    faults.push(fault);
                }
            }
            Ok(_) => {}
            Err(fault) => {
                // It may have begun anything.
                building.loses();
                faults.push(fault);
            }
        }
    }
    let form = building.finish(&mut faults);
    faults.sort_by_key(|fault| fault.at.start);
    form.filter(|_| faults.is_empty()).ok_or(faults)
}

fn statement(line: &mut Line<'_>, building: &mut Building) -> Result<(), Fault> {
    let (keyword, place) = line.keyword()?;
    let form = FORMS.iter().find(|(name, _)| *name == keyword).map(|(_, form)| *form);
    let Some(form) = form.or((keyword == "at").then_some(AT_MOST)) else {
        let known: Vec<&str> = FORMS.iter().map(|(name, _)| *name).chain(["at most"]).collect();
        building.loses();
        return Err(Fault {
            at: place,
            what: format!("no statement begins with `{keyword}`"),
            expected: "a statement".into(),
            mend: format!(
                "begin the line with one of: {}; `haltproof manual integrity` describes each",
                known.join(", ")
            ),
        });
    };
    line.is_written(form);
    let done = match keyword {
        "functions" | "from" => {
            let title = line.text()?;
            line.end()?;
            building.head(keyword, title)
        }
        "function" => {
            let begun = function(line, place.clone());
            if begun.is_err() {
                building.loses();
            }
            building.function(begun?)
        }
        "input" | "logic" | "output" => {
            let begun = subsystem(line, keyword, place.clone());
            if begun.is_err() {
                building.loses_subsystem(&place);
            }
            building.subsystem(begun?)
        }
        "serves" | "requires" | "demand" | "measure" => of_function(line, keyword, building, &place),
        _ => of_subsystem(line, keyword, building, &place),
    };
    done.map_err(|what| Fault {
        at: place,
        what,
        expected: "a statement that belongs here, once".into(),
        mend: format!("this one is written so: {form}"),
    })
}

fn function(line: &mut Line<'_>, at: Place) -> Result<FunctionBeing, Fault> {
    let (name, title) = (line.name("the name of the function")?.0, line.text()?);
    line.end()?;
    Ok(FunctionBeing::new(name, title, at))
}

fn subsystem(line: &mut Line<'_>, role: &str, at: Place) -> Result<SubsystemBeing, Fault> {
    let role = ["input", "logic", "output"].into_iter().find(|known| *known == role).unwrap_or("input");
    let title = line.text()?;
    line.word("by")?;
    let kind = match line.one_of(&["ISO", "IEC", "statement"])? {
        "ISO" => {
            line.words(&["13849-1", "category"])?;
            Kind::Iso13849(match line.one_of(&["B", "1", "2", "3", "4"])? {
                "B" => Category::B,
                "1" => Category::One,
                "2" => Category::Two,
                "3" => Category::Three,
                _ => Category::Four,
            })
        }
        "IEC" => {
            line.words(&["61508-6", "edition"])?;
            let edition = if line.one_of(&["1", "2"])? == "1" { Edition::First } else { Edition::Second };
            Kind::Iec61508(
                edition,
                match line.one_of(&["1oo1", "1oo2", "2oo3"])? {
                    "1oo1" => Architecture::OneOfOne,
                    "1oo2" => Architecture::OneOfTwo,
                    _ => Architecture::TwoOfThree,
                },
            )
        }
        _ => Kind::Statement,
    };
    line.end()?;
    Ok(SubsystemBeing::new(role, title, kind, at))
}

fn level(line: &mut Line<'_>) -> Result<Level, Fault> {
    Ok(if line.one_of(&["PL", "SIL"])? == "PL" {
        Level::Pl(match line.one_of(&["a", "b", "c", "d", "e"])? {
            "a" => Pl::A,
            "b" => Pl::B,
            "c" => Pl::C,
            "d" => Pl::D,
            _ => Pl::E,
        })
    } else {
        Level::Sil(Sil(match line.one_of(&["1", "2", "3", "4"])? {
            "1" => 1,
            "2" => 2,
            "3" => 3,
            _ => 4,
        }))
    })
}

/// A statement of a function: what is wrong with its order or number comes back in words.
fn of_function(line: &mut Line<'_>, keyword: &str, building: &mut Building, at: &Place) -> Result<(), String> {
    building.within(line, |line, function| match keyword {
        "serves" => {
            let mut names = vec![line.name("the name of a requirement")?];
            while line.goes_on("and")? {
                names.push(line.name("the name of a requirement")?);
            }
            Ok(function.serves.put(names))
        }
        "requires" => {
            let level = level(line)?;
            line.end()?;
            Ok(function.required.put(level))
        }
        "measure" => {
            let measure = if line.one_of(&["PFHd", "PFDavg"])? == "PFHd" { Measure::Pfh } else { Measure::PfdAvg };
            line.end()?;
            Ok(function.measure.put((measure, at.clone())))
        }
        _ => {
            let demand = if line.next_is("every") {
                line.words(&["every", "carrier"])?;
                Demand::EveryCarrier
            } else {
                let times = line.number(1e-6, 1e9)?;
                line.words(&["per", "year"])?;
                Demand::Yearly(times)
            };
            line.end()?;
            Ok(function.demand.put(demand))
        }
    })
}

/// A statement of a subsystem: what is wrong with its order or number comes back in words.
fn of_subsystem(line: &mut Line<'_>, keyword: &str, building: &mut Building, at: &Place) -> Result<(), String> {
    building.within_subsystem(line, |line, subsystem| {
        let fits = match keyword {
            "channel" => {
                let name = line.text()?;
                subsystem.channels.push((Channel { name, parts: Vec::new() }, at.clone()));
                Ok(())
            }
            "part" => {
                let part = part(line)?;
                subsystem.part(part)
            }
            "common" => {
                line.word("cause")?;
                let points = line.whole(100)?;
                line.word("points")?;
                subsystem.common_cause.put(points)
            }
            "failures" | "dangerous" => {
                let halved = keyword == "failures";
                if !halved {
                    line.word("failures")?;
                }
                let rate = line.number(1e-15, 1.0)?;
                line.words(&["per", "hour"])?;
                subsystem.failures.put((rate, halved))
            }
            "coverage" => {
                let share = line.share()?;
                subsystem.coverage.put(share)
            }
            "beta" => {
                let beta = line.share()?;
                line.words(&[",", "detected"])?;
                let detected = line.share()?;
                subsystem.beta.put((beta, detected))
            }
            "tested" => {
                line.word("each")?;
                let tested = line.number(1e-6, LONG)?;
                line.one_of(&["years", "year"])?;
                line.words(&[",", "repaired", "in"])?;
                let repaired = line.number(0.0, LONG)?;
                line.word("h")?;
                subsystem.tested.put((years(tested), repaired))
            }
            "stated" => {
                let stated = stated(line)?;
                subsystem.stated.put(stated)
            }
            _ => {
                line.word("most")?;
                let level = level(line)?;
                subsystem.at_most.put(level)
            }
        };
        line.end()?;
        Ok(fits.and_then(|()| subsystem.takes(keyword)))
    })
}

fn stated(line: &mut Line<'_>) -> Result<Stated, Fault> {
    let measure = if line.one_of(&["PFHd", "PFDavg"])? == "PFHd" { Measure::Pfh } else { Measure::PfdAvg };
    let value = line.number(1e-15, 1.0)?;
    if measure == Measure::Pfh {
        line.words(&["per", "hour"])?;
    }
    line.word("from")?;
    Ok(Stated { measure, value, source: line.text()? })
}

fn part(line: &mut Line<'_>) -> Result<Part, Fault> {
    let name = line.text()?;
    let given = line.one_of(&["MTTFd", "MTTF", "B10d", "B10"])?;
    let life = match given {
        "MTTFd" | "MTTF" => {
            let life = line.number(1e-3, LONG)?;
            line.one_of(&["years", "year"])?;
            if given == "MTTF" { Life::Mttf(life) } else { Life::Mttfd(life) }
        }
        _ => {
            let cycles = line.number(1.0, 1e12)?;
            line.words(&["cycles", ","])?;
            let a_year = if line.next_is("one") {
                line.words(&["one", "each"])?;
                let seconds = line.number(1e-3, 1e9)?;
                line.words(&["s", "in"])?;
                let hours = line.number(1e-3, 24.0)?;
                line.words(&["h", "of"])?;
                let days = line.number(1e-3, 366.0)?;
                line.word("days")?;
                operations(seconds, hours, days)
            } else {
                let times = line.number(1e-3, 1e12)?;
                line.words(&["per", "year"])?;
                times
            };
            Life::Wears { cycles, dangerously: given == "B10d", a_year }
        }
    };
    line.words(&[",", "DC"])?;
    Ok(Part { name, life, coverage: line.share()? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_manual_describes_every_statement() {
        let page = include_str!("../../manual/integrity.md");
        for (keyword, _) in FORMS.iter().chain([&("at most", "")]) {
            assert!(page.contains(&format!("{keyword} ")), "{keyword}");
        }
    }

    #[test]
    fn each_way_to_give_a_life_is_read() {
        let life = |written: &str| {
            let text = format!("part \"p\" {written}, DC 60 %");
            let mut line = Line::split(&text, 0, &text).unwrap();
            line.keyword().unwrap();
            part(&mut line).unwrap().life
        };
        assert_eq!(life("MTTFd 40 years"), Life::Mttfd(40.0));
        assert_eq!(life("MTTF 1 year"), Life::Mttf(1.0));
        let wears = Life::Wears { cycles: 60e6, dangerously: true, a_year: 2_534_400.0 };
        assert_eq!(life("B10d 60e6 cycles, one each 5 s in 16 h of 220 days"), wears);
        assert_eq!(life("B10d 60000000 cycles, 2534400 per year"), wears);
        // Half of the failures are dangerous.
        let all = life("B10 30e6 cycles, 2534400 per year");
        assert!((all.mttfd() - wears.mttfd()).abs() < 1e-9 && all.t10d() == wears.t10d());
        assert!((Life::Mttf(20.0).mttfd() - 40.0).abs() < 1e-12);
    }
}
