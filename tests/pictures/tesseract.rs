//! What Tesseract as a reader does with data that is missing or broken, and with pictures without lettering.

use dorso::Kind;
use dorso::readings::LineReader;
use dorso::readings::tesseract::{Tesseract, find_data};
use image::GrayImage;

#[test]
fn missing_language_data_is_told_with_the_package_that_holds_it() {
    let empty = tempfile::tempdir().unwrap();
    let told = find_data(Some(empty.path())).unwrap_err().to_string();
    assert!(told.contains("tesseract-ocr-eng"), "{told}");
    assert!(told.contains(&empty.path().display().to_string()), "{told}");
}

#[test]
fn language_data_that_is_no_language_data_is_an_error_and_no_crash() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("eng.traineddata"), "no data").unwrap();
    let found = find_data(Some(folder.path())).unwrap();
    assert_eq!(
        Tesseract::with_data(found).err().map(|e| e.kind),
        Some(Kind::Recogniser)
    );
}

#[test]
fn a_blank_and_a_tiny_picture_have_no_letters() {
    let reader = Tesseract::new().unwrap();
    for (w, h) in [(1, 1), (7, 300), (400, 200)] {
        let blank = GrayImage::from_pixel(w, h, image::Luma([230]));
        assert_eq!(reader.read(&blank), Ok(None), "{w} x {h}");
    }
}
