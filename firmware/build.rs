//! What a binary for a board needs beside its code: the map of its memories and the image that it runs.

use logic_rules::image::Image;
use std::path::Path;
use std::{env, fs, io};

fn main() -> io::Result<()> {
    println!("cargo:rerun-if-changed=build.rs");
    if env::var_os("CARGO_FEATURE_BOARD_MPS2_AN386").is_none() {
        return Ok(());
    }
    let out = env::var("OUT_DIR").map_err(io::Error::other)?;
    let out = Path::new(&out);
    fs::copy("boards/mps2_an386/memory.x", out.join("memory.x"))?;
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
    println!("cargo:rerun-if-changed=boards/mps2_an386/memory.x");
    if env::var_os("CARGO_FEATURE_DEFMT").is_some() {
        println!("cargo:rustc-link-arg-bins=-Tdefmt.x");
    }
    // The station has its image built in. Without one it starts, and stays stopped for want of it.
    println!("cargo:rerun-if-env-changed=HALTPROOF_IMAGE");
    let image = match env::var_os("HALTPROOF_IMAGE") {
        Some(path) => {
            println!("cargo:rerun-if-changed={}", Path::new(&path).display());
            fs::read(path)?
        }
        None => Vec::new(),
    };
    // What does not open needs no cells: it stays stopped.
    let needs = Image::open(&image).map(|image| image.needs()).unwrap_or_default();
    let cells = needs.bits + needs.words + needs.work_bits + needs.work_words;
    fs::write(out.join("station.cells"), cells.to_string())?;
    fs::write(out.join("station.image"), image)
}
