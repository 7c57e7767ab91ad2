//! Typefaces and their notices.

use serde_json::Value;

use super::Violation;
use super::source::SourceFile;

const ENDINGS: &[&str] = &[".ttf", ".otf", ".woff", ".woff2"];

/// Every committed font file without a notice of the Open Font License beside it, and every font
/// package of a package.json that no notice in its folder names.
pub fn check(files: &[SourceFile]) -> Vec<Violation> {
    let committed = files
        .iter()
        .filter(|file| ENDINGS.iter().any(|ending| file.path.ends_with(ending)))
        .filter(|font| {
            !files
                .iter()
                .any(|file| is_notice(file) && folder(&file.path) == folder(&font.path))
        })
        .map(|file| {
            Violation::new(
                &file.path,
                "no notice of its licence lies beside it. Add its OFL.txt or name it in a \
                 NOTICE.md in the same folder.",
            )
        });
    let packaged = files
        .iter()
        .filter(|file| file.name() == "package.json")
        .flat_map(|file| unnamed_packages(files, file));
    committed.chain(packaged).collect()
}

fn unnamed_packages(files: &[SourceFile], manifest: &SourceFile) -> Vec<Violation> {
    let json: Value = serde_json::from_str(&manifest.text).unwrap_or_default();
    let names = ["dependencies", "devDependencies"]
        .iter()
        .filter_map(|key| json[*key].as_object())
        .flat_map(|packages| packages.keys())
        .filter(|name| name.contains("font"));
    names
        .filter(|name| !is_named(files, folder(&manifest.path), name))
        .map(|name| {
            Violation::new(
                &manifest.path,
                format!(
                    "uses the typeface {name}, which no notice names. Name it with its licence in \
                     {}/NOTICE.md.",
                    folder(&manifest.path)
                ),
            )
        })
        .collect()
}

/// Whether a notice in this folder or below it names the package, or its typeface in plain words.
fn is_named(files: &[SourceFile], within: &str, package: &str) -> bool {
    let family = package
        .rsplit('/')
        .next()
        .unwrap_or(package)
        .replace('-', " ");
    files
        .iter()
        .filter(|file| is_notice(file) && file.path.starts_with(&format!("{within}/")))
        .any(|file| file.text.contains(package) || file.text.to_lowercase().contains(&family))
}

fn is_notice(file: &SourceFile) -> bool {
    let named = ["OFL", "NOTICE", "LICENSE"]
        .iter()
        .any(|start| file.name().starts_with(start));
    named && file.text.to_lowercase().contains("open font license")
}

fn folder(path: &str) -> &str {
    path.rsplit_once('/').map_or("", |(folder, _)| folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOTICE: &str = "These are under the SIL Open Font License 1.1: @fontsource/one\n";

    #[test]
    fn a_font_without_a_notice_is_named() {
        let font = SourceFile::new("ui/src/fonts/a.woff2", "");
        assert_eq!(check(std::slice::from_ref(&font)).len(), 1);
        let notice = SourceFile::new("ui/src/fonts/OFL.txt", NOTICE);
        assert_eq!(check(&[font, notice]), []);
    }

    #[test]
    fn a_font_package_that_no_notice_names_is_named() {
        let manifest = SourceFile::new(
            "demo/fonts/package.json",
            r#"{ "dependencies": { "@fontsource/one": "1", "@fontsource/two": "1",
                "@fontsource/three-font": "1", "other": "1" } }"#,
        );
        let notice = SourceFile::new("demo/fonts/NOTICE.md", NOTICE);
        let plain = SourceFile::new("demo/fonts/kept/OFL.txt", "Three Font. Open Font License");
        let found = check(&[manifest, notice, plain]);
        assert_eq!(found.len(), 1);
        assert!(
            found[0].0.contains("uses the typeface @fontsource/two"),
            "{found:?}"
        );
    }
}
