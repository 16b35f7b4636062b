//! Images: a plan that is packed opens as the same plan, a damaged one is refused, and what opens none the less cannot
//! make a step fail.
//!
//! `tests/images` holds one image of each format version that ever was, with its manifest.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::print_stdout,
    reason = "a test that panics has failed, as it should; counts are what one wants to read of it"
)]

use cross_tests::damage::{Damage, KINDS, damage, edit, entry, resized, seal, tables};
use cross_tests::effort::by_effort;
use cross_tests::generate::{Raw, Rng, case};
use cross_tests::machines::told;
use cross_tests::proofs::{STATIONS, demo, packed, sources};
use cross_tests::render::render;
use host_tools::lower::lower;
use host_tools::pack::pack;
use host_tools::run::Machine;
use host_tools::text::parse::Source;
use logic_rules::image::{Fault, HEADER, Image};
use logic_rules::{Inverted, Plain, Upright, plan};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::path::Path;

/// Images that are damaged.
fn trials() -> usize {
    by_effort([3_000, 25_000, 100_000])
}

#[test]
fn the_demo_stations_open_as_the_same_plan() {
    for which in STATIONS {
        let station = demo(which);
        let program = lower(&station);
        let bytes = packed(which);
        let image = Image::open(&bytes).unwrap();
        assert_eq!(image.plan().tables(), &program.tables());
        assert_eq!(tables(&bytes), program.tables());
        assert_eq!(image.needs(), program.plan().unwrap().needs());
        assert_eq!(
            (image.length(), image.scan_us(), image.revision()),
            (bytes.len(), station.scan_us, station.revision)
        );
        assert_eq!(image.wiring().channels.len(), station.channels.len());
        // The tables lie in the image: nothing was copied.
        let inside = bytes.as_ptr_range();
        assert!(inside.contains(&image.plan().tables().line_up.as_ptr().cast()));
        // Packed again it is the same, byte for byte.
        assert_eq!(packed(which), bytes);
        // In a memory that holds more it is found by its own length.
        let mut memory = bytes.clone();
        memory.resize(bytes.len() + 999, 0xFF);
        assert_eq!(Image::length_in(&memory), Ok(bytes.len()));
        assert_eq!(Image::open(&memory).err(), Some(Fault::Trailing));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn a_random_station_opens_as_the_same_plan_and_steps_alike(seed in any::<u64>()) {
        let station = case(seed).station;
        let text = render(&station, seed);
        let source = Source { path: "random.rules".to_owned(), bytes: text.into_bytes() };
        let packed = pack(&station, &[source]).unwrap();
        let program = lower(&station);
        let (plan, image) = (program.plan().unwrap(), Image::open(&packed.image).unwrap());
        prop_assert_eq!(image.plan().tables(), plan.tables());
        let mut mine = Machine::power_up(Plain, &plan).unwrap();
        let mut theirs = Machine::power_up(Plain, image.plan()).unwrap();
        let mut raw = Raw::new(&station, seed);
        for _ in 0..150 {
            let sample = raw.next_sample();
            prop_assert_eq!(mine.scan(&sample), theirs.scan(&sample));
            let look = |machine: &mut Machine<'_, Plain>| {
                machine.look(|bound| told(&program, station.watches.len(), bound, &|bit| bit, &|word| word))
            };
            prop_assert_eq!(look(&mut mine), look(&mut theirs));
        }
    }
}

/// Name of a fault, without what it names.
fn name(fault: Fault) -> String {
    format!("{fault:?}").split('(').next().unwrap_or_default().to_owned()
}

/// A verified plan steps whatever it is given: every scan gives a verdict, the same in both copies of a controller.
fn steps(plan: &plan::Plan<'_>, seed: u64) {
    let mut machine = Machine::power_up(Upright, plan).expect("a plan fits its own needs");
    let mut copy = Machine::power_up(Inverted, plan).expect("a plan fits its own needs");
    let mut raw = Raw::of_plan(plan, seed);
    for scan in 0..200 {
        let sample = raw.next_sample();
        let verdict = machine.scan(&sample);
        assert!(verdict.is_some(), "no verdict in scan {scan}\n{:?}", plan.tables());
        assert_eq!(verdict, copy.scan(&sample), "scan {scan}\n{:?}", plan.tables());
    }
}

