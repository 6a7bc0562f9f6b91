//! The bench sheet: what stands on it, what it refuses, and that nothing on it can run.

use std::sync::Arc;

use meltstair::alloy::AlloyBook;
use meltstair::bench::Setting;
use meltstair::job::{self, Job};
use meltstair::melt::{MeltBook, Pin};
use meltstair::plan;
use meltstair::show::chart::Scale;
use meltstair::show::say::Say;
use meltstair::show::sheet::{Sheet, Use};
use meltstair::show::{check, sheet, version};

/// The sheet of the steps as they are written.
pub fn sheet_of(text: &str) -> Sheet {
    sheet_of_job(&job_of(text))
}

fn job_of(text: &str) -> Job {
    let read = job::read(text, "job.yaml", AlloyBook::shipped());
    read.unwrap_or_else(|why| panic!("{why}")).job
}

fn sheet_of_job(job: &Job) -> Sheet {
    let book = AlloyBook::shipped();
    let pins = job.pins.iter().map(|pin| Pin {
        composition: pin.solder.composition,
        solidus: pin.solidus,
        liquidus: pin.liquidus,
    });
    let melts = MeltBook::new(Arc::new(book.clone()), pins.collect());
    let setting = Setting::new(job, &melts);
    let checked = plan::check(&setting, &plan::as_written(job).plan);
    let frame = check::frame("sheet", job, &checked, Vec::new(), Say::default());
    let data = version::data_version();
    sheet::of(&setting, &checked, &frame, Say::default(), &data)
}

pub fn twelve() -> String {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/jobs/twelve_steps.yaml");
    std::fs::read_to_string(path).unwrap()
}

/// The page as a reader sees it: no tags, no style, no picture; character references read.
fn words(html: &str) -> String {
    let body = &html[html.find("<body").unwrap()..];
    let mut out = String::new();
    let mut rest = body;
    while let Some(at) = rest.find('<') {
        out.push_str(&rest[..at]);
        out.push(' ');
        let skip = if rest[at..].starts_with("<svg") {
            rest[at..].find("</svg>").unwrap() + "</svg>".len()
        } else {
            rest[at..].find('>').unwrap() + 1
        };
        rest = &rest[at + skip..];
    }
    out.push_str(rest);
    let out = out
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&amp;", "&");
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_plan_says_all_that_the_bench_needs() {
    let sheet = sheet_of(&twelve());
    assert_eq!(sheet.use_for, Use::Plan, "{:?}", sheet.why_not);
    let page = words(&sheet.html());
    for wanted in [
        "Bench sheet holds",
        "planetarium star ball",
        "weakest: body of driver in step 1 (remove driver), 9 K left",
        "board 96 × 60 × 1.2 mm, 6 copper layers of 35 µm date who",
        "Alloys as they arrived: Sn96.5Ag3Cu0.5 (as the job says): driver_pins, frame, crystal, plug",
        // One row: window, end and who sets it, what is left.
        "place memory on site set balls Bi58Sn42 air, set board at 90 °C",
        "aim 159.3",
        "jumpers (solid to 181)",
        "► weakest: 9 K left",
        "cold, flux off; each rail to ground, each wire to its neighbours",
        "as done: time, who",
        "read at jumpers: °C",
        "did JOB set --peak ___ --sees jumpers:___",
        "did JOB shield ! Lamp: UV harms",
        "What the words mean",
        // The foot.
        "step 2: driver_pins: 2 × 0.5 mg Sn63Pb37 on each pad, wick after each",
        "memory (holds the data): 1 before, 1 here (steps 10), 4 left after, hottest 159.3 °C",
        "no bake, oven or plate above 131 °C",
        "no leaded solder, wick or tip on site",
        "no bismuth solder or tip on jumpers, tails, driver_pins, choke",
        "memory comes off at 163.3 °C (all liquid from 143.3 °C), not at its first melt",
        "up to 88 °C (site",
        "If a step goes wrong",
        "Lead: no food or drink",
        "Temperatures in °C, differences in K",
        "data ",
    ] {
        assert!(page.contains(wanted), "`{wanted}` is missing in:\n{page}");
    }
    assert!(page.contains(&version::data_version()));
    let rows = sheet.html().matches("<tr class=").count() + sheet.html().matches("<tr>").count();
    assert_eq!(rows, 13, "a head and twelve steps");
}

#[test]
fn a_window_that_does_not_exist_prints_as_a_refusal_with_the_reason() {
    let text = std::fs::read_to_string(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/charts/seismometer.yaml"
    ))
    .unwrap();
    let sheet = sheet_of(&text);
    assert_eq!(sheet.use_for, Use::Refusal);
    let page = words(&sheet.html());
    assert!(page.starts_with("NO PLAN softens"), "{page}");
    // The head and the reasons round the same number the same way.
    assert!(
        page.contains("(solder frame), 5.3 K too hot") && page.contains("softens, -5.3 K"),
        "{page}"
    );
    assert!(page.contains("Do not work by this page"));
    let closed =
        "step 2 fence: no window: it flows from 224 °C, and must stay below 210.7 °C, set by site";
    assert!(page.contains(closed), "{page}");
    // Nothing to tick off, nothing to fill in.
    assert!(!sheet.html().contains("<table"));
    assert!(!page.contains("as done"));
}

