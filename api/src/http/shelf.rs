//! Named documents that are kept: cells (drafts among them), and plans with their cells.

use actix_web::http::header::{self, ETag, EntityTag};
use actix_web::{HttpRequest, HttpResponse, delete, get, post, put, web};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use serde_json::value::RawValue;
use utoipa::{IntoParams, ToSchema};

use super::jobs::{next, page};
use super::problem::Problem;
use super::state::{Service, off};
use super::take;
use crate::codes::Code;
use crate::jobs::kind;
use crate::jobs::store::{Change, Kept, Shelf};
use crate::wire::cell::CellDocument;
use crate::wire::plan::PlanDocument;

/// A cell to keep. Drafts need not be in order: `/v1/check` says what is missing.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewCell {
    /// Its name among the kept cells.
    #[schema(min_length = 1, max_length = 200, example = "Tea cartons, second try")]
    pub name: String,
    /// The cell document, as far as it goes.
    #[schema(value_type = Object)]
    pub cell: Box<RawValue>,
}

/// A plan to keep: the result of a job, with the cell that it plans.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPlan {
    /// Its name among the kept plans.
    #[schema(min_length = 1, max_length = 200, example = "Offer 17, wide aisle")]
    pub name: String,
    /// Id of the job that planned it.
    #[schema(pattern = "^[0-9a-f]{32}$", example = "0123456789abcdef0123456789abcdef")]
    pub job: String,
}

/// Another name.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewName {
    /// The name.
    #[schema(min_length = 1, max_length = 200, example = "Offer 17, as sent")]
    pub name: String,
}

/// What is known of a kept document.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptHead {
    /// Its id.
    #[schema(pattern = "^[0-9a-f]{32}$")]
    pub id: String,
    /// Its name.
    #[schema(min_length = 1, max_length = 200)]
    pub name: String,
    /// Counts its changes, from 1; in the `ETag` with an `r` before it.
    #[schema(minimum = 1)]
    pub revision: i64,
    /// When it was saved first.
    #[schema(format = DateTime)]
    pub created: String,
    /// When it was changed last.
    #[schema(format = DateTime)]
    pub changed: String,
}

/// A kept cell.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptCell {
    /// What is known of it.
    #[serde(flatten)]
    pub head: KeptHead,
    /// The cell document, as it was sent.
    #[schema(value_type = Object)]
    pub cell: Box<RawValue>,
}

/// A kept plan with its cell.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptPlan {
    /// What is known of it.
    #[serde(flatten)]
    pub head: KeptHead,
    /// The cell document, with every default filled in.
    #[schema(value_type = CellDocument)]
    pub cell: Box<RawValue>,
    /// The plan document.
    #[schema(value_type = PlanDocument)]
    pub plan: Box<RawValue>,
}

/// Part of a list of kept documents, newest first.
#[derive(Debug, Serialize, ToSchema)]
pub struct KeptList {
    /// The documents, without their texts.
    pub items: Vec<KeptHead>,
    /// Give it as `before` to read on; null at the end of the list.
    #[schema(required = true, minimum = 1)]
    pub next_before: Option<i64>,
}

/// Which part of a list.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub struct PageQuery {
    /// Only what comes after this place in the list: `next_before` of the part before.
    #[param(minimum = 1, maximum = 9_223_372_036_854_775_807_i64)]
    pub before: Option<i64>,
    /// At most so many; 50 where it is left out.
    #[param(minimum = 1, maximum = 100, example = 50)]
    pub limit: Option<u32>,
}

impl From<Kept> for KeptHead {
    fn from(kept: Kept) -> Self {
        let Kept { id, name, revision, created, changed, .. } = kept;
        Self { id, name, revision, created, changed }
    }
}

fn raw(text: String) -> Result<Box<RawValue>, Problem> {
    RawValue::from_string(text).map_err(|error| Problem::new(Code::StoreFailed, error.to_string()))
}

/// A kept document as JSON.
fn text(mut kept: Kept) -> Result<String, Problem> {
    let (cell, plan) = (raw(std::mem::take(&mut kept.cell))?, kept.plan.take());
    let head = KeptHead::from(kept);
    let written = match plan {
        None => serde_json::to_string(&KeptCell { head, cell }),
        Some(plan) => serde_json::to_string(&KeptPlan { head, cell, plan: raw(plan)? }),
    };
    written.map_err(|error| Problem::new(Code::StoreFailed, error.to_string()))
}

fn missing() -> Problem {
    Problem::new(Code::NotFound, "there is no document with this id")
}

