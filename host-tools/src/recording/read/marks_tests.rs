//! A file with other signs between its fields and in its numbers is the same recording, and what is not sure is no number.

use std::io::BufReader;

use super::plain_tests::{Draw, are_the_same, may_move};
use super::tests::read_with;
use super::{Mapping, Reader, Step};
use crate::testing::small_station;

const SIGNS: &str = "# separator: semicolon\n# decimal sign: comma\n";

/// Rows of a station that mostly say again what they said: with commas, and as a program of another language would write them.
fn both(draw: &mut Draw, layout: &str, time: &str) -> (String, String) {
    let top =
        format!("# haltproof recording 1\n# rows: {layout}\n# time: {time}\n# column Grip force, raw is AI-01 in mA\n");
    let (mut rows, mut now) = (Vec::new(), ["0", "1", "0", "12.000", "50", "0"].map(str::to_owned));
    let names = ["DI-01", "DI-02", "DI-03", "\"Grip force, raw\"", "CI-01[mm]", "L-01"];
    let at =
        |scan: usize| if time == "s" { format!("{}.{:02}", scan / 100, scan % 100) } else { (scan * 10).to_string() };
    if layout == "change" {
        rows.push("time,signal,value".to_owned());
        rows.extend(names.iter().zip(&now).map(|(name, value)| format!("{},{name},{value}", at(0))));
    } else {
        rows.push(format!("time,{}", names.join(",")));
        rows.push(format!("{},{}", at(0), now.join(",")));
    }
    for scan in 1..80 {
        let mut others = Vec::new();
        if draw.below(3) > 0 {
            now[3] = (4 + draw.below(9)).to_string() + draw.of(&["", ".5", ".05", ".25", ".125", ".008", ".2500"]);
            others.push(3);
        }
        // A field that grows while the one before it becomes shorter.
        if draw.below(8) == 0 {
            now[4] = draw.of(&["5", "50", "500"]).to_owned();
        }
        if draw.below(6) == 0 {
            let at = draw.below(3);
            now[at] = if now[at] == "0" { "1" } else { "0" }.to_owned();
            others.push(at);
        }
        if layout == "change" {
            rows.extend(others.iter().map(|signal| format!("{},{},{}", at(scan), names[*signal], now[*signal])));
            rows.push(format!("{},CI-01[mm],{}", at(scan), now[4]));
        } else {
            rows.push(format!("{},{}", at(scan), now.join(",")));
        }
    }
    let commas = format!("{top}{}\n", rows.join("\n"));
    // A comma within a name stays where it is, and needs no quotation marks there.
    let other = |row: &String| {
        row.replace("\"Grip force, raw\"", "@").replace(',', ";").replace('.', ",").replace('@', "Grip force, raw")
    };
    let other = rows.iter().map(other).collect::<Vec<_>>().join("\n");
    (commas, format!("{top}{SIGNS}{other}\n"))
}

#[test]
fn other_signs_say_the_same() {
    let (mut draw, mut moved) = (Draw(0x2545_F491_4F6C_DD1D), 0);
    for (layout, time) in [("scan", "ms"), ("scan", "s"), ("change", "ms"), ("change", "s")] {
        for _ in 0..20 {
            let (commas, other) = both(&mut draw, layout, time);
            let expected = are_the_same(&other, &commas);
            assert!(expected.2.is_none() && expected.0.len() == 80, "{:?}\n{commas}", expected.2);
            let of = |bytes| may_move(&other, bytes, &expected);
            moved += [1 << 16, 64, 300].into_iter().map(of).sum::<usize>();
        }
    }
    assert!(moved > 300, "{moved}");
}

/// Either sign of seconds, as ISO 8601 has it, and tabs.
#[test]
fn dates_and_tabs() {
    let top = "# haltproof recording 1\n# rows: scan\n# time: DD.MM.YYYY hh:mm:ss\n# zone: UTC\n";
    let text = format!(
        "{top}time,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n27.11.2026 23:59:59.990,0,0,1,4.25,5,0\n28.11.2026 00:00:00.000,0,0,1,4.5,5,\n"
    );
    let station = small_station();
    let plain = read_with(&station, &text).unwrap();
    let rows = text.strip_prefix(top).unwrap();
    for (lines, rows) in [
        ("# separator: tab\n# decimal sign: point\n", rows.replace(',', "\t")),
        (SIGNS, rows.replace(',', ";").replace("59.990", "59,990").replace("4.", "4,")),
        (SIGNS, rows.replace(',', ";").replace("4.", "4,")),
    ] {
        assert_eq!(read_with(&station, &format!("{top}{lines}{rows}")).unwrap(), plain, "{lines}{rows}");
        let mapping = Mapping::read(format!("\u{feff}{top}{lines}").as_bytes(), &station).unwrap();
        let text = format!("\u{feff}{rows}");
        let mut reader = Reader::mapped(text.as_bytes(), &station, Some(&mapping)).unwrap();
        reader.advance().unwrap();
        assert_eq!(*reader.sample(), plain[0].1);
    }
}

