//! `haltproof lane windows`.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;

use crate::command::output::{Output, complain};
use crate::command::{Failure, Outcome, Shape, files, stages};
use host_tools::json::document;
use host_tools::lane::windows::rewrite::{added, diff, rewritten};
use host_tools::lane::windows::table::table;
use host_tools::lane::windows::windows;
use host_tools::load::load;
use host_tools::plural::plural;
use host_tools::text::parse::Source;
use host_tools::text::show::render;

/// Works out the window of each travel and of each spacing from the lane and its tolerances.
///
/// A limit that lies inside its derived window may stop the lift for a carrier that keeps to the lane. `haltproof manual lane`
/// says what is reckoned with. With `--diff` or `--write` the derived limits are put into the text of the rule files.
#[derive(Debug, Args)]
#[command(after_help = "Example: haltproof lane windows drive.rules requirements.rules --watch slow-down --diff\n\
    Exit status: 0 every limit fits (with --diff: nothing would change; with --write: done), \
    1 one lies inside its derived window (with --diff: something would change), or stands and cannot be derived, or none can be \
    kept there. 2 it could not be done.")]
pub(super) struct WindowsOf {
    /// Rule files, read as one station.
    #[arg(required = true)]
    rules: Vec<PathBuf>,
    /// Only this travel or spacing; may be given several times.
    #[arg(long)]
    watch: Vec<String>,
    /// Write nothing; show what the derived limits would change in the files.
    #[arg(long, conflicts_with = "format")]
    diff: bool,
    /// Show the same, and then rewrite the files.
    #[arg(long, conflicts_with_all = ["diff", "format"])]
    write: bool,
    /// For people or for machines.
    #[arg(long, value_enum, default_value_t = Shape::Text)]
    format: Shape,
}

impl WindowsOf {
    pub(in crate::command) fn run(&self) -> Outcome {
        let sources = files::read_all(&self.rules)?;
        let station = stages::sound_station(sources.clone())?;
        if station.lane.is_none() {
            return Err(Failure::Said("no lane is described; `haltproof manual language` says how to".to_owned()));
        }
        let mut derived = windows(&station);
        let named = |at: usize| station.watches.get(at).map_or("", |watch| watch.name.text.as_str());
        if let Some(unknown) = self.watch.iter().find(|name| derived.iter().all(|it| named(it.watch) != **name)) {
            return Err(Failure::Said(format!("no travel or spacing is called {unknown}")));
        }
        derived.retain(|it| self.watch.is_empty() || self.watch.iter().any(|name| named(it.watch) == name));
        let told = table(&station, &derived);
        if self.diff || self.write {
            let status = self.put(&sources, &rewritten(&sources, &station, &derived))?;
            let left = told.left();
            for limit in &left {
                complain(limit);
            }
            return Ok(status.max(u8::from(!left.is_empty())));
        }
        let mut to = Output::open(None)?;
        match self.format {
            Shape::Json => document(&mut to, "windows", &told)?,
            Shape::Text => {
                write!(to, "{}", told.text())?;
                writeln!(
                    to,
                    "\n{}: {}.\n\
                     A derived window is what healthy carriers need, and no more than the lane says of them. Whether it still\n\
                     finds the carrier that is not healthy, requirements and tests on the plant must show.",
                    station.about(),
                    plural(told.windows.len(), "window")
                )?;
            }
        }
        to.finish()?;
        Ok(told.status)
    }

    /// Shows what changes; writes it if that was asked for, and if nothing more is found in the files then.
    fn put(&self, old: &[Source], new: &[Source]) -> Outcome {
        let changes = diff(old, new);
        let mut to = Output::open(None)?;
        to.write_all(changes.as_bytes())?;
        to.finish()?;
        if self.diff || changes.is_empty() {
            return Ok(u8::from(!changes.is_empty()));
        }
        let (before, after) = (load(old.to_vec()), load(new.to_vec()));
        let more = added(&before, &after);
        if after.station.is_none() || !more.is_empty() {
            complain(render(&more, &files::shown(&after.files), false).trim_end());
            return Err(Failure::Said("nothing is written: with these limits `haltproof check` finds more".to_owned()));
        }
        let changed: Vec<&Source> =
            old.iter().zip(new).filter(|(old, new)| old.bytes != new.bytes).map(|(_, new)| new).collect();
        if changed.iter().any(|source| source.path == "-") {
            return Err(Failure::Said("nothing is written: the standard input cannot be rewritten".to_owned()));
        }
        let mut wholes = Vec::new();
        for source in changed {
            let mut whole = Output::replacing(Path::new(&source.path))?;
            whole.write_all(&source.bytes)?;
            wholes.push(whole);
        }
        Output::finish_all(wholes)?;
        Ok(0)
    }
}

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test that panics has failed, as it should"
)]
mod tests {
    use super::*;
    use host_tools::text::finding::Level;
    use std::fs;

    const RULES: &str = include_str!("../../../demo/drive-terminal.rules");
    const ASKED: &str = include_str!("../../../demo/drive-terminal.requirements.rules");

    /// Limits of the drive terminal, which are just what is derived, and wider ones.
    const WIDER: [(&str, &str); 2] =
        [("takes 4.60 m to 5.188 m", "takes 4.55 m to 5.25 m"), ("at least 54.02 m", "at least 54.0 m")];

    /// The drive terminal with wider limits and changes, in two files of a folder, and what the command makes of them.
    struct Try {
        folder: PathBuf,
        it: WindowsOf,
    }

