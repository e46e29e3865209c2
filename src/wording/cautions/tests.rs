use super::*;
use crate::bench::{Degrees, Name};
use crate::civil::Time;
use crate::diagnosis::{Advice, BoxDiagnosis, ColdAdvice, Diagnosis, Kind, Lately, MoveGain, Suspect};
use crate::experiment::plan::{PlanNote, StepKind};
use crate::forecast::{BoxNote, ColdLack, ColdWantedBy};
use crate::germination::Prior;
use crate::stats::Spread;
use crate::wording::forecast::caution_of_note;
use crate::wording::plan::{caution_of_plan_note, caution_of_step};
use crate::wording::{Cautions, Detail, diagnosis_text, note_words};

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

#[test]
fn every_caution_has_one_row_with_its_line_its_whole_text_and_its_source() {
    for caution in Caution::ALL {
        assert_eq!(TABLE.iter().filter(|row| row.caution == caution).count(), 1, "{caution:?}");
        let row = row(caution);
        assert!((20..=160).contains(&row.in_place.len()) && row.in_place.ends_with('.'), "{caution:?}: one line");
        assert!(row.in_full.len() > row.in_place.len() && row.in_full.ends_with('.'), "{caution:?}: more in full");
        assert!(!row.sources.is_empty() && row.sources.iter().all(|source| !source.is_empty()), "{caution:?}: on whose word?");
        for word in ["legal", "permitted", "is safe", "safely", "harmless to you"] {
            assert!(!row.in_full.contains(word) && !row.in_place.contains(word), "{caution:?} claims nothing: {word}");
        }
    }
}

fn gain(mean_c: f64) -> MoveGain {
    MoveGain {
        spot: name("mat"),
        days: Spread::default(),
        soon: 0.0,
        sprouts: Spread::default(),
        room: None,
        lately: Lately { mean_c, swing_c: 1.0, hot_hours_a_day: 0.0 },
    }
}

/// Each kind of advice with the caution that it needs, for a box that stands at 15 °C. A kind that is missing here is caught by the match
/// below, which names them all.
fn all_advice() -> Vec<(Advice, Option<Caution>)> {
    let cold = |advice, caution| (Advice::Cold(advice), caution);
    let all = vec![
        (Advice::MoveTo(gain(24.0)), Some(Caution::Heat)),
        (Advice::MoveTo(gain(12.0)), None),
        (Advice::TryOne(gain(24.0)), Some(Caution::Heat)),
        (Advice::MakeRoom(gain(24.0)), Some(Caution::Heat)),
        (Advice::LeaveIt, None),
        (Advice::LookInside(vec![Suspect::Mould]), Some(Caution::Mould)),
        (Advice::Tend, Some(Caution::Mould)),
        (Advice::LearnMore, None),
        (Advice::Calibrate(vec![name("p1")]), None),
        (Advice::SeeTo(vec![name("p1")]), None),
        cold(ColdAdvice::PutBack { days: 30.0 }, Some(Caution::Cold)),
        cold(ColdAdvice::LeaveInWarm, None),
        cold(ColdAdvice::TakeSproutsOut, Some(Caution::Mix)),
        cold(ColdAdvice::TakeOutWhenDone, None),
        cold(ColdAdvice::GoOrHold, None),
        cold(ColdAdvice::PutProbeIn, Some(Caution::Cold)),
        cold(ColdAdvice::SetWarmer, Some(Caution::Cold)),
        cold(ColdAdvice::SetColder, Some(Caution::Cold)),
        cold(ColdAdvice::Wet, Some(Caution::Cold)),
    ];
    let number = |advice: &Advice| match advice {
        Advice::MoveTo(_) => 0,
        Advice::TryOne(_) => 1,
        Advice::MakeRoom(_) => 2,
        Advice::LeaveIt => 3,
        Advice::LookInside(_) => 4,
        Advice::Tend => 5,
        Advice::LearnMore => 6,
        Advice::Cold(cold) => match cold {
            ColdAdvice::PutBack { .. } => 7,
            ColdAdvice::LeaveInWarm => 8,
            ColdAdvice::TakeSproutsOut => 9,
            ColdAdvice::TakeOutWhenDone => 10,
            ColdAdvice::GoOrHold => 11,
            ColdAdvice::PutProbeIn => 12,
            ColdAdvice::SetWarmer => 13,
            ColdAdvice::SetColder => 14,
            ColdAdvice::Wet => 15,
        },
        Advice::Calibrate(_) => 16,
        Advice::SeeTo(_) => 17,
    };
    let numbers: BTreeSet<i32> = all.iter().map(|(advice, _)| number(advice)).collect();
    assert!(numbers.into_iter().eq(0..18), "every kind is among them");
    all
}

