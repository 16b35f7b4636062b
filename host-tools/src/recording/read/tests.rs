//! Both layouts read alike, and every fault of a recording has its place and its mending.

use super::{Reader, Starts, Step};
use crate::sample::{Frame, Health, Sample};
use crate::station::Station;
use crate::testing::small_station;

const TOP: &str = "# haltproof recording 1\n# rows: scan\n# time: ms\n";
const CHANGE: &str = "# haltproof recording 1\n# rows: change\n# time: ms\n";

pub(super) type Seen = Vec<(Step, Sample)>;

pub(super) fn read_with(station: &Station, text: &str) -> Result<Seen, String> {
    let mut reader = Reader::open(text.as_bytes(), station).map_err(|f| f.to_string())?;
    let mut seen = Vec::new();
    loop {
        let step = reader.advance().map_err(|f| f.to_string())?;
        if step == Step::End {
            return Ok(seen);
        }
        seen.push((step, reader.sample().clone()));
    }
}

fn read(text: &str) -> Result<Seen, String> {
    read_with(&small_station(), text)
}

#[test]
fn wide_rows() {
    let text = format!(
        "{TOP}# starts: power-up\n# column arrive is DI-01\n# ignore extra\n\
         time,arrive,DI-02,AI-01[mA],CI-01[mm],L-01,extra,DI-03\r\n\
         0,0,1,12.000,0,,x,0\r\n\
         # note: a quoted field is a field\r\n\
         10,1,\"1\",3.600,-5,2,\"a\n,b\",0\r\n"
    );
    let seen = read(&text).unwrap();
    assert_eq!(seen.len(), 2);
    let (step, sample) = &seen[1];
    assert_eq!(*step, Step::Scan { at_us: 10_000 });
    assert_eq!(sample.channels, [true, true, false]);
    assert_eq!(sample.gauges[0].health, Health::Broken);
    assert_eq!(sample.travel, [-5]);
    assert_eq!(sample.links, [Frame { fresh: true, order: 2 }]);
    // 12 mA is 6000 N, in steps of 10 N above -150 N.
    assert_eq!(seen[0].1.gauges[0].steps, 615);
    assert_eq!(seen[0].1.links, [Frame::default()]);
}

/// Rows that say again what the one before said are read as each would be by itself: with remarks, quotation marks and both line ends
/// between them, through readers that give few bytes at once.
#[test]
fn rows_that_repeat_are_read_as_any() {
    let head = format!("{TOP}time,DI-01,DI-02,AI-01[mA],CI-01[mm],L-01,DI-03\n");
    let values =
        ["0,1,12.000,50,0,0", "0,1,12.000,50,,0", "1,1,12.001,45,0,0", "\"0\",1,12.000,50,0,0", "0,1,3.600,0,0,1"];
    let mut state = 12_345_u64;
    let mut draw = |below: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % below
    };
    let station = small_station();
    for _ in 0..40 {
        let (mut text, mut alone, mut value) = (head.clone(), Vec::new(), values[0]);
        for row in 0..60 {
            if draw(3) == 0 {
                value = values[usize::try_from(draw(5)).unwrap()];
            }
            match draw(20) {
                0 => text += "# note: between\n",
                1 => text += "# power-up\n",
                _ => {}
            }
            let row = format!("{},{value}", row * 10);
            text = text + &row + if draw(2) == 0 { "\n" } else { "\r\n" };
            alone.push(read(&format!("{head}{row}")).unwrap().remove(0));
        }
        for bytes in [7, 64, 1 << 16] {
            let source = std::io::BufReader::with_capacity(bytes, text.as_bytes());
            let mut reader = Reader::open(source, &station).unwrap();
            let mut expected = alone.iter();
            loop {
                match reader.advance().unwrap() {
                    Step::End => break,
                    Step::Scan { at_us } => {
                        assert_eq!(Some(&(Step::Scan { at_us }, reader.sample().clone())), expected.next(), "{text}");
                    }
                    _ => {}
                }
            }
            assert_eq!((expected.next(), reader.bytes()), (None, u64::try_from(text.len()).unwrap()));
        }
    }
}