/// A margin that is not kept although nothing melts: no peak keeps it, so there is no plan either.
#[test]
fn a_closed_window_refuses_even_where_the_verdict_is_only_close() {
    let text = "
job: carillon clapper
readings: {Sn63Pb37: [183, 183]}
joints:
  - {id: first, alloy: Sn63Pb37}
  - {id: second}
steps:
  - {id: later, do: solder, joint: second, alloy: Sn63Pb37, mg: 1, tool: iron, peak_c: 183.5, k: {first: 0.98}}
";
    let sheet = sheet_of(text);
    assert_eq!(sheet.verdict, "close");
    assert_eq!(sheet.use_for, Use::Refusal);
}

#[test]
fn an_unknown_that_decides_prints_as_a_condition() {
    let text = "
job: goat milking meter
joints:
  - {id: old, alloy: [Sn63Pb37, Bi58Sn42], source: spool}
  - {id: new}
steps:
  - {id: one, do: solder, joint: new, alloy: Bi58Sn42, mg: 1, tool: air, preheat_c: 100, peak_c: 165, k: {old: 0.6}}
";
    let sheet = sheet_of(text);
    assert_eq!(sheet.use_for, Use::Condition, "{:?}", sheet.why_not);
    let page = words(&sheet.html());
    assert!(page.starts_with("NO PLAN YET unknown"), "{page}");
    assert!(page.contains("Do not start before this is known"));
    assert!(page.contains("NOT KNOWN, assumed Sn63Pb37 or Bi58Sn42"));
    assert!(page.contains("If spool is Sn63Pb37: holds"), "{page}");
    assert!(page.contains("Unknown solder: treat it as leaded"));
    // No number to work by before the test.
    assert!(page.contains("after the test"), "{page}");
    for number in ["143.3", "aim 165", "read at old"] {
        assert!(!page.contains(number), "`{number}`: {page}");
    }
    let asked = Sheet {
        find_out: vec!["touch old with a tip at 150 °C".to_owned()],
        ..sheet
    };
    let page = words(&asked.html());
    assert!(
        page.contains("The test that decides: touch old with a tip at 150"),
        "{page}"
    );
}

#[test]
fn every_letter_is_nine_points_at_least() {
    let style = include_str!("../src/show/sheet/page.css");
    let sizes = style.match_indices("pt").filter_map(|(at, _)| {
        let number = style[..at].rsplit([' ', '/', ':']).next()?;
        number.parse::<f64>().ok()
    });
    let sizes: Vec<f64> = sizes.collect();
    assert!(sizes.len() > 10, "{sizes:?}");
    assert!(sizes.iter().all(|size| *size >= 9.0), "{sizes:?}");
}

/// A name that is written from right to left does not carry the number beside it away.
#[test]
fn names_in_any_script_stand_apart_from_numbers() {
    let mut job = job_of(&twelve());
    let jumpers = job
        .joints
        .iter()
        .position(|joint| joint.id == "jumpers")
        .unwrap();
    job.joints[jumpers].id = "מגבר".to_owned();
    let html = sheet_of_job(&job).html();
    assert!(html.contains("<bdi>מגבר</bdi> (solid to 181)"), "{html}");
    assert!(html.contains("read at <bdi>מגבר</bdi>"), "{html}");
    let plain = sheet_of(&twelve()).html();
    assert!(!plain.contains("<bdi>"), "a plain name needs none");
}

#[test]
fn in_fahrenheit_every_number_is_converted_words_included() {
    let job = job_of(&twelve());
    let melts = MeltBook::new(Arc::new(AlloyBook::shipped().clone()), Vec::new());
    let setting = Setting::new(&job, &melts);
    let checked = plan::check(&setting, &plan::as_written(&job).plan);
    let say = Say {
        scale: Scale::Fahrenheit,
        ..Say::default()
    };
    let frame = check::frame("sheet", &job, &checked, Vec::new(), say);
    let page = words(&sheet::of(&setting, &checked, &frame, say, "data").html());
    assert!(!page.contains("°C"), "{page}");
    assert!(
        page.contains("alcohol burns from 53") || page.contains("alcohol burns from 54"),
        "{page}"
    );
    assert!(page.contains("below 104 °F"), "{page}");
}

/// Nobody is asked to touch a board that has power, and one current limit is named.
#[test]
fn no_finger_goes_to_a_live_board() {
    let page = words(&sheet_of(&twelve()).html());
    assert!(!page.contains("feel for"), "{page}");
    assert!(page.contains("no fingers on a live board"), "{page}");
    assert_eq!(page.matches("current limit 50 mA").count(), 1, "{page}");
}

