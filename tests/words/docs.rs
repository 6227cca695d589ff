//! The papers hold: examples of the guides run, links and paths lead somewhere, options that are named
//! exist, and what is to be short is short.
//!
//! In `README.md` and `docs/`, a block marked `sh` is run, file by file in one folder and on one store,
//! the README first; an `output` block behind it names lines that it prints (`...` leaves some out). A block
//! marked `console` is only shown: it needs a browser, or takes long.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn text(file: &str) -> String {
    fs::read_to_string(root().join(file)).unwrap_or_else(|e| panic!("{file}: {e}"))
}

/// The Markdown files of a folder, in order of name.
fn papers_of(folder: &str) -> Vec<String> {
    let items = fs::read_dir(root().join(folder)).expect(folder).flatten();
    let names = items.map(|i| i.file_name().to_string_lossy().into_owned());
    let mut all: Vec<_> = names
        .filter(|n| n.ends_with(".md"))
        .map(|n| format!("{folder}/{n}"))
        .collect();
    all.sort();
    assert!(!all.is_empty(), "no paper in {folder}");
    all
}

/// The README and the guides.
fn guides() -> Vec<String> {
    let mut all = vec!["README.md".to_owned()];
    all.extend(papers_of("docs"));
    all
}

/// A fenced block: what it is marked as, its text, the line on which it begins.
struct Block {
    mark: String,
    text: String,
    line: usize,
}

fn blocks(file: &str) -> Vec<Block> {
    let mut out: Vec<Block> = Vec::new();
    let mut open = false;
    for (i, l) in text(file).lines().enumerate() {
        match (open, l.strip_prefix("```")) {
            (false, Some(mark)) => out.push(Block {
                mark: mark.to_owned(),
                text: String::new(),
                line: i + 1,
            }),
            (true, None) => {
                let last = out.last_mut().expect("an open block");
                last.text += l;
                last.text.push('\n');
                continue;
            }
            (false, None) => continue,
            (true, Some(_)) => {}
        }
        open = !open;
    }
    assert!(!open, "{file}: its last block isn't closed");
    out
}

/// The program as a person has it: by its name, in a home of its own, nothing set.
fn shell(folder: &Path) -> Command {
    let program = Path::new(env!("CARGO_BIN_EXE_dorso"));
    let mut c = Command::new("sh");
    c.current_dir(folder)
        .env_clear()
        .env("HOME", folder.join("home"))
        .env("LANG", "C.UTF-8");
    let usual = std::env::var("PATH").unwrap_or_default();
    let beside = program.parent().expect("folder of the program");
    c.env("PATH", format!("{}:{usual}", beside.display()));
    c
}

/// Standard output of a script that must do well.
fn ran(folder: &Path, set: &[(String, String)], script: &str, place: &str) -> String {
    let done = shell(folder)
        .envs(set.iter().cloned())
        .args(["-exc", script])
        .output()
        .expect("a shell");
    let told = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{place} fails:\n{told}");
    String::from_utf8(done.stdout).expect("UTF-8")
}

#[test]
fn examples_of_the_guides_run_as_they_stand() {
    let dir = tempfile::tempdir().expect("folder");
    let here = dir.path();
    std::os::unix::fs::symlink(root().join("samples"), here.join("samples")).expect("link");
    let mut run = 0;
    for file in guides() {
        let mut set: Vec<(String, String)> = Vec::new();
        let mut printed = String::new();
        for b in blocks(&file) {
            let place = format!("{file}, line {}", b.line);
            match b.mark.as_str() {
                "sh" => {
                    let (names, lines): (Vec<_>, Vec<_>) =
                        b.text.lines().partition(|l| l.starts_with("export "));
                    set.extend(names.iter().filter_map(|n| {
                        let (k, v) = n["export ".len()..].split_once('=')?;
                        Some((k.to_owned(), v.trim().to_owned()))
                    }));
                    printed = ran(here, &set, &lines.join("\n"), &place);
                    run += 1;
                }
                "output" => {
                    for l in b.text.lines().filter(|l| *l != "...") {
                        assert!(printed.contains(l), "{place}: {l:?} isn't in\n{printed}");
                    }
                }
                "console" | "json" => {}
                other => panic!("{place}: a block is sh, output, console or json, not {other:?}"),
            }
        }
    }
    assert!(run >= 10, "{run} blocks were run");
    assert!(here.join("out/notes/mill.html").exists());
}

