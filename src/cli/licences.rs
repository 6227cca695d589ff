//! `dorso licences`: what the program is made of, and under which licence each part may be handed on.

use super::{Finished, Outcome, put};

/// Package, version and licence, a row each; written by `.ci/licences` from what `Cargo.lock` names.
const PACKAGES: &str = include_str!("../licences.csv");

/// What comes in with a package and has a licence of its own.
const WITHIN: [(&str, &str); 2] = [
    ("SQLite", "public domain"),
    (
        "DejaVu fonts",
        "Bitstream Vera licence, changes in the public domain",
    ),
];

/// Runs the command.
pub(crate) fn run() -> Outcome {
    let mut text = format!(
        "Dorso {} may be used, changed and handed on under the MIT licence or the Apache licence 2.0, as you choose.\n\
         It holds these packages:\n",
        env!("CARGO_PKG_VERSION")
    );
    for row in PACKAGES.lines().skip(1) {
        let mut cells = row.splitn(3, ',');
        let (name, version) = (cells.next().unwrap_or(""), cells.next().unwrap_or(""));
        text += &format!("  {name} {version}: {}\n", cells.next().unwrap_or(""));
    }
    for (name, licence) in WITHIN {
        text += &format!("  {name}: {licence}\n");
    }
    put(&text)?;
    Ok(Finished::Well)
}
