//! An output may be no file that the same call reads, and no other of its outputs: what has its name is gone when it is whole.

use std::fs;
use std::path::{Path, PathBuf};

use super::Failure;
use super::output::{Landing, landing};

/// A file, by whatever name it is called.
struct Lies {
    path: PathBuf,
    /// Device and number, where the system tells them.
    own: Option<[u64; 2]>,
}

impl Lies {
    fn at(path: PathBuf) -> Self {
        Self { own: own(&path), path }
    }
    fn is(&self, other: &Self) -> bool {
        self.path == other.path || (self.own.is_some() && self.own == other.own)
    }
}

#[cfg(unix)]
fn own(path: &Path) -> Option<[u64; 2]> {
    use std::os::unix::fs::MetadataExt;
    fs::metadata(path).ok().map(|of| [of.dev(), of.ino()])
}
#[cfg(not(unix))]
fn own(_: &Path) -> Option<[u64; 2]> {
    None
}

/// Refuses outputs that would replace what is read, or one another. It is asked before anything is read or written.
///
/// # Errors
/// It names the output and the other file.
pub(super) fn apart<'p>(
    reads: impl IntoIterator<Item = &'p PathBuf>,
    writes: impl IntoIterator<Item = &'p PathBuf>,
) -> Result<(), Failure> {
    let read = |path: &'p PathBuf| {
        let named = if path == Path::new("-") { Path::new("/dev/stdin") } else { path.as_path() };
        (path, Lies::at(fs::canonicalize(named).unwrap_or_else(|_| path.clone())))
    };
    let reads: Vec<_> = reads.into_iter().map(read).collect();
    let mut written: Vec<(&PathBuf, Lies)> = Vec::new();
    for path in writes {
        let said = |what: String| Failure::Said(format!("{}: {what}", path.display()));
        let Landing::File(whole) = landing(path).map_err(|e| said(e.to_string()))? else { continue };
        let lies = Lies::at(whole);
        let other = |all: &[(&'p PathBuf, Lies)]| all.iter().find(|(_, other)| other.is(&lies)).map(|(path, _)| *path);
        if let Some(read) = other(&reads) {
            let read = if read == Path::new("-") { "on the standard input".into() } else { read.display().to_string() };
            return Err(said(format!("this output is the file {read} that is read here: give it another name")));
        }
        if let Some(before) = other(&written) {
            let what = format!("this output is the same file as the output {}: give each its own", before.display());
            return Err(said(what));
        }
        written.push((path, lies));
    }
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic, reason = "a test that panics has failed, as it should")]
mod tests {
    use super::super::{Cli, Failure, done};
    use clap::Parser;
    use std::fs;
    use std::path::{Path, PathBuf};

