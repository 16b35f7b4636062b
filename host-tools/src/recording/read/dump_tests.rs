//! Dumps are read as recordings: our own, and those that others write.

use super::tests::read_with;
use super::{Reader, Starts, Step};
use crate::recording::write::{Style, Writer};
use crate::sample::{Frame, Health, Sample};
use crate::simulate::{Scan, Scenario, Simulator, tests::tiny_station};
use crate::station::Station;
use crate::testing::small_station;
use crate::vcd::dump;

fn read(text: &str) -> Result<Vec<(Step, Sample)>, String> {
    read_with(&small_station(), text)
}

fn same(wrote: &Sample, read: &Sample) -> bool {
    let gauges = wrote.gauges.iter().zip(&read.gauges);
    let links = wrote.links.iter().zip(&read.links);
    wrote.channels == read.channels
        && wrote.travel == read.travel
        && links.into_iter().all(|(w, r)| w.fresh == r.fresh && (!w.fresh || w.order == r.order))
        && gauges.into_iter().all(|(w, r)| w.health == r.health && (w.steps == r.steps || w.health != Health::Good))
}

/// Something of everything, and a loss of power.
const RUN: &str = "last 30 s\nrope starts at 5 m/s
    at 2 s close-force wire breaks for 1 s\nat 4 s rope-height shorted for 1 s\nat 5 s rope-height doubtful for 1 s
    at 6 s other-side silent for 1 s\nat 7 s other-side orders service for 1 s\nat 8 s rope-fork chatters for 1 s
    at 9 s rope to -1 m/s at 3 m/s2\nat 15 s power lost for 3.7 s\nat 22 s rope to 3 m/s";

#[test]
fn what_we_dump_we_read() {
    let station = tiny_station();
    for powers_up in [false, true] {
        let scenario = Scenario::read(RUN, &station).unwrap();
        let scans: Vec<Scan> = Simulator::new(&station, &scenario, 3).run().collect();
        let mut writer = Writer::new(Vec::new(), &station, Style { powers_up, ..Style::default() }).unwrap();
        for scan in &scans {
            writer.scan(scan.at_us, scan.restarted, &scan.sample).unwrap();
        }
        let bytes = dump(&station, &writer.finish().unwrap()).unwrap();
        let reader = Reader::open(bytes.as_slice(), &station).unwrap();
        assert_eq!(reader.top().starts, if powers_up { Starts::PowerUp } else { Starts::Running });
        let text = String::from_utf8(bytes.clone()).unwrap();
        let steps = read_with(&station, &text).unwrap();
        let mut restarts = steps.iter().enumerate().filter(|(_, (step, _))| *step == Step::PowerUp).map(|(at, _)| at);
        assert_eq!((restarts.next(), restarts.next()), (scans.iter().position(|scan| scan.restarted), None));
        let read: Vec<&(Step, Sample)> = steps.iter().filter(|(step, _)| *step != Step::PowerUp).collect();
        assert_eq!(read.len(), scans.len());
        for (scan, (step, sample)) in scans.iter().zip(read) {
            assert_eq!(*step, Step::Scan { at_us: scan.at_us });
            assert!(same(&scan.sample, sample), "{scan:?}\n{sample:?}");
        }
        // Dumped again, it is the same dump.
        assert!(dump(&station, &bytes).unwrap() == bytes);
    }
}

/// The declarations of the small station, as a logic analyser may write them.
const HEAD: &str = "$timescale 1 ms $end $scope module st $end
    $var wire 1 ! DI_01 $end $var wire 1 \" DI_02 $end $var wire 1 # DI_03 $end
    $var real 64 % AI_01__mA $end $var integer 32 & CI_01__mm $end $var wire 8 ' L_01 $end
    $upscope $end $enddefinitions $end\n";

