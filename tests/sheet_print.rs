//! Bench sheets as a browser shows and prints them. Needs Chromium, and says so where it is missing.
//!
//! `MELTSTAIR_PRINTS=FOLDER cargo test sheet_print` keeps pictures and prints there, to be looked at.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::Command;

use meltstair::show::sheet::Use;

use crate::sheet::{sheet_of, twelve};

const MEASURE: &str = include_str!("measure.js");

fn on_path(names: &[&str]) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path)
        .flat_map(|folder| names.iter().map(move |name| folder.join(name)))
        .find(|program| program.is_file())
}

/// A browser with a profile of its own.
struct Browser {
    program: PathBuf,
    folder: PathBuf,
    scratch: tempfile::TempDir,
}

impl Browser {
    #[expect(clippy::print_stderr, reason = "what is not tested is said aloud")]
    /// Where there is none the sheets are not tested, and that is said; where one was asked for, as `.ci/run` does
    /// once it has installed it, a missing one is a failure.
    fn find() -> Option<Browser> {
        let names = ["chromium", "chromium-browser", "google-chrome"];
        let Some(program) = on_path(&names) else {
            let wanted =
                std::env::var_os("MELTSTAIR_BROWSER").is_some_and(|said| said == "required");
            assert!(
                !wanted,
                "no browser on the path: install the package `chromium`"
            );
            eprintln!("NOT TESTED: sheets in a browser (install the package `chromium`)");
            return None;
        };
        let scratch = tempfile::tempdir().expect("a folder");
        let kept = std::env::var_os("MELTSTAIR_PRINTS").map(PathBuf::from);
        Some(Browser {
            program,
            folder: kept.unwrap_or_else(|| scratch.path().to_owned()),
            scratch,
        })
    }

    fn run(&self, args: &[OsString], page: &Path) -> Vec<u8> {
        let profile = self.scratch.path().join("profile");
        let output = Command::new(&self.program)
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--hide-scrollbars",
            ])
            .arg(format!("--user-data-dir={}", profile.display()))
            .args(args)
            .arg(format!("file://{}", page.display()))
            .output()
            .expect("it runs");
        assert!(output.status.success(), "{output:?}");
        output.stdout
    }

    fn write(&self, name: &str, html: &str) -> PathBuf {
        let page = self.folder.join(name);
        std::fs::write(&page, html).expect("written");
        page
    }

    /// What `measure.js` finds in the page, at the width of the printed sheet.
    fn measured(&self, name: &str, html: &str) -> serde_json::Value {
        // Scripts are forbidden on a sheet; here the ban is lifted for ours.
        let policy = html.find("<meta http-equiv").expect("the ban");
        let end = policy + html[policy..].find('>').expect("its end") + 1;
        let with = format!(
            "{}{}<script>{MEASURE}</script></body></html>",
            &html[..policy],
            html[end..]
                .trim_end_matches("</html>")
                .trim_end_matches("</body>")
        );
        let page = self.write(&format!("{name}.measured.html"), &with);
        let dom = self.run(
            &["--dump-dom".into(), "--window-size=800,2600".into()],
            &page,
        );
        let dom = String::from_utf8(dom).expect("text");
        let report = dom.split("<pre>").nth(1).expect("a report");
        let report = report.split("</pre>").next().expect("its end");
        let report = report
            .replace("&lt;", "<")
            .replace("&gt;", ">")
            .replace("&amp;", "&");
        serde_json::from_str(&report).expect("JSON")
    }

    fn printed(&self, name: &str, html: &str, size: &str) -> PathBuf {
        let html = html.replace("@page { margin", &format!("@page {{ size: {size}; margin"));
        assert!(html.contains(size), "the rule for the page");
        let page = self.write(&format!("{name}.{size}.html"), &html);
        let pdf = self.folder.join(format!("{name}.{size}.pdf"));
        let to = format!("--print-to-pdf={}", pdf.display());
        self.run(&["--no-pdf-header-footer".into(), to.into()], &page);
        pdf
    }

    fn pictured(&self, name: &str, html: &str) -> Vec<u8> {
        let page = self.write(&format!("{name}.html"), html);
        let png = self.folder.join(format!("{name}.png"));
        let to = format!("--screenshot={}", png.display());
        self.run(&[to.into(), "--window-size=800,1130".into()], &page);
        std::fs::read(png).expect("a picture")
    }
}