#[test]
fn what_was_done_stands_in_the_as_done_column() {
    let text = twelve()
        + "done:\n  - {step: driver_off, peak_c: 238}\n  - {step: driver_pads, failed: 'wick stuck, <b>pad 3</b> torn'}\n";
    let sheet = sheet_of(&text);
    let done = sheet.rows[0].done.as_ref().unwrap();
    assert_eq!(done.read, ["peak read 238 °C"]);
    let page = words(&sheet.html());
    assert!(page.contains("✓ 1 remove driver"), "{page}");
    assert!(page.contains("✗ 2 clean driver_pins"), "{page}");
    assert!(page.contains("FAILED: wick stuck, <b>pad 3</b> torn"));
    assert!(sheet.rows[2..].iter().all(|row| row.done.is_none()));
}

#[test]
fn hostile_text_is_shown_as_text_and_nothing_can_run() {
    let text = "
job: \"</title><script>alert(1)</script><svg onload=alert(2)> \\u202egnorw\\u0007\"
parts:
  - {id: U1, balls: {count: 4, diameter_um: 300, alloy: Bi58Sn42}, vital: true}
joints:
  - {id: site, at: U1}
  - {id: old, alloy: Sn63Pb37}
steps:
  - {id: one, do: solder, joint: old, alloy: Sn63Pb37, mg: 1, tool: iron}
  - {id: set, do: place, part: U1, on: site, tool: air, k: {rest: 0.4}}
done:
  - {step: one, failed: '<img src=x onerror=alert(3)>'}
";
    let mut job = job_of(text);
    // The reader refuses such names; the library must not rely on that.
    job.parts[0].id = "U1\"><img src=x onerror=alert(4)>".into();
    job.joints[0].id = "<style>body{display:none}</style>".into();
    job.joints[1].id = "a\u{61c}b\u{2066}c<script>".into();
    job.steps[1].id = "<a href=javascript:alert(5)>".into();
    let html = sheet_of_job(&job).html();
    // Every tag is one of ours.
    let ours = [
        "!DOCTYPE", "html", "head", "meta", "title", "style", "body", "header", "section",
        "figure", "bdi", "table", "thead", "tbody", "tr", "th", "td", "div", "span", "h1", "h2",
        "p", "b", "i", "ul", "li", "br", "code", "svg", "desc", "g", "line", "polyline", "polygon",
        "circle", "rect", "text", "path",
    ];
    for piece in html.split('<').skip(1) {
        let name: String = piece
            .trim_start_matches('/')
            .chars()
            .take_while(|c| c.is_ascii_alphanumeric() || *c == '!')
            .collect();
        assert!(ours.contains(&name.as_str()), "<{piece}");
    }
    assert_eq!(html.matches("<style").count(), 1);
    let inside_tags = html
        .split('<')
        .filter_map(|piece| piece.split_once('>').map(|(tag, _)| tag));
    for tag in inside_tags {
        assert!(
            !tag.contains("onload=") && !tag.contains("onerror="),
            "{tag}"
        );
        assert!(
            !tag.contains("javascript:") && !tag.contains("src="),
            "{tag}"
        );
    }
    let strange = |c: char| {
        (c.is_control() && c != '\n')
            || matches!(c, '\u{61c}' | '\u{200e}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    assert!(!html.contains(strange));
    let page = words(&html);
    assert!(page.contains("</title><script>alert(1)</script>"), "{page}");
    assert!(page.contains("\\u{202e}gnorw\\u{7}"), "{page}");
    assert!(html.contains("default-src 'none'"));
}

/// Relative luminance and contrast as the web accessibility guidelines (WCAG 2) define them.
fn contrast_on_white(hex: &str) -> f64 {
    let channel = |at: usize| {
        let value = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
        if value <= 0.04045 {
            value / 12.92
        } else {
            ((value + 0.055) / 1.055).powf(2.4)
        }
    };
    let luminance = 0.2126 * channel(0) + 0.7152 * channel(2) + 0.0722 * channel(4);
    1.05 / (luminance + 0.05)
}

#[test]
fn the_page_is_black_on_white_and_its_picture_has_enough_contrast() {
    let html = sheet_of(&twelve()).html();
    let style = &html[html.find("<style>").unwrap()..html.find("</style>").unwrap()];
    for (at, _) in style.match_indices('#') {
        let colour: String = style[at + 1..]
            .chars()
            .take_while(char::is_ascii_hexdigit)
            .collect();
        assert!(colour == "000" || colour == "fff", "#{colour}");
    }
    let mut texts = 0;
    for text in html.split("<text").skip(1) {
        let tag = text.split('>').next().unwrap();
        let fill = tag.split("fill=\"#").nth(1).expect("every text has a fill");
        // White letters stand on the dark box of the tightest place and on the dark numbers.
        if !fill[..6].eq_ignore_ascii_case("ffffff") {
            assert!(contrast_on_white(&fill[..6]) >= 7.0, "{tag}");
        }
        texts += 1;
    }
    assert!(texts > 40, "{texts} texts");
}