    impl Try {
        fn new(of: &str, changes: &[(&str, &str)]) -> Self {
            let folder = std::env::temp_dir().join(format!("haltproof-windows-{of}-{}", std::process::id()));
            fs::create_dir_all(&folder).unwrap();
            let text = WIDER.iter().chain(changes).fold(RULES.to_owned(), |text, (old, new)| {
                assert!(text.contains(old), "{old}");
                text.replacen(old, new, 1)
            });
            let rules = vec![folder.join("a.rules"), folder.join("b.rules")];
            fs::write(&rules[0], text).unwrap();
            fs::write(&rules[1], ASKED).unwrap();
            Self { folder, it: WindowsOf { rules, watch: vec![], diff: false, write: false, format: Shape::Text } }
        }
        fn text(&self) -> String {
            fs::read_to_string(&self.it.rules[0]).unwrap()
        }
        fn status(&self) -> Result<u8, String> {
            self.it.run().map_err(|failure| match failure {
                Failure::Said(what) => what,
                Failure::Gone => panic!("the output is gone"),
            })
        }
    }

    impl Drop for Try {
        fn drop(&mut self) {
            let _gone = fs::remove_dir_all(&self.folder);
        }
    }

    #[test]
    fn what_stands_and_cannot_be_derived_does_not_end_well() {
        let good = Try::new("good", &[]);
        assert_eq!(good.status(), Ok(0));
        let far = [("detectors within 10 mm", "detectors within 500 mm")];
        let mut all = Try::new("all", &far);
        assert_eq!(all.status(), Ok(1));
        all.it.diff = true;
        assert_eq!(all.status(), Ok(1));
        // The least distance of carriers is something that a lane may say, and then must.
        let mut one = Try::new("one", &[(", at least 54.2 m apart", "")]);
        one.it.watch = vec!["line-gap".to_owned()];
        assert_eq!(one.status(), Ok(1));
        one.it.watch = vec!["slow-down".to_owned()];
        assert_eq!(one.status(), Ok(0));
    }

    /// Carriers may come so close that the spacing is tight; as wide as they need it, it is too short for other rules.
    const CLOSE: (&str, &str) = ("at least 54.2 m apart", "at least 27.0 m apart");

    #[test]
    fn nothing_is_written_where_one_finding_goes_and_another_comes() {
        let mut it = Try::new("other", &[CLOSE]);
        fs::write(&it.it.rules[1], ASKED.replacen("at least 50.0 m", "at least 20.0 m", 1)).unwrap();
        (it.it.write, it.it.watch) = (true, vec!["line-gap".to_owned()]);
        let count = |text: String| {
            let rules = Source { path: "a".into(), bytes: text.into() };
            let asked = files::read(&it.it.rules[1]).unwrap_or_else(|_| panic!("not read"));
            let findings = load(vec![rules, asked]).findings;
            findings.iter().filter(|finding| finding.level != Level::Note).count()
        };
        let old = it.text();
        assert_eq!(count(old.clone()), count(old.replacen("at least 54.0 m", "at least 26.82 m", 1)));
        assert!(it.status().unwrap_err().starts_with("nothing is written"));
        assert_eq!(it.text(), old);
    }

    #[test]
    fn what_is_written_is_told_as_done_only_if_no_limit_is_left() {
        let mut it = Try::new("done", &[]);
        it.it.write = true;
        assert_eq!(it.status(), Ok(0));
        assert_eq!(it.text(), RULES);
        assert_eq!(it.status(), Ok(0));
        let mut left = Try::new("left", &[(", at least 54.2 m apart", "")]);
        left.it.write = true;
        assert_eq!(left.status(), Ok(1));
        assert!(left.text().contains("takes 4.60 m to 5.188 m"));
        assert!(left.text().contains("rises at least 54.0 m"));
    }

    #[test]
    fn files_are_all_rewritten_or_none() {
        // The travels stand in the one file, the spacing in the other.
        let mut it = Try::new("whole", &[]);
        let text = it.text();
        let at = text.find("spacing line-gap").unwrap();
        let behind = at + text[at..].find("\n\n").unwrap();
        fs::write(&it.it.rules[0], [&text[..at], &text[behind..]].concat()).unwrap();
        fs::write(&it.it.rules[1], [ASKED, "\n", &text[at..behind], "\n"].concat()).unwrap();
        it.it.write = true;
        let old = it.text();
        // The part of the second file cannot be made.
        let part = it.folder.join(format!(".b.rules.{}.part", std::process::id()));
        fs::create_dir(&part).unwrap();
        assert!(it.status().is_err());
        assert_eq!(it.text(), old);
        fs::remove_dir(&part).unwrap();
        assert_eq!(it.status(), Ok(0));
        assert_ne!(it.text(), old);
        assert!(!fs::read_to_string(&it.it.rules[1]).unwrap().contains("at least 54.0 m"));
        assert_eq!(fs::read_dir(&it.folder).unwrap().count(), 2);
    }

    #[cfg(unix)]
    #[test]
    fn links_and_permissions_stay() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let mut it = Try::new("link", &[]);
        let (real, link) = (it.folder.join("real.rules"), it.it.rules[0].clone());
        fs::rename(&link, &real).unwrap();
        fs::set_permissions(&real, PermissionsExt::from_mode(0o604)).unwrap();
        symlink("real.rules", &link).unwrap();
        it.it.write = true;
        assert_eq!(it.status(), Ok(0));
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read_to_string(&real).unwrap(), RULES);
        assert_eq!(fs::metadata(&real).unwrap().permissions().mode() & 0o777, 0o604);
    }
}