#[test]
fn a_damaged_image_is_refused_or_is_a_plan_that_steps() {
    let mut outcomes: BTreeMap<(Damage, String), u32> = BTreeMap::new();
    let mut rng = Rng::new(11);
    let images = STATIONS.map(packed);
    for trial in 0..trials() {
        let whole = &images[trial % images.len()];
        let original = Image::open(whole).unwrap();
        let kind = rng.pick(&KINDS);
        let damaged = damage(&mut rng, whole, kind);
        let outcome = match Image::open(&damaged) {
            Err(fault) => {
                if fault == Fault::Needs {
                    // Whoever renews the cells that are needed as well has a plan.
                    steps(&plan::Plan::verify(tables(&damaged)).unwrap(), rng.bits());
                }
                name(fault)
            }
            Ok(_) if damaged == *whole => "undamaged".to_owned(),
            Ok(image) => {
                // Only who renews the checksum gets so far.
                assert!(kind >= Damage::SealedBits, "{kind:?} in trial {trial} is not noticed");
                let same = image.plan().tables() == original.plan().tables();
                if !same {
                    steps(image.plan(), rng.bits());
                }
                if same { "the same plan" } else { "another plan, which steps" }.to_owned()
            }
        };
        *outcomes.entry((kind, outcome)).or_default() += 1;
    }
    let mut sums: BTreeMap<&str, u32> = BTreeMap::new();
    for ((kind, outcome), count) in &outcomes {
        println!("{kind:?}: {outcome} {count}");
        *sums.entry(outcome).or_default() += count;
    }
    println!("{} images: {sums:?}", trials());
    let floor = u32::try_from(trials()).unwrap() / 1_000;
    for outcome in ["Short", "Trailing", "Checksum", "RowSize", "Gap", "Overlap", "Outside", "Rows", "Spare", "Wiring"]
    {
        assert!(sums.get(outcome).is_some_and(|count| *count >= floor), "{outcome}: {sums:?}");
    }
    for outcome in ["Plan", "another plan, which steps"] {
        assert!(sums.get(outcome).is_some_and(|count| *count >= 100 * floor), "{outcome}: {sums:?}");
    }
}

/// One of each kind of damage, and the fault it is refused with.
fn golden() -> Vec<(Fault, Vec<u8>)> {
    let whole = packed("return");
    let sealed = |change: &dyn Fn(&mut Vec<u8>)| {
        let mut image = whole.clone();
        change(&mut image);
        seal(&mut image);
        image
    };
    let put = |at: usize, byte: u8| sealed(&|image| image[at] = byte);
    let first = |section: usize| usize::try_from(entry(&whole, section).offset).unwrap();
    let section = |change: &dyn Fn(&mut logic_rules::image::SectionRow)| sealed(&|image| edit(image, 1, change));
    let mut longer = whole.clone();
    longer.push(0);
    let mut flipped = whole.clone();
    flipped[700] ^= 1;
    vec![
        (Fault::Short, vec![]),
        (Fault::Short, whole[..15].to_vec()),
        (Fault::Short, whole[..whole.len() - 1].to_vec()),
        (Fault::NotAnImage, put(0, b'h')),
        (Fault::Version(0), put(8, 0)),
        (Fault::Version(2), put(8, 2)),
        (Fault::Trailing, longer),
        (Fault::Checksum, flipped),
        (Fault::Header, put(10, 0)),
        (Fault::Header, put(80, 40)),
        (Fault::Reserved, put(82, 1)),
        (Fault::Reserved, put(94, 1)),
        (Fault::Scan, sealed(&|image| image[48..52].fill(0))),
        (Fault::Scan, sealed(&|image| image[48..52].fill(0xFF))),
        (Fault::RowSize("line_up"), section(&|row| row.size = 8)),
        (Fault::Overlap("line_up"), section(&|row| row.offset -= 1)),
        (Fault::Gap("line_up"), section(&|row| row.offset += 1)),
        (Fault::Outside("line_up"), section(&|row| row.rows = u32::MAX)),
        (Fault::Outside("line_up"), section(&|row| row.rows = 1_000)),
        (Fault::Rows("head"), sealed(&|image| edit(image, 0, |row| row.rows = 0))),
        (Fault::Rows("pulses"), resized(&whole, 39, false)),
        (Fault::Rows("scales"), resized(&whole, 38, true)),
        (Fault::Rows("terminals"), resized(&whole, 40, true)),
        (Fault::Gap("checksum"), gap_at_the_end(&whole)),
        (Fault::Spare("pairs"), put(first(5) + 10, 1)),
        (Fault::Plan(plan::Fault::Limit("settling", 0)), put(first(1), 0)),
        (Fault::Plan(plan::Fault::Index("chatters", 0)), put(first(4) + 1, 0xFF)),
        (Fault::Wiring("scales", 0), sealed(&|image| image[first(38) + 48..first(38) + 56].fill(0))),
        (Fault::Wiring("pulses", 0), sealed(&|image| image[first(39)..first(39) + 4].fill(0))),
        (Fault::Wiring("terminals", 0), put(first(40) + 1, b'x')),
        (Fault::Wiring("terminals", 1), sealed(&|image| image.copy_within(first(40)..first(40) + 8, first(40) + 8))),
        (Fault::Needs, put(56, 0)),
        (Fault::Needs, put(60, 0)),
        (Fault::Needs, put(72, 0)),
    ]
}

