//! The four pupils, who do not exist, and how their hands change over the year.

use units::{
    Aspect, CorrectionKind, Hand as WritingHand, LetterClass, LetterModel, Mm, Paper, Profile,
    Ratio, Ruling, SchoolYear, TaskKind,
};

use crate::font::Shapes;
use crate::hand::Hand;
use crate::ink::Tool;
use crate::rng::Rng;

/// School weeks in the practice.
pub(super) const WEEKS: usize = 38;

/// A pupil's year.
pub(super) struct Course {
    /// What the practice keeps of the pupil.
    pub profile: Profile,
    /// Whether the family's device holds this pupil; the tutor adds the others' pages.
    pub family: bool,
    /// The first week with a page, counted from 0.
    pub first_week: usize,
    /// What the pupil writes with.
    pub tool: Tool,
    /// Texts on one page.
    pub texts: usize,
    /// Focus periods: the week each begins, its aspect, and what to try.
    pub focuses: &'static [(usize, Aspect, &'static str)],
    /// Seed of the pupil's chance.
    pub seed: u64,
    hand: Hand,
    /// What the year does to the hand: `t` runs from 0 to 1.
    change: fn(&mut Hand, f64),
    /// How far pages differ for no reason; 1 is usual.
    noise: f64,
}

impl Course {
    /// The hand on one page. A page in the pupil's own words is a little less careful.
    pub fn hand(&self, week: usize, kind: TaskKind) -> Hand {
        let mut hand = self.hand.clone();
        let span = (WEEKS - 1 - self.first_week).max(1) as f64;
        (self.change)(&mut hand, (week - self.first_week) as f64 / span);
        let mut rng = Rng::new(self.seed + week as u64 * 31, "day");
        let mut day = |size: f64| 1.0 + size * self.noise * rng.normal();
        hand.x_height *= day(0.035);
        hand.x_height_cv *= day(0.12);
        hand.bob *= day(0.14);
        hand.letter_gap *= day(0.09);
        hand.word_gap *= day(0.1);
        hand.slant_sd *= day(0.1);
        hand.slant += (day(1.6) - 1.0).clamp(-6.0, 6.0);
        hand.drift += day(0.22) - 1.0;
        if kind == TaskKind::OwnWords {
            hand.bob *= 1.12;
            hand.corrections *= 1.5;
        }
        hand
    }
}

/// The kind of a week's task: mostly copied, sometimes dictated, now and then own words.
pub(super) fn kind(week: usize) -> TaskKind {
    match week % 6 {
        2 | 4 => TaskKind::Dictated,
        5 => TaskKind::OwnWords,
        _ => TaskKind::Copied,
    }
}

fn profile(
    name: &str,
    year: u8,
    hand: WritingHand,
    model: LetterModel,
    paper: Paper,
    pitch: f64,
) -> Profile {
    Profile {
        name: name.to_owned(),
        year: SchoolYear(year),
        hand,
        model,
        paper,
        ruling: Ruling::Lines { pitch: Mm(pitch) },
    }
}

/// All pupils. The first one's hand gets better in what was worked on.
pub(super) fn courses() -> Vec<Course> {
    vec![better(), not_better(), noise_only(), newcomer()]
}

fn towards(from: f64, to: f64, t: f64) -> f64 {
    from + (to - from) * t.clamp(0.0, 1.0)
}

fn better() -> Course {
    Course {
        profile: profile(
            "Juno",
            4,
            WritingHand::Left,
            LetterModel::unjoined(),
            Paper::A5,
            10.0,
        ),
        family: true,
        first_week: 0,
        tool: Tool::PENCIL,
        texts: 1,
        focuses: &[
            (
                3,
                Aspect::Baseline,
                "Let every letter land on the line, like feet on a floor. Slow down at the end of \
                 the line: that is where yours begin to float.",
            ),
            (
                16,
                Aspect::Gaps,
                "Before each new word, think of one of your own o's standing in the gap.",
            ),
            (
                28,
                Aspect::XHeight,
                "Choose one small letter on the first line and make all the others its size.",
            ),
        ],
        seed: 1_001,
        hand: Hand {
            slant: -5.0,
            slant_sd: 3.0,
            corrections: 0.02,
            kinds: vec![CorrectionKind::StruckOnce, CorrectionKind::WrittenOver],
            ..Hand::even(Shapes::Open, 2.9)
        },
        change: |hand, t| {
            hand.drift = towards(1.3, 0.1, t / 0.6);
            hand.drift_sd = towards(0.45, 0.15, t / 0.6);
            hand.bob = towards(0.42, 0.13, t / 0.7);
            hand.word_gap = towards(0.7, 1.35, (t - 0.3) / 0.45);
            hand.word_gap_sd = towards(0.32, 0.18, (t - 0.35) / 0.45);
            hand.x_height_cv = towards(0.15, 0.06, (t - 0.5) / 0.4);
        },
        noise: 0.8,
    }
}

