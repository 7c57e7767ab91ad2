//! A school year that is over: all that was written, set, tried, looked at and practised in it is forgotten on
//! every device and stays so; what is of the new year stays.

use app::api::*;
use app::units::{
    Aspect, Day, FocusId, MarkShape, Mm, PageId, PointMm, PupilId, SetUpItem, TaskId, TaskKind,
};

use crate::people::{Device, invented};
use crate::traces::Traces;

/// The last day of the year that is over, and the first of the new one.
const OVER: Day = Day(19_599);
const NEW: Day = Day(19_600);

/// What is shown of a pupil, each kind in an order of its own.
#[derive(Debug, Clone, Default, PartialEq)]
struct Shown {
    pages: Vec<PageId>,
    tasks: Vec<TaskId>,
    focuses: Vec<FocusId>,
    practised: Vec<Day>,
    set_up: Vec<Day>,
}

impl Shown {
    fn on(device: &Device, pupil: PupilId) -> Self {
        let of = OfPupil { pupil };
        let (view, home) = (device.app.pupil(of).unwrap(), device.app.home(of).unwrap());
        let shown = Self {
            pages: view.pages.iter().map(|page| page.page).collect(),
            tasks: view.tasks.iter().map(|task| task.id).collect(),
            focuses: view.focuses.iter().map(|focus| focus.id).collect(),
            practised: home.practised.iter().map(|it| it.day).collect(),
            set_up: home.setups.iter().map(|it| it.day).collect(),
        };
        shown.sorted()
    }

    fn with(mut self, more: Self) -> Self {
        self.pages.extend(more.pages);
        self.tasks.extend(more.tasks);
        self.focuses.extend(more.focuses);
        self.practised.extend(more.practised);
        self.set_up.extend(more.set_up);
        self
    }

    fn sorted(mut self) -> Self {
        self.pages.sort();
        self.tasks.sort();
        self.focuses.sort();
        self.practised.sort();
        self.set_up.sort();
        self
    }
}

fn sets_task(desk: &Device, pupil: PupilId, day: Day, text: &str) -> TaskId {
    let task = SetTask {
        pupil,
        kind: TaskKind::Copied,
        text: Some(vec![text.to_owned()]),
        paper: None,
        ruling: None,
        minutes: 10,
        focus: None,
        set_on: Some(day),
    };
    desk.app.set_task(task).unwrap().task
}

fn starts_focus(desk: &Device, pupil: PupilId, from: Day, hint: &str) -> FocusId {
    let focus = StartFocus {
        pupil,
        aspect: Aspect::Slant,
        from: Some(from),
        try_this: hint.to_owned(),
    };
    desk.app.start_focus(focus).unwrap().focus
}

/// Keeps a page that answers a task, and notes by what it is known again.
fn answers(
    device: &Device,
    (pupil, task): (PupilId, TaskId),
    (number, day): (u32, Day),
    text: &str,
    traces: &mut Traces,
) -> PageId {
    let (mut record, blobs) = invented(number, 2_000);
    (record.task, record.written_on) = (Some(task), day);
    record.text = Some(vec![text.to_owned()]);
    traces.words(text);
    traces.blob(&format!("the picture of {text}"), &blobs[0]);
    traces.blob(&format!("the reading of {text}"), &blobs[1]);
    let kept = device.app.keep_measured_page(pupil, record, blobs);
    kept.unwrap().page
}

fn practises(phone: &Device, pupil: PupilId, day: Day, task: Option<TaskId>) {
    let (day, minutes) = (Some(day), 10);
    let practised = AddPractised {
        pupil,
        day,
        minutes,
        task,
    };
    phone.app.add_practised(practised).unwrap();
}

/// Says how the child sat on a day, which is noted of that very day.
async fn sits(phone: Device, pupil: PupilId, day: Day) -> Device {
    let phone = phone.on_day(day).await;
    let check = AddSetUp {
        pupil,
        fine: vec![SetUpItem::Feet],
        not_yet: vec![SetUpItem::Light],
    };
    phone.app.add_set_up(check).unwrap();
    phone.app.close().await;
    phone.restarted()
}

/// One of each kind, in the words of a year, all on one day.
async fn lives_through(
    (desk, phone): (&Device, &Device),
    pupil: PupilId,
    (year, day, number): (&str, Day, u32),
    traces: &mut Traces,
) -> Shown {
    let words = ["task", "hint", "mark", "reply"].map(|what| format!("a {what} of the {year}"));
    words.iter().for_each(|words| traces.words(words));
    let [text, hint, on_page, reply] = words;
    let task = sets_task(desk, pupil, day, &text);
    let focus = starts_focus(desk, pupil, Day(day.0 - 30), &hint);
    let on = Some(day);
    desk.app.end_focus(EndFocus { pupil, focus, on }).unwrap();
    phone.meets().await;
    let text = format!("a page of the {year}");
    let page = answers(phone, (pupil, task), (number, day), &text, traces);
    practises(phone, pupil, day, Some(task));
    phone.meets().await;
    let (x, y) = (Mm(10.0), Mm(10.0));
    let mark = AddMark {
        pupil,
        page,
        shape: MarkShape::Note {
            at: PointMm { x, y },
        },
        words: on_page,
        aspect: None,
        praise: true,
    };
    let mark = Some(desk.app.add_mark(mark).unwrap().mark);
    phone.meets().await;
    let reply = AddReply {
        pupil,
        page,
        mark,
        words: reply,
    };
    phone.app.add_reply(reply).unwrap();
    Shown {
        pages: vec![page],
        tasks: vec![task],
        focuses: vec![focus],
        practised: vec![day],
        set_up: vec![day],
    }
}

