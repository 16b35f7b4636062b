//! Required beside computed, for people.

use std::fmt::Write;

use super::NOTICE;
use super::assess::{Assessed, Figure, Sheet};

/// All functions with every number on the way, then a table.
pub fn text(sheet: &Sheet) -> String {
    let mut to = format!("{}\nData: {}\n", sheet.title, sheet.source);
    for function in &sheet.functions {
        // Nothing fails in writing to memory.
        let _whole = one(&mut to, function);
    }
    let _whole = table(&mut to, &sheet.functions);
    to + "\n" + NOTICE + "\n"
}

fn one(to: &mut String, of: &Assessed) -> std::fmt::Result {
    writeln!(to, "\n{} \"{}\"", of.function, of.title)?;
    writeln!(to, "  serves {}; demand: {}, so that {} counts", of.serves.join(", "), of.demand, of.measure)?;
    for part in &of.subsystems {
        writeln!(to, "  {} \"{}\": {}", part.role, part.title, part.method)?;
        for figure in &part.figures {
            writeln!(to, "    {:<52} {:>22}   {}", figure.what, number(figure), figure.source)?;
        }
        if let Some(level) = &part.at_most {
            writeln!(to, "    usable for {level} at most")?;
        }
        for finding in &part.findings {
            writeln!(to, "    ! {finding}")?;
        }
    }
    let sum = of.value.map_or_else(|| "not known".to_owned(), |value| format!("{value:.2e}"));
    let levels = levels(of);
    let comes = if levels.is_empty() { String::new() } else { format!(", which is {levels}") };
    writeln!(to, "  {} in sum {sum}{comes}; required {}: {}", of.measure, of.required, of.verdict.words())?;
    for reason in &of.reasons {
        writeln!(to, "    {reason}")?;
    }
    Ok(())
}

/// A number as it is read: years and shares as decimal numbers, rates with an exponent.
pub fn number(figure: &Figure) -> String {
    let value = match figure.unit {
        "years" => format!("{:.1} years", figure.value),
        "%" => format!("{:.2} %", figure.value),
        "points" => format!("{:.0} points", figure.value),
        unit => format!("{:.2e} {unit}", figure.value).trim_end().to_owned(),
    };
    figure.class.map_or_else(|| value.clone(), |class| format!("{value} ({class})"))
}

/// The levels that it comes to; empty if there is none or the sum is not known.
pub fn levels(of: &Assessed) -> String {
    let levels: Vec<&str> = [&of.pl, &of.sil].into_iter().flatten().map(String::as_str).collect();
    if levels.is_empty() && of.value.is_some() { "no level".to_owned() } else { levels.join(", ") }
}

fn table(to: &mut String, functions: &[Assessed]) -> std::fmt::Result {
    writeln!(to, "\n{:<24} {:<12} {:<9} {:>18}  {:<14} result", "function", "serves", "required", "computed", "level")?;
    for of in functions {
        let value = of.value.map_or_else(|| "-".to_owned(), |value| format!("{} {value:.2e}", of.measure));
        let (serves, levels) = (of.serves.join(", "), levels(of));
        let levels = if levels.is_empty() { "-" } else { &levels };
        writeln!(
            to,
            "{:<24} {serves:<12} {:<9} {value:>18}  {levels:<14} {}",
            of.function,
            of.required,
            of.verdict.words()
        )?;
    }
    Ok(())
}
