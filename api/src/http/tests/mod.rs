//! Each route and each error row, in process: what the tests by theme have in common.

mod described;
mod guarded;
mod shelf;
mod work;

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use actix_web::body::MessageBody;
use actix_web::dev::{Service as _, ServiceResponse};
use actix_web::test::{TestRequest, init_service, read_body};
use actix_web::{Error, web};
use serde_json::Value;

use super::app;
use super::state::{Service, Settings};
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
