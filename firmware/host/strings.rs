//! The strings that a board's binary does not hold, though it logs by them: a frame has their numbers, and the names of the binary's
//! symbols have the strings.

use object::{Object, ObjectSection, ObjectSymbol};
use serde_json::Value;
use std::collections::BTreeMap;

/// Version of the format of frames, as a binary names it.
const VERSION: &str = "_defmt_version_ = 4";
/// How it writes them.
const ENCODING: &str = "_defmt_encoding_ = rzcobs";

/// What a string is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Use {
    /// A frame: `println!`.
    Line,
    /// A value, which may be one of several variants.
    Value,
    /// Nothing that is understood here.
    Other,
}

/// Strings by their numbers.
#[derive(Debug)]
pub(crate) struct Strings(BTreeMap<u16, (Use, String)>);

impl Strings {
    /// Those of a binary, which is an ELF file.
    ///
    /// # Errors
    /// It is none, or logs nothing, or logs in another way than is read here.
    pub(crate) fn of_binary(elf: &[u8]) -> Result<Self, String> {
        let file = object::File::parse(elf).map_err(|error| format!("the binary cannot be read: {error}"))?;
        let section =
            file.section_by_name(".defmt").ok_or("the binary logs nothing: build it with the feature `defmt`")?;
        let symbols = file.symbols().filter(|symbol| symbol.section_index() == Some(section.index()));
        Self::of_symbols(symbols.map(|symbol| (symbol.name().unwrap_or_default(), symbol.address())))
    }

    /// Those that symbols name.
    ///
    /// # Errors
    /// They name another version or encoding, or a time before each frame.
    pub(crate) fn of_symbols<'n>(symbols: impl Iterator<Item = (&'n str, u64)>) -> Result<Self, String> {
        let (mut strings, mut version, mut encoding) = (BTreeMap::new(), false, false);
        for (name, number) in symbols {
            version |= name == VERSION;
            encoding |= name == ENCODING;
            let (Ok(number), Ok(said)) = (u16::try_from(number), serde_json::from_str::<Value>(name)) else { continue };
            let (Some(tag), Some(text)) = (of(&said, "tag"), of(&said, "data")) else { continue };
            if tag == "defmt_timestamp" {
                return Err("the binary tells a time with each frame, which is not read here".to_owned());
            }
            let used = match tag {
                "defmt_println" => Use::Line,
                "defmt_derived" | "defmt_prim" => Use::Value,
                _ => Use::Other,
            };
            strings.insert(number, (used, text.to_owned()));
        }
        match (version, encoding) {
            (true, true) => Ok(Self(strings)),
            (false, _) => {
                Err(format!("the binary is built with another version of defmt: its symbols lack `{VERSION}`"))
            }
            (_, false) => Err(format!("the binary writes its frames in another way: its symbols lack `{ENCODING}`")),
        }
    }

    /// The string of a number, if it is for this use.
    ///
    /// # Errors
    /// There is none, or it is for another use.
    pub(crate) fn get(&self, number: u16, wanted: Use) -> Result<&str, String> {
        match self.0.get(&number) {
            Some((used, text)) if *used == wanted => Ok(text),
            Some((_, text)) => Err(format!("the string {number} is not understood here: {text:?}")),
            None => Err(format!("the binary has no string {number}")),
        }
    }
}

fn of<'v>(said: &'v Value, key: &str) -> Option<&'v str> {
    said.get(key)?.as_str()
}
