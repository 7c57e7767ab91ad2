//! The operations that measuring is built from, against general-purpose libraries: scikit-image 0.26,
//! OpenCV 5.0 and SciPy 1.17, on pictures that `tests/reference/images.py` draws. What those libraries
//! say is in `tests/reference/images/`; no Python is needed here. `images.py --check` computes it anew.
//!
//! Not checked, because the engine has no such step: a distance transform and a skeleton. The only
//! thing that it would want of them is the width of a stroke, and that is held against theirs. Nor
//! does it use a Hough transform: lean is a regression, and is shown to come nearer to what was drawn.

use image::{GrayImage, Luma, RgbImage};
use imageproc::region_labelling::{Connectivity, connected_components};
use metrics::Homography;
use metrics::elementary::{self, Sauvola};
use units::Mesh;

use crate::figures::{Bar, colour, figures, grey, numbers};

fn sauvola(window: u32) -> Sauvola {
    Sauvola {
        window,
        k: 0.2,
        range: 128.0,
    }
}

/// Places at least `border` from the edge where two masks differ.
fn differing(a: &GrayImage, b: &GrayImage, border: u32) -> Vec<(u32, u32)> {
    assert_eq!(a.dimensions(), b.dimensions());
    let (w, h) = a.dimensions();
    (border..h - border)
        .flat_map(|y| (border..w - border).map(move |x| (x, y)))
        .filter(|&(x, y)| (a.get_pixel(x, y)[0] > 0) != (b.get_pixel(x, y)[0] > 0))
        .collect()
}

#[test]
fn sauvola_limits_are_the_published_ones() {
    // Sauvola & Pietikäinen 2000, Pattern Recognition 33:225-236, formula (5). A flat 200 gives
    // 200 · (1 − 0.2) = 160; the second value recomputed with scikit-image 0.26.
    let how = sauvola(25);
    assert!((how.threshold(200.0, 0.0) - 160.0).abs() < 1e-9);
    assert!((how.threshold(110.0, 73.484_69) - 100.630_181_49).abs() < 1e-6);
    for windows in figures().sauvola {
        assert!(windows.samples.len() >= 20, "{}", windows.samples.len());
        for w in windows.samples {
            let ours = how.threshold(w.mean, w.deviation);
            assert!((ours - w.skimage).abs() < 1e-7, "{ours}, {}", w.skimage);
        }
    }
}

#[test]
fn the_ink_is_what_scikit_image_finds_pixel_for_pixel() {
    // Within half a window of the edge, windows are cut off here and mirrored there: inside it no
    // pixel may differ, and by windows cut off in numpy none at all.
    let page = grey("page");
    for window in [25, 61] {
        let ours = elementary::binarise(&page, sauvola(window));
        let inked = ours.pixels().filter(|p| p[0] > 0).count();
        assert!(inked > 4_000, "{inked}");
        let theirs = grey(&format!("page-sauvola{window}-skimage"));
        assert_eq!(differing(&ours, &theirs, window / 2), []);
        assert_eq!(
            differing(&ours, &grey(&format!("page-sauvola{window}-cut")), 0),
            []
        );
    }
}

#[test]
fn the_ink_is_what_opencv_finds_but_for_its_rounding() {
    // OpenCV rounds each limit to a whole grey: a pixel may be ink there that lies up to half a
    // level above the limit here. Seen: under 0.7 % of pixels, all of them inked there only.
    let page = grey("page");
    for window in [25, 61] {
        let ours = elementary::binarise(&page, sauvola(window));
        let theirs = grey(&format!("page-sauvola{window}-opencv"));
        let differing = differing(&ours, &theirs, window / 2);
        let share = differing.len() as f64 / f64::from(page.width() * page.height());
        println!("window {window}: {:.2} % differ", 100.0 * share);
        assert!(share < 0.01, "{share}");
        for (x, y) in differing {
            assert_eq!(ours.get_pixel(x, y)[0], 0, "at {x}, {y}");
        }
    }
}

#[test]
fn otsu_parts_where_both_libraries_part() {
    // Otsu 1979, IEEE Trans. SMC 9:62-66; values recomputed with scikit-image 0.26 and OpenCV 5.0.
    let block = GrayImage::from_fn(100, 100, |x, y| {
        Luma([if x < 20 && y < 20 { 50 } else { 200 }])
    });
    assert_eq!(elementary::otsu(&block), Some(50));
    let expected = figures().otsu;
    for (picture, expected) in [
        (block, expected.two_greys),
        (grey("page"), expected.page),
        (grey("hills"), expected.hills),
    ] {
        assert_eq!(elementary::otsu(&picture), Some(expected.skimage));
        assert_eq!(elementary::otsu(&picture), Some(expected.opencv));
    }
}

