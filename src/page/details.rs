//! All that was worked out of the boxes that stand there, in full.

use std::sync::Arc;

use askama::Template;
use axum::extract::{Extension, State};

use super::app::App;
use super::frame::{Frame, Place};
use super::guard::Visitor;
use super::handled::{Shown, shown};
use super::prose::{Block, blocks};
use crate::answers::ledger;
use crate::diagnosis::Caution;
use crate::wording::{Cautions, Detail, diagnosis_text, fit_text, forecast_text, in_full, ledger_words};

#[derive(Template)]
#[template(path = "details.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    /// Each part with its heading.
    parts: Vec<(&'static str, Vec<Block>)>,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| {
        let told = app.told();
        let mut parts = Vec::new();
        if let Some(worked) = app.worked() {
            let picture = &worked.picture;
            let (zone, degrees) = (picture.known.bench.zone, picture.known.bench.units.unwrap_or_default());
            let kept = app.file.ask(|store| store.kept_forecasts(picture.as_of))?;
            let ledger = ledger(&picture.known, &kept);
            parts.push(("When they will sprout", forecast_text(&picture.forecast, &ledger, zone, degrees)));
            // The forecast says it itself where it has anything to say.
            let how =
                ledger_words(&ledger).unwrap_or_else(|| "No forecast has been kept long enough to be looked back on.".to_owned());
            parts.push(("How earlier forecasts did", how));
            parts
                .push(("Which are slow, and why", diagnosis_text(&picture.diagnosis, zone, degrees, Detail::All, Cautions::Named)));
            parts.push(("What the seeds need", fit_text(&picture.forecast.fits, degrees)));
        }
        let parts = parts.into_iter().map(|(heading, text)| (heading, blocks(&text))).filter(|(_, said)| !said.is_empty());
        let cautions = [Caution::Heat, Caution::Mould].map(|caution| Block::Words(0, in_full(caution).to_owned()));
        let parts = parts.chain([("Cautions", cautions.to_vec())]);
        shown(&Page { frame: Frame::new("Details", Place::Elsewhere, visitor, told), parts: parts.collect() })
    })
    .await
}
