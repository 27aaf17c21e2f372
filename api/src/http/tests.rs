//! Each route and each error row, in process.

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use actix_web::body::MessageBody;
use actix_web::dev::{Service as _, ServiceResponse};
use actix_web::http::Method;
use actix_web::test::{TestRequest, init_service, read_body};
use actix_web::{Error, web};
use serde_json::{Value, json};

use super::state::{Service, Settings};
use super::{app, checked, document, document_text};
use crate::jobs::{QueueLimits, Sqlite};

const MISSING: &str = "ffffffffffffffffffffffffffffffff";

fn settings() -> Settings {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let name = format!("loopwright-http-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
    let folder = std::env::temp_dir().join(name);
    std::fs::create_dir_all(&folder).unwrap();
    Settings {
        address: ([127, 0, 0, 1], 0).into(),
        store: folder.join("store"),
        queue: QueueLimits { workers: 1, waiting: 2, finished: 10, starts: 3 },
        documents: 2,
        longest: Duration::from_secs(60),
        body: 100_000,
        rate: std::num::NonZeroU32::new(10_000).unwrap(),
        timeout: Duration::from_secs(60),
        token: None,
        origins: Vec::new(),
    }
}

fn service(settings: Settings) -> web::Data<Service> {
    let store = Sqlite::open(&settings.store).unwrap();
    web::Data::new(Service::new(Arc::new(store), settings).unwrap())
}

fn cell() -> Value {
    super::about::example_cell()
}

struct Answer {
    status: u16,
    head: actix_web::http::header::HeaderMap,
    text: String,
}

impl Answer {
    fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|e| panic!("{e}: {}", self.text))
    }

    fn head(&self, name: &str) -> &str {
        self.head.get(name).unwrap_or_else(|| panic!("no {name}")).to_str().unwrap()
    }

    /// A problem document that says what its status says.
    fn problem(&self, status: u16, code: &str) {
        assert_eq!(self.status, status, "{}", self.text);
        assert_eq!(self.head("content-type"), "application/problem+json");
        let problem = self.json();
        assert_eq!((problem["status"].as_u64(), problem["code"].as_str()), (Some(status.into()), Some(code)));
        assert!(problem["what_to_do"].as_str().is_some_and(|w| w.ends_with('.')), "{problem}");
    }
}

async fn call(service: &web::Data<Service>, request: TestRequest) -> Answer {
    let app = init_service(app(service.clone())).await;
    told(app.call(request.to_request()).await).await
}

async fn told<B: MessageBody>(response: Result<ServiceResponse<B>, Error>) -> Answer {
    match response {
        Ok(response) => {
            let (status, head) = (response.status().as_u16(), response.headers().clone());
            let body = read_body(response).await;
            Answer { status, head, text: String::from_utf8_lossy(&body).into_owned() }
        }
        Err(error) => {
            let response = error.error_response();
            let (status, head) = (response.status().as_u16(), response.headers().clone());
            let body = response.into_body().try_into_bytes().unwrap_or_default();
            Answer { status, head, text: String::from_utf8_lossy(&body).into_owned() }
        }
    }
}

fn get(path: &str) -> TestRequest {
    TestRequest::get().uri(path)
}

fn post(path: &str, body: &Value) -> TestRequest {
    TestRequest::post().uri(path).set_json(body)
}

#[test]
fn the_document_is_the_one_checked_in() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../openapi/loopwright.json");
    if std::env::var_os("LOOPWRIGHT_BLESS").is_some() {
        std::fs::write(&path, document_text()).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(
        kept == document_text(),
        "openapi/loopwright.json is not the document of these routes; refresh it with: \
         LOOPWRIGHT_BLESS=1 cargo test -p loopwright-api the_document_is_the_one_checked_in"
    );
}

/// Names of the types below a folder that derive `ToSchema`.
fn described(folder: &std::path::Path, names: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            described(&path, names);
        } else if path.extension().is_some_and(|e| e == "rs") {
            let text = std::fs::read_to_string(&path).unwrap();
            let mut derived = false;
            for line in text.lines() {
                derived |= line.starts_with("#[derive(") && line.contains("ToSchema");
                let mut words = line.split_whitespace().skip_while(|w| *w != "struct" && *w != "enum").skip(1);
                if let Some(name) =
                    words.next().filter(|_| derived && !line.starts_with('#') && !line.starts_with("//"))
                {
                    names.push(name.trim_end_matches(|c: char| !c.is_alphanumeric()).to_owned());
                    derived = false;
                }
            }
        }
    }
}

