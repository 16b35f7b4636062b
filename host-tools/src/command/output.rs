//! Where results go: the terminal, or files that appear only when they are whole.

use std::fs::{self, File};
use std::io::{self, BufWriter, IsTerminal, Write};
use std::iter;
use std::path::{Path, PathBuf};

use super::broken_off;

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
    Straight(BufWriter<File>),
    File(Pending),
}

/// Where what is written under a path comes to lie.
#[derive(Debug)]
pub(super) enum Landing {
    /// On the output of this program.
    Terminal,
    /// In what is no file, such as a device or a pipe. It stays what it is, and is written to as it comes.
    Straight,
    /// In a file of this whole path, which is replaced when the new one is whole.
    File(PathBuf),
}

/// Links that lead from one to the next, at most.
const LINKS: usize = 40;

/// Follows links to where an output comes to lie.
///
/// # Errors
/// If links lead in a circle.
pub(super) fn landing(path: &Path) -> io::Result<Landing> {
    if ["-", "/dev/stdout", "/dev/fd/1", "/proc/self/fd/1"].iter().any(|output| path == Path::new(output)) {
        return Ok(Landing::Terminal);
    }
    // What somebody else has opened, file or not, is his.
    if ["/dev/stderr", "/dev/fd", "/proc"].iter().any(|opened| path.starts_with(opened)) {
        return Ok(Landing::Straight);
    }
    match fs::metadata(path) {
        Ok(there) if !there.is_file() => Ok(Landing::Straight),
        Ok(_) => fs::canonicalize(path).map(Landing::File),
        Err(_) => to_come(path).map(Landing::File),
    }
}

/// Where a file comes to lie that is not there yet, though links to it may be.
fn to_come(path: &Path) -> io::Result<PathBuf> {
    let mut path = path.to_owned();
    for _ in 0..LINKS {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        if let Ok(to) = fs::read_link(&path) {
            path = folder.join(to);
            continue;
        }
        // Without its folder it cannot be made, and whoever tries says so.
        return Ok(match (fs::canonicalize(folder), path.file_name()) {
            (Ok(folder), Some(name)) => folder.join(name),
            _ => path,
        });
    }
    Err(io::Error::other("its links lead in a circle"))
}

/// An output goes to the output of this program, as it does if none is named.
pub(super) fn is_terminal(path: Option<&Path>) -> bool {
    path.is_none_or(|path| matches!(landing(path), Ok(Landing::Terminal)))
}

/// Of many lines the first ones, and how many more there are.
pub(super) fn first(lines: impl IntoIterator<Item = String>) -> Vec<String> {
    let mut lines = lines.into_iter();
    let mut all: Vec<String> = lines.by_ref().take(FIRST).collect();
    let more = lines.count();
    if more > 0 {
        all.push(format!("and {more} more"));
    }
    all
}

/// Lines of one kind that are said before the others are only counted.
const FIRST: usize = 20;

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
            broken_off::done(&self.part);
        }
        if let Some(before) = self.before.take() {
            let _gone = fs::remove_file(before);
        }
    }
}

impl Pending {
    /// A new file, or one in place of one that is there and may be written; it keeps the permissions of that.
    fn begin(whole: PathBuf) -> io::Result<Self> {
        let permissions = match fs::symlink_metadata(&whole) {
            Ok(_) => Some(File::options().write(true).open(&whole)?.metadata()?.permissions()),
            Err(_) => None,
        };
        let name = whole.file_name().unwrap_or_default().to_string_lossy();
        let part = whole.with_file_name(format!(".{name}.{}.part", std::process::id()));
        // What a run that was broken off left there is nobody's, and a link that stands there is not followed.
        let _gone = fs::remove_file(&part);
        broken_off::begun(&part);
        let to = File::options().write(true).create_new(true).open(&part).inspect_err(|_| broken_off::done(&part))?;
        let to = Some(BufWriter::with_capacity(1 << 16, to));
        let pending = Self { to, part, whole, before: None };
        if let (Some(permissions), Some(to)) = (permissions, &pending.to) {
            to.get_ref().set_permissions(permissions)?;
        }
        Ok(pending)
    }
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
        broken_off::done(&self.part);
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
    /// Opens a file, or the output for `-` or nothing. A file that is there keeps its permissions, and links that lead to it stay.
    pub(super) fn open(path: Option<&Path>) -> io::Result<Self> {
        let Some(path) = path else {
            return Ok(Self { to: Kind::Terminal(BufWriter::new(io::stdout())) });
        };
        let opened = landing(path).and_then(|landing| {
            Ok(match landing {
                Landing::Terminal => Kind::Terminal(BufWriter::new(io::stdout())),
                Landing::Straight => Kind::Straight(BufWriter::new(File::options().append(true).open(path)?)),
                Landing::File(whole) => Kind::File(Pending::begin(whole)?),
            })
        });
        opened.map(|to| Self { to }).map_err(|e| of(path, &e))
    }

