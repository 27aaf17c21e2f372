//! Routes that check, plan, simulate, compare and print; jobs followed, cancelled and refused.

use std::time::Duration;

use serde_json::{Value, json};

use super::super::about;
use super::{MISSING, call, cell, get, post, service, settings};

#[actix_web::test]
async fn carriers_are_traced() {
    let service = service(settings());
    let planned = call(&service, post("/v1/plan?wait_s=30", &cell())).await.json();
    let traced = call(&service, post("/v1/trace", &json!({"cell": cell(), "plan": planned, "duration_s": 20}))).await;
    assert_eq!(traced.status, 200, "{}", traced.text);
    let carriers = planned["circuits"][0]["carriers"].as_u64().unwrap() as usize;
    assert_eq!(traced.json()["carriers"].as_array().unwrap().len(), carriers);
    let wrong = |key: &str, value: Value| json!({"cell": cell(), "plan": planned, key: value});
    call(&service, post("/v1/trace", &wrong("sku", "none".into()))).await.problem(422, "LW-UNKNOWN-ID");
    call(&service, post("/v1/trace", &wrong("duration_s", 0.into()))).await.problem(422, "LW-OUT-OF-RANGE");
}

#[actix_web::test]
async fn plans_are_simulated() {
    let service = service(settings());
    let planned = call(&service, post("/v1/plan?wait_s=30", &cell())).await.json();
    let run = json!({"hours": 0.5, "most_replications": 12});
    let asked = |run: Value, plan: Value| json!({"cell": cell(), "plan": plan, "run": run});
    let done = call(&service, post("/v1/simulate?wait_s=30", &asked(run, planned.clone()))).await;
    assert_eq!(done.status, 200, "{}", done.text);
    let skus = cell()["skus"].as_array().unwrap().len();
    assert_eq!(done.json()["skus"].as_array().unwrap().len(), skus);
    let wrong = asked(json!({"hours": 0}), planned.clone());
    call(&service, post("/v1/simulate", &wrong)).await.problem(422, "LW-OUT-OF-RANGE");
    let no_plan = call(&service, post("/v1/simulate", &asked(json!({}), json!({"format": 1})))).await;
    assert_eq!(no_plan.status, 422, "{}", no_plan.text);
}

#[actix_web::test]
async fn compare_sweep_explain() {
    let service = service(settings());
    let variants = json!([{"name": "faster", "changes": [{"at": "rate", "times": 1.05}]}]);
    let asked = json!({"cell": cell(), "variants": variants, "usual": false});
    let compared = call(&service, post("/v1/compare?wait_s=30", &asked)).await;
    assert_eq!(compared.status, 200, "{}", compared.text);
    assert_eq!(compared.json()["variants"].as_array().unwrap().len(), 2);
    let wrong = json!({"cell": cell(), "variants": [{"name": "odd", "changes": [{"at": "stations/none/x", "to": 1}]}]});
    call(&service, post("/v1/compare", &wrong)).await.problem(422, "LW-BAD-CHANGE");

    let asked = json!({"cell": cell(), "axes": [{"at": "rate", "from": 0.9, "to": 1.0, "points": 2}]});
    let swept = call(&service, post("/v1/sweep?wait_s=30", &asked)).await;
    assert_eq!(swept.status, 200, "{}", swept.text);
    let points = swept.json()["points"].clone();
    let area = |i: usize| points[i]["plan"]["footprint"]["area_m2"].as_f64().unwrap();
    assert!(area(0) <= area(1), "{points}");
    let wrong = json!({"cell": cell(), "axes": [{"at": "rate", "from": 0.9, "to": 1.0, "points": 0}]});
    call(&service, post("/v1/sweep", &wrong)).await.problem(422, "LW-OUT-OF-RANGE");

    let explained = call(&service, post("/v1/explain?wait_s=30&time_limit_s=30", &json!({"cell": cell()}))).await;
    assert_eq!((explained.status, explained.json()["kind"].as_str()), (200, Some("helped")), "{}", explained.text);
    call(&service, post("/v1/explain", &json!({"cell": cell(), "step": 2}))).await.problem(422, "LW-OUT-OF-RANGE");
    call(&service, post("/v1/explain", &json!({"cell": cell(), "stop": 2}))).await.problem(422, "LW-WRONG-TYPE");
    let wrong = call(&service, post("/v1/explain", &json!({"cell": {"format": 1}}))).await;
    assert!(wrong.text.contains("\"/cell"), "{}", wrong.text);
}

