//! Bytes of a file to an upright picture, with the guards that keep memory in bounds.

use super::{Format, Photograph, format, jpeg};
use crate::limits::{PHOTOGRAPH_BYTES, PICTURE_BYTES};
use crate::{Error, Kind, Result};
use image::metadata::Orientation;
use image::{ColorType, DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits, RgbImage};
use sha2::{Digest, Sha256};
use std::io::{Cursor, ErrorKind};
use std::path::Path;

/// Largest picture that is decoded, px: four times the largest that phones make today. Known
/// before decoding, so that a larger one costs neither time nor memory.
pub const LARGEST_PIXELS: u64 = 200_000_000;

/// Largest side that is decoded, px: what JPEG can hold.
pub const LARGEST_SIDE: u32 = 65_535;

/// Why a picture couldn't be opened: its size, told already, or its coding.
enum Problem {
    TooLarge(Error),
    Undecodable(Error),
}

impl From<Problem> for Error {
    fn from(problem: Problem) -> Error {
        match problem {
            Problem::TooLarge(e) | Problem::Undecodable(e) => e,
        }
    }
}

/// A fault of the photograph `file`, on one line whatever a library says.
pub(super) fn fault(
    file: &Path,
    what: impl std::fmt::Display,
    next: impl std::fmt::Display,
) -> Error {
    let what = what.to_string();
    let what = what.split_whitespace().collect::<Vec<_>>().join(" ");
    Error::new(Kind::Photograph, file.display(), what, next)
}

/// The bytes of a file.
pub(super) fn read(file: &Path) -> Result<Vec<u8>> {
    let unreadable = |e: std::io::Error| match e.kind() {
        ErrorKind::NotFound => fault(
            file,
            "there is no such file",
            "check the name, or name the folder that holds the photographs",
        ),
        ErrorKind::PermissionDenied => fault(
            file,
            "it may not be read",
            "give yourself leave to read it, or copy it to a folder of your own",
        ),
        _ => fault(
            file,
            format!("it can't be read ({e})"),
            "check the disk or card it is on, or copy it again",
        ),
    };
    let about = std::fs::metadata(file).map_err(unreadable)?;
    if about.is_dir() {
        return Err(fault(
            file,
            "it is a folder, not a photograph",
            "name a photograph in it",
        ));
    }
    if !about.is_file() {
        return Err(fault(
            file,
            "it is not an ordinary file",
            "name a photograph saved on disk",
        ));
    }
    let what = format!("it is {} MB long, more", about.len() >> 20);
    PHOTOGRAPH_BYTES.hold(about.len(), Kind::Photograph, file.display(), what)?;
    PHOTOGRAPH_BYTES.read(file).map_err(unreadable)
}

/// SHA-256 of a file's bytes, 64 hex digits, as in [`Photograph::sha256`], without decoding it.
///
/// # Errors
/// As [`super::open`] where the file can't be read.
pub fn identity(file: &Path) -> Result<String> {
    Ok(hex(&Sha256::digest(read(file)?)))
}

/// Decodes a photograph from the bytes of its file; see [`super::open`].
///
/// * `file`: the name to tell in errors and to keep in the result; it isn't opened.
///
/// # Errors
/// As [`super::open`], but for those of reading the file.
pub fn from_bytes(file: &Path, bytes: &[u8]) -> Result<Photograph> {
    let sort = format::sniff(file, &bytes[..bytes.len().min(format::ENOUGH)]);
    let (picture, orientation) = match sort {
        Format::Jpeg => {
            // Size first: a picture that is too large is told as such even if it is cut short.
            let whole = jpeg::is_whole(bytes);
            let decoder = match sized(file, bytes, ImageFormat::Jpeg, "JPEG") {
                Err(Problem::Undecodable(_)) if !whole => return Err(cut_short(file, "JPEG")),
                other => other?,
            };
            if !whole {
                return Err(cut_short(file, "JPEG"));
            }
            if let Some(where_) = jpeg::torn(bytes) {
                return Err(torn(file, where_));
            }
            (decoded(file, decoder, "JPEG")?, orientation(bytes))
        }
        Format::Png => plain(file, bytes, ImageFormat::Png, "PNG")?,
        Format::Tiff if is_raw_tiff(bytes) => return Err(refused(file, Format::Raw)),
        Format::Tiff => plain(file, bytes, ImageFormat::Tiff, "TIFF")?,
        Format::Webp if !riff_is_whole(bytes) => return Err(cut_short(file, "WebP")),
        Format::Webp => plain(file, bytes, ImageFormat::WebP, "WebP")?,
        // The HEIF library turns the picture itself (ISO/IEC 23008-12, irot and imir); its EXIF
        // orientation must then be left alone.
        #[cfg(feature = "heic")]
        Format::Heic => (super::heic::decode(file, bytes)?, Orientation::NoTransforms),
        other => return Err(refused(file, other)),
    };
    Ok(Photograph {
        file: file.to_path_buf(),
        sha256: hex(&Sha256::digest(bytes)),
        picture: upright(picture, orientation),
    })
}

