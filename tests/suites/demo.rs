//! Every scenario of the two demo stations, simulated with the rules in the loop: each incident is
//! stopped with the cause that its first line expects, and the ordinary mornings are quiet.
#![allow(
    clippy::indexing_slicing,
    clippy::cast_precision_loss,
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a test that panics has failed, as it should; the table of causes is worth reading"
)]

use host_tools::load::load;
use host_tools::runner::with_runner;
use host_tools::simulate::{Obeyed, Scenario, Simulator};
use host_tools::station::ways::{Source, WayOf, ways};
use host_tools::station::{Station, WatchKind};
use host_tools::text::parse::Source as Text;
use host_tools::told::lead_in;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo")
}

fn station(which: &str) -> Station {
    let files = ["rules", "requirements.rules"].map(|ending| {
        let path = format!("{which}-terminal.{ending}");
        Text { bytes: fs::read(demo().join(&path)).unwrap(), path }
    });
    let loaded = load(files.into());
    assert!(loaded.findings.is_empty(), "{which}: {:#?}", loaded.findings);
    loaded.station.unwrap()
}

/// A way as a scenario's first line names it.
fn spelt(station: &Station, way: &WayOf) -> String {
    let word = format!("{:?}", way.way).to_lowercase();
    match way.source {
        Source::PowerUp => "controller started".to_owned(),
        Source::Modes => format!("mode {word}"),
        Source::Mode(i) => format!("{} {word}", station.modes[i].name.text),
        Source::Output(i) => format!("{} {word}", station.outputs[i].name.text),
        Source::Slow(i) => format!("{} {word}", station.slows[i].name.text),
        Source::Input(i) => format!("{} {word}", station.inputs[i].name.text),
        Source::Watch(i) => format!("{} {word}", station.watches[i].name.text),
    }
}

/// What a run came to.
#[derive(Default)]
struct Run {
    /// First-out of each stoppage, and when.
    stoppages: Vec<(f64, Vec<String>)>,
    /// Requirements that were missed, and when.
    missed: Vec<(f64, String)>,
    met: u64,
    broken: Vec<f64>,
    carriers: u64,
    seconds: f64,
    slowed: f64,
    not_done: Vec<usize>,
}

fn run(station: &Station, text: &str) -> Run {
    let scenario = Scenario::read(text, station).unwrap_or_else(|problems| panic!("{problems:#?}"));
    let all = ways(station);
    let travel = station.watches.iter().position(|w| matches!(w.kind, WatchKind::Travel(_))).unwrap();
    let mut run = Run::default();
    let mut simulator = Simulator::new(station, &scenario, 1);
    with_runner(station, |runner| {
        let mut lead = if scenario.powers_up { 0 } else { lead_in(station) };
        let mut obeyed = None;
        let mut stood = false;
        while let Some(scan) = simulator.scan(obeyed.as_ref()) {
            let seconds = scan.at_us as f64 / 1e6;
            if scan.restarted {
                runner.restart();
                stood = false;
            }
            let told = runner.scan(&scan.sample);
            run.seconds = seconds;
            if lead > 0 {
                lead -= 1;
                obeyed = None;
                if lead == 0 {
                    runner.adopt();
                }
                continue;
            }
            let stands = told.latched_any;
            if stands && !stood {
                let causes = told.first.iter().map(|&way| spelt(station, &all[usize::from(way)])).collect();
                run.stoppages.push((seconds, causes));
            }
            stood = stands && !told.reset;
            if told.answer > 0 && told.answer < station.first_stop() {
                run.slowed += f64::from(station.scan_us) / 1e6;
            }
            run.missed
                .extend(told.missed.iter().map(|&r| (seconds, station.requirements[usize::from(r)].name.text.clone())));
            run.met += told.met.len() as u64;
            if !told.broken.is_empty() {
                run.broken.push(seconds);
            }
            run.carriers += told.judged.iter().filter(|j| usize::from(j.watch) == travel).count() as u64;
            obeyed = Some(Obeyed::from(told));
        }
    })
    .unwrap();
    run.not_done = simulator.missed();
    run
}

fn scenarios(which: &str) -> Vec<(String, String)> {
    let mut found: Vec<(String, String)> = fs::read_dir(demo())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "scenario"))
        .map(|path| (path.file_stem().unwrap().to_str().unwrap().to_owned(), fs::read_to_string(&path).unwrap()))
        .filter(|(name, _)| name.starts_with(which) && !name.ends_with("morning"))
        .collect();
    found.sort();
    found
}

fn incidents(which: &str, at_least: usize) {
    let station = station(which);
    let all = scenarios(which);
    assert!(all.len() >= at_least, "{which}: {} incidents", all.len());
    let mut wrong = String::new();
    for (name, text) in all {
        let expected = text.lines().next().and_then(|line| line.strip_prefix("# expect: ")).unwrap_or("").to_owned();
        let run = run(&station, &text);
        // The stop of the power-up at the beginning is no incident.
        let begins = usize::from(run.stoppages.first().is_some_and(|(at, _)| *at == 0.0));
        let first = run.stoppages.get(begins);
        println!(
            "{name:28} {:>8.2} s  {}",
            first.map_or(0.0, |f| f.0),
            first.map_or(String::new(), |f| f.1.join(", "))
        );
        let right = first.is_some_and(|(_, causes)| causes.contains(&expected))
            || expected == "rollback tripped" && run.stoppages.iter().any(|(_, c)| c.contains(&expected));
        if !right || !run.missed.is_empty() {
            writeln!(
                wrong,
                "{name}: expected {expected}, seen {:?}, missed {:?}, not done {:?}",
                run.stoppages, run.missed, run.not_done
            )
            .unwrap();
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn each_incident_of_the_drive_terminal_is_stopped_with_its_cause() {
    incidents("drive", 10);
}

#[test]
fn each_incident_of_the_return_terminal_is_stopped_with_its_cause() {
    incidents("return", 8);
}

fn morning(which: &str) {
    let station = station(which);
    let run = run(&station, &fs::read_to_string(demo().join(format!("{which}-morning.scenario"))).unwrap());
    let causes: Vec<&str> = run.stoppages.iter().flat_map(|(_, causes)| causes.iter().map(String::as_str)).collect();
    println!(
        "{which}: {} carriers in {:.2} h, {:.0} min under a slow order",
        run.carriers,
        run.seconds / 3_600.0,
        run.slowed / 60.0
    );
    assert_eq!(causes, ["controller started", "platform-stop-pressed tripped"], "{:?}", run.stoppages);
    assert!(
        run.missed.is_empty() && run.broken.is_empty() && run.not_done.is_empty(),
        "missed {:?}, broken {:?}, not done {:?}",
        run.missed,
        run.broken,
        run.not_done
    );
    assert!(run.seconds >= 7_200.0 && run.carriers >= 400 && run.slowed >= 3_600.0);
}

#[test]
fn an_ordinary_morning_at_the_drive_terminal_is_quiet() {
    morning("drive");
}

#[test]
fn an_ordinary_morning_at_the_return_terminal_is_quiet() {
    morning("return");
}
