//! A record as one page for A4 that needs nothing else.

use std::io::{self, Write};

use super::text::word;
use super::{CAUTIONS, Record, Result};

const STYLE: &str = "@page{size:A4 landscape;margin:12mm}\
    body{font:9pt/1.35 sans-serif;color:#000;background:#fff;margin:1em}\
    h1{font-size:15pt;margin:0 0 .3em}table{border-collapse:collapse;width:100%}\
    th,td{border:1px solid #888;padding:.15em .4em;text-align:left;vertical-align:top}\
    thead{display:table-header-group}tr{break-inside:avoid}\
    .failed td{font-weight:bold;background:#fdd}.not-driven td{background:#eee}\
    .marks{font-family:monospace;overflow-wrap:anywhere}\
    .sign{display:flex;gap:2em;margin-top:3em;break-inside:avoid}\
    .sign div{flex:1;border-top:1px solid #000;padding-top:.2em}";

/// Writes a record.
pub fn write<W: Write>(to: &mut W, record: &Record) -> io::Result<()> {
    let title = escaped(&format!("Campaign: {}, revision {}", record.station, record.revision));
    writeln!(to, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">")?;
    writeln!(to, "<title>{title}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<h1>{title}</h1>")?;
    let marks =
        [("Target", record.target.as_str()), ("Image, CRC-32", &record.crc32), ("Rule files, SHA-256", &record.digest)];
    for (what, mark) in marks {
        writeln!(to, "<p>{what}: <span class=\"marks\">{}</span></p>", escaped(mark))?;
    }
    let Record { rows, passed, failed, not_driven, scans, scan_us, .. } = record;
    writeln!(
        to,
        "<p>{} rows: {passed} passed, {failed} failed, {not_driven} not driven. {scans} scans of {scan_us} µs on the \
         target; scan 1 of a stimulus is the first that shows it.</p>\n<ul>",
        rows.len()
    )?;
    for caution in CAUTIONS {
        writeln!(to, "<li>{}</li>", escaped(caution))?;
    }
    writeln!(to, "</ul>\n<table>\n<thead><tr>")?;
    for head in ["No.", "Way", "Stimulus", "Expected", "Observed", "Scans", "Result", "Host"] {
        write!(to, "<th scope=\"col\">{head}</th>")?;
    }
    writeln!(to, "</tr></thead>\n<tbody>")?;
    for row in rows {
        let class = match row.result {
            Result::Passed => "passed",
            Result::Failed => "failed",
            Result::NotDriven => "not-driven",
        };
        write!(to, "<tr class=\"{class}\"><td>{}</td>", row.number)?;
        let scans = row.response_scans.map_or_else(String::new, |scans| scans.to_string());
        let way = format!("{} ({})", row.way, row.answer);
        for cell in [&way, &row.stimulus, &row.expected, &row.observed, &scans, word(row.result), &row.host] {
            write!(to, "<td>{}</td>", escaped(cell))?;
        }
        writeln!(to, "</tr>")?;
    }
    writeln!(to, "</tbody>\n</table>\n<div class=\"sign\"><div>Date</div><div>Name</div><div>Signature</div></div>")?;
    writeln!(to, "</body>\n</html>")
}

/// Text that means nothing to a browser.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            letter => safe.push(letter),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::campaign::Row;

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
            digest: evil,
            rows: vec![row],
            scans: 1,
            passed: 0,
            failed: 1,
            not_driven: 0,
        };
        let mut page = Vec::new();
        write(&mut page, &record).unwrap();
        let page = String::from_utf8(page).unwrap();
        assert!(!page.contains("<script") && !page.contains("alert('"));
        assert!(!page.contains("http"), "it needs no network");
        for line in ["Date", "Name", "Signature"] {
            assert!(page.contains(line));
        }
    }
}
