//! What the customer sees, by file name: one table for the command line and the service.

use crate::check::Document;
use crate::codes::Code;
use crate::draw::{Drawable, Titles, drawing_dxf, plan_svg, whole_dxf, whole_svg};
use crate::finding::Finding;
use crate::report::accumulation::accumulation_chart;
use crate::report::alternatives::Beside;
use crate::report::basis::Sources;
use crate::report::carriers::carriers_chart;
use crate::report::changes::{Picture, changes_svg};
use crate::report::front::front_chart;
use crate::report::load::load_chart;
use crate::report::simulation::{net_rate_chart, states_chart};
use crate::report::sweep::sweep_chart;
use crate::report::time_distance::{of_the_plan, stretch_s, time_distance_chart};
use crate::report::{report_html, workbook_xlsx};
use crate::wire::carriers::CarriersDocument;
use crate::wire::plan::{Answer, PlanDocument, PlannedCircuit};
use crate::wire::simulation::SimulatedSku;
use crate::wire::trace::TraceDocument;

/// One thing that can be printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Print {
    /// The plan drawing.
    DrawingSvg,
    /// The same in real millimetres, for drawing programs.
    DrawingDxf,
    /// Places of the carriers over time.
    TimeDistanceSvg,
    /// Load of the stations for a SKU.
    LoadSvg,
    /// Rate of a SKU over the number of carriers.
    RateSvg,
    /// Floor over the number that was swept.
    SweepSvg,
    /// The plans that no other beats.
    FrontSvg,
    /// Net rate over the seconds that a section absorbs.
    AccumulationSvg,
    /// What the stations do with their time, simulated, for a SKU.
    StatesSvg,
    /// Simulated net rate with its confidence interval against what is asked.
    NetRateSvg,
    /// All changes from SKU to SKU.
    ChangesSvg,
    /// One change as bars.
    ChangeSvg,
    /// The order of the week.
    OrderSvg,
    /// The report.
    ReportHtml,
    /// The report on pages.
    #[cfg(feature = "pdf")]
    ReportPdf,
    /// Tables to calculate with.
    WorkbookXlsx,
}

impl Print {
    /// All of them, each with its file name and media type.
    pub const ALL: &[(Self, &'static str, &'static str)] = &[
        (Self::DrawingSvg, "drawing.svg", "image/svg+xml; charset=utf-8"),
        (Self::DrawingDxf, "drawing.dxf", "image/vnd.dxf"),
        (Self::TimeDistanceSvg, "time-distance.svg", "image/svg+xml; charset=utf-8"),
        (Self::LoadSvg, "load.svg", "image/svg+xml; charset=utf-8"),
        (Self::RateSvg, "rate.svg", "image/svg+xml; charset=utf-8"),
        (Self::SweepSvg, "sweep.svg", "image/svg+xml; charset=utf-8"),
        (Self::FrontSvg, "front.svg", "image/svg+xml; charset=utf-8"),
        (Self::AccumulationSvg, "accumulation.svg", "image/svg+xml; charset=utf-8"),
        (Self::StatesSvg, "states.svg", "image/svg+xml; charset=utf-8"),
        (Self::NetRateSvg, "net-rate.svg", "image/svg+xml; charset=utf-8"),
        (Self::ChangesSvg, "changes.svg", "image/svg+xml; charset=utf-8"),
        (Self::ChangeSvg, "change.svg", "image/svg+xml; charset=utf-8"),
        (Self::OrderSvg, "order.svg", "image/svg+xml; charset=utf-8"),
        (Self::ReportHtml, "report.html", "text/html; charset=utf-8"),
        #[cfg(feature = "pdf")]
        (Self::ReportPdf, "report.pdf", "application/pdf"),
        (Self::WorkbookXlsx, "workbook.xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    ];

    /// The one of this file name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().find(|(_, known, _)| *known == name).map(|(print, ..)| *print)
    }

    /// Whether the places of the carriers over time stand in it.
    #[must_use]
    pub fn shows_carriers(self) -> bool {
        match self {
            Self::TimeDistanceSvg | Self::ReportHtml => true,
            #[cfg(feature = "pdf")]
            Self::ReportPdf => true,
            _ => false,
        }
    }

    /// Whether it can be made of several circuits; of a chart of stations' load that is of one of them, which is named.
    #[must_use]
    pub fn takes_several(self) -> bool {
        match self {
            Self::DrawingSvg
            | Self::DrawingDxf
            | Self::LoadSvg
            | Self::StatesSvg
            | Self::NetRateSvg
            | Self::SweepSvg
            | Self::ReportHtml
            | Self::WorkbookXlsx => true,
            #[cfg(feature = "pdf")]
            Self::ReportPdf => true,
            _ => false,
        }
    }

    /// Every name of a print, for whoever asked for another.
    #[must_use]
    pub fn names() -> String {
        Self::ALL.iter().map(|(_, name, _)| *name).collect::<Vec<_>>().join(", ")
    }

    /// Its media type.
    #[must_use]
    pub fn media(self) -> &'static str {
        Self::ALL.iter().find(|(print, ..)| *print == self).map_or("application/octet-stream", |(.., media)| media)
    }
}

