//! What a person may set about reading, in a JSON file of their own.

use super::language;
use super::own::OwnSettings;
use crate::error::{Error, Kind, Result};
use crate::limits::TEXT_BYTES;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Names the file of the settings.
pub const VARIABLE: &str = "DORSO_SETTINGS";

/// Settings of the recognisers: `{"own_reader": {"program": "...", "seconds": 5}, "language": {"share": 0}}`.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// The reader of the user's own, if there is one.
    #[serde(default)]
    pub own_reader: Option<OwnSettings>,
    /// How signs usually follow each other.
    #[serde(default)]
    pub language: LanguageSettings,
}

/// What the language model counts, and which it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LanguageSettings {
    /// From 0 (it isn't asked) to 1.
    #[serde(default = "usual")]
    pub share: f64,
    /// A model of the user's own in place of the program's.
    #[serde(default)]
    pub model: Option<PathBuf>,
}

impl Default for LanguageSettings {
    fn default() -> Self {
        LanguageSettings {
            share: usual(),
            model: None,
        }
    }
}

fn usual() -> f64 {
    language::SHARE
}

/// Settings from the file that [`VARIABLE`] names; none where it names none.
///
/// # Errors
/// `Kind::Usage` naming the file if it can't be read or isn't understood.
pub fn settings() -> Result<Settings> {
    match std::env::var_os(VARIABLE).filter(|v| !v.is_empty()) {
        Some(file) => from_file(Path::new(&file)),
        None => Ok(Settings::default()),
    }
}

/// Settings from a file.
///
/// # Errors
/// `Kind::Usage` naming the file if it can't be read or isn't understood.
pub fn from_file(file: &Path) -> Result<Settings> {
    let wrong = |what: String| {
        Error::new(
            Kind::Usage,
            file.display(),
            what,
            format!("put the settings right, or unset {VARIABLE}"),
        )
    };
    let text = TEXT_BYTES
        .text(file)
        .map_err(|e| wrong(format!("the settings can't be read ({e})")))?;
    let settings: Settings = serde_json::from_str(&text)
        .map_err(|e| wrong(format!("the settings aren't understood ({e})")))?;
    let own = settings.own_reader.as_ref();
    if own.is_some_and(|own| !(own.seconds > 0.0 && own.seconds <= 600.0)) {
        return Err(wrong(
            "\"seconds\" of the own reader lies outside 0 to 600".into(),
        ));
    }
    if !(0.0..=1.0).contains(&settings.language.share) {
        return Err(wrong(
            "\"share\" of the language model lies outside 0 to 1".into(),
        ));
    }
    Ok(settings)
}
