//! Carriers by number, as one page with pictures: which of them to look at, and each one's grip and way through the station as a strip over the days.

use super::draw::{Axis, WIDE, number, round};
use crate::carriers::strip::Strip;
use crate::carriers::told::Told;
use crate::carriers::trend::Own;
use crate::carriers::{Change, Day, Days};
use crate::page::{page_of, plain};
use crate::station::Station;
use maud::{Markup, html};
use std::collections::BTreeMap;
use std::fmt::Write as _;

#[cfg(test)]
mod tests;

/// Carriers of one picture: no more than a sheet of paper holds.
const ROWS: usize = 15;
/// Height of a carrier's row, and of what is drawn in it.
const ROW: f64 = 34.0;
const DRAWN: f64 = 26.0;
const LEFT: f64 = 150.0;

/// What was followed.
#[derive(Debug)]
pub struct Followed<'f> {
    /// The station.
    pub station: &'f Station,
    /// Names of the rule files.
    pub rules: &'f [String],
    /// SHA-256 of the rule files, one after the other.
    pub digest: &'f str,
    /// All days.
    pub days: &'f Days,
    /// How each value is told: the force, then each travel.
    pub told: &'f [Told],
    /// What of the recordings was passed over, in words.
    pub passed_over: &'f [String],
}

/// The page.
pub fn fleet(of: &Followed<'_>) -> String {
    let title = format!("Carriers of {}, revision {}", of.station.title, of.station.revision);
    let mut sections = vec![
        ("identity", "What was followed", identity(of)),
        ("look", "Carriers to look at", to_look_at(of)),
        ("days", "Days on which there is something to tell", days(of)),
    ];
    let places: Vec<String> = (0..of.told.len()).map(|at| format!("value-{at}")).collect();
    for (at, ((told, strips), place)) in of.told.iter().zip(&of.days.strips).zip(&places).enumerate() {
        sections.push((place, &told.name, strips_of(of, at, told, strips)));
    }
    page_of(&title, &sections)
}

fn identity(of: &Followed<'_>) -> Markup {
    let station = of.station;
    let numbered: u64 = of.days.days.iter().map(|day| day.numbered).sum();
    let names: Vec<String> = of.days.days.iter().map(|day| plain(&day.name)).collect();
    let rows = [
        ("Station", plain(&station.title)),
        ("Revision", station.revision.to_string()),
        ("Rule files", of.rules.iter().map(|name| plain(name)).collect::<Vec<_>>().join(", ")),
        ("SHA-256 of the files, one after the other", of.digest.to_owned()),
        ("Recordings, each a day", names.join(", ")),
        ("Made with", concat!("haltproof ", env!("CARGO_PKG_VERSION")).to_owned()),
        ("Carriers on the rope", of.days.there().count().to_string()),
        ("Taken out", of.days.gone().map(|carrier| carrier.to_string()).collect::<Vec<_>>().join(", ")),
        ("Passings numbered", numbered.to_string()),
    ];
    html! {
        table.long { tbody { @for (what, value) in rows.into_iter().filter(|(_, value)| !value.is_empty()) { tr { th scope="row" { (what) } td { (value) } } } } }
        @for of in of.passed_over { p { (plain(of)) } }
        p.soft { "Nobody reads a number plate: carriers are known by their order on the rope and by the forces of their grips. "
            "What is named is a reason to look at a grip; what is not named is no proof that a grip is sound." }
    }
}

/// Carriers of a value of which something was found, in their order.
fn named(days: &Days, at: usize) -> impl Iterator<Item = (u32, &Own)> {
    let all = days.trends.get(at).into_iter().flat_map(|trend| &trend.own);
    all.filter(|(_, own)| !own.found.is_empty()).map(|(carrier, own)| (*carrier, own))
}

fn found_words(own: &Own) -> String {
    own.found.iter().map(|(found, day)| format!("{} since day {day}", found.words())).collect::<Vec<_>>().join(", ")
}

