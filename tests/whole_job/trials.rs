//! `plan trial`: layouts, and what they can show.

use std::collections::BTreeSet;

use serde_json::Value;

use super::{STORY_ENDS, demo_files};
use crate::asking::{Asked, number};

fn trial<'a>(more: &[&'a str]) -> Vec<&'a str> {
    [&["plan", "trial", "none", "soaked", "--species", "tomato", "--as-of", STORY_ENDS][..], more].concat()
}

#[test]
fn a_trial_is_laid_out_the_same_again_and_says_what_it_cannot_answer() {
    let asked = Asked::about(&demo_files());
    let two_spots = ["--spot", "shelf", "--spot", "heat mat"];
    let good = trial(&[&["--seeds", "25", "--boxes", "6", "--shuffle", "11", "--difference", "40"][..], &two_spots].concat());
    let answer = asked.json(&good);
    assert_eq!(answer, asked.json(&good));
    let boxes = answer["boxes"].as_array().unwrap();
    assert_eq!((boxes.len(), answer["warnings"].as_array().unwrap().len()), (24, 0), "{answer:#}");
    for spot in ["shelf", "heat mat"] {
        let there: Vec<&Value> = boxes.iter().filter(|one| one["spot"] == spot).collect();
        let of = |group: &str| there.iter().filter(|one| one["group"] == group).count();
        assert_eq!((of("none"), of("soaked")), (6, 6));
        let positions: Vec<u64> = there.iter().map(|one| one["position"].as_u64().unwrap()).collect();
        assert_eq!(positions, (1..=12).collect::<Vec<_>>());
    }
    let kinds = |more: &[&str]| -> BTreeSet<String> {
        let answer = asked.not_enough(&trial(more));
        answer["warnings"].as_array().unwrap().iter().map(|one| one["kind"].as_str().unwrap().to_owned()).collect()
    };
    let set = |kinds: &[&str]| kinds.iter().map(|kind| (*kind).to_owned()).collect::<BTreeSet<_>>();
    assert_eq!(kinds(&["--seeds", "20", "--spot", "shelf"]), set(&["one-box-each", "too-few-seeds"]));
    assert_eq!(
        kinds(&[
            "--seeds",
            "20",
            "--spot",
            "shelf",
            "--spot",
            "heat mat",
            "--only",
            "none=shelf",
            "--only",
            "soaked=heat mat",
            "--boxes",
            "9",
            "--difference",
            "60"
        ]),
        set(&["never-together"])
    );
    let text = asked.run(&good);
    let text = String::from_utf8(text.stdout).unwrap();
    assert!(text.contains("--shuffle 11 gives the same again"), "{text}");
    // The commands printed record just these boxes.
    let sown: Vec<&str> = text.lines().filter(|line| line.trim_start().starts_with("seedclock sow")).collect();
    assert_eq!(sown.len(), 4);
    assert!(sown.iter().filter(|line| line.contains("--treatment")).count() == 2, "none is no treatment: {sown:?}");
    let folder = tempfile::tempdir().unwrap();
    let list = folder.path().join("trial.csv");
    asked.says(&[&good[..], &["--csv", list.to_str().unwrap()]].concat());
    let mut reader = csv::Reader::from_path(&list).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 24);
    assert!(rows.iter().zip(boxes).all(|(row, one)| row[3] == *one["container"].as_str().unwrap() && row[7] == *"25"));
}

/// Fisher's exact power is held against its published figures where it is worked out; here what a grower is told of it: with few seeds no
/// small difference is promised.
#[test]
fn what_a_trial_can_show_shrinks_as_seeds_grow() {
    let asked = Asked::about(&demo_files());
    let could = |seeds: &str, boxes: &str| {
        let trial = ["plan", "trial", "a", "b", "--species", "basil", "--spot", "shelf", "--difference", "95", "--shuffle", "1"];
        let done = asked.run(&[&trial[..], &["--seeds", seeds, "--boxes", boxes, "--as-of", STORY_ENDS, "--json"]].concat());
        let answer: Value = serde_json::from_slice(&done.stdout).unwrap();
        assert_eq!((answer["share"].as_f64(), answer["alike_from"].as_str()), (Some(0.5), Some("assumed")));
        number(&answer, "/could_show")
    };
    let shown: Vec<Option<f64>> =
        [("10", "1"), ("10", "4"), ("10", "10"), ("10", "40")].map(|(seeds, boxes)| could(seeds, boxes)).into();
    let known: Vec<f64> = shown.iter().map(|shown| shown.unwrap_or(1.0)).collect();
    assert!(known.is_sorted_by(|a, b| a > b), "{shown:?}");
    assert!(known[3] < 0.25 && known[1] > 0.3, "{shown:?}");
    assert!(could("40", "1").unwrap_or(1.0) > could("10", "4").unwrap(), "the same seeds in more boxes show more");
}