fn plain(
    file: &Path,
    bytes: &[u8],
    sort: ImageFormat,
    name: &str,
) -> Result<(RgbImage, Orientation)> {
    let decoder = sized(file, bytes, sort, name)?;
    Ok((decoded(file, decoder, name)?, orientation(bytes)))
}

/// A decoder that has read the header and found the size within bounds.
fn sized<'a>(
    file: &Path,
    bytes: &'a [u8],
    sort: ImageFormat,
    name: &str,
) -> std::result::Result<impl ImageDecoder + 'a, Problem> {
    let mut reader = ImageReader::with_format(Cursor::new(bytes), sort);
    // The size is judged below in our own words; what a decoder allocates besides the picture
    // stays bounded.
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(LARGEST_PIXELS * 8 + (256 << 20));
    reader.limits(limits);
    let decoder = reader
        .into_decoder()
        .map_err(|e| Problem::Undecodable(undecodable(file, name, &e)))?;
    let (w, h) = decoder.dimensions();
    check_size(file, w, h).map_err(Problem::TooLarge)?;
    let pixels = u64::from(w) * u64::from(h);
    // Another picture of eight bits is made beside what the file codes otherwise
    let beside = match decoder.color_type() {
        ColorType::Rgb8 => 0,
        _ => pixels * 3,
    };
    let what = format!("decoding its {w} x {h} pixels takes more memory");
    let bytes = decoder.total_bytes().saturating_add(beside);
    PICTURE_BYTES
        .hold(bytes, Kind::Photograph, file.display(), what)
        .map_err(Problem::TooLarge)?;
    Ok(decoder)
}

/// Refuses a picture that is too large to be decoded in bounded memory, or has no pixels.
pub(super) fn check_size(file: &Path, w: u32, h: u32) -> Result<()> {
    if w == 0 || h == 0 {
        return Err(fault(
            file,
            "the picture has no pixels",
            "copy it from the camera again",
        ));
    }
    let pixels = u64::from(w) * u64::from(h);
    if pixels > LARGEST_PIXELS || w.max(h) > LARGEST_SIDE {
        let most = LARGEST_PIXELS / 1_000_000;
        return Err(fault(
            file,
            format!(
                "the picture is {w} x {h} pixels ({} megapixels), more than the {most} megapixels \
                 and {LARGEST_SIDE} pixels a side that are opened",
                pixels / 1_000_000
            ),
            "save a smaller copy, or cut out the part with the marks, and give that",
        ));
    }
    Ok(())
}

fn decoded(file: &Path, decoder: impl ImageDecoder, name: &str) -> Result<RgbImage> {
    let picture = DynamicImage::from_decoder(decoder).map_err(|e| undecodable(file, name, &e))?;
    Ok(to_rgb(picture))
}

/// 8-bit RGB; what is transparent shows white, like the paper under a print.
fn to_rgb(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    let clear = picture.into_rgba8();
    RgbImage::from_fn(clear.width(), clear.height(), |x, y| {
        let [r, g, b, a] = clear.get_pixel(x, y).0.map(u32::from);
        image::Rgb([r, g, b].map(|v| ((v * a + 255 * (255 - a) + 127) / 255) as u8))
    })
}

fn upright(picture: RgbImage, orientation: Orientation) -> RgbImage {
    if orientation == Orientation::NoTransforms {
        return picture;
    }
    let mut turned = DynamicImage::ImageRgb8(picture);
    turned.apply_orientation(orientation);
    turned.into_rgb8()
}

/// The orientation that the file's EXIF block states (tag 274 of the first picture); a file
/// without one, or with a broken one, is taken as upright.
fn orientation(bytes: &[u8]) -> Orientation {
    let mut reader = exif::Reader::new();
    reader.continue_on_error(true);
    let block = match reader.read_from_container(&mut Cursor::new(bytes)) {
        Ok(block) => Some(block),
        Err(e) => e.distill_partial_result(|_| {}).ok(),
    };
    block
        .as_ref()
        .and_then(|b| b.get_field(exif::Tag::Orientation, exif::In::PRIMARY))
        .and_then(|f| f.value.get_uint(0))
        .and_then(|v| u8::try_from(v).ok())
        .and_then(Orientation::from_exif)
        .unwrap_or(Orientation::NoTransforms)
}

