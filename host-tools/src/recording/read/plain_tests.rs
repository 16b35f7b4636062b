//! What is read where it lies is read as word by word and field by field: the same scans, the same counts, and the same faults at the same lines.

use std::io::BufReader;

use super::{Counted, Reader, Scans, Step};
use crate::sample::Sample;
use crate::stays::{Room, Stays};
use crate::testing::small_station;

/// All scans of a text, what was counted, and how it ended: well, or with what is wrong in which line. `ahead` takes repeated scans at once.
pub(super) type Read = (Vec<(Step, Sample)>, Counted, Option<(u64, String)>);

fn read(text: &str, bytes: usize, ahead: bool) -> Read {
    let (station, mut seen) = (small_station(), Vec::new());
    let mut reader = Reader::open(BufReader::with_capacity(bytes, text.as_bytes()), &station).unwrap();
    let fault = loop {
        match Reader::advance(&mut reader) {
            Ok(Step::End) => {
                assert_eq!(Reader::bytes(&reader), text.len() as u64);
                break None;
            }
            Ok(step) => seen.push((step, Reader::sample(&reader).clone())),
            Err(fault) => break Some((fault.line, fault.what)),
        }
        let more = if ahead { reader.pass(Stays::up_to(1_000), &[]) } else { 0 };
        for _ in 0..more {
            let (Step::Scan { at_us }, sample) = seen.last().cloned().unwrap() else { panic!("no scan") };
            seen.push((Step::Scan { at_us: at_us + 10_000 }, sample));
        }
    };
    (seen, Reader::counted(&reader), fault)
}

/// Numbers drawn, xorshift64 (Marsaglia 2003).
pub(super) struct Draw(pub(super) u64);
impl Draw {
    pub(super) fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 >> 16).unwrap() % end
    }
    pub(super) fn of<'t>(&mut self, all: &[&'t str]) -> &'t str {
        all[self.below(all.len())]
    }
}

/// Both texts say the same; the other is never read where it lies.
pub(super) fn are_the_same(plain: &str, other: &str) -> Read {
    let expected = read(other, 1 << 16, false);
    for (bytes, ahead) in [(1 << 16, false), (1 << 16, true), (23, false), (64, true)] {
        assert!(read(plain, bytes, ahead) == expected, "{bytes} bytes at once, ahead: {ahead}\n{plain}");
    }
    expected
}

/// Scans at once, in which the gauge may move within a room, are those that were read one by one, and come to the same end. Gives in how many it moved.
pub(super) fn may_move(text: &str, bytes: usize, expected: &Read) -> usize {
    may_move_as(0x1234_5678_9ABC_DEF1, text, bytes, expected)
}
fn may_move_as(seed: u64, text: &str, bytes: usize, (seen, counted, fault): &Read) -> usize {
    let station = small_station();
    let mut reader = Reader::open(BufReader::with_capacity(bytes, text.as_bytes()), &station).unwrap();
    let (mut draw, mut at, mut moved) = (Draw(seed), 0, 0);
    let end = loop {
        match Reader::advance(&mut reader) {
            Ok(Step::End) => break None,
            Ok(step) => assert!((step, Reader::sample(&reader)) == (seen[at].0, &seen[at].1), "scan {at}\n{text}"),
            Err(fault) => break Some((fault.line, fault.what)),
        }
        at += 1;
        let before = Reader::sample(&reader).clone();
        let Some(now) = before.gauges.first().filter(|_| draw.below(4) > 0 && reader.repeats()) else { continue };
        let wide = u32::try_from(draw.below(2_000)).unwrap();
        let room = Room { least: now.steps.saturating_sub(wide), most: now.steps + wide };
        let stays = match draw.below(4) {
            2 => Stays { once: 0, whole: 60, period: 5 },
            0 => Stays::up_to(u32::try_from(draw.below(9)).unwrap()),
            1 => Stays::up_to(1_000),
            _ => Stays { once: 2, whole: 60, period: 5 },
        };
        let passed = reader.pass(stays, &[room]);
        assert!(passed == 0 || stays.allows(passed));
        for _ in 0..passed {
            let (Step::Scan { at_us }, Step::Scan { at_us: last_us }) = (seen[at].0, seen[at - 1].0) else {
                panic!("no scan")
            };
            let mut now = seen[at].1.clone();
            assert!(at_us == last_us + 10_000 && room.has(now.gauges[0].steps), "scan {at}\n{text}");
            moved += usize::from(now != before);
            now.gauges[0].steps = before.gauges[0].steps;
            assert!(now == before, "scan {at}\n{text}");
            at += 1;
        }
        assert!(*Reader::sample(&reader) == seen[at - 1].1, "scan {at}\n{text}");
    };
    assert!(at == seen.len() && end == *fault, "{at} {end:?}\n{text}");
    assert_eq!(Reader::counted(&reader), *counted);
    moved
}

