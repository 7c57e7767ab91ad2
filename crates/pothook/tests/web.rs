//! The local web address lets in only a browser on this machine that was given the secret.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};

/// The program serving a fresh data folder; ended when dropped.
struct Served {
    child: Child,
    port: u16,
    secret: String,
    _folder: tempfile::TempDir,
}

impl Served {
    fn start() -> Self {
        Self::of(tempfile::tempdir().unwrap())
    }

    fn of(folder: tempfile::TempDir) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_pothook"))
            .env(
                "POTHOOK_KEY_FILE",
                concat!(env!("CARGO_TARGET_TMPDIR"), "/key"),
            )
            .arg("--data")
            .arg(folder.path())
            .args(["serve", "--port", "0"])
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().unwrap())
            .read_line(&mut line)
            .unwrap();
        let address = line
            .trim()
            .strip_prefix("Open http://127.0.0.1:")
            .expect("an address");
        let (port, secret) = address
            .split_once("/#s=")
            .expect("a secret in the fragment");
        let (port, secret) = (port.parse().unwrap(), secret.to_owned());
        Self {
            child,
            port,
            secret,
            _folder: folder,
        }
    }

    /// Sends one request by hand, as no browser would be made to, and reads the answer.
    fn ask(&self, request: &str, headers: &[(&str, &str)], body: &str) -> (u16, String) {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        let mut text = format!("{request} HTTP/1.1\r\nConnection: close\r\n");
        text += &format!("Content-Length: {}\r\n", body.len());
        for (name, value) in headers {
            text += &format!("{name}: {value}\r\n");
        }
        stream
            .write_all(format!("{text}\r\n{body}").as_bytes())
            .unwrap();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).unwrap();
        let answer = String::from_utf8_lossy(&answer).into_owned();
        (status(&answer), answer)
    }

    /// What a picture's address answers: status and body.
    fn picture(&self, path: &str, cookie: Option<&str>) -> (u16, Vec<u8>) {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        let mut text = format!("GET {path} HTTP/1.1\r\nConnection: close\r\n");
        text += &format!("Host: {}\r\n", self.host());
        text += &cookie.map_or(String::new(), |cookie| format!("Cookie: {cookie}\r\n"));
        stream.write_all(format!("{text}\r\n").as_bytes()).unwrap();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).unwrap();
        let end = answer.windows(4).position(|four| four == b"\r\n\r\n");
        let body = answer.split_off(end.unwrap() + 4);
        let head = String::from_utf8_lossy(&answer);
        // A browser would keep it on the disk, unencrypted, and for longer than the program.
        assert!(head.contains("cache-control: no-store\r\n"), "{head}");
        (status(&head), body)
    }

    /// Calls a use case; gives its output.
    fn call(&self, cookie: &str, verb: &str, input: &str) -> serde_json::Value {
        let (host, origin) = (self.host(), self.origin());
        let headers = [
            ("Host", &*host),
            ("Origin", &*origin),
            ("Cookie", cookie),
            ("Content-Type", "application/json"),
        ];
        let (status, answer) = self.ask(&format!("POST /call/{verb}"), &headers, input);
        assert_eq!(status, 200, "{answer}");
        let (_, body) = answer.split_once("\r\n\r\n").expect("a body");
        serde_json::from_str(body).expect("JSON")
    }

    fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    fn origin(&self) -> String {
        format!("http://{}", self.host())
    }

    /// Brings the secret; gives the cookie.
    fn admitted(&self) -> String {
        let body = format!("{{\"secret\":\"{}\"}}", self.secret);
        let (host, origin) = (self.host(), self.origin());
        let headers = [
            ("Host", &*host),
            ("Origin", &*origin),
            ("Content-Type", "application/json"),
        ];
        let (status, answer) = self.ask("POST /session", &headers, &body);
        assert_eq!(status, 204, "{answer}");
        let cookie = answer
            .lines()
            .find_map(|line| line.strip_prefix("set-cookie: "))
            .expect("a cookie comes back");
        assert!(
            cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"),
            "{cookie}"
        );
        cookie.split(';').next().unwrap().to_owned()
    }

    fn overview(&self, host: &str, origin: Option<&str>, cookie: Option<&str>) -> (u16, String) {
        let mut headers = vec![("Host", host), ("Content-Type", "application/json")];
        headers.extend(origin.map(|origin| ("Origin", origin)));
        headers.extend(cookie.map(|cookie| ("Cookie", cookie)));
        self.ask("POST /call/overview", &headers, "{}")
    }
}

