//! stub
use super::plan::Plan;
use crate::geometry::Quad;
use crate::marks::MarkKind;
use crate::readings::Reading;
use image::RgbImage;
#[derive(Debug)]
pub struct Look {}
pub fn look(_p: &RgbImage, _o: &Quad) -> Look {
    Look {}
}
pub struct Shown<'a> {
    pub photo: usize,
    pub outline: Quad,
    pub kind: MarkKind,
    pub reading: &'a Reading,
    pub look: Option<&'a Look>,
}
pub struct Join {
    pub a: usize,
    pub b: usize,
    pub chance: f64,
    pub why: String,
}
pub fn joins(_s: &[Shown<'_>], _p: &Plan) -> Vec<Join> {
    Vec::new()
}
