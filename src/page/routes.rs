//! Every way in, and what it asks of who comes: one table, by which requests are let in and that tests go through.

use std::sync::Arc;

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::Method;
use axum::routing::{MethodRouter, get, post};

use super::app::App;
use super::guard::Needed;
use super::{
    assets, boxes, compare, correct, details, ends, folder, grid, live, looks, lots, more, moving, pairing, paper, photos, plan,
};
use super::{probes, report, round, sow, spots, status, today};

/// A way in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Route {
    /// GET reads and changes nothing; POST changes.
    pub method: &'static str,
    /// The path, with what varies in braces.
    pub path: &'static str,
    /// What it asks of who comes.
    pub needed: Needed,
}

type Handler = MethodRouter<Arc<App>>;

const fn reads(path: &'static str, needed: Needed) -> Route {
    Route { method: "GET", path, needed }
}

const fn writes(path: &'static str, needed: Needed) -> Route {
    Route { method: "POST", path, needed }
}

fn table() -> Vec<(Route, Handler)> {
    use Needed::{All, Look, Nothing};
    vec![
        (reads("/assets/{version}/page.css", Nothing), get(assets::style)),
        (reads("/assets/{version}/page.js", Nothing), get(assets::script)),
        (reads("/icon.svg", Nothing), get(assets::icon)),
        (reads("/pair", Nothing), get(pairing::page)),
        (writes("/do/pair", Nothing), post(pairing::pair)),
        (reads("/", Look), get(today::page)),
        (reads("/live", Look), get(live::news)),
        (reads("/round", Look), get(round::spots)),
        (reads("/round/{spot}", Look), get(round::page)),
        (reads("/box/{name}", Look), get(boxes::page)),
        (reads("/box/{name}/sprouts.svg", Look), get(boxes::sprouts)),
        (reads("/box/{name}/warmth.svg", Look), get(boxes::warmth)),
        (reads("/box/{name}/by-warmth.svg", Look), get(boxes::by_warmth)),
        (reads("/lid/{name}", Look), get(boxes::lid)),
        (writes("/do/looks", Look), post(looks::record)),
        (writes("/do/looks/undo", Look), post(looks::take_back)),
        (writes("/do/waiting", Look), post(looks::answer)),
        (reads("/more", Look), get(more::page)),
        (reads("/boxes", Look), get(more::boxes)),
        (reads("/box/{name}/look/{id}", Look), get(correct::look_page)),
        (writes("/do/look", Look), post(correct::look)),
        (writes("/do/undo", Look), post(ends::undo)),
        (reads("/sow", All), get(sow::page)),
        (writes("/do/sow", All), post(sow::record)),
        (reads("/move", All), get(moving::page)),
        (writes("/do/move", All), post(moving::record)),
        (reads("/probes", All), get(probes::list)),
        (reads("/place", All), get(probes::page)),
        (writes("/do/place", All), post(probes::record)),
        (reads("/probe/{name}/placing/{id}", All), get(correct::placing_page)),
        (writes("/do/placed", All), post(correct::placed)),
        (reads("/lots", All), get(lots::list)),
        (reads("/lot", All), get(lots::page)),
        (writes("/do/lot", All), post(lots::record)),
        (reads("/spots", All), get(spots::list)),
        (reads("/spot", All), get(spots::page)),
        (writes("/do/spot", All), post(spots::record)),
        (reads("/box/{name}/right", All), get(correct::box_page)),
        (writes("/do/box", All), post(correct::of_box)),
        (reads("/box/{name}/move/{id}", All), get(correct::move_page)),
        (reads("/box/{name}/plan/{id}", All), get(correct::plan_page)),
        (writes("/do/moved", All), post(correct::moved)),
        (writes("/do/planned", All), post(correct::planned)),
        (writes("/do/close", All), post(ends::close)),
        (writes("/do/reopen", All), post(ends::reopen)),
        (reads("/photo/{id}", Look), get(photos::picture)),
        (writes("/do/photo/{name}", Look), post(photos::keep).layer(DefaultBodyLimit::max(photos::PHOTO_SENT_BYTES))),
        (writes("/do/photo-away", All), post(photos::take_away)),
        (reads("/labels", Look), get(paper::labels_page)),
        (reads("/sheet", Look), get(paper::sheet_page)),
        (reads("/grid", Look), get(grid::page)),
        (writes("/do/grid", Look), post(grid::record).layer(DefaultBodyLimit::max(grid::GRID_BYTES))),
        (reads("/compare", Look), get(compare::page)),
        (reads("/compare/{name}", Look), get(compare::figure)),
        (reads("/plan", Look), get(plan::page)),
        (reads("/plan.ics", Look), get(plan::calendar)),
        (reads("/plan/trial", Look), get(plan::trial_page)),
        (reads("/details", Look), get(details::page)),
        (reads("/status", Look), get(status::page)),
        (writes("/do/shut-out", All), post(status::shut_out)),
        (reads("/report", All), get(report::page)),
        (reads("/report.html", All), get(report::file)),
        (reads("/folder", All), get(folder::page)),
        (reads("/folder.zip", All), get(folder::download)),
        (writes("/do/folder/examine", All), post(folder::examine).layer(DefaultBodyLimit::max(folder::SENT_BYTES))),
        (writes("/do/folder/take", All), post(folder::take).layer(DefaultBodyLimit::max(folder::SENT_BYTES))),
    ]
}

/// Every way in.
#[must_use]
pub fn routes() -> Vec<Route> {
    table().into_iter().map(|(route, _)| route).collect()
}

/// What a request asks of who comes; one to nowhere tells strangers nothing either.
pub(super) fn needed(method: &Method, path: Option<&str>) -> Needed {
    let method = if *method == Method::HEAD { "GET" } else { method.as_str() };
    let route = routes().into_iter().find(|route| Some(route.path) == path && route.method == method);
    route.map_or(Needed::Look, |route| route.needed)
}

pub(super) fn router() -> Router<Arc<App>> {
    let router = table().into_iter().fold(Router::new(), |router, (route, handler)| router.route(route.path, handler));
    router.fallback(assets::nothing_here)
}