/// Page objects of a PDF.
fn pages(pdf: &Path) -> usize {
    let bytes = std::fs::read(pdf).expect("a print");
    let text = String::from_utf8_lossy(&bytes);
    text.matches("/Type /Page").count() - text.matches("/Type /Pages").count()
}

/// The words of a PDF, where poppler is installed.
fn words(pdf: &Path) -> Option<String> {
    let program = on_path(&["pdftotext"])?;
    let output = Command::new(program)
        .arg("-layout")
        .arg(pdf)
        .arg("-")
        .output()
        .ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    Some(text.split_whitespace().collect::<Vec<_>>().join(" "))
}

fn assert_readable(browser: &Browser, name: &str, html: &str) {
    let report = browser.measured(name, html);
    assert_eq!(report["faults"], serde_json::json!([]), "{name}");
    assert!(
        report["texts"].as_u64().expect("a number") > 60,
        "{name}: {report}"
    );
    assert!(
        report["least"].as_f64().expect("a number") >= 7.0,
        "{name}: {report}"
    );
    assert_eq!(report["wide"], 0, "{name}: the page scrolls sideways");
}

/// A picture in grey.
struct Grey {
    width: usize,
    bytes: Vec<u8>,
}

impl Grey {
    fn of(png: &[u8]) -> Grey {
        let mut decoder = png::Decoder::new(std::io::Cursor::new(png));
        decoder.set_transformations(png::Transformations::EXPAND);
        let mut reader = decoder.read_info().expect("a PNG");
        let mut buffer = vec![0; reader.output_buffer_size().expect("a size")];
        let frame = reader.next_frame(&mut buffer).expect("pixels");
        let samples = frame.color_type.samples();
        assert!(samples >= 3, "colours");
        let grey = |pixel: &[u8]| {
            let sum: u16 = pixel[..3].iter().map(|byte| u16::from(*byte)).sum();
            u8::try_from(sum / 3).expect("a byte")
        };
        Grey {
            width: frame.width as usize,
            bytes: buffer[..frame.buffer_size()]
                .chunks_exact(samples)
                .map(grey)
                .collect(),
        }
    }
}

/// Ink inside, white margins: nothing runs off the paper.
fn assert_inked_within_margins(png: &[u8], name: &str) {
    let picture = Grey::of(png);
    let ink = picture.bytes.iter().filter(|grey| **grey < 128).count();
    let share = ink as f64 / picture.bytes.len() as f64;
    assert!((0.01..0.25).contains(&share), "{name}: {share}");
    for row in picture.bytes.chunks_exact(picture.width) {
        let margins = row[..6].iter().chain(&row[picture.width - 6..]);
        assert!(
            margins.copied().all(|grey| grey > 200),
            "{name}: ink in the margin"
        );
    }
}

