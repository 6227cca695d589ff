//! Whether a JPEG is whole and sound: decoders fill what is missing with grey, show what was overwritten as
//! something, and say nothing.

use std::ops::Range;
use zune_jpeg::JpegDecoder;
use zune_jpeg::zune_core::bytestream::ZCursor;
use zune_jpeg::zune_core::options::DecoderOptions;

/// Whether the picture's end marker stands where the segments lead to it. Thumbnails inside
/// application segments have end markers of their own; those are stepped over, and so is
/// anything that phones append after the end.
///
/// * `bytes`: a JPEG file from its first byte (ISO/IEC 10918-1, annex B).
///
/// Cost: one pass over the coded data.
pub(super) fn is_whole(bytes: &[u8]) -> bool {
    segments(bytes, 2).any(|(code, _)| code == END)
}

/// Where the coded data of a JPEG goes wrong, as a share of its height; `None`: each row of blocks is there, and
/// nothing but them. Overwritten data and a false size are seen so; decoders show something all the same.
///
/// Of a sequential JPEG each code is followed (ISO/IEC 10918-1, annex F); a progressive one is decoded strictly.
///
/// * `bytes`: a JPEG that [`is_whole`].
pub(super) fn torn(bytes: &[u8]) -> Option<f64> {
    match Frame::read(bytes) {
        Some(Ok(frame)) => frame.follow(bytes),
        Some(Err(Progressive)) => {
            let options = DecoderOptions::default()
                .set_strict_mode(true)
                .set_max_width(usize::MAX)
                .set_max_height(usize::MAX);
            let mut decoder = JpegDecoder::new_with_options(ZCursor::new(bytes), options);
            decoder.decode().is_err().then_some(0.0)
        }
        None => Some(0.0),
    }
}

struct Progressive;

/// A code table: for each length the first code behind its last one, and the place of its values.
#[derive(Clone, Default)]
struct Codes {
    /// By the next 16 bits: length of the code (0: none) and its value.
    by_bits: Vec<(u8, u8)>,
}

impl Codes {
    /// * `told`: sixteen counts and the values (annex C).
    fn new(told: &[u8]) -> Option<(Codes, usize)> {
        let (counts, values) = told.split_at_checked(16)?;
        let mut by_bits = vec![(0, 0); 1 << 16];
        let (mut code, mut used) = (0usize, 0usize);
        for (length, count) in (1..=16).zip(counts) {
            for _ in 0..*count {
                let from = code << (16 - length);
                let to = from + (1 << (16 - length));
                by_bits
                    .get_mut(from..to)?
                    .fill((length as u8, *values.get(used)?));
                used += 1;
                code += 1;
            }
            code <<= 1;
        }
        Some((Codes { by_bits }, 16 + used))
    }
}

/// What has to be known to follow the codes of a sequential JPEG.
#[derive(Default)]
struct Frame {
    width: usize,
    height: usize,
    /// Of each component: its name, and how many blocks it has in a unit, across and down.
    parts: Vec<(u8, usize, usize)>,
    /// Codes of the first coefficient and of the others.
    codes: [[Codes; 4]; 2],
    /// Units between restarts; 0: none.
    restart: usize,
}

impl Frame {
    /// Reads up to the frame; `None` where that isn't as it should be.
    fn read(bytes: &[u8]) -> Option<Result<Frame, Progressive>> {
        let (_, segment) = segments(bytes, 2).find(|(code, _)| matches!(code, 0xc0..=0xc2))?;
        if bytes.get(segment.start - 3) == Some(&0xc2) {
            return Some(Err(Progressive));
        }
        let told = bytes.get(segment)?;
        let two =
            |at: usize| Some(usize::from(*told.get(at)?) << 8 | usize::from(*told.get(at + 1)?));
        let mut frame = Frame {
            height: two(1)?,
            width: two(3)?,
            ..Frame::default()
        };
        for i in 0..usize::from(*told.get(5)?) {
            let [name, share, _] = told.get(6 + 3 * i..9 + 3 * i)?.try_into().ok()?;
            let share: u8 = share;
            frame
                .parts
                .push((name, usize::from(share >> 4), usize::from(share & 15)));
        }
        let sound = frame
            .parts
            .iter()
            .all(|p| (1..=4).contains(&p.1) && (1..=4).contains(&p.2));
        (sound && frame.width > 0 && frame.height > 0 && !frame.parts.is_empty())
            .then_some(Ok(frame))
    }