#[test]
fn a_change_list_says_the_same_as_rows() {
    let wide = format!(
        "{TOP}time,DI-01,DI-02,DI-03,AI-01[N],CI-01[pulses],L-01\n\
         5,0,1,0,100,0,0\n15,0,1,0,100,2,\n25,1,1,0,broken,0,\n35,1,1,0,broken,3,1\n45,1,1,0,broken,0,\n"
    );
    let change = format!(
        "{CHANGE}time,signal,value\n5,DI-02,1\n5,AI-01[kN],0.1\n5,DI-01,0\n5,L-01,0\n5,DI-03,0\n\
         12,CI-01[pulses],1\n8,CI-01[pulses],1\n24,DI-01,1\n25,AI-01[N],broken\n\
         # note: between\n35,L-01,1\n35,CI-01[mm],15\n# end: 45\n"
    );
    let (wide, change) = (read(&wide).unwrap(), read(&change).unwrap());
    assert_eq!(wide.len(), 5);
    assert_eq!(wide, change);
}

#[test]
fn long_holds_of_a_change_list_are_scans() {
    let text = format!("{CHANGE}time,signal,value\n0,DI-01,0\n0,DI-02,1\n0,DI-03,0\n0,AI-01[mA],4\n60000,DI-01,1\n");
    let seen = read(&text).unwrap();
    assert_eq!(seen.len(), 6_001);
    assert_eq!(seen.iter().filter(|(_, s)| s.channels[0]).count(), 1);
}

#[test]
fn a_restart_stands_between_rows() {
    let head = "time,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n";
    let wide = format!("{TOP}{head}0,0,0,0,4,0,\n# power-up\n9000,0,0,0,4,0,\n");
    let steps: Vec<Step> = read(&wide).unwrap().into_iter().map(|(s, _)| s).collect();
    let expected = [Step::Scan { at_us: 0 }, Step::PowerUp, Step::Scan { at_us: 9_000_000 }];
    assert_eq!(steps, expected);
    let all = "T,DI-01,0\nT,DI-02,1\nT,DI-03,0\nT,AI-01[mA],4\n";
    let (first, second) = (all.replace('T', "0"), all.replace('T', "9000"));
    let change = format!("{CHANGE}time,signal,value\n{first}# power-up\n{second}");
    let steps: Vec<Step> = read(&change).unwrap().into_iter().map(|(s, _)| s).collect();
    assert_eq!(steps, expected);
}

#[test]
fn what_the_top_says() {
    let station = small_station();
    let text = format!("{TOP}# stamps: 100 ms\ntime,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n");
    let reader = Reader::open(text.as_bytes(), &station).unwrap();
    assert_eq!((reader.top().starts, reader.top().stamps_us), (Starts::Running, 100_000));
}

