//! Writes what the proofs of the demo stations rest on into a folder, a script in SMT-LIB for each, for
//! `tests/python/obligations.py`, which has them decided by other solvers. As a control, each proof of
//! few lemmas is written again without one of them, for each of them in turn.
#![allow(clippy::print_stdout, clippy::unwrap_used, clippy::expect_used, reason = "a tool of the tests")]

use cross_tests::proofs::{STATIONS, proofs};
use host_tools::prove::export::smtlib::obligations;
use std::fs;
use std::path::PathBuf;

/// Proofs of at most so many lemmas are written again without one.
const FEW: usize = 8;

fn main() {
    let folder = PathBuf::from(std::env::args().nth(1).expect("a folder"));
    // What an earlier run left there would be decided again.
    if folder.exists() {
        fs::remove_dir_all(&folder).unwrap();
    }
    for part in ["proofs", "controls"] {
        fs::create_dir_all(folder.join(part)).unwrap();
    }
    for which in STATIONS {
        let open = proofs(which, &mut |found| {
            let script = obligations(found.system, found.proof, found.lemmas, found.keep);
            fs::write(folder.join(format!("proofs/{which}.{}.smt2", found.name)), script).unwrap();
            for left_out in (0..found.lemmas.len()).filter(|_| found.lemmas.len() <= FEW) {
                let mut lemmas = found.lemmas.to_vec();
                lemmas.remove(left_out);
                let script = obligations(found.system, found.proof, &lemmas, found.keep);
                fs::write(folder.join(format!("controls/{which}.{}.{left_out}.smt2", found.name)), script).unwrap();
            }
        });
        println!("{which}: no proof of {}", open.join(", "));
    }
}