/// A comparison whose plans are simulated, against simulating the plan; and what is refused, all at once, by its place.
#[actix_web::test]
async fn variants_are_simulated() {
    let service = service(settings());
    let run = json!({"hours": 0.5, "most_replications": 12, "seed": 5});
    let changes =
        json!([{"at": "stations/*/failures", "to": {"mean_time_between_s": 600, "mean_time_to_repair_s": 60}}]);
    let variants = json!([{"name": "fails", "changes": changes}]);
    let asked = json!({"cell": cell(), "variants": variants, "usual": false, "simulate": run});
    let compared = call(&service, post("/v1/compare?wait_s=30", &asked)).await;
    assert_eq!(compared.status, 200, "{}", compared.text);
    let compared = compared.json();
    assert_eq!(compared["simulated"]["run"]["seed"], 5);
    let planned = call(&service, post("/v1/plan?wait_s=30", &cell())).await.json();
    let asked = json!({"cell": cell(), "plan": planned, "run": run});
    let simulated = call(&service, post("/v1/simulate?wait_s=30", &asked)).await.json();
    let (both, own) = (&compared["variants"], &simulated["skus"]);
    for (i, sku) in own.as_array().unwrap().iter().enumerate() {
        let calm = &both[0]["simulated"]["skus"][i];
        assert_eq!((&calm["efficiency"], &calm["net_rate_per_min"]), (&sku["efficiency"], &sku["net_rate_per_min"]));
        let fails = &both[1]["simulated"]["skus"][i];
        assert!(fails["efficiency"]["mean"].as_f64() < calm["efficiency"]["mean"].as_f64(), "{both}");
    }
    let wrong = json!({"cell": cell(), "simulate": {"hours": 2000, "half_width": 0, "sku": "none"},
        "variants": [{"name": "odd", "changes": [{"at": "stations/none/x", "to": 1}]}]});
    let refused = call(&service, post("/v1/compare", &wrong)).await;
    assert_eq!(refused.status, 422, "{}", refused.text);
    let found = refused.json()["findings"].clone();
    let places: Vec<&str> = found.as_array().unwrap().iter().map(|f| f["pointer"].as_str().unwrap()).collect();
    assert_eq!(places, ["/simulate/hours", "/simulate/half_width", "/simulate/sku", "/variants/0/changes"]);
    let odd = json!({"cell": cell(), "simulate": {"ours": 1}});
    call(&service, post("/v1/compare", &odd)).await.problem(422, "LW-WRONG-TYPE");
}

/// A front as a job, followed to its end: its share of the work never falls, and its result is the front.
#[actix_web::test]
async fn a_front_runs_to_its_end() {
    let service = service(settings());
    let taken = call(&service, post("/v1/front?wait_s=0&time_limit_s=60", &json!({"cell": cell()}))).await;
    assert!([200, 202].contains(&taken.status), "{}", taken.text);
    let list = call(&service, get("/v1/jobs")).await.json();
    let id = list["items"][0]["id"].as_str().unwrap().to_owned();
    let events = call(&service, get(&format!("/v1/jobs/{id}/events"))).await;
    assert!(events.text.contains("event: end\n"), "{}", events.text);
    let told: Vec<Value> =
        events.text.lines().filter_map(|l| serde_json::from_str(l.strip_prefix("data:")?.trim()).ok()).collect();
    let shares: Vec<f64> = told
        .iter()
        .filter_map(|job| Some(job["progress"]["round"].as_f64()? / job["progress"]["rounds"].as_f64()?))
        .collect();
    assert!(shares.windows(2).all(|w| w[0] <= w[1]), "{shares:?}");
    let job = call(&service, get(&format!("/v1/jobs/{id}"))).await.json();
    assert_eq!((job["state"].as_str(), job["kind"].as_str()), (Some("done"), Some("front")), "{job}");
    let front = call(&service, get(job["result"].as_str().unwrap())).await.json();
    assert_eq!(front["complete"], true, "{front}");
    let sizes: Vec<[f64; 3]> = front["plans"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| [&p["footprint"]["area_m2"], &p["carriers"], &p["price"]].map(|n| n.as_f64().unwrap()))
        .collect();
    assert!(!sizes.is_empty());
    for a in &sizes {
        assert!(!sizes.iter().any(|b| a != b && (0..3).all(|i| b[i] <= a[i])), "{sizes:?}");
    }
    // The first is the plan of least floor.
    let planned = call(&service, post("/v1/plan?wait_s=30", &cell())).await.json();
    assert_eq!(front["plans"][0]["footprint"], planned["footprint"]);
    let mut reach = cell();
    reach["requirements"]["reach_net_rate"] = json!({});
    call(&service, post("/v1/front", &json!({"cell": reach}))).await.problem(422, "LW-KEYS-CLASH");
}