fn made(change: Change) -> Result<Kept, Problem> {
    match change {
        Change::Made(kept) => Ok(*kept),
        Change::Missing => Err(missing()),
        Change::Stale => Err(Problem::new(Code::Stale, "it has another revision by now")),
        Change::Full => Err(Problem::new(Code::ShelfFull, "the shelf is full")),
    }
}

fn changed(change: Change) -> Result<HttpResponse, Problem> {
    let kept = made(change)?;
    let tag = ETag(EntityTag::new_strong(take::tag(kept.revision)));
    Ok(HttpResponse::Ok().insert_header(tag).content_type(take::JSON).body(text(kept)?))
}

fn created(shelf: Shelf, change: Change) -> Result<HttpResponse, Problem> {
    let kept = made(change)?;
    let tag = ETag(EntityTag::new_strong(take::tag(kept.revision)));
    let place = (header::LOCATION, format!("/v1/{}/{}", shelf.word(), kept.id));
    Ok(HttpResponse::Created().insert_header(tag).insert_header(place).content_type(take::JSON).body(text(kept)?))
}

fn listed(service: &Service, shelf: Shelf, query: &PageQuery) -> Result<HttpResponse, Problem> {
    let page = page(query.before, query.limit)?;
    let kept = service.store.list(shelf, page)?;
    let next_before = next(page, kept.len(), kept.last().map(|k| k.number));
    Ok(HttpResponse::Ok().json(KeptList { items: kept.into_iter().map(KeptHead::from).collect(), next_before }))
}

fn one(service: &Service, shelf: Shelf, request: &HttpRequest, id: &str) -> Result<HttpResponse, Problem> {
    let kept = service.store.kept(shelf, id)?.ok_or_else(missing)?;
    Ok(take::tagged(request, take::tag(kept.revision), take::JSON, text(kept)?))
}

async fn set_deleted(
    service: web::Data<Service>,
    shelf: Shelf,
    id: String,
    revision: Option<i64>,
    deleted: bool,
) -> Result<Change, Problem> {
    off(move || service.store.set_deleted(shelf, &id, revision, deleted)).await
}

/// Keep a cell
///
/// Under a name, with an id of its own. It may be a draft that cannot be planned yet. In YAML the body is the cell document
/// alone, which is kept as JSON under the name that it has.
#[utoipa::path(operation_id = "keepCell", tag = "cells",
    request_body(content(
        (NewCell = "application/json",
            example = json!({"name": "Tea cartons, second try", "cell": {"format": 1, "name": "Tea cartons"}})),
        (std::collections::HashMap<String, Value> = "application/yaml"),
    ), description = "Name and cell document."),
    responses((status = 201, body = KeptCell, description = "It is kept.",
            headers(("Location" = String, description = "Where."), ("ETag" = String, description = "Its revision."))),
        (status = 422, body = Problem, content_type = "application/problem+json", description = "Name or cell is wrong.")))]
#[post("/v1/cells")]
pub async fn keep_cell(
    service: web::Data<Service>,
    request: HttpRequest,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    let new: NewCell = if take::is_yaml(&request) { from_yaml(&body)? } else { take::json(&request, &body)? };
    take::name(&new.name)?;
    take::object(&new.cell, "/cell")?;
    let kept = off(move || {
        let most = service.settings.documents;
        service.store.keep(Shelf::Cells, &new.name, new.cell.get(), None, most)
    });
    created(Shelf::Cells, kept.await?)
}

/// A cell document in YAML with the name that it has.
fn from_yaml(body: &[u8]) -> Result<NewCell, Problem> {
    let read = crate::read::read(body).map_err(|finding| Problem::of(vec![finding]))?;
    if !read.duplicates.is_empty() {
        return Err(Problem::of(read.duplicates));
    }
    let cell = read.root.to_json();
    let name = cell.get("name").and_then(Value::as_str).filter(|name| take::name(name).is_ok());
    Ok(NewCell { name: name.unwrap_or("Cell without a name").to_owned(), cell: raw(cell.to_string())? })
}

/// Keep a plan
///
/// The result of a job under a name, together with the cell document that it plans.
#[utoipa::path(operation_id = "keepPlan", tag = "plans",
    request_body(content = NewPlan, description = "Name and job.",
        example = json!({"name": "Offer 17, wide aisle", "job": "0123456789abcdef0123456789abcdef"})),
    responses((status = 201, body = KeptPlan, description = "It is kept.",
            headers(("Location" = String, description = "Where."), ("ETag" = String, description = "Its revision."))),
        (status = 404, body = Problem, content_type = "application/problem+json", description = "No such job."),
        (status = 409, body = Problem, content_type = "application/problem+json", description = "The job has no plan."),
        (status = 422, body = Problem, content_type = "application/problem+json", description = "The name is wrong.")))]
