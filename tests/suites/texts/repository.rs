//! Rules of the repository that a compiler does not keep.
#![allow(clippy::unwrap_used, reason = "a test that panics has failed, as it should")]

use std::fs;
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}
fn read(path: &str) -> String {
    fs::read_to_string(root().join(path)).unwrap_or_default()
}
/// Every file of a folder with this ending, as path and text.
fn files(folder: &str, ending: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut folders = vec![root().join(folder)];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == ending) {
                let name = path.strip_prefix(root()).unwrap().to_str().unwrap().to_owned();
                found.push((name, fs::read_to_string(&path).unwrap()));
            }
        }
    }
    found.sort();
    found
}
fn sources() -> Vec<(String, String)> {
    ["logic-rules/src", "host-tools/src", "firmware/src", "tests/src"]
        .iter()
        .flat_map(|folder| files(folder, "rs"))
        .collect()
}

#[test]
fn nothing_else_lies_at_the_top() {
    let allowed = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "firmware",
        "logic-rules",
        "host-tools",
        "tests",
        "target",
    ];
    for entry in fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(name.starts_with('.') || allowed.contains(&name.as_str()), "{name} at the top");
    }
}

#[test]
fn every_file_says_what_it_is() {
    for (name, text) in sources() {
        assert!(text.starts_with("//! "), "{name} has no module doc");
    }
}

#[test]
fn data_flows_one_way() {
    // Room, and what its files must not name.
    let rules: [(&str, &[&str]); 10] = [
        ("logic-rules/src/", &["std::", "host_tools"]),
        ("firmware/src/", &["host_tools", "std::"]),
        (
            "host-tools/src/text/",
            &[
                "crate::resolve",
                "crate::check",
                "crate::lower",
                "crate::station",
                "crate::run",
                "crate::replay",
                "crate::simulate",
            ],
        ),
        (
            "host-tools/src/station",
            &[
                "crate::resolve",
                "crate::check",
                "crate::lower",
                "crate::run",
                "crate::replay",
                "crate::simulate",
                "logic_rules",
            ],
        ),
        (
            "host-tools/src/resolve",
            &["crate::check", "crate::lower", "crate::run", "crate::replay", "crate::simulate", "logic_rules"],
        ),
        ("host-tools/src/check", &["crate::lower", "crate::run", "crate::replay", "crate::simulate", "logic_rules"]),
        (
            "host-tools/src/lower",
            &[
                "crate::text::parse",
                "crate::resolve",
                "crate::check",
                "crate::run::",
                "crate::replay",
                "crate::simulate",
            ],
        ),
        (
            "host-tools/src/run",
            &["crate::replay", "crate::simulate", "crate::recording", "crate::check", "crate::resolve"],
        ),
        ("tests/src/oracle", &["logic_rules", "host_tools::lower", "host_tools::run", "host_tools::monitor"]),
        ("tests/src/render", &["logic_rules", "host_tools::resolve", "host_tools::text::format"]),
    ];
    for (name, text) in sources() {
        let code = text.split("#[cfg(test)]").next().unwrap_or("");
        for (room, forbidden) in rules {
            if !name.starts_with(room) {
                continue;
            }
            for word in forbidden {
                let named = code.lines().any(|line| !line.trim_start().starts_with("//") && line.contains(word));
                assert!(!named, "{name} names {word}");
            }
        }
    }
}

#[test]
fn only_commands_print() {
    for (name, text) in sources() {
        if ["host-tools/src/command", "host-tools/src/main.rs", "firmware/host"]
            .iter()
            .any(|room| name.starts_with(room))
        {
            continue;
        }
        // A board's log is no print.
        let prints = text.replace("defmt::println!", "").lines().any(|line| {
            !line.trim_start().starts_with("//") && (line.contains("println!") || line.contains("print!("))
        });
        assert!(!prints, "{name} prints");
    }
}

#[test]
fn every_suite_stands_in_the_table_and_in_a_test_program() {
    let (manifest, guide) = (read("tests/Cargo.toml"), read("DEVELOPERS.md"));
    let (mut modules, mut suites) = (0, 0);
    for (path, text) in files("tests/suites", "rs") {
        let (folder, suite) = path.rsplit_once('/').unwrap();
        if suite == "main.rs" {
            assert!(
                manifest.contains(&format!("path = \"{}\"", path.trim_start_matches("tests/"))),
                "{path} is not built"
            );
            modules += text.lines().filter(|line| line.starts_with("mod ")).count();
        } else {
            let line = format!("mod {};", suite.trim_end_matches(".rs"));
            assert!(read(&format!("{folder}/main.rs")).contains(&line), "{path} is not built");
            assert!(guide.contains(&format!("`{path}`")), "{path} is not in DEVELOPERS.md");
            suites += 1;
        }
    }
    assert_eq!(modules, suites, "a module for each suite");
}

#[test]
fn the_two_commands_are_those_that_ci_runs() {
    let (readme, ci) = (read("README.md"), read(".ci/run"));
    // What is tried is more there than in the README, and what is printed less.
    let bare = |line: &str| line.trim().trim_start_matches("heavy ").trim_end_matches(" > /dev/null").to_owned();
    for command in ["cargo run --release", "cargo test --workspace"] {
        assert!(readme.contains(command) && ci.lines().any(|line| bare(line) == command), "{command}");
    }
}

#[test]
fn the_project_speaks_of_itself_alone() {
    let mut all = sources();
    all.extend(files("host-tools/manual", "md"));
    all.extend(["README.md", "DEVELOPERS.md", ".ci/run"].map(|name| (name.to_owned(), read(name))));
    for (name, text) in all {
        for home in ["work", "root", "home"].map(|folder| format!("/{folder}/")) {
            assert!(!text.contains(&home), "{name} names a path of one machine");
        }
    }
}

/// What stands between two marks in a line.
fn between<'l>(line: &'l str, from: &str, to: &str) -> Option<&'l str> {
    line.split_once(from)?.1.split_once(to).map(|(found, _)| found)
}

#[test]
fn the_manual_names_every_fault_of_the_controller() {
    let (source, page) = (read("firmware/src/fault.rs"), read("host-tools/manual/faults.md"));
    let codes = between(&source, "fn code(self)", "fn detail").unwrap();
    let of_source: Vec<(String, String)> = codes
        .lines()
        .filter_map(|line| {
            let name = between(line, "Self::", " =>")?;
            Some((between(line, "=> ", ",")?.to_owned(), name.trim_end_matches("(_)").to_owned()))
        })
        .collect();
    let of_page: Vec<(String, String)> = page
        .lines()
        .filter_map(|line| Some((between(line, "| ", " |")?.to_owned(), between(line, "`", "`")?.to_owned())))
        .filter(|(code, _)| code.parse::<u8>().is_ok())
        .collect();
    assert!(of_source.len() > 15);
    assert_eq!(of_page, of_source);
}
