//! Certificates that were edited without their digests renewed are refused, whatever the edit; those with a digest
//! renewed are looked at anew.
//!
//! Whether the checker then decides as it should is for another solver to say: `tests/python/mutated.py`.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test that panics has failed, as it should"
)]

use cross_tests::effort::is_heavy;
use cross_tests::generate::Rng;
use cross_tests::mutate::{Stock, mutate};
use cross_tests::proofs::demo;
use host_tools::prove::attempt::attempt;
use host_tools::prove::certificate;
use host_tools::prove::circuit::{System, with_system};
use host_tools::prove::model::Model;
use host_tools::prove::recheck::{Checker, Refused};
use host_tools::station::{Form, Station};

/// Certificates of everything but whole stretches.
fn certificates(station: &Station, model: &Model<'_>, system: &mut System) -> Vec<String> {
    let short = |i: &usize| !matches!(station.requirements[*i].form, Form::After { .. });
    let proofs = (0..station.requirements.len()).filter(short).filter_map(|i| attempt(model, system, i));
    proofs.map(|proof| certificate::write(model, "rules", &proof.claimed)).collect()
}

/// A certificate with one byte changed, left out or put in, or that ends there.
fn edits(bytes: &[u8], at: usize, rng: &mut Rng) -> Vec<Vec<u8>> {
    let letters = b"01 \n\rabf9x.+<=\t\0\xff";
    let other = letters[rng.index(letters.len())];
    let mut out = Vec::new();
    for new in [bytes[at] ^ 1, other] {
        let mut edited = bytes.to_vec();
        edited[at] = new;
        out.push(edited);
    }
    let mut shorter = bytes.to_vec();
    shorter.remove(at);
    let mut longer = bytes.to_vec();
    longer.insert(at, other);
    out.extend([shorter, longer, bytes[..at].to_vec()]);
    out
}

/// How a text reads that holds what was edited: bytes that are no text are replaced.
fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// The same but for how the last line ends: the digest above it stands.
fn same(edited: &str, whole: &str) -> bool {
    edited.trim_end_matches(['\r', '\n']) == whole.trim_end_matches('\n') && !edited.ends_with("\n\n")
}

fn refused(model: &Model<'_>, edited: &str, whole: &str) -> bool {
    if same(edited, whole) {
        return false;
    }
    let read = certificate::read(model, "rules", edited);
    assert!(read.is_err(), "it was read:\n{edited}");
    true
}

#[test]
fn no_edit_of_any_byte_is_read() {
    let heavy = is_heavy();
    let mut rng = Rng::new(5);
    let mut tried = 0;
    let station = demo("return");
    with_system(&station, |model, system| {
        for (i, whole) in certificates(&station, model, system).iter().enumerate() {
            let bytes = whole.as_bytes();
            // Every byte of the first (every fifth in the short form), some of the others.
            let places: Vec<usize> = if i == 0 {
                (0..bytes.len()).step_by(if heavy { 1 } else { 5 }).collect()
            } else {
                (0..if heavy { 30 } else { 12 }).map(|_| rng.index(bytes.len())).collect()
            };
            for at in places {
                for edited in edits(bytes, at, &mut rng) {
                    tried += usize::from(refused(model, &text(&edited), whole));
                }
            }
        }
    })
    .unwrap();
    assert!(tried > if heavy { 5_000 } else { 1_500 }, "{tried}");
}

#[test]
fn no_edit_of_whole_lines_is_read() {
    let station = demo("drive");
    with_system(&station, |model, system| {
        for whole in &certificates(&station, model, system) {
            let lines: Vec<&str> = whole.lines().collect();
            let mut tried = 0;
            for at in 0..lines.len() {
                let (mut less, mut twice, mut swapped) = (lines.clone(), lines.clone(), lines.clone());
                less.remove(at);
                twice.insert(at, lines[at]);
                swapped.swap(at, (at + 1) % lines.len());
                for edited in [less, twice, swapped] {
                    tried += usize::from(refused(model, &(edited.join("\n") + "\n"), whole));
                }
            }
            assert!(tried > 2 * lines.len());
            for ends in ["\r\n", "\n\n", "\r"] {
                assert!(refused(model, &whole.replace('\n', ends), whole));
            }
        }
    })
    .unwrap();
}

#[test]
fn a_renewed_digest_lets_the_checker_decide() {
    let station = demo("drive");
    with_system(&station, |model, system| {
        let whole = certificates(&station, model, system);
        let stock = Stock {
            cells: system.cells.iter().map(|cell| (cell.name.clone(), cell.is_bit)).collect(),
            requirements: station.requirements.iter().map(|r| r.name.text.clone()).collect(),
            signals: Vec::new(),
            assumptions: station.assumptions.iter().map(|a| a.name.text.clone()).collect(),
            lemmas: Vec::new(),
        };
        let (mut checker, mut rng) = (Checker::new(model), Rng::new(9));
        let (mut formal, mut accepted, mut refused) = (0, 0, 0);
        for round in 0..40 {
            let (changed, changes) = mutate(&mut rng, &stock, &whole[round % whole.len()]);
            match certificate::read(model, "rules", &changed) {
                Err(unusable) => {
                    assert!(!unusable.what.contains("digest"), "{changes:?}: {unusable:?}");
                    formal += 1;
                }
                Ok(claimed) => match checker.check(&claimed) {
                    Ok(()) => accepted += 1,
                    Err(Refused::Nonsense | Refused::Circular) => formal += 1,
                    Err(Refused::Plan(_) | Refused::TooNarrow | Refused::Unknown(_)) => panic!("{changes:?}"),
                    Err(_) => refused += 1,
                },
            }
        }
        assert!(accepted > 4 && refused > 10 && formal < 10, "{accepted} accepted, {refused} refused, {formal}");
    })
    .unwrap();
}