/// What is printed of a plan.
#[derive(Clone, Debug, Default)]
pub struct Wishes {
    /// SKU whose carriers are drawn; the first where none is named.
    pub sku: Option<String>,
    /// Circuit that is drawn by itself; without it the drawing shows all.
    pub circuit: Option<String>,
    /// What the user writes into title block or cover.
    pub titles: Titles,
    /// A logo for the cover of the report, as a `data:` address that [`logo`] has accepted.
    pub logo: Option<String>,
    /// What the user says about the sources of inputs.
    pub sources: Sources,
    /// How the rate moves with the number of carriers, for the report.
    pub carriers: Option<CarriersDocument>,
    /// Where the carriers are over a stretch of the paced run, for the diagram and the report.
    pub trace: Option<TraceDocument>,
    /// SKUs before and after the change that is shown as bars; the longest where none are named.
    pub change: Option<(String, String)>,
    /// Comparison, explanation, sweep, simulation and changes.
    pub beside: Beside,
}

/// Longest logo in characters of its address.
const LONGEST_LOGO: usize = 1 << 20;
/// Pictures that are taken.
const PICTURES: &[&str] = &["data:image/png;base64,", "data:image/jpeg;base64,", "data:image/svg+xml;base64,"];

/// Accepts a logo.
///
/// # Errors
/// It is no picture that is taken, or too large.
pub fn logo(address: String) -> Result<String, Finding> {
    let digits = PICTURES.iter().find_map(|start| address.strip_prefix(start));
    let fits = |c: char| c.is_ascii_alphanumeric() || matches!(c, '+' | '/' | '=');
    if address.len() <= LONGEST_LOGO && digits.is_some_and(|d| !d.is_empty() && d.chars().all(fits)) {
        return Ok(address);
    }
    let message = format!("the logo is none of {}, or longer than {LONGEST_LOGO} characters", PICTURES.join(", "));
    Err(Finding::new(Code::BadText, "/logo", message))
}