    /// Opens a file in place of one that must be there.
    pub(super) fn replacing(path: &Path) -> io::Result<Self> {
        fs::metadata(path).map_err(|e| of(path, &e))?;
        Self::open(Some(path))
    }

    /// Everything is written: the file gets its name.
    pub(super) fn finish(self) -> io::Result<()> {
        match self.to {
            Kind::Terminal(mut to) => to.flush(),
            Kind::Straight(mut to) => to.flush(),
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
                Kind::Straight(mut to) => to.flush()?,
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
            Kind::Straight(to) => to.write(bytes),
            Kind::File(file) => file.to.as_mut().map_or(Ok(bytes.len()), |to| to.write(bytes)),
        }
    }
    fn flush(&mut self) -> io::Result<()> {
        match &mut self.to {
            Kind::Terminal(to) => to.flush(),
            Kind::Straight(to) => to.flush(),
            Kind::File(file) => file.to.as_mut().map_or(Ok(()), Write::flush),
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::panic, reason = "a test that panics has failed, as it should")]
mod tests {
    use super::{Kind, Landing, Output, first, is_terminal, landing};
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
                let mut output = Output::open(Some(&folder.join(name)))?;
                output.write_all(name.as_bytes())?;
                std::io::Result::Ok(output)
            };
            Output::finish_all([open("a.txt")?, open(second)?])
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
        let write = |to: &Path| {
            let mut output = Output::open(Some(to)).unwrap();
            output.write_all(b"new").unwrap();
            output.finish().unwrap();
            assert!(std::fs::symlink_metadata(&link).unwrap().is_symlink());
            assert_eq!(std::fs::read(&real).unwrap(), b"new");
        };
        // It leads to nothing yet.
        symlink("real.rules", &link).unwrap();
        write(&link);
        std::fs::write(&real, "old").unwrap();
        std::fs::set_permissions(&real, PermissionsExt::from_mode(0o640)).unwrap();
        write(&link);
        write(&real);
        assert_eq!(std::fs::metadata(&real).unwrap().permissions().mode() & 0o777, 0o640);
        // It must be there.
        assert!(Output::replacing(&folder.join("none.rules")).is_err());
        // Links that lead in a circle lead nowhere.
        symlink("round", folder.join("round")).unwrap();
        assert!(Output::open(Some(&folder.join("round"))).is_err());
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 3);
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[cfg(unix)]
    #[test]
    fn a_pipe_is_written_to_and_stays_one() {
        use std::os::unix::fs::FileTypeExt;
        let folder = folder("pipe");
        let pipe = folder.join("pipe");
        assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        let read = std::thread::spawn({
            let pipe = pipe.clone();
            move || std::fs::read(pipe).unwrap()
        });
        // Nothing may be put in its place, so that whoever reads would wait for ever.
        assert!(matches!(landing(&pipe), Ok(Landing::Straight)));
        let mut output = Output::open(Some(&pipe)).unwrap();
        output.write_all(b"through").unwrap();
        output.finish().unwrap();
        assert_eq!(read.join().unwrap(), b"through");
        assert!(std::fs::symlink_metadata(&pipe).unwrap().file_type().is_fifo());
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 1);
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn the_output_of_the_program_is_known_by_its_other_names() {
        for name in ["-", "/dev/stdout", "/proc/self/fd/1"] {
            assert!(is_terminal(Some(Path::new(name))), "{name}");
        }
        assert!(is_terminal(None) && !is_terminal(Some(Path::new("stdout"))));
        for name in ["/dev/stderr", "/dev/fd/2"] {
            assert!(matches!(landing(Path::new(name)), Ok(Landing::Straight)), "{name}");
        }
    }

    #[test]
    fn many_lines_are_counted_and_a_few_are_said() {
        let lines = |count: u32| first((0..count).map(|line| line.to_string()));
        assert_eq!((lines(20).len(), lines(20).last().map(String::as_str)), (20, Some("19")));
        assert_eq!((lines(48_000).len(), lines(48_000).last().map(String::as_str)), (21, Some("and 47980 more")));
    }
}
