//! The API document: made from the routes, with what all of them share added.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use actix_web::dev::ResourceDef;
use actix_web::http::header;
use actix_web::{App, HttpRequest, HttpResponse, ResponseError};
use serde_json::{Value, json};
use utoipa::OpenApi;
use utoipa::openapi::header::HeaderBuilder;
use utoipa::openapi::path::{Operation, PathItem};
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityRequirement, SecurityScheme};
use utoipa::openapi::{ContentBuilder, Ref, RefOr, ResponseBuilder, Schema};
use utoipa_actix_web::AppExt;

use super::problem::{MEDIA_TYPE, Problem};
use super::routes;
use crate::codes::Code;

/// What any route may answer.
const SHARED: &[(&str, &str)] = &[
    ("400", "Path, query, header or body cannot be read."),
    ("401", "The service asks for a token, and it is missing or wrong."),
    ("408", "The request took too long."),
    ("413", "The body is too large."),
    ("415", "The body's media type is not taken here."),
    ("429", "Too many requests of this client; `Retry-After` says when to try again."),
    ("500", "A fault of the service."),
    ("503", "The queue is full, or the store fails; `Retry-After` says when to try again."),
];

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Loopwright",
        description = "Plans packaging cells built round a closed loop of track with independently driven carriers. \
                       Keys end in their units: `_mm` millimetres, `_m` metres, `_m2` square metres, `_s` seconds, \
                       `_per_min` per minute, `_m_s` metres per second, `_m_s2` and `_m_s3` metres per second squared \
                       and cubed, `_kg` kilograms, `_n` newtons. Errors are problem details (RFC 9457). A plan is an \
                       estimate for a proposal, not a release to build.",
        license(name = "Apache-2.0", identifier = "Apache-2.0"),
    ),
    components(schemas(Problem)),
    tags(
        (name = "planning", description = "Check, plan and judge."),
        (name = "printing", description = "Drawings and reports."),
        (name = "jobs", description = "Work that takes a while."),
        (name = "plans", description = "Plans that are kept."),
        (name = "cells", description = "Cells that are kept, drafts among them."),
        (name = "examples", description = "Cells to begin with."),
        (name = "operation", description = "For whoever runs the service."),
    ),
)]
struct Frame;

