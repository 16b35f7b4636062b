//! Mapped columns and dates say the same as the recording that was written for this program.

use super::tests::read_with;
use super::{Mapping, Reader, Step};
use crate::sample::{Frame, Health, Sample};
use crate::scale::scale;
use crate::station::InputKind;
use crate::testing::small_station;

const TOP: &str = "# haltproof recording 1\n# rows: scan\n# time: ms\n";
const PLAIN: &str =
    "# haltproof recording 1\n# rows: scan\n# time: ms\ntime,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n";

type Seen = Vec<(Step, Sample)>;

fn read(text: &str) -> Result<Seen, String> {
    read_with(&small_station(), text)
}
fn mapped(mapping: &str, text: &str) -> Result<Seen, String> {
    let station = small_station();
    let mapping = Mapping::read(mapping.as_bytes(), &station).map_err(|fault| format!("mapping: {fault}"))?;
    let mut reader = Reader::mapped(text.as_bytes(), &station, Some(&mapping)).map_err(|fault| fault.to_string())?;
    let mut seen = Vec::new();
    loop {
        match reader.advance().map_err(|fault| fault.to_string())? {
            Step::End => return Ok(seen),
            step => seen.push((step, reader.sample().clone())),
        }
    }
}

/// A logger's own file: dates of a zone, raw counts of a card that gives 0 to 27648 for 4 to 20 mA, quarters of a pulse.
#[test]
fn a_loggers_file_is_a_recording() {
    let mapping = "# haltproof recording 1\n# rows: scan\n# time: DD.MM.YYYY hh:mm:ss\n# zone: Europe/Vienna\n\n\
        # column Stamp is time\n# column Arrived is DI-01\n# column Left is DI-02\n# column Fork [NC] is DI-03\n\
        # column Force raw is AI-01 in mA times 16/27648 plus 4\n# column quarters is CI-01 in pulses times 1/4\n# column Link is L-01\n\
        # ignore Operator\n# note: of the old terminal\n";
    let text = "Force raw,Stamp,Arrived,Left,Fork [NC],quarters,Link,Operator\r\n\
        13824,29.03.2026 01:59:59.990,0,1,0,4,0,x\r\n-690,29.03.2026 03:00:00.000,1,1,0,-8,,x\r\n27648,29.03.2026 03:00:00.010,1,1,0,0,1,y\r\n";
    let seen = mapped(mapping, text).unwrap();
    // -690 counts are 3.6007 mA: doubtful. Three scans in a row: the hour that was left out is no gap.
    let plain =
        format!("{PLAIN}1774745999990,0,1,0,12,5,0\n1774746000000,1,1,0,3.600694,-10,\n1774746000010,1,1,0,20,0,1\n");
    assert_eq!(seen, read(&plain).unwrap());
    assert_eq!((seen[1].1.gauges[0].health, seen[2].1.links[0]), (Health::Doubtful, Frame { fresh: true, order: 1 }));
}

/// Every count of a card of 16 bits is the step that exact fractions make it, and the health of its exact current.
#[test]
fn scaled_counts_are_exact() {
    let station = small_station();
    let InputKind::Gauge(gauge) = &station.inputs[3].kind else { panic!("it is the gauge") };
    let head = |line: &str| format!("{TOP}# column raw is AI-01 {line}\ntime,DI-01,DI-02,DI-03,raw,CI-01[mm],L-01\n");
    let rows: Vec<String> = (0..=32_767).map(|raw| format!("{},0,0,0,{raw},0,\n", raw * 10)).collect();
    let rows = rows.concat();
    // The same line as a current, in kN, and in thirds of it.
    let lines = ["in mA times 16/27648 plus 4", "in kN times 12/27648", "in N times 12000/27648"];
    let all: Vec<Seen> = lines.map(|line| read(&(head(line) + &rows)).unwrap()).into();
    for (raw, (_, sample)) in all[0].iter().enumerate() {
        // A count is 16 / 27648 mA: times 27 it is a whole number of 15625 nA, and steps lie no nearer than that to their bounds.
        let raw = i64::try_from(raw).unwrap();
        let na = 4_000_000 + (raw * 16_000_000).div_euclid(27_648);
        let steps = (2 * (raw * 1_200 + 15 * 27_648) + 27_648).div_euclid(2 * 27_648);
        let expected = scale(gauge, na);
        assert_eq!(sample.gauges[0].health, expected.health, "{raw}");
        if expected.health != Health::Broken {
            assert_eq!(i64::from(sample.gauges[0].steps), steps.min(i64::from(gauge.top)), "{raw}");
        }
    }
    assert!(all[0] == all[1] && all[0] == all[2]);
}

