//! Whether a JPEG is whole: decoders fill what is missing with grey and say nothing.

/// Whether the picture's end marker stands where the segments lead to it. Thumbnails inside
/// application segments have end markers of their own; those are stepped over, and so is
/// anything that phones append after the end.
///
/// * `bytes`: a JPEG file from its first byte (ISO/IEC 10918-1, annex B).
///
/// Cost: one pass over the coded data.
pub(super) fn is_whole(bytes: &[u8]) -> bool {
    let mut at = 2;
    loop {
        // To the next marker: FF, any number of FF as filling, then the code.
        let Some(step) = position(&bytes[at.min(bytes.len())..], 0xff) else {
            return false;
        };
        at += step;
        while bytes.get(at) == Some(&0xff) {
            at += 1;
        }
        let Some(&code) = bytes.get(at) else {
            return false;
        };
        at += 1;
        match code {
            0xd9 => return true,
            // Stuffed zero, restart markers, TEM and a second start stand alone.
            0x00 | 0x01 | 0xd0..=0xd8 => {}
            _ => {
                let (Some(&high), Some(&low)) = (bytes.get(at), bytes.get(at + 1)) else {
                    return false;
                };
                at += usize::from(u16::from_be_bytes([high, low])).max(2);
            }
        }
    }
}

fn position(bytes: &[u8], wanted: u8) -> Option<usize> {
    bytes.iter().position(|&b| b == wanted)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn coded(width: u32) -> Vec<u8> {
        let picture = image::RgbImage::from_fn(width, 40, |x, y| {
            image::Rgb([
                (x * 7 % 256) as u8,
                (y * 13 % 256) as u8,
                (x * y % 256) as u8,
            ])
        });
        let mut bytes = Vec::new();
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 90)
            .encode_image(&picture)
            .unwrap();
        bytes
    }

    #[test]
    fn a_jpeg_cut_anywhere_is_not_whole() {
        let bytes = coded(60);
        assert!(is_whole(&bytes));
        for end in 2..bytes.len() {
            assert!(!is_whole(&bytes[..end]), "cut at {end} of {}", bytes.len());
        }
    }

    #[test]
    fn a_thumbnail_in_a_cut_jpeg_does_not_make_it_whole() {
        let (outer, thumbnail) = (coded(60), coded(8));
        let length = (thumbnail.len() + 2) as u16;
        let mut bytes = vec![0xff, 0xd8, 0xff, 0xe1];
        bytes.extend(length.to_be_bytes());
        bytes.extend(&thumbnail);
        bytes.extend(&outer[2..]);
        assert!(is_whole(&bytes));
        assert!(!is_whole(&bytes[..bytes.len() - 9]));
        bytes.extend(b"appended by a phone");
        assert!(is_whole(&bytes));
    }
}