/// Prints a plan of a cell; the same documents and wishes give the same bytes.
///
/// # Errors
/// The documents do not fit together, or a wish names what is not there.
pub fn print(what: Print, document: &Document, plan: &PlanDocument, wishes: &Wishes) -> Result<Vec<u8>, Finding> {
    let own = reached(plan).and_then(|efficiency| document.at_efficiency(efficiency));
    let document = own.as_ref().unwrap_or(document);
    let plan = Drawable::new(&document.wire, plan)?;
    let sku = plan.sku(wishes.sku.as_deref())?;
    let circuits = &plan.planned.circuits;
    let named = wishes.circuit.as_ref();
    let chosen = circuits.iter().find(|c| named.is_none_or(|id| c.id == *id));
    let Some(circuit) = chosen else {
        let known: Vec<String> = circuits.iter().map(|c| crate::read::quoted(&c.id)).collect();
        let says = format!("{} is no circuit of the plan", crate::read::quoted(named.map_or("", |id| id)));
        let finding = Finding::new(Code::UnknownId, "", says);
        return Err(finding.advise(format!("Name one of its circuits: {}.", known.join(", "))));
    };
    if circuits.len() > 1 {
        of_several(what, circuits, wishes)?;
    }
    if let Some(trace) = &wishes.trace {
        of_the_plan(trace, circuit)?;
    }
    if let Some(simulation) = &wishes.beside.simulation {
        crate::report::simulation::of_the_plan(simulation, circuits)?;
    }
    if let Some(changeover) = &wishes.beside.changeover {
        crate::report::changes::of_the_cell(changeover, &plan)?;
    }
    match what {
        Print::DrawingSvg if circuits.len() > 1 && named.is_none() => {
            Ok(whole_svg(&plan, sku, &wishes.titles, "lw-").into_bytes())
        }
        Print::DrawingDxf if circuits.len() > 1 && named.is_none() => Ok(whole_dxf(&plan, sku).into_bytes()),
        Print::DrawingSvg => Ok(plan_svg(&plan, circuit, sku, &wishes.titles, "lw-").into_bytes()),
        Print::DrawingDxf => Ok(drawing_dxf(&plan, circuit, sku).into_bytes()),
        Print::TimeDistanceSvg => match &wishes.trace {
            Some(trace) => Ok(alone(time_distance_chart(trace, "lw-time-distance"))),
            None => Err(missing("/trace", "there is no trace of the carriers to draw", "`trace`")),
        },
        Print::LoadSvg => Ok(alone(load_chart(&plan, circuit, sku, "lw-load"))),
        Print::RateSvg => {
            let rates = wishes.carriers.as_ref().and_then(|c| Some((c, c.skus.get(sku)?)));
            let Some((carriers, of)) = rates else {
                let says = "there are no rates of this SKU with other numbers of carriers to draw";
                return Err(missing("/carriers", says, "`carriers --json`"));
            };
            Ok(alone(carriers_chart(carriers, of, "lw-rate")))
        }
        Print::SweepSvg => match &wishes.beside.sweep {
            Some(sweep) => Ok(alone(sweep_chart(sweep, "lw-sweep"))),
            None => Err(missing("/sweep", "there is no sweep to draw", "`sweep --json`")),
        },
        Print::FrontSvg => match &wishes.beside.front {
            Some(front) => Ok(alone(front_chart(front, "lw-front"))),
            None => Err(missing("/front", "there are no unbeaten plans to draw", "`front --json`")),
        },
        Print::AccumulationSvg => match &wishes.beside.accumulation {
            Some(curve) => Ok(alone(accumulation_chart(curve, "lw-accumulation"))),
            None => Err(missing("/accumulation", "there is no accumulation curve to draw", "`accumulate --json`")),
        },
        Print::StatesSvg => {
            let id = circuit.skus.get(sku).map(|s| s.id.as_str());
            let simulated = wishes.beside.simulation.as_ref();
            // Where no SKU is named, the first that was simulated.
            let named = |s: &&SimulatedSku| wishes.sku.is_none() || Some(s.id.as_str()) == id;
            match simulated.and_then(|s| s.skus.iter().find(named)) {
                Some(sku) => Ok(alone(states_chart(sku, "lw-states"))),
                None => Err(missing("/simulation", "there is no simulation of this SKU to draw", "`simulate --json`")),
            }
        }
        Print::NetRateSvg => match &wishes.beside.simulation {
            Some(simulation) => Ok(alone(net_rate_chart(&simulation.skus, "lw-net-rate"))),
            None => Err(missing("/simulation", "there is no simulation to draw", "`simulate --json`")),
        },
        Print::ChangesSvg => changes(wishes, Picture::Matrix),
        Print::ChangeSvg => changes(wishes, Picture::Schedule),
        Print::OrderSvg => changes(wishes, Picture::Order),
        Print::ReportHtml => Ok(report_html(document, &plan, circuit, sku, wishes).into_bytes()),
        #[cfg(feature = "pdf")]
        Print::ReportPdf => {
            let html = report_html(document, &plan, circuit, sku, wishes);
            crate::pdf::report_pdf(&html, &plan.document.name, &plan.short_hash(), wishes)
        }
        Print::WorkbookXlsx => workbook_xlsx(document, &plan, wishes),
    }
}