/// A gauge that is recorded every 30 ms holds for so long; then nobody knows what it shows.
#[test]
fn what_is_held_too_long_is_doubted() {
    let (station, line) = (small_station(), "# column AI-01 is AI-01 in N held for 30 ms");
    let values = ["", "100", "", "", "", "", "100", "100", "", "200"];
    let header = "time,DI-01,DI-02,DI-03,AI-01,CI-01[mm],L-01";
    let row = |(n, value): (usize, &&str)| format!("{},0,0,0,{value},0,\n", n * 10);
    let rows: String = values.iter().enumerate().map(row).collect();
    let wide = format!("{TOP}{line}\n{header}\n{rows}");
    let shown = |seen: &Seen| -> Vec<Option<u32>> {
        let gauges = seen.iter().map(|(_, sample)| sample.gauges[0]);
        gauges.map(|gauge| (gauge.health == Health::Good).then_some(gauge.steps)).collect()
    };
    let expected = [None, Some(25), Some(25), Some(25), Some(25), None, Some(25), Some(25), Some(25), Some(35)];
    assert_eq!(shown(&read(&wide).unwrap()), expected);
    let mut reader = Reader::open(wide.as_bytes(), &station).unwrap();
    while reader.advance().unwrap() != Step::End {}
    assert_eq!(reader.counted().words(0).as_deref(), Some("2 scans in which a gauge was held too long, and doubted"));
    // A change list: its first time has a value, and what was said last holds.
    let change = format!(
        "# haltproof recording 1\n# rows: change\n# time: ms\n{line}\ntime,signal,value\n10,DI-01,0\n10,DI-02,0\n10,DI-03,0\n10,AI-01,100\n\
         60,AI-01,100\n70,AI-01,100\n90,AI-01,200\n# end: 90\n"
    );
    assert_eq!(shown(&read(&change).unwrap()), expected[1..]);
    // Without the line, an empty field is an error.
    assert!(read(&wide.replace(" held for 30 ms", "")).unwrap_err().contains("has no value here"));
    for (line, fault) in [
        ("# column DI-01 is DI-01 held for 1 s", "`DI-01` is held, and is no gauge"),
        ("# column AI-01 is AI-01 held for ever now", "`ever now` is not understood"),
        ("# column AI-01 is AI-01 held", "`held` says nothing"),
    ] {
        let told = read(&format!("{TOP}{line}\n{header}\n")).unwrap_err();
        assert!(told.contains(fault), "{told}");
    }
    let dump = "$timescale 1 ms $end $comment column x is AI-01 held for 1 s $end $enddefinitions $end #0";
    assert!(read(dump).unwrap_err().contains("`x` is held for some time only"));
}

