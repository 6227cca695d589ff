//! Folders to the photographs in them.

use super::format;
use crate::{Error, Kind, Result};
use std::cmp::Ordering;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// The image files meant by the arguments: files as they are, a folder for the images in it,
/// in [natural order](natural_order). A missing file stays in the list, so that opening it tells
/// the fault.
///
/// Of a folder are taken: files that hold a picture whatever their name, and files named as a
/// picture whatever they hold (so that a broken photograph is told, not passed over). Left out
/// without a word: everything else, hidden files, folders inside it.
///
/// # Errors
/// One error for each folder that can't be listed or holds no image.
pub fn expand(paths: &[PathBuf]) -> Vec<Result<PathBuf>> {
    let mut all = Vec::new();
    for path in paths {
        if !path.is_dir() {
            all.push(Ok(path.clone()));
            continue;
        }
        match images_in(path) {
            Ok(found) => all.extend(found.into_iter().map(Ok)),
            Err(e) => all.push(Err(e)),
        }
    }
    all
}

fn images_in(folder: &Path) -> Result<Vec<PathBuf>> {
    let unlisted = |e: std::io::Error| {
        Error::new(
            Kind::Photograph,
            folder.display(),
            format!("the folder can't be listed ({e})"),
            "give yourself leave to read it, or name the photographs one by one",
        )
    };
    let mut found = Vec::new();
    let mut folders = 0;
    for entry in std::fs::read_dir(folder).map_err(unlisted)? {
        let entry = entry.map_err(unlisted)?;
        let path = entry.path();
        if entry.file_name().to_string_lossy().starts_with('.') {
            continue;
        }
        if path.is_dir() {
            folders += 1;
        } else if path.is_file() && (format::named_as_picture(&path) || holds_picture(&path)) {
            found.push(path);
        }
    }
    if found.is_empty() {
        let next = if folders > 0 {
            "name one of the folders inside it, or the photographs themselves"
        } else {
            "name a folder with JPEG, PNG, TIFF or WebP files"
        };
        return Err(Error::new(
            Kind::Photograph,
            folder.display(),
            "the folder holds no photograph",
            next,
        ));
    }
    found.sort_by(|a, b| {
        let name = |p: &PathBuf| {
            p.file_name()
                .map(|n| n.to_string_lossy().into_owned())
                .unwrap_or_default()
        };
        natural_order(&name(a), &name(b)).then_with(|| a.cmp(b))
    });
    Ok(found)
}

fn holds_picture(file: &Path) -> bool {
    let mut head = Vec::with_capacity(format::ENOUGH);
    File::open(file)
        .and_then(|f| f.take(format::ENOUGH as u64).read_to_end(&mut head))
        .is_ok_and(|_| format::sniff(file, &head).is_picture())
}

/// Order of names as a person counts: runs of digits by their number, letters without regard to
/// case; equal so far, the plain order decides.
///
/// ```
/// use dorso_seeing::photograph::natural_order;
/// let mut names = ["back 10.jpg", "Back 2.jpg", "back 1.jpg"];
/// names.sort_by(|a, b| natural_order(a, b));
/// assert_eq!(names, ["back 1.jpg", "Back 2.jpg", "back 10.jpg"]);
/// ```
pub fn natural_order(a: &str, b: &str) -> Ordering {
    let (mut p, mut q) = (a.chars().peekable(), b.chars().peekable());
    loop {
        match (p.peek().copied(), q.peek().copied()) {
            (None, None) => return a.cmp(b),
            (None, Some(_)) => return Ordering::Less,
            (Some(_), None) => return Ordering::Greater,
            (Some(x), Some(y)) if x.is_ascii_digit() && y.is_ascii_digit() => {
                let (m, n) = (digits(&mut p), digits(&mut q));
                let by_number = m.len().cmp(&n.len()).then_with(|| m.cmp(&n));
                if by_number != Ordering::Equal {
                    return by_number;
                }
            }
            (Some(x), Some(y)) => {
                let order = x.to_lowercase().cmp(y.to_lowercase());
                if order != Ordering::Equal {
                    return order;
                }
                p.next();
                q.next();
            }
        }
    }
}

/// The run of digits that comes next, without leading zeros.
fn digits(chars: &mut std::iter::Peekable<std::str::Chars<'_>>) -> String {
    let mut run = String::new();
    while let Some(c) = chars.next_if(char::is_ascii_digit) {
        if !(run.is_empty() && c == '0') {
            run.push(c);
        }
    }
    run
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn natural_order_is_an_order(a in "[aAb0-9 ]{0,6}", b in "[aAb0-9 ]{0,6}", c in "[aAb0-9 ]{0,6}") {
            prop_assert_eq!(natural_order(&a, &b), natural_order(&b, &a).reverse());
            prop_assert_eq!(natural_order(&a, &b) == Ordering::Equal, a == b);
            let mut v = [&a, &b, &c];
            v.sort_by(|x, y| natural_order(x, y));
            prop_assert!(natural_order(v[0], v[2]) != Ordering::Greater);
        }
    }
}
