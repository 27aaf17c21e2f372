//! The service over HTTP. `routes` is the one list that feeds both the server and its document.

mod about;
mod alternatives;
mod ask;
mod changeover;
mod describe;
mod guard;
mod jobs;
mod page;
mod print;
mod problem;
mod shelf;
mod simulate;
mod state;
mod take;
#[cfg(test)]
mod tests;

pub use problem::Problem;
pub use state::{Service, Settings};

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use actix_cors::Cors;
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceFactory, ServiceRequest, ServiceResponse};
use actix_web::middleware::{Compress, from_fn};
use actix_web::{App, Error, HttpServer, web};
use utoipa_actix_web::AppExt;
use utoipa_actix_web::service_config::ServiceConfig;
use utoipa_swagger_ui::{Config, SwaggerUi};

pub use describe::{document, document_text};

use crate::codes::Code;
use crate::finding::Finding;
use crate::jobs::Sqlite;

/// Every route that clients may use: server and document read this list.
fn routes(config: &mut ServiceConfig<'_>) {
    config
        .service(ask::check_cell)
        .service(ask::plan_cell)
        .service(ask::judge_plan)
        .service(alternatives::compare_cell)
        .service(alternatives::sweep_cell)
        .service(alternatives::explain_cell)
        .service(alternatives::accumulate_cell)
        .service(alternatives::front_of_cell)
        .service(simulate::simulate_plan)
        .service(changeover::change_cell)
        .service(ask::rate_carriers)
        .service(ask::trace_carriers)
        .service(print::print_plan)
        .service(jobs::list_jobs)
        .service(jobs::read_job)
        .service(jobs::read_result)
        .service(jobs::cancel_job)
        .service(jobs::follow_job)
        .service(shelf::keep_plan)
        .service(shelf::list_plans)
        .service(shelf::read_plan)
        .service(shelf::name_plan)
        .service(shelf::delete_plan)
        .service(shelf::restore_plan)
        .service(shelf::keep_cell)
        .service(shelf::list_cells)
        .service(shelf::read_cell)
        .service(shelf::replace_cell)
        .service(shelf::delete_cell)
        .service(shelf::restore_cell)
        .service(about::list_examples)
        .service(about::read_example)
        .service(about::live)
        .service(about::ready)
        .service(about::show_metrics);
}

fn cors(settings: &Settings) -> Cors {
    let start = Cors::default().allow_any_header().allowed_methods(["GET", "POST", "PUT", "DELETE"]);
    let start = start.expose_headers(["ETag", "Location", "Content-Location", "Retry-After", "X-Request-Id"]);
    settings.origins.iter().fold(start, |cors, origin| cors.allowed_origin(origin))
}

/// The application over a service.
pub fn app(
    service: web::Data<Service>,
) -> App<
    impl ServiceFactory<
        ServiceRequest,
        Config = (),
        Response = ServiceResponse<impl MessageBody>,
        Error = Error,
        InitError = (),
    >,
> {
    let settings = &service.settings;
    let cross = actix_web::middleware::Condition::new(!settings.origins.is_empty(), cors(settings));
    let explorer = Config::new(["/openapi.json"]).validator_url("none");
    App::new()
        .app_data(web::PayloadConfig::new(settings.body))
        .app_data(service)
        .wrap(from_fn(guard::guard))
        .wrap(cross)
        .wrap(Compress::default())
        .into_utoipa_app()
        .configure(routes)
        .into_app()
        .route("/", web::get().to(page::index))
        .route("/page/{name}", web::get().to(page::file))
        .route("/drawing.css", web::get().to(about::drawing_style))
        .route("/openapi.json", web::get().to(about::openapi))
        .service(SwaggerUi::new("/explorer/{_:.*}").config(explorer))
        .default_service(web::to(describe::otherwise))
}

/// Refuses settings that would open the service to others without a token.
///
/// # Errors
/// A finding that says what to do.
pub fn checked(settings: Settings) -> Result<Settings, Finding> {
    let fits = |token: &String| token.len() >= 16 && token.bytes().all(|b| b.is_ascii_graphic());
    if settings.token.as_ref().is_some_and(|token| !fits(token)) {
        return Err(Finding::new(
            Code::Port,
            "",
            "the token is too short or holds other than visible ASCII characters",
        )
        .advise("Take at least 16 characters, best random ones."));
    }
    if settings.token.is_none() && !settings.address.ip().is_loopback() {
        return Err(Finding::new(
            Code::Port,
            "",
            format!("{} can be reached by others, and there is no token", settings.address),
        )
        .advise("Give a token, or listen on a loopback address as 127.0.0.1. Put TLS in front of what others reach."));
    }
    Ok(settings)
}

fn port(settings: &Settings, error: impl std::fmt::Display) -> Finding {
    Finding::new(Code::Port, "", format!("{} cannot be opened: {error}", settings.address))
}

/// Serves until a signal ends it, then hands running jobs back to the queue. `ready` learns the address.
///
/// # Errors
/// A finding: the store or the address cannot be opened.
pub fn serve(settings: Settings, ready: impl FnOnce(SocketAddr)) -> Result<(), Finding> {
    let settings = checked(settings)?;
    about::count();
    let failed = |error: crate::jobs::StoreError| Finding::new(Code::StoreFailed, "", error.to_string());
    let store = Sqlite::open(&settings.store).map_err(failed)?;
    let service = web::Data::new(Service::new(Arc::new(store), settings.clone()).map_err(failed)?);
    let shared = service.clone();
    let ended = actix_web::rt::System::new().block_on(async move {
        let signal = shared.clone();
        let server = HttpServer::new(move || app(shared.clone()))
            .client_request_timeout(Duration::from_secs(10))
            .shutdown_timeout(5)
            .shutdown_signal(async move {
                interrupted().await;
                signal.stopping.send_replace(true);
            })
            .bind(settings.address)
            .map_err(|error| port(&settings, error))?;
        if let Some(address) = server.addrs().first() {
            ready(*address);
        }
        server.run().await.map_err(|error| port(&settings, error))
    });
    service.queue.stop();
    ended
}

/// Waits for the signals that end a program.
async fn interrupted() {
    #[cfg(unix)]
    {
        use actix_web::rt::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = terminate.recv() => {}
                _ = actix_web::rt::signal::ctrl_c() => {}
            }
            return;
        }
    }
    let _ = actix_web::rt::signal::ctrl_c().await;
}