/// Two lines may speak of one terminal: the one whose name stands in the file says how long a value holds.
#[test]
fn a_value_holds_for_as_long_as_its_own_line_says() {
    let lines = "# column short is AI-01 in N held for 10 ms\n# column long is AI-01 in N held for 1 s\n# column plain is AI-01 in N\n";
    let good =
        |seen: &Seen| -> Vec<bool> { seen.iter().map(|(_, sample)| sample.gauges[0].health == Health::Good).collect() };
    // Nothing is held in column 0, which is another's: it has no value there, and that is an error.
    let wide = |name: &str| format!("{TOP}{lines}DI-01,time,DI-02,DI-03,{name},CI-01[mm],L-01\n");
    let rows = "0,0,0,0,100,0,\n0,10,0,0,,0,\n0,20,0,0,,0,\n";
    assert_eq!(good(&read(&format!("{}{rows}", wide("short"))).unwrap()), [true, true, false]);
    assert_eq!(good(&read(&format!("{}{rows}", wide("long"))).unwrap()), [true; 3]);
    assert!(read(&format!("{}{rows}", wide("plain"))).unwrap_err().contains("has no value here"));
    assert!(read(&format!("{}{rows},30,0,0,,0,\n", wide("long"))).unwrap_err().contains("`` is no level"));
    let change = |rows: &str| {
        let top = format!("# haltproof recording 1\n# rows: change\n# time: ms\n{lines}time,signal,value\n");
        good(&read(&format!("{top}0,DI-01,0\n0,DI-02,0\n0,DI-03,0\n{rows}# end: 50\n")).unwrap())
    };
    assert_eq!(change("0,long,100\n20,short,100\n"), [true, true, true, true, false, false]);
    assert_eq!(change("0,short,100\n20,plain,100\n"), [true; 6]);
    assert_eq!(change("0,short,100\n"), [true, true, false, false, false, false]);
}

#[test]
fn a_name_is_mapped_once() {
    let line = "# column a is AI-01 in N\n";
    let told = read(&format!("{TOP}{line}# column a is AI-01 in mA\n")).unwrap_err();
    assert!(told.contains("line 5, column 1: a second line says what `a` is"), "{told}");
    let told = Mapping::read(format!("{TOP}{line}{line}").as_bytes(), &small_station()).unwrap_err().to_string();
    assert!(told.contains("line 5, column 1: a second line"), "{told}");
    let dump =
        "$timescale 1 ms $end $comment column a is AI-01 $end $comment column a is AI-01 $end $enddefinitions $end";
    assert!(read(dump).unwrap_err().contains("a second line says what `a` is"));
}

#[test]
fn a_dump_is_mapped_too() {
    let dump = "$timescale 10 ms $end $var wire 1 ! det $end $var wire 1 \" DI_02 $end $var wire 1 # DI_03 $end
        $var integer 32 % force $end $var integer 32 & CI_01__mm $end $var wire 8 ' L_01 $end $enddefinitions $end
        #0 0! 1\" 0# b0 % b0 & b0 ' #1 1! b11011000000000 % #2 bx % #3";
    let mapping = "# haltproof recording 1\n# column det is DI-01\n# column force is AI-01 in mA times 16/27648 plus 4\n# starts: power-up\n";
    let seen = mapped(mapping, dump).unwrap();
    let told: Vec<_> = seen.iter().map(|(_, s)| (s.channels[0], s.gauges[0].steps, s.gauges[0].health)).collect();
    assert_eq!(told, [(false, 15, Health::Good), (true, 615, Health::Good), (true, 0, Health::Doubtful)]);
    let fault = mapped("# haltproof recording 1\n# time: ms\n", dump).unwrap_err();
    assert!(fault.contains("this is a dump"), "{fault}");
}

/// The example of IEEE 1364-2005, clause 18, as pyvcd 0.5.1 writes it; vcdvcd 2.6.0 reads det 0, 1 from 10, 0 from 30, x from 31, and force 0, 101
/// from 10, 111 from 31.
const EXAMPLE: &str =
    "$timescale 1 ms $end\n$scope module st $end\n$var wire 1 ! det $end\n$var integer 8 \" force $end\n$upscope $end
$enddefinitions $end\n#0\n$dumpvars\n0!\nb0 \"\n$end\n#10\n1!\nb101 \"\n#30\n0!\n#31\nx!\nb111 \"\n";

