//! Reading, and writing what was read.

use super::codes::Code;
use super::finding::Finding;
use super::format::format;
use super::parse::{Source, parse};
use super::tree::{File, Kind};

pub(super) const EVERY: &str = include_str!("tests/every.rules");

pub(super) fn read(text: &[u8]) -> (File, Vec<Finding>) {
    let source = Source { path: "test.rules".into(), bytes: text.to_vec() };
    let (mut files, findings) = parse(vec![source]);
    (files.remove(0), findings)
}
pub(super) fn sound(text: &str) -> File {
    let (file, findings) = read(text.as_bytes());
    assert_eq!(findings, [], "{text}");
    file
}
fn codes(text: &str) -> Vec<&'static str> {
    let (_, findings) = read(text.as_bytes());
    findings.iter().map(|f| f.code.text()).collect()
}
/// A tree without its places.
pub(super) fn placeless(file: &File) -> String {
    let text = format!("{:?} {:?}", file.statements, file.trailing);
    let mut parts = text.split("Place { ");
    let mut out = parts.next().unwrap().to_owned();
    for part in parts {
        out.push_str(part.split_once('}').unwrap().1);
    }
    out
}
pub(super) fn round(file: &File) -> String {
    let text = format(file);
    let (again, findings) = read(text.as_bytes());
    assert_eq!(findings, [], "{text}");
    assert_eq!(format(&again), text, "formatting twice changes something");
    assert_eq!(placeless(&again), placeless(file), "{text}");
    text
}
/// Small numbers from a seed.
pub(super) struct Dice(pub(super) u64);
impl Dice {
    pub(super) fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % u64::try_from(limit.max(1)).unwrap()).unwrap()
    }
}

#[test]
fn every_clause_is_read_and_written_as_the_manual_has_it() {
    let file = sound(EVERY);
    let text = round(&file);
    for (ours, theirs) in text.lines().zip(EVERY.lines()) {
        assert_eq!(ours, theirs);
    }
    assert_eq!(text, EVERY);
}

#[test]
fn every_keyword_stands_in_the_sample() {
    let file = sound(EVERY);
    let mut kinds: Vec<String> = Vec::new();
    for statement in &file.statements {
        let kind = match &statement.kind {
            Kind::Watch(watch) => format!("{:?}", watch.kind),
            kind => format!("{kind:?}"),
        };
        let word = kind.split(|c: char| !c.is_alphanumeric()).next().unwrap();
        if !kinds.iter().any(|known| known == word) {
            kinds.push(word.to_owned());
        }
    }
    assert_eq!(kinds.len(), 32, "{kinds:?}");
}

#[test]
fn five_mistakes_give_five_findings() {
    let text = "station \"A\nrevison 4\nscan 10\noutput a on RO-1, off in 30 ms\n\
                slow b rope down to 1 m/s within 2 parsecs\ncontact c on DI-1, rests closed\n";
    let (file, findings) = read(text.as_bytes());
    let codes: Vec<_> = findings.iter().map(|f| f.code).collect();
    let expected =
        [Code::QuoteOpen, Code::StatementUnknown, Code::UnitMissing, Code::WordUnexpected, Code::UnitUnknown];
    assert_eq!(codes, expected);
    assert!(findings[1].help.as_ref().unwrap().contains("'revision'"));
    assert_eq!(file.statements.len(), 1);
}

