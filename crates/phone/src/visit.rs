//! Who may speak, and until when: keys, numbers, time and failed tries of one visit. It is told the time
//! and knows neither network nor pupil.

use std::net::IpAddr;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use app::units::{Moment, Problem};
use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;

use crate::ask::{Ask, Greeted, Pulse};
use crate::problem;
use crate::seal::{self, Cipher, Return, Sealed, Text, Under};
use crate::shown::{Ended, Stage};

/// How long a visit lasts after the last thing that was asked for.
const LASTS: Duration = Duration::from_secs(15 * 60);
/// How long it lasts at most.
const LONGEST: Duration = Duration::from_secs(60 * 60);
/// Questions that the key does not open, after which it ends.
const MOST_WRONG: u32 = 10;
/// Characters that stand for a phone.
const PHONE_ID: usize = 32;

/// One visit.
pub(crate) struct Visit {
    code: Cipher,
    phone: Option<Phone>,
    began: SystemTime,
    ends: SystemTime,
    wrong: u32,
    turned_away: u32,
    ended: Option<Ended>,
}

/// The one phone of this code.
struct Phone {
    id: String,
    key: Cipher,
    /// Number of its last question.
    last: u32,
    /// Where its last question came from.
    at: IpAddr,
}

/// Why a question gets no sealed answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Refused {
    /// It is none.
    Malformed,
    /// The key does not open it.
    WrongKey,
    /// It was asked before.
    Replayed,
    /// The visit is over.
    Over,
}

/// A question that the key opened.
pub(crate) struct Heard {
    pub told: Told,
    pub back: Return,
}

/// What a question that was opened comes to.
pub(crate) enum Told {
    /// It is answered here already.
    Greeted(Result<Greeted, Problem>),
    /// It is the phone's, and asks this.
    Asked(Ask, Text),
    /// It is the phone's, and asks for what nobody may.
    NotAllowed,
}

/// How it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct State {
    pub expires_at: Moment,
    pub stage: Stage,
    pub ended: Option<Ended>,
    pub turned_away: u32,
}

impl Visit {
    pub fn new(code: &[u8; 32], now: SystemTime) -> Self {
        Self {
            code: seal::cipher(code),
            phone: None,
            began: now,
            ends: now + LASTS,
            wrong: 0,
            turned_away: 0,
            ended: None,
        }
    }

    /// Whether it is over.
    pub fn over(&mut self, now: SystemTime) -> bool {
        // A clock that was put back would lengthen it.
        if self.ended.is_none() && (now >= self.ends || now < self.began) {
            self.ended = Some(Ended::Expired);
        }
        self.ended.is_some()
    }

    pub fn state(&mut self, now: SystemTime) -> State {
        let over = self.over(now);
        let since = self.ends.duration_since(UNIX_EPOCH).unwrap_or_default();
        State {
            expires_at: Moment(i64::try_from(since.as_millis()).unwrap_or(i64::MAX)),
            stage: match &self.phone {
                _ if over => Stage::Ended,
                Some(_) => Stage::InUse,
                None => Stage::Waiting,
            },
            ended: self.ended,
            turned_away: self.turned_away,
        }
    }

    pub fn pulse(&self, now: SystemTime) -> Pulse {
        let left = self.ends.duration_since(now).unwrap_or_default();
        Pulse {
            seconds_left: u32::try_from(left.as_secs()).unwrap_or(u32::MAX),
            turned_away: self.turned_away,
        }
    }

    /// Whether the phone's last question came from here: only then a photograph is taken in before its
    /// seal can be looked at.
    pub fn is_at(&self, from: IpAddr) -> bool {
        self.phone.as_ref().is_some_and(|phone| phone.at == from)
    }

    /// Takes a question in.
    ///
    /// # Errors
    /// It gets no sealed answer.
    pub fn hear(
        &mut self,
        message: Vec<u8>,
        from: IpAddr,
        now: SystemTime,
    ) -> Result<Heard, Refused> {
        if self.over(now) {
            return Err(Refused::Over);
        }
        let sealed = Sealed::read(message).ok_or(Refused::Malformed)?;
        let heard = match sealed.under {
            Under::Code => self.greeting(sealed, from)?,
            Under::Visit => self.question(sealed, from)?,
        };
        if !matches!(
            &heard.told,
            Told::Asked(Ask::Look {}, _) | Told::Greeted(Err(_))
        ) {
            self.ends = self.ends.max((now + LASTS).min(self.began + LONGEST));
        }
        Ok(heard)
    }