#[test]
fn the_example_of_others_is_read_word_for_word() {
    let mut station = small_station();
    station.channels.truncate(1);
    station.sources.clear();
    station.link_terminals.clear();
    station.inputs.truncate(4);
    station.inputs.remove(2);
    station.inputs.remove(1);
    let mapping = b"# haltproof recording 1\n# column det is DI-01\n# column force is AI-01 in kN\n";
    let mapping = Mapping::read(mapping, &station).unwrap();
    let mut reader = Reader::mapped(EXAMPLE.as_bytes(), &station, Some(&mapping)).unwrap();
    let mut told = Vec::new();
    let fault = loop {
        match reader.advance() {
            Ok(Step::Scan { at_us }) => {
                told.push((at_us, reader.sample().channels[0], reader.sample().gauges[0].steps));
            }
            Ok(step) => panic!("{step:?}"),
            Err(fault) => break fault,
        }
    };
    // Steps of 10 N above -150 N. What no sample can say ends the recording.
    assert_eq!(told, [(0, false, 15), (10_000, true, 515), (20_000, true, 515), (30_000, false, 515)]);
    assert!(fault.what.contains("`det` is unknown here"), "{fault}");
}

#[test]
fn faults_of_a_mapping_have_their_place() {
    let cases = [
        ("", "mapping: line 1, column 1: `` is no line of a mapping"),
        ("time,DI-01\n", "mapping: line 1, column 1: `time` is no line"),
        ("# rows: scan\n", "mapping: line 1, column 1: `# rows: scan` stands where"),
        (
            "# haltproof recording 1\n# column x is DI-99\n",
            "mapping: line 2, column 1: `# column x is DI-99` is no signal",
        ),
        ("# haltproof recording 1\n# column x is AI-01 times 0\n", "mapping: line 2, column 1: times 0"),
        ("# haltproof recording 1\n# column x is AI-01 by 2\n", "mapping: line 2, column 1: `by 2` says nothing"),
        ("# haltproof recording 1\n# column x is AI-01 times 1e3\n", "mapping: line 2, column 1: `1e3` is no number"),
        ("# haltproof recording 1\n# column x is time in ms\n", "mapping: line 2, column 1: the time has its unit"),
        ("# haltproof recording 1\n# column x is \n", "mapping: line 2, column 1: `# column x is ` is no line"),
        ("# haltproof recording 1\n# zone: Atlantis\n", "mapping: line 2, column 1: `Atlantis` is not understood"),
        ("# haltproof recording 1\n# time: YYYY-MM\n", "mapping: line 2, column 1: `YYYY-MM` is not understood"),
        (
            "# haltproof recording 1\n# time: ms\n# zone: UTC\n# rows: scan\n",
            "line 1, column 1: a zone where times are counted",
        ),
        ("# haltproof recording 1\n# time: ms\n", "line 1, column 1: no line `# rows: scan`"),
    ];
    for (mapping, expected) in cases {
        let fault = mapped(mapping, "time,DI-01\n").unwrap_err();
        assert!(fault.starts_with(expected), "{mapping}\n{fault}\nexpected {expected}");
        assert!(fault.contains("expected: ") && fault.contains("mend: "), "{fault}");
    }
    let fault = mapped("# haltproof recording 1\n", "# rows: scan\ntime\n").unwrap_err();
    assert!(fault.starts_with("line 1, column 1: `# rows: scan` stands at the top, and there is"), "{fault}");
}

#[test]
fn a_line_may_call_a_column_whole() {
    let plain = read(&format!("{PLAIN}0,0,0,0,4,1,0\n")).unwrap();
    let named = format!("{TOP}# column AI-01[mA] is AI-01\n{}0,0,0,0,4,1,0\n", PLAIN.replace(TOP, ""));
    assert_eq!(read(&named).unwrap(), plain);
}