fn not_better() -> Course {
    Course {
        profile: profile(
            "Kit",
            2,
            WritingHand::Right,
            LetterModel::unjoined(),
            Paper::A5,
            12.0,
        ),
        family: true,
        first_week: 0,
        tool: Tool::HARD_PENCIL,
        texts: 1,
        focuses: &[(
            6,
            Aspect::Gaps,
            "Put one finger of the other hand flat after each word before you begin the next.",
        )],
        seed: 2_002,
        hand: Hand {
            width: 0.85,
            slant: 3.0,
            slant_sd: 4.0,
            bob: 0.35,
            x_height_cv: 0.11,
            drift: -0.5,
            drift_sd: 0.3,
            corrections: 0.02,
            kinds: vec![CorrectionKind::StruckManyTimes],
            ..Hand::even(Shapes::Wide, 3.5)
        },
        // The words creep together unevenly, whatever was tried; all else stays as it is.
        change: |hand, t| {
            hand.word_gap = towards(1.35, 0.65, t);
            hand.word_gap_sd = towards(0.16, 0.26, t);
        },
        noise: 0.8,
    }
}

fn noise_only() -> Course {
    Course {
        profile: profile(
            "Marlow",
            5,
            WritingHand::Right,
            LetterModel::part_joined(),
            Paper::A4,
            8.0,
        ),
        family: false,
        first_week: 0,
        tool: Tool::BLUE_PEN,
        texts: 2,
        focuses: &[(
            10,
            Aspect::Slant,
            "Rule three light pencil lines down the page, all leaning the same way, and let the \
             downstrokes follow them.",
        )],
        seed: 3_003,
        hand: Hand {
            letter_gap: 0.0,
            letter_gap_sd: 0.05,
            ascender: 0.8,
            descender: 0.7,
            word_gap: 1.15,
            bob: 0.18,
            slant: 4.0,
            slant_sd: 3.5,
            corrections: 0.015,
            kinds: vec![CorrectionKind::StruckOnce],
            ..Hand::even(Shapes::Looped, 2.4)
        },
        change: |_, _| {},
        noise: 1.7,
    }
}

/// The letters of an invented school: they stand apart, and tall ones and tails reach a little
/// less far than in most models.
fn meadow_print() -> LetterModel {
    let mut model = LetterModel::unjoined();
    model.name = "Meadow End print".to_owned();
    for form in &mut model.letters {
        match form.letter {
            't' => form.above = Ratio(1.3),
            _ if form.class == LetterClass::Tall => form.above = Ratio(1.6),
            _ if form.class == LetterClass::Tail => form.below = Ratio(0.65),
            _ => {}
        }
    }
    model
}

fn newcomer() -> Course {
    Course {
        profile: profile(
            "Tamsin",
            3,
            WritingHand::Left,
            meadow_print(),
            Paper::A5,
            8.0,
        ),
        family: false,
        first_week: WEEKS - 9,
        tool: Tool::PENCIL,
        texts: 1,
        focuses: &[(
            WEEKS - 6,
            Aspect::Reach,
            "Tall letters stretch up until they nearly touch the line above.",
        )],
        seed: 4_004,
        hand: Hand {
            slant: 7.0,
            slant_sd: 4.0,
            bob: 0.22,
            ascender: 0.7,
            descender: 0.75,
            x_height_cv: 0.1,
            corrections: 0.03,
            kinds: vec![CorrectionKind::Bracketed, CorrectionKind::StruckOnce],
            ..Hand::even(Shapes::Round, 2.4)
        },
        change: |hand, t| hand.ascender = towards(0.7, 0.85, t),
        noise: 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_letters_of_every_pupil_are_ones_that_a_school_could_teach() {
        let models: Vec<LetterModel> = courses()
            .into_iter()
            .map(|course| course.profile.model)
            .collect();
        for model in &models {
            assert_eq!(model.check(), Ok(()), "{}", model.name);
        }
        let start = LetterModel::to_start_from();
        assert!(models.contains(&start[1]), "one is part joined");
        let own = models.iter().filter(|model| !start.contains(model));
        assert_eq!(own.count(), 1);
    }
}
