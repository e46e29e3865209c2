//! Local times of every zone, where the clocks are changed and where the calendar has its corners.

use chrono::{DateTime, Duration, Offset, TimeZone, Utc};
use seedclock::civil::{TimeFault, Zone, local_date, local_time, read_time};

fn at(text: &str) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339(text).unwrap().to_utc()
}

fn offset_s(zone: Zone, time: DateTime<Utc>) -> i32 {
    zone.offset_from_utc_datetime(&time.naive_utc()).fix().local_minus_utc()
}

/// The instants from which on a zone's offset is another, to the second, from 2000 to 2037 (IANA tz database, by chrono-tz).
fn changes(zone: Zone) -> Vec<DateTime<Utc>> {
    let (mut changes, mut day, end) = (Vec::new(), at("2000-01-01T00:00:00Z"), at("2038-01-01T00:00:00Z"));
    while day < end {
        let (mut before, mut after) = (day, day + Duration::days(1));
        if offset_s(zone, before) != offset_s(zone, after) {
            while after - before > Duration::seconds(1) {
                let middle = before + Duration::seconds((after - before).num_seconds() / 2);
                let same = offset_s(zone, middle) == offset_s(zone, before);
                *(if same { &mut before } else { &mut after }) = middle;
            }
            changes.push(after);
        }
        day += Duration::days(1);
    }
    changes
}

/// Every instant as it is written in local time reads back as itself, or is the second of two that are written alike; and what the
/// clocks jumped over is refused. So no local time of a bench folder is misdated by a change of the clocks.
#[test]
fn fault_39_every_instant_reads_back_from_its_local_time_in_all_zones_from_2000_to_2037() {
    let corners = ["2000-02-29T00:00:00Z", "2016-12-31T23:59:59Z", "2024-02-29T12:00:00Z", "2037-12-31T23:00:00Z"].map(at);
    let (mut jumped, mut twice) = (0, 0);
    for zone in chrono_tz::TZ_VARIANTS {
        let changes = changes(zone);
        for change in changes.iter().chain(&corners) {
            for minutes in (-26 * 60..=26 * 60).step_by(30) {
                let time = *change + Duration::minutes(minutes);
                let written = local_time(time, zone);
                let read = read_time(&written, zone).unwrap_or_else(|fault| panic!("{zone}: {time} is written {written}: {fault}"));
                twice += u32::from(read.occurred_twice);
                assert!(read.time == time || read.later == Some(time), "{zone}: {time} is written {written}, read as {:?}", read);
                assert_eq!(written[..10], local_date(time, zone).to_string(), "{zone}: {time}");
            }
            let (before, after) = (offset_s(zone, *change - Duration::seconds(1)), offset_s(zone, *change));
            if after > before {
                jumped += 1;
                let never = change.naive_utc() + Duration::seconds(i64::from(before + after) / 2);
                let never = never.format("%Y-%m-%d %H:%M:%S").to_string();
                assert_eq!(read_time(&never, zone), Err(TimeFault::NeverWas(never.clone(), zone)));
            }
        }
    }
    assert!(jumped > 5_000 && twice > 5_000, "{jumped} jumps, {twice} times that came twice");
}
