//! What people do on a device, and what they then rely on.

use app::App;
use app::api::*;
use app::units::{
    Amendment, AskedFor, Aspect, BoxMm, Day, MarkShape, MeasureName, Mm, PageId, PointMm, Problem,
    PupilId, Role, Target, TaskKind,
};

use crate::dice::Dice;
use crate::invented;
use crate::seen;

/// The first of the days that are given to what is invented, one each: 1 January 2025.
const FIRST_DAY: i32 = 20_089;

/// One thing that a person does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    Page,
    LargePage,
    Text,
    Minutes,
    Mark,
    Remark,
    Unmark,
    Amend,
    TakeBack,
    Look,
    Name,
    StartFocus,
    EndFocus,
    Reply,
    Practised,
    Unpractised,
    Target,
    DropTarget,
    Note,
    Ask,
    PutAside,
    DeleteBy,
    Task,
    TakeOut,
    Forget,
    Shorten,
    Erase,
}

impl Doing {
    /// What a tutor's device does, each as often as it stands here.
    pub const TUTORS: [Self; 34] = [
        Self::Page,
        Self::Page,
        Self::LargePage,
        Self::Text,
        Self::Text,
        Self::Minutes,
        Self::Mark,
        Self::Mark,
        Self::Mark,
        Self::Remark,
        Self::Remark,
        Self::Unmark,
        Self::Amend,
        Self::TakeBack,
        Self::Look,
        Self::Name,
        Self::Name,
        Self::StartFocus,
        Self::StartFocus,
        Self::EndFocus,
        Self::Reply,
        Self::Practised,
        Self::Unpractised,
        Self::Target,
        Self::DropTarget,
        Self::Note,
        Self::PutAside,
        Self::DeleteBy,
        Self::Task,
        Self::TakeOut,
        Self::Forget,
        Self::Forget,
        Self::Shorten,
        Self::Shorten,
    ];
    /// What a parent's device does.
    pub const PARENTS: [Self; 14] = [
        Self::Page,
        Self::Page,
        Self::Page,
        Self::LargePage,
        Self::Text,
        Self::Text,
        Self::Minutes,
        Self::Reply,
        Self::Reply,
        Self::Practised,
        Self::Practised,
        Self::Unpractised,
        Self::Ask,
        Self::TakeOut,
    ];
}

/// Something that holds from now on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Claim {
    /// A fact of [`Seen`] is there.
    There { fact: String, on: Option<PageId> },
    /// A fact is there no longer.
    Gone { fact: String },
    /// A value of [`Seen`] was written by somebody who saw another.
    Wrote {
        key: String,
        value: Option<String>,
        saw: Option<String>,
        on: Option<PageId>,
    },
    /// A page is shown no longer.
    TookOut(PageId),
    /// A page is nowhere any more.
    Forgot(PageId),
    /// All of the pupil is gone.
    Erased,
}

/// What a person did, and how it went.
#[derive(Debug)]
pub struct Deed {
    pub done: Result<(), Problem>,
    pub claims: Vec<Claim>,
    /// The page that it was about.
    pub on: Option<PageId>,
    /// Words that stand on a page and must go with it.
    pub words: Vec<(PageId, String)>,
}

impl Deed {
    fn of<T>(done: Result<T, Problem>, claims: impl FnOnce(&T) -> Vec<Claim>) -> Self {
        let claims = done.as_ref().map_or_else(|_| Vec::new(), claims);
        Self {
            done: done.map(drop),
            claims,
            on: None,
            words: Vec::new(),
        }
    }

    /// One that may have come about though it failed: what it claims is known before.
    fn perhaps<T>(done: Result<T, Problem>, claims: Vec<Claim>) -> Self {
        Self {
            done: done.map(drop),
            claims,
            on: None,
            words: Vec::new(),
        }
    }

    fn with(mut self, page: PageId, words: &str) -> Self {
        self.words.push((page, words.to_owned()));
        self
    }
}