#[actix_web::test]
async fn changes_are_worked_out() {
    let service = service(settings());
    let cell = crate::read_cell(include_bytes!("../../../../examples/pouch-changes.yaml")).unwrap().wire;
    let cell = serde_json::to_value(&cell).unwrap();
    let answer = call(&service, post("/v1/changeover?wait_s=30&time_limit_s=20", &json!({"cell": cell}))).await;
    assert_eq!((answer.status, answer.json()["status"].as_str()), (200, Some("worked_out")), "{}", answer.text);
    let (plan, whole) = (answer.json()["plan"].clone(), answer.json()["changeover"].clone());
    let skus = whole["skus"].as_array().unwrap();
    assert_eq!(whole["matrix_s"].as_array().unwrap().len(), skus.len());
    // On the plan that was given, with one change in full.
    let (from, to) = (&skus[0]["id"], &skus[1]["id"]);
    let mut asked = json!({"cell": cell, "plan": plan, "from": from, "to": to});
    let again = call(&service, post("/v1/changeover?wait_s=30", &asked)).await.json();
    assert!(again["plan"].is_null());
    assert_eq!(again["changeover"]["matrix_s"], whole["matrix_s"]);
    let full = again["changeover"]["changes"].as_array().unwrap();
    assert!(full.iter().any(|c| c["from"] == *from && c["to"] == *to));

    asked["from"] = "none".into();
    call(&service, post("/v1/changeover", &asked)).await.problem(422, "LW-UNKNOWN-ID");
    asked["from"] = Value::Null;
    call(&service, post("/v1/changeover", &asked)).await.problem(422, "LW-MISSING-KEY");
    let wrong = call(&service, post("/v1/changeover", &json!({"cell": cell, "plan": {"circuits": 1}}))).await;
    assert!(wrong.status == 422 && wrong.text.contains("\"/plan"), "{}", wrong.text);
}

#[actix_web::test]
async fn check_plan_judge() {
    let service = service(settings());
    let good = call(&service, post("/v1/check", &cell())).await;
    assert_eq!((good.status, good.json()["status"].as_str()), (200, Some("good")));
    call(&service, post("/v1/check", &json!({"format": 1}))).await.problem(422, "LW-MISSING-KEY");

    let planned = call(&service, post("/v1/plan?wait_s=30", &cell())).await;
    assert_eq!(planned.status, 200, "{}", planned.text);
    // The same bytes as on the command line, and again.
    let document = crate::read_cell(cell().to_string().as_bytes()).unwrap();
    let cancel = std::sync::atomic::AtomicBool::new(false);
    let crate::PlanAnswer::Answer(plan) = crate::plan_document(&document, Duration::from_secs(10), &cancel) else {
        panic!("a fault")
    };
    assert_eq!(planned.text, serde_json::to_string_pretty(&plan).unwrap() + "\n");
    assert_eq!(call(&service, post("/v1/plan?wait_s=30", &cell())).await.text, planned.text);

    let asked = json!({"cell": cell(), "plan": planned.json()});
    let judged = call(&service, post("/v1/judge", &asked)).await;
    assert_eq!((judged.status, judged.json()["status"].as_str()), (200, Some("holds")), "{}", judged.text);
    let wrong = call(&service, post("/v1/judge", &json!({"cell": {"format": 1}, "plan": {}}))).await;
    assert_eq!(wrong.status, 422);
    assert!(wrong.json()["findings"][0]["pointer"].as_str().unwrap().starts_with("/cell"));
    call(&service, post("/v1/judge", &json!({"cell": 1}))).await.problem(400, "LW-BAD-REQUEST");
}

