//! Bringing photographs: the page on which they are dropped, and how their files are taken in. What is dropped has no place that
//! the desk may know; it is copied, byte for byte, into a folder beside the store.

use super::Desk;
use super::batch::{Coming, add, told};
use super::deciding::usage;
use super::page::{Page, Place, page as lay, token};
use super::web::{Ask, Reply};
use super::words as w;
use crate::error::{Error, Kind, Result};
use crate::photograph;
use crate::written;
use maud::html;
use serde_json::json;
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// The folder beside the store that takes what is dropped on the page.
fn folder_for_dropped(desk: &Desk) -> PathBuf {
    let stem = desk.file.file_stem().unwrap_or_default().to_string_lossy();
    desk.file.with_file_name(format!("{stem}-photographs"))
}

/// A file's name without anything that leads elsewhere or that a disk refuses.
fn safe_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\']).next().unwrap_or("");
    let kept: String = last
        .chars()
        .map(|c| {
            if c.is_alphanumeric() || "-_. ".contains(c) {
                c
            } else {
                '-'
            }
        })
        .collect();
    let kept = kept.trim_matches(['.', ' ']);
    kept.chars()
        .rev()
        .take(80)
        .collect::<Vec<_>>()
        .into_iter()
        .rev()
        .collect()
}

/// Takes in one photograph dropped on the page.
pub fn dropped(desk: &Desk, _what: &str, ask: &Ask) -> Result<Reply> {
    let named = ask.query.get("name");
    use photograph::Format::{Heic, Jpeg, Png, Tiff, Webp};
    let head = &ask.body[..ask.body.len().min(512)];
    let format = photograph::sniff(Path::new(&safe_name(named)), head);
    if !matches!(format, Jpeg | Png | Tiff | Webp | Heic) {
        return Err(Error::new(
            Kind::Photograph,
            safe_name(named),
            w::NO_PICTURE,
            w::DROP_PICTURES,
        ));
    }
    let hash = Sha256::digest(&ask.body);
    let hash: String = hash.iter().map(|b| format!("{b:02x}")).collect();
    let folder = folder_for_dropped(desk);
    let file = folder.join(format!("{}-{}", &hash[..8], safe_name(named)));
    let failed = |e: std::io::Error| {
        Error::new(
            Kind::Output,
            file.display(),
            format!("the photograph can't be kept ({e})"),
            "make room or see that you may write there, then drop it again",
        )
    };
    if !file.exists() {
        written::put(&file, &ask.body).map_err(failed)?;
    }
    let number = |name: &str| ask.query.number(name);
    let coming = Coming {
        picture: ask.query.get("picture"),
        apart: ask.query.get("apart") == "1",
        group: number("group").and_then(|g| u64::try_from(g).ok()),
        visit: number("visit"),
    };
    desk.taking.arrived(&hash, &file);
    add(desk, vec![file], &coming)?;
    Ok(Reply::Json(json!({ "taken": 1, "photograph": hash })))
}

/// Takes in a folder or a file that the person names.
pub fn folder(desk: &Desk, ask: &Ask) -> Result<Reply> {
    let named = ask.form.get("folder");
    if named.is_empty() {
        return Err(usage(w::FOLDER, w::EMPTY, w::NAME_FOLDER));
    }
    let mut files = Vec::new();
    for found in photograph::expand(&[PathBuf::from(named)]) {
        let file = found?;
        if !file.is_file() {
            return Err(Error::new(
                Kind::Photograph,
                named,
                w::NO_SUCH_FILE,
                w::NAME_FOLDER,
            ));
        }
        files.push(file);
    }
    let coming = Coming {
        picture: ask.form.get("picture"),
        apart: ask.form.get("apart") == "1",
        ..Coming::default()
    };
    add(desk, files, &coming)?;
    Ok(Reply::See("/bring".into()))
}

/// The page.
pub fn page(desk: &Desk) -> Result<Reply> {
    let told = told(desk);
    let number = |key: &str| told[key].as_u64().unwrap_or(0);
    let faults: Vec<&str> = told["faults"]
        .as_array()
        .map(|all| all.iter().filter_map(|f| f.as_str()).collect())
        .unwrap_or_default();
    let (running, waiting) = (told["running"] == true, number("waiting"));
    let body = html! {
        section aria-labelledby="drop-title" {
            h2 id="drop-title" { (w::PHOTOGRAPHS) }
            p {
                label for="picture-name" { (w::PICTURE_NAME) } " "
                input id="picture-name" maxlength="200" autocomplete="off"; " "
                label { input type="checkbox" id="apart"; " " (w::APART) }
            }
            div.drop id="drop" data-token=(desk.token) {
                p { (w::DROP_HERE) }
                p { label for="files" { (w::CHOOSE_FILES) } " " input type="file" id="files" multiple accept="image/*,.heic,.tif,.tiff"; }
                p { label for="camera" { (w::TAKE_ONE) } " " input type="file" id="camera" accept="image/*" capture="environment"; }
            }
            p.ways { a href="/phone" { (w::LET_PHONE_IN) } " " a href="/take" { (w::TAKE_PHOTOGRAPHS) } " " a href="/visit" { (w::VISITS) } }
            p { (w::dropped_where(&folder_for_dropped(desk).display().to_string())) }
        }
        section aria-labelledby="folder-title" {
            h2 id="folder-title" { (w::FOLDER) }
            form.row method="post" action="/bring" {
                (token(desk))
                p { label for="folder" { (w::FOLDER_PATH) } " " input.wide id="folder" name="folder" maxlength="1000" required autocomplete="off"; }
                p {
                    label for="folder-picture" { (w::PICTURE_NAME) } " "
                    input id="folder-picture" name="picture" maxlength="200" autocomplete="off"; " "
                    label { input type="checkbox" name="apart" value="1"; " " (w::APART) }
                }
                button { (w::READ_FOLDER) }
            }
        }
        section aria-labelledby="progress-title" {
            h2 id="progress-title" { (w::PROGRESS) }
            progress id="progress" max=(number("all").max(1)) value=(number("done")) aria-labelledby="progress-words" {}
            p id="progress-words" role="status" { (told["words"].as_str().unwrap_or_default()) }
            div.tools {
                form method="post" action="/bring/stop" id="stop" hidden[!running] { (token(desk)) button { (w::STOP) } }
                form method="post" action="/bring/start" id="go-on" hidden[running || waiting == 0] { (token(desk)) button { (w::GO_ON) } }
                a href="/settle" { (w::SETTLE) }
            }
            ul.refused id="faults" { @for f in &faults { li { (f) } } }
        }
    };
    let shown = Page {
        title: w::BRING.into(),
        place: Place::Bring,
        scripts: &["bring.js"],
        keys: &[],
        body,
    };
    Ok(Reply::Page(lay(desk, shown)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_dropped_file_s_name_never_leads_out_of_its_folder() {
        assert_eq!(safe_name("../../etc/passwd"), "passwd");
        assert_eq!(safe_name("C:\\x\\back.jpg"), "back.jpg");
        assert_eq!(safe_name("<img src=x>.jpg"), "-img src-x-.jpg");
        assert_eq!(safe_name(".."), "");
    }
}
