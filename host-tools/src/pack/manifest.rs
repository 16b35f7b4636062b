//! What an image is, in words and numbers: it lies beside the image, and a log of numbers is read with it.

use super::names::{Names, WayName, Wired};
use crate::digest::{hex, sha256};
use crate::lower::Program;
use crate::station::Station;
use crate::text::parse::Source;
use logic_rules::image::{Image, VERSION};
use serde::Serialize;
use std::fmt;
use std::path::Path;

/// What packing does not say.
pub const NOTICE: &str = "An image is what the rules say, in the form that the controller runs. \
    Packing proves nothing:\nneither that the rules are right, nor that a requirement is met, \
    nor that the plant is wired as they say.";

/// The manifest of an image.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Manifest {
    /// Title of the station.
    pub station: String,
    /// Revision of the rule file.
    pub revision: u32,
    /// Rule files, in the order of the digest.
    pub rules: Vec<RuleFile>,
    /// SHA-256 of the rule files, one after the other.
    pub digest: String,
    /// Version of haltproof.
    pub tool: &'static str,
    /// Format version.
    pub format: u16,
    /// Bytes of the image.
    pub length: usize,
    /// Checksum of the image, in hexadecimal digits.
    pub crc32: String,
    /// Length of a scan.
    pub scan_us: u32,
    /// Cells that a controller needs.
    pub needs: Cells,
    /// Where the sections lie.
    pub sections: Vec<Section>,
    /// What the numbers are called.
    pub names: Names,
}

/// A rule file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RuleFile {
    /// Its name, without its folder.
    pub name: String,
    /// Its SHA-256.
    pub digest: String,
}

/// Cells that a controller needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Cells {
    /// Bits of state.
    pub bits: usize,
    /// Words of state.
    pub words: usize,
    /// Bits of work.
    pub work_bits: usize,
    /// Words of work.
    pub work_words: usize,
}

/// A section of an image.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Section {
    /// Its name.
    pub name: &'static str,
    /// Its first byte, from the beginning of the image.
    pub offset: usize,
    /// Its rows.
    pub rows: usize,
    /// Bytes of a row.
    pub bytes_a_row: usize,
}

impl Manifest {
    /// Of an image that was opened.
    pub(super) fn new(
        image: &Image<'_>,
        station: &Station,
        program: &Program,
        sources: &[Source],
        sections: Vec<Section>,
    ) -> Self {
        let file = |source: &Source| {
            let name = Path::new(&source.path).file_name().map(|name| name.to_string_lossy().into_owned());
            RuleFile { name: name.unwrap_or_else(|| source.path.clone()), digest: hex(&sha256(&[&source.bytes])) }
        };
        let needs = image.needs();
        Self {
            station: station.title.clone(),
            revision: image.revision(),
            rules: sources.iter().map(file).collect(),
            digest: hex(image.digest()),
            tool: env!("CARGO_PKG_VERSION"),
            format: VERSION,
            length: image.length(),
            crc32: format!("{:08x}", image.checksum()),
            scan_us: image.scan_us(),
            needs: Cells {
                bits: needs.bits,
                words: needs.words,
                work_bits: needs.work_bits,
                work_words: needs.work_words,
            },
            sections,
            names: Names::new(station, program),
        }
    }
}

impl fmt::Display for Manifest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "haltproof manifest 1\n{NOTICE}\n")?;
        writeln!(f, "station {}\nrevision {}", self.station, self.revision)?;
        for RuleFile { name, digest } in &self.rules {
            writeln!(f, "rules {name} {digest}")?;
        }
        writeln!(f, "digest {}\ntool {}", self.digest, self.tool)?;
        writeln!(f, "format {}\nlength {} bytes\ncrc-32 {}", self.format, self.length, self.crc32)?;
        writeln!(f, "scan {} us", self.scan_us)?;
        let Cells { bits, words, work_bits, work_words } = self.needs;
        writeln!(f, "needs {bits} bits and {words} words of state, {work_bits} bits and {work_words} words of work")?;
        writeln!(f, "\nsections: offset, rows, bytes a row")?;
        for Section { name, offset, rows, bytes_a_row } in &self.sections {
            writeln!(f, "  {name:<12} {offset:>8} {rows:>6} {bytes_a_row:>4}")?;
        }
        let names = &self.names;
        writeln!(f, "\nways: answer, what trips, in what way")?;
        for (i, WayName { source, name, way, answer, title }) in names.ways.iter().enumerate() {
            let line = format!("  {i:>4} {answer:<12} {source} {name} {way}  {title}");
            writeln!(f, "{}", line.trim_end())?;
        }
        list(f, "answers, by rank", 1, &names.answers)?;
        list(f, "modes", 0, &names.modes)?;
        list(f, "bypasses", 0, &names.bypasses)?;
        list(f, "paces", 0, &names.paces)?;
        list(f, "watches that measure", 0, &names.measured)?;
        for (title, these) in [
            ("outputs", &names.outputs),
            ("channels", &names.channels),
            ("gauges", &names.gauges),
            ("sources of travel", &names.sources),
            ("links", &names.links),
        ] {
            let lines: Vec<String> =
                these.iter().map(|Wired { name, terminal }| format!("{terminal:<8} {name}")).collect();
            list(f, title, 0, &lines)?;
        }
        Ok(())
    }
}

/// A numbered list; none if it is empty.
fn list(f: &mut fmt::Formatter<'_>, title: &str, first: usize, lines: &[String]) -> fmt::Result {
    if !lines.is_empty() {
        writeln!(f, "\n{title}")?;
    }
    for (i, line) in lines.iter().enumerate() {
        writeln!(f, "  {:>4} {line}", first + i)?;
    }
    Ok(())
}
