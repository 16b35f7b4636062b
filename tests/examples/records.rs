//! What reading alone costs, for `tests/python/day.py`: `records count FILE` counts the records of a file with the `csv` crate,
//! `records read FILE RULES ..` reads a recording as `replay` does and judges nothing. Each prints its count.
#![allow(clippy::expect_used, clippy::print_stdout, reason = "a measuring program of the workspace's own")]

use host_tools::load::load;
use host_tools::recording::read::{Reader, Step};
use host_tools::recording::source::open;
use host_tools::text::parse::Source;
use std::fs::{self, File};
use std::path::Path;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let count = match words.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["count", file] => counted(Path::new(file)),
        ["read", file, rules @ ..] if !rules.is_empty() => read(Path::new(file), rules),
        _ => {
            println!("records count FILE | records read FILE RULES ..");
            std::process::exit(2)
        }
    };
    println!("{count}");
}

fn counted(path: &Path) -> u64 {
    let file = File::open(path).expect("the file is there");
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(file);
    let (mut record, mut count) = (csv::ByteRecord::new(), 0);
    while reader.read_byte_record(&mut record).expect("it is CSV") {
        count += 1;
    }
    count
}

fn read(path: &Path, rules: &[&str]) -> u64 {
    let source = |path: &&str| Source { path: (*path).to_owned(), bytes: fs::read(path).expect("the rules are there") };
    let station = load(rules.iter().map(source).collect()).station.expect("the rules are sound");
    let mut reader = Reader::open(open(path).expect("the file is there").bytes, &station).expect("it is a recording");
    let mut count = 0;
    loop {
        match reader.advance().expect("it is a recording") {
            Step::Scan { .. } => count += 1,
            Step::End => return count,
            Step::Gap { .. } | Step::PowerUp | Step::Recording => {}
        }
    }
}