#[test]
fn every_demo_sheet_is_readable_in_a_browser_and_on_paper() {
    let Some(browser) = Browser::find() else {
        return;
    };
    let charts = Path::new(env!("CARGO_MANIFEST_DIR")).join("charts");
    let mut pages_of: Vec<PathBuf> = std::fs::read_dir(charts)
        .expect("the gallery")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "html"))
        .collect();
    pages_of.sort();
    assert!(pages_of.len() >= 3, "{pages_of:?}");
    for path in pages_of {
        let job = path
            .file_stem()
            .and_then(|stem| stem.to_str())
            .expect("a plain name");
        let html = std::fs::read_to_string(&path).expect("the gallery");
        assert_readable(&browser, job, &html);
        assert_inked_within_margins(&browser.pictured(job, &html), job);
        let pdf = browser.printed(job, &html, "A4");
        // What is ticked, what is read, and the words on the back.
        assert!(pages(&pdf) <= 5, "{job}: {} pages", pages(&pdf));
        if let Some(words) = words(&pdf) {
            let is_plan = job != "seismometer";
            assert_eq!(words.contains("as done"), is_plan, "{job}");
            assert_eq!(
                words.contains("Do not work by this page"),
                !is_plan,
                "{job}"
            );
            for wanted in [
                "weakest: ",
                "Take care",
                "Never again on this board",
                "Temperatures in °C",
            ] {
                assert!(
                    words.contains(wanted),
                    "{job}: `{wanted}` is missing in {words}"
                );
            }
        }
    }
}

/// The page with nothing after its steps.
fn steps_only(html: &str) -> String {
    html.replace(
        "</style>",
        "figure, .foot, .words { display: none; }</style>",
    )
}

/// All that is ticked and written on: one page of A4 and of Letter, before the work and with eleven steps logged.
#[test]
fn twelve_steps_are_ticked_on_one_page() {
    let Some(browser) = Browser::find() else {
        return;
    };
    let fresh = sheet_of(&twelve());
    assert_eq!((fresh.rows.len(), fresh.use_for), (12, Use::Plan));
    let logged = twelve() + &log_of(&fresh.rows[..11]);
    let logged = sheet_of(&logged);
    for (name, sheet) in [("twelve", &fresh), ("twelve_logged", &logged)] {
        let html = sheet.html();
        assert_readable(&browser, name, &html);
        assert_inked_within_margins(&browser.pictured(name, &html), name);
        for size in ["A4", "letter"] {
            let pdf = browser.printed(name, &html, size);
            assert!(pages(&pdf) <= 5, "{name} on {size}");
            let steps = browser.printed(name, &steps_only(&html), size);
            assert_eq!(pages(&steps), 1, "{name} on {size}");
            let Some(words) = words(&pdf) else { continue };
            assert!(words.contains("planetarium star ball"), "{words}");
            for row in &sheet.rows {
                assert!(words.contains(&row.id), "{} is missing in {words}", row.id);
            }
            let read = sheet.rows.iter().filter_map(|row| row.done.as_ref());
            let read = read.filter(|done| !done.read.is_empty()).count();
            assert_eq!(read, if name == "twelve" { 0 } else { 9 });
            assert_eq!(words.matches("peak read").count(), read, "{words}");
        }
    }
}

/// The measure itself: planted faults are found.
#[test]
fn planted_faults_are_found() {
    let Some(browser) = Browser::find() else {
        return;
    };
    let html = sheet_of(&twelve()).html();
    for (from, to, says) in [
        ("color: #000;", "color: #777;", "has a contrast of 4.5"),
        ("color: #000;", "color: #700;", "is coloured"),
        (
            "td { vertical-align",
            "td { white-space: nowrap; vertical-align",
            "sticks out of its box",
        ),
        (
            "line-height: 1.15; }\nth {",
            "line-height: 0.4; }\nth {",
            "lies over",
        ),
    ] {
        assert!(html.contains(from), "{from}");
        let report = browser.measured("planted", &html.replacen(from, to, 1));
        assert!(
            report["faults"].to_string().contains(says),
            "{to}: {report}"
        );
    }
}

/// Every step as it was planned, those with heat with a reading.
fn log_of(rows: &[meltstair::show::sheet::Row]) -> String {
    let lines: Vec<String> = rows
        .iter()
        .map(|row| {
            let peak = if row.aim.is_empty() {
                String::new()
            } else {
                format!(", peak_c: {}", row.aim)
            };
            format!("  - {{step: {}{peak}}}\n", row.id)
        })
        .collect();
    format!("done:\n{}", lines.concat())
}