    /// A folder with files that hold their own names.
    fn folder(of: &str, names: &[&str]) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("haltproof-apart-{of}-{}", std::process::id()));
        fs::create_dir_all(&folder).unwrap();
        for name in names {
            fs::write(folder.join(name), name).unwrap();
        }
        folder
    }

    /// What a call says that cannot be done; words that begin with `@` are files of the folder.
    fn refused(folder: &Path, call: &str) -> String {
        let word = |word: &str| word.strip_prefix('@').map_or(word.into(), |name| folder.join(name).into_os_string());
        let words = std::iter::once("haltproof".into()).chain(call.split(' ').map(word));
        let cli = Cli::try_parse_from(words).unwrap_or_else(|error| panic!("{call}: {error}"));
        match done(cli.command) {
            Err(Failure::Said(what)) => what,
            other => panic!("{call}: {other:?}"),
        }
    }

    #[test]
    fn no_command_writes_over_what_it_reads_or_writes() {
        let names = [
            "a.rules",
            "b.rules",
            "r.csv",
            "m.map",
            "s.scenario",
            "x.list",
            "c.json",
            "f.functions",
            "g.image",
            "g.image.txt",
        ];
        let folder = folder("commands", &names);
        // The call, the output, and what it would replace.
        let calls = [
            ("replay @a.rules -r @r.csv -o @r.csv", "r.csv", "r.csv"),
            ("replay @a.rules -r @r.csv --vcd @r.csv", "r.csv", "r.csv"),
            ("replay @a.rules -r @r.csv --report @a.rules", "a.rules", "a.rules"),
            ("replay @a.rules -r @r.csv --mapping @m.map -o @m.map", "m.map", "m.map"),
            ("replay @a.rules -r @r.csv --report @new --vcd @new", "new", "new"),
            ("replay @a.rules -r @r.csv -o @new --vcd @new", "new", "new"),
            ("simulate @a.rules -s @s.scenario -o @a.rules", "a.rules", "a.rules"),
            ("simulate @a.rules -s @s.scenario -o @s.scenario", "s.scenario", "s.scenario"),
            ("pack @g.image.txt @b.rules -o @g.image", "g.image.txt", "g.image.txt"),
            ("pack @a.rules @g.image -o @g.image", "g.image", "g.image"),
            ("passings @a.rules -r @r.csv -o @r.csv", "r.csv", "r.csv"),
            ("carriers @a.rules -r @r.csv -o @r.csv", "r.csv", "r.csv"),
            ("carriers @a.rules -r @r.csv -o @new --report @new", "new", "new"),
            ("campaign @a.rules --target emulator --image @g.image -o @g.image", "g.image", "g.image"),
            ("campaign @a.rules --target emulator --firmware @x.list -o @x.list", "x.list", "x.list"),
            ("compare --old @a.rules --new @b.rules --certificate @a.rules", "a.rules", "a.rules"),
            ("report @a.rules -o @a.rules", "a.rules", "a.rules"),
            ("report @a.rules --approved @b.rules -o @b.rules", "b.rules", "b.rules"),
            ("report @a.rules -r @r.csv -o @r.csv", "r.csv", "r.csv"),
            ("report @a.rules --list @x.list -o @x.list", "x.list", "x.list"),
            ("report @a.rules --campaign @c.json -o @c.json", "c.json", "c.json"),
            ("report @a.rules --slack @c.json -o @c.json", "c.json", "c.json"),
            ("report @a.rules --mutants @c.json -o @c.json", "c.json", "c.json"),
            ("report @a.rules --integrity @f.functions -o @f.functions", "f.functions", "f.functions"),
        ];
        for (call, output, other) in calls {
            let said = refused(&folder, call);
            let begins = format!("{}: this output is the ", folder.join(output).display());
            let names = format!("{}", folder.join(other).display());
            assert!(said.starts_with(&begins) && said[begins.len()..].contains(&names), "{call}: {said}");
        }
        for name in names {
            assert_eq!(fs::read_to_string(folder.join(name)).unwrap(), name);
        }
        assert_eq!(fs::read_dir(&folder).unwrap().count(), names.len());
        fs::remove_dir_all(&folder).unwrap();
    }

    #[cfg(unix)]
    #[test]
    fn a_file_is_known_by_any_name() {
        let folder = folder("names", &["r.csv"]);
        std::os::unix::fs::symlink("r.csv", folder.join("link.csv")).unwrap();
        std::os::unix::fs::symlink("new.csv", folder.join("ahead.csv")).unwrap();
        fs::hard_link(folder.join("r.csv"), folder.join("hard.csv")).unwrap();
        fs::create_dir(folder.join("in")).unwrap();
        for output in ["@link.csv", "@hard.csv", "@in/../r.csv"] {
            let said = refused(&folder, &format!("replay @a.rules -r @r.csv -o {output}"));
            assert!(said.contains("is read here"), "{said}");
        }
        // Neither is there yet.
        let said = refused(&folder, "replay @a.rules -r @r.csv -o @new.csv --vcd @ahead.csv");
        assert!(said.contains("the same file as the output"), "{said}");
        assert_eq!(fs::read_to_string(folder.join("r.csv")).unwrap(), "r.csv");
        // What is no file holds nothing that could be lost, and can take both.
        assert!(!refused(&folder, "replay @a.rules -r @r.csv -o /dev/null --vcd /dev/null").contains("this output"));
        fs::remove_dir_all(&folder).unwrap();
    }
}