/// The API document knows types by their bare names, and of two with one name it keeps one without a word.
#[test]
fn no_two_described_types_share_a_name() {
    let mut names = Vec::new();
    described(&std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src"), &mut names);
    names.sort();
    assert!(names.len() > 100, "{}", names.len());
    let twice: Vec<&[String]> = names.windows(2).filter(|w| w[0] == w[1]).collect();
    assert!(twice.is_empty(), "{twice:?}");
}

/// Numbers of a schema that have no least value or no description, by their place.
fn unbounded(schema: &Value, at: &str, seen: &mut usize) -> Vec<String> {
    let number = |t: &Value| t == "number" || t == "integer";
    let is_number = number(&schema["type"]) || schema["type"].as_array().is_some_and(|types| types.iter().any(number));
    let bounded = schema.get("minimum").or(schema.get("exclusiveMinimum")).is_some();
    let mut found = Vec::new();
    if is_number {
        *seen += 1;
        if !bounded {
            found.push(at.to_owned());
        }
    }
    for (key, below) in schema["properties"].as_object().into_iter().flatten() {
        let place = format!("{at}.{key}");
        // What refers to a schema is described there; a tag has one value, which says it all.
        let elsewhere = below.to_string().contains("$ref") || below["enum"].as_array().is_some_and(|e| e.len() == 1);
        if !elsewhere && below["description"].as_str().is_none_or(str::is_empty) {
            found.push(format!("{place} (description)"));
        }
        found.extend(unbounded(below, &place, seen));
    }
    found.extend(schema.get("items").into_iter().flat_map(|below| unbounded(below, at, seen)));
    for key in ["allOf", "oneOf", "anyOf"] {
        found.extend(schema[key].as_array().into_iter().flatten().flat_map(|below| unbounded(below, at, seen)));
    }
    found
}

#[test]
fn every_field_is_described_and_every_number_bounded() {
    let document = serde_json::to_value(document()).unwrap();
    let mut seen = 0;
    let schemas = document["components"]["schemas"].as_object().unwrap();
    let found: Vec<String> = schemas.iter().flat_map(|(name, schema)| unbounded(schema, name, &mut seen)).collect();
    assert_eq!(found, Vec::<String>::new());
    assert!(seen > 100, "{seen}");
}

#[test]
fn every_operation_is_described_and_says_its_errors() {
    let document = serde_json::to_value(document()).unwrap();
    assert!(document["openapi"].as_str().unwrap().starts_with("3.1"));
    let mut seen = 0;
    for (path, item) in document["paths"].as_object().unwrap() {
        for (method, operation) in item.as_object().unwrap() {
            let at = format!("{method} {path}");
            for key in ["summary", "description", "operationId"] {
                assert!(operation[key].as_str().is_some_and(|s| !s.is_empty()), "{at} has no {key}");
            }
            for status in ["400", "401", "408", "413", "415", "429", "500", "503"] {
                let content = &operation["responses"][status]["content"]["application/problem+json"];
                assert!(content.is_object(), "{at} does not describe {status}");
            }
            if operation["requestBody"].is_object() {
                assert!(operation["requestBody"]["content"]["application/json"]["example"].is_object(), "{at}");
            }
            seen += 1;
        }
    }
    assert_eq!(seen, 35);
}

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
    let cell = crate::read_cell(include_bytes!("../../../examples/pouch-changes.yaml")).unwrap().wire;
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
    let asked = super::about::example_print();
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
async fn yaml_is_taken_and_other_media_are_not() {
    let service = service(settings());
    let yaml = TestRequest::post().uri("/v1/check").insert_header(("content-type", "application/yaml"));
    call(&service, yaml.set_payload("format: 1\nname: x\n")).await.problem(422, "LW-MISSING-KEY");
    let image = TestRequest::post().uri("/v1/check").insert_header(("content-type", "image/png"));
    call(&service, image.set_payload("x")).await.problem(415, "LW-MEDIA-TYPE");
}

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
    super::about::count();
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