#[test]
fn what_may_be_another_sign_is_told() {
    let recording = |lines: &str, header: &str, row: &str| {
        format!("# haltproof recording 1\n# rows: scan\n# time: ms\n{lines}{header}\n{row}\n")
    };
    let commas = "time,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01";
    let other = commas.replace(',', ";");
    let tabs = "# separator: tab\n# decimal sign: point\n";
    let cases = [
        (
            recording("", &other, ""),
            "line 4, column 1: the header row begins with `time;DI-01",
            "say `# separator: semicolon`",
        ),
        (recording("", &other.replace("DI-02", "Gate, left"), ""), "line 4, column 1: the header row", "semicolon`"),
        (recording("", &commas.replace(',', "\t"), ""), "line 4, column 1: the header row", "say `# separator: tab`"),
        (recording(tabs, commas, ""), "line 6, column 1: the header row", "say `# separator: comma`"),
        (recording(SIGNS, "sep=;", &other), "line 6, column 1: `sep=` stands where", "remove this line"),
        (recording("", "sep=;", &other), "line 4, column 1: `sep=;` stands where", "remove this line"),
        (
            recording("# separator: semicolon\n", &other, ""),
            "line 5, column 1: a semicolon stands between",
            "decimal sign",
        ),
        (
            recording("# decimal sign: comma\n", commas, ""),
            "line 5, column 1: a comma is to stand",
            "a semicolon between",
        ),
        // What parts thousands in one language is a decimal sign in another.
        (
            recording("# separator: semicolon\n# decimal sign: point\n", &other, "0;0;0;0;1,234;0;0"),
            "line 7, column 9: `1,234` is no current",
            "if the comma is the decimal sign, say",
        ),
        (
            recording(SIGNS, &other, "0;0;0;0;1.234;0;0"),
            "line 7, column 9: `1.234` is no current",
            "expected: a decimal number with a comma",
        ),
        (recording(SIGNS, &other, "0;0;0;0;1.234,5;0;0"), "line 7, column 9: `1.234,5`", "if it parts thousands"),
        (
            recording(SIGNS, &other, "0;0;0;0;4,0;5,0;0"),
            "line 7, column 13: `5,0` is no travel",
            "movement of each scan",
        ),
        (recording(SIGNS, &other, "0.01;0;0;0;4,0;5;0"), "line 7, column 1: `0.01` is no time", "decimal sign: point`"),
        (recording(SIGNS, &format!("{other};"), "0;0;0;0;4,0;5;0;"), "line 6, column 49: `` is no", "`# ignore` alone"),
        (recording("", commas, "0,0,0,0,\"4,5\",0,0"), "line 5, column 9: `4,5` is no current", "decimal sign: comma"),
        (recording("# separator: |\n", commas, ""), "line 4, column 1: `|` is not understood", "or `tab`"),
        (recording("# decimal sign: ,\n", commas, ""), "line 4, column 1: `,` is not understood", "`point` or `comma`"),
        (
            recording(&[SIGNS, SIGNS].concat(), &other, ""),
            "line 6, column 1: `# separator:` stands here",
            "each line once",
        ),
    ];
    for (text, expected, more) in cases {
        let fault = read_with(&small_station(), &text).map(|seen| seen.len()).unwrap_err();
        assert!(fault.starts_with(expected) && fault.contains(more), "{text}\n{fault}\nexpected {expected} .. {more}");
    }
    // Behind the last field of every row stands one more, without a name.
    let more = recording(&format!("{SIGNS}# ignore\n"), &format!("{other};"), "0;0;0;0;4,0;5;0;");
    assert_eq!(read_with(&small_station(), &more).unwrap().len(), 1);
    // The first column has no name, and is no dump for that.
    let mapping = format!("# haltproof recording 1\n# rows: scan\n# time: ms\n{tabs}# ignore\n");
    let mapping = Mapping::read(mapping.as_bytes(), &small_station()).unwrap();
    let text = format!("\t{}\n1\t0\t0\t0\t0\t4.5\t5\t0\n", commas.replace(',', "\t"));
    for bytes in [1, 2, 1 << 10] {
        let marked = format!("\u{feff}{text}");
        for text in [&text, &marked] {
            let source = BufReader::with_capacity(bytes, text.as_bytes());
            let station = small_station();
            let mut reader = Reader::mapped(source, &station, Some(&mapping)).unwrap();
            assert_eq!(reader.advance(), Ok(Step::Scan { at_us: 0 }));
        }
    }
    for first in [[0xff, 0xfe], [0xfe, 0xff]] {
        let station = small_station();
        let text = [&first, "#\0".as_bytes()].concat();
        let fault = Reader::open(text.as_slice(), &station).map(|_| ()).unwrap_err();
        assert!(fault.to_string().starts_with("line 1, column 1: this file is UTF-16"), "{fault}");
        assert!(Mapping::read(&text, &station).unwrap_err().what.contains("UTF-16"));
    }
}
