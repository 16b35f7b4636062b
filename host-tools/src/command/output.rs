//! Where results go: the terminal, or a file that appears only when it is whole.

use std::fs::{self, File};
use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Says on the error output why something could not be done.
pub(super) fn complain(what: &str) {
    // If the error output is gone as well there is nobody left to tell.
    let _gone = writeln!(io::stderr(), "haltproof: {what}");
}

/// Colours are wanted on the output: it is a terminal, and nobody asked for none.
pub(super) fn coloured() -> bool {
    let refused = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|t| t == "dumb");
    io::stdout().is_terminal() && !refused && !dumb
}

/// An output being written.
#[derive(Debug)]
pub(super) struct Output {
    to: Kind,
}

#[derive(Debug)]
enum Kind {
    Terminal(BufWriter<io::Stdout>),
    File(Pending),
}

/// A file under a temporary name; it is removed unless it is finished.
#[derive(Debug)]
struct Pending {
    to: Option<BufWriter<File>>,
    part: PathBuf,
    whole: PathBuf,
}

impl Drop for Pending {
    fn drop(&mut self) {
        if self.to.take().is_some() {
            // It may be gone already; there is nothing better to do.
            let _gone = fs::remove_file(&self.part);
        }
    }
}

impl Pending {
    /// Everything lies on the disk, still under the temporary name.
    fn settle(&mut self) -> io::Result<()> {
        match &mut self.to {
            Some(to) => {
                to.flush()?;
                to.get_ref().sync_all()
            }
            None => Ok(()),
        }
    }
    /// The file gets its name.
    fn name(&mut self) -> io::Result<()> {
        fs::rename(&self.part, &self.whole)
            .map_err(|e| io::Error::new(e.kind(), format!("{}: {e}", self.whole.display())))?;
        self.to = None;
        Ok(())
    }
}

impl Output {
    /// Opens a file, or the output for `-` or nothing.
    pub(super) fn open(path: Option<&Path>) -> io::Result<Self> {
        let Some(path) = path.filter(|p| *p != Path::new("-")) else {
            return Ok(Self { to: Kind::Terminal(BufWriter::new(io::stdout())) });
        };
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let part = path.with_file_name(format!(".{name}.{}.part", std::process::id()));
        let file = File::create(&part).map_err(|e| io::Error::new(e.kind(), format!("{}: {e}", path.display())))?;
        let to = Some(BufWriter::with_capacity(1 << 16, file));
        Ok(Self { to: Kind::File(Pending { to, part, whole: path.to_owned() }) })
    }

    /// Everything is written: the file gets its name.
    pub(super) fn finish(self) -> io::Result<()> {
        match self.to {
            Kind::Terminal(mut to) => to.flush(),
            Kind::File(mut file) => {
                file.settle()?;
                file.name()
            }
        }
    }

    /// Both files get their names, or neither does. `first` gets its name first, and is taken away again if `second` cannot
    /// have its own.
    pub(super) fn finish_both(first: Self, second: Self) -> io::Result<()> {
        match (first.to, second.to) {
            (Kind::File(mut first), Kind::File(mut second)) => {
                first.settle()?;
                second.settle()?;
                first.name()?;
                second.name().inspect_err(|_| {
                    // It has just been made; if it cannot be removed there is nothing better to do.
                    let _left = fs::remove_file(&first.whole);
                })
            }
            (first, second) => {
                Self { to: first }.finish()?;
                Self { to: second }.finish()
            }
        }
    }
}

impl Write for Output {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match &mut self.to {
            Kind::Terminal(to) => to.write(bytes),
            Kind::File(file) => file.to.as_mut().map_or(Ok(bytes.len()), |to| to.write(bytes)),
        }
    }
    fn flush(&mut self) -> io::Result<()> {
        match &mut self.to {
            Kind::Terminal(to) => to.flush(),
            Kind::File(file) => file.to.as_mut().map_or(Ok(()), Write::flush),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test that panics has failed, as it should")]
mod tests {
    use super::Output;
    use std::io::Write;

    #[test]
    fn a_file_appears_only_when_it_is_whole() {
        let folder = std::env::temp_dir().join(format!("haltproof-output-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let path = folder.join("a.csv");
        let left = |folder: &std::path::Path| std::fs::read_dir(folder).unwrap().count();
        let mut output = Output::open(Some(&path)).unwrap();
        output.write_all(b"half").unwrap();
        drop(output);
        assert_eq!(left(&folder), 0);
        let mut output = Output::open(Some(&path)).unwrap();
        output.write_all(b"whole").unwrap();
        assert!(!path.exists());
        output.finish().unwrap();
        assert_eq!(std::fs::read(&path).unwrap(), b"whole");
        assert_eq!(left(&folder), 1);
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn of_two_files_both_appear_or_neither() {
        let folder = std::env::temp_dir().join(format!("haltproof-two-outputs-{}", std::process::id()));
        std::fs::create_dir_all(folder.join("taken")).unwrap();
        let both = |second: &str| {
            let open = |name: &str| {
                let mut output = Output::open(Some(&folder.join(name))).unwrap();
                output.write_all(name.as_bytes()).unwrap();
                output
            };
            Output::finish_both(open("a.txt"), open(second))
        };
        let left = || std::fs::read_dir(&folder).unwrap().count();
        // A folder of that name stands in the way.
        assert!(both("taken").is_err());
        assert_eq!(left(), 1);
        both("b.image").unwrap();
        assert_eq!(left(), 3);
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
