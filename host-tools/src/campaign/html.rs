//! A record as one page for A4 that needs nothing else.

use super::text::word;
use super::{CAUTIONS, Record, Result, Row};
use crate::page::{page, plain, signatures};
use maud::{Markup, html};

/// The page of a record.
pub fn write(record: &Record) -> String {
    let title = format!("Campaign: {}, revision {}", record.station, record.revision);
    let body = html! {
        h1 { (plain(&title)) }
        (told(record))
        ul.caution { @for caution in CAUTIONS { li { (caution) } } }
        (table(record.rows.iter()))
        div.together { (signatures(&["Commissioning engineer", "Witness"])) }
    };
    page(&title, &body)
}

/// What it was run on, and what came of it, in numbers.
pub fn told(record: &Record) -> Markup {
    let Record { rows, passed, failed, not_driven, scans, took, scan_us, .. } = record;
    let marks =
        [("Target", record.target.as_str()), ("Image, CRC-32", &record.crc32), ("Rule files, SHA-256", &record.digest)];
    html! {
        table.long { tbody { @for (what, mark) in marks { tr { th scope="row" { (what) } td { (plain(mark)) } } } } }
        p {
            (rows.len()) " rows: " (passed) " passed, " (failed) " failed, " (not_driven) " not driven. " (scans) " scans of " (scan_us)
            " µs on the target; scan 1 of a stimulus is the first that shows it."
            @if took.longest_us > 0 { " A scan took " (took.median_us) " µs in the median, " (took.longest_us) " µs at most." }
        }
        @for said in record.ends.iter().chain(&record.left_out()) { p { strong { (plain(said)) } } }
    }
}

/// Rows as a table.
pub fn table<'r>(rows: impl Iterator<Item = &'r Row>) -> Markup {
    html! {
        div.wide { table {
            thead { tr { @for head in ["No.", "Way", "Stimulus", "Expected", "Observed", "Scans", "Result", "Host"] { th scope="col" { (head) } } } }
            tbody { @for row in rows { tr {
                td.number { (row.number) }
                td { (plain(&row.way)) " (" (plain(&row.answer)) ")" }
                @for cell in [&row.stimulus, &row.expected, &row.observed] { td { (plain(cell)) } }
                td.number { @if let Some(scans) = row.response_scans { (scans) } }
                td { span.verdict.open[row.result != Result::Passed] { (word(row.result)) } }
                td { (plain(&row.host)) }
            } } }
        } }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::took::Took;

    #[test]
    fn nothing_of_a_rule_file_becomes_markup() {
        let evil = "<script>alert('1')</script>&\"".to_owned();
        let row = Row {
            number: 1,
            way: evil.clone(),
            answer: evil.clone(),
            stimulus: evil.clone(),
            expected: evil.clone(),
            observed: evil.clone(),
            response_scans: None,
            result: Result::Failed,
            host: evil.clone(),
        };
        let record = Record {
            station: evil.clone(),
            revision: 1,
            scan_us: 10_000,
            target: evil.clone(),
            crc32: evil.clone(),
            digest: evil.clone(),
            in_all: 2,
            only: vec![evil.clone()],
            rows: vec![row],
            scans: 1,
            took: Took::default(),
            passed: 0,
            failed: 1,
            not_driven: 0,
            ends: Some(evil.clone()),
        };
        let page = write(&record);
        assert!(!page.contains("<script"));
        assert!(page.contains("PARTIAL: 1 of 2 rows"));
        assert!(!page.contains("http:") && !page.contains("https:"), "it needs no network");
        for line in ["Date", "Name", "Signature"] {
            assert!(page.contains(line));
        }
    }
}