/// Whether a TIFF is a camera's raw file: DNG's version tag (50706), or a colour filter array or
/// linear raw as what the samples are (tag 262 = 32803 or 34892).
fn is_raw_tiff(bytes: &[u8]) -> bool {
    let Ok(block) = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)) else {
        return false;
    };
    block.fields().any(|f| {
        f.tag == exif::Tag(exif::Context::Tiff, 50706)
            || (f.tag == exif::Tag::PhotometricInterpretation
                && matches!(f.value.get_uint(0), Some(32803 | 34892)))
    })
}

/// Whether a RIFF container is as long as its header says (bytes 4 to 7, little endian, less 8).
fn riff_is_whole(bytes: &[u8]) -> bool {
    bytes
        .get(4..8)
        .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]))
        .is_some_and(|said| bytes.len() as u64 >= u64::from(said) + 8)
}

fn cut_short(file: &Path, name: &str) -> Error {
    fault(
        file,
        format!("the {name} is cut short, so part of the picture is missing"),
        "copy it again from the camera, phone or message it came in",
    )
}

fn torn(file: &Path, at: f64) -> Error {
    fault(
        file,
        format!(
            "the JPEG is damaged: from about {:.0} % of its height on it doesn't hold the picture that it promises",
            at * 100.0
        ),
        "copy it again from the camera, or open it elsewhere, see what is lost, and save it as a new JPEG",
    )
}

/// Why a picture that looked like one couldn't be decoded.
fn undecodable(file: &Path, name: &str, error: &image::ImageError) -> Error {
    let ended = {
        let mut cause: Option<&(dyn std::error::Error + 'static)> = Some(error);
        let mut found = false;
        while let Some(e) = cause {
            found |= e
                .downcast_ref::<std::io::Error>()
                .is_some_and(|io| io.kind() == ErrorKind::UnexpectedEof);
            cause = e.source();
        }
        let words = error.to_string().to_lowercase();
        found
            || ["end of file", "unexpected eof", "exhausted", "truncated"]
                .iter()
                .any(|w| words.contains(w))
    };
    if ended {
        return cut_short(file, name);
    }
    match error {
        image::ImageError::Unsupported(e) => fault(
            file,
            format!("this kind of {name} can't be read ({e})"),
            "save it as an ordinary JPEG or PNG and give that",
        ),
        image::ImageError::Limits(_) => fault(
            file,
            format!("the {name} asks for more memory than is allowed"),
            "save it as an ordinary JPEG and give that",
        ),
        e => fault(
            file,
            format!("the {name} is damaged ({})", words_of(e)),
            "copy it again from the camera, or open it elsewhere and save it as a new JPEG",
        ),
    }
}

/// A decoder's own words, without the name of the format that we say already.
fn words_of(error: &image::ImageError) -> String {
    let words = error.to_string();
    match words.strip_prefix("Format error decoding ") {
        Some(rest) => rest.split_once(": ").map_or(rest, |(_, w)| w).to_string(),
        None => words,
    }
}

/// Why a file that is no picture to us isn't taken.
fn refused(file: &Path, sort: Format) -> Error {
    match sort {
        Format::Empty => fault(
            file,
            "the file is empty (0 bytes)",
            "copy it again from the camera or phone",
        ),
        Format::Text => fault(
            file,
            "it holds writing, not a picture",
            "name a JPEG, PNG, TIFF or WebP file",
        ),
        Format::Pdf => fault(
            file,
            "it is a PDF, not a photograph",
            "save its pages as JPEG or PNG and give those",
        ),
        Format::Raw => fault(
            file,
            "it is a camera's raw file",
            "export it as JPEG or TIFF and give that",
        ),
        Format::Heic => fault(
            file,
            "it is a HEIC photograph, and this build can't open those",
            "build with `--features heic` (Debian: libheif-dev), or export it as JPEG from the \
             phone",
        ),
        Format::Other(name) => fault(
            file,
            format!("it is a {name} file, which isn't opened"),
            "save it as JPEG or PNG and give that",
        ),
        _ => fault(
            file,
            "it is no picture that is known here",
            "give a JPEG, PNG, TIFF or WebP file",
        ),
    }
}

fn hex(digest: &[u8]) -> String {
    digest.iter().map(|b| format!("{b:02x}")).collect()
}