#[test]
fn plain_lines_of_a_dump_are_its_words() {
    const HEAD: &str = "$timescale 1 ms $end\n$var wire 1 ! DI_01 $end\n$var wire 1 \" DI_02 $end\n$var wire 1 abc DI_03 $end\n\
        $var real 64 #% AI_01__mA $end\n$var integer 32 & CI_01__mm $end\n$var wire 8 ' L_01 $end\n$enddefinitions $end\n";
    let mut draw = Draw(0x2545_F491_4F6C_DD1D);
    let (mut faults, mut scans, mut unseen, mut moved) = (0, 0, 0, 0);
    for _ in 0..150 {
        let mut lines = ["#0", "0!", "1\"", "1abc", "r12 #%", "b0 &", "b0 '"].join("\n") + "\n";
        let mut at = 0;
        for _ in 0..60 {
            let line = match draw.below(14) {
                0..5 => {
                    at += [0, 3, 10, 10, 20, 500][draw.below(6)];
                    format!("#{at}")
                }
                5 => format!("r{}.{} #%", 3 + draw.below(17), draw.below(1_000)),
                6 => format!("r{} &", draw.below(60)),
                7 => format!("b{:b} &", draw.below(60)),
                8 => format!("b{:b} '", draw.below(4)),
                9 if draw.below(4) == 0 => draw
                    .of(&[
                        "bx '",
                        "x#%",
                        "rnan #%",
                        "0?",
                        "x!",
                        "$comment power-up $end",
                        "r0.5 &",
                        "#1",
                        "r2e1 #%",
                        "2!",
                        "r7 zz",
                    ])
                    .to_owned(),
                _ => draw.of(&["0!", "1!", "0\"", "1\"", "0abc", "1abc", "r4 #%", "r-2 &", "r12.000 #%"]).to_owned(),
            };
            lines += &line;
            lines += "\n";
        }
        let (plain, other) = (format!("{HEAD}{lines}"), format!("{HEAD} {}", lines.trim_end().replace('\n', "\n ")));
        let other = format!("{other}\n");
        let expected = are_the_same(&plain, &other);
        (faults, scans) = (faults + usize::from(expected.2.is_some()), scans + expected.0.len());
        unseen += expected.1.unseen;
        moved += [1 << 16, 64, 300].into_iter().map(|bytes| may_move(&plain, bytes, &expected)).sum::<usize>();
    }
    assert!(faults > 30 && faults < 140 && scans > 5_000 && unseen > 100, "{faults} {scans} {unseen}");
    assert!(moved > 1_000, "{moved}");
}

#[test]
fn plain_rows_of_a_change_list_are_its_fields() {
    const HEAD: &str = "# haltproof recording 1\n# rows: change\n# time: ms\n# ignore other\ntime,signal,value\n";
    let mut draw = Draw(0x9E37_79B9_7F4A_7C15);
    let (mut faults, mut scans, mut moved) = (0, 0, 0);
    for _ in 0..150 {
        let first =
            [("DI-01", "0"), ("DI-02", "1"), ("DI-03", "0"), ("AI-01[mA]", "12"), ("CI-01[mm]", "50"), ("L-01", "0")];
        let mut rows: Vec<(String, &str, &str)> =
            first.iter().map(|(name, value)| ("0".to_owned(), *name, *value)).collect();
        let mut at = 0;
        for _ in 0..30 {
            at += if draw.below(60) == 0 { 3 } else { [10, 10, 10, 20, 500][draw.below(5)] };
            for (name, value) in first {
                let value = match draw.below(8) {
                    0..4 => value,
                    4 if name.starts_with('A') => draw.of(&["12.5", "4.000", "broken", "3.6"]),
                    5 if name.starts_with('C') => draw.of(&["-50", "51", "0"]),
                    6 if name.starts_with('L') => draw.of(&["1", "2"]),
                    7 if draw.below(60) == 0 => draw.of(&["", "x", "999", "1.5", "a value of more than 24 bytes"]),
                    _ => continue,
                };
                let name =
                    if draw.below(200) == 0 { draw.of(&["other", "DI-09", "CI-01[pulses]", "DI-01"]) } else { name };
                let time =
                    if draw.below(300) == 0 { draw.of(&["", "1", "5.", "-3"]).to_owned() } else { at.to_string() };
                rows.push((time, name, value));
            }
        }
        for end in ["\n", "\r\n"] {
            let text = |mark: &str| {
                let row =
                    |(time, name, value): &(String, &str, &str)| format!("{time},{name},{mark}{value}{mark}{end}");
                format!("{HEAD}{}", rows.iter().map(row).collect::<String>())
            };
            let expected = are_the_same(&text(""), &text("\""));
            (faults, scans) = (faults + usize::from(expected.2.is_some()), scans + expected.0.len());
            moved += [1 << 16, 64, 300].into_iter().map(|bytes| may_move(&text(""), bytes, &expected)).sum::<usize>();
        }
    }
    assert!(faults > 60 && faults < 290 && scans > 5_000 && moved > 300, "{faults} {scans} {moved}");
}