fn status(answer: &str) -> u16 {
    let word = answer.split(' ').nth(1);
    word.and_then(|status| status.parse().ok()).unwrap()
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn only_the_secret_opens_and_only_from_the_own_page() {
    let served = Served::start();
    let (host, origin) = (served.host(), served.origin());

    let (status, answer) = served.overview(&host, Some(&origin), None);
    assert_eq!(status, 401, "without the cookie: {answer}");
    assert!(answer.contains("\"code\":\"no-session\""));

    let headers = [
        ("Host", &*host),
        ("Origin", &*origin),
        ("Content-Type", "application/json"),
    ];
    let (status, _) = served.ask("POST /session", &headers, "{\"secret\":\"0000\"}");
    assert_eq!(status, 401, "with a wrong secret");

    let cookie = served.admitted();
    let (status, answer) = served.overview(&host, Some(&origin), Some(&cookie));
    assert_eq!(status, 200, "with the cookie: {answer}");
    assert!(answer.contains("\"device\":null"), "{answer}");

    let (status, answer) = served.overview("example.com", Some(&origin), Some(&cookie));
    assert_eq!(status, 403, "under a foreign host name: {answer}");
    let (status, _) = served.overview(&host, Some("http://example.com"), Some(&cookie));
    assert_eq!(status, 403, "from a foreign page");
    let (status, _) = served.overview(&host, None, Some(&cookie));
    assert_eq!(status, 403, "a change without an origin");
    let wrong = format!("{}0", &cookie[..cookie.len() - 1]);
    let wrong = if wrong == cookie {
        format!("{}1", &cookie[..cookie.len() - 1])
    } else {
        wrong
    };
    let (status, _) = served.overview(&host, Some(&origin), Some(&wrong));
    assert_eq!(status, 401, "with a wrong cookie");
}

#[test]
fn every_answer_forbids_what_the_screens_do_not_need() {
    let served = Served::start();
    let host = served.host();
    let (status, answer) = served.ask("GET /", &[("Host", &host)], "");
    assert_eq!(status, 200);
    for wanted in [
        "default-src 'none'",
        "frame-ancestors 'none'",
        "nosniff",
        "no-referrer",
    ] {
        assert!(answer.contains(wanted), "{wanted} is missing from {answer}");
    }
    let (status, answer) = served.ask("GET /blob/00.jpg", &[("Host", &host)], "");
    assert_eq!(status, 401, "{answer}");
}

#[test]
fn nonsense_is_answered_with_a_problem() {
    let served = Served::start();
    let (host, origin, cookie) = (served.host(), served.origin(), served.admitted());
    let headers = [
        ("Host", &*host),
        ("Origin", &*origin),
        ("Cookie", &*cookie),
        ("Content-Type", "application/json"),
    ];
    for (request, body, code) in [
        ("POST /call/overview", "not json", "bad-input"),
        ("POST /call/pupil", "{\"pupil\":\"short\"}", "bad-input"),
        ("POST /call/fly", "{}", "unknown-verb"),
        ("POST /call/pupils", "{}", "not-settled"),
        ("POST /photo?about=%7B%7D", "x", "bad-input"),
    ] {
        let (status, answer) = served.ask(request, &headers, body);
        assert!((400..500).contains(&status), "{request}: {answer}");
        assert!(
            answer.contains(&format!("\"code\":\"{code}\"")),
            "{request}: {answer}"
        );
        assert!(answer.contains("whatToDo"), "{request}: {answer}");
    }
}

/// A data folder with one page of one pupil.
fn with_a_page() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let photo = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../../tests/pages/a5-lines8-uneven.jpg");
    for arguments in [
        &["settle", "tutor", "Study"][..],
        &[
            "add-pupil",
            "Wren",
            "--year",
            "3",
            "--hand",
            "left",
            "--paper",
            "a5",
        ],
        &[
            "add-page",
            "Wren",
            photo.to_str().unwrap(),
            "--kind",
            "copied",
            "--despite",
        ],
    ] {
        let done = Command::new(env!("CARGO_BIN_EXE_pothook"))
            .env(
                "POTHOOK_KEY_FILE",
                concat!(env!("CARGO_TARGET_TMPDIR"), "/key"),
            )
            .arg("--data")
            .arg(folder.path())
            .args(arguments)
            .output()
            .unwrap();
        assert!(done.status.success(), "{arguments:?}: {done:?}");
    }
    folder
}

#[test]
fn a_crop_of_a_page_is_shown_to_who_was_let_in_and_to_nobody_else() {
    let served = Served::of(with_a_page());
    let cookie = served.admitted();
    let pupils = served.call(&cookie, "pupils", "{}");
    let pupil = &pupils["pupils"][0]["pupil"];
    let view = served.call(&cookie, "pupil", &format!("{{\"pupil\":{pupil}}}"));
    let blob = view["pages"][0]["picture"].as_str().expect("a picture");
    let crop = format!("/crop/{blob}/100-120-60-40.jpg");
    assert_eq!(served.picture(&crop, None).0, 401, "without the cookie");
    let (status, jpeg) = served.picture(&crop, Some(&cookie));
    assert_eq!(status, 200);
    let cut = image::load_from_memory_with_format(&jpeg, image::ImageFormat::Jpeg).unwrap();
    assert_eq!((cut.width(), cut.height()), (60, 40));
    for whole in [format!("/blob/{blob}.jpg"), format!("/thumb/{blob}.jpg")] {
        let (status, jpeg) = served.picture(&whole, Some(&cookie));
        assert_eq!((status, &jpeg[..2]), (200, &[0xFF, 0xD8][..]), "{whole}");
    }
    for nothing in [
        format!("/crop/{blob}/100-120-60.jpg"),
        format!("/crop/{blob}/100-120-0-40.jpg"),
        format!("/crop/{blob}/100-120-60-40.png"),
        format!("/crop/{blob}/99999-120-60-40.jpg"),
        format!("/crop/{}/100-120-60-40.jpg", "ab".repeat(32)),
        "/crop/../100-120-60-40.jpg".to_owned(),
    ] {
        let (status, body) = served.picture(&nothing, Some(&cookie));
        assert_ne!(
            body.get(..2),
            Some(&[0xFF, 0xD8][..]),
            "{nothing} shows a picture"
        );
        assert_eq!(status, 404, "{nothing}");
    }
}
