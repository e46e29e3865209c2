//! Boxes compared: what can be concluded first, then figures, then the numbers.

use std::sync::{Arc, Mutex, PoisonError};

use askama::Template;
use axum::extract::{Extension, Path, Query, State};
use axum::response::Response;

use super::app::App;
use super::asked::{Asked, Field, Kind};
use super::asking::asking;
use super::boxes::{Wanted, svg};
use super::frame::{Frame, Place};
use super::guard::Visitor;
use super::handled::{Refusal, Shown, shown};
use super::prose::{Block, blocks};
use crate::answers::compare;
use crate::bench::{Bench, Name};
use crate::charts::compared;
use crate::civil::Time;
use crate::experiment::{CompareAnswer, Factor, NoComparison, Wish};
use crate::units::Bounds;
use crate::wording::{Also, Detail, compare_text, factor_word, moment, no_comparison_words, one_group_words};

const DIFFERENCE: Bounds = Bounds { what: "the difference", low: 1.0, high: 95.0, unit: "points" };
/// The difference that is taken where none is named, in points of 100.
const USUAL_DIFFERENCE: &str = "20";
const FACTORS: [Factor; 4] = [Factor::Treatment, Factor::Lot, Factor::Spot, Factor::Batch];

type Answered = Result<CompareAnswer, NoComparison>;

/// The comparison that was last asked for: its figures are asked for right after it.
#[derive(Debug, Default)]
pub(super) struct LastCompared(Mutex<Option<(String, Time, Arc<Answered>)>>);

#[derive(Template)]
#[template(path = "compare.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    fields: Vec<Field>,
    /// Why there is nothing to compare, and other ways to ask.
    nothing: String,
    next: String,
    could: Vec<(String, String)>,
    others: Vec<(String, String)>,
    concluded: Vec<Block>,
    counts: Vec<Block>,
    numbers: Vec<Block>,
    /// File name and what is to be seen.
    figures: Vec<(&'static str, &'static str)>,
    query: String,
    as_of: String,
}

pub(super) async fn page(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Shown {
    app.aside(move |app| told(app, visitor, Asked::of(pairs))).await
}

fn told(app: &App, visitor: Visitor, mut asked: Asked) -> Shown {
    let known = app.told();
    let bench = app.file.ask(|store| store.bench())?;
    let (zone, degrees) = (bench.zone, bench.units.unwrap_or_default());
    let meant = meant(&mut asked);
    let answered = match &meant {
        Some((wish, difference)) => Some(answer(app, &asked.query(), wish, *difference)?),
        None => None,
    };
    let mut page = Page {
        frame: Frame::new("Compare", Place::Elsewhere, visitor, known),
        fields: Vec::new(),
        nothing: String::new(),
        next: String::new(),
        could: Vec::new(),
        others: Vec::new(),
        concluded: Vec::new(),
        counts: Vec::new(),
        numbers: Vec::new(),
        figures: Vec::new(),
        query: asked.query(),
        as_of: String::new(),
    };
    match answered.as_ref().map(|(answered, as_of)| (&**answered, as_of)) {
        Some((Ok(answer), as_of)) => {
            let species = super::frame::encoded(answer.species.as_str());
            let by = |factor: &Factor| {
                (format!("by={}&species={species}", factor_word(*factor)), format!("by {}", factor_word(*factor)))
            };
            page.could = answer.could.iter().map(|(factor, _)| by(factor)).collect();
            let other = |name: &Name| (format!("species={}", super::frame::encoded(name.as_str())), name.to_string());
            page.others = answer.other_species.iter().map(other).collect();
            page.as_of = moment(*as_of, zone);
            let text = compare_text(answer, zone, degrees, Detail::Short, Also::Nothing);
            let (counts, concluded) = text.split_once("\n\n").unwrap_or((&text, ""));
            page.counts = blocks(counts);
            if answer.comparison.groups.len() < 2 {
                page.nothing = one_group_words(answer).0;
            } else {
                page.concluded = blocks(concluded);
                page.numbers = blocks(&compare_text(answer, zone, degrees, Detail::All, Also::Indices));
                page.figures = compared(answer, degrees).iter().map(|(name, _)| (*name, alt(name))).collect();
            }
        }
        Some((Err(why), _)) => {
            let (what, next) = no_comparison_words(why);
            match why {
                NoComparison::NoSuchSpecies(..) => asked.fault("species", what),
                NoComparison::NoSuchBatch(..) => asked.fault("batch", what),
                NoComparison::NoBox => (page.nothing, page.next) = (what, next),
            }
        }
        None => {}
    }
    page.fields = fields(&asked, &bench);
    shown(&page)
}

fn alt(figure: &str) -> &'static str {
    match figure {
        "sprouts-a-day" => "sprouts found a day, a row for each group",
        "up-by-day" => "seeds up by day, a line for each group",
        "up-by-warmth" => "seeds up by the warmth they gathered, a line for each group",
        _ => "how many came up and how fast, with their ranges",
    }
}

