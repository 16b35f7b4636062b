//! The bytes of an image, as `manual/image.md` lays them out.

use super::Unpackable;
use super::manifest::Section;
use super::wiring::WiringRows;
use logic_rules::image::{HEADER, MAGIC, SECTIONS, SectionRow, SizesRow, StartRow, VERSION, crc32};
use logic_rules::plan::{Plan, Tables};

/// What an image is made of.
pub(super) struct Content<'c> {
    /// The plan.
    pub(super) plan: &'c Plan<'c>,
    /// What is connected where.
    pub(super) wiring: &'c WiringRows,
    /// SHA-256 of the rule files.
    pub(super) digest: [u8; 32],
    /// Length of a scan, microseconds.
    pub(super) scan_us: u32,
    /// Revision of the rule file.
    pub(super) revision: u32,
}

/// Sections one after the other.
#[derive(Default)]
struct Body {
    bytes: Vec<u8>,
    sections: Vec<Section>,
}

impl Body {
    fn add<const N: usize>(&mut self, name: &'static str, rows: &[[u8; N]]) {
        let offset = usize::from(HEADER) + self.bytes.len();
        self.sections.push(Section { name, offset, rows: rows.len(), bytes_a_row: N });
        self.bytes.extend(rows.as_flattened());
    }

    fn tables(&mut self, tables: &Tables<'_>) {
        self.add("head", &[tables.head.write()]);
        // Taken apart by name, so that a table that is added to the plan is not forgotten here.
        macro_rules! all {
            ($($table:ident)*) => {
                let Tables { head: _, $($table,)* } = tables;
                $(self.add(stringify!($table), $table);)*
            };
        }
        all! {
            line_up line_down line_invert chatters pairs stucks missings gauges paces links orders differs compares bands
            nodes modes mode_sets bypasses holds totals travels grows age_tops times time_tops measures spacings confirms
            exercises counts gates ranks slows stops outputs refills targets
        }
    }
}

/// The image, and where its sections lie.
pub(super) fn write(content: &Content<'_>) -> Result<(Vec<u8>, Vec<Section>), Unpackable> {
    let mut body = Body::default();
    body.tables(content.plan.tables());
    body.add("scales", &content.wiring.scales);
    body.add("pulses", &content.wiring.pulses);
    body.add("terminals", &content.wiring.terminals());
    let long = |n: usize| u32::try_from(n).map_err(|_| Unpackable::Long);
    let needs = content.plan.needs();
    let start = StartRow {
        version: VERSION,
        header: HEADER,
        length: long(usize::from(HEADER) + body.bytes.len() + size_of::<u32>())?,
    };
    let sizes = SizesRow {
        scan_us: content.scan_us,
        revision: content.revision,
        bits: long(needs.bits)?,
        words: long(needs.words)?,
        work_bits: long(needs.work_bits)?,
        work_words: long(needs.work_words)?,
        ages: long(needs.ages)?,
        timed: long(needs.timed)?,
        sections: SECTIONS,
        spare: 0,
    };
    let mut image = Vec::new();
    image.extend(MAGIC);
    image.extend(start.write());
    image.extend(content.digest);
    image.extend(sizes.write());
    for section in &body.sections {
        let size = u16::try_from(section.bytes_a_row).map_err(|_| Unpackable::Long)?;
        let row = SectionRow { offset: long(section.offset)?, rows: long(section.rows)?, size, spare: 0 };
        image.extend(row.write());
    }
    image.append(&mut body.bytes);
    image.extend(crc32(&image).to_le_bytes());
    Ok((image, body.sections))
}