#[test]
fn pieces_are_numbered_as_scikit_image_numbers_them() {
    // Pieces hold together by corners: 8-connectivity.
    let labels = elementary::label(&grey("marks"));
    let expected = numbers("marks-labels");
    let counts = figures().labels;
    assert_eq!(
        labels.pixels().map(|p| p[0]).max(),
        Some(counts.marks_by_corners)
    );
    for (ours, theirs) in labels.pixels().zip(expected.pixels()) {
        assert_eq!(ours[0], u32::from(theirs[0]));
    }
}

#[test]
fn a_diagonal_is_one_piece_by_corners_and_four_by_sides() {
    // A 4 × 4 identity; recomputed with scikit-image 0.26. Sides only is how the white inside a ring
    // is told from the white around it; that is imageproc's labelling, called as here.
    let counts = figures().labels;
    let identity = GrayImage::from_fn(4, 4, |x, y| Luma([if x == y { 255 } else { 0 }]));
    let by_corners = elementary::label(&identity);
    assert_eq!(
        (counts.identity_by_corners, counts.identity_by_sides),
        (1, 4)
    );
    assert_eq!(by_corners.pixels().map(|p| p[0]).max(), Some(1));
    for (mask, expected) in [(identity, 4), (grey("marks"), counts.marks_by_sides)] {
        let by_sides = connected_components(&mask, Connectivity::Four, Luma([0]));
        assert_eq!(by_sides.pixels().map(|p| p[0]).max(), Some(expected));
    }
}

/// The tile of each bar, its ink, and what is said of it.
fn bars() -> Vec<(GrayImage, GrayImage, Bar)> {
    let all = grey("bars");
    figures()
        .bars
        .into_iter()
        .zip(0..)
        .map(|(bar, k)| {
            let tile = image::imageops::crop_imm(&all, k % 8 * 120, k / 8 * 120, 120, 120);
            let tile = tile.to_image();
            // Half covered and more is ink, as for the libraries.
            let mask = GrayImage::from_fn(120, 120, |x, y| {
                Luma([if tile.get_pixel(x, y)[0] < 150 {
                    255
                } else {
                    0
                }])
            });
            (tile, mask, bar)
        })
        .collect()
}

#[test]
fn a_stroke_is_as_wide_as_its_distance_transform_says() {
    // A bar of 7 pixels: SciPy's distance transform is 4 on its middle, 2 · 4 − 1 = 7.
    for (_, mask, bar) in bars() {
        let ours = elementary::stroke_width(&mask).expect("there is ink");
        println!(
            "lean {:5.1}, {:2} px: ours {ours:.2}, 2 EDT − 1 {:.2} at most, {:.2} on the skeleton",
            bar.lean,
            bar.width,
            2.0 * bar.edt_max - 1.0,
            bar.of_skeleton,
        );
        if (bar.lean, bar.width) == (0.0, 7.0) {
            assert_eq!((bar.edt_max, ours), (4.0, 7.0));
        }
        if bar.lean == 0.0 {
            assert_eq!(ours, bar.width);
            assert_eq!(ours, bar.of_skeleton);
        }
        // Ours is the run along the row, which widens by 1 / cos of the lean. On the skeleton of an
        // even stroke, beside its true middle, 2 EDT − 1 is up to 1.7 pixels too small.
        let lean = bar.lean.to_radians().cos();
        assert!(
            (ours - bar.width / lean).abs() <= 1.0,
            "{ours} for {}",
            bar.width
        );
        let across = ours * lean;
        assert!(
            (across - bar.of_skeleton).abs() <= 1.8,
            "{across} for {}",
            bar.width
        );
    }
}

#[test]
fn letters_are_as_thick_as_their_skeleton_says() {
    let line = grey("letters");
    let mask = GrayImage::from_fn(line.width(), line.height(), |x, y| {
        Luma([if line.get_pixel(x, y)[0] < 128 {
            255
        } else {
            0
        }])
    });
    let ours = elementary::stroke_width(&mask).expect("there is ink");
    let theirs = figures().letters.of_skeleton;
    println!("letters: ours {ours:.2} px, 2 EDT − 1 on the skeleton {theirs:.2} px");
    assert!((ours - theirs).abs() <= 2.0, "{ours} and {theirs}");
}

