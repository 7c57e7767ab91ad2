//! Files that have grown so long that they ask to be looked at again.

use super::source::SourceFile;

/// Lines of code, blank lines, comments and tests not counted.
const LONG: usize = 300;

/// One remark for each long file. A remark is no broken rule: some long files are right.
pub fn remarks(files: &[SourceFile]) -> Vec<String> {
    files
        .iter()
        .filter(|file| file.is_rust() || is_screen(&file.path))
        .filter(|file| !is_generated(file))
        .filter_map(|file| {
            let lines = file
                .product_lines()
                .filter(|(_, line)| !line.trim().is_empty())
                .count();
            (lines > LONG).then(|| format!("{}: {lines} lines of code", file.path))
        })
        .collect()
}

fn is_screen(path: &str) -> bool {
    path.starts_with("ui/src/") && (path.ends_with(".ts") || path.ends_with(".svelte"))
}

/// A generated file says so in its first line.
fn is_generated(file: &SourceFile) -> bool {
    let first = file.text.lines().next().unwrap_or_default();
    first.starts_with("//") && first.contains("do not edit")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_lines_of_code_count() {
        let long = "let x = 1;\n".repeat(LONG + 1);
        let airy = format!(
            "{}{}",
            "\n// why\n".repeat(LONG),
            "let x = 1;\n".repeat(LONG)
        );
        let made = format!("// Made from Rust; do not edit.\n{long}");
        let files = [
            SourceFile::new("ui/src/made.ts", &made),
            SourceFile::new("crates/app/src/long.rs", &long),
            SourceFile::new("crates/app/src/airy.rs", &airy),
        ];
        assert_eq!(
            remarks(&files),
            ["crates/app/src/long.rs: 301 lines of code"]
        );
    }
}
