//! Each requirement: what it asks, what is said of it and on what grounds, and what its answer takes in time.

use super::matrix::watch_id;
use super::{Judged, Material, slack, traces};
use crate::page::plain;
use crate::prove::claim::Subject;
use crate::prove::verdict::Verdict;
use crate::prove::words::formula;
use crate::refute::missed::missed;
use crate::replay::text::clock;
use crate::respond::{Demand, demands};
use crate::station::{Form, Ground, Station};
use crate::witness::Arises;
use maud::{Markup, html};

/// Anchor of a requirement.
pub(super) fn requirement_id(requirement: usize) -> String {
    format!("requirement-{requirement}")
}

pub(super) fn section(of: &Material<'_>) -> Markup {
    let station = of.station;
    let demands = demands(station);
    let requirements = of.judged.iter().filter_map(|judged| match judged.judgement.subject {
        Subject::Requirement(i) => Some((i, judged)),
        Subject::Standing(_) => None,
    });
    let standing = of.judged.iter().filter(|judged| matches!(judged.judgement.subject, Subject::Standing(_)));
    html! {
        p { "Proved is: of these rules, as the controller runs them, for every history of inputs from power-up, under what is said to be "
            "taken for granted; another solver has checked it. Refuted is: the history shown misses the stop. Undecided is neither, and no proof." }
        (overview(of))
        @for (i, judged) in requirements { (one(of, i, judged, demands.iter().find(|demand| demand.requirement == i))) }
        h3 { "Of every station, without being asked" }
        div.wide { table {
            thead { tr { th scope="col" { "Name" } th scope="col" { "What no history does" } th scope="col" { "Verdict" } } }
            tbody { @for judged in standing {
                tr {
                    th scope="row" { (judged.judgement.subject.name(station)) }
                    td { (formula(station, judged.judgement.subject)) }
                    td { (verdict(&judged.judgement.verdict)) }
                }
            } }
        } }
        (assumptions(of))
    }
}

/// All of them at a glance.
fn overview(of: &Material<'_>) -> Markup {
    html! {
        div.wide { table {
            thead { tr { th scope="col" { "Requirement" } th scope="col" { "Verdict" } th scope="col" { "Takes for granted" } } }
            tbody { @for judged in of.judged {
                @if let Subject::Requirement(i) = judged.judgement.subject {
                    tr {
                        td { a href={ "#" (requirement_id(i)) } { (plain(judged.judgement.subject.name(of.station))) } ": "
                            (plain(judged.judgement.subject.title(of.station))) }
                        td { (verdict(&judged.judgement.verdict)) }
                        td { @match judged.granted.len() { 0 => { "nothing" } n => { (n) " declared" } } }
                    }
                }
            } }
        } }
    }
}

fn verdict(verdict: &Verdict) -> Markup {
    let (word, open) = match verdict {
        Verdict::Proved(_) => ("proved", false),
        Verdict::Refuted(_) => ("refuted", true),
        Verdict::Undecided(_) => ("undecided", true),
    };
    html! { span.verdict.open[open] { (word) } }
}

fn one(of: &Material<'_>, i: usize, judged: &Judged, demand: Option<&Demand>) -> Markup {
    let station = of.station;
    let subject = judged.judgement.subject;
    let Some(requirement) = station.requirements.get(i) else { return html! {} };
    let hazards = requirement.hazards.iter().filter_map(|&h| station.hazards.get(h));
    html! {
        article id=(requirement_id(i)) {
            h3 { (plain(subject.name(station))) ": " (plain(subject.title(station))) " " (verdict(&judged.judgement.verdict)) }
            p { (plain(&formula(station, subject))) "." }
            @if !requirement.hazards.is_empty() {
                p.soft { "Hazards: " @for (n, hazard) in hazards.enumerate() { @if n > 0 { "; " } (plain(&hazard.name.text)) " " (plain(&hazard.title)) } }
            }
            @if !judged.granted.is_empty() {
                p { "Taken for granted:" }
                ul { @for granted in &judged.granted { li { (plain(granted)) } } }
            }
            @if !matches!(requirement.form, Form::Held { .. }) { (arises(of, i)) }
            (grounds(station, &judged.judgement.verdict))
            @if let Some(demand) = demand { (times(station, demand)) }
            (slack::beside(of, subject.name(station)))
        }
    }
}