#[test]
fn each_mistake_is_told_once() {
    for (text, expected) in [
        ("revison 4\n", "statement-unknown"),
        ("revision four\n", "word-unexpected"),
        ("revision 4 5\n", "word-unexpected"),
        ("scan 10\n", "unit-missing"),
        ("scan 10 fortnights\n", "unit-unknown"),
        ("scan 10 m/s3\n", "unit-unknown"),
        ("scan 10.5.5 ms\n", "unit-unknown"),
        ("scan 1.0123456789 ms\n", "number-bad"),
        ("scan 99999999999999 ms\n", "number-bad"),
        ("contact A on DI-01, rests closed\n", "name-bad"),
        ("contact and on DI-01, rests closed\n", "name-bad"),
        ("contact a- on DI-01, rests closed\n", "name-bad"),
        ("contact a on DI01, rests closed\n", "name-bad"),
        ("contact a on DI-01, rests closed, rests open\n", "clause-twice"),
        ("contact a on DI-01\n", "clause-missing"),
        ("contact a on DI-01, rests ajar\n    settles 10 ms\n", "word-unexpected"),
        ("contact a on DI-01, rests\n    settles 10 ms\n", "word-unexpected"),
        ("station \"open\n", "quote-open"),
        ("station \"a\u{202e}b\"\n", "character-bad"),
        ("station \"a\tb\"\n", "character-bad"),
        ("station\t\"a\"\n", "character-bad"),
        ("contact a\n\ton DI-01\n\trests closed\n", "character-bad"),
        ("scan 10 ms # \u{2066}\n", "character-bad"),
        ("scan 10 ms # a\rb\n", "character-bad"),
        ("scan 10 ms;\n", "character-bad"),
        ("  indented\nscan 10 ms\n", "word-unexpected"),
        ("guard a\n    when b open and c open or d open\n    stop e\n", "mixed-and-or"),
        ("guard a\n    when b opne\n    stop e\n", "word-unexpected"),
        ("guard a\n    when (b open\n    stop e\n", "word-unexpected"),
        ("gauge a on AI-01, 4 is 0 N, 20 mA is 10 N\n", "unit-missing"),
        (
            "lane a\n    carriers every 3 m of road, 1 m long, uncouples at 1 m, couples at 2 m, held until 3 m\n",
            "word-unexpected",
        ),
        (
            "spacing a\n    b rises at least 1 m of c apart and at most 2 m of d apart\n    closer e\n",
            "word-unexpected",
        ),
    ] {
        assert_eq!(codes(text), [expected], "{text}");
    }
}

#[test]
fn parentheses_stand_at_most_32_deep() {
    let deep = |n: usize| format!("guard a\n    when {}b open{}\n    stop c\n", "(".repeat(n), ")".repeat(n));
    assert_eq!(codes(&deep(32)), [""; 0]);
    assert_eq!(codes(&deep(33)), ["too-deep"]);
    assert_eq!(codes(&deep(100_000)), ["too-deep"]);
    assert_eq!(codes(&format!("guard a when {}b open stop c", "not ".repeat(100_000))), ["too-deep"]);
}

#[test]
fn a_file_is_text_of_at_most_4_mib() {
    let (_, findings) = read(b"scan 10 \xff ms\n");
    assert_eq!(findings[0].code, Code::FileUnreadable);
    let (_, findings) = read(&vec![b'\n'; (4 << 20) + 1]);
    assert_eq!(findings[0].code, Code::FileUnreadable);
    let (_, findings) = read(&vec![b'\n'; 4 << 20]);
    assert_eq!(findings, []);
    assert_eq!(read(b"").1, []);
}

#[test]
fn clauses_come_in_any_order_with_commas_and_breaks_anywhere() {
    let file = sound(
        "reset when a closed and b\n open for 2\n s, by k pressed and let go\n\
         stop s\n slows at 1 m/s2 to 2 m/s2, and bites within\n 3 ms, releases a and b, and category 1,\n\
         guard g when (a open\n or b open), and unbroken for 3 ms, and hazard H1 and H2 in m and n, stop s\n\
         count c\n is 0 when a held, and at most 4 carriers, over s below s wrong s in by x, out by y in m\n",
    );
    assert_eq!(
        round(&file),
        "reset by k pressed and let go, when a closed and b open for 2 s\n\
         stop s category 1\n    releases a and b\n    bites within 3 ms, slows at 1 m/s2 to 2 m/s2\n\
         guard g\n    hazard H1 and H2, in m and n\n    when a open or b open\n    unbroken for 3 ms\n    stop s\n\
         count c\n    in m\n    in by x, out by y\n    at most 4 carriers\n    is 0 when a held\n    over s, below s, wrong s\n"
    );
}

#[test]
fn comments_stay_where_they_belong() {
    let file = sound(
        "\n\n# head\r\n#\n# more\n\n\n# apart\n\n## note\n#\nscan 10 ms#behind\n\n## one\n##  two\n\ncontact a # name\n\
         # loose\n    # rests\n    rests closed\n    on DI-01 # on\n    settles 3 ms # settles\n    # below\n# next\nrevision 4\n\n\n# end\n\n# last\n\n\n",
    );
    let text = round(&file);
    assert_eq!(
        text,
        "# head\n#\n# more\n\n# apart\n\n# note\n#\nscan 10 ms  # behind\n\n## one\n##  two\ncontact a on DI-01, rests closed  # name\n    \
         # loose\n    # rests\n    # on\n    settles 3 ms  # settles\n    # below\n# next\nrevision 4\n\n# end\n\n# last\n"
    );
}