#[post("/v1/plans")]
pub async fn keep_plan(
    service: web::Data<Service>,
    request: HttpRequest,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    let new: NewPlan = take::json(&request, &body)?;
    take::name(&new.name)?;
    let job = service.store.job(&new.job)?;
    let job = job.ok_or_else(|| Problem::new(Code::NotFound, "there is no job with this id"))?;
    let (Some(result), Some(asked)) = (service.store.result(&job.id)?, service.store.request(&job.id)?) else {
        return Err(Problem::new(Code::NoResult, format!("the job is {}", job.state.word())));
    };
    if job.kind != "plan" {
        return Err(Problem::new(Code::NoResult, format!("the job is no plan but of the kind {}", job.kind)));
    }
    let document = crate::read_any_cell(asked.as_bytes()).map_err(Problem::of)?;
    let cell = kind::json(&document.wire).map_err(|f| Problem::of(vec![f]))?;
    let kept = off(move || {
        let most = service.settings.documents;
        service.store.keep(Shelf::Plans, &new.name, cell.trim_end(), Some(result.trim_end()), most)
    });
    created(Shelf::Plans, kept.await?)
}

/// Replace a kept cell
///
/// Another name and another document, unless somebody else has changed it since.
#[utoipa::path(operation_id = "replaceCell", tag = "cells",
    params(("id" = String, Path, description = "Id of the cell.", example = "0123456789abcdef0123456789abcdef"),
        ("If-Match" = Option<String>, Header, description = "`ETag` of the revision to replace, or `*` for any.")),
    request_body(content = NewCell, description = "Name and cell document.",
        example = json!({"name": "Tea cartons, third try", "cell": {"format": 1, "name": "Tea cartons"}})),
    responses((status = 200, body = KeptCell, description = "As it is kept now.",
            headers(("ETag" = String, description = "Its revision."))),
        (status = 404, body = Problem, content_type = "application/problem+json", description = "No such cell."),
        (status = 412, body = Problem, content_type = "application/problem+json", description = "It was changed since."),
        (status = 422, body = Problem, content_type = "application/problem+json", description = "Name or cell is wrong."),
        (status = 428, body = Problem, content_type = "application/problem+json", description = "`If-Match` is missing.")))]
#[put("/v1/cells/{id}")]
pub async fn replace_cell(
    service: web::Data<Service>,
    request: HttpRequest,
    id: web::Path<String>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    let new: NewCell = take::json(&request, &body)?;
    let revision = take::if_match(&request)?;
    take::name(&new.name)?;
    take::object(&new.cell, "/cell")?;
    changed(off(move || service.store.change(Shelf::Cells, &id, revision, &new.name, Some(new.cell.get()))).await?)
}

/// Give a kept plan another name
///
/// The plan itself never changes.
#[utoipa::path(operation_id = "namePlan", tag = "plans",
    params(("id" = String, Path, description = "Id of the plan.", example = "0123456789abcdef0123456789abcdef"),
        ("If-Match" = Option<String>, Header, description = "`ETag` of the revision to rename, or `*` for any.")),
    request_body(content = NewName, description = "The name.", example = json!({"name": "Offer 17, as sent"})),
    responses((status = 200, body = KeptPlan, description = "As it is kept now.",
            headers(("ETag" = String, description = "Its revision."))),
        (status = 404, body = Problem, content_type = "application/problem+json", description = "No such plan."),
        (status = 412, body = Problem, content_type = "application/problem+json", description = "It was changed since."),
        (status = 422, body = Problem, content_type = "application/problem+json", description = "The name is wrong."),
        (status = 428, body = Problem, content_type = "application/problem+json", description = "`If-Match` is missing.")))]
#[put("/v1/plans/{id}/name")]
pub async fn name_plan(
    service: web::Data<Service>,
    request: HttpRequest,
    id: web::Path<String>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    let new: NewName = take::json(&request, &body)?;
    let revision = take::if_match(&request)?;
    take::name(&new.name)?;
    changed(off(move || service.store.change(Shelf::Plans, &id, revision, &new.name, None)).await?)
}