#[actix_web::test]
async fn plans_are_printed() {
    let service = service(settings());
    let asked = about::example_print();
    let drawn = call(&service, post("/v1/print/drawing.svg", &asked)).await;
    assert_eq!((drawn.status, drawn.head("content-type")), (200, "image/svg+xml; charset=utf-8"), "{}", drawn.text);
    assert!(drawn.text.starts_with("<svg ") && drawn.head("content-security-policy").contains("'unsafe-inline'"));
    let rates = call(&service, post("/v1/carriers", &asked)).await;
    assert_eq!((rates.status, rates.json()["carriers"].as_u64()), (200, Some(7)), "{}", rates.text);
    for (name, media, begins) in [
        ("drawing.dxf", "image/vnd.dxf", "  0"),
        ("time-distance.svg", "image/svg+xml; charset=utf-8", "<svg "),
        ("load.svg", "image/svg+xml; charset=utf-8", "<svg "),
        ("rate.svg", "image/svg+xml; charset=utf-8", "<svg "),
        ("report.html", "text/html; charset=utf-8", "<!DOCTYPE html>"),
        #[cfg(feature = "pdf")]
        ("report.pdf", "application/pdf", "%PDF-"),
        ("workbook.xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "PK"),
    ] {
        let printed = call(&service, post(&format!("/v1/print/{name}"), &asked)).await;
        assert_eq!((printed.status, printed.head("content-type")), (200, media), "{}", printed.text);
        assert!(printed.text.starts_with(begins), "{name}");
    }
    call(&service, post("/v1/print/poster.png", &asked)).await.problem(404, "LW-NOT-FOUND");
    let with = |key: &str, value: Value| {
        let mut asked = asked.clone();
        asked[key] = value;
        post("/v1/print/drawing.svg", &asked)
    };
    call(&service, with("plan", json!({"format": 1}))).await.problem(422, "LW-CANNOT-DRAW");
    call(&service, with("sku", json!("none"))).await.problem(422, "LW-UNKNOWN-ID");
    call(&service, with("company", json!("a\nb"))).await.problem(422, "LW-BAD-TEXT");
    call(&service, with("logo", json!("https://example.com/logo.png"))).await.problem(422, "LW-BAD-TEXT");
    call(&service, with("sources", json!({"/nothing": "measured"}))).await.problem(422, "LW-UNKNOWN-ID");
    // Charts of documents that are handed back: none, one of another plan, and the right one.
    let mut played = asked.clone();
    call(&service, post("/v1/print/net-rate.svg", &played)).await.problem(422, "LW-CANNOT-DRAW");
    call(&service, post("/v1/print/sweep.svg", &played)).await.problem(422, "LW-CANNOT-DRAW");
    let run = json!({"cell": asked["cell"], "plan": asked["plan"], "run": {"hours": 0.2, "most_replications": 2, "least_replications": 2}});
    played["simulation"] = call(&service, post("/v1/simulate?wait_s=20", &run)).await.json();
    for name in ["states.svg", "net-rate.svg"] {
        let drawn = call(&service, post(&format!("/v1/print/{name}"), &played)).await;
        assert!(drawn.status == 200 && drawn.text.contains("lw-chart"), "{}", drawn.text);
    }
    played["simulation"]["circuit"] = json!("another");
    call(&service, post("/v1/print/report.html", &played)).await.problem(422, "LW-CANNOT-DRAW");
    // Pictures of changes: none, the right ones, a pair that is not there in full, half a pair.
    let mut changed = asked.clone();
    call(&service, post("/v1/print/order.svg", &changed)).await.problem(422, "LW-CANNOT-DRAW");
    let ask = json!({"cell": asked["cell"], "plan": asked["plan"]});
    changed["changeover"] = call(&service, post("/v1/changeover?wait_s=20", &ask)).await.json();
    let drawn = call(&service, post("/v1/print/changes.svg", &changed)).await;
    assert!(drawn.status == 200 && drawn.text.contains("lw-changes"), "{}", drawn.text);
    changed["from"] = json!("none");
    call(&service, post("/v1/print/change.svg", &changed)).await.problem(422, "LW-MISSING-KEY");
    changed["to"] = json!("none");
    call(&service, post("/v1/print/change.svg", &changed)).await.problem(422, "LW-CANNOT-DRAW");
    // A trace of another loop, and one that is handed back.
    let mut traced = asked.clone();
    traced["trace"] =
        call(&service, post("/v1/trace", &json!({"cell": asked["cell"], "plan": asked["plan"]}))).await.json();
    let drawn = call(&service, post("/v1/print/time-distance.svg", &traced)).await;
    assert_eq!(drawn.status, 200, "{}", drawn.text);
    for (key, value) in
        [("loop_length_m", json!(1.0)), ("sku", json!("none")), ("duration_s", json!(-1.0)), ("zones", json!([]))]
    {
        let mut other = traced.clone();
        other["trace"][key] = value;
        call(&service, post("/v1/print/report.html", &other)).await.problem(422, "LW-CANNOT-DRAW");
    }
    let mut short = asked.clone();
    short["plan"]["circuits"][0]["straight_m"] = json!(0.5);
    call(&service, post("/v1/print/drawing.svg", &short)).await.problem(422, "LW-CANNOT-DRAW");
    assert!(call(&service, get("/drawing.css")).await.text.contains(".lw-drawing"));
}

#[actix_web::test]
async fn a_job_is_followed_to_its_end() {
    let service = service(settings());
    let taken = call(&service, post("/v1/plan?wait_s=0", &cell())).await;
    assert!([200, 202].contains(&taken.status), "{}", taken.text);
    let list = call(&service, get("/v1/jobs")).await.json();
    let id = list["items"][0]["id"].as_str().unwrap().to_owned();
    // The stream ends by itself, with the job as it ended.
    let events = call(&service, get(&format!("/v1/jobs/{id}/events"))).await;
    assert_eq!(events.head("content-type"), "text/event-stream");
    assert!(events.text.contains("event: end\n"), "{}", events.text);
    let job = call(&service, get(&format!("/v1/jobs/{id}"))).await.json();
    assert_eq!((job["state"].as_str(), job["kind"].as_str()), (Some("done"), Some("plan")));
    let result = call(&service, get(job["result"].as_str().unwrap())).await;
    assert_eq!(result.json()["status"], "planned");
    let tag = result.head("etag").to_owned();
    let again = get(&format!("/v1/jobs/{id}/result")).insert_header(("if-none-match", tag));
    assert_eq!(call(&service, again).await.status, 304);
    let after = call(&service, post(&format!("/v1/jobs/{id}/cancel"), &json!(null))).await;
    assert_eq!(after.json()["state"], "done");
    for path in
        [format!("/v1/jobs/{MISSING}"), format!("/v1/jobs/{MISSING}/result"), format!("/v1/jobs/{MISSING}/events")]
    {
        call(&service, get(&path)).await.problem(404, "LW-NOT-FOUND");
    }
    let cancel = format!("/v1/jobs/{MISSING}/cancel");
    call(&service, post(&cancel, &json!(null))).await.problem(404, "LW-NOT-FOUND");
}

#[actix_web::test]
async fn keys_and_a_full_queue() {
    let mut settings = settings();
    // Nobody works: what is submitted waits.
    settings.queue.workers = 0;
    let service = service(settings);
    let with = |key: &'static str, limit: u32| {
        post(&format!("/v1/plan?wait_s=0&time_limit_s={limit}"), &cell()).insert_header(("idempotency-key", key))
    };
    let first = call(&service, with("a", 1)).await;
    assert_eq!((first.status, first.json()["state"].as_str()), (202, Some("queued")));
    assert_eq!(call(&service, with("a", 1)).await.head("location"), first.head("location"));
    call(&service, with("a", 2)).await.problem(409, "LW-KEY-REUSED");
    call(&service, with("", 2)).await.problem(400, "LW-BAD-REQUEST");
    assert_eq!(call(&service, with("b", 1)).await.status, 202);
    let full = call(&service, with("c", 1)).await;
    full.problem(503, "LW-QUEUE-FULL");
    assert_eq!(full.head("retry-after"), "5");
    let place = first.head("location");
    call(&service, get(&format!("{place}/result"))).await.problem(409, "LW-NO-RESULT");
    let cancelled = call(&service, post(&format!("{place}/cancel"), &json!(null))).await;
    assert_eq!(cancelled.json()["state"], "cancelled");
    let of_state = call(&service, get("/v1/jobs?state=queued&limit=1")).await.json();
    assert_eq!(of_state["items"].as_array().unwrap().len(), 1);
}
