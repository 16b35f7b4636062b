//! How far limits can move: to where a requirement is lost, and no farther.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test: what fails here is a failed test, and says where")]

use cross_tests::effort::is_heavy;
use host_tools::load::load;
use host_tools::slack::limits::{Limit, limits};
use host_tools::slack::{Base, End, Slack};
use host_tools::text::parse::Source;
use std::fs;
use std::path::Path;

/// The drive terminal's rule files; in the short form with no requirement but R5, since each must be proved first.
fn drive(short: bool) -> Vec<Source> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/demo");
    let kept = |block: &&str| !short || !block.starts_with("require ") || block.starts_with("require R5 ");
    let read = |name: &str| {
        let text = fs::read_to_string(folder.join(name)).unwrap();
        let text = text.split("\n\n").filter(kept).collect::<Vec<_>>().join("\n\n");
        Source { path: name.to_string(), bytes: text.into_bytes() }
    };
    vec![read("drive-terminal.rules"), read("drive-terminal.requirements.rules")]
}

/// The limit of a watch whose line says so, at the given number of those in the line.
fn limit(all: &[Limit], watch: &str, says: &str, number: usize) -> Limit {
    let found = all.iter().filter(|limit| limit.watch == watch && limit.sentence.contains(says));
    found.clone().nth(number).unwrap_or_else(|| panic!("{watch} says nowhere: {says}")).clone()
}

#[test]
fn a_limit_can_move_to_where_a_requirement_is_lost() {
    let short = !is_heavy();
    let sources = drive(short);
    let station = load(sources.clone()).station.unwrap();
    let (base, not_proved) = Base::new(&sources, &station).unwrap();
    assert_eq!(not_proved, Vec::<String>::new());
    let all = limits(&sources);
    assert!(all.len() > 50, "{}", all.len());
    let ends = |slack: &Slack| slack.ways.clone().map(|way| way.end);
    let written = |limit: &Limit, value: Option<i64>| value.map(|value| limit.text(value));
    // R5 asks for a stop below 6000 N and above 8600 N; a step of the gauge is 10 N, and the rule trips outside its bounds.
    let least = limit(&all, "shut-force", "stays between", 0);
    let slack = base.slack(&least).unwrap();
    assert_eq!(ends(&slack), [End::Refuted("R5".into()), End::Refused("bounds-reversed")]);
    let [down, up] = &slack.ways;
    assert_eq!(written(&least, Some(down.to)), Some("5991 N".into()));
    assert_eq!(written(&least, down.beyond), Some("5990 N".into()));
    assert_eq!(written(&least, Some(up.to)), Some("8400 N".into()));
    if short {
        return;
    }
    let most = limit(&all, "shut-force", "stays between", 1);
    let slack = base.slack(&most).unwrap();
    assert_eq!(ends(&slack), [End::Refused("bounds-reversed"), End::Refuted("R5".into())]);
    // No requirement asks how long the force is looked at.
    let span = limit(&all, "shut-force", "throughout", 0);
    assert_eq!(ends(&base.slack(&span).unwrap()), [End::Never, End::Never]);
}
