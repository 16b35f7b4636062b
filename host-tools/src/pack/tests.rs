//! A small station packed, and images that differ from it.
#![allow(clippy::unwrap_used, reason = "a test that panics has failed, as it should")]

use super::*;
use crate::testing::small_station;
use logic_rules::image::crc32;

fn sources() -> Vec<Source> {
    let file = |path: &str, text: &str| Source { path: path.to_owned(), bytes: text.as_bytes().to_vec() };
    vec![file("here/a.rules", "station"), file("b.rules", " and more")]
}

/// The same bytes with a changed one, and a checksum to match.
fn changed(image: &[u8], at: usize, by: u8) -> Vec<u8> {
    let mut bytes = image.to_vec();
    if let Some(byte) = bytes.get_mut(at) {
        *byte ^= by;
    }
    let body = bytes.len() - 4;
    let checksum = crc32(bytes.get(..body).unwrap());
    bytes.truncate(body);
    bytes.extend(checksum.to_le_bytes());
    bytes
}

#[test]
fn the_manifest_tells_what_the_image_is() {
    let Packed { image, manifest } = pack(&small_station(), &sources()).unwrap();
    let text = manifest.to_string();
    let digest = crate::digest::hex(&sha256(&[b"station and more"]));
    let checksum = image.last_chunk().map(|end| u32::from_le_bytes(*end)).unwrap();
    for line in [
        "haltproof manifest 1".to_owned(),
        format!("digest {digest}"),
        format!("length {} bytes", image.len()),
        format!("crc-32 {checksum:08x}"),
        "scan 10000 us".to_owned(),
        "     0 RO-1     brake".to_owned(),
        "     2 DI-03    fork".to_owned(),
        "     0 CI-01    rope".to_owned(),
    ] {
        assert!(text.lines().any(|one| one == line), "{line}\n{text}");
    }
    assert!(text.contains("rules a.rules ") && text.contains("proves nothing"), "{text}");
    let program = lower(&small_station());
    assert_eq!(manifest.names.ways.len(), program.ways.len());
    let late = manifest.names.ways.iter().find(|way| way.way == "late").unwrap();
    assert_eq!((late.source, late.name.as_str()), ("watch", "slow-down"));
}

#[test]
fn an_image_that_says_something_else_is_not_given_out() {
    let station = small_station();
    let program = lower(&station);
    let plan = program.plan().unwrap();
    let wiring = wiring::wiring(&station).unwrap();
    let content =
        write::Content { plan: &plan, wiring: &wiring, digest: [7; 32], scan_us: 10_000, revision: station.revision };
    let (bytes, sections) = write::write(&content).unwrap();
    assert!(compare(&content, &bytes).is_ok());
    let start = |name: &str| sections.iter().find(|section| section.name == name).unwrap().offset;
    for (at, by, what) in [
        (16, 1, "digest"),
        (48, 1, "scan time"),
        (52, 1, "revision"),
        (start("line_up"), 2, "plan"),
        (start("pulses"), 2, "wiring"),
        (start("terminals") + 4, 64, "wiring"),
    ] {
        let differing = changed(&bytes, at, by);
        assert_eq!(compare(&content, &differing).err(), Some(Unpackable::Differs(what)));
    }
    assert_eq!(compare(&content, &changed(&bytes, 0, 1)).err(), Some(Unpackable::Closed(image::Fault::NotAnImage)));
}
