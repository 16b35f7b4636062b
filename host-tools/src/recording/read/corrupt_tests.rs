//! What is no recording any more, or never was one: a clear fault each, from no more of the file than it takes to see it.

use std::io::{BufReader, Read};

use super::tests::read_with;
use super::{Reader, Step};
use crate::testing::small_station;

const TOP: &str = "# haltproof recording 1\n# rows: scan\n# time: ms\n";
const CHANGE: &str = "# haltproof recording 1\n# rows: change\n# time: ms\ntime,signal,value\n";
const HEAD: &str = "time,DI-01,DI-02,DI-03,AI-01[mA],CI-01[mm],L-01\n";
const FIRST: &str = "0,DI-01,0\n0,DI-02,1\n0,DI-03,0\n0,AI-01[mA],4\n";

/// A text, and then a piece of another one without end; counts what was read of it.
struct Endless {
    begins: Vec<u8>,
    goes_on: &'static [u8],
    read: usize,
}

impl Read for Endless {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        for (at, byte) in into.iter_mut().enumerate() {
            let at = self.read + at;
            let endless = || self.goes_on[(at - self.begins.len()) % self.goes_on.len()];
            *byte = self.begins.get(at).copied().unwrap_or_else(endless);
        }
        self.read += into.len();
        assert!(self.read < 40 << 20, "it is never full");
        Ok(into.len())
    }
}

/// What packs to almost nothing and never ends: of each a few mebibytes are enough to say no.
#[test]
fn what_has_no_end_is_refused_soon() {
    let station = small_station();
    let cases: [(&str, &'static [u8], &str); 15] = [
        ("", b"\0", "longer than a mebibyte"),
        ("", b"a", "longer than a mebibyte"),
        ("", b"a\n", "stands where the file must say what it is"),
        (TOP, b",", "longer than a mebibyte"),
        (TOP, b"DI-99,", "longer than a mebibyte"),
        (TOP, b"\"", "longer than a mebibyte"),
        (TOP, b"\"\n", "is no signal of this station"),
        (TOP, b"# ignore x\n", "lines at the top"),
        (TOP, b"# note: x\n", "lines at the top"),
        (TOP, b"# note: x", "longer than a mebibyte"),
        (CHANGE, b"0,", "longer than a mebibyte"),
        ("$", b"date", "more than 4096 bytes"),
        ("", b"$var wire 1 ! a $end ", "more than 100000 variables"),
        ("", b"$scope module a $end ", "more than a hundred deep"),
        ("", b"$timescale 1 ms $end b1", "stands where a declaration must begin"),
    ];
    for (begins, goes_on, expected) in cases {
        let source = BufReader::new(Endless { begins: begins.as_bytes().to_vec(), goes_on, read: 0 });
        let fault = Reader::open(source, &station).and_then(|mut reader| reader.advance()).unwrap_err().to_string();
        assert!(fault.contains(expected), "{begins}{goes_on:?}: {fault}");
    }
}

#[test]
fn a_file_that_was_cut_has_a_short_row_or_ends_with_a_whole_one() {
    let whole = format!("{TOP}{HEAD}0,0,1,0,12.000,50,1\r\n10,0,1,0,12.000,50,1\r\n");
    let rows = format!("{TOP}{HEAD}").len();
    let mut cut_rows = 0;
    for cut in rows..whole.len() {
        match read_with(&small_station(), &whole[..cut]) {
            // Only in its last field can a row have been cut unseen, and that is a number of a link.
            Ok(seen) => assert!(seen.iter().all(|(_, sample)| sample.gauges[0].steps == 615 && sample.travel == [50])),
            Err(fault) => {
                assert!(fault.starts_with("line 5") || fault.starts_with("line 6"), "{fault}");
                cut_rows += 1;
            }
        }
    }
    assert!(cut_rows > 30, "{cut_rows}");
    // A change list that ends within a row has a fault too, or a number that lost its last digits.
    let whole = format!("{CHANGE}{FIRST}20,DI-01,1\n# end: 90\n");
    for cut in CHANGE.len() + FIRST.len()..whole.len() {
        if let Err(fault) = read_with(&small_station(), &whole[..cut]) {
            assert!(fault.starts_with("line 9") || fault.starts_with("line 10"), "{fault}");
        }
    }
}

#[test]
fn bytes_that_no_recording_has_are_told_with_their_place() {
    let text = format!("{TOP}{HEAD}0,0,1,0,12.000,50,1\n10,0,1,0,12.000,50,1\n");
    let station = small_station();
    let row = text.len() - 21;
    for at in row..text.len() - 2 {
        for byte in [0, 0xff, b'\r', b'"', 0x1a] {
            let mut bytes = text.clone().into_bytes();
            bytes[at] = byte;
            let mut reader = Reader::open(bytes.as_slice(), &station).unwrap();
            let fault = loop {
                match reader.advance() {
                    Ok(Step::End) => panic!("byte {at} as {byte} was passed over: {:?}", reader.sample()),
                    Ok(_) => {}
                    Err(fault) => break fault,
                }
            };
            assert_eq!(fault.line, 6, "{fault}");
        }
    }
}

#[test]
fn no_time_is_too_absurd() {
    let times = [
        "9223372036854775807",
        "9223372036854775",
        "9223372036854.775807",
        "99999999999999999999999999",
        "-1",
        "nan",
        "inf",
        "1e9",
        "",
        "0x10",
        "99999999999",
    ];
    let station = small_station();
    for time in times {
        // In the first row, and in the second.
        for before in ["", "0,0,1,0,12.000,50,1\n"] {
            let text = format!("{TOP}{HEAD}{before}{time},0,1,0,12.000,50,1\n");
            let read = read_with(&station, &text);
            assert!(before.is_empty() || read.is_err(), "{time}");
            let mut reader = Reader::open(text.as_bytes(), &station).unwrap().over_gaps();
            while matches!(reader.advance(), Ok(step) if step != Step::End) {}
        }
        for (first, then) in [(time, "20"), ("0", time), (time, time)] {
            let text = format!("{CHANGE}{}{then},DI-01,1\n# end: {time}\n", FIRST.replace("0,", &format!("{first},")));
            if let Ok(mut reader) = Reader::open(text.as_bytes(), &station) {
                let _steps = (0..1_000).find(|_| !matches!(reader.advance(), Ok(step) if step != Step::End));
            }
        }
        let dump = format!(
            "$timescale 1 s $end $var wire 1 ! DI_01 $end $var wire 1 \" DI_02 $end $var wire 1 # DI_03 $end
            $var real 64 % AI_01 $end $var real 64 & CI_01 $end $var wire 8 ' L_01 $end $enddefinitions $end
            0! 0\" 0# r1 % r0 & b0 ' #{time} 1! #18446744073709 0! #18446744073709551615 1!"
        );
        let mut reader = Reader::open(dump.as_bytes(), &station).unwrap();
        let _steps = (0..1_000).find(|_| !matches!(reader.advance(), Ok(step) if step != Step::End));
    }
}
