//! Intake: what is opened, how it is turned, and what is said of files that can't be used.

use dorso::Kind;
use dorso::photograph::{self, expand};
use image::{DynamicImage, ImageFormat, Rgb, RgbImage, metadata::Orientation};
use std::fs;
use std::io::Cursor;
use std::path::{Path, PathBuf};

/// A picture that looks different after each turn and mirroring.
fn lopsided() -> RgbImage {
    RgbImage::from_fn(48, 32, |x, y| {
        if x < 16 && y < 8 {
            Rgb([250, 250, 250])
        } else if y < 16 {
            Rgb([200, 40, 40])
        } else {
            Rgb([40, 40, (x * 4) as u8])
        }
    })
}

fn encoded(picture: &DynamicImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

/// A TIFF block with one entry, the orientation.
fn exif(orientation: u16) -> Vec<u8> {
    let mut b = b"MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01".to_vec();
    b.extend(orientation.to_be_bytes());
    b.extend([0, 0, 0, 0, 0, 0]);
    b
}

fn jpeg_with(orientation: u16, picture: &RgbImage) -> Vec<u8> {
    let mut plain = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(&mut plain, 98)
        .encode_image(picture)
        .unwrap();
    let mut block = b"Exif\0\0".to_vec();
    block.extend(exif(orientation));
    let mut all = vec![0xff, 0xd8, 0xff, 0xe1];
    all.extend((block.len() as u16 + 2).to_be_bytes());
    all.extend(block);
    all.extend(&plain[2..]);
    all
}

/// PNG chunk with its checksum, put before the first IDAT.
fn png_with(orientation: u16, picture: &RgbImage) -> Vec<u8> {
    let plain = encoded(&DynamicImage::ImageRgb8(picture.clone()), ImageFormat::Png);
    let data = exif(orientation);
    let mut chunk = b"eXIf".to_vec();
    chunk.extend(&data);
    let mut all = plain[..33].to_vec();
    all.extend((data.len() as u32).to_be_bytes());
    all.extend(&chunk);
    all.extend(crc(&chunk).to_be_bytes());
    all.extend(&plain[33..]);
    all
}

fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |c, &b| {
        (0..8).fold(c ^ u32::from(b), |c, _| {
            if c & 1 == 1 {
                0xedb8_8320 ^ (c >> 1)
            } else {
                c >> 1
            }
        })
    })
}

fn difference(a: &RgbImage, b: &RgbImage) -> f64 {
    assert_eq!(a.dimensions(), b.dimensions());
    let sum: u64 = a
        .iter()
        .zip(b.iter())
        .map(|(p, q)| u64::from(p.abs_diff(*q)))
        .sum();
    sum as f64 / a.len() as f64
}

#[test]
fn every_exif_orientation_gives_the_picture_upright() {
    let upright = lopsided();
    for tag in 1..=8u16 {
        // What a camera would have stored: the turn undone.
        let undo = Orientation::from_exif(match tag {
            6 => 8,
            8 => 6,
            t => t as u8,
        })
        .unwrap();
        let mut stored = DynamicImage::ImageRgb8(upright.clone());
        stored.apply_orientation(undo);
        let stored = stored.into_rgb8();
        for bytes in [jpeg_with(tag, &stored), png_with(tag, &stored)] {
            let opened = photograph::from_bytes(Path::new("back"), &bytes).unwrap();
            let off = difference(&opened.picture, &upright);
            assert!(off < 4.0, "orientation {tag}: off by {off} greys");
        }
    }
    // The EXIF standard's own words for 6: row 0 is the right side, column 0 the top, so the
    // stored picture has to be turned clockwise by a quarter.
    let stored = RgbImage::from_fn(32, 16, |x, _| Rgb([if x < 8 { 255 } else { 0 }; 3]));
    let opened = photograph::from_bytes(Path::new("back"), &jpeg_with(6, &stored)).unwrap();
    assert_eq!((opened.width(), opened.height()), (16, 32));
    assert!(opened.picture.get_pixel(8, 2).0[0] > 200 && opened.picture.get_pixel(8, 29).0[0] < 50);
}

