//! Images damaged as memories and lines damage them, and as an able forger would, who renews the checksum.

use crate::generate::Rng;
use logic_rules::image::{HEADER, SECTIONS, SectionRow, crc32};
use logic_rules::plan::{HeadRow, Rows, Tables};

/// Where the table of sections begins, and the bytes of one of its rows.
const ENTRIES: usize = 84;
const ENTRY: usize = SectionRow::SIZE;

/// Kinds of damage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Damage {
    /// One to eight bits are others; the checksum is left.
    Bits,
    /// A run of bytes is another; the checksum is left.
    Run,
    /// The end is missing.
    Truncated,
    /// Bytes are put in.
    Inserted,
    /// One to eight bits are others; the checksum is renewed.
    SealedBits,
    /// A number in a row of the plan or the wiring is another; the checksum is renewed.
    Field,
    /// A number of the header is another; the checksum is renewed.
    Header,
    /// Two entries of the table of sections are exchanged; the checksum is renewed.
    Swapped,
    /// Two sections have changed places, and their entries say so; the checksum is renewed.
    Moved,
    /// A section has one row more or less, and everything behind it has moved; the checksum is renewed.
    Resized,
}

/// All kinds, each as often as it should come.
pub const KINDS: [Damage; 16] = [
    Damage::Bits,
    Damage::Run,
    Damage::Truncated,
    Damage::Inserted,
    Damage::SealedBits,
    Damage::SealedBits,
    Damage::SealedBits,
    Damage::Field,
    Damage::Field,
    Damage::Field,
    Damage::Field,
    Damage::Field,
    Damage::Header,
    Damage::Swapped,
    Damage::Moved,
    Damage::Resized,
];

/// Renews the checksum.
pub fn seal(image: &mut [u8]) {
    if let Some((body, checksum)) = image.split_last_chunk_mut::<4>() {
        *checksum = crc32(body).to_le_bytes();
    }
}

/// An entry of the table of sections.
pub fn entry(image: &[u8], section: usize) -> SectionRow {
    let at = ENTRIES + section * ENTRY;
    SectionRow::read(image[at..at + ENTRY].try_into().expect("as long as a row"))
}

/// Changes an entry of the table of sections.
pub fn edit(image: &mut [u8], section: usize, change: impl FnOnce(&mut SectionRow)) {
    let mut row = entry(image, section);
    change(&mut row);
    let at = ENTRIES + section * ENTRY;
    image[at..at + ENTRY].copy_from_slice(&row.write());
}

fn size(n: u32) -> usize {
    usize::try_from(n).expect("64 bits")
}
fn long(n: usize) -> u32 {
    u32::try_from(n).expect("a small image")
}

/// The bytes of each section.
fn sections(image: &[u8]) -> Vec<(SectionRow, Vec<u8>)> {
    let bytes = |row: SectionRow| {
        let first = size(row.offset);
        (row, image[first..first + size(row.rows) * usize::from(row.size)].to_vec())
    };
    (0..usize::from(SECTIONS)).map(|i| bytes(entry(image, i))).collect()
}

/// The tables of an image whose sections lie as they should, whatever the rest of it says.
pub fn tables(image: &[u8]) -> Tables<'_> {
    fn next<'i, const N: usize>(image: &'i [u8], section: &mut usize) -> Rows<'i, N> {
        let row = entry(image, *section);
        *section += 1;
        let bytes = &image[size(row.offset)..][..size(row.rows) * N];
        bytes.as_chunks().0
    }
    let mut at = 0;
    let [head] = next(image, &mut at) else { panic!("one head") };
    macro_rules! all {
        ($($table:ident)*) => { Tables { head: HeadRow::read(head), $($table: next(image, &mut at),)* } };
    }
    all! {
        line_up line_down line_invert chatters pairs stucks missings gauges paces links orders differs compares bands
        nodes modes mode_sets bypasses holds totals travels grows age_tops times time_tops measures spacings confirms
        exercises counts gates ranks slows stops outputs refills targets
    }
}

/// The image with other sections, sealed.
fn rebuilt(image: &[u8], sections: &[(SectionRow, Vec<u8>)]) -> Vec<u8> {
    let mut out = image[..usize::from(HEADER)].to_vec();
    for (i, (row, bytes)) in sections.iter().enumerate() {
        let offset = long(out.len());
        edit(&mut out, i, |own| *own = SectionRow { offset, ..*row });
        out.extend(bytes);
    }
    out.extend([0; 4]);
    let length = long(out.len());
    out[12..16].copy_from_slice(&length.to_le_bytes());
    seal(&mut out);
    out
}

