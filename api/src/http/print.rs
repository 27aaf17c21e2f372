//! Drawings and reports.

use actix_web::{HttpRequest, HttpResponse, post, web};
use serde::Deserialize;
use serde_json::value::RawValue;
use utoipa::ToSchema;

use super::problem::Problem;
use super::take;
use crate::codes::Code;
use crate::draw::{Titles, read_plan};
use crate::print::{Print, Wishes, print};
use crate::report::alternatives::Beside;
use crate::report::basis::Sources;
use crate::report::changes::changes_of;
use crate::wire::accumulation::AccumulationDocument;
use crate::wire::alternatives::{CompareDocument, ExplainDocument, FrontDocument, SweepDocument};
use crate::wire::carriers::CarriersDocument;
use crate::wire::cell::CellDocument;
use crate::wire::changeover::ChangeoverAnswer;
use crate::wire::simulation::SimulationDocument;
use crate::wire::trace::TraceDocument;

/// A plan with its cell, and how it is to be printed.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PrintRequest {
    /// The cell document.
    #[schema(value_type = CellDocument)]
    pub cell: Box<RawValue>,
    /// The plan document of this cell.
    #[schema(value_type = Object)]
    pub plan: Box<RawValue>,
    /// Id of the SKU whose carriers, batches and slots are drawn; the first where it is left out.
    #[serde(default)]
    pub sku: Option<String>,
    /// Id of the circuit that is drawn by itself; without it the drawing shows all. `load.svg` needs it where there are
    /// several; report and workbook are always of all.
    #[serde(default)]
    pub circuit: Option<String>,
    /// Name of your company.
    #[serde(default)]
    #[schema(max_length = 200)]
    pub company: Option<String>,
    /// Who issues it.
    #[serde(default)]
    #[schema(max_length = 200)]
    pub author: Option<String>,
    /// Date of issue, printed as it is given.
    #[serde(default)]
    #[schema(max_length = 200)]
    pub date: Option<String>,
    /// Number of the drawing or report.
    #[serde(default)]
    #[schema(max_length = 200)]
    pub number: Option<String>,
    /// Logo for the report: a `data:` address of a PNG, JPEG or SVG picture in base64.
    #[serde(default)]
    #[schema(max_length = 1_048_576, pattern = "^data:image/(png|jpeg|svg[+]xml);base64,[A-Za-z0-9+/=]+$")]
    pub logo: Option<String>,
    /// Sources of inputs by JSON pointer into the cell; one to a mapping or list holds for all in it. A text that begins with
    /// `measured` or `assumed` says so.
    #[serde(default)]
    #[schema(required = false)]
    pub sources: Sources,
    /// The answer of `/v1/carriers`, for the report and `rate.svg`, which makes it anew where it is left out.
    #[serde(default)]
    #[schema(value_type = Option<Object>)]
    pub carriers: Option<Box<RawValue>>,
    /// The answer of `/v1/trace`, for the time-distance diagram and the report; made anew where it is left out.
    #[serde(default)]
    #[schema(value_type = Option<Object>)]
    pub trace: Option<Box<RawValue>>,
    /// The answer of `/v1/compare`, for the report.
    #[serde(default)]
    #[schema(value_type = Option<Object>)]
    pub compare: Option<Box<RawValue>>,
    /// The answer of `/v1/explain`, for the report.
    #[serde(default)]
    #[schema(value_type = Option<Object>)]
    pub explain: Option<Box<RawValue>>,
    /// The answer of `/v1/front`, for `front.svg` and the report.
    #[serde(default)]
    #[schema(value_type = Option<Object>)]
    pub front: Option<Box<RawValue>>,
    /// The answer of `/v1/accumulate`, for `accumulation.svg` and the report.
    #[serde(default)]
    #[schema(value_type = Option<Object>)]
    pub accumulation: Option<Box<RawValue>>,
    /// The answer of `/v1/sweep`, for `sweep.svg` and the report.
    #[serde(default)]
    #[schema(value_type = Option<Object>)]
    pub sweep: Option<Box<RawValue>>,
    /// The answer of `/v1/changeover`, for `changes.svg`, `change.svg`, `order.svg`, the report and the workbook.
    #[serde(default)]
    #[schema(value_type = Option<Object>)]
    pub changeover: Option<Box<RawValue>>,
    /// Id of the SKU before the change that `change.svg` and the report show as bars; `to` belongs to it. Without both, the
    /// longest change.
    #[serde(default)]
    pub from: Option<String>,
    /// Id of the SKU after it.
    #[serde(default)]
    pub to: Option<String>,
    /// The answer of `/v1/simulate`, for `states.svg`, `net-rate.svg`, the report and the workbook.
    #[serde(default)]
    #[schema(value_type = Option<Object>)]
    pub simulation: Option<Box<RawValue>>,
}

/// A text of the user's own.
fn own(text: Option<String>, key: &str) -> Result<Option<String>, Problem> {
    match text {
        Some(text) if text.chars().count() > 200 || text.chars().any(char::is_control) => {
            let finding = crate::Finding::new(
                Code::BadText,
                format!("/{key}"),
                "the text is longer than 200 characters or holds control characters",
            );
            Err(Problem::of(vec![finding]))
        }
        text => Ok(text),
    }
}

/// An answer of another route that was handed back.
fn an_answer<T: serde::de::DeserializeOwned>(value: Option<Box<RawValue>>, key: &str) -> Result<Option<T>, Problem> {
    let read = value.map(|value| serde_json::from_str(value.get())).transpose();
    read.map_err(|error| {
        let says = format!("it is no answer of that route: {error}");
        Problem::of(vec![crate::Finding::new(Code::WrongType, format!("/{key}"), says)])
    })
}