    /// Follows the codes of every scan to the end of the picture.
    fn follow(mut self, bytes: &[u8]) -> Option<f64> {
        let mut at = 2;
        let mut seen = 0;
        while let Some((code, segment)) = segments(bytes, at).next() {
            let told = bytes.get(segment.clone()).unwrap_or_default();
            at = segment.end;
            match code {
                END => return Some(1.0),
                0xc4 if self.tables(told).is_none() => return Some(0.0),
                0xc4 => {}
                0xdd => {
                    self.restart = told
                        .get(..2)
                        .map_or(0, |r| usize::from(r[0]) << 8 | usize::from(r[1]))
                }
                0xda => match self.scan(told, bytes, at) {
                    Ok((end, parts)) => {
                        at = end;
                        seen += parts;
                    }
                    Err(share) => return Some(share),
                },
                _ => {}
            }
            if seen >= self.parts.len() {
                return None;
            }
        }
        Some(1.0)
    }

    fn tables(&mut self, mut told: &[u8]) -> Option<()> {
        while let [which, rest @ ..] = told {
            let (codes, used) = Codes::new(rest)?;
            *self
                .codes
                .get_mut(usize::from(which >> 4))?
                .get_mut(usize::from(which & 15))? = codes;
            told = rest.get(used..)?;
        }
        Some(())
    }

    /// One scan: where it ends and how many components it held, or the share of the height at which it goes wrong.
    fn scan(&self, told: &[u8], bytes: &[u8], from: usize) -> Result<(usize, usize), f64> {
        let count = usize::from(*told.first().ok_or(0.0)?);
        let mut blocks = Vec::new();
        let most =
            |f: fn(&(u8, usize, usize)) -> usize| self.parts.iter().map(f).max().unwrap_or(1);
        let (wide, tall) = (most(|p| p.1), most(|p| p.2));
        let (mut across, mut down) = (
            self.width.div_ceil(8 * wide),
            self.height.div_ceil(8 * tall),
        );
        for i in 0..count {
            let (name, tables) = (
                told.get(1 + 2 * i).ok_or(0.0)?,
                told.get(2 + 2 * i).ok_or(0.0)?,
            );
            let part = self.parts.iter().find(|p| p.0 == *name).ok_or(0.0)?;
            let first = self.codes[0].get(usize::from(tables >> 4)).ok_or(0.0)?;
            let others = self.codes[1].get(usize::from(tables & 15)).ok_or(0.0)?;
            // A component alone is coded block by block, without those that only fill up units
            let each = if count == 1 { 1 } else { part.1 * part.2 };
            if count == 1 {
                across = (self.width * part.1).div_ceil(8 * wide);
                down = (self.height * part.2).div_ceil(8 * tall);
            }
            blocks.extend(std::iter::repeat_n((first, others), each));
        }
        let mut bits = Bits::new(bytes, from);
        for unit in 0..across * down {
            if self.restart > 0 && unit > 0 && unit % self.restart == 0 {
                bits.restart(unit / self.restart - 1)
                    .ok_or(unit as f64 / (across * down) as f64)?;
            }
            for (first, others) in &blocks {
                bits.block(first, others)
                    .ok_or(unit as f64 / (across * down) as f64)?;
            }
        }
        bits.end().map(|end| (end, count)).ok_or(1.0)
    }
}

/// The marker at which the picture ends.
const END: u8 = 0xd9;

/// The segments from a byte on: marker and what lies in it; the end of the picture, with nothing in it, is the last.
/// Coded data is stepped over; markers may have any number of FF before them as filling.
fn segments(bytes: &[u8], from: usize) -> impl Iterator<Item = (u8, Range<usize>)> {
    let (mut at, mut ended) = (from, false);
    std::iter::from_fn(move || {
        while !ended {
            at += position(bytes.get(at..)?, 0xff)?;
            while bytes.get(at) == Some(&0xff) {
                at += 1;
            }
            let code = *bytes.get(at)?;
            at += 1;
            match code {
                END => {
                    ended = true;
                    return Some((code, at..at));
                }
                // Stuffed zero, restart markers, TEM and a second start stand alone.
                0x00 | 0x01 | 0xd0..=0xd8 => {}
                _ => {
                    let length =
                        usize::from(*bytes.get(at)?) << 8 | usize::from(*bytes.get(at + 1)?);
                    let segment = at + 2..at + length.max(2);
                    at = segment.end;
                    return Some((code, segment));
                }
            }
        }
        None
    })
}