    fn greeting(&mut self, sealed: Sealed, from: IpAddr) -> Result<Heard, Refused> {
        let number = sealed.number;
        let opened = sealed.open(&self.code.clone());
        let (text, back) = self.counted(opened)?;
        let told = match serde_json::from_slice(&text.json) {
            Ok(Ask::Greet { phone }) if is_phone(&phone) => match &self.phone {
                Some(known) if known.id == phone && number <= known.last => {
                    return Err(Refused::Replayed);
                }
                Some(known) if known.id != phone => {
                    self.turned_away = self.turned_away.saturating_add(1);
                    Told::Greeted(Err(problem::code_used()))
                }
                _ => Told::Greeted(self.greet(phone, number, from)),
            },
            _ => Told::NotAllowed,
        };
        Ok(Heard { told, back })
    }

    fn greet(&mut self, id: String, last: u32, at: IpAddr) -> Result<Greeted, Problem> {
        let key = app::random::<32>()?;
        self.phone = Some(Phone {
            id,
            key: seal::cipher(&key),
            last,
            at,
        });
        Ok(Greeted {
            key: BASE64_URL_SAFE_NO_PAD.encode(key),
        })
    }

    fn question(&mut self, sealed: Sealed, from: IpAddr) -> Result<Heard, Refused> {
        let number = sealed.number;
        let opened = match &self.phone {
            // What was asked before is not worth opening.
            Some(phone) if number <= phone.last => return Err(Refused::Replayed),
            Some(phone) => sealed.open(&phone.key.clone()),
            None => None,
        };
        let (text, back) = self.counted(opened)?;
        if let Some(phone) = &mut self.phone {
            phone.last = number;
            phone.at = from;
        }
        let told = match serde_json::from_slice(&text.json) {
            Ok(Ask::Greet { .. }) | Err(_) => Told::NotAllowed,
            Ok(ask) => Told::Asked(ask, text),
        };
        Ok(Heard { told, back })
    }

    /// Counts what the key did not open.
    fn counted<T>(&mut self, opened: Option<T>) -> Result<T, Refused> {
        if opened.is_none() {
            self.wrong += 1;
            if self.wrong >= MOST_WRONG {
                self.ended = Some(Ended::WrongKeys);
            }
        }
        opened.ok_or(Refused::WrongKey)
    }
}