#[test]
fn faults_of_mapped_columns_have_their_place() {
    let recording = |lines: &str, header: &str, row: &str| format!("{TOP}{lines}\n{header}\n{row}\n");
    let header = "time,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01";
    let row = "0,0,0,0,4,1,0";
    let cases = [
        (
            recording("# column AI-01 is AI-01 in N", header, row),
            "line 5, column 24: `AI-01` is in mA by its name and in N",
        ),
        (
            recording("# column DI-01 is DI-01 times 2", header, row),
            "line 5, column 6: `DI-01` is scaled, and is neither",
        ),
        (
            recording("# column CI-01 is CI-01 times 2 plus 1", header, row),
            "line 5, column 34: `CI-01` is moved on in every scan",
        ),
        (
            recording("# column CI-01 is CI-01 times 1/2", header, row),
            "line 6, column 11: `1` is no whole number of millimetres",
        ),
        (recording("# column AI-01 is AI-01 times 10", header, row), "line 6, column 9: `4` is outside"),
        (
            recording("# column AI-01 is AI-01 times 1/999999999999 plus 1/999999999989", header, row),
            "line 5, column 24: the numbers by which `AI-01`",
        ),
        (
            recording("# column AI-01 is AI-01 in m", &header.replace("[mA]", ""), row),
            "line 5, column 24: `AI-01` is in `m`, by its name or by its line",
        ),
        (recording("# column AI-01 is AI-01 times 2", header, "0,0,0,0,x,1,0"), "line 6, column 9: `x` is no current"),
        (
            recording("# column AI-01 is AI-01 times 2", header, "0,0,0,0,999999999999999999,1,0"),
            "line 6, column 9: `9999999",
        ),
        (
            recording("# column T is time", header, row).replace("time,", "T,").replace("DI-01,", "time,"),
            "line 5, column 3: a second",
        ),
    ];
    for (text, expected) in cases {
        let fault = read(&text).map(|seen| seen.len()).unwrap_err();
        assert!(fault.starts_with(expected), "{text}\n{fault}\nexpected {expected}");
        assert!(fault.contains("expected: ") && fault.contains("mend: "), "{fault}");
    }
}

/// Rows of a morning in which the clocks of the place go back: scan after scan none is missing, none is double.
#[test]
fn a_change_of_clocks_is_neither_a_gap_nor_a_doubled_hour() {
    let head = |zone: &str| {
        format!(
            "# haltproof recording 1\n# rows: scan\n# time: date\n# zone: {zone}\n{}",
            PLAIN.rsplit_once("ms\n").unwrap().1
        )
    };
    // From 01:59:59.98 over both hours would be 720 000 rows: it begins anew at each change, after a restart.
    let row = |at: &&str| format!("2026-10-25 {at},0,0,0,4,0,\n");
    let rows = |times: &[&str]| -> String { times.iter().map(row).collect() };
    let first = rows(&["01:59:59.98", "01:59:59.99", "02:00:00.00", "02:00:00.01"]);
    let second = rows(&["02:59:59.99", "02:00:00.00", "02:00:00.01"]);
    let times = |text: &str| -> Vec<u64> {
        let seen = read(text).unwrap();
        seen.iter()
            .filter_map(|(step, _)| if let Step::Scan { at_us } = step { Some(at_us / 1_000) } else { None })
            .collect()
    };
    let at = 1_792_886_399_980;
    assert_eq!(times(&(head("Europe/Vienna") + &first)), [at, at + 10, at + 20, at + 30]);
    let fault = read(&(head("Europe/Vienna") + &second)).unwrap_err();
    assert!(fault.contains("line 6, column 1") && fault.contains("twice, an hour apart"), "{fault}");
    // The same clock, said to be one that nobody sets, ran backwards: that is told.
    let fault = read(&(head("+01:00") + &second)).unwrap_err();
    assert!(fault.starts_with("line 7, column 1: time runs backwards"), "{fault}");
    assert!(fault.contains("expected: 2026-10-25T02:00:00.000Z, one scan after"), "{fault}");
    // And one that the same clock left out is a gap.
    let gap = "2026-03-29 01:59:59.99,0,0,0,4,0,\n2026-03-29 03:00:00.00,0,0,0,4,0,\n";
    assert!(read(&(head("+01:00") + gap)).unwrap_err().contains("a gap"));
    assert_eq!(read(&(head("Europe/Vienna") + gap)).unwrap().len(), 2);
    assert!(read(&(head("Europe/Vienna") + &gap.replace("03:00", "02:00"))).unwrap_err().contains("set forward"));
}
