//! What the writer writes, byte by byte.

use super::*;
use crate::simulate::{Scenario, Simulator, tests::tiny_station};

fn write(scenario: &str, style: Style, scans: usize) -> String {
    let station = tiny_station();
    let scenario = Scenario::read(scenario, &station).unwrap();
    let mut writer = Writer::new(Vec::new(), &station, style).unwrap();
    for scan in Simulator::new(&station, &scenario, 1).run().take(scans) {
        writer.scan(scan.at_us, scan.restarted, &scan.sample).unwrap();
    }
    String::from_utf8(writer.finish().unwrap()).unwrap()
}

const QUIET: &str = "last 1 s\ngauge close-force lies at 0 N noise 0 N\ngauge rope-height lies at 0 mm noise 0 mm\nrope starts at 2 m/s\n";

#[test]
fn one_row_a_scan() {
    let text = write(&format!("{QUIET}at 20 ms other-side silent"), Style::default(), 3);
    let lines: Vec<&str> = text.split("\r\n").collect();
    assert_eq!(
        lines,
        [
            "# haltproof recording 1",
            "# rows: scan",
            "# time: ms",
            "# scan: 10 ms",
            "# starts: running",
            "time,DI-01,DI-02,DI-03,DI-04,DI-05,DI-06,DI-07,DI-08,DI-09,DI-10,AI-01[mA],AI-02[mA],CI-01[mm],CI-02[mm],CI-03[mm],L-01",
            "0,0,0,1,1,0,0,1,0,0,0,4.000,12.000,0,0,0,0",
            "10,0,0,1,1,0,0,1,0,0,0,4.000,12.000,20,20,20,0",
            "20,0,0,1,1,0,0,1,0,0,0,4.000,12.000,20,20,20,",
            "",
        ]
    );
}

#[test]
fn one_row_a_change() {
    let style = Style { rows: Rows::Change, clock: Clock::Second, values: true, named: true, ..Style::default() };
    let text = write(&format!("{QUIET}at 20 ms close-force wire breaks\nat 20 ms rope-fork opens"), style, 4);
    assert!(text.contains("# column grip-gate.2 is DI-05\r\n# column traction.back is DI-06\r\n"), "{text}");
    let body = text.split("time,signal,value\r\n").nth(1).unwrap();
    let rows: Vec<&str> = body.split("\r\n").collect();
    assert_eq!(rows[..3], ["0,arrive,0", "0,force-point,0", "0,rope-fork,1"]);
    assert_eq!(rows[10..12], ["0,close-force[N],0", "0,rope-height[mm],0"]);
    assert_eq!(
        rows[12..17],
        ["0,other-side,0", "0.01,rope.1[mm],20", "0.01,rope.2[mm],20", "0.01,conveyor[mm],20", "0.01,other-side,0"]
    );
    assert_eq!(rows[17..19], ["0.02,rope-fork,0", "0.02,close-force[N],broken"]);
    assert_eq!(rows[rows.len() - 2..], ["# end: 0.03", ""]);
}

#[test]
fn a_restart_is_marked_and_tells_everything_anew() {
    let lost = "last 2 s\nat 20 ms power lost for 1 s";
    let text = write(lost, Style { powers_up: true, ..Style::default() }, 4);
    assert!(text.contains("# starts: power-up\r\n"));
    assert!(text.contains("\r\n# power-up\r\n1020,"), "{text}");
    let text = write(lost, Style { rows: Rows::Change, ..Style::default() }, 3);
    let after = text.split("# power-up\r\n").nth(1).unwrap();
    assert_eq!(after.lines().filter(|l| l.contains(",DI-")).count(), 10);
}

#[test]
fn every_step_has_a_current_of_its_own() {
    let station = tiny_station();
    for terminal in 0..2 {
        let gauge = gauge(&station, terminal).unwrap();
        for steps in 1..gauge.top {
            let mut out = Vec::new();
            current(&mut out, Reading { steps, health: Health::Good }, gauge).unwrap();
            let ua: i64 = String::from_utf8(out).unwrap().replace('.', "").parse().unwrap();
            // The straight line, by itself: 4 to 20 mA; twice the value is within one step of it.
            let [(_, from), (_, to)] = gauge.points;
            let value = from * 16_000 + (ua - 4_000) * (to - from);
            let of_step = (gauge.lowest + i64::from(steps)) * gauge.step_micro * 16_000;
            assert!(2 * (value - of_step).abs() < gauge.step_micro * 16_000, "{ua}");
        }
    }
}

#[test]
fn fields_are_quoted_after_rfc_4180() {
    // Source: RFC 4180 section 2, points 6 and 7.
    assert_eq!(field("aaa"), "aaa");
    assert_eq!(field("b\"bb"), "\"b\"\"bb\"");
    assert_eq!(field("a,b"), "\"a,b\"");
    let mut out = Vec::new();
    decimal(&mut out, 12_050, 1_000);
    assert_eq!(out, b"12.05");
}

/// A day at 100 Hz with 36 signals; run by hand in release for the figure.
#[test]
#[ignore = "takes its time"]
fn a_day() {
    struct Count(u64);
    impl Write for Count {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.0 += u64::try_from(bytes.len()).unwrap_or(0);
            Ok(bytes.len())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }
    let mut station = tiny_station();
    station.channels.extend((11..=30).map(|i| format!("DI-{i}")));
    let scenario = Scenario::read("last 24 h\nrope starts at 5 m/s", &station).unwrap();
    let mut writer = Writer::new(Count(0), &station, Style::default()).unwrap();
    let mut simulator = Simulator::new(&station, &scenario, 1);
    let mut scans = 0;
    while let Some(scan) = simulator.scan(None) {
        writer.scan(scan.at_us, scan.restarted, &scan.sample).unwrap();
        scans += 1;
    }
    assert_eq!(scans, 8_640_000);
    assert!(writer.finish().unwrap().0 > 500_000_000);
}