fn to_look_at(of: &Followed<'_>) -> Markup {
    let rows: Vec<_> = of
        .told
        .iter()
        .enumerate()
        .flat_map(|(at, told)| named(of.days, at).map(move |(carrier, own)| (at, told, carrier, own)))
        .collect();
    html! {
        @if !of.days.is_judged() { p { "Not judged: too few days were numbered to tell how much carriers differ from day to day." } }
        @else if rows.is_empty() { p { "No carrier moves away from what it was or stands out." } }
        @if !rows.is_empty() { div.wide { table {
            thead { tr { th scope="col" { "Carrier" } th scope="col" { "Value" } th scope="col" { "What" } th scope="col" { "Smoothed" } th scope="col" { "Today, by its last days" } th scope="col" { "A day" } th scope="col" { "Days to limit" } } }
            tbody { @for (at, told, carrier, own) in rows { tr {
                td.number { a href={ "#" (picture_id(of, at, carrier)) } { (carrier) } }
                td { (plain(&told.name)) }
                td { (found_words(own)) }
                td.number { (short(told, own.smooth())) }
                td.number { (own.today().map_or_else(|| "-".into(), |today| short(told, today))) }
                td.number { (own.slope().map_or_else(|| "-".into(), |slope| told.apart(slope))) }
                td.number { (told.days_to_limit(own).map_or_else(|| "-".into(), |days| format!("{days:.0}"))) }
            } } }
        } } }
    }
}

fn days(of: &Followed<'_>) -> Markup {
    let tells = |day: &&Day| day.left_out + day.unknown > 0 || !day.changes.is_empty();
    let rows: Vec<(usize, &Day)> = (1..).zip(&of.days.days).filter(|(_, day)| tells(day)).collect();
    let changes = |day: &Day| {
        let words = |change: &Change| match change {
            Change::TakenOut(carrier) => format!("{carrier} does not come any more: taken out"),
            Change::Back(carrier) => format!("{carrier} is back in its place"),
            Change::New(carrier, after) => {
                format!("one that is not known comes behind {after}: it gets number {carrier}")
            }
        };
        day.changes.iter().map(words).collect::<Vec<_>>().join("; ")
    };
    html! {
        @if rows.is_empty() { p { "There is none: every passing was numbered, and the same carriers came." } } @else { div.wide { table {
            thead { tr { th scope="col" { "Day" } th scope="col" { "Recording" } th scope="col" { "Numbered" } th scope="col" { "Left out" } th scope="col" { "Of nobody known" } th scope="col" { "Carriers" } } }
            tbody { @for (number, day) in rows { tr {
                td.number { (number) } td { (plain(&day.name)) } td.number { (day.numbered) } td.number { (day.left_out) } td.number { (day.unknown) }
                td { (changes(day)) }
            } } }
        } } }
    }
}

/// Carriers that have a strip of a value, those of a picture together.
fn pictures(strips: &BTreeMap<u32, Strip>) -> Vec<Vec<(u32, &Strip)>> {
    let all: Vec<(u32, &Strip)> =
        strips.iter().filter(|(_, strip)| strip.bins().next().is_some()).map(|(c, s)| (*c, s)).collect();
    all.chunks(ROWS).map(<[_]>::to_vec).collect()
}

/// The picture in which a carrier's strip is.
fn picture_id(of: &Followed<'_>, at: usize, carrier: u32) -> String {
    let all = of.days.strips.get(at).map(pictures).unwrap_or_default();
    let place = all.iter().position(|rows| rows.iter().any(|(number, _)| *number == carrier));
    place.map_or_else(|| format!("value-{at}"), |place| format!("value-{at}-{place}"))
}

fn strips_of(of: &Followed<'_>, at: usize, told: &Told, strips: &BTreeMap<u32, Strip>) -> Markup {
    let bins = || strips.values().flat_map(Strip::bins).map(|(_, _, bin)| bin);
    let limits = || told.limits.iter().flatten().copied();
    let least = bins().map(|bin| bin.least).chain(limits()).reduce(f64::min);
    let most = bins().map(|bin| bin.most).chain(limits()).reduce(f64::max);
    let (Some(least), Some(most), true) = (least, most, bins().next().is_some()) else {
        return html! { p { "Nothing was measured." } };
    };
    let words: Vec<String> = limits().map(|limit| told.in_unit(limit)).collect();
    let limits =
        if words.is_empty() { "no limits in this unit".to_owned() } else { format!("limits {}", words.join(" and ")) };
    let scale = Scale { least, most: if most > least { most } else { least + 1.0 } };
    html! {
        p { "Each row is a carrier, from " (told.in_unit(least)) " below to " (told.in_unit(most)) " above, the same in all rows; " (limits) ", dashed. "
            "Grey is from the least to the greatest of a part of a day or of several days, the line is their mean." }
        @for (place, rows) in pictures(strips).iter().enumerate() {
            div.wide id={ "value-" (at) "-" (place) } { (picture(of, at, told, rows, &scale, &limits)) }
        }
    }
}

/// Values that a row shows, from its bottom to its top.
#[derive(Debug, Clone, Copy)]
struct Scale {
    least: f64,
    most: f64,
}