/// Does something on a device about a pupil; `None` where there is nothing to do it with. Numbers are
/// never used twice in a schedule, so that every word, day and value is written once.
pub fn perform(
    app: &App,
    pupil: PupilId,
    doing: Doing,
    number: u32,
    dice: &mut Dice,
) -> Option<Deed> {
    let view = app.pupil(OfPupil { pupil }).ok()?;
    let pages: Vec<PageId> = view.pages.iter().map(|row| row.page).collect();
    let page = dice.pick(&pages).copied();
    let mut deed = done(app, &view, page, doing, number, dice)?;
    let added = deed.claims.iter().find_map(|claim| match claim {
        Claim::There { on, .. } => *on,
        _ => None,
    });
    deed.on = added.or(page);
    Some(deed)
}

fn done(
    app: &App,
    view: &PupilView,
    page: Option<PageId>,
    doing: Doing,
    number: u32,
    dice: &mut Dice,
) -> Option<Deed> {
    let pupil = view.pupil;
    let day = Day(FIRST_DAY + number as i32);
    Some(match doing {
        Doing::Page => add_page(app, pupil, number, 2_000, dice),
        Doing::LargePage => add_page(app, pupil, number, 300_000, dice),
        Doing::Text => {
            let page = page?;
            let saw = seen::text(app, pupil, page)?;
            let words = format!("the wren sang {number} times");
            let text = vec![words.clone()];
            let done = app.set_text(SetText { pupil, page, text });
            let key = format!("text {page}");
            let claims = wrote(key, Some(words.clone()), saw, Some(page));
            Deed::perhaps(unless_not_here(done)?, claims).with(page, &words)
        }
        Doing::Minutes => {
            let page = page?;
            let saw = seen::minutes(app, pupil, page)?;
            let minutes = u16::try_from(1 + number % 240).ok();
            let done = app.set_minutes(SetMinutes {
                pupil,
                page,
                minutes,
            });
            let value = minutes.map(|minutes| minutes.to_string());
            let claims = wrote(format!("minutes {page}"), value, saw, Some(page));
            Deed::perhaps(unless_not_here(done)?, claims)
        }
        Doing::Mark => add_mark(app, pupil, page?, number),
        Doing::Remark => {
            let page = page?;
            let mark = *dice.pick(&seen::marks(app, pupil, page)?)?;
            let saw = seen::words_of(app, pupil, page, mark)?;
            let words = format!("see where number {number} stands");
            let (shape, praise) = (point(), false);
            let done = app.change_mark(ChangeMark {
                pupil,
                mark,
                shape,
                words: words.clone(),
                aspect: None,
                praise,
            });
            let key = format!("words of mark {mark}");
            let claims = wrote(key, Some(words.clone()), Some(saw), Some(page));
            Deed::perhaps(done, claims).with(page, &words)
        }
        Doing::Unmark => {
            let mark = *dice.pick(&seen::marks(app, pupil, page?)?)?;
            let done = app.remove_mark(RemoveMark { pupil, mark });
            let fact = format!("mark {mark}");
            Deed::perhaps(done, vec![Claim::Gone { fact }])
        }
        Doing::Amend => {
            let page = page?;
            let what = Amendment::Correction {
                at: place(number),
                kind: None,
            };
            let done = unless_not_here(app.amend(Amend { pupil, page, what }))?;
            Deed::of(done, |made| {
                let fact = format!("amendment {}", made.amendment);
                vec![Claim::There {
                    fact,
                    on: Some(page),
                }]
            })
        }
        Doing::TakeBack => {
            let page = page?;
            let amendment = *dice.pick(&seen::amendments(app, pupil, page)?)?;
            let done = app.take_back(TakeBack {
                pupil,
                page,
                amendment,
            });
            let fact = format!("amendment {amendment}");
            Deed::perhaps(unless_not_here(done)?, vec![Claim::Gone { fact }])
        }
        Doing::Look => {
            let page = page?;
            let fact = format!("looked {page}");
            Deed::of(app.look(OfPage { pupil, page }), |_| {
                vec![Claim::There {
                    fact,
                    on: Some(page),
                }]
            })
        }
        Doing::Name => {
            let mut profile = view.profile.clone()?;
            let saw = Some(std::mem::replace(
                &mut profile.name,
                format!("Wren {number}"),
            ));
            let value = Some(profile.name.clone());
            let done = app.change_pupil(ChangePupil { pupil, profile });
            Deed::perhaps(done, wrote("name".to_owned(), value, saw, None))
        }
        Doing::StartFocus => {
            let open = view.focuses.iter().filter(|focus| focus.to.is_none());
            let ended = open.flat_map(|focus| {
                let to = focus.from.max(Day(day.0 - 1)).to_string();
                wrote(format!("end {}", focus.id), Some(to), None, None)
            });
            let mut claims: Vec<Claim> = ended.collect();
            let done = app.start_focus(StartFocus {
                pupil,
                aspect: *dice.pick(&Aspect::ALL)?,
                from: Some(day),
                try_this: String::new(),
            });
            if let Ok(made) = &done {
                let fact = format!("focus {}", made.focus);
                claims.push(Claim::There { fact, on: None });
            }
            Deed::perhaps(done, claims)
        }
        Doing::EndFocus => {
            let focus = dice.pick(&view.focuses)?;
            let saw = focus.to.map(|to| to.to_string());
            let done = app.end_focus(EndFocus {
                pupil,
                focus: focus.id,
                on: Some(day),
            });
            let key = format!("end {}", focus.id);
            Deed::perhaps(done, wrote(key, Some(day.to_string()), saw, None))
        }
        Doing::Reply => {
            let page = page?;
            let marks = seen::marks(app, pupil, page)?;
            let words = format!("we tried it {number} times");
            let reply = AddReply {
                pupil,
                page,
                mark: dice.pick(&marks).copied(),
                words: words.clone(),
            };
            let fact = format!("reply {words}");
            let claims = |_: &Nothing| {
                vec![Claim::There {
                    fact,
                    on: Some(page),
                }]
            };
            Deed::of(app.add_reply(reply), claims).with(page, &words)
        }
        Doing::Practised => {
            let practised = AddPractised {
                pupil,
                day: Some(day),
                minutes: 10,
                task: None,
            };
            let fact = format!("practised {day}");
            Deed::of(app.add_practised(practised), |_| {
                vec![Claim::There { fact, on: None }]
            })
        }
        Doing::Unpractised => {
            let noted = app.home(OfPupil { pupil }).ok()?.practised;
            let noted = dice.pick(&noted)?;
            let done = app.drop_practised(DropPractised {
                pupil,
                practised: noted.id,
            });
            let fact = format!("practised {}", noted.day);
            Deed::perhaps(done, vec![Claim::Gone { fact }])
        }
        Doing::Target => {
            let measure = *dice.pick(&MEASURES)?;
            let saw = seen::target(app, pupil, measure)?;
            let target = Target {
                measure,
                value: f64::from(number),
                by: None,
            };
            let key = format!("target {}", measure.text());
            let claims = wrote(key, Some(number.to_string()), saw, None);
            Deed::perhaps(app.set_target(SetTarget { pupil, target }), claims)
        }
        Doing::DropTarget => {
            let measure = *dice.pick(&MEASURES)?;
            let saw = seen::target(app, pupil, measure)?;
            let claims = wrote(format!("target {}", measure.text()), None, saw, None);
            Deed::perhaps(app.drop_target(DropTarget { pupil, measure }), claims)
        }
        Doing::Note => {
            let note = format!("tires after {number} minutes");
            let saw = app.home(OfPupil { pupil }).ok()?.note;
            let claims = wrote("note".to_owned(), Some(note.clone()), saw, None);
            Deed::perhaps(app.set_note(SetNote { pupil, note }), claims)
        }
        Doing::Ask => {
            let page = page?;
            let before = seen::asks(app, pupil)?;
            let wish = AskedFor::Page { page };
            let done = app.ask_to_forget(AskToForget { pupil, wish });
            let new = seen::asks(app, pupil).unwrap_or_default();
            let new = new.into_iter().filter(|ask| !before.contains(ask));
            Deed::of(done, |_| {
                let fact = |ask| format!("ask {ask}");
                let claim = |ask| Claim::There {
                    fact: fact(ask),
                    on: Some(page),
                };
                new.map(claim).collect()
            })
        }
        Doing::PutAside => {
            let ask = *dice.pick(&seen::asks(app, pupil)?)?;
            let done = app.put_ask_aside(OfAsk { pupil, ask });
            let fact = format!("ask {ask}");
            Deed::perhaps(done, vec![Claim::Gone { fact }])
        }
        Doing::DeleteBy => {
            let saw = app.keeping(OfPupil { pupil }).ok()?.delete_by;
            let saw = saw.map(|day| day.to_string());
            let by = Some(day);
            let claims = wrote("delete by".to_owned(), Some(day.to_string()), saw, None);
            Deed::perhaps(app.set_delete_by(SetDeleteBy { pupil, day: by }), claims)
        }
        Doing::Task => {
            let task = SetTask {
                pupil,
                kind: TaskKind::OwnWords,
                text: None,
                paper: None,
                ruling: None,
                minutes: 10,
                focus: None,
                set_on: Some(day),
            };
            // The second laptop may not have the profile yet.
            Deed::of(unless_not_here(app.set_task(task))?, |made| {
                let fact = format!("task {}", made.task);
                vec![Claim::There { fact, on: None }]
            })
        }
        Doing::TakeOut => {
            let page = page?;
            let done = app.take_page_out(OfPage { pupil, page });
            Deed::perhaps(done, vec![Claim::TookOut(page)])
        }
        Doing::Forget => {
            let pages = vec![page?];
            let claims = pages.iter().map(|page| Claim::Forgot(*page)).collect();
            Deed::perhaps(app.forget_pages(ForgetPages { pupil, pages }), claims)
        }
        Doing::Shorten => Deed::perhaps(app.shorten_history(OfPupil { pupil }), Vec::new()),
        Doing::Erase => Deed::perhaps(app.erase_pupil(OfPupil { pupil }), vec![Claim::Erased]),
    })
}

