//! Names that say nothing: whatever carries one has a better name waiting.

use super::Violation;
use super::source::SourceFile;

const EMPTY: &[&str] = &["Manager", "Service", "Helper", "Util", "Processor"];

/// Words after which Rust and TypeScript name a type.
const DECLARERS: &[&str] = &[
    "struct",
    "enum",
    "trait",
    "type",
    "union",
    "class",
    "interface",
];

/// Every file and type with such a name.
pub fn check(files: &[SourceFile]) -> Vec<Violation> {
    files
        .iter()
        .filter(|file| is_code(&file.path))
        .flat_map(|file| {
            let stem = file.name().split('.').next().unwrap_or_default();
            let named_file = empty_word(stem).map(|word| {
                Violation::new(
                    &file.path,
                    format!("a file called …{word}… says nothing. Name it after what it holds."),
                )
            });
            named_file.into_iter().chain(types(file))
        })
        .collect()
}

fn is_code(path: &str) -> bool {
    [".rs", ".ts", ".svelte", ".mjs", ".js"]
        .iter()
        .any(|ending| path.ends_with(ending))
}

fn types(file: &SourceFile) -> Vec<Violation> {
    let mut broken = Vec::new();
    for (number, line) in file.product_lines() {
        let words: Vec<&str> = line
            .split(|c: char| !c.is_alphanumeric() && c != '_')
            .filter(|word| !word.is_empty())
            .collect();
        for pair in words.windows(2) {
            let capital = pair[1].starts_with(|c: char| c.is_uppercase());
            if !DECLARERS.contains(&pair[0]) || !capital {
                continue;
            }
            if let Some(word) = empty_word(pair[1]) {
                broken.push(Violation::new(
                    format!("{}:{number}", file.path),
                    format!(
                        "{}: {word} says nothing. Name the type after what it is.",
                        pair[1]
                    ),
                ));
            }
        }
    }
    broken
}

/// The empty word in a name written `LikeThis`, `like_this` or `like-this`.
fn empty_word(name: &str) -> Option<&'static str> {
    let capitals = EMPTY.iter().find(|word| name.contains(**word));
    let parts = || name.split(['_', '-']);
    let lower = || {
        EMPTY.iter().find(|word| {
            let word = word.to_lowercase();
            parts().any(|part| part == word || part == format!("{word}s"))
        })
    };
    capitals.or_else(lower).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empty_names_are_found_in_files_and_types() {
        let files = [
            SourceFile::new("crates/app/src/utils.rs", "//! Odds and ends.\n"),
            SourceFile::new(
                "crates/app/src/pages.rs",
                "//! Pages.\npub struct PageManager;\n",
            ),
            SourceFile::new("ui/src/bridge/http.ts", "export class CallService {}\n"),
        ];
        let found: Vec<String> = check(&files)
            .into_iter()
            .map(|violation| violation.0)
            .collect();
        assert_eq!(found.len(), 3, "{found:?}");
        assert!(found[0].starts_with("crates/app/src/utils.rs: a file called …Util…"));
        assert!(found[1].starts_with("crates/app/src/pages.rs:2: PageManager: Manager"));
        assert!(found[2].starts_with("ui/src/bridge/http.ts:1: CallService"));
    }

    #[test]
    fn the_words_may_be_used_in_sentences_and_functions() {
        let file = SourceFile::new(
            "crates/app/src/pages.rs",
            "//! Pages.\nfn service() { let helper = 1; } // struct PageManager\n",
        );
        assert_eq!(check(&[file]), []);
    }
}
