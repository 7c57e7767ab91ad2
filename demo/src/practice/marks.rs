//! What the tutor puts on a page: a box, a stroke and two sentences.

use units::{Aspect, BoxMm, MarkShape, Mm, PointMm, Reading};

/// A shape, its sentence, and whether it praises.
pub(super) type Sketch = (MarkShape, &'static str, bool);

/// A box round a word, a stroke under a line, and a sentence, as the focus has it.
pub(super) fn on(reading: &Reading, focus: Option<Aspect>, index: usize) -> Vec<Sketch> {
    let words: Vec<BoxMm> = reading.words.iter().map(|word| word.bounds).collect();
    let (Some(first), Some(last)) = (words.get(words.len() / 3), reading.lines.last()) else {
        return Vec::new();
    };
    let grown = BoxMm {
        x0: Mm(first.x0.0 - 0.8),
        y0: Mm(first.y0.0 - 0.8),
        x1: Mm(first.x1.0 + 0.8),
        y1: Mm(first.y1.0 + 0.8),
    };
    let (praise, advice) = sentences(focus, index);
    let under = last.bounds;
    let stroke = (0..=12)
        .map(|step| {
            let t = f64::from(step) / 12.0;
            PointMm {
                x: Mm(under.x0.0 + (under.x1.0 - under.x0.0) * t),
                y: Mm(under.y1.0 + 1.2 + 0.35 * libm::sin(f64::from(step) * 1.1)),
            }
        })
        .collect();
    vec![
        (MarkShape::Box { bounds: grown }, praise, true),
        (MarkShape::Pen { points: stroke }, advice, false),
    ]
}

/// What the tutor says: what went well, then what to look at.
fn sentences(focus: Option<Aspect>, index: usize) -> (&'static str, &'static str) {
    let pairs: [(&str, &str); 2] = match focus {
        Some(Aspect::Baseline) => [
            (
                "Every letter of this word stands on the line.",
                "Here the line begins to climb. Turn the paper a little more and try one line again.",
            ),
            (
                "This word sits down as firmly as the printed line itself.",
                "Look at the feet of the letters on this line: which ones float?",
            ),
        ],
        Some(Aspect::Gaps) => [
            (
                "I can see at once where this word begins and where it ends.",
                "Two words nearly touch on this line. Leave room for one o between them.",
            ),
            (
                "A good, even gap on both sides.",
                "The gaps shrink towards the end of the line. Start the next line a word earlier.",
            ),
        ],
        Some(Aspect::XHeight) => [
            (
                "All the small letters of this word have one height.",
                "Some small letters have grown here. Compare each with the one before.",
            ),
            (
                "Even from the first letter to the last.",
                "Begin this line with a letter of the size that you want, and keep looking back at it.",
            ),
        ],
        Some(Aspect::Slant) => [
            (
                "The downstrokes of this word are parallel.",
                "Lay a ruler along the tall letters of this line: they lean different ways.",
            ),
            (
                "A steady lean all through this word.",
                "Here the lean changes in the middle of the line, where the arm had to move.",
            ),
        ],
        Some(Aspect::Reach) => [
            (
                "The tall letters of this word really are tall.",
                "Stretch h, l and d a little higher on this line, so that they cannot be mistaken.",
            ),
            (
                "Tall and small are easy to tell apart here.",
                "Try this line once more and let only the tall letters touch the upper line.",
            ),
        ],
        _ => [
            (
                "A word that reads at first glance.",
                "Read this line aloud from the paper: which word makes you stop?",
            ),
            (
                "Calm, clear writing here.",
                "Take a short rest before the last line; it was written in a hurry.",
            ),
        ],
    };
    pairs[index / 4 % 2]
}