/// Print a plan
///
/// The plan drawing to scale (`drawing.svg`), in real millimetres (`drawing.dxf`), places of the carriers over time
/// (`time-distance.svg`), load of the stations (`load.svg`), rate over carriers (`rate.svg`), floor over what was swept
/// (`sweep.svg`), plans that no other beats (`front.svg`), net rate over accumulation (`accumulation.svg`), what the stations do (`states.svg`) and net rates (`net-rate.svg`) of a simulation, all changes from SKU
/// to SKU (`changes.svg`), one change as bars (`change.svg`), the order of the week (`order.svg`), the report
/// (`report.html`, `report.pdf`), or tables to calculate with (`workbook.xlsx`). The same request gives the same bytes.
#[utoipa::path(
    operation_id = "printPlan", tag = "printing",
    params(("name" = String, Path, description = "What is printed.", example = "drawing.svg",
        pattern = "^(drawing[.]svg|drawing[.]dxf|(time-distance|load|rate|sweep|front|accumulation|states|net-rate|changes?|order)[.]svg|report[.](html|pdf)|workbook[.]xlsx)$")),
    request_body(content = PrintRequest, description = "Cell and plan, and what is written on the sheet.",
        example = json!(super::about::example_print())),
    responses(
        (status = 200, description = "The print.", content(
            (String = "image/svg+xml"),
            (String = "image/vnd.dxf"),
            (String = "text/html"),
            (String = "application/pdf"),
            (String = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
        )),
        (status = 404, body = Problem, content_type = "application/problem+json", description = "No such print."),
        (status = 422, body = Problem, content_type = "application/problem+json",
            description = "The cell is wrong, or the plan does not belong to it."),
    )
)]
#[post("/v1/print/{name}")]
pub async fn print_plan(
    request: HttpRequest,
    name: web::Path<String>,
    body: web::Bytes,
) -> Result<HttpResponse, Problem> {
    let Some(what) = Print::named(&name) else {
        return Err(Problem::new(Code::NotFound, format!("what can be printed is {}", Print::names())));
    };
    let asked: PrintRequest = take::json(&request, &body)?;
    let done = web::block(move || {
        let cell = take::object(&asked.cell, "/cell")?;
        let plan_text = take::object(&asked.plan, "/plan")?;
        let read = if what.takes_several() { crate::read_any_cell } else { crate::read_cell };
        let document = read(cell.as_bytes()).map_err(|f| take::within("/cell", f))?;
        let plan = read_plan(plan_text.as_bytes()).map_err(|f| take::within("/plan", vec![f]))?;
        let lost = crate::report::basis::astray(&asked.sources, &document);
        if !lost.is_empty() {
            return Err(Problem::of(lost));
        }
        let titles = Titles {
            company: own(asked.company, "company")?,
            author: own(asked.author, "author")?,
            date: own(asked.date, "date")?,
            number: own(asked.number, "number")?,
        };
        let logo = asked.logo.map(crate::print::logo).transpose().map_err(|f| Problem::of(vec![f]))?;
        let beside = Beside {
            compare: an_answer::<CompareDocument>(asked.compare, "compare")?,
            explain: an_answer::<ExplainDocument>(asked.explain, "explain")?,
            sweep: an_answer::<SweepDocument>(asked.sweep, "sweep")?,
            front: an_answer::<FrontDocument>(asked.front, "front")?,
            accumulation: an_answer::<AccumulationDocument>(asked.accumulation, "accumulation")?,
            changeover: an_answer::<ChangeoverAnswer>(asked.changeover, "changeover")?
                .map(changes_of)
                .transpose()
                .map_err(|f| Problem::of(vec![f]))?,
            simulation: an_answer::<SimulationDocument>(asked.simulation, "simulation")?,
        };
        let mut carriers = an_answer::<CarriersDocument>(asked.carriers, "carriers")?;
        if carriers.is_none() && what == Print::RateSvg {
            let made =
                crate::carriers_document(&document, plan_text.as_bytes()).map_err(|f| take::within("/plan", f))?;
            carriers = Some(made);
        }
        let mut trace = an_answer::<TraceDocument>(asked.trace, "trace")?;
        if trace.is_none() && what.shows_carriers() && document.coupled.is_none() {
            let made = crate::usual_trace(&document, &plan, asked.sku.as_deref(), None);
            // A report stands without it; what is wrong with the plan, the check before printing says.
            trace = if what == Print::TimeDistanceSvg {
                Some(made.map_err(|f| take::within("/plan", f))?)
            } else {
                made.ok()
            };
        }
        let change = match (asked.from, asked.to) {
            (Some(from), Some(to)) => Some((from, to)),
            (None, None) => None,
            _ => {
                let message = "`from` and `to` belong together, and one of them is missing";
                return Err(Problem::of(vec![crate::Finding::new(Code::MissingKey, "", message)]));
            }
        };
        let wishes = Wishes {
            sku: asked.sku,
            circuit: asked.circuit,
            change,
            titles,
            logo,
            sources: asked.sources,
            beside,
            carriers,
            trace,
        };
        print(what, &document, &plan, &wishes).map_err(|f| take::within("/plan", vec![f]))
    });
    let bytes = done.await.map_err(|error| Problem::new(Code::OwnFault, error.to_string()))??;
    Ok(HttpResponse::Ok().content_type(what.media()).body(bytes))
}
