//! How fast children of a study copied, to stand beside a pupil's pace as context.

use crate::api::{GradePace, PaceStudy};

/// Letters a minute, girls and boys, grades 1 to 9.
const LETTERS_A_MINUTE: [(u16, u16); 9] = [
    (21, 17),
    (36, 32),
    (50, 45),
    (66, 61),
    (75, 71),
    (91, 78),
    (109, 91),
    (118, 112),
    (121, 114),
];

/// The table of Graham and others 1998, taken from a secondary copy.
pub(crate) fn study() -> PaceStudy {
    let grades = (1..).zip(LETTERS_A_MINUTE);
    PaceStudy {
        source: "Graham, Berninger, Weintraub and Schafer 1998, Journal of Educational Research \
                 92:42–52. The figures were taken from a secondary copy of its table."
            .to_owned(),
        grades: grades
            .map(|(grade, (girls, boys))| GradePace { grade, girls, boys })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn older_grades_wrote_faster() {
        let grades = study().grades;
        assert_eq!(grades.len(), 9);
        assert_eq!((grades[0].girls, grades[8].boys), (21, 114));
        assert!(grades.windows(2).all(|pair| pair[0].girls < pair[1].girls));
        assert!(grades.windows(2).all(|pair| pair[0].boys < pair[1].boys));
    }
}
