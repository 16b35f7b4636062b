//! What is written, held against what was read by other means than the syntax tree.

use std::fs;
use std::path::Path;

use super::format;
use crate::text::lex::{TokenKind, lex};
use crate::text::place::{Place, Placed};
use crate::text::tests::{Dice, EVERY, placeless, read, round, sound};
use crate::text::tree::{Condition, ConditionKind, Effect, Kind, Quantity, Said, Tally, UnderWay, Unit, WatchKind};

/// The words of a text in alphabetical order, without what may stand or not stand between them.
fn words(text: &str) -> Vec<String> {
    let (statements, _, _) = lex(text, 0);
    let tokens = statements.into_iter().flat_map(|s| s.tokens);
    let mut words: Vec<String> = tokens
        .filter_map(|token| match token.kind {
            TokenKind::Comma | TokenKind::Open | TokenKind::Close => None,
            TokenKind::Word(word) if word == "and" => None,
            TokenKind::Word(word) if word == "carrier" => Some("carriers".to_owned()),
            TokenKind::Word(word) => Some(word),
            kind => Some(format!("{kind:?}")),
        })
        .collect();
    words.sort_unstable();
    words
}
/// Every comment of a text, in order.
fn comments(text: &str) -> Vec<String> {
    let (statements, trailing, _) = lex(text, 0);
    let mut all: Vec<String> = Vec::new();
    for statement in statements {
        all.extend(statement.before);
        all.extend(statement.note);
        all.extend(statement.inside);
    }
    all.extend(trailing);
    all.retain(|line| !line.is_empty());
    all
}
/// Every rule file below a folder.
fn below(folder: &Path, files: &mut Vec<(String, String)>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            below(&path, files);
        } else if path.extension().is_some_and(|end| end == "rules") {
            let text = fs::read_to_string(&path).unwrap();
            files.push((path.display().to_string(), text));
        }
    }
}
fn cases() -> Vec<(String, String)> {
    let host = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    below(&host.join("../tests/cases"), &mut files);
    below(&host.join("demo"), &mut files);
    files.retain(|(_, text)| read(text.as_bytes()).1.is_empty());
    files.sort_unstable();
    files
}

#[test]
fn every_good_case_is_written_with_the_same_words_and_comments() {
    let cases = cases();
    for name in ["cases/base.rules", "demo/drive-terminal.rules"] {
        assert!(cases.iter().any(|(path, _)| path.ends_with(name)), "{name}");
    }
    for (path, text) in cases {
        let written = round(&sound(&text));
        assert_eq!(words(&written), words(&text), "{path}");
        assert_eq!(comments(&written), comments(&text), "{path}");
        assert_eq!(written.trim_end(), written.trim_end_matches('\n'), "{path}");
        for line in written.lines() {
            assert_eq!(line.trim_end(), line, "{path}");
            assert!(line.starts_with('#') || line.chars().count() <= 100, "{path}: {line}");
        }
    }
}

#[test]
fn a_comment_at_any_gap_is_kept_once() {
    let (statements, _, _) = lex(EVERY, 0);
    for statement in statements {
        let tokens: Vec<Place> = statement.tokens.iter().map(|t| t.place).collect();
        let (start, end) = (tokens[0].start as usize, tokens[tokens.len() - 1].end as usize);
        let bare = placeless(&sound(&format!("{}\n", &EVERY[start..end])));
        for (n, place) in tokens.iter().enumerate() {
            let at = place.end as usize;
            for mark in [" # x\n    ", "\n    # x\n    ## y\n\n    ", "\n# x\n\n    #\n    ", " #\n    "] {
                let text = format!("{}{mark}{}\n", &EVERY[start..at], &EVERY[at..end]);
                let file = sound(&text);
                let written = round(&file);
                assert_eq!(words(&written), words(&text), "{n}: {text}");
                assert_eq!(comments(&written).concat(), comments(&text).concat(), "{text}");
                // But for its comments the statement is the same.
                let mut stripped = file;
                for statement in &mut stripped.statements {
                    statement.inside.clear();
                }
                stripped.trailing.clear();
                let without = bare.split_once("inside: [").map(|(_, rest)| rest);
                let ours = placeless(&stripped);
                let without = without.and_then(|rest| rest.split_once(']')).map(|(_, kind)| kind);
                let ours = ours.split_once("inside: []").map(|(_, kind)| kind);
                assert_eq!(ours, without, "{text}");
            }
        }
    }
}

/// Names that are words of the language where it lets them be.
#[test]
fn a_keyword_as_a_name_is_written_so_that_it_is_read_again() {
    let mut keywords: Vec<String> = words(EVERY);
    keywords.dedup();
    keywords.retain(|w| w.chars().all(|c| c.is_ascii_lowercase()) && w != "or" && w != "not");
    let (statements, _, _) = lex(EVERY, 0);
    let mut read_well = 0;
    for statement in statements {
        let (first, last) = (&statement.tokens[0], &statement.tokens[statement.tokens.len() - 1]);
        let (start, end) = (first.place.start as usize, last.place.end as usize);
        for token in &statement.tokens[1..] {
            if !matches!(token.kind, TokenKind::Word(_)) {
                continue;
            }
            for keyword in &keywords {
                let (from, to) = (token.place.start as usize, token.place.end as usize);
                let text = format!("{}{keyword}{}\n", &EVERY[start..from], &EVERY[to..end]);
                let (file, findings) = read(text.as_bytes());
                if findings.is_empty() {
                    round(&file);
                    read_well += 1;
                }
            }
        }
    }
    assert!(read_well > 5_000, "{read_well}");
}