/// The keys under which practice and looks at how the child sat stand: they have no words of their own.
fn keys(device: &Device, pupil: PupilId, day: Day, traces: &mut Traces) {
    let home = device.app.home(OfPupil { pupil }).unwrap();
    let practised = home.practised.iter().filter(|it| it.day == day);
    practised.for_each(|it| traces.words(&format!("practised/{}", it.id)));
    let set_up = home.setups.iter().filter(|it| it.day == day);
    set_up.for_each(|it| traces.words(&format!("setup/{}", it.id)));
}

#[tokio::test(flavor = "multi_thread")]
async fn all_of_a_year_that_is_over_goes_from_every_device_and_no_backup_brings_it_back() {
    let (desk, keeper, phone, pupil) = Device::practice("Keeper", "Kitchen").await;
    let away = Device::parent("Away");
    desk.family(pupil, &away).await;
    let (mut goes, mut stays) = (Traces::default(), Traces::default());
    let phone = sits(sits(phone, pupil, OVER).await, pupil, NEW).await;
    let both = (&desk, &phone);
    let old = lives_through(both, pupil, ("old year", OVER, 41), &mut goes).await;
    let new = lives_through(both, pupil, ("new year", NEW, 42), &mut stays).await;
    // Set in the old year, and answered in the new one: now, and by somebody who is away.
    let answered = "a task that is still answered";
    let unanswered = "a task that nobody has answered yet";
    let tasks = [answered, unanswered].map(|text| sets_task(&desk, pupil, OVER, text));
    stays.words(answered);
    goes.words(unanswered);
    phone.meets().await;
    let of = (pupil, tasks[0]);
    let page = answers(&phone, of, (43, NEW), "an answer", &mut stays);
    practises(&phone, pupil, NEW, Some(tasks[1]));
    // What was begun in the old year and is still worked on.
    let hint = "a hint that is still followed";
    stays.words(hint);
    let focus = starts_focus(&desk, pupil, OVER, hint);
    for device in [&phone, &away, &keeper] {
        device.meets().await;
        device.meets().await;
    }
    keys(&desk, pupil, OVER, &mut goes);
    keys(&desk, pupil, NEW, &mut stays);
    let mut left = new.with(Shown {
        pages: vec![page],
        tasks: vec![tasks[0]],
        focuses: vec![focus],
        practised: vec![NEW],
        set_up: Vec::new(),
    });
    let mut all = left.clone().with(old);
    all.tasks.push(tasks[1]);
    let all = all.sorted();
    for device in [&desk, &keeper, &phone, &away] {
        assert_eq!(Shown::on(device, pupil), all);
        let kept = device.everything();
        assert_eq!(goes.within(&kept), goes.all());
        assert_eq!(stays.within(&kept), stays.all());
    }
    let folder = tempfile::tempdir().unwrap();
    let backup = folder.path().join("backup");
    keeper.back_up(&backup);

    // What a child wrote for a task stays, though the task is forgotten meanwhile.
    away.app.close().await;
    let of = (pupil, tasks[1]);
    let late = answers(&away, of, (44, NEW), "a late answer", &mut stays);
    left.pages.push(late);
    let left = left.sorted();
    let before = ForgetBefore { pupil, day: NEW };
    desk.app.forget_before(before).unwrap();
    for device in [&phone, &keeper, &away, &phone, &keeper] {
        device.meets().await;
        device.meets().await;
    }
    let only_what_is_new = |device: &Device| {
        let kept = device.everything();
        let found = (goes.within(&kept), stays.within(&kept));
        let nothing = Vec::new();
        assert_eq!(
            (Shown::on(device, pupil), found),
            (left.clone(), (nothing, stays.all()))
        );
        let mut pages = left.pages.iter();
        assert!(pages.all(|page| device.has_picture(pupil, *page)));
    };
    for device in [&desk, &keeper, &phone, &away] {
        only_what_is_new(device);
    }
    assert_eq!(away.notices(), [], "nothing of the late page was dropped");
    // The old backup as a device of its own meets the others, and forgets too.
    let restored = Device::restored(&backup);
    assert_eq!(Shown::on(&restored, pupil), all);
    assert_eq!(goes.on(&restored), goes.all());
    for _ in 0..2 {
        restored.meets().await;
        for device in [&phone, &keeper, &away] {
            device.meets().await;
        }
    }
    for device in [&desk, &keeper, &phone, &away, &restored] {
        only_what_is_new(device);
    }
}
