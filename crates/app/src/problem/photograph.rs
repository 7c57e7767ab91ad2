//! A photograph, and what is to be measured in it.

use metrics::{DecodeError, PageError};
use units::{Fitness, Problem};

use crate::api::advise;

/// The bytes are no picture that can be read.
pub(crate) fn decode(error: DecodeError) -> Problem {
    const CHOOSE: &str = "Choose a photograph of the page (JPEG, PNG or WebP).";
    match error {
        DecodeError::Heic => Problem::new(
            "photo-heic",
            "This is a HEIC picture, which this program cannot read.",
            "Set the camera to JPEG (most compatible), or send the photograph as JPEG.",
        ),
        DecodeError::OtherFormat => Problem::new(
            "photo-other-format",
            "This kind of picture cannot be read.",
            CHOOSE,
        ),
        DecodeError::NotAnImage => {
            Problem::new("not-a-photo", "This file is not a picture.", CHOOSE)
        }
        DecodeError::TooManyBytes { .. } | DecodeError::TooLarge { .. } => Problem::new(
            "photo-too-large",
            "This picture is larger than any photograph of a page needs to be.",
            "Take the photograph with the ordinary camera setting, up to 60 megapixels.",
        ),
        DecodeError::TooSmall { w, h } => Problem::new(
            "photo-too-small",
            format!("This picture has only {w} × {h} pixels, too few to see letters."),
            "Send the photograph in its original size.",
        ),
        DecodeError::Truncated => Problem::new(
            "photo-cut-short",
            "This file ends before the picture does.",
            "Send or save the photograph again.",
        ),
        DecodeError::Damaged(_) => Problem::new(
            "photo-damaged",
            "This picture is damaged and cannot be read.",
            "Send or save the photograph again, or take another one.",
        ),
    }
}

/// No page is in the picture.
pub(crate) fn page(error: PageError) -> Problem {
    match error {
        PageError::NoPaper => Problem::new(
            "no-page-found",
            "No whole sheet of paper was found in this picture.",
            "Lay the page on a plain, darker surface with all four corners in the picture, and \
             take it again, or show the corners by hand.",
        ),
        PageError::NoSheetShape => Problem::new(
            "no-sheet-shape",
            "These four corners make no sheet of paper.",
            "Put each of them on a corner of the page, going round it.",
        ),
    }
}

/// The person stopped it.
pub(crate) fn stopped() -> Problem {
    Problem::new(
        "stopped",
        "The exchange was stopped.",
        "Nothing is lost. Exchange again when it suits: it goes on where it stopped.",
    )
}

/// A check of the photograph failed.
pub(crate) fn unfit(fitness: &Fitness) -> Problem {
    let advice: Vec<String> = advise(fitness)
        .into_iter()
        .map(|check| check.advice)
        .collect();
    let advice: Vec<&str> = advice
        .iter()
        .map(String::as_str)
        .filter(|advice| !advice.is_empty())
        .collect();
    Problem::new(
        "page-unfit",
        "This page cannot be read well enough.",
        advice.join(" "),
    )
}
