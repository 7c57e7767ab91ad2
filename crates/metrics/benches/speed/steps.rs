//! Single steps beside OpenCV and scikit-image: the same pixels, the same parameters, in turn.

use std::cell::RefCell;
use std::path::Path;

use metrics::elementary::{Labels, Sauvola, binarise, label, warp};
use serde_json::{Value, json};

use crate::clock::{in_turn, seconds};
use crate::peers::Peers;
use crate::photos::{self, Photograph, USUAL};
use crate::table::{Limit, Table};

/// As the engine uses it at ten pixels a millimetre.
const SAUVOLA: Sauvola = Sauvola {
    window: 61,
    k: 0.2,
    range: 128.0,
};

/// Adds two rows for each step.
pub fn compare(photos: &[Photograph], python: &Path, table: &mut Table) -> Result<(), String> {
    let photo = &photos[USUAL];
    let picture = metrics::decode(&photo.jpeg).expect("a photograph");
    let page = metrics::find_page(&picture, &photo.expect).expect("a sheet");
    let mesh = page
        .frame
        .to_photo
        .as_ref()
        .expect("cut out of a photograph");
    let mask = binarise(&page.grey, SAUVOLA);
    let given = json!({
        "photo": raw("photo", picture.rgb.as_raw(), picture.rgb.dimensions())?,
        "grey": raw("grey", page.grey.as_raw(), page.grey.dimensions())?,
        "mask": raw("mask", mask.as_raw(), mask.dimensions())?,
        "corners": mesh.corners(),
        "window": SAUVOLA.window,
        "k": SAUVOLA.k,
        "range": SAUVOLA.range,
    });
    let mut peers = Peers::start(python, &given)?;
    agree(count(&label(&mask)), &mut peers)?;
    let size = (page.frame.width.0, page.frame.height.0);
    let density = page.frame.px_per_mm as u32;
    let peers = RefCell::new(peers);
    let steps: [(&str, &mut dyn FnMut() -> f64); 3] = [
        ("sauvola", &mut || seconds(|| binarise(&page.grey, SAUVOLA))),
        ("label", &mut || seconds(|| label(&mask))),
        ("warp", &mut || {
            seconds(|| warp(&picture.rgb, mesh, size, density))
        }),
    ];
    for (step, ours) in steps {
        let mut opencv = || peers.borrow_mut().seconds("opencv", step);
        let mut scikit = || peers.borrow_mut().seconds("scikit", step);
        let times = in_turn(&mut [
            (step, ours),
            ("OpenCV", &mut opencv),
            ("skimage", &mut scikit),
        ]);
        let against = |name: &str, time: f64| format!("{name}: {:.1} ms", 1e3 * time);
        let limits = [Limit::goal(2.0), Limit::goal(1.0)];
        for ((name, time), limit) in ["OpenCV", "scikit-image"]
            .iter()
            .zip(&times[1..])
            .zip(limits)
        {
            table.ratio(step, times[0], &against(name, *time), *time, limit);
        }
    }
    Ok(())
}

/// Pixels as a file for another program: its name, width and height.
fn raw(name: &str, pixels: &[u8], (width, height): (u32, u32)) -> Result<Value, String> {
    let file = photos::folder()?.join(format!("{name}.raw"));
    std::fs::write(&file, pixels).map_err(|e| format!("{}: {e}", file.display()))?;
    Ok(json!({ "file": file, "width": width, "height": height }))
}

fn count(labels: &Labels) -> usize {
    labels.pixels().map(|label| label[0]).max().unwrap_or(0) as usize
}

/// The same mask has the same number of pieces everywhere, or the comparison is none.
fn agree(pieces: usize, peers: &mut Peers) -> Result<(), String> {
    for peer in ["opencv", "scikit"] {
        let counted = peers.pieces(peer);
        if counted != pieces {
            return Err(format!(
                "{peer} counts {counted} pieces, this program {pieces}"
            ));
        }
    }
    Ok(())
}