/// The image with four bytes before its checksum that belong to nothing.
fn gap_at_the_end(whole: &[u8]) -> Vec<u8> {
    let mut image = whole.to_vec();
    image.extend([0; 4]);
    let length = u32::try_from(image.len()).unwrap();
    image[12..16].copy_from_slice(&length.to_le_bytes());
    seal(&mut image);
    image
}

fn manual() -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("../host-tools/manual/image.md")).unwrap()
}

#[test]
fn each_kind_of_damage_has_its_fault_and_each_fault_its_line_in_the_manual() {
    let manual = manual();
    let mut shown = Vec::new();
    for (i, (fault, bytes)) in golden().into_iter().enumerate() {
        assert_eq!(Image::open(&bytes).err(), Some(fault), "case {i}");
        shown.push(name(fault));
        assert!(manual.contains(&format!("\n| `{}` | ", name(fault))), "{fault:?} is not in the manual");
    }
    let told = manual.split("## What is refused").nth(1).and_then(|text| text.split("\n## ").next()).unwrap();
    for line in told.lines().filter_map(|line| line.strip_prefix("| `")) {
        let fault = line.split('`').next().unwrap();
        assert!(shown.iter().any(|shown| shown == fault), "{fault} of the manual is not shown here");
    }
}

/// The manual lists the sections in their order, with the bytes of a row and of each of its fields.
#[test]
fn the_manual_lays_out_the_sections_as_they_are() {
    let manifest = pack(&demo("drive"), &sources("drive")).unwrap().manifest;
    let manual = manual();
    let table = manual.split("| section | bytes a row | fields |").nth(1).unwrap();
    let rows: Vec<Vec<&str>> = (table.lines().skip(2).take_while(|line| line.starts_with('|')))
        .map(|line| line.trim_matches('|').split('|').map(|cell| cell.trim().trim_matches('`')).collect())
        .collect();
    assert_eq!(rows.len(), manifest.sections.len());
    for (row, section) in rows.iter().zip(&manifest.sections) {
        assert_eq!((row[0], row[1].parse()), (section.name, Ok(section.bytes_a_row)));
        let fields: Vec<Option<usize>> =
            row[2].split(", ").map(|field| field.split_once(' ')?.1.parse().ok()).collect();
        // A column of one number has no named fields.
        if fields.iter().all(Option::is_some) {
            assert_eq!(fields.iter().flatten().sum::<usize>(), section.bytes_a_row, "{}", section.name);
        }
    }
    assert!(manual.contains(&format!("bytes of the header: {HEADER} |")));
}

/// Every version that ever was: the checksum of the image that is kept, and what its plan comes to (`meaning`).
const VERSIONS: [(u16, u32, u64); 1] = [(1, 0xB5C0_7969, 0x27F7_E890_5A37_B880)];

/// All trips and verdicts of a raw history in one number.
fn meaning(plan: &plan::Plan<'_>) -> u64 {
    let mut machine = Machine::power_up(Plain, plan).unwrap();
    let mut raw = Raw::of_plan(plan, 3);
    let mut sum = 0_u64;
    let mut add = |bit: bool| sum = sum.wrapping_mul(0x0100_0000_01B3) ^ u64::from(bit);
    for _ in 0..2_000 {
        let published = machine.scan(&raw.next_sample()).unwrap();
        add(published.permit);
        add(published.reset);
        (0..8).for_each(|bit| add(published.answer >> bit & 1 == 1));
        machine.look(|bound| bound.work.trip.iter().for_each(|[trip]| add(*trip))).unwrap();
    }
    sum
}

#[test]
fn an_image_of_each_version_opens_for_ever_and_means_what_it_meant() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("images");
    for (version, checksum, meant) in VERSIONS {
        let bytes = std::fs::read(folder.join(format!("version-{version}.image"))).unwrap();
        assert_eq!(u16::from_le_bytes([bytes[8], bytes[9]]), version);
        let image = Image::open(&bytes).unwrap();
        assert_eq!((image.checksum(), meaning(image.plan())), (checksum, meant), "version {version}");
        let manifest = std::fs::read_to_string(folder.join(format!("version-{version}.image.txt"))).unwrap();
        assert!(manifest.contains(&format!("\ncrc-32 {:08x}\n", image.checksum())));
        assert!(manifest.contains("Packing proves nothing"));
    }
}
