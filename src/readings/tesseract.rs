//! Tesseract behind [`Recogniser`]: one engine for each reader at work, single-threaded, with
//! the alternatives that its line model weighed for each symbol.

use super::{Character, LineReader, RawLine};
use crate::error::{Error, Kind, Result};
use crate::geometry::Rect;
use image::GrayImage;
use std::mem::ManuallyDrop;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use tesseract_rs::{
    PageIterator, ResultIterator, TessPageIteratorLevel as Level, TessPageSegMode, TesseractAPI,
};

/// Where Debian's packages put the language data, newest first.
const DATA: [&str; 3] = [
    "/usr/share/tesseract-ocr/5/tessdata",
    "/usr/share/tessdata",
    "/usr/share/tesseract-ocr/4.00/tessdata",
];

/// Language data that is needed.
const LANGUAGE: &str = "eng";

/// Alternatives with a smaller chance than this are left out.
const ALTERNATIVE_FROM: f64 = 0.005;

/// A pool of engines: each reader at work takes one out and puts it back.
pub struct Tesseract {
    data: PathBuf,
    idle: Mutex<Vec<TesseractAPI>>,
}

impl Tesseract {
    /// Finds the language data and starts one engine.
    ///
    /// # Errors
    /// `Kind::Recogniser` if the English data is nowhere or can't be loaded.
    pub fn new() -> Result<Self> {
        let prefix = std::env::var_os("TESSDATA_PREFIX").map(PathBuf::from);
        Self::with_data(find_data(prefix.as_deref())?)
    }

    /// Uses the language data in this folder.
    ///
    /// # Errors
    /// `Kind::Recogniser` if the English data isn't there or can't be loaded.
    pub fn with_data(data: PathBuf) -> Result<Self> {
        let engine = start(&data)?;
        Ok(Tesseract {
            data,
            idle: Mutex::new(vec![engine]),
        })
    }
}

/// The folder with the English data: `TESSDATA_PREFIX` (itself or its `tessdata`), else where
/// Debian puts it.
///
/// # Errors
/// `Kind::Recogniser` if it is nowhere; names the package that holds it.
pub fn find_data(prefix: Option<&Path>) -> Result<PathBuf> {
    let named = prefix.map(|p| vec![p.to_path_buf(), p.join("tessdata")]);
    let places = named.unwrap_or_else(|| DATA.iter().map(PathBuf::from).collect());
    let file = format!("{LANGUAGE}.traineddata");
    places
        .iter()
        .find(|p| p.join(&file).is_file())
        .cloned()
        .ok_or_else(|| missing(&places[0]))
}

fn missing(place: &Path) -> Error {
    Error::new(
        Kind::Recogniser,
        place.display(),
        format!(
            "Tesseract's data for English ({LANGUAGE}.traineddata) isn't there or can't be loaded"
        ),
        "install the package tesseract-ocr-eng, or set TESSDATA_PREFIX to the folder that holds it",
    )
}

fn start(data: &Path) -> Result<TesseractAPI> {
    silent();
    // The binding panics on a path that isn't UTF-8.
    if data.to_str().is_none_or(|p| p.contains('\0')) {
        return Err(missing(data));
    }
    let engine = TesseractAPI::new();
    engine.init(data, LANGUAGE).map_err(|_| missing(data))?;
    for (name, value) in [
        // For each symbol the choices of the line model, not only the best one.
        ("lstm_choice_mode", "2"),
        // Chatter goes nowhere: standard output holds only results.
        ("debug_file", "/dev/null"),
    ] {
        engine.set_variable(name, value).map_err(|e| failed(&e))?;
    }
    Ok(engine)
}

fn failed(e: &dyn std::fmt::Display) -> Error {
    Error::new(
        Kind::Recogniser,
        "Tesseract",
        format!("reading failed ({e})"),
        "read the photograph again, or read it with another recogniser",
    )
}

/// Tesseract spreads each line over four OpenMP threads, which costs more than it gains when
/// marks are read side by side. `OMP_THREAD_LIMIT` is read when the program is loaded, too
/// early to set it here; so this thread's regions are kept from going parallel, if the library
/// was built with OpenMP at all.
fn one_thread() {
    type SetLevels = unsafe extern "C" fn(libc::c_int);
    // SAFETY: the name is a NUL-ended string; a symbol of that name is the OpenMP API's
    // `void omp_set_max_active_levels(int)` (OpenMP 3.0), which may be called at any time.
    unsafe {
        let symbol = libc::dlsym(libc::RTLD_DEFAULT, c"omp_set_max_active_levels".as_ptr());
        if !symbol.is_null() {
            std::mem::transmute::<*mut libc::c_void, SetLevels>(symbol)(0);
        }
    }
}

/// Keeps Leptonica, which Tesseract uses for pictures, from writing its notices to standard error.
fn silent() {
    /// `L_SEVERITY_NONE` of Leptonica's `environ.h`.
    const NOTHING: libc::c_int = 6;
    type SetSeverity = unsafe extern "C" fn(libc::c_int) -> libc::c_int;
    // SAFETY: the name is a NUL-ended string; a symbol of that name is Leptonica's
    // `l_int32 setMsgSeverity(l_int32)`, which only sets a variable.
    unsafe {
        let symbol = libc::dlsym(libc::RTLD_DEFAULT, c"setMsgSeverity".as_ptr());
        if !symbol.is_null() {
            std::mem::transmute::<*mut libc::c_void, SetSeverity>(symbol)(NOTHING);
        }
    }
}

impl LineReader for Tesseract {
    fn name(&self) -> &str {
        "tesseract"
    }

    fn weight(&self) -> f64 {
        1.0
    }