/// What both shelves have alike: one macro, since each route needs a name, a path and words of its own.
macro_rules! shelf {
    ($shelf:expr, $tag:literal, $kept:ty, $base:literal, $one:literal, $restore:literal,
     $list:ident $list_id:literal $list_says:literal, $read:ident $read_id:literal $read_says:literal,
     $delete:ident $delete_id:literal $delete_says:literal, $put_back:ident $put_back_id:literal $put_back_says:literal) => {
        #[doc = $list_says]
        #[utoipa::path(operation_id = $list_id, tag = $tag, summary = $list_says, path = $base,
            description = "Newest first, a part at a time, without the texts.", params(PageQuery),
            responses((status = 200, body = KeptList, description = "Part of the list.")))]
        #[get($base)]
        pub async fn $list(
            service: web::Data<Service>,
            query: web::Query<PageQuery>,
        ) -> Result<HttpResponse, Problem> {
            listed(&service, $shelf, &query)
        }

        #[doc = $read_says]
        #[utoipa::path(operation_id = $read_id, tag = $tag, summary = $read_says, path = $one,
            description = "With its texts. Read it with `If-None-Match` to get it only when it has changed.",
            params(("id" = String, Path, description = "Its id.", example = "0123456789abcdef0123456789abcdef"),
                ("If-None-Match" = Option<String>, Header, description = "`ETag` of what the client has.")),
            responses((status = 200, body = $kept, description = "The document.",
                    headers(("ETag" = String, description = "Its revision."))),
                (status = 304, description = "The client has it."),
                (status = 404, body = Problem, content_type = "application/problem+json",
                    description = "No such document.")))]
        #[get($one)]
        pub async fn $read(
            service: web::Data<Service>,
            request: HttpRequest,
            id: web::Path<String>,
        ) -> Result<HttpResponse, Problem> {
            one(&service, $shelf, &request, &id)
        }

        #[doc = $delete_says]
        #[utoipa::path(operation_id = $delete_id, tag = $tag, summary = $delete_says, path = $one,
            description = "It can be put back for 30 days.",
            params(("id" = String, Path, description = "Its id.", example = "0123456789abcdef0123456789abcdef"),
                ("If-Match" = Option<String>, Header, description = "`ETag` of the revision to delete; any without it.")),
            responses((status = 204, description = "It is deleted."),
                (status = 404, body = Problem, content_type = "application/problem+json",
                    description = "No such document."),
                (status = 412, body = Problem, content_type = "application/problem+json",
                    description = "It was changed since.")))]
        #[delete($one)]
        pub async fn $delete(
            service: web::Data<Service>,
            request: HttpRequest,
            id: web::Path<String>,
        ) -> Result<HttpResponse, Problem> {
            let given = request.headers().contains_key(header::IF_MATCH);
            let revision = if given { take::if_match(&request)? } else { None };
            made(set_deleted(service, $shelf, id.into_inner(), revision, true).await?)?;
            Ok(HttpResponse::NoContent().finish())
        }

        #[doc = $put_back_says]
        #[utoipa::path(operation_id = $put_back_id, tag = $tag, summary = $put_back_says, path = $restore,
            description = "As it was before it was deleted, with a new revision.",
            params(("id" = String, Path, description = "Its id.", example = "0123456789abcdef0123456789abcdef")),
            responses((status = 200, body = $kept, description = "The document.",
                    headers(("ETag" = String, description = "Its revision."))),
                (status = 404, body = Problem, content_type = "application/problem+json",
                    description = "No deleted document has this id.")))]
        #[post($restore)]
        pub async fn $put_back(
            service: web::Data<Service>,
            id: web::Path<String>,
        ) -> Result<HttpResponse, Problem> {
            changed(set_deleted(service, $shelf, id.into_inner(), None, false).await?)
        }
    };
}

shelf!(
    Shelf::Cells, "cells", KeptCell, "/v1/cells", "/v1/cells/{id}", "/v1/cells/{id}/restore",
    list_cells "listCells" "List kept cells", read_cell "readCell" "Read a kept cell",
    delete_cell "deleteCell" "Delete a kept cell", restore_cell "restoreCell" "Put a deleted cell back"
);

shelf!(
    Shelf::Plans, "plans", KeptPlan, "/v1/plans", "/v1/plans/{id}", "/v1/plans/{id}/restore",
    list_plans "listPlans" "List kept plans", read_plan "readPlan" "Read a kept plan",
    delete_plan "deletePlan" "Delete a kept plan", restore_plan "restorePlan" "Put a deleted plan back"
);