/// A calm lift: one scan after the other says the same but for the gauge, and now and then something else happens among its rows.
#[test]
fn rows_of_a_change_list_that_come_again_are_taken_together() {
    const HEAD: &str = "# haltproof recording 1\n# rows: change\n# time: ms\n# ignore other\ntime,signal,value\n\
        0,DI-01,0\n0,DI-02,1\n0,DI-03,0\n0,AI-01[mA],12\n0,CI-01[mm],50\n0,L-01,0\n";
    let mut draw = Draw(0xA076_1D64_78BD_642F);
    let [mut faults, mut scans, mut moved] = [0; 3];
    for _ in 0..150 {
        let (mut plain, mut other, mut at) = (HEAD.to_owned(), HEAD.to_owned(), 0_usize);
        for _ in 0..60 {
            at += if draw.below(40) == 0 { 10 + draw.below(40) } else { 10 };
            let mut rows = vec![("CI-01[mm]", "50"), ("L-01", "0")];
            if draw.below(3) > 0 {
                rows.insert(0, ("AI-01[mA]", draw.of(&["12", "12.1", "11.9"])));
            }
            let end = if draw.below(200) == 0 { "\r\n" } else { "\n" };
            if draw.below(12) == 0 {
                let odd = [("DI-01", draw.of(&["0", "1"])), ("other", "1"), ("CI-01[mm]", draw.of(&["0", "7", "-50"]))];
                let odd = [odd[0], odd[1], odd[2], ("L-01", "0"), ("AI-01[mA]", "12.1")][draw.below(200) % 5];
                match draw.below(8) {
                    0 => drop(rows.remove(draw.below(rows.len()))),
                    1 => rows.swap(0, 1),
                    2..5 if !matches!(odd.0, "L-01" | "AI-01[mA]") => rows.insert(draw.below(rows.len() + 1), odd),
                    5 | 6 => rows.insert(draw.below(rows.len() + 1), odd),
                    _ => at += draw.below(9),
                }
            }
            for (number, (name, value)) in rows.iter().enumerate() {
                let at = at - usize::from(number > 0 && draw.below(150) == 0);
                plain += &[&at.to_string(), ",", name, ",", value, end].concat();
                other += &[&at.to_string(), ",", name, ",\"", value, "\"", end].concat();
            }
            at = at.next_multiple_of(10);
        }
        let expected = are_the_same(&plain, &other);
        (faults, scans) = (faults + usize::from(expected.2.is_some()), scans + expected.0.len());
        moved += [1 << 16, 200, 900].into_iter().map(|bytes| may_move(&plain, bytes, &expected)).sum::<usize>();
    }
    assert!(faults > 10 && faults < 140 && scans > 4_000 && moved > 3_000, "{faults} {scans} {moved}");
}

/// Rows of one scan each whose gauges move: what is passed over is within its rooms and differs in nothing else, and what follows is what comes row by row.
#[test]
fn rows_in_which_gauges_move_within_their_rooms_are_passed_over() {
    const HEAD: &str =
        "# haltproof recording 1\n# rows: scan\n# time: ms\ntime,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n";
    let mut draw = Draw(0xD1B5_4A32_D192_ED03);
    let [mut passed, mut moved, mut faults] = [0, 0, 0];
    for _ in 0..300 {
        let (mut text, mut at) = (HEAD.to_owned(), draw.below(2) * 9_970);
        let mut row = ["0", "1", "0", "4.000", "50", "0"];
        for _ in 0..60 {
            for (cell, noise) in row.iter_mut().zip([400, 400, 400, 2, 200, 400]) {
                if draw.below(noise) == 0 {
                    *cell = match noise {
                        2 => {
                            draw.of(&["4.000", "4.016", "4.032", "4.128", "8.000", "12.00", "0.000", "3,000", "4.0 0"])
                        }
                        200 => draw.of(&["50", "45", "-5"]),
                        _ => draw.of(&["0", "1"]),
                    };
                }
                if draw.below(2) == 0 && cell.starts_with("4.") || cell.contains([',', ' ']) && draw.below(50) > 0 {
                    *cell = draw.of(&["4.000", "4.016", "4.032"]);
                }
            }
            at += if draw.below(90) == 0 { 9 } else { 10 };
            text += &[&at.to_string(), ",", &row.join(","), draw.of(&["\n", "\n", "\r\n"])].concat();
        }
        let expected = read(&text, 1 << 16, false);
        faults += usize::from(expected.2.is_some());
        let station = small_station();
        let mut reader =
            Reader::open(BufReader::with_capacity([64, 300, 1 << 16][draw.below(3)], text.as_bytes()), &station)
                .unwrap();
        let mut rest = expected.0.iter();
        loop {
            let (step, known) = match Reader::advance(&mut reader) {
                Ok(step) => (step, rest.next()),
                Err(fault) => {
                    assert_eq!(expected.2, Some((fault.line, fault.what)));
                    break;
                }
            };
            let Some((expected_step, sample)) = known else {
                assert_eq!(step, Step::End);
                break;
            };
            assert_eq!((&step, Reader::sample(&reader)), (expected_step, sample));
            let (Step::Scan { mut at_us }, before) = (step, sample) else { continue };
            let now = before.gauges[0].steps;
            let room = Room { least: now.saturating_sub(5), most: now + 20 };
            let stays = [Stays::up_to(7), Stays { once: 2, whole: 12, period: 4 }][draw.below(2)];
            let count = reader.pass(stays, if draw.below(4) == 0 { &[] } else { std::slice::from_ref(&room) });
            assert!(stays.allows(count));
            for number in 1..=count {
                let (Step::Scan { at_us: at }, now) = rest.next().unwrap() else { panic!("no scan") };
                at_us += 10_000;
                assert_eq!(*at, at_us);
                let mut same = now.clone();
                same.gauges[0].steps = before.gauges[0].steps;
                assert!(same == *before && room.has(now.gauges[0].steps), "{text}");
                assert!(number < count || Reader::sample(&reader) == now, "{text}");
                moved += usize::from(now != before);
                passed += 1;
            }
        }
        assert!(rest.next().is_none());
    }
    assert!(passed > 3_000 && moved > 1_000 && faults > 20, "{passed} {moved} {faults}");
}