fn fields(asked: &Asked, bench: &Bench) -> Vec<Field> {
    let own = || bench.trials.values().map(|trial| &trial.container).filter(|container| container.owner.is_none());
    let species: std::collections::BTreeSet<&Name> = own().map(|container| &container.species).collect();
    let batches: std::collections::BTreeSet<&Name> = own().map(|container| &container.batch).collect();
    let by = FACTORS.map(|factor| (factor_word(factor).to_owned(), factor_word(factor).to_owned())).to_vec();
    let by = std::iter::once((String::new(), "what differs".to_owned())).chain(by).collect();
    vec![
        asked.field("by", "What sets them apart", Kind::Choice(by)),
        asked.field("species", "Plant", Kind::names("sown last", species)),
        asked.field("batch", "Batch", Kind::names("all", batches)),
        asked
            .field("difference", "The gap that you wish to be shown", Kind::Number)
            .or(USUAL_DIFFERENCE)
            .hint("points of 100 sprouts; for it the seeds needed are told"),
    ]
}

/// What is asked; none: some of it cannot be meant.
fn meant(asked: &mut Asked) -> Option<(Wish, f64)> {
    let factor = asked.word("by", &FACTORS.map(|factor| (factor_word(factor), factor)));
    let wish = Wish { factor, batch: asked.name("batch"), species: asked.name("species") };
    let difference = asked.percent("difference", &DIFFERENCE).unwrap_or(20.0) / 100.0;
    asked.is_sound().then_some((wish, difference))
}

/// The answer and as of when, from the last time where the same was asked of the same.
fn answer(app: &App, query: &str, wish: &Wish, difference: f64) -> Result<(Arc<Answered>, Time), Refusal> {
    // Who asks at the same time waits, and need not work it out again.
    let mut last = app.compared.0.lock().unwrap_or_else(PoisonError::into_inner);
    let as_of = app.worked_of_now()?.map(|worked| worked.picture.as_of);
    if let Some((of, when, answered)) = &*last
        && of == query
        && Some(*when) == as_of
    {
        return Ok((Arc::clone(answered), *when));
    }
    let (answered, as_of) = asking(app, |known, shelf| (compare(known, wish, difference, shelf), known.now))?;
    let answered = Arc::new(answered);
    *last = Some((query.to_owned(), as_of, Arc::clone(&answered)));
    Ok((answered, as_of))
}

pub(super) async fn figure(
    State(app): State<Arc<App>>,
    Path(name): Path<String>,
    Query(wanted): Query<Wanted>,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Refusal> {
    app.aside(move |app| {
        let ours = |name: &str| !matches!(name, "dark" | "narrow");
        let mut asked = Asked::of(pairs.into_iter().filter(|(name, _)| ours(name)).collect());
        let none = || Refusal::not_here("there is no such figure");
        let (wish, difference) = meant(&mut asked).ok_or_else(none)?;
        let (answered, _) = answer(app, &asked.query(), &wish, difference)?;
        let Ok(answer) = &*answered else { return Err(none()) };
        let degrees = app.file.ask(|store| store.bench())?.units.unwrap_or_default();
        let named = name.strip_suffix(".svg").unwrap_or_default();
        let figure = compared(answer, degrees).into_iter().find(|(name, _)| *name == named && answer.comparison.groups.len() > 1);
        figure.map(|(_, figure)| svg(figure.svg(wanted.look(), wanted.size()))).ok_or_else(none)
    })
    .await
}