#[test]
fn each_format_depth_and_colour_opens_as_the_same_picture() {
    let picture = lopsided();
    let rgb = DynamicImage::ImageRgb8(picture.clone());
    let cases = [
        ("png", encoded(&rgb, ImageFormat::Png)),
        (
            "png 16 bit",
            encoded(&DynamicImage::ImageRgb16(rgb.to_rgb16()), ImageFormat::Png),
        ),
        ("tiff", encoded(&rgb, ImageFormat::Tiff)),
        (
            "tiff 16 bit",
            encoded(&DynamicImage::ImageRgb16(rgb.to_rgb16()), ImageFormat::Tiff),
        ),
        ("webp", encoded(&rgb, ImageFormat::WebP)),
        ("jpeg", jpeg_with(1, &picture)),
    ];
    for (name, bytes) in cases {
        let opened = photograph::from_bytes(Path::new(name), &bytes).unwrap();
        let off = difference(&opened.picture, &picture);
        assert!(
            off < if name == "jpeg" { 4.0 } else { 0.01 },
            "{name}: off by {off} greys"
        );
    }
    let grey = DynamicImage::ImageLuma16(rgb.to_luma16());
    for format in [ImageFormat::Png, ImageFormat::Tiff] {
        let opened = photograph::from_bytes(Path::new("grey"), &encoded(&grey, format)).unwrap();
        let wanted = DynamicImage::ImageLuma8(rgb.to_luma8()).into_rgb8();
        assert!(difference(&opened.picture, &wanted) < 1.0);
    }
}

#[test]
fn what_is_transparent_shows_as_white() {
    let clear = image::RgbaImage::from_pixel(4, 4, image::Rgba([0, 0, 0, 0]));
    let bytes = encoded(&DynamicImage::ImageRgba8(clear), ImageFormat::Png);
    let opened = photograph::from_bytes(Path::new("clear.png"), &bytes).unwrap();
    assert!(opened.picture.pixels().all(|p| p.0 == [255; 3]));
}

#[test]
fn a_photograph_is_known_by_the_sha_256_of_its_bytes_and_left_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("back.png");
    // The smallest PNG; its digest is what `sha256sum` prints.
    let bytes = b"\x89\x50\x4e\x47\x0d\x0a\x1a\x0a\x00\x00\x00\x0d\x49\x48\x44\x52\x00\x00\x00\
        \x01\x00\x00\x00\x01\x08\x00\x00\x00\x00\x3a\x7e\x9b\x55\x00\x00\x00\x0a\x49\
        \x44\x41\x54\x78\x9c\x63\x68\x00\x00\x00\x82\x00\x81\x77\xcd\x72\xb6\x00\x00\
        \x00\x00\x49\x45\x4e\x44\xae\x42\x60\x82";
    fs::write(&file, bytes).unwrap();
    let opened = photograph::open(&file).unwrap();
    assert_eq!(
        opened.sha256,
        "a1abfd410973b0111c215baa879b9edcd739e601659ba44168269767cc2e9108"
    );
    assert_eq!(fs::read(&file).unwrap(), bytes);
}

/// A PNG header that promises `w` × `h` pixels, with nothing after it but an empty IDAT.
fn png_header(w: u32, h: u32) -> Vec<u8> {
    let mut all = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut chunk = |name: &[u8; 4], data: &[u8]| {
        let mut body = name.to_vec();
        body.extend(data);
        all.extend((data.len() as u32).to_be_bytes());
        all.extend(&body);
        all.extend(crc(&body).to_be_bytes());
    };
    let mut head = w.to_be_bytes().to_vec();
    head.extend(h.to_be_bytes());
    head.extend([8, 2, 0, 0, 0]);
    chunk(b"IHDR", &head);
    chunk(b"IDAT", &[0x78, 0x9c]);
    chunk(b"IEND", &[]);
    all
}

#[test]
fn every_unusable_file_is_told_in_one_sentence_with_the_next_step() {
    let jpeg = jpeg_with(1, &lopsided());
    let png = encoded(&DynamicImage::ImageRgb8(lopsided()), ImageFormat::Png);
    let tiff = encoded(&DynamicImage::ImageRgb8(lopsided()), ImageFormat::Tiff);
    let webp = encoded(&DynamicImage::ImageRgb8(lopsided()), ImageFormat::WebP);
    let mut damaged = png.clone();
    let middle = damaged.len() / 2;
    damaged[middle] ^= 0xff;
    let cases: Vec<(&str, Vec<u8>)> = vec![
        ("empty.jpg", vec![]),
        (
            "letter.jpg",
            b"Dear Sir, the picture is at the framer's.".to_vec(),
        ),
        ("scan.jpg", b"%PDF-1.7\n%\xe2\xe3".to_vec()),
        ("IMG_1.NEF", tiff.clone()),
        ("anim.gif", b"GIF89a\x01\0\x01\0".to_vec()),
        ("noise.jpg", vec![0, 1, 2, 3, 4, 5, 6]),
        ("cut.jpg", jpeg[..jpeg.len() * 2 / 3].to_vec()),
        ("cut.png", png[..png.len() * 2 / 3].to_vec()),
        ("cut.tif", tiff[..tiff.len() * 2 / 3].to_vec()),
        ("cut.webp", webp[..webp.len() * 2 / 3].to_vec()),
        ("damaged.png", damaged),
        ("huge.png", png_header(30_000, 30_000)),
        ("long.png", png_header(100_000, 100)),
    ];
    let mut told = String::new();
    for (name, bytes) in cases {
        let wrong = photograph::from_bytes(Path::new(name), &bytes).unwrap_err();
        assert_eq!(wrong.kind, Kind::Photograph);
        told += &format!("{wrong}\n");
    }
    let folder = tempfile::tempdir().unwrap();
    for path in [folder.path().join("gone.jpg"), folder.path().to_path_buf()] {
        let wrong = photograph::open(&path).unwrap_err().to_string();
        told += &format!(
            "{}\n",
            wrong.replace(&*folder.path().to_string_lossy(), "FOLDER")
        );
    }
    for line in told.lines() {
        assert!(
            line.contains(": ") && line.contains("; ") && line.ends_with('.'),
            "{line}"
        );
    }
    insta::assert_snapshot!(told);
}