/// What was only looked at leaves nothing behind: not the time of a row, and not for how long a value holds.
#[test]
fn rows_that_were_only_looked_at_are_read_as_if_they_had_not_been() {
    const ALL: &str = "0,DI-01,0\n0,DI-02,1\n0,DI-03,0\n0,CI-01[mm],0\n";
    let text = |lines: &str, rows: &str| {
        format!("# haltproof recording 1\n# rows: change\n# time: ms\n{lines}time,signal,value\n{ALL}{rows}")
    };
    let runs = |from: usize, to: usize| {
        let each: Vec<String> = (from..=to).map(|scan| format!("{scan}0,CI-01[mm],50\n")).collect();
        each.concat()
    };
    let held = |rows: &str| {
        text(
            "# column short is AI-01 in N held for 10 ms\n# column plain is AI-01 in N\n",
            &format!("0,short,100\n{rows}"),
        )
    };
    let all = [
        held(&format!("10,plain,100\n{}40,short,100\n{}", runs(2, 3), runs(4, 90))),
        held(&format!(
            "10,plain,100\n{}50,short,100\n{}60,CI-01[mm],7\n90,short,100\n{}",
            runs(2, 4),
            runs(5, 5),
            runs(9, 90)
        )),
    ];
    for text in &all {
        let expected = read(text, 1 << 16, false);
        for seed in 1..200 {
            may_move_as(seed << 40 ^ 0x9E37_79B9_7F4A_7C15, text, 1 << 16, &expected);
        }
    }
    // Behind the scan at 30 ms more is looked at than may be passed over, and behind the next it may be.
    for rows in ["50,AI-01[mA],12.1\n35,DI-02,1\n", "50,CI-01[mm],5\n60,CI-01[mm],-5\n"] {
        let text = text(
            "",
            &format!(
                "0,AI-01[mA],12\n10,AI-01[mA],12.1\n20,AI-01[mA],12\n{rows}70,AI-01[mA],12\n80,AI-01[mA],12.1\n90,AI-01[mA],12\n"
            ),
        );
        let (all, _, fault) = read(&text, 1 << 16, false);
        let expected: Vec<i32> = all.iter().map(|(_, sample)| sample.travel[0]).collect();
        let station = small_station();
        let mut reader = Reader::open(text.as_bytes(), &station).unwrap();
        let (none, periods) = (Stays::default(), Stays { once: 0, whole: 60, period: 5 });
        let mut stays = [none, none, none, periods, Stays::up_to(1_000)].into_iter();
        let (mut seen, mut told) = (Vec::new(), None);
        loop {
            match Reader::advance(&mut reader) {
                Ok(Step::End) => break,
                Ok(_) => seen.push(Reader::sample(&reader).travel[0]),
                Err(fault) => {
                    told = Some((fault.line, fault.what));
                    break;
                }
            }
            let passed = stays.next().map_or(0, |stays| reader.pass(stays, &[Room::ALL]));
            seen.extend((0..passed).map(|_| Reader::sample(&reader).travel[0]));
        }
        assert_eq!((seen, told), (expected, fault), "{text}");
    }
}