#[test]
fn every_advice_of_the_diagnosis_is_shown_with_the_caution_that_it_needs() {
    for (advice, needed) in all_advice() {
        assert_eq!(advice.caution(Some(15.0)), needed, "{advice:?}");
        let finding = Finding::advising(Kind::SlowBeyondTemperature, Some(0.9), Some(advice.clone()), Some(15.0));
        let container = Container::new(name("A1"), name("b"), name("leek"), name("sill"), Time::UNIX_EPOCH);
        let one = BoxDiagnosis {
            trial: crate::bench::Trial::new(container),
            spot: name("sill"),
            ended: false,
            delay: None,
            guessed: None,
            liked: None,
            chilled: None,
            findings: vec![finding],
        };
        let diagnosis = Diagnosis { as_of: Time::UNIX_EPOCH, boxes: vec![one], swaps: None, probes: Vec::new() };
        for detail in [Detail::Short, Detail::All] {
            let text = diagnosis_text(&diagnosis, chrono_tz::UTC, Degrees::Celsius, detail, Cautions::InFull);
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            for caution in Caution::ALL {
                let shown = (text.contains(in_place(caution)), text.contains(&in_full(caution)[..60]));
                let wanted = needed == Some(caution);
                assert_eq!(shown, (wanted, wanted), "{advice:?}, {caution:?}, {detail:?}: {text}");
            }
        }
    }
}

#[test]
fn where_seeds_are_handled_their_plant_and_treatment_speak_too() {
    let mut container = Container::new(name("A1"), name("b"), name("Foxglove"), name("sill"), Time::UNIX_EPOCH);
    container.treatment = Some(name("dressed with thiram"));
    for (advice, needed) in all_advice() {
        let finding = Finding::advising(Kind::SlowBeyondTemperature, None, Some(advice.clone()), Some(15.0));
        let mut wanted: BTreeSet<Caution> = needed.into_iter().collect();
        if advice.touches_seeds() {
            wanted.extend([Caution::Saps, Caution::Treated]);
        }
        assert_eq!(cautions_beside(&finding, &container), wanted, "{advice:?}");
    }
    assert_eq!(caution_of_plant("tomato"), None);
    assert_eq!(caution_of_plant("Wood spurge"), Some(Caution::Saps));
    assert_eq!(cautions_in_words("GA3 500 ppm, 24 h"), [Caution::Chemicals]);
    assert!(cautions_in_words("soaked overnight in water, scratched").is_empty());
}

#[test]
fn every_note_of_a_forecast_and_every_step_and_note_of_a_plan_is_decided_on() {
    let lack = ColdLack { wanted_days: 30.0, had_days: 0.0, by: ColdWantedBy::Lot };
    let notes = [
        (BoxNote::NoTemperatures, None),
        (BoxNote::NoReadings, None),
        (BoxNote::InTheCold, None),
        (BoxNote::WantsChilling(lack), Some(Caution::Cold)),
        (BoxNote::SeedsNotCounted, None),
        (BoxNote::SeedsCountedRoughly, None),
        (BoxNote::AllAssumed { prior: Prior::General }, None),
        (BoxNote::OutsideKnownWarmth { spot_c: 30.0 }, None),
        (BoxNote::GuessedHours { share: 0.2 }, None),
    ];
    for (note, needed) in notes {
        assert_eq!(caution_of_note(&note), needed, "{note:?}");
        let words = note_words(&note, &name("leek"), Degrees::Celsius);
        for caution in Caution::ALL {
            assert_eq!(words.ends_with(in_place(caution)), needed == Some(caution), "{words}");
        }
    }
    for (kind, needed) in [
        (StepKind::ChillIn, Some(Caution::Cold)),
        (StepKind::ChillOut, None),
        (StepKind::Sow, Some(Caution::Mix)),
        (StepKind::FirstLook, None),
        (StepKind::HalfExpected, None),
        (StepKind::PotOn, Some(Caution::Mix)),
        (StepKind::PlantOut, None),
    ] {
        assert_eq!(caution_of_step(kind), needed, "{kind:?}");
    }
    for (note, needed) in [
        (PlanNote::AllAssumed { prior: Prior::General }, None),
        (PlanNote::NewLot, None),
        (PlanNote::TreatedAsBefore { treatment: name("scratched") }, None),
        (PlanNote::SproutsInTheCold, None),
        (PlanNote::ChillUntried, Some(Caution::Cold)),
    ] {
        assert_eq!(caution_of_plan_note(&note), needed, "{note:?}");
    }
}
