//! The numbers that stand for the choices of a record in stored bytes. A number once used keeps
//! its meaning for ever; a new choice takes a new number.

use units::{Aspect, Hand, LetterModel, Paper, TaskKind, WhyNot};

/// A choice with a stored number.
pub(crate) trait Code: Sized + Copy {
    /// Its number.
    fn code(self) -> u8;
    /// The choice of a number; `None` if this program does not know it.
    fn from_code(code: u8) -> Option<Self>;
}

macro_rules! codes {
    ($($choice:ident { $($variant:ident = $code:literal,)* })*) => {$(
        impl Code for $choice {
            fn code(self) -> u8 {
                match self { $(Self::$variant => $code,)* }
            }

            fn from_code(code: u8) -> Option<Self> {
                match code { $($code => Some(Self::$variant),)* _ => None }
            }
        }
    )*};
}

codes! {
    Hand { Left = 1, Right = 2, }
    LetterModel { Unjoined = 1, Joined = 2, }
    Paper { A4 = 1, A5 = 2, UsLetter = 3, }
    TaskKind { Copied = 1, Dictated = 2, OwnWords = 3, }
    Aspect {
        Baseline = 1,
        XHeight = 2,
        Reach = 3,
        Form = 4,
        Joins = 5,
        Gaps = 6,
        Slant = 7,
        Corrections = 8,
    }
    WhyNot {
        NoRuling = 1,
        TooFewLetters = 2,
        TooFewWords = 3,
        LinesTooShort = 4,
        NoO = 5,
        LettersNotApart = 6,
        NeedsText = 7,
        NotTimed = 8,
    }
}