/// Every `--option` that a text names.
fn options(text: &str) -> BTreeSet<String> {
    let start = |c: char| c.is_whitespace() || "`([|".contains(c);
    let words = text.split(start).filter(|w| w.starts_with("--"));
    let name = |w: &str| -> String {
        w.chars()
            .take_while(|c| c.is_ascii_lowercase() || *c == '-')
            .collect()
    };
    words.map(name).filter(|w| w.len() > 2).collect()
}

#[test]
fn options_and_commands_that_the_guides_name_exist() {
    let dir = tempfile::tempdir().expect("folder");
    let help = |c: &str| ran(dir.path(), &[], &format!("dorso {c} --help"), c);
    let first = help("");
    let commands = first.split("Commands:").nth(1).expect("commands");
    let commands = commands.split("\n\n").next().expect("commands");
    let mut all: Vec<&str> = commands
        .lines()
        .filter_map(|l| l.split_whitespace().next())
        .filter(|c| *c != "help")
        .collect();
    all.extend([
        "gazetteer add",
        "gazetteer import",
        "settle 1b on",
        "settle 1b says",
    ]);
    let mut known: BTreeSet<String> = all.iter().flat_map(|c| options(&help(c))).collect();
    known.extend(options(&text("batch/read_backs.py").replace('"', " ")));
    // Of cargo, and of Python's installer.
    let others = [
        "--require-hashes",
        "--features",
        "--release",
        "--bin",
        "--example",
        "--test",
        "--lib",
    ];
    for file in guides() {
        for o in options(&text(&file)) {
            let there = known.contains(&o) || others.contains(&o.as_str());
            assert!(there, "{file} names {o}, which no command has");
        }
        for named in text(&file).split("`dorso ").skip(1) {
            let name = named.split([' ', '`']).next().unwrap_or("");
            assert!(all.contains(&name), "{file} names dorso {name}");
        }
    }
    let readme = text("README.md");
    for c in all.iter().filter(|c| !c.contains(' ')) {
        let named = readme.contains(&format!("`dorso {c}"));
        assert!(named, "README.md doesn't name dorso {c}");
    }
}

/// A heading as links name it: small letters, hyphens for spaces, signs left out.
fn anchor(heading: &str) -> String {
    let small = heading.trim_start_matches('#').trim().to_lowercase();
    small
        .chars()
        .filter(|c| c.is_alphanumeric() || " -_".contains(*c))
        .map(|c| if c == ' ' { '-' } else { c })
        .collect()
}

#[test]
fn links_and_pictures_lead_somewhere() {
    let mut files = guides();
    files.extend(papers_of("benches"));
    files.extend(papers_of("benches/trials"));
    files.extend(papers_of("training"));
    files.extend(papers_of("gazetteer"));
    files.extend(papers_of("samples"));
    files.push("DEVELOPERS.md".into());
    let mut seen = 0;
    for file in &files {
        let from = root().join(file);
        let from = from.parent().expect("folder");
        for link in text(file).split("](").skip(1) {
            let target = link.split(')').next().unwrap_or("");
            if target.starts_with("http") {
                continue;
            }
            let (path, part) = target.split_once('#').unwrap_or((target, ""));
            let to = if path.is_empty() {
                root().join(file)
            } else {
                from.join(path)
            };
            assert!(to.exists(), "{file}: the link to {target} leads nowhere");
            if !part.is_empty() {
                let there = fs::read_to_string(&to).expect("a text");
                let mut headings = there.lines().filter(|l| l.starts_with('#'));
                let found = headings.any(|h| anchor(h) == part);
                assert!(found, "{file}: {target} has no such heading");
            }
            seen += 1;
        }
    }
    assert!(seen >= 20, "{seen} links");
}