impl Scale {
    fn y(self, top: f64, value: f64) -> f64 {
        round(top + DRAWN * (self.most - value) / (self.most - self.least))
    }
}

#[expect(clippy::cast_precision_loss, reason = "days and carriers are far below two to the power of 53")]
fn picture(of: &Followed<'_>, at: usize, told: &Told, rows: &[(u32, &Strip)], scale: &Scale, limits: &str) -> Markup {
    let axis = Axis::new(0.0, of.days.days.len() as f64, LEFT);
    let own = |carrier: u32| of.days.trends.get(at).and_then(|trend| trend.own.get(&carrier));
    let notes: Vec<String> = rows
        .iter()
        .filter_map(|(carrier, _)| {
            Some(format!("carrier {carrier} {}", found_words(own(*carrier).filter(|own| !own.found.is_empty())?)))
        })
        .collect();
    let ends = |end: Option<&(u32, &Strip)>| end.map_or(0, |(carrier, _)| *carrier);
    let label = format!(
        "{} of carriers {} to {} over {} days, {limits}; {}",
        plain(&told.name),
        ends(rows.first()),
        ends(rows.last()),
        of.days.days.len(),
        if notes.is_empty() { "nothing was found of them".to_owned() } else { notes.join("; ") }
    );
    let high = ROW * rows.len() as f64 + 8.0;
    html! {
        svg viewBox={ "0 0 " (WIDE) " " (high + 22.0) } role="img" aria-label=(label) {
            @for (row, (carrier, strip)) in rows.iter().enumerate() {
                @let top = ROW * row as f64 + 6.0;
                @let own = own(*carrier);
                @let stands_out = own.is_some_and(|own| !own.found.is_empty());
                text x="0" y=(top + 12.0) font-weight=(if stands_out { "bold" } else { "normal" }) { (carrier) @if stands_out { " to look at" } }
                @if let Some(own) = own { text.soft x="0" y=(top + 25.0) { "smoothed " (short(told, own.smooth())) } }
                rect x=(LEFT) y=(top - 1.0) width=(WIDE - 20.0 - LEFT) height=(DRAWN + 2.0) fill="#eef0f2" {}
                path d=(ranges(strip, &axis, scale, top)) stroke="#b4bac0" stroke-width=(round(wide_of(strip, &axis))) fill="none" {}
                path d=(means(strip, &axis, scale, top)) stroke="#16191d" stroke-width="1.5" fill="none" {}
                @for limit in told.limits.iter().flatten() {
                    line x1=(LEFT) x2=(WIDE - 20.0) y1=(scale.y(top, *limit)) y2=(scale.y(top, *limit)) stroke="#16191d" stroke-dasharray="4 4" stroke-width="0.8" {}
                }
            }
            (axis.grid(4.0, high, "d"))
        }
    }
}

/// A value with the digits that a mean deserves, and its unit.
fn short(told: &Told, value: f64) -> String {
    let value = told.number(value);
    let digits = if value.abs() < 100.0 { 3 } else { 0 };
    format!("{value:.digits$} {}", plain(&told.unit))
}

/// Width of a bin; all of a strip are alike.
fn wide_of(strip: &Strip, axis: &Axis) -> f64 {
    // A little wider than it is, so that no seam shows.
    strip.bins().next().map_or(1.0, |(from, to, _)| (axis.x(to) - axis.x(from)).max(0.8) + 0.3)
}

/// From the least to the greatest of each bin; a dot's height where they are one.
fn ranges(strip: &Strip, axis: &Axis, scale: &Scale, top: f64) -> String {
    let mut path = String::new();
    for (from, to, bin) in strip.bins() {
        let (low, high) = (scale.y(top, bin.least), scale.y(top, bin.most));
        let _ = write!(
            path,
            "M{} {}V{}",
            number(f64::midpoint(axis.x(from), axis.x(to))),
            number(low + 0.5),
            number(high - 0.5)
        );
    }
    path
}

/// The means of bins, as steps; they are joined but where the carrier did not come for a day.
fn means(strip: &Strip, axis: &Axis, scale: &Scale, top: f64) -> String {
    let (mut path, mut last) = (String::new(), None);
    for (from, to, bin) in strip.bins() {
        let [left, right] = [axis.x(from), axis.x(to)].map(number);
        let y = number(scale.y(top, bin.mean()));
        let _ = match last {
            Some(last) if from - last < 1.0 => write!(path, "H{left}V{y}H{right}"),
            _ => write!(path, "M{left} {y}H{right}"),
        };
        last = Some(to);
    }
    path
}
