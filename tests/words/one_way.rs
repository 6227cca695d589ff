//! Data flows one way: no stage uses a stage after it.

use std::fs;
use std::path::{Path, PathBuf};

/// The stages in order; a stage may use those before it. Modules on one level don't know each
/// other, except that lists use dates.
const ORDER: [&[&str]; 14] = [
    &["photograph"],
    &["enhance"],
    &["marks"],
    &["taking"],
    &["dating"],
    &["gazetteer", "readings"],
    &["back"],
    &["statements"],
    &["monogram"],
    &["proposals"],
    &["decisions"],
    &["evidence"],
    &["note"],
    &["exports"],
];
/// These set stages behind each other and are used by none of them.
const ABOVE: [&str; 5] = ["run", "measure", "desk", "cli", "main"];

fn level(module: &str) -> Option<usize> {
    ORDER.iter().position(|l| l.contains(&module))
}

/// Names of the crate's modules that a source text uses.
fn used(source: &str) -> Vec<String> {
    let mut out = Vec::new();
    for line in source.lines() {
        let line = line.trim_start();
        if line.starts_with("//") {
            continue;
        }
        for (at, _) in line.match_indices("crate::") {
            let rest = &line[at + "crate::".len()..];
            if let Some(list) = rest.strip_prefix('{') {
                let list = list.split('}').next().unwrap_or("");
                out.extend(list.split(',').map(|p| head(p.trim())));
            } else {
                out.push(head(rest));
            }
        }
    }
    out
}

fn head(path: &str) -> String {
    path.chars()
        .take_while(|c| c.is_alphanumeric() || *c == '_')
        .collect()
}

fn offences(module: &str, source: &str) -> Vec<String> {
    let Some(own) = level(module) else {
        return Vec::new();
    };
    used(source)
        .into_iter()
        .filter(|u| {
            u != module && (ABOVE.contains(&u.as_str()) || level(u).is_some_and(|l| l >= own))
        })
        .collect()
}

fn sources(dir: &Path, out: &mut Vec<PathBuf>) {
    for item in fs::read_dir(dir).expect("source folder").flatten() {
        let path = item.path();
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

#[test]
fn an_arrow_that_points_forward_is_seen() {
    assert_eq!(
        offences("marks", "use crate::readings::Reading;\n"),
        ["readings"]
    );
    assert_eq!(
        offences("marks", "use crate::{error::Error, note::Note};\n"),
        ["note"]
    );
    assert_eq!(offences("enhance", "let x = crate::run::read();"), ["run"]);
    assert!(offences("readings", "use crate::marks::Mark;").is_empty());
    assert!(offences("marks", "// use crate::note::Note;").is_empty());
}

#[test]
fn no_stage_uses_a_stage_after_it() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    let mut files = Vec::new();
    sources(&src, &mut files);
    assert!(files.len() > 20);
    for file in files {
        let below = file.strip_prefix(&src).expect("below src");
        let module = below
            .components()
            .next()
            .map(|c| c.as_os_str().to_string_lossy().replace(".rs", ""))
            .unwrap_or_default();
        let source = fs::read_to_string(&file).expect("source file");
        for o in offences(&module, &source) {
            found.push(format!("{} uses {o}", below.display()));
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

/// What the compiler can't check stands in one file alone, which binds a library of C.
#[test]
fn unsafe_code_stands_in_one_module() {
    let mut files = Vec::new();
    for folder in ["src", "crates"] {
        sources(
            &Path::new(env!("CARGO_MANIFEST_DIR")).join(folder),
            &mut files,
        );
    }
    let word = ["un", "safe"].concat();
    let begins = [
        format!("{word} {{"),
        format!("{word} fn"),
        format!("{word} impl"),
    ];
    let holds = |file: &PathBuf| {
        let text = fs::read_to_string(file).expect("a source");
        begins.iter().any(|b| text.contains(b.as_str())) || text.contains(&format!("{word} extern"))
    };
    let found: Vec<PathBuf> = files.into_iter().filter(holds).collect();
    assert!(
        matches!(&found[..], [one] if one.ends_with("src/readings/tesseract.rs")),
        "{found:?}"
    );
}
