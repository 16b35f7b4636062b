//! Rows: RFC 4180, places of what is wrong, and what is kept of the row before.

use super::{Line, May, Rows};

fn records(text: &str) -> Result<Vec<Vec<String>>, String> {
    let mut rows = Rows::new(text.as_bytes());
    let mut all = Vec::new();
    loop {
        match rows.advance().map_err(|f| f.to_string())? {
            Line::End => return Ok(all),
            Line::Remark => {}
            Line::Same | Line::Alike => panic!("nothing was kept"),
            Line::Row => {
                let row = rows.fields().map(|f| String::from_utf8_lossy(f).into_owned());
                all.push(row.collect());
            }
        }
    }
}

/// Fails once and is then at its end, as what unpacks a damaged file may be.
struct FailsOnce(std::io::Cursor<&'static [u8]>, bool);

impl std::io::Read for FailsOnce {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        match self.0.read(into)? {
            0 if !std::mem::replace(&mut self.1, true) => Err(std::io::ErrorKind::InvalidData.into()),
            count => Ok(count),
        }
    }
}

/// Any rows may be passed over whose time has as many digits.
struct All;

impl May for All {
    fn time(&mut self, row: &[u8]) -> Option<usize> {
        row.iter().position(|byte| *byte == b',')
    }
    fn says(&mut self, _: usize, _: &[u8]) -> bool {
        false
    }
    fn allows(&self, _: u32) -> bool {
        true
    }
}

#[test]
fn what_cannot_be_read_is_no_end() {
    for text in ["", "time,a\n", "0,1\n10,1\n20,1\n"] {
        let mut rows = Rows::new(std::io::BufReader::new(FailsOnce(std::io::Cursor::new(text.as_bytes()), false)));
        rows.keep_last(true);
        let ended = loop {
            match rows.advance() {
                Ok(Line::End) => break Ok(()),
                Ok(_) => {}
                Err(fault) => break Err(fault.what),
            }
            rows.again(&[], 9, &mut All);
        };
        assert!(ended.is_err_and(|what| what.starts_with("the file cannot be read on")), "{text:?}");
    }
}

/// The cases of RFC 4180 section 2 as Python's strict `csv` reads them.
#[test]
fn rfc_4180_section_2() {
    let two = vec![vec!["aaa", "bbb"], vec!["zzz", "yyy"]];
    let cases: Vec<(&str, Vec<Vec<&str>>)> = vec![
        ("aaa,bbb\r\nzzz,yyy\r\n", two.clone()),
        ("aaa,bbb\r\nzzz,yyy", two.clone()),
        ("aaa,bbb\nzzz,yyy\n", two),
        ("\"aaa\",\"b\r\nbb\",\"ccc\"\r\n", vec![vec!["aaa", "b\r\nbb", "ccc"]]),
        ("\"aaa\",\"b\"\"bb\",\"ccc\"", vec![vec!["aaa", "b\"bb", "ccc"]]),
        ("a,,c", vec![vec!["a", "", "c"]]),
        (",,", vec![vec!["", "", ""]]),
        (" a , b", vec![vec![" a ", " b"]]),
        // RFC: no comma after the last field. Read here as one more, empty, field.
        ("a,b,", vec![vec!["a", "b", ""]]),
        ("\"a\",\n\"\",x", vec![vec!["a", ""], vec!["", "x"]]),
    ];
    for (text, expected) in cases {
        assert_eq!(records(text).unwrap(), expected, "{text:?}");
    }
}

#[test]
fn what_is_no_csv_is_refused_with_its_place() {
    let cases = [
        ("a,b\"c\n", "line 1, column 4: a quotation mark"),
        ("a\n\"b\"c\n", "line 2, column 4: a quotation mark"),
        ("a,\"b\nc\n", "line 1, column 3: this quotation mark is never closed"),
        ("a\rb\n", "line 1, column 2: a carriage return"),
        ("\"a\"\rb\n", "line 1, column 4: a carriage return"),
    ];
    for (text, expected) in cases {
        let fault = records(text).unwrap_err();
        assert!(fault.starts_with(expected), "{text:?}: {fault}");
    }
}

#[test]
fn lines_are_counted_through_quoted_breaks() {
    let mut rows = Rows::new("\"a\nb\",c\nd\n".as_bytes());
    assert_eq!(rows.advance(), Ok(Line::Row));
    assert_eq!(rows.line(), 1);
    assert_eq!(rows.advance(), Ok(Line::Row));
    assert_eq!((rows.line(), rows.field(0)), (3, Some(&b"d"[..])));
}

/// Rows in which a few bytes differ from the row before, ends of fields and of rows among them (xorshift64, Marsaglia 2003).
#[test]
fn what_is_kept_of_the_row_before_changes_no_field() {
    let mut state = 0x2545_F491_4F6C_DD1D_u64;
    let mut below = |end: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        usize::try_from(state >> 16).unwrap() % end
    };
    let [mut alike, mut same, mut whole] = [0; 3];
    for _ in 0..400 {
        let mut row = b"1000,0,1,4.000,12.345,-50,,longer than eight,0".to_vec();
        let mut text = Vec::new();
        for _ in 0..40 {
            for _ in 0..below(4) {
                let at = below(row.len());
                row[at] = if below(30) == 0 { b",\r\n\"#x"[below(6)] } else { b'0' + u8::try_from(below(10)).unwrap() };
            }
            text.extend_from_slice(&row);
            text.extend_from_slice(if below(9) == 0 { b"\r\n" } else { b"\n" });
        }
        let (mut plain, mut keeps) = (Rows::new(&text[..]), Rows::new(&text[..]));
        keeps.keep_last(true);
        let mut last: Vec<Vec<u8>> = Vec::new();
        loop {
            let (expected, line) = (plain.advance(), keeps.advance());
            assert_eq!((plain.line(), plain.bytes()), (keeps.line(), keeps.bytes()));
            let Ok(Line::Row) = expected else {
                assert_eq!(line, expected);
                if !matches!(line, Ok(Line::Remark)) {
                    break;
                }
                continue;
            };
            let fields: Vec<Vec<u8>> = plain.fields().map(<[u8]>::to_vec).collect();
            match line.unwrap() {
                Line::Row => whole += 1,
                Line::Same => {
                    same += 1;
                    assert_eq!((keeps.time(), &last[1..]), (&fields[0][..], &fields[1..]));
                }
                Line::Alike => {
                    alike += 1;
                    assert_eq!(keeps.time(), &fields[0][..]);
                    assert!(keeps.fields().eq(plain.fields()));
                    let changed: Vec<usize> = (1..fields.len()).filter(|i| fields[*i] != last[*i]).collect();
                    assert_eq!(keeps.changed(), &changed[..]);
                    assert!((0..fields.len()).all(|i| keeps.column(i) == plain.column(i)));
                }
                Line::Remark | Line::End => panic!("it is a row"),
            }
            last = fields;
        }
    }
    assert!(alike > 1_000 && same > 300 && whole > 300, "{alike} {same} {whole}");
}