/// What the example of IEEE 1364-2005, clause 18, written by pyvcd and read back by vcdvcd, says: scalars without a blank, vectors with one,
/// left-extended; what does not change is not written; x is none of both.
#[test]
fn what_others_dump_is_read() {
    let text = format!(
        "{HEAD}#0 $dumpvars 0! 1\" 0# r12 % b0 & b0 ' $end #10 1! b101 & #30 0! bx ' b11111111111111111111111111111011 & #31 rx #\n"
    );
    let fault = read(&text).unwrap_err();
    assert!(fault.starts_with("line 5, column ") && fault.contains("`rx` is no value change"), "{fault}");
    let seen = read(&text.replace(" #31 rx #", " #40")).unwrap();
    let told: Vec<(Step, bool, i32, Frame)> =
        seen.iter().map(|(step, sample)| (*step, sample.channels[0], sample.travel[0], sample.links[0])).collect();
    let scan = |ms: u64| Step::Scan { at_us: ms * 1_000 };
    let frame = Frame { fresh: true, order: 0 };
    let none = Frame::default();
    assert_eq!(
        told,
        [
            (scan(0), false, 0, frame),
            (scan(10), true, 5, frame),
            (scan(20), true, 5, frame),
            (scan(30), false, -5, none)
        ]
    );
    // 12 mA is 6000 N, in steps of 10 N above -150 N, as in rows.
    assert_eq!((seen[0].1.gauges[0].steps, seen[0].1.gauges[0].health), (615, Health::Good));
    assert_eq!(seen[0].1.channels, [false, true, false]);
}

#[test]
fn what_is_not_known_is_a_doubt() {
    // A gauge is in doubt, a link brings no frame; a channel or counter is a fault, once there was a scan.
    let body = "#0 0! 1\" x# bx % b0 & bz ' #20 0# #30 1! #50 x! #60";
    let seen = read(&format!("{HEAD}{}", body.replace("#50 x!", "#50 0!"))).unwrap();
    assert_eq!(seen[0].0, Step::Scan { at_us: 20_000 }, "the first scan is that in which all channels are known");
    assert_eq!((seen.len(), seen[0].1.gauges[0].health, seen[0].1.links[0]), (4, Health::Doubtful, Frame::default()));
    let fault = read(&format!("{HEAD}{body}")).unwrap_err();
    assert!(fault.contains("`DI_01` is unknown here"), "{fault}");
    assert!(read(&format!("{HEAD}#0 0! 1\" #100")).unwrap_err().contains("`DI_03` is unknown here"));
}

#[test]
fn changes_between_scans_are_seen_by_the_later_one_or_counted() {
    let station = small_station();
    let text = format!("{HEAD}#0 0! 1\" 0# r12 % b0 & b0 ' #12 1! #13 0! #14 0# 1# #24 1! #25");
    let mut reader = Reader::open(text.as_bytes(), &station).unwrap();
    let mut seen = Vec::new();
    while let Step::Scan { at_us } = reader.advance().unwrap() {
        seen.push((at_us / 1_000, reader.sample().channels[0], reader.sample().channels[2]));
    }
    assert_eq!(seen, [(0, false, false), (10, false, false), (20, false, true)]);
    // High for a millisecond between two scans.
    assert_eq!(reader.counted().unseen, 1);
    let ends_with_a_change = text.replace(" #25", "");
    assert_eq!(
        read(&ends_with_a_change).unwrap().last().map(|(step, sample)| (*step, sample.channels[0])),
        Some((Step::Scan { at_us: 30_000 }, true))
    );
}

#[test]
fn units_names_and_comments() {
    let head = HEAD.replace("1 ms", "100ns").replace("DI_01", "arrive-raw").replace("AI_01__mA", "force__kN").replace(
        "$enddefinitions",
        "$comment column arrive-raw is DI-01 $end $comment column force is AI-01 $end $comment ignore spare $end
            $var wire 1 ~ spare $end $comment starts power-up $end $comment stamps 20 ms $end $enddefinitions",
    );
    let text = format!("{head}#0 1! 1\" 0# r6 % b0 & b0 ' x~ #100000");
    let station = small_station();
    let reader = Reader::open(text.as_bytes(), &station).unwrap();
    assert_eq!((reader.top().starts, reader.top().stamps_us), (Starts::PowerUp, 20_000));
    let seen = read(&text).unwrap();
    assert_eq!((seen.len(), seen[0].1.channels[0], seen[0].1.gauges[0].steps), (1, true, 615));
}

