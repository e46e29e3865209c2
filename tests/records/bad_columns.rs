//! Bad folders, the optional columns and files, and what spreadsheets and other hands do to tables: each with the whole complaint.

use super::bad_input::{Case, case};

pub(super) const COLUMNS: &[Case] = &[
    // Times.
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,07:30,3\n",
        "checks.csv:2: time: '07:30' has no date: write for example 2026-03-14 07:30\n  nothing was imported; next: correct \
         line 2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,2026-03-05,3\n",
        "checks.csv:2: time: '2026-03-05' has no time of day: write for example 2026-03-05 07:30\n  nothing was imported; \
         next: correct line 2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,05.03.2026 07:30,3\n",
        "checks.csv:2: time: '05.03.2026 07:30' is not a time: write 2026-03-14T07:30:00+01:00, or 2026-03-14 07:30 in the \
         bench's zone\n  nothing was imported; next: correct line 2\n",
    ),
    case(
        "moves.csv",
        b"container,time,spot\nA1,2026-03-29 02:30,sill\n",
        "moves.csv:2: time: 2026-03-29 02:30 did not exist in Europe/Berlin: the clocks jumped over it\n  nothing was imported; \
         next: correct line 2\n",
    ),
    // Numbers.
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot\nA1,b,leek,,,1000000,2026-03-01 18:00,sill\nA2,b,leek,,,20,2026-03-\
         01 18:00,sill\n",
        "containers.csv:2: 1000000 is out of range: the number of seeds in one box lies from 1 to 100000\n  nothing was imported; \
         next: correct line 2\n",
    ),
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot,seeds_low,seeds_high\nA1,b,leek,,,20,2026-03-01 18:00,sill,25,\nA2,\
         b,leek,,,,2026-03-01 18:00,sill,50,40\n",
        "2 things are wrong\n  containers.csv:2: container 'A1' is said to have seeds_low 25, seeds 20: these never fall\n  \
         containers.csv:3: container 'A2' is said to have seeds_low 50, seeds_high 40: these never fall\n  nothing was imported\n",
    ),
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot,depth_mm\nA1,b,leek,,,20,2026-03-01 18:00,sill,-4\nA2,b,leek,,,20,2\
         026-03-01 18:00,sill,\"1,5\"\n",
        "2 things are wrong\n  containers.csv:3: depth_mm: '1,5' has a comma: write numbers with a decimal point\n  containers.csv\
         :2: -4 mm is out of range: the depth of sowing lies from 0 to 300 mm\n  nothing was imported\n",
    ),
    // Names.
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot\nA1,b,leek,\"own\nsaved\",,20,2026-03-01 18:00,sill\n",
        "containers.csv:2: lot: the name 'own\\nsaved' holds a line break or another control character\n  nothing was imported; \
         next: correct line 2\n",
    ),
    case(
        "probes.csv",
        b"probe,spot,since\np1,xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx\
         xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx\
         xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx,2026-02-01 08:00\n",
        "probes.csv:2: spot: a name of 280 characters ('xxxxxxxxxxxxxxxxxxxx…') is too long: names have at most 80\n  nothing \
         was imported; next: correct line 2\n",
    ),
    // Seeds out of a bag.
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot,from\nA1,b,leek,,,20,2026-03-01 18:00,sill,\nA2,b,leek,,,12,2026-03\
         -05 18:00,sill,A1\nA3,b,leek,,,6,2026-03-05 19:00,sill,A1\n",
        "containers.csv:4: 6 seeds taken out of container 'A1' on 2026-03-05 19:00, where 5 of 20 were left\n  nothing was \
         imported; next: correct line 4\n",
    ),
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot,from\nA1,b,leek,,,20,2026-03-01 18:00,sill,\nA2,b,leek,,,16,2026-03\
         -05 18:00,sill,A1\n",
        "checks.csv:3: 7 sprouts, 16 taken out, together 23, in container 'A1', which holds 20 seeds\n  nothing was imported; \
         next: correct line 3, or the number of seeds in containers.csv:2\n",
    ),
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot,from,ended\nA1,b,leek,,,20,2026-03-01 18:00,sill,A2,\nA2,b,leek,,,2\
         0,2026-03-01 18:00,sill,A1,\nB1,b,tomato,,,,2026-03-02 18:00,sill,B2,\nB2,b,onion,,,9,2026-03-01 18:00,sill,,2026-03-02 \
         08:00\nB3,b,leek,,,2,2026-03-02 18:00,sill,B9,\n",
        "7 things are wrong\n  containers.csv:2: container 'A1' was taken out of 'A2' on 2026-03-01 18:00: that must come \
         after 'A2' was sown, on 2026-03-01 18:00\n  containers.csv:3: container 'A2' was taken out of 'A1' on 2026-03-01 \
         18:00: that must come after 'A1' was sown, on 2026-03-01 18:00\n  containers.csv:4: container 'B1' was taken out \
         of 'B2' on 2026-03-02 18:00: 'B2' had ended on 2026-03-02 08:00\n  containers.csv:4: container 'B1' holds tomato, \
         and 'B2', which its seeds came out of, onion\n  containers.csv:4: the seeds of container 'B1' are not counted, and \
         those of 'B2', which they came out of, are: say how many were taken\n  containers.csv:6: there is no container 'B9': \
         neither containers.csv nor the bench names it\n  checks.csv:2: 3 sprouts, 20 taken out, together 23, in container \
         'A1', which holds 20 seeds\n  nothing was imported\n",
    ),
    // A lid.
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot,box\nA1,b,leek,,,20,2026-03-01 18:00,sill,L1\nA2,b,leek,,,20,2026-0\
         3-03 18:00,sill,L1\n",
        "containers.csv:3: box 'L1' cannot hold 'A2' from 2026-03-03 18:00 on: it holds 'A1' without an end\n  nothing was \
         imported; next: correct line 3\n",
    ),
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot,box,ended\nA1,b,leek,,,20,2026-03-01 18:00,sill,L1,2026-03-10 \
         08:00\nA2,b,leek,,,20,2026-03-09 18:00,sill,L1,\n",
        "containers.csv:3: box 'L1' cannot hold 'A2' from 2026-03-09 18:00 on: it holds 'A1' until 2026-03-10 08:00\n  nothing \
         was imported; next: correct line 3\n",
    ),
    // Spots.
    case(
        "spots.csv",
        b"spot,set_c,day_c,night_c\nsill,20,22,14\nmat,,22,\nshelf,,90,14\n",
        "3 things are wrong\n  spots.csv:2: set_c is given, and day_c or night_c too: a spot has one temperature or two by \
         day and night\n  spots.csv:3: day_c and night_c are given together or not at all\n  spots.csv:4: 90 °C is out of \
         range: a set temperature lies from -20 to 60 °C\n  nothing was imported\n",
    ),
    case(
        "spots.csv",
        b"spot,since,set_c\nsill,2026-01-01 08:00,20\nsill,2026-01-01 08:00,22\nsill,,18\nsill,,19\n",
        "2 things are wrong\n  spots.csv:3: spot 'sill' is known already from 2026-01-01 08:00 on, with other values: set_c \
         20, here 22\n  spots.csv:5: spot 'sill' is known already, with other values: set_c 18, here 19\n  nothing was imported\n",
    ),
    case(
        "spots.csv",
        b"spot,kind,capacity\nsill,cellar,4\nmat,fridge,0\n",
        "2 things are wrong\n  spots.csv:2: kind: 'cellar' is none of indoors, fridge, outdoors\n  spots.csv:3: 0 is out \
         of range: the room for boxes at one spot lies from 1 to 10000\n  nothing was imported\n",
    ),
    case(
        "spots.csv",
        b"spot,changed\nsill,2126-01-01 08:00\n",
        "spots.csv:2: the change of spot 'sill', 2126-01-01 08:00, lies in the future\n  nothing was imported; next: correct \
         line 2\n",
    ),
    // Moves.
    case(
        "moves.csv",
        b"container,time,spot,planned\nA1,2027-03-04 08:00,sill,maybe\n",
        "moves.csv:2: planned: 'maybe' is none of yes, no\n  nothing was imported; next: correct line 2\n",
    ),
    case(
        "moves.csv",
        b"container,time,spot,planned\nA1,2027-03-04 08:00,attic,yes\n",
        "moves.csv:2: there is no spot 'attic': neither probes.csv, spots.csv or containers.csv nor the bench names it\n  \
         nothing was imported; next: correct line 2\n",
    ),
    case(
        "moves.csv",
        b"container,time,spot\nB9,2026-03-04 08:00,sill\n",
        "moves.csv:2: there is no container 'B9': neither containers.csv nor the bench names it\n  nothing was imported; \
         next: correct line 2\n",
    ),
    // Lots and doubts.
    case(
        "lots.csv",
        b"lot,species,packet_days_low,packet_days_high,packet_percent\nown,leek,10,6,\nshop,leek,6,10,120\n",
        "2 things are wrong\n  lots.csv:2: the packet's days of lot 'own' run from 10 to 6: the lower comes first\n  lots.csv:3: \
         120 % is out of range: a share lies from 0 to 100 %\n  nothing was imported\n",
    ),
    case(
        "doubts.csv",
        b"probe,from,to,why\np9,2026-03-04 08:00,,fell out\np1,2026-03-04 08:00,2026-03-03 08:00,fell out\n",
        "2 things are wrong\n  doubts.csv:2: there is no probe 'p9': neither probes.csv, the readings nor the bench names \
         it\n  doubts.csv:3: probe 'p1' is doubted from 2026-03-04 08:00 to 2026-03-03 08:00: the end comes before the beginning\n  \
         nothing was imported\n",
    ),
    // Limits.
    case(
        "limits.csv",
        b"probe,lowest_c,highest_c,place_high_c\np9,,,70\np1,-20,1200,hot\np1,150,,\n",
        "limits.csv:3: place_high_c: 'hot' is not a number\n  nothing was imported; next: correct line 3\n",
    ),
    case(
        "limits.csv",
        b"probe,lowest_c,highest_c,spike_suspect_c\np9,,70,\np1,,1200,\np1,150,,\np1,,,8\n",
        "4 things are wrong\n  limits.csv:2: there is no probe 'p9': neither probes.csv, the readings nor the bench names it\n  \
         limits.csv:3: probe 'p1': 1200 °C is out of range: what a sensor can measure lies from -273.15 to 1000 °C\n  \
         limits.csv:4: probe 'p1': what a sensor can measure lies from 150 to 125 (the usual) °C: its lower end lies below its upper \
         one\n  limits.csv:5: probe 'p1': a spike is suspect beyond 8 and fails beyond 5 (the usual) °C: it is suspect before it \
         fails\n  nothing was imported\n",
    ),
    case(
        "limits.csv",
        b"probe,highest_c\np1,110\np1,120\n",
        "limits.csv:3: the limits of probe 'p1' are known already, with other values: highest_c 110, here 120\n  nothing was \
         imported; next: correct line 3\n",
    ),
    // The bench.
    case(
        "bench.csv",
        b"key,value\nzone,Europe/Berlin\nunits,kelvin\ncolour,green\nzone,Europe/Dublin\n",
        "3 things are wrong\n  bench.csv:3: value: 'kelvin' is none of celsius, fahrenheit\n  bench.csv:4: unknown key 'colour': \
         the keys of bench.csv are zone, units, too-hot, freezing, alarm-after, look-every, quiet-hours, quiet-urgent, \
         no-alarm\n  bench.csv:5: the key 'zone' stands there twice\n  nothing was imported\n",
    ),
    // What spreadsheets make of it.
    case(
        "checks.csv",
        b"\xEF\xBB\xBFcontainer;time;sprouted\r\nA1;2026-03-05 08:00;3\r\n",
        "checks.csv:1: its cells are separated by semicolons: the tables of a bench folder have commas between cells\n  nothing \
         was imported; next: correct line 1\n",
    ),
    case(
        "readings.csv",
        b"time\tprobe\tcelsius\n",
        "readings.csv:1: its cells are separated by tabs: the tables of a bench folder have commas between cells\n  nothing \
         was imported; next: correct line 1\n",
    ),
    // Degrees.
    case(
        "readings.csv",
        b"time,probe,celsius\n2026-03-01T00:00:00Z,p1,64.5\n2026-03-01T00:01:00Z,p1,66\n2026-03-01T00:02:00Z,p1,18\n",
        "readings.csv:1: celsius: 2 of 3 readings lie above 45 °C, too warm for seeds: are they in Fahrenheit?\n  nothing \
         was imported; next: name the column fahrenheit if they are, else import with --units celsius\n",
    ),
    case(
        "readings.csv",
        b"time,probe,celsius,fahrenheit\n2026-03-01T00:00:00Z,p1,18,64.4\n",
        "readings.csv:1: a column 'celsius' or 'fahrenheit' must be there, and not both\n  nothing was imported; next: correct \
         line 1\n",
    ),
    case(
        "readings.csv",
        b"time,probe,fahrenheit\n2026-03-01T00:00:00Z,p1,2000\n2026-03-01T00:01:00Z,p1,\n",
        "2 things are wrong\n  readings.csv:2: fahrenheit: 2000 °F is no reading: readings lie from -1000 to 1000 °C\n  readings.c\
         sv:3: fahrenheit is empty\n  nothing was imported\n",
    ),
];