#[test]
fn files_that_the_recipes_name_exist() {
    const ROOMS: [&str; 8] = [
        "src/",
        "tests/",
        "training/",
        "benches/",
        "examples/",
        "gazetteer/",
        "samples/",
        "docs/",
    ];
    let mut seen = 0;
    for file in ["DEVELOPERS.md", "training/README.md"] {
        for named in text(file).split('`').skip(1).step_by(2) {
            let path = named.split(' ').next().unwrap_or("");
            let rooted = ROOMS.iter().any(|r| path.starts_with(r));
            if rooted && !path.contains(|c: char| c.is_ascii_uppercase() && !path.ends_with(".md"))
            {
                assert!(root().join(path).exists(), "{file} names {path}");
                seen += 1;
            }
        }
    }
    assert!(seen >= 40, "{seen} paths");
}

/// Every card of a model.
fn cards(folder: &Path, out: &mut Vec<PathBuf>) {
    for item in fs::read_dir(folder).expect("a folder").flatten() {
        let path = item.path();
        if path.is_dir() {
            cards(&path, out);
        } else if path.file_name().is_some_and(|n| n == "card.md") {
            out.push(path);
        }
    }
}

#[test]
fn papers_are_short() {
    let mut limits = vec![
        (root().join("README.md"), 110),
        (root().join("DEVELOPERS.md"), 150),
    ];
    let mut all = Vec::new();
    cards(&root().join("src"), &mut all);
    assert!(all.len() >= 3, "{all:?}");
    limits.extend(all.into_iter().map(|c| (c, 80)));
    for (file, most) in limits {
        let lines = fs::read_to_string(&file).expect("a paper").lines().count();
        let told = file.display();
        assert!(lines <= most, "{told} has {lines} lines, {most} at most");
    }
}

#[test]
fn the_table_of_results_is_the_one_that_is_kept() {
    let table = text("benches/RESULTS.md");
    let kept = text("benches/results.csv");
    let rows: Vec<_> = csv::Reader::from_reader(kept.as_bytes())
        .records()
        .map(|r| r.expect("a row"))
        .collect();
    let told = table.lines().filter(|l| l.starts_with("| ")).count() - 1;
    assert_eq!(told, rows.len(), "run make report");
    let mut keys = BTreeSet::new();
    for r in &rows {
        assert!(
            keys.insert(r[1].to_owned()),
            "the key {} stands twice",
            &r[1]
        );
        let row = format!("| {} | {} | {} |", &r[0], &r[2], &r[3]);
        assert!(table.contains(&row), "{row}: run make report");
        let whole = !r[3].is_empty() && !r[5].is_empty() && r[6].len() == 10;
        assert!(whole, "{}: figure, command and date belong to it", &r[1]);
    }
}

/// Each fault that is told of is held by a test that is there.
#[test]
fn each_fault_names_its_test() {
    let mut sources = String::new();
    for folder in ["tests/kept", "tests/served", "tests/words"] {
        for item in fs::read_dir(root().join(folder)).expect(folder).flatten() {
            let path = item.path();
            if path.extension().is_some_and(|e| e == "rs") {
                sources += &fs::read_to_string(&path).expect("source");
            }
        }
    }
    sources += &text("src/decisions/mod.rs");
    let paper = text("docs/faults.md");
    let rows = paper.lines().filter(|l| l.matches('|').count() == 5);
    let named: Vec<&str> = rows
        .filter_map(|l| l.trim_end_matches([' ', '|']).rsplit("| ").next())
        .flat_map(|tests| tests.split(", "))
        .filter(|t| t.contains("::"))
        .collect();
    assert!(named.len() > 25, "{named:?}");
    for test in named {
        let name = test.rsplit("::").next().unwrap_or("");
        let known = name.is_empty() || sources.contains(&format!("fn {name}"));
        assert!(known, "{test} is no test");
    }
}