#[test]
fn long_titles_and_conditions_are_broken_where_they_can_be() {
    let title = "t ".repeat(80);
    let parts = ["a-rather-long-name above -12.5 kN"; 12].join(" and ");
    let file = sound(&format!("guard a \"{title}\"\n    when {parts}\n    stop b\n"));
    let text = round(&file);
    let long: Vec<_> = text.lines().filter(|l| l.chars().count() > 100).collect();
    assert_eq!(long.len(), 1, "{text}");
}

/// Whatever is read of a damaged text is written so that it reads the same, and stays so.
#[test]
fn damaged_texts_never_panic_and_what_is_read_of_them_is_written_well() {
    let spare: Vec<&[u8]> = vec![
        b"\n",
        b"#",
        b"## n\n",
        b"\"",
        b"(",
        b")",
        b",",
        b" and ",
        b"\t",
        b"\r",
        b"\xe2\x80\xae",
        b"\n    ",
        b" # c\n",
        b"not ",
        b"9",
        b" ms",
        b"\n\n",
    ];
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    let lines: Vec<&str> = EVERY.split_inclusive('\n').collect();
    for _ in 0..20_000 {
        // A stretch of the sample is as good as all of it, and much faster.
        let from = dice.below(lines.len());
        let to = (from + 1 + dice.below(25)).min(lines.len());
        let mut bytes = lines[from..to].concat().into_bytes();
        for _ in 0..=dice.below(6) {
            let at = dice.below(bytes.len());
            match dice.below(5) {
                0 => bytes[at..=at].fill(u8::try_from(dice.below(256)).unwrap()),
                1 => drop(bytes.drain(at..(at + 1 + dice.below(8)).min(bytes.len()))),
                2 => drop(bytes.splice(at..at, spare[dice.below(spare.len())].iter().copied())),
                3 => {
                    let word = EVERY.split_whitespace().nth(dice.below(900)).unwrap_or("at");
                    drop(bytes.splice(at..at, format!(" {word} ").into_bytes()));
                }
                _ => {
                    let blank = bytes.iter().skip(at).position(|b| *b == b' ').map_or(at, |n| at + n);
                    drop(bytes.splice(blank..blank, spare[dice.below(spare.len())].iter().copied()));
                }
            }
            if bytes.is_empty() {
                break;
            }
        }
        let (mut file, findings) = read(&bytes);
        if findings.is_empty() {
            round(&file);
        } else {
            // Comments of a statement that is left out go with it; the rest is written all the same.
            file.statements.retain(|s| s.inside.is_empty());
            let text = format(&file);
            assert_eq!(format(&read(text.as_bytes()).0), text);
        }
    }
}

#[test]
fn arbitrary_bytes_never_panic() {
    let mut dice = Dice(88_172_645_463_325_252);
    for _ in 0..3_000 {
        let length = dice.below(200);
        let bytes: Vec<u8> = (0..length).map(|_| u8::try_from(dice.below(256)).unwrap() & 0x7f).collect();
        let (file, _) = read(&bytes);
        let _ = format(&file);
    }
}

#[test]
fn the_demo_stations_are_written_so_that_they_read_the_same() {
    for text in [
        include_str!("../../demo/drive-terminal.rules"),
        include_str!("../../demo/drive-terminal.requirements.rules"),
        include_str!("../../demo/return-terminal.rules"),
        include_str!("../../demo/return-terminal.requirements.rules"),
        include_str!("../../demo/drive-terminal.supervision.rules"),
        include_str!("../../demo/return-terminal.supervision.rules"),
    ] {
        round(&sound(text));
    }
}

#[test]
fn texts_of_the_largest_size_are_read_and_written() {
    let parts = vec!["a open"; 300_000].join(" and ");
    let stretches = "    from 1 m to 2 m steady # c\n    # d\n".repeat(60_000);
    let lane = "    carriers every 1 m of rope, 1 m long, uncouples at 1 m, couples at 2 m, held until 3 m\n";
    for text in [
        format!("guard a\n    when {parts}\n    stop b\n"),
        format!("lane a\n{stretches}{lane}"),
        "# c\n\n".repeat(800_000),
        format!("station \"{}\"\n", "t ".repeat(1_500_000)),
    ] {
        assert!(!format(&sound(&text)).is_empty());
    }
}