/// A recording, the place of its fault and what is said of it.
#[test]
fn faults_have_their_place() {
    let head = "time,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n";
    let rows = |rows: &str| format!("{TOP}{head}{rows}");
    let change = |rows: &str| format!("{CHANGE}time,signal,value\n{rows}");
    let first = "0,DI-01,0\n0,DI-02,1\n0,DI-03,0\n0,AI-01[mA],4\n";
    let cases = [
        (String::new(), "line 1, column 1: the file ends before"),
        ("time,DI-01\n".into(), "line 1, column 1: `the header row` stands where"),
        ("# rows: scan\n".into(), "line 1, column 1: `# rows: scan` stands where"),
        (format!("{TOP}# rows: scan\n"), "line 4, column 1: `# rows:` stands here for the second"),
        (format!("{TOP}# scan: 20 ms\n"), "line 4, column 1: the recording has a scan every 20000"),
        (format!("{TOP}# speed: 5\n"), "line 4, column 1: `# speed: 5` is no line"),
        (format!("{TOP}# column a is DI-09\n{head}"), "line 5, column 1: `# column a is DI-09`"),
        ("# haltproof recording 1\n# time: s\nx\n".into(), "line 3, column 1: no line `# rows: scan`"),
        (format!("{TOP}time,DI-01,DI-03,AI-01[mA],CI-01[mm],L-01\n"), "line 4, column 1: terminal DI-02 is missing"),
        (
            format!("{TOP}time,DI-01,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n"),
            "line 4, column 1: terminal DI-01 has two",
        ),
        (format!("{TOP}time,DI-O1\n"), "line 4, column 6: `DI-O1` is no signal of this station"),
        (format!("{TOP}time,AI-01\n"), "line 4, column 6: `AI-01` has no unit"),
        (format!("{TOP}time,AI-01[mm]\n"), "line 4, column 6: `AI-01` is in `mm`, by its name"),
        (format!("{TOP}time,DI-01[mA]\n"), "line 4, column 6: `DI-01` has the unit `mA`"),
        (format!("{TOP}DI-01\n"), "line 4, column 1: the header row has no column `time`"),
        (rows("0,0,0,0,4,0\n"), "line 5, column 1: this row has 6 fields"),
        (rows("0,0,0,0,4,0"), "line 5, column 1: this row has 6 fields, and the file ends in it"),
        (rows("0,0,0,0,4,0,,\n"), "line 5, column 1: this row has 8 fields"),
        (rows("\n"), "line 5, column 1: this row has 1 fields"),
        (rows("0,2,0,0,4,0,\n"), "line 5, column 3: `2` is no level"),
        (rows("0,,0,0,4,0,\n"), "line 5, column 3: `` is no level"),
        (rows("0, 1,0,0,4,0,\n"), "line 5, column 3: ` 1` is no level"),
        (rows("0,0,0,0,4e0,0,\n"), "line 5, column 9: `4e0` is no current"),
        (rows("0,0,0,0,4000,0,\n"), "line 5, column 9: `4000` is outside"),
        (rows("0,0,0,0,4,0.5,\n"), "line 5, column 11: `0.5` is no travel"),
        (rows("0,0,0,0,4,0,256\n"), "line 5, column 13: `256` is no order"),
        (rows("-1,0,0,0,4,0,\n"), "line 5, column 1: `-1` is no time"),
        (rows("10,0,0,0,4,0,\n0,0,0,0,4,0,\n"), "line 6, column 1: time runs backwards"),
        (rows("10,0,0,0,4,0,\n10,0,0,0,4,0,\n"), "line 6, column 1: the time `10` stands here for"),
        (rows("10,0,0,0,4,0,\n14,0,0,0,4,0,\n"), "line 6, column 1: `14` is only 4000 us"),
        (rows("10,0,0,0,4,0,\n30,0,0,0,4,0,\n"), "line 6, column 1: a gap: `30` is 20000 us"),
        (rows("0,0,0,0,,0,\n"), "line 5, column 9: this gauge has no value here"),
        (rows("0,\"0,0,0,4,0,\n"), "line 5, column 3: this quotation mark is never closed"),
        (format!("{CHANGE}time,value\n"), "line 4, column 1: the header row of a change list"),
        (change(",DI-01,0\n,DI-02,1\n10,DI-01,1\n"), "line 5, column 1: `` is no time"),
        (change("0,DI-01,0\n"), "line 6, column 1: AI-01 has no value when"),
        (change(&format!("{first}20,DI-01,1\n9,DI-02,1\n")), "line 10, column 1: time runs backwards"),
        (change(&format!("{first}14,DI-01,1\n16,DI-01,0\n")), "line 10, column 4: `DI-01` changes twice"),
        (change(&format!("{first}20,DI-01,\n")), "line 9, column 10: the value is missing"),
        (change(&format!("{first}20,DI-01\n")), "line 9, column 1: this row has 2 fields"),
        (change(&format!("{first}# end: 10\n20,DI-01,1\n")), "line 10, column 1: a row after"),
        (change(&format!("{first}90000000,DI-01,1\n")), "line 9, column 1: a gap: nothing"),
        (change(&format!("{first}# end: 90000000\n")), "line 10, column 1: a gap: nothing"),
        (rows("0,0,0,0,4,0,\n# end: 10\n"), "line 6, column 1: `# end:` in a recording"),
    ];
    for (text, expected) in cases {
        let fault = read(&text).map(|seen| seen.len()).unwrap_err();
        assert!(fault.starts_with(expected), "{text}\n{fault}\nexpected {expected}");
        assert!(fault.contains("expected: ") && fault.contains("mend: "), "{fault}");
    }
    // 10 ms that were taken for seconds, and 10 s for milliseconds.
    for times in ["0,0,0,0,4,0,\n10000,0,0,0,4,0,\n", "0,0,0,0,4,0,\n0.01,0,0,0,4,0,\n"] {
        assert!(read(&rows(times)).unwrap_err().contains("say their unit with `# time:`"), "{times}");
    }
}