fn arises(of: &Material<'_>, i: usize) -> Markup {
    let found = of.arises.iter().find(|(requirement, _)| *requirement == i).map(|(_, arises)| arises);
    html! {
        p { @match found {
            None => { "Whether it is ever asked was not looked for." }
            Some(Arises::Found(witness)) => { "Asked: " (plain(&witness.asked.words(of.station))) "." }
            Some(Arises::NeedNot(because)) => { "It need not arise, says its author: " (plain(because)) "." }
            Some(Arises::NotFound) => { strong { "No history was found in which it is asked: it may hold for want of a question." } }
        } }
    }
}

/// What a verdict rests on.
fn grounds(station: &Station, verdict: &Verdict) -> Markup {
    match verdict {
        Verdict::Proved(claimed) => html! {
            p.soft { (claimed.lemmas.len()) " lemmas, checked by another solver." }
        },
        Verdict::Undecided(reason) => html! { p { strong { "Undecided: " (plain(reason)) "." } } },
        Verdict::Refuted(found) => {
            let remarks = missed(station, found).unwrap_or_default();
            let at = |scan: u64| clock(scan.saturating_mul(u64::from(station.scan_us)));
            html! {
                p { strong { "A history of " (found.history.scans()) " scans misses it; it was replayed from power-up." } }
                (traces::picture(station, found))
                p { "Why nothing answers in time:" }
                ul { @for remark in &remarks { li { (at(remark.scan)) " " (plain(&remark.words)) } } }
            }
        }
    }
}

/// The sum of the slowest path that answers, against what is allowed.
fn times(station: &Station, demand: &Demand) -> Markup {
    let ms = |us: u64| format!("{} ms", us.div_ceil(1_000));
    html! {
        @if let Some(path) = &demand.slowest {
            div.wide { table {
                thead { tr {
                    th scope="col" { "Slowest watch" } th scope="col" { "sampling" } th scope="col" { "settling" } th scope="col" { "hold" }
                    th scope="col" { "deciding" } th scope="col" { "output" } th scope="col" { "sum" } th scope="col" { "may last" } th scope="col" { "within" }
                } }
                tbody { tr {
                    td { a href={ "#" (watch_id(path.watch)) } { (plain(&path.name)) } ", " (path.way.text()) }
                    td.number { (ms(path.sampling_us)) } td.number { (ms(path.settling_us)) } td.number { (ms(path.hold_us)) }
                    td.number { (ms(path.deciding_us)) } td.number { (ms(path.output_us)) } td.number { (ms(path.total_us())) }
                    td.number { (ms(demand.lasting_us)) } td.number { (ms(demand.within_us)) }
                } }
            } }
        } @else {
            p { "No single watch answers it with " (plain(station.answer(demand.least))) ": no sum of times is given." }
        }
    }
}

/// The requirement that a watch holds an assumption, as it was judged.
fn holding<'m>(of: &'m Material<'_>, assumption: usize) -> Option<(usize, &'m Judged)> {
    of.judged.iter().find_map(|judged| {
        let Subject::Requirement(i) = judged.judgement.subject else { return None };
        let form = &of.station.requirements.get(i)?.form;
        matches!(form, Form::Held { assumption: held, .. } if *held == assumption).then_some((i, judged))
    })
}

fn assumptions(of: &Material<'_>) -> Markup {
    let station = of.station;
    html! {
        @if !station.assumptions.is_empty() {
            h3 { "Assumptions" }
            ul { @for (number, assumption) in station.assumptions.iter().enumerate() {
                li { (plain(&assumption.name.text)) ": " (plain(&assumption.title)) "; "
                    @match &assumption.ground {
                        Ground::HeldBy(watch) => {
                            "held by " (plain(station.watches.get(*watch).map_or("", |watch| &watch.name.text)))
                            @if let Some((i, judged)) = holding(of, number) {
                                ", which stops whatever breaks it: "
                                a href={ "#" (requirement_id(i)) } { (verdict(&judged.judgement.verdict)) }
                            }
                        }
                        Ground::Evidence(text) => { "on evidence: " (plain(text)) }
                    }
                }
            } }
        }
    }
}
