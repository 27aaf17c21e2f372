//! What every request passes: media, limits, tokens, origins; pages and health.

use std::time::Duration;

use actix_web::http::Method;
use actix_web::test::TestRequest;

use super::super::state::Settings;
use super::super::{about, checked, document_text};
use super::{call, cell, get, post, service, settings};

#[actix_web::test]
async fn yaml_is_taken_and_other_media_are_not() {
    let service = service(settings());
    let yaml = TestRequest::post().uri("/v1/check").insert_header(("content-type", "application/yaml"));
    call(&service, yaml.set_payload("format: 1\nname: x\n")).await.problem(422, "LW-MISSING-KEY");
    let image = TestRequest::post().uri("/v1/check").insert_header(("content-type", "image/png"));
    call(&service, image.set_payload("x")).await.problem(415, "LW-MEDIA-TYPE");
}

#[actix_web::test]
async fn what_is_refused_is_a_problem_document() {
    let service = service(settings());
    call(&service, get("/v1/nothing")).await.problem(404, "LW-NOT-FOUND");
    let wrong = call(&service, TestRequest::default().method(Method::PATCH).uri("/v1/plans/x")).await;
    wrong.problem(405, "LW-METHOD");
    assert_eq!(wrong.head("allow"), "GET, DELETE");
    for path in ["/v1/jobs?limit=0", "/v1/jobs?limit=many", "/v1/jobs?state=lost", "/v1/plans?page=2"] {
        call(&service, get(path)).await.problem(400, "LW-BAD-REQUEST");
    }
    for path in ["/v1/plan?wait_s=31", "/v1/plan?wait_s=NaN", "/v1/plan?time_limit_s=-1"] {
        call(&service, post(path, &cell())).await.problem(400, "LW-BAD-REQUEST");
    }
    let large = TestRequest::post().uri("/v1/check").insert_header(("content-type", "application/json"));
    call(&service, large.set_payload(" ".repeat(100_001))).await.problem(413, "LW-BODY-TOO-LARGE");
    let binary = TestRequest::post().uri("/v1/check").set_payload(vec![0xFF]);
    call(&service, binary).await.problem(422, "LW-NOT-TEXT");
}

#[actix_web::test]
async fn token_rate_and_time() {
    let token = "0123456789abcdef".to_owned();
    let guarded = service(Settings { token: Some(token.clone()), ..settings() });
    let refused = call(&guarded, get("/v1/jobs")).await;
    refused.problem(401, "LW-UNAUTHORIZED");
    assert_eq!(refused.head("www-authenticate"), "Bearer");
    let shown = |word: &str| get("/v1/jobs").insert_header(("authorization", format!("Bearer {word}")));
    call(&guarded, shown("wrong")).await.problem(401, "LW-UNAUTHORIZED");
    assert_eq!(call(&guarded, shown(&token)).await.status, 200);
    assert_eq!(call(&guarded, get("/livez")).await.status, 200);

    let slow = service(Settings { rate: std::num::NonZeroU32::MIN, ..settings() });
    let from = || get("/v1/examples").peer_addr(([127, 0, 0, 1], 9).into());
    assert_eq!(call(&slow, from()).await.status, 200);
    call(&slow, from()).await.problem(429, "LW-TOO-MANY-REQUESTS");

    let mut short = Settings { timeout: Duration::ZERO, ..settings() };
    short.queue.workers = 0;
    let short = service(short);
    call(&short, post("/v1/plan?wait_s=30", &cell())).await.problem(408, "LW-TIMEOUT");
}

#[test]
fn others_need_a_token() {
    let open = Settings { address: ([0, 0, 0, 0], 8080).into(), ..settings() };
    assert!(checked(open.clone()).unwrap_err().what_to_do.contains("token"));
    assert!(checked(Settings { token: Some("short".to_owned()), ..settings() }).is_err());
    assert!(checked(Settings { token: Some("0123456789abcdef".to_owned()), ..open }).is_ok());
}

#[actix_web::test]
async fn pages_health_and_examples() {
    about::count();
    let service = service(settings());
    let index = call(&service, get("/")).await;
    assert!(index.text.contains("not a release to build"));
    assert!(call(&service, get("/page/main.js")).await.head("content-type").starts_with("text/javascript"));
    call(&service, get("/page/none.js")).await.problem(404, "LW-NOT-FOUND");
    assert!(index.head("content-security-policy").starts_with("default-src 'none'"));
    assert!(!index.head.contains_key("access-control-allow-origin"));
    assert_eq!(call(&service, get("/explorer/")).await.status, 200);
    assert_eq!(call(&service, get("/openapi.json")).await.text, document_text());
    for path in ["/livez", "/readyz"] {
        assert_eq!(call(&service, get(path)).await.json()["status"], "ok");
    }
    assert!(call(&service, get("/metrics")).await.text.contains("loopwright_http_requests_total"));
    let given = get("/livez").insert_header(("x-request-id", "mine"));
    assert_eq!(call(&service, given).await.head("x-request-id"), "mine");
    let list = call(&service, get("/v1/examples")).await.json();
    assert!(list["items"].as_array().unwrap().len() > 5);
    for example in list["items"].as_array().unwrap() {
        let cell = call(&service, get(example["cell"].as_str().unwrap())).await;
        assert_eq!(call(&service, post("/v1/check", &cell.json())).await.status, 200);
    }
    call(&service, get("/v1/examples/none")).await.problem(404, "LW-NOT-FOUND");
}

#[actix_web::test]
async fn other_origins_are_let_in_by_name_only() {
    let service = service(Settings { origins: vec!["https://a.example".to_owned()], ..settings() });
    let from = |origin: &'static str| get("/v1/examples").insert_header(("origin", origin));
    assert_eq!(
        call(&service, from("https://a.example")).await.head("access-control-allow-origin"),
        "https://a.example"
    );
    assert!(!call(&service, from("https://b.example")).await.head.contains_key("access-control-allow-origin"));
}
