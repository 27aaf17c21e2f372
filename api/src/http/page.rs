//! The page: its files, embedded in the program.

use actix_web::{HttpRequest, HttpResponse, web};
use rust_embed::RustEmbed;

use super::problem::Problem;
use super::take;
use crate::codes::Code;

/// Where its files are served.
pub const PREFIX: &str = "/page/";

#[derive(RustEmbed)]
#[folder = "src/http/page"]
struct Files;

fn media(name: &str) -> &'static str {
    match name.rsplit_once('.') {
        Some((_, "js")) => "text/javascript; charset=utf-8",
        Some((_, "css")) => "text/css; charset=utf-8",
        _ => "text/html; charset=utf-8",
    }
}

fn served(request: &HttpRequest, name: &str) -> Result<HttpResponse, Problem> {
    let file = Files::get(name).ok_or_else(|| Problem::new(Code::NotFound, "the page has no such file"))?;
    let tag: String = file.metadata.sha256_hash().iter().take(16).map(|byte| format!("{byte:02x}")).collect();
    let text = String::from_utf8_lossy(&file.data).into_owned();
    Ok(take::tagged(request, tag, media(name), text))
}

/// The page itself.
pub async fn index(request: HttpRequest) -> Result<HttpResponse, Problem> {
    served(&request, "index.html")
}

/// One of its modules, or its style.
pub async fn file(request: HttpRequest, name: web::Path<String>) -> Result<HttpResponse, Problem> {
    served(&request, &name)
}
