//! The committed test pages are what the program draws, to the byte.

use std::fs;
use std::path::Path;

use demo::{Fonts, manifest, sets};

#[test]
fn the_committed_pages_come_out_again() {
    let fonts = Fonts::load(&Fonts::folder()).expect("run `npm ci` in demo/fonts");
    let made = std::env::temp_dir().join(format!("pothook-test-pages-{}", std::process::id()));
    manifest::write(&fonts, &sets::test_pages(), &made, |_, _| {}).expect("has room");
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/pages");
    for page in sets::test_pages() {
        for ending in ["jpg", "truth.json"] {
            let name = format!("{}.{ending}", page.id);
            let bytes = |folder: &Path| fs::read(folder.join(&name)).expect("the file is there");
            assert!(bytes(&made) == bytes(&kept), "{name} has changed");
        }
    }
    let manifest = |folder: &Path| fs::read(folder.join("manifest.json")).expect("is there");
    assert!(
        manifest(&made) == manifest(&kept),
        "the manifest has changed"
    );
    fs::remove_dir_all(made).expect("can be taken away again");
}