    fn read(&self, picture: &GrayImage) -> Result<Option<RawLine>> {
        if picture.width() < 8 || picture.height() < 8 || blank(picture) {
            return Ok(None);
        }
        let idle = self.idle.lock().map(|mut i| i.pop()).unwrap_or_default();
        let engine = match idle {
            Some(engine) => engine,
            None => start(&self.data)?,
        };
        one_thread();
        let line = read_with(&engine, picture);
        // An engine that failed isn't used again.
        if line.is_ok()
            && let Ok(mut idle) = self.idle.lock()
        {
            idle.push(engine);
        }
        line.map_err(|e| failed(&e))
    }
}

/// Whether the picture is of one grey: Tesseract makes up a letter there.
fn blank(picture: &GrayImage) -> bool {
    let grey = picture.as_raw();
    let (low, high) = grey
        .iter()
        .fold((255, 0), |(l, h), &v| (v.min(l), v.max(h)));
    high.saturating_sub(low) < 8
}

fn read_with(engine: &TesseractAPI, picture: &GrayImage) -> tesseract_rs::Result<Option<RawLine>> {
    engine.set_page_seg_mode(TessPageSegMode::PSM_SINGLE_LINE)?;
    let (w, h) = (picture.width() as i32, picture.height() as i32);
    engine.set_image(picture.as_raw(), w, h, 1, w)?;
    // Stops it guessing from the picture's size; its line model scales lines by itself.
    engine.set_source_resolution(300)?;
    engine.recognize()?;
    let line = match engine.get_iterator() {
        Ok(results) => line_of(&results, picture.dimensions()),
        // No iterator: nothing was found.
        Err(_) => None,
    };
    engine.clear()?;
    Ok(line)
}

/// All that was read, as one line of a picture of this size.
fn line_of(results: &ResultIterator, (width, height): (u32, u32)) -> Option<RawLine> {
    // A result iterator is a page iterator too (in the C++ API by inheritance), but the binding
    // doesn't say so. It must not be deleted twice.
    let handle = results.handle.lock().map(|h| *h).ok()?;
    let page = ManuallyDrop::new(PageIterator::new(handle));
    let begins = |level| page.is_at_beginning_of(level).unwrap_or(false);
    let mut line = RawLine {
        characters: Vec::new(),
        bounds: Rect::new(0, 0, width, height),
        spans: Vec::new(),
        faint: Vec::new(),
        writing: None,
        by_ink: None,
    };
    loop {
        if let Some(symbol) = symbol(results) {
            let place = rect(page.bounding_box(Level::RIL_SYMBOL).ok());
            let span = (place.x, place.right());
            if begins(Level::RIL_WORD) && !line.characters.is_empty() {
                let before = line.spans.last().map_or(span.0, |s| s.1);
                let sure = line.characters.last().map_or(0.0, |c| c.confidence);
                let confidence = sure.min(symbol.confidence);
                line.characters.push(Character::sure(" ", confidence));
                line.spans.push((before.min(span.0), span.0));
            }
            line.characters.push(symbol);
            line.spans.push(span);
        }
        if !results.next(Level::RIL_SYMBOL).unwrap_or(false) {
            break;
        }
    }
    (!line.characters.is_empty()).then_some(line)
}

fn rect(bounds: Option<(i32, i32, i32, i32)>) -> Rect {
    let (l, t, r, b) = bounds.unwrap_or_default();
    Rect::new(l, t, (r - l).max(0) as u32, (b - t).max(0) as u32)
}

/// The symbol at the iterator, with what else the line model saw there.
fn symbol(results: &ResultIterator) -> Option<Character> {
    let text = tidy(&results.get_utf8_text(Level::RIL_SYMBOL).ok()?)?;
    let confidence = chance(results.confidence(Level::RIL_SYMBOL).ok()?);
    let mut alternatives: Vec<(String, f64)> = Vec::new();
    if let Ok(choices) = results.get_choice_iterator() {
        loop {
            let chance = chance(choices.confidence().unwrap_or(0.0));
            // An empty choice or a space means that nothing stands here.
            let other = choices.get_utf8_text().unwrap_or_default();
            let other = tidy(&other).unwrap_or_default();
            if other != text && chance.is_finite() && chance >= ALTERNATIVE_FROM {
                match alternatives.iter_mut().find(|(t, _)| *t == other) {
                    Some((_, c)) => *c = c.max(chance),
                    None => alternatives.push((other, chance)),
                }
            }
            if !choices.next().unwrap_or(false) {
                break;
            }
        }
    }
    // The choices' scores and the symbol's own confidence come from different sums.
    let room = 1.0 - confidence;
    let sum: f64 = alternatives.iter().map(|a| a.1).sum();
    if sum > room {
        alternatives.iter_mut().for_each(|a| a.1 *= room / sum);
    }
    alternatives.retain(|a| a.1 >= ALTERNATIVE_FROM);
    alternatives.sort_by(|a, b| b.1.total_cmp(&a.1));
    Some(Character {
        text,
        confidence,
        alternatives,
    })
}

/// Tesseract's confidence c is 100 + 5 · ln p, cut at 0, p being the least chance of its line
/// model along the symbol: 90 means p = 0.14. Those chances are too low for right letters, so
/// they are flattened by the temperature 2.
fn chance(confidence: f32) -> f64 {
    crate::chance::clamp(((f64::from(confidence) - 100.0) / 10.0).exp())
}

/// One spelling for signs that look the same; nothing for a blank.
fn tidy(text: &str) -> Option<String> {
    let text = text.trim();
    (!text.is_empty()).then(|| match text {
        "‘" | "’" | "‛" | "`" | "´" => "'".to_string(),
        "“" | "”" | "„" => "\"".to_string(),
        "‐" | "‑" => "-".to_string(),
        _ => text.to_string(),
    })
}