#[test]
fn lean_is_read_as_the_regression_reads_it() {
    // The oracle is the regression of column on row over a stroke's ink, −atan(cov / var), computed
    // with numpy; it is right to 0.005° on bars of known lean. Hough on the thick stroke is off by up
    // to 6°, on the skeleton by up to 0.8°.
    for (tile, mask, bar) in bars() {
        assert!(
            (bar.regression - bar.lean).abs() < 0.005,
            "{}",
            bar.regression
        );
        let ours = elementary::lean(&tile, &mask).expect("there is ink");
        let soft = imageproc::filter::gaussian_blur_f32(&tile, 0.8);
        let ours_soft = elementary::lean(&soft, &mask).expect("there is ink");
        println!(
            "lean {:5.1}, {:2} px: ours {:+.3}, blurred {:+.3}, regression {:+.3}, Hough {:+.2}, on \
             the skeleton {:+.2}",
            bar.lean,
            bar.width,
            ours - bar.lean,
            ours_soft - bar.lean,
            bar.regression - bar.lean,
            bar.hough_of_stroke - bar.lean,
            bar.hough_of_skeleton - bar.lean,
        );
        // An edge within one pixel is sharper than any camera sees it; with a camera's blur the
        // engine's way is as exact as the regression over all ink.
        assert!(
            (ours - bar.regression).abs() <= 0.05,
            "{ours} for {}",
            bar.lean
        );
        assert!(
            (ours_soft - bar.regression).abs() <= 0.02,
            "{ours_soft} for {}",
            bar.lean
        );
    }
}

#[test]
fn a_homography_is_the_one_that_both_libraries_find() {
    // The first is a worked example: (100, 80), (900, 120), (880, 1300), (60, 1250) to a sheet of
    // 2100 × 2970, recomputed with OpenCV 5.0 (getPerspectiveTransform).
    let all = figures().homographies;
    assert_eq!(all.len(), 24);
    for (found, expected) in all[0].opencv.iter().zip([
        2.646954,
        0.0904942,
        -271.934936,
        -0.130233,
        2.604665,
        -195.349893,
        8.29202e-6,
        2.186937e-5,
        1.0,
    ]) {
        assert!(
            (found - expected).abs() <= 1e-6 * f64::max(1.0, expected),
            "{found}"
        );
    }
    for mapping in all {
        let ours = Homography::from_points(mapping.from, mapping.to).expect("four corners");
        for theirs in [mapping.opencv, mapping.skimage].map(Homography) {
            // Between and beyond the corners both take a point to one place, to a millionth of the
            // sheet's size.
            for (x, y) in [
                (300.0, 200.0),
                (1750.0, 1750.0),
                (2500.0, 900.0),
                (640.0, 3100.0),
            ] {
                let (a, b) = (ours.apply(x, y), theirs.apply(x, y));
                let size = mapping.to[2].0;
                let off = (a.0 - b.0).hypot(a.1 - b.1) / size;
                assert!(
                    off < 1e-6 * (1.0 + a.0.hypot(a.1) / size),
                    "{off} at {x}, {y}"
                );
            }
        }
    }
}

/// Mean and largest difference of two pictures, in grey levels.
fn apart(a: &RgbImage, b: &RgbImage) -> (f64, u8) {
    assert_eq!(a.dimensions(), b.dimensions());
    let each = a
        .as_raw()
        .iter()
        .zip(b.as_raw())
        .map(|(a, b)| a.abs_diff(*b));
    let most = each.clone().max().unwrap_or(0);
    let sum: u64 = each.map(u64::from).sum();
    (sum as f64 / a.as_raw().len() as f64, most)
}

#[test]
fn a_sheet_is_cut_out_as_scikit_image_cuts_it() {
    let warp = figures().warp;
    let photo = colour("photo");
    let size = (warp.width_mm, warp.height_mm);
    // Every millimetre a node: between nodes the engine's mapping runs straight.
    let mesh = |moved: f64| {
        let sheet = Homography(warp.to_photo);
        let (columns, rows) = (warp.width_mm as u32 + 1, warp.height_mm as u32 + 1);
        Mesh::new(columns, rows, |u, v| {
            let (x, y) = sheet.apply(u * warp.width_mm, v * warp.height_mm);
            (x + moved, y)
        })
    };
    let ours = elementary::warp(&photo, &mesh(0.0), size, warp.px_per_mm);
    // Cubic convolution with Keys's a = −1/2 (Keys 1981, IEEE Trans. ASSP 29:1153-1160) on both
    // sides: no more than the rounding of a level.
    let (mean, most) = apart(&ours, &colour("photo-cubic"));
    println!("cubic: mean {mean:.3}, at most {most}");
    assert!(most <= 1 && mean < 0.03, "mean {mean}, at most {most}");
    // Bilinear samplers soften edges: they agree on where things are, not on how sharp they are.
    for name in ["photo-linear-skimage", "photo-linear-opencv"] {
        let (mean, most) = apart(&ours, &colour(name));
        println!("{name}: mean {mean:.3}, at most {most}");
        assert!(mean < 1.0 && most < 40, "mean {mean}, at most {most}");
    }
    // Half a pixel off, and the difference is many times as large: the places are right.
    let bilinear = colour("photo-linear-opencv");
    let elsewhere = elementary::warp(&photo, &mesh(0.5), size, warp.px_per_mm);
    assert!(apart(&elsewhere, &bilinear).0 > 2.0 * apart(&ours, &bilinear).0);
}
