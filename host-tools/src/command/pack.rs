//! `haltproof pack`.

use std::fs;
use std::io::Write;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::apart::apart;
use super::output::{Landing, Output, coloured, complain, landing};
use super::today::Today;
use super::{Failure, Outcome, Shape, files};
use host_tools::json::document;
use host_tools::load::load;
use host_tools::pack::{Manifest, NOTICE, Packed, pack};
use host_tools::text::finding::Level;
use host_tools::text::show::{Told, render, tell};

/// Writes the image that a station controller opens, and a manifest beside it.
///
/// The image is what the rules say. Packing proves nothing, neither of the rules nor of the plant. The image is read back
/// as the controller reads it and compared before it is given out. The manifest, a text, gets the name of the image with `.txt`.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof pack drive.rules requirements.rules --out station.image\n\
    Exit status: 0 packed, and nothing found but notes, 1 findings; with an error among them nothing is packed, \
    2 it could not be done.")]
pub(super) struct Pack {
    /// Rule files, read as one station; their digest is that of `prove` if they are given in the same order.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// The file of the image.
    #[arg(long, short)]
    out: PathBuf,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
    #[command(flatten)]
    today: Today,
}

#[derive(Serialize)]
struct Content<'a> {
    /// File of the image; none if nothing was packed.
    image: Option<String>,
    manifest: Option<&'a Manifest>,
    notice: &'static str,
    findings: Vec<Told>,
    status: u8,
}

impl Pack {
    pub(super) fn run(&self) -> Outcome {
        let said = |what: &str| Failure::Said(format!("{}: {what}", self.out.display()));
        let is_file = matches!(landing(&self.out), Ok(Landing::File(_)));
        if !is_file || self.out.file_name().is_none() {
            return Err(said("an image and its manifest are written to files; name one"));
        }
        apart(&self.rules, [&self.beside(), &self.out])?;
        let sources = files::read_all(&self.rules)?;
        let reading = load(sources.clone());
        let shown = files::shown(&reading.files);
        if let Some(station) = &reading.station
            && let Some(ends) = self.today.ends(Some(station)).filter(|ends| ends.past)
        {
            return Err(said(&format!("nothing is packed. {}", ends.words(station))));
        }
        let packed = match &reading.station {
            Some(station) => Some(pack(station, &sources).map_err(|why| said(&why.to_string()))?),
            None => None,
        };
        if let Some(packed) = &packed {
            self.write(packed)?;
        }
        let serious = reading.findings.iter().any(|finding| finding.level != Level::Note);
        let status = u8::from(serious || packed.is_none());
        let mut to = Output::open(None)?;
        match (self.format, &packed) {
            (Shape::Json, _) => {
                let content = Content {
                    image: packed.as_ref().map(|_| self.out.display().to_string()),
                    manifest: packed.as_ref().map(|packed| &packed.manifest),
                    notice: NOTICE,
                    findings: tell(&reading.findings, &shown),
                    status,
                };
                document(&mut to, "image", &content)?;
            }
            (Shape::Text, packed) => {
                write!(to, "{}", render(&reading.findings, &shown, coloured()))?;
                match packed {
                    Some(packed) => self.say(&mut to, &packed.manifest)?,
                    None => complain("the rule files make no station: nothing is packed"),
                }
            }
        }
        to.finish()?;
        Ok(status)
    }

    /// Where the manifest goes: beside the image itself, where the output is a link to it.
    fn beside(&self) -> PathBuf {
        let linked = fs::symlink_metadata(&self.out).is_ok_and(|named| named.is_symlink());
        let out = match landing(&self.out) {
            Ok(Landing::File(whole)) if linked => whole,
            _ => self.out.clone(),
        };
        let mut name = out.file_name().unwrap_or_default().to_owned();
        name.push(".txt");
        out.with_file_name(name)
    }

    /// Writes both files, or neither. The manifest comes first, so that no image is there without one.
    fn write(&self, packed: &Packed) -> Result<(), Failure> {
        let mut manifest = Output::open(Some(&self.beside()))?;
        let mut image = Output::open(Some(&self.out))?;
        write!(manifest, "{}", packed.manifest)?;
        image.write_all(&packed.image)?;
        Output::finish_all([manifest, image])?;
        Ok(())
    }

    fn say(&self, to: &mut Output, manifest: &Manifest) -> Result<(), Failure> {
        let Manifest { station, revision, format, length, crc32, digest, .. } = manifest;
        writeln!(to, "{station}, revision {revision}: packed, read back and compared")?;
        writeln!(to, "  image     {}, {length} bytes, format {format}, CRC-32 {crc32}", self.out.display())?;
        writeln!(to, "  manifest  {}", self.beside().display())?;
        writeln!(to, "  digest of the rule files {digest}")?;
        writeln!(to, "{NOTICE}")?;
        Ok(())
    }
}
