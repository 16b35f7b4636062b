//! Where results go: the terminal, or files that appear only when they are whole.

use std::fs::{self, File};
use std::io::{self, BufWriter, IsTerminal, Write};
use std::iter;
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
    /// What had the name, while it may be needed again.
    before: Option<PathBuf>,
}

impl Drop for Pending {
    fn drop(&mut self) {
        if self.to.take().is_some() {
            // It may be gone already; there is nothing better to do.
            let _gone = fs::remove_file(&self.part);
        }
        if let Some(before) = self.before.take() {
            let _gone = fs::remove_file(before);
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
        fs::rename(&self.part, &self.whole).map_err(|e| of(&self.whole, &e))?;
        self.to = None;
        Ok(())
    }
    /// What has the name now can be found under another one too.
    fn keep(&mut self) -> io::Result<()> {
        if fs::symlink_metadata(&self.whole).is_err_and(|e| e.kind() == io::ErrorKind::NotFound) {
            return Ok(());
        }
        let before = self.part.with_extension("before");
        // Not every file system has a second name for a file.
        fs::hard_link(&self.whole, &before)
            .or_else(|e| match e.kind() {
                // Whatever that is, it may be the only one.
                io::ErrorKind::AlreadyExists => Err(e),
                _ => fs::copy(&self.whole, &before).map(|_| ()),
            })
            .map_err(|e| of(&self.whole, &e))?;
        self.before = Some(before);
        Ok(())
    }
    /// What had the name has it again, or nothing has.
    fn take_back(&mut self) -> io::Result<()> {
        match self.before.take() {
            Some(before) => fs::rename(&before, &self.whole).map_err(|e| {
                io::Error::new(e.kind(), format!("{}: {e}; as it was it is {}", self.whole.display(), before.display()))
            }),
            None => fs::remove_file(&self.whole).map_err(|e| of(&self.whole, &e)),
        }
    }
}

/// An error with the file's name.
fn of(path: &Path, error: &io::Error) -> io::Error {
    io::Error::new(error.kind(), format!("{}: {error}", path.display()))
}

impl Output {
    /// Opens a file, or the output for `-` or nothing.
    pub(super) fn open(path: Option<&Path>) -> io::Result<Self> {
        let Some(path) = path.filter(|p| *p != Path::new("-")) else {
            return Ok(Self { to: Kind::Terminal(BufWriter::new(io::stdout())) });
        };
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let part = path.with_file_name(format!(".{name}.{}.part", std::process::id()));
        let file = File::create(&part).map_err(|e| of(path, &e))?;
        let to = Some(BufWriter::with_capacity(1 << 16, file));
        Ok(Self { to: Kind::File(Pending { to, part, whole: path.to_owned(), before: None }) })
    }

    /// Opens a file in place of one that is there, may be written, and keeps its permissions. Links that lead to it stay.
    pub(super) fn replacing(path: &Path) -> io::Result<Self> {
        let whole = fs::canonicalize(path).map_err(|e| of(path, &e))?;
        let old =
            File::options().write(true).open(&whole).and_then(|file| file.metadata()).map_err(|e| of(path, &e))?;
        let output = Self::open(Some(&whole))?;
        if let Kind::File(Pending { to: Some(to), .. }) = &output.to {
            to.get_ref().set_permissions(old.permissions()).map_err(|e| of(path, &e))?;
        }
        Ok(output)
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

    /// All files get their names, in this order, or none does: where one cannot, those before it are as they were.
    pub(super) fn finish_all(outputs: impl IntoIterator<Item = Self>) -> io::Result<()> {
        let mut files = Vec::new();
        for output in outputs {
            match output.to {
                Kind::Terminal(mut to) => to.flush()?,
                Kind::File(file) => files.push(file),
            }
        }
        for file in &mut files {
            file.settle()?;
        }
        for file in &mut files {
            file.keep()?;
        }
        let mut named: Vec<&mut Pending> = Vec::new();
        for file in &mut files {
            if let Err(error) = file.name() {
                let back = named.into_iter().rev().filter_map(|file| file.take_back().err());
                let said: Vec<String> = iter::once(error.to_string()).chain(back.map(|e| e.to_string())).collect();
                return Err(io::Error::new(error.kind(), said.join("; not taken back: ")));
            }
            named.push(file);
        }
        Ok(())
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
#[allow(clippy::unwrap_used, clippy::panic, reason = "a test that panics has failed, as it should")]
mod tests {
    use super::{Kind, Output};
    use std::io::Write;
    use std::path::{Path, PathBuf};

    #[test]
    fn a_file_appears_only_when_it_is_whole() {
        let folder = folder("output");
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

    /// An empty folder for a test.
    fn folder(of: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("haltproof-{of}-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        folder
    }

    /// Three files, the last of which cannot have its name.
    fn all_but_the_last(folder: &Path) -> std::io::Result<()> {
        let outputs = ["a.txt", "b.txt", "c.txt"].map(|name| {
            let mut output = Output::open(Some(&folder.join(name))).unwrap();
            output.write_all(b"new").unwrap();
            output
        });
        // It is in the way only when the others have their names.
        for output in &outputs[2..] {
            let Kind::File(file) = &output.to else { panic!("no file") };
            std::fs::remove_file(&file.part).unwrap();
        }
        Output::finish_all(outputs)
    }

    #[test]
    fn of_several_files_all_appear_or_none() {
        let folder = folder("outputs");
        std::fs::create_dir_all(folder.join("taken")).unwrap();
        let both = |second: &str| {
            let open = |name: &str| {
                let mut output = Output::open(Some(&folder.join(name))).unwrap();
                output.write_all(name.as_bytes()).unwrap();
                output
            };
            Output::finish_all([open("a.txt"), open(second)])
        };
        let left = || std::fs::read_dir(&folder).unwrap().count();
        // A folder of that name stands in the way.
        assert!(both("taken").is_err());
        assert_eq!(left(), 1);
        both("b.image").unwrap();
        assert_eq!(left(), 3);
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn files_that_had_their_names_are_as_they_were_when_a_later_one_fails() {
        let folder = folder("taken-back");
        std::fs::write(folder.join("a.txt"), "old").unwrap();
        assert!(all_but_the_last(&folder).is_err());
        assert_eq!(std::fs::read(folder.join("a.txt")).unwrap(), b"old");
        // There was no other, and nothing lies about.
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 1);
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[cfg(unix)]
    #[test]
    fn what_replaces_a_file_has_its_permissions_and_links_to_it_stay() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = folder("replaced");
        let (real, link) = (folder.join("real.rules"), folder.join("link.rules"));
        std::fs::write(&real, "old").unwrap();
        std::fs::set_permissions(&real, PermissionsExt::from_mode(0o640)).unwrap();
        symlink("real.rules", &link).unwrap();
        let mut output = Output::replacing(&link).unwrap();
        output.write_all(b"new").unwrap();
        output.finish().unwrap();
        assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(std::fs::read(&real).unwrap(), b"new");
        assert_eq!(std::fs::metadata(&real).unwrap().permissions().mode() & 0o777, 0o640);
        // It must be there.
        assert!(Output::replacing(&folder.join("none.rules")).is_err());
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 2);
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
