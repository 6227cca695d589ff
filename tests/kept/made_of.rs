//! What the program is made of.

use crate::guarded::{dorso, said};
use std::fs;
use std::path::Path;

#[test]
fn the_licences_are_told_of_every_package_in_the_program() {
    let dir = tempfile::tempdir().unwrap();
    let out = said(&dorso(dir.path(), &[], &["licences"]));
    let lock =
        fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("Cargo.lock")).unwrap();
    let told: Vec<(&str, &str)> = out
        .lines()
        .filter_map(|l| l.strip_prefix("  ")?.split_once(": ")?.0.split_once(' '))
        .collect();
    assert!(told.len() > 200);
    for (name, version) in told.iter().filter(|(n, _)| *n != "DejaVu") {
        let known = lock.contains(&format!("name = \"{name}\"\nversion = \"{version}\"\n"));
        assert!(
            known,
            "{name} {version} is not in Cargo.lock: run .ci/licences"
        );
    }
    for package in ["", "crates/seeing", "crates/weighing", "crates/telling"] {
        let file = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join(package)
            .join("Cargo.toml");
        let manifest = fs::read_to_string(file).unwrap();
        let needs = manifest.split("[dependencies]").nth(1).unwrap();
        let needs = needs.split("[dev-").next().unwrap();
        let named = needs
            .lines()
            .filter(|l| !l.starts_with('#') && l.contains(" = "));
        let names = named.filter_map(|l| l.split([' ', '.']).next());
        for name in names.filter(|n| !n.starts_with("dorso-")) {
            assert!(
                told.iter().any(|t| t.0 == name),
                "{name} is missing: run .ci/licences"
            );
        }
    }
}

/// Each package may be handed on under the licence of this program, or asks for no more than that its own is named.
#[test]
fn every_package_may_be_handed_on_with_the_program() {
    const FREE: [&str; 11] = [
        "MIT",
        "Apache-2.0",
        "Apache-2.0 WITH LLVM-exception",
        "BSD-2-Clause",
        "BSD-3-Clause",
        "0BSD",
        "ISC",
        "BSL-1.0",
        "Zlib",
        "Unlicense",
        "Unicode-3.0",
    ];
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/licences.csv");
    let list = fs::read_to_string(file).unwrap();
    for row in list.lines().skip(1) {
        let licence = row.splitn(3, ',').nth(2).unwrap();
        // Of what is parted by OR one is enough; of what is joined by AND each counts
        let free = |one: &str| FREE.contains(&one.trim_matches([' ', '(', ')']));
        let any = |part: &str| part.replace('/', " OR ").split(" OR ").any(free);
        assert!(licence.split(" AND ").all(any), "{row}");
    }
}