#[test]
fn damaged_stations_are_written_so_that_they_read_the_same() {
    let mut dice = Dice(0x0dd0_5eed_0dd0_5eed);
    let texts: Vec<String> = cases().into_iter().map(|(_, text)| text).chain([EVERY.to_owned()]).collect();
    let mut read_well = 0;
    for _ in 0..5_000 {
        let mut bytes = texts[dice.below(texts.len())].clone().into_bytes();
        for _ in 0..=dice.below(3) {
            let (at, other) = (dice.below(bytes.len()), dice.below(bytes.len()));
            match dice.below(4) {
                0 => bytes[at] = b"# \n,()-09azAZ\"\r\t%./\xc3"[dice.below(20)],
                1 => drop(bytes.remove(at)),
                2 => bytes.insert(at, b"# \n,()-09azAZ\"\r\t%./\xc3"[dice.below(20)]),
                _ => bytes.swap(at, other),
            }
        }
        let (file, findings) = read(&bytes);
        if findings.is_empty() {
            round(&file);
            read_well += 1;
        } else {
            let _ = format(&file);
        }
    }
    assert!(read_well > 300, "{read_well}");
}

fn quantity(dice: &mut Dice) -> Quantity {
    let mantissa = i64::try_from(dice.below(2_000_000)).unwrap() - 1_000_000;
    let mantissa = [mantissa, mantissa % 10, 999_999_999_999, 0][dice.below(4)];
    Quantity {
        mantissa,
        decimals: u8::try_from(dice.below(10)).unwrap(),
        unit: Unit::ALL[dice.below(Unit::ALL.len())],
        place: Place::default(),
    }
}
fn said(dice: &mut Dice) -> Said {
    let (a, b) = (quantity(dice), quantity(dice));
    let under_way = UnderWay {
        from: Placed::new("first".to_owned(), Place::default()),
        length: a,
        pace: Placed::new("rope".to_owned(), Place::default()),
    };
    match dice.below(34) {
        0 => Said::Open,
        1 => Said::Closed,
        2 => Said::Covered,
        3 => Said::Clear,
        4 => Said::Held,
        5 => Said::Free,
        6 => Said::Above(a),
        7 => Said::Below(a),
        8 => Said::Between(a, b),
        9 => Said::Outside(a, b),
        10 => Said::Faster(a),
        11 => Said::AtMost(a),
        12 => Said::Still,
        13 => Said::Moving,
        14 => Said::RollsBack(a),
        15 => Said::Faulty,
        16 => Said::SeenOff,
        17 => Said::Stands,
        18 => Said::Released,
        19 => Said::Differing,
        27 => Said::Silent,
        31 => Said::Pressed(a),
        28 => Said::DifferedOver(a),
        29 => Said::MovesOver(b),
        30 => Said::SourcesDiffer(a),
        20 => Said::CoveredOver(a, Placed::new("rope".to_owned(), Place::default())),
        21 => Said::Changes(Placed::new(7, Place::default())),
        22 => Said::DiffersFrom(Placed::new("other".to_owned(), Place::default()), a),
        23 => Said::RisesCloser(a, Placed::new("rope".to_owned(), Place::default())),
        32 => Said::Miscounts(Box::new(Tally {
            from: Placed::new("first".to_owned(), Place::default()),
            most: Placed::new(2, Place::default()),
            confirmed: Placed::new(0, Place::default()),
            key: Placed::new("empty".to_owned(), Place::default()),
            pressed: a,
            unknown: (b.mantissa > 0).then(|| (Placed::new("refill".to_owned(), Place::default()), b)),
        })),
        25 => Said::RisesUnawaited(under_way),
        26 => Said::Awaits(Placed::new(3, Place::default()), under_way),
        24 => Said::RisesFarther(b, Placed::new("rope".to_owned(), Place::default())),
        _ => Said::Active,
    }
}
fn condition(dice: &mut Dice, depth: usize) -> Condition {
    let parts = |dice: &mut Dice| {
        let many = 2 + dice.below(3);
        (0..many).map(|_| condition(dice, depth - 1)).collect()
    };
    let kind = match dice.below(if depth == 0 { 1 } else { 4 }) {
        1 => ConditionKind::All(parts(dice)),
        2 => ConditionKind::Any(parts(dice)),
        3 => ConditionKind::Not(Box::new(condition(dice, depth - 1))),
        _ => {
            let name = ["a", "rope-2", "held", "for", "is", "stop", "within"][dice.below(7)];
            ConditionKind::Simple(Placed::new(name.to_owned(), Place::default()), said(dice))
        }
    };
    let place = Place::default();
    Condition { place, kind }
}

/// Trees that no text gave, so that nothing hangs on how one was written.
#[test]
fn any_condition_is_read_as_it_was_built() {
    let mut dice = Dice(0x5eed_000f_7ee5_0001);
    for text in [
        "guard g\n    when a open\n    unbroken for 1 s\n    stop s\n",
        "confirm c\n    after s\n    see a open\n    within 1 s\n    else s\n",
        "reset by k pressed and let go, when a open for 2 s\n",
        "count c\n    in by d, out by e\n    at most 1 carrier\n    is 0 when a open\n    over s, below s, wrong s\n",
    ] {
        for _ in 0..1_500 {
            let mut file = sound(text);
            let depth = dice.below(5);
            let built = condition(&mut dice, depth);
            match &mut file.statements[0].kind {
                Kind::Reset(reset) => reset.when = built,
                Kind::Watch(watch) => match &mut watch.kind {
                    WatchKind::Guard { when, .. } => *when = built,
                    WatchKind::Confirm { see, .. } => *see = Effect::Holds(built),
                    WatchKind::Count { confirmed, .. } => confirmed.1 = built,
                    _ => {}
                },
                _ => {}
            }
            round(&file);
        }
    }
}