#[test]
#[cfg(not(feature = "heic"))]
fn without_the_build_feature_a_heic_photograph_is_told_what_to_do() {
    let head = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic";
    let wrong = photograph::from_bytes(Path::new("IMG_0001.HEIC"), head).unwrap_err();
    insta::assert_snapshot!(wrong.to_string());
}

#[test]
fn a_folder_stands_for_its_pictures_in_natural_order() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let jpeg = jpeg_with(1, &lopsided());
    for name in [
        "back 10.jpg",
        "Back 2.JPG",
        "back 1.jpg",
        "no name",
        ".hidden.jpg",
    ] {
        fs::write(at(name), &jpeg).unwrap();
    }
    fs::write(at("broken.jpg"), b"").unwrap();
    fs::write(at("list.csv"), "a,b").unwrap();
    fs::create_dir(at("inside.jpg")).unwrap();
    let names: Vec<String> = expand(&[folder.path().to_path_buf(), at("gone.jpg")])
        .into_iter()
        .map(|p| {
            p.unwrap()
                .file_name()
                .unwrap()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    assert_eq!(
        names,
        [
            "back 1.jpg",
            "Back 2.JPG",
            "back 10.jpg",
            "broken.jpg",
            "no name",
            "gone.jpg"
        ]
    );
}

#[test]
fn a_folder_without_pictures_is_told_and_the_rest_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("note.txt"), "nothing").unwrap();
    let found = expand(&[folder.path().to_path_buf(), PathBuf::from("other.jpg")]);
    let wrong = found[0].as_ref().unwrap_err();
    assert_eq!(wrong.kind, Kind::Photograph);
    assert!(wrong.to_string().contains("holds no photograph"), "{wrong}");
    assert_eq!(found[1].as_ref().unwrap(), &PathBuf::from("other.jpg"));
}

fn from_outside(name: &str) -> RgbImage {
    let file = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference/pictures")
        .join(name);
    photograph::open(&file).unwrap().picture
}

/// Upper left quarter red, the rest blue, whatever the coding did to the exact colours.
fn assert_red_corner(name: &str, picture: &RgbImage) {
    assert_eq!(picture.dimensions(), (64, 48), "{name}");
    for (x, y, red) in [
        (8, 8, true),
        (24, 16, true),
        (50, 8, false),
        (8, 40, false),
        (50, 40, false),
    ] {
        let [r, _, b] = picture.get_pixel(x, y).0;
        assert_eq!(r > b, red, "{name} at {x}, {y}: red {r}, blue {b}");
        assert!(r.abs_diff(b) > 60, "{name} at {x}, {y}: red {r}, blue {b}");
    }
}

#[test]
fn pictures_of_another_library_open_with_their_colours() {
    for name in ["cmyk.jpg", "cmyk.tif", "progressive.jpg", "palette.png"] {
        assert_red_corner(name, &from_outside(name));
    }
    let bilevel = from_outside("bilevel.tif");
    assert!(bilevel.get_pixel(8, 8).0[0] != bilevel.get_pixel(50, 40).0[0]);
}

/// In HEIF the file's own turning counts; an EXIF orientation beside it is a remark.
#[test]
#[cfg(feature = "heic")]
fn heic_photographs_open_as_the_file_itself_turns_them() {
    assert_red_corner("upright.heic", &from_outside("upright.heic"));
    assert_eq!(from_outside("lying.heic").dimensions(), (48, 64));
}