/// Its operations with their methods.
fn operations(item: &PathItem) -> [(&'static str, Option<&Operation>); 5] {
    let get = item.get.as_ref();
    [
        ("GET", get),
        ("POST", item.post.as_ref()),
        ("PUT", item.put.as_ref()),
        ("DELETE", item.delete.as_ref()),
        ("PATCH", item.patch.as_ref()),
    ]
}

fn complete(operation: &mut Operation) {
    for (status, says) in SHARED {
        let content = ContentBuilder::new().schema(Some(Ref::from_schema_name("Problem"))).build();
        let mut response = ResponseBuilder::new().description(*says).content(MEDIA_TYPE, content);
        if ["429", "503"].contains(status) {
            let wait = HeaderBuilder::new().description(Some("Seconds to wait.")).build();
            response = response.header("Retry-After", wait);
        }
        operation.responses.responses.entry((*status).to_owned()).or_insert(RefOr::T(response.build()));
    }
}

/// The API document.
#[must_use]
pub fn document() -> utoipa::openapi::OpenApi {
    let app = App::new().into_utoipa_app().openapi(Frame::openapi()).configure(routes);
    let (_, mut document) = app.split_for_parts();
    let all = document.paths.paths.values_mut();
    all.flat_map(|item| [&mut item.get, &mut item.post, &mut item.put, &mut item.delete]).flatten().for_each(complete);
    let scheme = SecurityScheme::Http(Http::new(HttpAuthScheme::Bearer));
    if let Some(components) = &mut document.components {
        components.add_security_scheme("token", scheme);
    }
    let nobody: [&str; 0] = [];
    document.security = Some(vec![SecurityRequirement::default(), SecurityRequirement::new("token", nobody)]);
    document
}

/// [`document`] as it is served and checked in.
#[must_use]
pub fn document_text() -> String {
    // Plain records always can be written.
    let described = document();
    let mut document = serde_json::to_value(&described).unwrap_or_default();
    let schemas = &mut document["components"]["schemas"];
    let (mut names, mut next) = (BTreeSet::new(), vec!["CellDocument".to_owned()]);
    while let Some(name) = next.pop() {
        if names.insert(name.clone()) {
            references(&schemas[&name], &mut next);
            optional_may_be_null(&mut schemas[&name]);
            if let Some(RefOr::T(Schema::Object(object))) =
                described.components.as_ref().and_then(|c| c.schemas.get(&name))
            {
                // Objects of JSON have no order: forms are made in this one.
                schemas[&name]["x-order"] = object.properties.keys().cloned().collect();
            }
        }
    }
    flatten(schemas, "PlanDocument", "Answer");
    flatten(schemas, "ExplainDocument", "Explained");
    crate::jobs::kind::json(&document).unwrap_or_default()
}

/// Names of the schemas that one refers to.
fn references(schema: &Value, found: &mut Vec<String>) {
    match schema {
        Value::Object(keys) => keys.iter().for_each(|(key, value)| match value.as_str() {
            Some(target) if key == "$ref" => found.extend(target.rsplit('/').next().map(str::to_owned)),
            _ => references(value, found),
        }),
        Value::Array(items) => items.iter().for_each(|item| references(item, found)),
        _ => {}
    }
}

/// Writes a record that has a choice flattened into it as a choice of records, which generators of clients understand.
fn flatten(schemas: &mut Value, record: &str, choice: &str) {
    let frame = schemas[record]["allOf"][1].clone();
    let about = schemas[record]["description"].clone();
    let mut names = Vec::new();
    for variant in schemas[choice]["oneOf"].as_array().cloned().unwrap_or_default() {
        // A record of its own beside its tag, or keys written into the choice.
        let inner = variant["allOf"][0]["$ref"].as_str().and_then(|r| r.rsplit('/').next());
        let (mut properties, mut required) = (serde_json::Map::new(), Vec::new());
        let parts = inner.map_or([&Value::Null, &variant], |inner| [&variant["allOf"][1], &schemas[inner]]);
        for part in std::iter::once(&frame).chain(parts) {
            properties.extend(part["properties"].as_object().cloned().unwrap_or_default());
            required.extend(part["required"].as_array().cloned().unwrap_or_default());
        }
        let whole = json!({
            "type": "object", "description": variant["description"], "properties": properties, "required": required,
        });
        let name = match inner {
            Some(inner) => format!("{inner}Document"),
            None => format!("{choice}{}", tag(&variant)),
        };
        names.push(json!({"$ref": format!("#/components/schemas/{name}")}));
        schemas[name] = whole;
    }
    schemas[record] = json!({"description": about, "oneOf": names});
    if let Some(all) = schemas.as_object_mut() {
        all.remove(choice);
    }
}

/// What the tag of a variant says, as part of a name.
fn tag(variant: &Value) -> String {
    let mut said = variant["properties"].as_object().into_iter().flatten().filter_map(|(_, p)| p["enum"][0].as_str());
    let mut letters = said.next().unwrap_or_default().chars();
    letters.next().map(|first| first.to_ascii_uppercase()).into_iter().chain(letters).collect()
}

/// Cells are read as YAML too, where a key with nothing after it is null, and counts as left out.
fn optional_may_be_null(schema: &mut Value) {
    let required = schema["required"].clone();
    let is_required = |key: &str| required.as_array().is_some_and(|all| all.iter().any(|r| r == key));
    let Some(properties) = schema.get_mut("properties").and_then(Value::as_object_mut) else { return };
    for (_, property) in properties.iter_mut().filter(|(key, _)| !is_required(key)) {
        let given = property["type"].clone();
        if given.is_string() {
            property["type"] = json!([given, "null"]);
        } else if let Some(target) = property.get("$ref").cloned() {
            let about = property.get("description").cloned().unwrap_or_default();
            *property = json!({"description": about, "oneOf": [{"type": "null"}, {"$ref": target}]});
        }
    }
}

/// Each known path, with its methods.
fn known() -> &'static [(ResourceDef, String)] {
    static KNOWN: OnceLock<Vec<(ResourceDef, String)>> = OnceLock::new();
    KNOWN.get_or_init(|| {
        let document = document();
        let all = document.paths.paths.iter().map(|(path, item)| {
            let methods: Vec<&str> =
                operations(item).iter().filter(|(_, operation)| operation.is_some()).map(|(name, _)| *name).collect();
            (ResourceDef::new(path.as_str()), methods.join(", "))
        });
        let pages = ["/", "/page/{name}", "/drawing.css", "/openapi.json"]
            .map(|path| (ResourceDef::new(path), "GET".to_owned()));
        all.chain(pages).collect()
    })
}

/// Where no route fits: another method, or nothing at all.
pub async fn otherwise(request: HttpRequest) -> HttpResponse {
    let methods: Vec<&str> =
        known().iter().filter(|(path, _)| path.is_match(request.path())).map(|(_, methods)| methods.as_str()).collect();
    if methods.is_empty() {
        return Problem::new(Code::NotFound, "no route has this path").error_response();
    }
    let says = format!("{} is not known here", request.method());
    let mut response = Problem::new(Code::MethodNotAllowed, says).error_response();
    if let Ok(allowed) = header::HeaderValue::from_str(&methods.join(", ")) {
        response.headers_mut().insert(header::ALLOW, allowed);
    }
    response
}
