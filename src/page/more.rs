//! All that can be put on record here, and all boxes that ever stood on the bench.

use std::sync::Arc;

use axum::extract::{Extension, State};

use super::app::App;
use super::form::{Group, List, Row};
use super::frame::{Frame, Place, encoded};
use super::guard::Visitor;
use super::handled::{Shown, shown};
use crate::bench::Trial;
use crate::changes::{in_order, last_command};
use crate::wording::{moment, stand_words};

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| {
        let known = app.told();
        let group = |title: &str, rows: &[(&str, &str, &str)]| Group {
            title: title.to_owned(),
            rows: rows.iter().map(|(href, name, quiet)| Row::new(*href, *name, *quiet)).collect(),
        };
        let boxes = ("/boxes", "All boxes", "also those that have ended; each can be put right");
        let mut groups = Vec::new();
        let mut told = Vec::new();
        let mut last = None;
        if visitor.may_all() {
            let records = [
                ("/sow", "Sow", "one box or several alike, again like another, out of a chilling bag"),
                ("/move", "Move boxes", "many at once, now or on a day to come"),
                ("/place", "Place a probe", "which one stands where, since when"),
            ];
            let known = [
                boxes,
                ("/spots", "Spots", "kind, room, temperature where no probe stands"),
                ("/lots", "Lots", "what the packet says, where seeds come from"),
                ("/probes", "Probes", "what each showed last, and where it stands"),
            ];
            groups = vec![group("Put on record", &records), group("What is on record", &known)];
            last = app.file.ask(last_command)?;
        } else {
            told.push(
                "This device may look and count. What else is put on record is done at the computer, or by a device paired for it."
                    .to_owned(),
            );
            groups.push(group("What is on record", &[("/boxes", "All boxes", "also those that have ended")]));
        }
        let answers = [
            ("/compare", "Compare", "whether treatments, lots, spots or batches differ"),
            ("/plan", "Plan a sowing", "when and how many seeds, for plants on a wished day"),
            ("/plan/trial", "Lay a trial out", "which box goes where, and what it could show"),
            ("/details", "All the numbers", "what seeds need, every box taken apart, how forecasts did"),
            ("/status", "How the bench stands", "probes, alarms, devices"),
        ];
        groups.push(group("Ask", &answers));
        if visitor.may_all() {
            let files = [
                ("/report", "A report", "one file to show to others"),
                ("/folder", "The bench as tables", "to save, or to take in"),
            ];
            groups.push(group("Files", &files));
        }
        let paper = [
            ("/sheet", "A tally sheet", "to print and hang beside the boxes"),
            ("/grid", "Type the sheet in", "looks of several days at one stroke"),
            ("/labels", "Labels", "to print, with codes that open the box"),
        ];
        groups.push(group("On paper", &paper));
        let frame = Frame::new("More", Place::More, visitor, known);
        shown(&List { frame, title: "More".to_owned(), told, groups, last })
    })
    .await
}

pub(super) async fn boxes(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| {
        let (known, now) = (app.told(), app.now());
        let bench = app.file.ask(|store| store.bench())?.as_of(now);
        let own = bench.trials.values().filter(|trial| trial.container.owner.is_none());
        let (mut present, mut ended): (Vec<&Trial>, Vec<&Trial>) = own.partition(|trial| trial.ended_at(now).is_none());
        present.sort_by_key(|trial| in_order(&trial.container.name));
        ended.sort_by_key(|trial| std::cmp::Reverse(trial.ended_at(now)));
        let row = |trial: &&Trial| {
            let container = &trial.container;
            let sown = moment(container.sown, bench.zone);
            let words = format!("{}, {}; sown {sown}, at {}", container.species, stand_words(trial), trial.spot_at(now));
            Row::new(format!("/box/{}", encoded(container.name.as_str())), &container.name, words)
        };
        let groups = [("On the bench", present), ("Ended", ended)]
            .map(|(title, trials)| Group { title: title.to_owned(), rows: trials.iter().map(row).collect() });
        let groups = groups.into_iter().filter(|group| !group.rows.is_empty()).collect();
        let frame = Frame::new("All boxes", Place::More, visitor, known);
        shown(&List { frame, title: "All boxes".to_owned(), told: Vec::new(), groups, last: None })
    })
    .await
}