#[test]
fn faults_of_a_dump_have_their_place() {
    let head = |from: &str, to: &str| HEAD.replace(from, to);
    let first = "#0 0! 1\" 0# r12 % b0 & b0 '";
    let cases = [
        ("$timescale".into(), "line 1, column 11: the dump ends in the middle"),
        (head("1 ms", "2 ms"), "line 1, column 17: `2 ms` is no unit of time"),
        (head("$timescale 1 ms $end", ""), "line 4, column 35: `` is no unit of time"),
        (head("DI_02", "DI_O2"), "line 4, column 35: `DI_O2` is no signal"),
        (head("$var wire 1 # DI_03 $end", ""), "line 4, column 35: terminal DI-03 is missing"),
        (head("DI_03", "DI_02"), "line 4, column 35: terminal DI-0"),
        (head("AI_01__mA", "AI_01__mm"), "line 4, column 35: `AI-01` is in `mm`, by its name"),
        (format!("{HEAD}{first} 1? #10"), "line 5, column 29: `?` is the identifier of no"),
        (format!("{HEAD}{first} #10 #9"), "line 5, column 33: time runs backwards"),
        (format!("{HEAD}{first} #10x"), "line 5, column 29: `#10x` is no time"),
        (format!("{HEAD}{first} #99999999999999999999"), "line 5, column 29: `#999"),
        (format!("{HEAD}{first} #18446744073709551615"), "line 5, column 29: `#184"),
        (format!("{HEAD}{first} #90000000"), "line 5, column 29: a gap: nothing"),
        (format!("{HEAD}{first} b2 & #10"), "line 5, column 29: `b2` is no value change"),
        (format!("{HEAD}{first} rinf % #10"), "line 5, column 29: `rinf` is no value"),
        (format!("{HEAD}{first} r1.5 & #10 #20"), "line 5, column 36: `CI_01__mm` has a value that"),
        (format!("{HEAD}{first} time,DI-01"), "line 5, column 29: `time,DI-01` is no value"),
        (format!("{HEAD}{first} {}", "1".repeat(9_999)), "line 5, column 29: `111"),
        (format!("{HEAD}{first} b1"), "line 5, column 31: the dump ends in the middle"),
        ("\ntime,DI-01\n".into(), "line 2, column 1: `time,DI-01` stands where a declaration"),
    ];
    for (text, expected) in cases {
        let fault = read(&text).map(|seen| seen.len()).unwrap_err();
        assert!(fault.starts_with(expected), "{text}\n{fault}\nexpected {expected}");
        assert!(fault.contains("expected: ") && fault.contains("mend: "), "{fault}");
    }
}

/// Cut anywhere, or with any byte changed, it is read or refused, and never more.
#[test]
fn no_dump_makes_it_fail() {
    let text =
        format!("{HEAD}#0 $dumpvars 0! 1\" 0# r12 % b0 & b0 ' $end $comment power-up $end #10 1! b101 & #30 0! #40\n");
    let station: Station = small_station();
    for at in (0..text.len()).step_by(3) {
        for byte in [0, b' ', b'$', b'b'] {
            let mut bytes = text.clone().into_bytes();
            bytes[at] = byte;
            for bytes in [&bytes[..], &bytes[..at]] {
                let Ok(mut reader) = Reader::open(bytes, &station) else { continue };
                for _ in 0..20 {
                    if matches!(reader.advance(), Err(_) | Ok(Step::End)) {
                        break;
                    }
                }
            }
        }
    }
}
