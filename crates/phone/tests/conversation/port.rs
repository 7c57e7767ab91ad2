//! Who is let in at the port, and how much of.

use serde_json::json;

use crate::phone::Phone;
use crate::scene::Scene;
use crate::wire;

#[tokio::test(flavor = "multi_thread")]
async fn only_the_page_and_its_own_requests_are_let_in() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    let port = host.rsplit_once(':').unwrap().1;
    let origin = format!("http://{host}");
    let with = |headers: &[(&str, &str)]| wire::send(&host, "GET / HTTP/1.1", headers, b"").status;
    assert_eq!(with(&[("Host", &host)]), 200);
    assert_eq!(with(&[("Host", &host), ("Origin", &origin)]), 200);
    for other in [
        "evil.example",
        &format!("localhost:{port}"),
        "127.0.0.1",
        "127.0.0.1:1",
        "",
    ] {
        assert_eq!(with(&[("Host", other)]), 403, "host {other}");
    }
    assert_eq!(with(&[("Host", &host), ("Host", "evil.example")]), 403);
    for other in [
        "http://evil.example",
        "null",
        &format!("https://{host}"),
        &format!("{origin}0"),
        "",
    ] {
        assert_eq!(
            with(&[("Host", &host), ("Origin", other)]),
            403,
            "origin {other}"
        );
    }
    let mut phone = Phone::scans(&scene.url());
    phone.greets();
    let question = phone.sealed("week", json!({}), b"");
    let foreign = [("Host", host.as_str()), ("Origin", "http://evil.example")];
    assert_eq!(
        wire::send(&host, "POST /sealed HTTP/1.1", &foreign, &question).status,
        403
    );
    assert_eq!(
        phone.sends_again(&question).status,
        200,
        "what was turned away was not heard"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn there_is_nothing_but_the_page_and_the_sealed_questions() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    for (request, status) in [
        ("GET / HTTP/1.1", 200),
        ("GET /phone.html HTTP/1.1", 404),
        ("GET /sealed HTTP/1.1", 404),
        ("GET /?x HTTP/1.1", 403),
        ("GET /assets HTTP/1.1", 404),
        ("GET /assets/ HTTP/1.1", 404),
        ("GET /assets/../phone.html HTTP/1.1", 404),
        ("GET /assets/../../../../Cargo.toml HTTP/1.1", 404),
        ("GET /call/pupils HTTP/1.1", 404),
        ("POST /call/pupils HTTP/1.1", 404),
        ("POST / HTTP/1.1", 405),
        ("DELETE /sealed HTTP/1.1", 405),
        ("OPTIONS /sealed HTTP/1.1", 405),
        ("POST /sealed HTTP/1.1", 400),
    ] {
        let answer = wire::send(&host, request, &[("Host", &host)], b"");
        assert_eq!(answer.status, status, "{request}");
        let head = answer.head.to_ascii_lowercase();
        for wanted in [
            "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'; img-src blob: data:; ",
            "cache-control: no-store",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
        ] {
            assert!(head.contains(wanted), "{request} lacks {wanted}: {head}");
        }
        for never in ["set-cookie", "access-control-allow", "server:"] {
            assert!(!head.contains(never), "{request} has {never}");
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn sizes_are_bounded_before_anything_is_taken_in() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    let says = |length: &str| {
        let headers = [("Host", host.as_str()), ("Content-Length", length)];
        wire::send_as_it_is(&host, "POST /sealed HTTP/1.1", &headers, b"").status
    };
    // 40 MiB in steps of 64 KiB, one step more for what goes with it, and what sealing adds.
    assert_eq!(says("42008622"), 413);
    assert_eq!(says("42008621"), 403, "no phone has greeted");
    assert_eq!(says("99999999999999"), 413);
    assert_eq!(
        says("1000000"),
        403,
        "no phone has greeted, so no photograph is taken in"
    );
    let chunked = [("Host", host.as_str()), ("Transfer-Encoding", "chunked")];
    let answer = wire::send_as_it_is(
        &host,
        "POST /sealed HTTP/1.1",
        &chunked,
        b"5\r\nabcde\r\n0\r\n\r\n",
    );
    assert_eq!(answer.status, 411);
}

#[tokio::test(flavor = "multi_thread")]
async fn who_asks_too_often_waits() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    let asked: Vec<u16> = (0..80)
        .map(|_| wire::send(&host, "GET /none HTTP/1.1", &[("Host", &host)], b"").status)
        .collect();
    assert_eq!(asked[..40], [404; 40]);
    assert!(asked.contains(&429), "{asked:?}");
}

#[tokio::test(flavor = "multi_thread")]
async fn it_is_bound_to_its_one_address() {
    let scene = Scene::new().await;
    let host = wire::host(&scene.url());
    let port = host.rsplit_once(':').unwrap().1;
    assert!(host.starts_with("127.0.0.1:"));
    if cfg!(target_os = "linux") {
        // The whole of 127/8 is this machine there (RFC 1122, 3.2.1.3).
        assert!(wire::refused(&format!("http://127.0.0.2:{port}/#")));
    }
}
