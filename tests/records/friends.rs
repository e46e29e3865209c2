//! A friend's bench kept apart, and one's own handed on.

use super::Desk;

fn folder(desk: &Desk, name: &str) {
    desk.write_folder(
        name,
        &[
            (
                "containers.csv",
                b"container,batch,species,lot,treatment,seeds,sown,spot,from,box\n\
                  bag,b,leek,own,cold,40,2026-10-01T18:00:00Z,fridge,,\nA1,b,leek,own,cold,20,2026-11-01T18:00:00Z,sill,bag,lid 1\n",
            ),
            ("checks.csv", b"container,time,sprouted,condition,note\nA1,2026-11-08T08:00:00Z,3,dry,from Nell's garden\n"),
            ("probes.csv", b"probe,spot,since\np1,window,2026-09-01T08:00:00Z\n"),
            ("spots.csv", b"spot,kind,set_c,note\nfridge,fridge,4,behind the milk\nsill,,19,\n"),
            ("moves.csv", b"container,time,spot\nA1,2026-11-06T08:00:00Z,fridge\n"),
            ("lots.csv", b"lot,species,source,collected,packet_c,note\nown,leek,the lane by the mill,2025,21,ask Nell\n"),
            ("doubts.csv", b"probe,from,to,why\np1,2026-11-02T08:00:00Z,,the cat\n"),
            ("limits.csv", b"probe,place_high_c\np1,75\n"),
            ("bench.csv", b"key,value\nzone,America/New_York\nunits,fahrenheit\n"),
            ("readings.csv", b"time,probe,celsius\n2026-11-01 08:00,p1,18.5\n"),
        ],
    );
}

fn text(desk: &Desk, folder: &str, file: &str) -> String {
    std::fs::read_to_string(desk.path(folder).join(file)).unwrap()
}

#[test]
fn a_friends_bench_is_kept_apart_and_is_never_present() {
    let desk = Desk::new();
    desk.says(&["sow", "A1", "--species", "leek", "--seeds", "9", "--spot", "sill", "--at", "2026-11-20 08:00"]);
    folder(&desk, "nell");
    let imported =
        "imported 2 boxes, 1 check, 1 move, 1 lot, 3 spots, 1 placing of a probe, 1 doubted stretch, 1 probe's limits, 1 reading";
    assert_eq!(desk.says(&["import", "--from", "Nell", "nell"]), format!("{imported}\n"));
    assert!(desk.says(&["import", "--from", "Nell", "nell"]).starts_with("imported nothing new; "));
    assert_eq!(desk.says(&["import", "--from", "Jo", "nell"]), format!("{imported}\n"), "two friends do not meet either");
    desk.says(&["export", "out"]);
    assert_eq!(
        text(&desk, "out", "containers.csv").lines().filter(|line| !line.starts_with("Jo")).collect::<Vec<_>>(),
        [
            "container,batch,species,lot,treatment,seeds,sown,spot,seeds_low,seeds_high,event,depth_mm,from,box,owner,ended",
            "A1,2026-11,leek,,,9,2026-11-20T07:00:00Z,sill,,,radicle,,,,,",
            "Nell: A1,Nell: b,leek,Nell: own,cold,20,2026-11-01T18:00:00Z,Nell: sill,,,radicle,,Nell: bag,Nell: lid 1,Nell,",
            "Nell: bag,Nell: b,leek,Nell: own,cold,40,2026-10-01T18:00:00Z,Nell: fridge,,,radicle,,,,Nell,",
        ]
    );
    assert_eq!(
        text(&desk, "out", "readings.csv"),
        "time,probe,celsius\n2026-11-01T13:00:00Z,Jo: p1,18.5\n2026-11-01T13:00:00Z,Nell: p1,18.5\n",
        "local times are of the friend's zone"
    );
    assert_eq!(text(&desk, "out", "bench.csv"), "key,value\nzone,Europe/Berlin\n", "a friend's settings are theirs");
    let limits = text(&desk, "out", "limits.csv");
    assert!(limits.contains("\nJo: p1,") && limits.contains("\nNell: p1,"), "{limits}");
    let forecast = desk.run(&["forecast", "--json"]);
    assert!(forecast.out.contains("\"A1\"") && !forecast.out.contains("Nell"), "{}", forecast.out);
    let fit = desk.run(&["fit", "--json"]).out;
    assert!(fit.contains("\"trials\": 2"), "both friends' sowings teach, one's own was not looked at: {fit}");
}

#[test]
fn a_friends_names_must_leave_room_for_theirs() {
    let desk = Desk::new();
    folder(&desk, "nell");
    let friend = "N".repeat(75);
    let answer = desk.run(&["import", "--from", &friend, "nell"]);
    assert_eq!(answer.code, 2);
    assert!(
        answer.err.contains("spots.csv:2: a name of 83 characters ('NNNNNNNNNNNNNNNNNNNN…') is too long: names have at most 80"),
        "{}",
        answer.err
    );
    assert!(!desk.bench().exists());
}

#[test]
fn what_is_handed_on_has_no_places_notes_or_friends() {
    let desk = Desk::new();
    folder(&desk, "own");
    desk.says(&["import", "own"]);
    folder(&desk, "nell");
    desk.says(&["import", "--from", "Nell", "nell"]);
    desk.says(&["export", "--share", "out"]);
    let all: String = desk.files("out").into_iter().map(|(_, bytes)| String::from_utf8(bytes).unwrap()).collect();
    for secret in ["Nell", "lane", "milk", "cat"] {
        assert!(!all.contains(secret), "{secret}: {all}");
    }
    assert_eq!(
        text(&desk, "out", "lots.csv").lines().nth(1).unwrap(),
        "own,leek,,2025,,,21,,,,",
        "what the packet says is no secret"
    );
    assert_eq!(text(&desk, "out", "limits.csv").lines().skip(1).collect::<Vec<_>>(), ["p1,,,,75,,,,,"]);
    assert_eq!(text(&desk, "out", "readings.csv").lines().count(), 2);
    std::fs::remove_file(desk.bench()).unwrap();
    desk.says(&["import", "out"]);
}
