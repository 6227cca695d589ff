//! What a file is, by its first bytes.

use std::path::Path;

/// What a file holds, as far as its first bytes tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Format {
    /// JPEG (ISO/IEC 10918).
    Jpeg,
    /// PNG (ISO/IEC 15948).
    Png,
    /// TIFF 6.0, also BigTIFF.
    Tiff,
    /// WebP.
    Webp,
    /// HEIC or HEIF (ISO/IEC 23008-12), as many phones make them.
    Heic,
    /// A camera's raw file.
    Raw,
    /// PDF (ISO 32000).
    Pdf,
    /// A picture of another sort, by its name.
    Other(&'static str),
    /// Writing, not a picture.
    Text,
    /// Nothing at all.
    Empty,
    /// Not recognised.
    Unknown,
}

/// Number of first bytes that [`sniff`] needs.
pub const ENOUGH: usize = 512;

/// Extensions of raw files that are built like TIFF, so that only the name tells them apart.
const RAW_EXTENSIONS: [&str; 14] = [
    "cr2", "cr3", "nef", "nrw", "arw", "srf", "sr2", "dng", "pef", "orf", "rw2", "raf", "srw",
    "3fr",
];

/// Extensions that promise a picture which [`super::open`] can read.
const PICTURE_EXTENSIONS: [&str; 10] = [
    "jpg", "jpeg", "jpe", "jfif", "png", "tif", "tiff", "webp", "heic", "heif",
];

/// What a file is, by its first `ENOUGH` bytes (fewer if it is shorter). Its name is looked at
/// only to tell a camera's raw file from a TIFF, since most raw files are TIFFs inside.
///
/// ```
/// use dorso_seeing::photograph::{sniff, Format};
/// use std::path::Path;
/// assert_eq!(sniff(Path::new("back.jpg"), b"Dear Sir, ..."), Format::Text);
/// assert_eq!(sniff(Path::new("back.txt"), b"\xff\xd8\xff\xe0"), Format::Jpeg);
/// ```
pub fn sniff(file: &Path, head: &[u8]) -> Format {
    let raw_name = has_extension(file, &RAW_EXTENSIONS);
    let at = |offset: usize, wanted: &[u8]| head.get(offset..offset + wanted.len()) == Some(wanted);
    if head.is_empty() {
        return Format::Empty;
    }
    if at(0, b"\xff\xd8\xff") {
        return Format::Jpeg;
    }
    if at(0, b"\x89PNG\r\n\x1a\n") {
        return Format::Png;
    }
    if at(0, b"RIFF") && at(8, b"WEBP") {
        return Format::Webp;
    }
    let tiff = at(0, b"II*\0") || at(0, b"MM\0*") || at(0, b"II+\0") || at(0, b"MM\0+");
    if tiff {
        return if raw_name || at(8, b"CR\x02") {
            Format::Raw
        } else {
            Format::Tiff
        };
    }
    if at(0, b"IIRO") || at(0, b"IIRS") || at(0, b"MMOR") || at(0, b"IIU\0") {
        return Format::Raw;
    }
    if at(0, b"FUJIFILMCCD-RAW") {
        return Format::Raw;
    }
    if at(4, b"ftyp") {
        return media_brand(head);
    }
    // A PDF may begin with a few stray bytes.
    let start = &head[..head.len().min(ENOUGH)];
    if start.windows(5).any(|w| w == b"%PDF-") {
        return Format::Pdf;
    }
    if at(0, b"GIF8") {
        return Format::Other("GIF");
    }
    if at(0, b"BM") && at(6, b"\0\0\0\0") {
        return Format::Other("BMP");
    }
    if at(0, b"\0\0\0\x0cJXL ") || at(0, b"\xff\x0a") {
        return Format::Other("JPEG XL");
    }
    if at(0, b"\0\0\0\x0cjP  ") || at(0, b"\xff\x4f\xff\x51") {
        return Format::Other("JPEG 2000");
    }
    if at(0, b"8BPS") {
        return Format::Other("layered (PSD)");
    }
    let written = std::str::from_utf8(start)
        .map(|t| !t.chars().any(|c| c.is_control() && !c.is_whitespace()))
        .or_else(|e| {
            // A cut in the middle of a character isn't a fault of the text.
            if e.error_len().is_none() && e.valid_up_to() > 0 {
                Ok(true)
            } else {
                Err(e)
            }
        })
        .unwrap_or(false);
    if written {
        Format::Text
    } else {
        Format::Unknown
    }
}

/// The sort of an ISO base media file (`ftyp` box): major brand first, then compatible brands.
fn media_brand(head: &[u8]) -> Format {
    let length = head
        .get(..4)
        .map_or(0, |b| u32::from_be_bytes([b[0], b[1], b[2], b[3]]) as usize);
    let end = length.clamp(12, 256).min(head.len());
    let brands: Vec<&[u8]> = head.get(8..end).unwrap_or(&[]).chunks_exact(4).collect();
    let has = |wanted: &[&[u8; 4]]| brands.iter().any(|b| wanted.iter().any(|w| &w[..] == *b));
    if has(&[b"crx "]) {
        Format::Raw
    } else if has(&[b"avif", b"avis"]) {
        Format::Other("AVIF")
    } else if has(&[
        b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1",
    ]) {
        Format::Heic
    } else {
        Format::Other("video")
    }
}

fn has_extension(file: &Path, known: &[&str]) -> bool {
    file.extension()
        .and_then(|e| e.to_str())
        .is_some_and(|e| known.contains(&e.to_ascii_lowercase().as_str()))
}

/// Whether the file's name promises a picture that can be opened.
pub(super) fn named_as_picture(file: &Path) -> bool {
    has_extension(file, &PICTURE_EXTENSIONS)
}

impl Format {
    /// Whether [`super::open`] takes it (HEIC also where this build then says what is missing).
    pub fn is_picture(self) -> bool {
        matches!(
            self,
            Format::Jpeg | Format::Png | Format::Tiff | Format::Webp | Format::Heic
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn content_decides_and_the_name_only_parts_raw_from_tiff() {
        let sort = |name: &str, head: &[u8]| sniff(Path::new(name), head);
        assert_eq!(sort("a.png", b"\xff\xd8\xff\xe1rest"), Format::Jpeg);
        assert_eq!(sort("a", b"II*\0\x08\0\0\0"), Format::Tiff);
        assert_eq!(sort("a.NEF", b"MM\0*\0\0\0\x08"), Format::Raw);
        assert_eq!(sort("a.tif", b"II*\0\x10\0\0\0CR\x02\0"), Format::Raw);
        assert_eq!(sort("a.jpg", b"%PDF-1.7"), Format::Pdf);
        assert_eq!(
            sort("a.jpg", b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic"),
            Format::Heic
        );
        assert_eq!(
            sort("a.heic", b"\0\0\0\x18ftypavif\0\0\0\0avifmif1"),
            Format::Other("AVIF")
        );
        assert_eq!(sort("a.jpg", "Ruban\u{e9}".as_bytes()), Format::Text);
        assert_eq!(sort("a.jpg", b"\0\x01\x02\x03"), Format::Unknown);
        assert_eq!(sort("a.jpg", b""), Format::Empty);
    }
}