/// The bits of coded data, up to the next marker.
struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    held: u64,
    count: u32,
    /// Bits taken that no byte gave.
    lacking: u32,
}

/// Filling bytes between coded data and the next marker that some cameras write.
const FILLING: usize = 64;

impl<'a> Bits<'a> {
    fn new(bytes: &'a [u8], at: usize) -> Self {
        Bits {
            bytes,
            at,
            held: 0,
            count: 0,
            lacking: 0,
        }
    }

    fn fill(&mut self) {
        while self.count <= 48 {
            let byte = match (self.bytes.get(self.at), self.bytes.get(self.at + 1)) {
                (Some(0xff), Some(0)) => {
                    self.at += 2;
                    0xff
                }
                (Some(0xff), _) | (None, _) => {
                    self.lacking += 8;
                    0
                }
                (Some(byte), _) => {
                    self.at += 1;
                    *byte
                }
            };
            self.held = self.held << 8 | u64::from(byte);
            self.count += 8;
        }
    }

    /// The next code's value, and its bits gone.
    fn code(&mut self, codes: &Codes) -> Option<u8> {
        self.fill();
        let (length, value) = *codes
            .by_bits
            .get((self.held >> (self.count - 16)) as usize & 0xffff)?;
        self.skip(u32::from(length))?;
        (length > 0).then_some(value)
    }

    fn skip(&mut self, bits: u32) -> Option<()> {
        self.count = self.count.checked_sub(bits)?;
        (self.count >= self.lacking).then_some(())
    }

    /// Follows one block of 64 coefficients.
    fn block(&mut self, first: &Codes, others: &Codes) -> Option<()> {
        let size = self.code(first)?;
        if size > 15 {
            return None;
        }
        self.skip(u32::from(size))?;
        let mut k = 1;
        while k < 64 {
            let value = self.code(others)?;
            let (zeros, size) = (value >> 4, value & 15);
            match (zeros, size) {
                (15, 0) => k += 16,
                (0, 0) => break,
                (_, 0) => return None,
                _ => k += usize::from(zeros) + 1,
            }
            self.skip(u32::from(size))?;
        }
        (k <= 64).then_some(())
    }

    /// Goes on behind the restart marker of that number.
    fn restart(&mut self, number: usize) -> Option<()> {
        let at = self.end()?;
        let marker = [0xff, 0xd0 + (number % 8) as u8];
        (self.bytes.get(at..at + 2)? == marker).then_some(())?;
        *self = Bits::new(self.bytes, at + 2);
        Some(())
    }

    /// Where the next marker stands, if no more than filling lies before it.
    fn end(&self) -> Option<usize> {
        let unused = (self.count.saturating_sub(self.lacking) / 8) as usize;
        let mut at = self.at;
        while self
            .bytes
            .get(at + 1)
            .is_some_and(|next| self.bytes[at] != 0xff || *next == 0 || *next == 0xff)
        {
            at += 1;
        }
        (at - self.at + unused <= FILLING).then_some(at)
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

    #[test]
    fn a_sound_jpeg_is_not_torn_and_a_false_size_is_seen() {
        for width in [8, 60, 333] {
            let bytes = coded(width);
            assert_eq!(torn(&bytes), None);
            let frame = (2..bytes.len()).find(|i| bytes[*i..].starts_with(&[0xff, 0xc0]));
            let height = frame.expect("a frame") + 6;
            for other in [16, 24, 48, 240] {
                let mut bent = bytes.clone();
                bent[height] = other;
                assert!(
                    is_whole(&bent) && torn(&bent).is_some(),
                    "{width} wide, {other} high"
                );
            }
        }
    }

    #[test]
    fn data_that_were_overwritten_are_seen() {
        let bytes = coded(333);
        let coded = bytes.len() / 2;
        let mut seen = 0;
        for (n, value) in (0..100).map(|n| (n, (n * 37 % 251) as u8)) {
            let mut bent = bytes.clone();
            let at = coded + n * 13;
            bent[at..at + 64].iter_mut().enumerate().for_each(|(i, b)| {
                *b = value.wrapping_mul(i as u8 | 1).wrapping_add(i as u8);
            });
            seen += usize::from(torn(&bent).is_some() || !is_whole(&bent));
        }
        assert!(seen >= 97, "{seen} of 100");
    }
}