const MEASURES: [MeasureName; 2] = [MeasureName::XHeight, MeasureName::Slant];

fn wrote(
    key: String,
    value: Option<String>,
    saw: Option<String>,
    on: Option<PageId>,
) -> Vec<Claim> {
    vec![Claim::Wrote {
        key,
        value,
        saw,
        on,
    }]
}

/// A page whose picture or reading is still on its way cannot be read again; that is nothing to do.
fn unless_not_here<T>(done: Result<T, Problem>) -> Option<Result<T, Problem>> {
    match done {
        Err(problem) if ["picture-not-here", "profile-not-here"].contains(&&*problem.code) => None,
        done => Some(done),
    }
}

fn add_page(app: &App, pupil: PupilId, number: u32, size: usize, dice: &mut Dice) -> Deed {
    let day = Day(FIRST_DAY + number as i32);
    let (page, blobs) = invented::page(number, day, size, dice);
    let done = app.keep_measured_page(pupil, page, blobs);
    Deed::of(done, |kept| {
        vec![Claim::There {
            fact: format!("page {}", kept.page),
            on: Some(kept.page),
        }]
    })
}

fn add_mark(app: &App, pupil: PupilId, page: PageId, number: u32) -> Deed {
    let words = format!("see how tall number {number} stands");
    let mark = AddMark {
        pupil,
        page,
        shape: point(),
        words: words.clone(),
        aspect: None,
        praise: true,
    };
    let claims = |made: &MarkAdded| {
        vec![Claim::There {
            fact: format!("mark {}", made.mark),
            on: Some(page),
        }]
    };
    Deed::of(app.add_mark(mark), claims).with(page, &words)
}

fn point() -> MarkShape {
    let (x, y) = (Mm(10.0), Mm(10.0));
    MarkShape::Note {
        at: PointMm { x, y },
    }
}

fn place(number: u32) -> BoxMm {
    let at = f64::from(number % 20);
    BoxMm {
        x0: Mm(at),
        y0: Mm(1.0),
        x1: Mm(at + 2.0),
        y1: Mm(3.0),
    }
}

/// Whether a device of this role does such things.
pub fn does(role: Role, doing: Doing) -> bool {
    match role {
        Role::Tutor => doing != Doing::Ask,
        Role::Parent => Doing::PARENTS.contains(&doing),
    }
}