/// Whether this can be printed of several circuits.
fn of_several(what: Print, circuits: &[PlannedCircuit], wishes: &Wishes) -> Result<(), Finding> {
    let refused =
        |pointer: &str, says: String, advice: &str| Err(Finding::new(Code::NotYet, pointer, says).advise(advice));
    if !what.takes_several() {
        return refused(
            "/circuits/1",
            format!("the plan has {} circuits, and this picture is one of a single circuit", circuits.len()),
            "Of several circuits there are the drawing, the load of one that is named, the report, the workbook, and the charts of a \
             sweep and of a simulation.",
        );
    }
    if wishes.circuit.is_none() && what == Print::LoadSvg {
        return refused(
            "/circuits/1",
            format!("the plan has {} circuits, and this is made of one of them", circuits.len()),
            "Name the circuit.",
        );
    }
    let beside = &wishes.beside;
    let given = [
        ("front", beside.front.is_some()),
        ("accumulation", beside.accumulation.is_some()),
        ("changeover", beside.changeover.is_some()),
        ("carriers", wishes.carriers.is_some()),
        ("trace", wishes.trace.is_some()),
    ];
    match given.iter().find(|(_, given)| *given) {
        Some((key, _)) => refused(
            &format!("/{key}"),
            "this is worked out for one circuit only, and the plan has several".to_owned(),
            "Leave it out; of what is made beside a plan of several circuits, comparisons, sweeps, what would help and a simulation are taken.",
        ),
        None => Ok(()),
    }
}

/// The efficiency of a plan for which it was worked out.
fn reached(plan: &PlanDocument) -> Option<f64> {
    let Answer::Planned(planned) = &plan.answer else { return None };
    planned.reach.as_ref().map(|reach| reach.efficiency).filter(|e| *e > 0.0 && *e <= 1.0)
}

/// A picture of changes.
fn changes(wishes: &Wishes, picture: Picture) -> Result<Vec<u8>, Finding> {
    let pair = wishes.change.as_ref().map(|(from, to)| (from.as_str(), to.as_str()));
    match &wishes.beside.changeover {
        Some(changeover) => changes_svg(changeover, picture, pair),
        None => Err(missing("/changeover", "there are no changes to draw", "`changeover --json`")),
    }
}

/// What is to be known of a print that can be printed: letters that its fonts lack.
#[must_use]
pub fn warnings(what: Print, document: &Document, plan: &PlanDocument, wishes: &Wishes) -> Vec<Finding> {
    match what {
        #[cfg(feature = "pdf")]
        Print::ReportPdf => {
            let html = print(Print::ReportHtml, document, plan, wishes);
            let html = html.ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default();
            crate::pdf::letters_missing(&html).unwrap_or_else(Some).into_iter().collect()
        }
        _ => Vec::new(),
    }
}

/// What is to be drawn was not given.
fn missing(pointer: &str, says: &str, command: &str) -> Finding {
    Finding::new(Code::CannotDraw, pointer, says)
        .advise(format!("Give the document of {command}, or the answer of its route."))
}

/// A chart as a document of its own.
fn alone(chart: maud::Markup) -> Vec<u8> {
    (chart.into_string() + "\n").into_bytes()
}

/// Seconds that the diagram of the carriers shows where nobody says so; nothing where the document holds no plan of them.
#[must_use]
pub fn usual_stretch_s(plan: &PlanDocument, sku: Option<&str>) -> Option<f64> {
    let Answer::Planned(planned) = &plan.answer else { return None };
    let circuit = planned.circuits.first()?;
    let k = sku.map_or(Some(0), |id| circuit.skus.iter().position(|s| s.id == id))?;
    stretch_s(circuit, k)
}
