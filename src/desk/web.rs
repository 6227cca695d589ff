//! Requests and answers as plain values, and the one place where text becomes markup.

use crate::error::{Error, Kind, Result};
use maud::Markup;
use serde_json::Value;

/// What is asked for.
#[derive(Debug, Clone, Default)]
pub struct Ask {
    /// True for a change (POST), false for a look (GET).
    pub change: bool,
    /// Parts of the path, plain.
    pub path: Vec<String>,
    /// Fields of the address.
    pub query: Fields,
    /// Fields of a form; empty where the body isn't one.
    pub form: Fields,
    /// The body as it came.
    pub body: Vec<u8>,
    /// True where the script asks and wants JSON.
    pub by_script: bool,
}

/// Fields by name, in order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Fields(pub Vec<(String, String)>);

impl Fields {
    /// From `a=1&b=2`.
    pub fn parse(bytes: &[u8]) -> Fields {
        Fields(form_urlencoded::parse(bytes).into_owned().collect())
    }

    /// The first field of that name, without blanks around it; empty where there is none.
    pub fn get(&self, name: &str) -> &str {
        let found = self.0.iter().find(|(n, _)| n == name);
        found.map_or("", |(_, v)| v.trim())
    }

    /// All fields of that name.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.0
            .iter()
            .filter(move |(n, _)| n == name)
            .map(|(_, v)| v.as_str())
    }

    /// A whole number; `None` where there is none or it isn't one.
    pub fn number(&self, name: &str) -> Option<i64> {
        self.get(name).parse().ok()
    }
}

/// What is answered.
#[derive(Debug)]
pub enum Reply {
    /// A page.
    Page(Markup),
    /// A page that tells why something wasn't done.
    Refused(u16, Markup),
    /// Look there now.
    See(String),
    /// For the script.
    Json(Value),
    /// For the script: not done.
    JsonRefused(u16, Value),
    /// A file of the desk or a picture; pictures never change under their address.
    Bytes {
        /// Media type.
        kind: &'static str,
        /// Content.
        bytes: std::sync::Arc<Vec<u8>>,
        /// True where the browser may keep it.
        stays: bool,
    },
    /// A file to keep.
    Download {
        /// Media type.
        kind: &'static str,
        /// Its name: letters, figures, hyphens and a dot.
        name: String,
        /// Content.
        bytes: Vec<u8>,
    },
}

/// Text of an HTTP body or address that is too long or no text is refused with this.
pub fn unclear(place: &str, what: &str) -> Error {
    Error::new(
        Kind::Usage,
        place,
        what,
        "go back, load the page again and try once more",
    )
}

/// A whole number in an address.
pub fn number(text: &str) -> Result<i64> {
    text.parse()
        .map_err(|_| unclear(&format!("\"{text}\""), "this is no number"))
}

/// A value for an address: everything but letters and figures is coded.
pub fn coded(text: &str) -> String {
    form_urlencoded::byte_serialize(text.as_bytes()).collect()
}