/// The image with one row more or less of a section, sealed. There is always room for more; the new row is the first
/// one again, or 0.
pub fn resized(image: &[u8], section: usize, less: bool) -> Vec<u8> {
    let mut all = sections(image);
    let (row, bytes) = &mut all[section];
    let width = usize::from(row.size);
    if less && row.rows > 0 {
        bytes.truncate(bytes.len() - width);
        row.rows -= 1;
    } else {
        let new = bytes.get(..width).map_or_else(|| vec![0; width], <[u8]>::to_vec);
        bytes.extend(new);
        row.rows += 1;
    }
    rebuilt(image, &all)
}

/// Changes bits anywhere.
fn bits(rng: &mut Rng, image: &mut [u8], within: usize) {
    for _ in 0..rng.size(1, 8) {
        image[rng.index(within)] ^= 1 << rng.index(8);
    }
}

/// Another value for a number of two or four bytes: near by, at an end, small or any.
fn other(rng: &mut Rng, old: u32, top: u32) -> u32 {
    let bit = old ^ (1 << rng.index(if top > 0xFFFF { 32 } else { 16 }));
    let any = u32::try_from(rng.below(u64::from(top) + 1)).expect("up to the top");
    let small = rng.small(0, 40);
    rng.pick(&[old.wrapping_add(1), old.wrapping_sub(1), 0, top, top - 1, small, small, any, bit]) & top
}

/// Writes another number of `bytes` bytes (2 or 4).
fn renumber(rng: &mut Rng, image: &mut [u8], at: usize, bytes: usize) {
    let mut number = [0; 4];
    number[..bytes].copy_from_slice(&image[at..at + bytes]);
    let top = if bytes == 4 { u32::MAX } else { 0xFFFF };
    let new = other(rng, u32::from_le_bytes(number), top).to_le_bytes();
    image[at..at + bytes].copy_from_slice(&new[..bytes]);
}

/// Damages an image.
pub fn damage(rng: &mut Rng, image: &[u8], kind: Damage) -> Vec<u8> {
    let mut out = image.to_vec();
    let body = out.len() - 4;
    match kind {
        Damage::Bits => bits(rng, &mut out, image.len()),
        Damage::Run => {
            let first = rng.index(image.len());
            let last = (first + rng.size(1, 64)).min(image.len());
            let fill = rng.pick(&[0, 0xFF, 0x55]);
            out[first..last].fill(fill);
        }
        Damage::Truncated => out.truncate(rng.index(image.len())),
        Damage::Inserted => {
            let at = rng.index(image.len() + 1);
            let new: Vec<u8> = (0..rng.size(1, 64)).map(|_| rng.pick(&[0, 0xFF, 1, 0x48])).collect();
            out.splice(at..at, new);
        }
        Damage::SealedBits => {
            bits(rng, &mut out, body);
            seal(&mut out);
        }
        Damage::Field => {
            for _ in 0..rng.size(1, 2) {
                let section = loop {
                    let row = entry(image, rng.index(usize::from(SECTIONS)));
                    if row.rows > 0 {
                        break row;
                    }
                };
                let width = usize::from(section.size);
                let row = size(section.offset) + rng.index(size(section.rows)) * width;
                let bytes = if width < 4 || rng.chance(60) { width.min(2) } else { 4 };
                let at = row + rng.index(width / bytes) * bytes;
                renumber(rng, &mut out, at, bytes);
            }
            seal(&mut out);
        }
        Damage::Header => {
            let bytes = rng.pick(&[2, 4]);
            let at = rng.index(usize::from(HEADER) / bytes) * bytes;
            renumber(rng, &mut out, at, bytes);
            seal(&mut out);
        }
        Damage::Swapped => {
            let [a, b] = [0; 2].map(|_| rng.index(usize::from(SECTIONS)));
            let (one, two) = (entry(image, a), entry(image, b));
            edit(&mut out, a, |row| *row = two);
            edit(&mut out, b, |row| *row = one);
            seal(&mut out);
        }
        Damage::Moved => {
            let mut all = sections(image);
            let [a, b] = [0; 2].map(|_| rng.index(all.len()));
            all.swap(a, b);
            out = rebuilt(image, &all);
        }
        Damage::Resized => out = resized(image, rng.index(usize::from(SECTIONS)), rng.chance(50)),
    }
    out
}