fn is_phone(id: &str) -> bool {
    id.len() == PHONE_ID && id.bytes().all(|byte| byte.is_ascii_hexdigit())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seal::tests::question;
    use hyper::body::Bytes;
    use std::net::Ipv4Addr;

    const CODE: [u8; 32] = [9; 32];
    const HERE: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 168, 1, 30));
    const FIRST: &str = "00112233445566778899aabbccddeeff";
    const SECOND: &str = "ffeeddccbbaa99887766554433221100";

    /// A visit with a clock, spoken to as a phone would.
    struct Scene {
        visit: Visit,
        now: SystemTime,
        key: Option<[u8; 32]>,
    }

    impl Scene {
        fn new() -> Self {
            let now = UNIX_EPOCH + Duration::from_secs(1_800_000_000);
            let visit = Visit::new(&CODE, now);
            Self {
                visit,
                now,
                key: None,
            }
        }

        fn sealed(key: &[u8; 32], under: Under, number: u32, json: &str) -> Vec<u8> {
            let text = Text {
                json: Bytes::copy_from_slice(json.as_bytes()),
                picture: Bytes::new(),
            };
            question(key, under, number, &text)
        }

        fn greeting(phone: &str, number: u32) -> Vec<u8> {
            let json = format!(r#"{{"ask":"greet","phone":"{phone}"}}"#);
            Self::sealed(&CODE, Under::Code, number, &json)
        }

        fn hear(&mut self, message: Vec<u8>) -> Result<Told, Refused> {
            self.visit
                .hear(message, HERE, self.now)
                .map(|heard| heard.told)
        }

        fn greet(&mut self, phone: &str, number: u32) -> Result<Greeted, Problem> {
            let Told::Greeted(greeted) = self.hear(Self::greeting(phone, number)).unwrap() else {
                panic!("a greeting is answered as one");
            };
            if let Ok(greeted) = &greeted {
                let key = BASE64_URL_SAFE_NO_PAD.decode(&greeted.key).unwrap();
                self.key = Some(key.try_into().unwrap());
            }
            greeted
        }

        fn ask(&mut self, number: u32, json: &str) -> Result<Told, Refused> {
            let key = self.key.expect("greeted before");
            self.hear(Self::sealed(&key, Under::Visit, number, json))
        }

        fn pass(&mut self, minutes: u64) {
            self.now += Duration::from_secs(60 * minutes);
        }

        fn ended(&mut self) -> Option<Ended> {
            self.visit.state(self.now).ended
        }
    }

    fn is_week(told: &Result<Told, Refused>) -> bool {
        matches!(told, Ok(Told::Asked(Ask::Week {}, _)))
    }

    #[test]
    fn the_first_phone_is_the_one() {
        let mut scene = Scene::new();
        assert_eq!(scene.visit.state(scene.now).stage, Stage::Waiting);
        scene.greet(FIRST, 1).unwrap();
        assert_eq!(scene.visit.state(scene.now).stage, Stage::InUse);
        let (key, told) = (scene.key, scene.greet(SECOND, 1).unwrap_err());
        assert_eq!(told.code, "code-used");
        assert_eq!(scene.key, key);
        assert_eq!(scene.visit.pulse(scene.now).turned_away, 1);
        assert!(
            is_week(&scene.ask(2, r#"{"ask":"week"}"#)),
            "the first goes on"
        );
    }

    #[test]
    fn an_answer_that_was_lost_can_be_had_again_by_the_same_phone() {
        let mut scene = Scene::new();
        let lost = scene.greet(FIRST, 1).unwrap();
        let before = scene.key.unwrap();
        assert_ne!(scene.greet(FIRST, 2).unwrap(), lost);
        let old = Scene::sealed(&before, Under::Visit, 3, r#"{"ask":"week"}"#);
        assert!(
            matches!(scene.hear(old), Err(Refused::WrongKey)),
            "one key at a time"
        );
        assert!(is_week(&scene.ask(3, r#"{"ask":"week"}"#)));
    }

    #[test]
    fn nothing_is_heard_twice() {
        let mut scene = Scene::new();
        let greeting = Scene::greeting(FIRST, 5);
        scene.hear(greeting.clone()).unwrap();
        assert!(matches!(scene.hear(greeting), Err(Refused::Replayed)));
        scene.greet(FIRST, 6).unwrap();
        let key = scene.key.unwrap();
        let week = Scene::sealed(&key, Under::Visit, 7, r#"{"ask":"week"}"#);
        assert!(is_week(&scene.hear(week.clone())));
        assert!(matches!(scene.hear(week), Err(Refused::Replayed)));
        for number in [0, 6, 7] {
            let again = scene.ask(number, r#"{"ask":"week"}"#);
            assert!(matches!(again, Err(Refused::Replayed)), "{number}");
        }
        assert!(
            is_week(&scene.ask(9, r#"{"ask":"week"}"#)),
            "numbers may be left out"
        );
    }

    #[test]
    fn ten_wrong_keys_end_it() {
        let mut scene = Scene::new();
        for tried in 0..10 {
            assert_eq!(scene.ended(), None, "after {tried}");
            let message = Scene::sealed(&[1; 32], Under::Code, 1, "{}");
            assert!(matches!(scene.hear(message), Err(Refused::WrongKey)));
        }
        assert_eq!(scene.ended(), Some(Ended::WrongKeys));
        let right = Scene::greeting(FIRST, 1);
        assert!(matches!(scene.hear(right), Err(Refused::Over)));
    }

    #[test]
    fn nine_wrong_keys_do_not() {
        let mut scene = Scene::new();
        for _ in 0..9 {
            let message = Scene::sealed(&[1; 32], Under::Visit, 1, "{}");
            assert!(matches!(scene.hear(message), Err(Refused::WrongKey)));
        }
        scene.greet(FIRST, 1).unwrap();
        assert_eq!(scene.ended(), None);
    }

    #[test]
    fn a_code_that_nobody_uses_lasts_a_quarter_of_an_hour() {
        let mut scene = Scene::new();
        scene.pass(14);
        assert_eq!(scene.ended(), None);
        scene.pass(1);
        assert!(matches!(
            scene.hear(Scene::greeting(FIRST, 1)),
            Err(Refused::Over)
        ));
        assert_eq!(scene.ended(), Some(Ended::Expired));
    }

    #[test]
    fn use_lengthens_it_to_an_hour_and_no_more() {
        let mut scene = Scene::new();
        scene.greet(FIRST, 1).unwrap();
        for number in 2..=6 {
            scene.pass(10);
            assert!(is_week(&scene.ask(number, r#"{"ask":"week"}"#)), "{number}");
        }
        // 50 minutes have passed; the hour is the end whatever is asked.
        assert_eq!(scene.visit.pulse(scene.now).seconds_left, 600);
        scene.pass(9);
        assert!(is_week(&scene.ask(7, r#"{"ask":"week"}"#)));
        scene.pass(1);
        assert!(matches!(
            scene.ask(8, r#"{"ask":"week"}"#),
            Err(Refused::Over)
        ));
    }

    #[test]
    fn a_page_that_only_lies_open_does_not_lengthen_it() {
        let mut scene = Scene::new();
        scene.greet(FIRST, 1).unwrap();
        for number in 2..=15 {
            scene.pass(1);
            assert!(scene.ask(number, r#"{"ask":"look"}"#).is_ok());
            scene.greet(SECOND, number).unwrap_err();
        }
        scene.pass(1);
        assert!(matches!(
            scene.ask(16, r#"{"ask":"look"}"#),
            Err(Refused::Over)
        ));
    }

    #[test]
    fn a_clock_put_back_ends_it() {
        let mut scene = Scene::new();
        scene.now -= Duration::from_secs(1);
        assert_eq!(scene.ended(), Some(Ended::Expired));
    }

    #[test]
    fn nobody_may_ask_for_anything_else() {
        let mut scene = Scene::new();
        // Under the code's key only a greeting, and only of somebody.
        for json in [
            r#"{"ask":"week"}"#,
            r#"{"ask":"greet","phone":"me"}"#,
            r#"{"ask":"greet","phone":"0011223344556677889900aabbccddeefg"}"#,
        ] {
            let message = Scene::sealed(&CODE, Under::Code, 1, json);
            assert!(
                matches!(scene.hear(message), Ok(Told::NotAllowed)),
                "{json}"
            );
        }
        scene.greet(FIRST, 1).unwrap();
        for (number, json) in (2..).zip([
            r#"{"ask":"greet","phone":"00112233445566778899aabbccddeeff"}"#,
            r#"{"ask":"progress"}"#,
            r#"{"ask":"pupils"}"#,
            r#"{"ask":"week","pupil":"00"}"#,
            r#"{"ask":"photo","task":null,"pupil":"00"}"#,
            r#"{"ask":"keep","handle":"x"}"#,
            r#"["pupils"]"#,
            "{}",
            "",
            "\u{0}",
        ]) {
            let told = scene.ask(number, json);
            assert!(matches!(told, Ok(Told::NotAllowed)), "{json}");
        }
    }

    #[test]
    fn photographs_come_from_where_the_phone_is() {
        let mut scene = Scene::new();
        let elsewhere = IpAddr::V4(Ipv4Addr::new(192, 168, 1, 31));
        assert!(!scene.visit.is_at(HERE));
        scene.greet(FIRST, 1).unwrap();
        assert!(scene.visit.is_at(HERE) && !scene.visit.is_at(elsewhere));
        let key = scene.key.unwrap();
        let look = Scene::sealed(&key, Under::Visit, 2, r#"{"ask":"look"}"#);
        scene.visit.hear(look, elsewhere, scene.now).ok().unwrap();
        assert!(scene.visit.is_at(elsewhere), "it moved");
    }
}
