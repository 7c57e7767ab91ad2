//! The numbers that stand for the choices of a record in stored bytes. A number once used keeps
//! its meaning for ever; a new choice takes a new number.

use units::{
    Aspect, CorrectionKind, FaultKind, Hand, JoinVerdict, LetterModel, Paper, SetUpItem, TaskKind,
    WhyNot,
};

/// A choice with a stored number.
pub(crate) trait Code: Sized + Copy {
    /// Its number.
    fn code(self) -> u8;
    /// The choice of a number; `None` if this program does not know it.
    fn from_code(code: u8) -> Option<Self>;
}

/// A letter model to start from; any other is kept as its text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Start {
    Unjoined,
    PartJoined,
    Joined,
}

impl Start {
    const ALL: [Self; 3] = [Self::Unjoined, Self::PartJoined, Self::Joined];

    /// The one that a model is; `None` if it is the tutor's own.
    pub(crate) fn of(model: &LetterModel) -> Option<Self> {
        Self::ALL.into_iter().find(|start| start.model() == *model)
    }

    /// The one that stands for a model where its own text cannot be read.
    pub(crate) fn nearest(model: &LetterModel) -> Self {
        let joined = match model.is_joined() {
            true => Self::PartJoined,
            false => Self::Unjoined,
        };
        Self::of(model).unwrap_or(joined)
    }

    pub(crate) fn model(self) -> LetterModel {
        match self {
            Self::Unjoined => LetterModel::unjoined(),
            Self::PartJoined => LetterModel::part_joined(),
            Self::Joined => LetterModel::joined(),
        }
    }
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
    Start { Unjoined = 1, PartJoined = 2, Joined = 3, }
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
        TextDoesNotFit = 9,
        NoJoins = 10,
    }
    FaultKind {
        Open = 1,
        EyeClosed = 2,
        Reversed = 3,
        Apart = 4,
        NoDot = 5,
        NoBar = 6,
        NotTall = 7,
        NotBelow = 8,
        HighBowl = 9,
        ReadsAsOther = 10,
    }
    SetUpItem {
        Feet = 1,
        Seat = 2,
        Table = 3,
        Paper = 4,
        Light = 5,
        Hold = 6,
        OtherHand = 7,
    }
    JoinVerdict { Joined = 1, Missing = 2, WrongHeight = 3, }
    CorrectionKind {
        StruckOnce = 1,
        StruckManyTimes = 2,
        WrittenOver = 3,
        Bracketed = 4,
    }
}
