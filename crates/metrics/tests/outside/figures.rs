//! What general-purpose libraries said of the pictures in `tests/reference/images/`, as its
//! `images.json` has it, and those pictures.

use std::fs;
use std::path::PathBuf;

use image::{GrayImage, ImageBuffer, Luma, RgbImage};
use serde::Deserialize;

#[derive(Deserialize)]
pub struct Figures {
    pub sauvola: Vec<Windows>,
    pub otsu: Thresholds,
    pub labels: Counts,
    pub letters: Stroke,
    pub bars: Vec<Bar>,
    pub homographies: Vec<Mapping>,
    pub warp: Warp,
}

#[derive(Deserialize)]
pub struct Windows {
    pub samples: Vec<Window>,
}

#[derive(Deserialize)]
pub struct Window {
    pub mean: f64,
    pub deviation: f64,
    pub skimage: f64,
}

#[derive(Deserialize)]
pub struct Thresholds {
    pub two_greys: Threshold,
    pub page: Threshold,
    pub hills: Threshold,
}

#[derive(Deserialize)]
pub struct Threshold {
    pub skimage: u8,
    pub opencv: u8,
}

#[derive(Deserialize)]
pub struct Counts {
    pub marks_by_corners: u32,
    pub marks_by_sides: u32,
    pub identity_by_corners: u32,
    pub identity_by_sides: u32,
}

#[derive(Deserialize)]
pub struct Stroke {
    pub of_skeleton: f64,
}

#[derive(Deserialize)]
pub struct Bar {
    pub lean: f64,
    pub width: f64,
    pub regression: f64,
    pub hough_of_stroke: f64,
    pub hough_of_skeleton: f64,
    pub edt_max: f64,
    pub of_skeleton: f64,
}

#[derive(Deserialize)]
pub struct Mapping {
    pub from: [(f64, f64); 4],
    pub to: [(f64, f64); 4],
    pub opencv: [f64; 9],
    pub skimage: [f64; 9],
}

#[derive(Deserialize)]
pub struct Warp {
    pub to_photo: [f64; 9],
    pub width_mm: f64,
    pub height_mm: f64,
    pub px_per_mm: u32,
}

fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../tests/reference/images")
}

pub fn figures() -> Figures {
    let text = fs::read_to_string(folder().join("images.json")).expect("the figures are there");
    serde_json::from_str(&text).expect("the figures fit their schema")
}

pub fn grey(name: &str) -> GrayImage {
    let path = folder().join(format!("{name}.png"));
    image::open(path).expect("the picture is there").to_luma8()
}

pub fn colour(name: &str) -> RgbImage {
    let path = folder().join(format!("{name}.png"));
    image::open(path).expect("the picture is there").to_rgb8()
}

pub fn numbers(name: &str) -> ImageBuffer<Luma<u16>, Vec<u16>> {
    let path = folder().join(format!("{name}.png"));
    image::open(path).expect("the picture is there").to_luma16()
}
