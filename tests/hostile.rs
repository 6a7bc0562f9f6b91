//! A job that nobody means well with, through every verb: its words come out as words.

use std::ffi::OsString;
use std::path::Path;

use meltstair::cli::{Around, run};

/// Tags, a bell, an escape, a line that turns round, and a mark that closes it.
const WORDS: &str = r"</title><script>alert(1)</script><svg onload=alert(2)>&amp; \u202egnorw\u202c \u2067x\u2069 \u0007\u001b[31mred\u0085";

fn job(title: &str) -> String {
    format!(
        "job: \"{title}\"
parts:
  - {{id: U1, balls: {{count: 4, diameter_um: 300, alloy: Bi58Sn42}}, vital: true, limit_c: 245}}
joints:
  - {{id: site, at: U1}}
  - {{id: old, alloy: Sn63Pb37}}
  - {{id: new}}
steps:
  - {{id: one, do: solder, joint: new, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{rest: 0.2}}}}
  - {{id: set, do: place, part: U1, on: site, tool: air, k: {{rest: 0.4}}}}
done:
  - {{step: one, failed: \"{title}\"}}
"
    )
}

/// Standard output and standard error together, and the exit code.
fn said(args: &[&str], width: usize) -> (String, u8) {
    let around = Around {
        width,
        own_alloys: None,
        score: None,
    };
    let all = ["meltstair"].iter().chain(args).map(OsString::from);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(all, &around, &mut out, &mut err);
    out.extend(err);
    (String::from_utf8(out).expect("text"), code)
}

fn strange(c: char) -> bool {
    (c.is_control() && c != '\n')
        || matches!(c, '\u{61c}' | '\u{200e}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn assert_plain(text: &str, what: &str) {
    let found = text.chars().find(|c| strange(*c));
    assert_eq!(found, None, "{what}: {}", text.escape_debug());
}

/// Tags of a page or picture must all be ours; those of the job are words.
fn assert_no_tag_of_theirs(text: &str, what: &str) {
    let lower = text.to_lowercase();
    for tag in ["<script", "<svg onload", "</title><script", "<img"] {
        assert!(!lower.contains(tag), "{what} holds {tag}");
    }
    assert!(
        lower.contains("&lt;script&gt;alert(1)"),
        "{what} does not show it"
    );
}

#[test]
fn hostile_words_are_words_in_every_output() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| {
        folder
            .path()
            .join(name)
            .to_str()
            .expect("a plain path")
            .to_owned()
    };
    // The name of the file turns the line as well.
    let file = at("jo\u{202e}b.yaml");
    std::fs::write(&file, job(WORDS)).expect("written");
    for width in [40, 100] {
        for verb in [
            "check",
            "order",
            "clash",
            "chart --text",
            "chart --text --ascii",
            "compare",
            "order --all",
            "order --why set",
        ] {
            for json in [false, true] {
                let mut args: Vec<&str> = verb.split(' ').collect();
                args.insert(1, &file);
                if verb == "compare" {
                    args.push(&file);
                }
                if json {
                    args.push("--json");
                }
                let (text, code) = said(&args, width);
                assert_ne!(code, 2, "{args:?}: {text}");
                assert_plain(&text, &format!("{args:?}"));
                if json {
                    serde_json::from_str::<serde_json::Value>(&text).expect("JSON alone");
                }
            }
        }
    }
    for picture in ["chart.svg", "sheet.html"] {
        let verb = if picture == "chart.svg" {
            "chart"
        } else {
            "sheet"
        };
        let (text, code) = said(&[verb, &file, "-o", &at(picture)], 100);
        assert_ne!(code, 2, "{text}");
        assert_plain(&text, verb);
        let shown = std::fs::read_to_string(Path::new(&at(picture))).expect("written");
        assert_plain(&shown, picture);
        assert_no_tag_of_theirs(&shown, picture);
    }
}

#[test]
fn hostile_words_are_words_in_messages_too() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("job.yaml");
    let path = file.to_str().expect("a plain path");
    // Raw, not as escapes of YAML: the message shows the line.
    let line = "joints: [{id: \u{202e}gnorw\u{2066}, alloi: 63/37}] # \u{200f}<b>\n";
    std::fs::write(&file, format!("job: a\n{line}")).expect("written");
    for args in [
        vec!["check", path],
        vec!["did", path, "x\u{202e}\u{7}"],
        vec!["alloys", "\u{1b}[2J\u{202e}"],
    ] {
        let (text, code) = said(&args, 100);
        assert_eq!(code, 2, "{text}");
        assert_plain(&text, &format!("{args:?}"));
        assert!(text.len() > 20, "{text}");
    }
}
