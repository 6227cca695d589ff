//! Style and scripts, inside the program.

use super::web::Reply;
use super::words;
use sha2::{Digest, Sha256};
use std::sync::{Arc, OnceLock};

const FILES: [(&str, &str, &str); 13] = [
    ("desk.css", CSS, include_str!("assets/desk.css")),
    ("desk.js", JS, include_str!("assets/desk.js")),
    ("saving.js", JS, include_str!("assets/saving.js")),
    ("settle.js", JS, include_str!("assets/settle.js")),
    ("letters.js", JS, include_str!("assets/letters.js")),
    ("rows.js", JS, include_str!("assets/rows.js")),
    ("compare.js", JS, include_str!("assets/compare.js")),
    ("viewer.js", JS, include_str!("assets/viewer.js")),
    ("draw.js", JS, include_str!("assets/draw.js")),
    ("note.js", JS, include_str!("assets/note.js")),
    ("bring.js", JS, include_str!("assets/bring.js")),
    ("send.js", JS, include_str!("assets/send.js")),
    ("take.js", JS, include_str!("assets/take.js")),
];

const CSS: &str = "text/css; charset=utf-8";
const JS: &str = "text/javascript; charset=utf-8";

/// The words of the scripts as a script of their own.
fn words_js() -> String {
    let all: serde_json::Map<String, serde_json::Value> = words::SCRIPTS
        .iter()
        .map(|(k, v)| ((*k).to_owned(), (*v).into()))
        .collect();
    format!("export const words = {};\n", serde_json::Value::Object(all))
}

/// Changes with the content of any file, so that a browser never uses one of an older program.
fn version() -> &'static str {
    static VERSION: OnceLock<String> = OnceLock::new();
    VERSION.get_or_init(|| {
        let mut hash = Sha256::new();
        for (_, _, text) in FILES {
            hash.update(text);
        }
        hash.update(words_js());
        hash.finalize()[..6]
            .iter()
            .map(|b| format!("{b:02x}"))
            .collect()
    })
}

/// Address of a file. Scripts load each other by relative names, so all lie in one folder.
pub fn address(name: &str) -> String {
    format!("/assets/{}/{name}", version())
}

/// The file of that name.
pub fn get(version_asked: &str, name: &str) -> Option<Reply> {
    let (kind, text) = match FILES.iter().find(|f| f.0 == name) {
        Some((_, kind, text)) => (*kind, (*text).to_owned()),
        None if name == "words.js" => (JS, words_js()),
        None => return None,
    };
    Some(Reply::Bytes {
        kind,
        bytes: Arc::new(text.into_bytes()),
        stays: version_asked == version(),
    })
}
