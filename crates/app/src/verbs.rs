//! The table of use cases: a name, what goes in, what comes out. Shells call by name.

use serde::de::DeserializeOwned;
use serde_json::Value;
use units::Problem;

use crate::App;
use crate::api::*;

macro_rules! verbs {
    (quick { $($quick:ident: $qi:ty => $qo:ty,)* } meeting { $($slow:ident: $si:ty => $so:ty,)* }) => {
        impl App {
            /// Runs one use case by its name with its input as JSON.
            ///
            /// # Errors
            /// What the use case says, `unknown-verb`, or `bad-input` where the JSON does not fit.
            pub async fn call(&self, verb: &str, input: Value) -> Result<Value, Problem> {
                match verb {
                    $(stringify!($quick) => {
                        let input: $qi = fit(input)?;
                        let app = self.clone();
                        let done: Result<$qo, Problem> = off_thread(move || app.$quick(input)).await;
                        Ok(plain(&done?))
                    })*
                    $(stringify!($slow) => {
                        let input: $si = fit(input)?;
                        let done: Result<$so, Problem> = self.$slow(input).await;
                        Ok(plain(&done?))
                    })*
                    _ => Err(Problem::new(
                        "unknown-verb",
                        format!("This program has no use case called {verb}."),
                        "Update the program, or reload the page.",
                    )),
                }
            }
        }

        /// The table as a TypeScript interface.
        #[cfg(feature = "ts")]
        pub(crate) fn table(config: &ts_rs::Config) -> String {
            use ts_rs::TS;
            let mut text = String::from("export interface Verbs {\n");
            $(text += &line(stringify!($quick), &<$qi>::name(config), &<$qo>::name(config));)*
            $(text += &line(stringify!($slow), &<$si>::name(config), &<$so>::name(config));)*
            text + "}\n"
        }

        /// Every type that crosses, with those it is made of.
        #[cfg(feature = "ts")]
        pub(crate) fn types(visit: &mut impl ts_rs::TypeVisitor) {
            $(visit.visit::<$qi>(); visit.visit::<$qo>();)*
            $(visit.visit::<$si>(); visit.visit::<$so>();)*
        }
    };
}

#[cfg(feature = "ts")]
fn line(verb: &str, input: &str, output: &str) -> String {
    format!("  {verb}: {{ input: {input}; output: {output} }};\n")
}

verbs! {
    quick {
        overview: Nothing => Overview,
        settle: Settle => Overview,
        load_example: Nothing => Overview,
        add_pupil: AddPupil => AddedPupil,
        change_pupil: ChangePupil => Nothing,
        pupils: Nothing => PupilList,
        pupil: OfPupil => PupilView,
        allow_letters: AllowLetters => Nothing,
        set_lesson: SetLesson => Nothing,
        set_order: SetOrder => Nothing,
        set_task: SetTask => TaskSet,
        start_focus: StartFocus => FocusStarted,
        end_focus: EndFocus => Nothing,
        waiting_photos: OfPupil => WaitingPhotos,
        look_again: OfStaged => Staged,
        set_corners: SetCorners => Staged,
        keep_page: KeepPage => KeptPage,
        drop_photo: OfStaged => Nothing,
        page: OfPage => PageView,
        look: OfPage => Nothing,
        set_text: SetText => Nothing,
        set_minutes: SetMinutes => Nothing,
        measure_again: OfPage => Nothing,
        set_ruling: SetRuling => Nothing,
        set_starting: SetStarting => Nothing,
        add_mark: AddMark => MarkAdded,
        change_mark: ChangeMark => Nothing,
        remove_mark: RemoveMark => Nothing,
        progress: OfPupil => ProgressView,
        letter_models: Nothing => LetterModels,
        write_letter_model: WriteLetterModel => TextFile,
        read_letter_model: ReadLetterModel => LetterModelRead,
        amend: Amend => Amended,
        take_back: TakeBack => Nothing,
        export_amendments: ExportAmendments => TextFile,
        find_letters: FindLetters => LettersFound,
        home: OfPupil => HomeView,
        add_practised: AddPractised => Nothing,
        drop_practised: DropPractised => Nothing,
        add_set_up: AddSetUp => Nothing,
        add_reply: AddReply => Nothing,
        set_target: SetTarget => Nothing,
        drop_target: DropTarget => Nothing,
        set_note: SetNote => Nothing,
        furniture: FurnitureFor => FurnitureSizes,
        draft: OfDraft => Draft,
        keep_draft: KeepDraft => Nothing,
        reminder: Nothing => ReminderView,
        set_reminder: SetReminder => Nothing,
        keeping: OfPupil => KeepingView,
        take_page_out: OfPage => Nothing,
        forget_pages: ForgetPages => Nothing,
        forget_before: ForgetBefore => Nothing,
        shorten_history: OfPupil => Nothing,
        erase_pupil: OfPupil => Nothing,
        ask_to_forget: AskToForget => Nothing,
        put_ask_aside: OfAsk => Nothing,
        set_delete_by: SetDeleteBy => Nothing,
        back_up: BackUp => BackedUp,
        bring_back: BringBack => Overview,
        make_carry: MakeCarry => CarryMade,
        open_carry: OpenCarry => CarryOpened,
        notices: Nothing => NoticeList,
        clear_notices: Nothing => Nothing,
        devices: Nothing => DeviceList,
        holds: OfDevice => Holding,
        stop_exchange: Nothing => Nothing,
        remove_device: OfDevice => Nothing,
        set_address: SetAddress => Nothing,
        make_paper_key: MakePaperKey => PaperKey,
        pairing: Nothing => PairingState,
    }
    meeting {
        set_network: SetNetwork => Overview,
        offer_pairing: OfferPairing => PairingState,
        join_pairing: JoinPairing => PairingState,
        confirm_pairing: ConfirmPairing => PairingState,
        cancel_pairing: Nothing => PairingState,
        exchange: Exchange => Exchanged,
        return_by_paper: ReturnByPaper => Exchanged,
    }
}

fn fit<T: DeserializeOwned>(input: Value) -> Result<T, Problem> {
    serde_json::from_value(input).map_err(|error| {
        Problem::new(
            "bad-input",
            format!("Something in this request does not fit: {error}."),
            "Check what was entered, and try again.",
        )
    })
}

fn plain(output: &impl serde::Serialize) -> Value {
    serde_json::to_value(output).expect("transfer types are plain data")
}

/// Measuring and disk writes must not hold up the meetings that share the runtime.
pub(crate) async fn off_thread<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    tokio::task::spawn_blocking(work).await.unwrap_or_else(|_| {
        Err(Problem::new(
            "broke-off",
            "The program stumbled over this one and could not finish it.",
            "Nothing that was kept is lost. Try again, or take another photograph.",
        ))
    })
}
