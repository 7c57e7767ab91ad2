//! Words that two people compare: short, friendly, and hard to mishear or misread.

/// 256 words in alphabetical order, so that one byte picks one. Changing any of them
/// changes what older devices show: the version of the protocol must then change too.
#[rustfmt::skip]
pub(super) const WORDS: [&str; 256] = [
    "acorn", "almond", "anchor", "apple", "apron", "arch", "arrow", "attic", "autumn", "bacon",
    "badge", "bamboo", "banjo", "barn", "basket", "beach", "beaver", "bishop", "blanket", "blossom",
    "bonnet", "border", "bottle", "bramble", "branch", "bread", "bridge", "bronze", "broom",
    "bucket", "buffalo", "button", "cabin", "cactus", "camel", "candle", "canoe", "canvas",
    "carpet", "castle", "cedar", "chalk", "cheese", "cherry", "chess", "chimney", "cinema",
    "circle", "clover", "coast", "cobweb", "coconut", "coffee", "comet", "copper", "coral",
    "cotton", "cousin", "crayon", "cricket", "crown", "crystal", "cuckoo", "cupboard", "curtain",
    "cushion", "daisy", "dancer", "dolphin", "donkey", "dragon", "drawer", "drum", "eagle", "echo",
    "elbow", "elm", "emerald", "engine", "fabric", "falcon", "farmer", "feather", "fence", "fern",
    "fiddle", "finger", "flag", "flask", "flute", "forest", "fossil", "frost", "fudge", "galaxy",
    "garden", "garlic", "giant", "glacier", "glove", "goblet", "gondola", "grape", "guitar",
    "hammer", "harbour", "harp", "hazel", "hedge", "helmet", "heron", "hexagon", "holiday", "honey",
    "hotel", "igloo", "island", "ivory", "jacket", "jaguar", "jasmine", "jelly", "jigsaw", "jungle",
    "kayak", "kennel", "kettle", "kitchen", "koala", "ladder", "lagoon", "lantern", "lavender",
    "lemon", "leopard", "lettuce", "lilac", "lizard", "lobster", "lupin", "magnet", "mango",
    "maple", "marble", "meadow", "mirror", "moth", "mountain", "muffin", "museum", "mustard",
    "napkin", "nectar", "needle", "north", "nutmeg", "oasis", "ocean", "olive", "onion", "opera",
    "orbit", "orchid", "otter", "oven", "owl", "oyster", "paddle", "palace", "panda", "paper",
    "parrot", "pasta", "peanut", "pebble", "pelican", "pencil", "pepper", "piano", "picnic",
    "pigeon", "planet", "plum", "pond", "poppy", "postman", "potato", "prism", "pumpkin", "puppet",
    "purple", "puzzle", "pyramid", "quarry", "quilt", "rabbit", "radish", "rainbow", "raven",
    "ribbon", "river", "robin", "rocket", "salmon", "sandal", "saturn", "school", "scooter", "seal",
    "shadow", "shell", "shower", "silver", "sketch", "spider", "spiral", "sponge", "squirrel",
    "stable", "statue", "summit", "sunset", "swan", "syrup", "tablet", "teapot", "temple",
    "thimble", "thunder", "tiger", "timber", "tomato", "torch", "tractor", "trumpet", "tulip",
    "tunnel", "turnip", "turtle", "umbrella", "valley", "vanilla", "velvet", "village", "violin",
    "walrus", "watch", "whale", "wheel", "willow", "window", "winter", "yellow", "yoghurt", "zebra",
    "zigzag",
];

/// The words for four bytes.
pub(super) fn words(bytes: [u8; 4]) -> [&'static str; 4] {
    bytes.map(|byte| WORDS[usize::from(byte)])
}

#[cfg(test)]
mod tests {
    use super::WORDS;

    /// Levenshtein's distance: letters to put in, take out or change.
    fn distance(a: &str, b: &str) -> usize {
        let mut row: Vec<usize> = (0..=b.len()).collect();
        for (i, x) in a.bytes().enumerate() {
            let mut diagonal = row[0];
            row[0] = i + 1;
            for (j, y) in b.bytes().enumerate() {
                let changed = diagonal + usize::from(x != y);
                diagonal = row[j + 1];
                row[j + 1] = changed.min(row[j] + 1).min(diagonal + 1);
            }
        }
        row[b.len()]
    }

    #[test]
    fn no_two_words_are_one_letter_apart() {
        assert_eq!(distance("kitchen", "kitten"), 2);
        for (i, a) in WORDS.iter().enumerate() {
            for b in &WORDS[i + 1..] {
                assert!(distance(a, b) >= 2, "{a} and {b}");
            }
        }
    }

    #[test]
    fn words_are_short_plain_and_in_order() {
        for word in WORDS {
            assert!((3..=8).contains(&word.len()), "{word}");
            assert!(word.bytes().all(|b| b.is_ascii_lowercase()), "{word}");
        }
        assert!(WORDS.windows(2).all(|pair| pair[0] < pair[1]));
    }
}
