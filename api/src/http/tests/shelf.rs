//! Plans and cells that are kept.

use actix_web::test::TestRequest;
use serde_json::json;

use super::{MISSING, call, cell, get, post, service, settings};

#[actix_web::test]
async fn a_cell_is_kept_from_yaml() {
    let service = service(settings());
    let yaml = |text: &'static str| {
        TestRequest::post().uri("/v1/cells").insert_header(("content-type", "application/yaml")).set_payload(text)
    };
    let kept = call(&service, yaml("# of a file\nname: Jars\nskus:\n  - { id: a, note: \"5\" }\n")).await;
    assert_eq!(kept.status, 201, "{}", kept.text);
    let kept = kept.json();
    assert_eq!((&kept["name"], &kept["cell"]["skus"][0]["note"]), (&json!("Jars"), &json!("5")));
    let nameless = call(&service, yaml("format: 1\n")).await.json();
    assert_eq!(nameless["name"], "Cell without a name");
    call(&service, yaml("name: a\nname: b\n")).await.problem(422, "LW-DUPLICATE-KEY");
    call(&service, yaml("name: [\n")).await.problem(422, "LW-SYNTAX");
    call(&service, yaml("- 1\n")).await.problem(422, "LW-WRONG-TYPE");
}

#[actix_web::test]
async fn plans_are_kept() {
    let service = service(settings());
    let planned = call(&service, post("/v1/plan?wait_s=30", &cell())).await;
    let id = planned.head("content-location").split('/').nth(3).unwrap().to_owned();
    let kept = call(&service, post("/v1/plans", &json!({"name": "first", "job": id}))).await;
    assert_eq!(kept.status, 201, "{}", kept.text);
    let place = kept.head("location").to_owned();
    let read = call(&service, get(&place)).await;
    assert_eq!((read.json()["plan"].clone(), read.json()["cell"].clone()), (planned.json(), cell()));
    let rename = || TestRequest::put().uri(&format!("{place}/name")).set_json(json!({"name": "second"}));
    call(&service, rename()).await.problem(428, "LW-MATCH-REQUIRED");
    call(&service, rename().insert_header(("if-match", "\"r9\""))).await.problem(412, "LW-STALE");
    let named = call(&service, rename().insert_header(("if-match", "\"r1\""))).await;
    assert_eq!((named.status, named.head("etag"), &named.json()["name"]), (200, "\"r2\"", &json!("second")));
    assert_eq!(call(&service, get(&place).insert_header(("if-none-match", "\"r2\""))).await.status, 304);
    assert_eq!(call(&service, get("/v1/plans")).await.json()["items"][0]["name"], "second");
    let unknown = json!({"name": "x", "job": MISSING});
    call(&service, post("/v1/plans", &unknown)).await.problem(404, "LW-NOT-FOUND");
    call(&service, post("/v1/plans", &json!({"name": "\n", "job": id}))).await.problem(422, "LW-BAD-TEXT");
}

#[actix_web::test]
async fn cells_are_kept_replaced_deleted_and_put_back() {
    let service = service(settings());
    let kept = call(&service, post("/v1/cells", &json!({"name": "a", "cell": {"draft": true}}))).await;
    let place = kept.head("location").to_owned();
    let put = |revision: &'static str| {
        let new = json!({"name": "b", "cell": {"draft": false}});
        TestRequest::put().uri(&place).set_json(new).insert_header(("if-match", revision))
    };
    assert_eq!(call(&service, put("\"r1\"")).await.json()["cell"]["draft"], false);
    call(&service, put("\"r1\"")).await.problem(412, "LW-STALE");
    call(&service, post("/v1/cells", &json!({"name": "b", "cell": 1}))).await.problem(422, "LW-WRONG-TYPE");
    call(&service, post("/v1/cells", &json!({"name": "c", "cell": {}}))).await;
    call(&service, post("/v1/cells", &json!({"name": "d", "cell": {}}))).await.problem(503, "LW-SHELF-FULL");
    let part = call(&service, get("/v1/cells?limit=1")).await.json();
    assert_eq!(part["items"][0]["name"], "c");
    let rest = call(&service, get(&format!("/v1/cells?limit=1&before={}", part["next_before"]))).await.json();
    assert_eq!(rest["items"][0]["name"], "b");
    assert_eq!(call(&service, TestRequest::delete().uri(&place)).await.status, 204);
    call(&service, get(&place)).await.problem(404, "LW-NOT-FOUND");
    call(&service, TestRequest::delete().uri(&place)).await.problem(404, "LW-NOT-FOUND");
    let back = call(&service, post(&format!("{place}/restore"), &json!(null))).await;
    assert_eq!((back.status, back.json()["revision"].as_i64()), (200, Some(4)));
}
