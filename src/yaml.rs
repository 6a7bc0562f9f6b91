//! Reading YAML strictly, and pointing at what is wrong in it. The only module that knows the YAML
//! crate.
//!
//! A file is one document of at most [`MAX_BYTES`], without anchors, aliases, merge keys or tags
//! that change a value; a key that stands twice is an error; only `true` and `false` are yes and
//! no, so that `NO` stays the text it is. Whatever comes in, the answer comes in bounded time and
//! memory.

use std::fmt::Write as _;
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer};

use crate::nearest::nearest;

/// Longest file that is read, in bytes.
pub const MAX_BYTES: usize = 1 << 20;

/// Deepest nesting of `[` and `{`, and of blocks.
const MAX_DEPTH: usize = 32;

/// Where something stands in a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// From 1.
    pub line: usize,
    /// From 1, in characters.
    pub column: usize,
    start: usize,
    end: usize,
}

impl Place {
    /// A line and a column; [`Place::in_line`] finds the bytes.
    pub(crate) fn at(line: usize, column: usize) -> Place {
        Place {
            line,
            column,
            ..START
        }
    }

    /// The same line and column in a text of which that line may read otherwise: at most to its end.
    pub(crate) fn in_line(place: Place, text: &str) -> Place {
        let before = text
            .split_inclusive('\n')
            .take(place.line.saturating_sub(1));
        let from: usize = before.map(str::len).sum();
        let line = text.get(from..).and_then(|rest| rest.lines().next());
        let line = line.unwrap_or_default();
        let column = place.column.min(line.chars().count() + 1).max(1);
        let within = line.char_indices().nth(column - 1);
        let start = from + within.map_or(line.len(), |(at, _)| at);
        let long = place.end.saturating_sub(place.start).max(1);
        Place {
            line: place.line,
            column,
            start,
            end: (start + long).min(from + line.len()),
        }
    }

    /// As many bytes from where it begins.
    pub(crate) fn of_bytes(self, long: usize) -> Place {
        Place {
            end: self.start + long,
            ..self
        }
    }

    /// Byte range in the text that was read.
    pub fn bytes(self) -> Range<usize> {
        self.start..self.end
    }
}

/// A value and where it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed<T> {
    /// What was read.
    pub value: T,
    /// Where.
    pub place: Place,
}

impl<T> Placed<T> {
    /// The same place with another value.
    pub fn with<U>(&self, value: U) -> Placed<U> {
        Placed {
            value,
            place: self.place,
        }
    }

    /// A fault that points at this value.
    pub fn fault(&self, message: impl Into<String>) -> Fault {
        Fault::at(self.place, message)
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Placed<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let spanned = serde_saphyr::Spanned::<T>::deserialize(from)?;
        Ok(Placed {
            place: place_of(&spanned.referenced).unwrap_or(START),
            value: spanned.value,
        })
    }
}

impl<T: schemars::JsonSchema> schemars::JsonSchema for Placed<T> {
    fn inline_schema() -> bool {
        T::inline_schema()
    }
    fn schema_name() -> std::borrow::Cow<'static, str> {
        T::schema_name()
    }
    fn schema_id() -> std::borrow::Cow<'static, str> {
        T::schema_id()
    }
    fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        T::json_schema(generator)
    }
}

/// A finite number; read this instead of `f64`, which YAML lets be NaN or infinite.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, schemars::JsonSchema)]
#[schemars(transparent)]
pub struct Number(pub f64);

impl<'de> Deserialize<'de> for Number {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let number = f64::deserialize(from)?;
        if number.is_finite() {
            Ok(Number(number))
        } else {
            Err(serde::de::Error::custom(format_args!(
                "`{number}` is not a finite number"
            )))
        }
    }
}

pub(crate) const START: Place = Place {
    line: 1,
    column: 1,
    start: 0,
    end: 0,
};

/// Something wrong in a file.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{message}")]
pub struct Fault {
    /// What is wrong and what was expected, in one line.
    pub message: String,
    /// Where, if it is anywhere.
    pub place: Option<Place>,
    /// How to put it right, if that is known.
    pub help: Option<String>,
}

impl Fault {
    /// A fault of a place.
    pub fn at(place: Place, message: impl Into<String>) -> Self {
        Fault {
            message: message.into(),
            place: Some(place),
            help: None,
        }
    }

    /// A fault of the file as a whole.
    pub fn of_file(message: impl Into<String>) -> Self {
        Fault {
            message: message.into(),
            place: None,
            help: None,
        }
    }

    /// With advice.
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
}

/// The text of a file.
///
/// # Errors
/// A [`Fault`] if it is longer than [`MAX_BYTES`] or not UTF-8.
pub fn decode(bytes: &[u8]) -> Result<&str, Fault> {
    if bytes.len() > MAX_BYTES {
        return Err(too_long(bytes.len()));
    }
    std::str::from_utf8(bytes).map_err(|error| {
        let good = String::from_utf8_lossy(&bytes[..error.valid_up_to()]);
        let line = good.matches('\n').count() + 1;
        Fault::of_file(format!("line {line} is not UTF-8 text"))
            .help("save the file as UTF-8 plain text")
    })
}

fn too_long(bytes: usize) -> Fault {
    Fault::of_file(format!(
        "the file has {bytes} bytes: want at most {MAX_BYTES}"
    ))
}

/// What the text says, read strictly.
///
/// # Errors
/// The first [`Fault`] found; values are to be checked by the caller, who has their places from
/// [`Placed`] and can collect several.
pub fn read<T: DeserializeOwned>(text: &str) -> Result<T, Fault> {
    if text.len() > MAX_BYTES {
        return Err(too_long(text.len()));
    }
    serde_saphyr::from_str_with_options(text, options()).map_err(|error| {
        let fault = fault_of(&error, text);
        at_tab(&fault, text).unwrap_or(fault)
    })
}

/// The scanner stops before the word that a tab follows: the tab itself is what is wrong.
fn at_tab(fault: &Fault, text: &str) -> Option<Fault> {
    if !fault.message.contains("tab") {
        return None;
    }
    let from = fault.place.map_or(0, |place| place.start).min(text.len());
    let start = text.get(from..)?.find('\t')? + from;
    let line_start = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let place = Place {
        line: text[..start].matches('\n').count() + 1,
        column: text[line_start..start].chars().count() + 1,
        start,
        end: start + 1,
    };
    let told = Fault::at(place, "a tab stands here: YAML is set in with spaces");
    Some(told.help("two spaces in its place"))
}

/// A shipped file as the build put it down (`build.rs`): it was read strictly then, and places are not known.
///
/// # Errors
/// A [`Fault`] of the file as a whole.
pub(crate) fn read_built<T: DeserializeOwned>(json: &str) -> Result<T, Fault> {
    serde_json::from_str(json).map_err(|why| Fault::of_file(why.to_string()))
}

fn options() -> serde_saphyr::Options {
    serde_saphyr::options! {
        budget: serde_saphyr::budget! {
            max_depth: MAX_DEPTH,
            flow_nesting_limit: MAX_DEPTH,
            max_nodes: 50_000,
            max_events: 200_000,
            max_aliases: 0,
            max_anchors: 0,
            max_documents: 1,
            max_total_scalar_bytes: MAX_BYTES,
        },
        merge_keys: serde_saphyr::MergeKeyPolicy::Error,
        duplicate_keys: serde_saphyr::DuplicateKeyPolicy::Error,
        strict_booleans: true,
        underscored_numbers_as_strings: true,
        non_finite_float_policy: serde_saphyr::NonFiniteFloatPolicy::Reject,
        reject_unsupported_tags: true,
        with_snippet: false,
    }
}

fn place_of(location: &serde_saphyr::Location) -> Option<Place> {
    let line = usize::try_from(location.line()).ok().filter(|&l| l > 0)?;
    let column = usize::try_from(location.column()).ok()?;
    let span = location.span();
    let start = usize::try_from(span.byte_offset()?).ok()?;
    let len = usize::try_from(span.byte_len()?).ok()?;
    Some(Place {
        line,
        column,
        start,
        end: start.saturating_add(len),
    })
}

/// Scanner faults come without a byte offset: find it from line and column.
fn place_in(location: &serde_saphyr::Location, text: &str) -> Option<Place> {
    if let Some(place) = place_of(location) {
        return Some(place);
    }
    let line = usize::try_from(location.line()).ok().filter(|&l| l > 0)?;
    let column = usize::try_from(location.column()).ok()?.max(1);
    let line_start: usize = text
        .split_inclusive('\n')
        .take(line - 1)
        .map(str::len)
        .sum();
    let rest = text.get(line_start..)?.lines().next().unwrap_or("");
    let within = rest
        .char_indices()
        .nth(column - 1)
        .map_or(rest.len(), |(at, _)| at);
    let start = line_start + within;
    Some(Place {
        line,
        column,
        start,
        end: (start + 1).min(line_start + rest.len()).max(start),
    })
}

fn fault_of(error: &serde_saphyr::Error, text: &str) -> Fault {
    use serde_saphyr::Error as E;
    let error = error.without_snippet();
    let place = error.location().and_then(|l| place_in(&l, text));
    let found = place
        .and_then(|p| text.get(p.bytes()))
        .map(first_line)
        .unwrap_or_default();
    let mut help = None;
    let message = match error {
        E::SerdeUnknownField {
            field, expected, ..
        } => {
            help = did_you_mean(field, expected);
            format!("unknown key `{field}`: want {}", one_of(expected))
        }
        E::SerdeUnknownVariant {
            variant, expected, ..
        } => {
            help = did_you_mean(variant, expected);
            format!("unknown word `{variant}`: want {}", one_of(expected))
        }
        E::SerdeMissingField { field, .. } => format!("the key `{field}` is missing here"),
        E::DuplicateMappingKey { key, .. } => {
            let key = key.as_deref().unwrap_or(&found);
            help = (key == "id")
                .then(|| "a new item of the list begins with a dash: `- id: …`".to_owned());
            format!("the key `{key}` stands twice")
        }
        E::NonFiniteFloat { .. } => format!("`{found}` is not a finite number"),
        E::InvalidBooleanStrict { .. } => format!("`{found}`: want `true` or `false`"),
        E::InvalidScalar { ty, .. } => format!("`{found}` is not {}", plain_type(ty)),
        E::SerdeInvalidType {
            unexpected,
            expected,
            ..
        }
        | E::SerdeInvalidValue {
            unexpected,
            expected,
            ..
        } => {
            format!("found {unexpected}: want {expected}")
        }
        E::NullIntoString { .. } => "nothing stands here: want a text".to_owned(),
        E::MergeKeyNotAllowed { .. } => "`<<` is not allowed: write the keys out".to_owned(),
        E::MultipleDocuments { .. } => "a second document starts here: want one".to_owned(),
        E::InvalidUtf8Input => "the file is not UTF-8 text".to_owned(),
        E::Budget { breach, .. } => budget_message(breach),
        E::Unexpected { expected, .. } => format!("want {} here", plain_kind(expected)),
        E::Eof { .. } => "the text ends too early".to_owned(),
        E::Message { msg, .. } | E::ExternalMessage { msg, .. } => without_place(msg),
        other => without_place(&other.to_string()),
    };
    // The parser's own words for its limit on `[` and `{`; they carry no kind of their own.
    let message = if message == "recursion limit exceeded" {
        too_deep()
    } else {
        message
    };
    Fault {
        message,
        place,
        help,
    }
}

fn budget_message(breach: &serde_saphyr::budget::BudgetBreach) -> String {
    use serde_saphyr::budget::BudgetBreach as B;
    match breach {
        B::Aliases { .. } | B::Anchors { .. } => {
            "anchors (`&`) and aliases (`*`) are not allowed: write the value out".to_owned()
        }
        B::Depth { .. } => too_deep(),
        B::Documents { .. } => "a second document starts here: want one".to_owned(),
        _ => "the file holds more than any job needs".to_owned(),
    }
}

fn too_deep() -> String {
    format!("nested deeper than {MAX_DEPTH} levels")
}

fn plain_type(ty: &str) -> &str {
    match ty {
        "floating point" | "f64" | "f32" => "a number",
        _ if ty.contains("float") => "a number",
        _ if ty.contains("int") || ty.starts_with(['u', 'i']) => "a whole number",
        other => other,
    }
}

fn plain_kind(expected: &str) -> &str {
    match expected {
        "string scalar" => "a single word or number",
        "mapping start" => "`key: value`",
        "sequence start" => "a list",
        other => other,
    }
}

/// The crate ends some messages with the place, which is shown beside them anyway.
fn without_place(message: &str) -> String {
    let line = first_line(message);
    let cut = line.find(" at line ").unwrap_or(line.len());
    match &line[..cut] {
        "mapping values are not allowed in this context" => {
            "a `:` is not expected here: check the indentation".to_owned()
        }
        "simple key expected ':'" => {
            "this line is no `key: value`: want a colon and a space after the key".to_owned()
        }
        "while parsing a block mapping, did not find expected key" => {
            "no key is expected here: check the indentation".to_owned()
        }
        "while parsing a block collection, did not find expected '-' indicator" => {
            "want `- ` here, as in the list above: check the indentation".to_owned()
        }
        "misplaced bracket" => "a bracket closes here that was not opened".to_owned(),
        "\"-\" is only valid inside a block" => "a list cannot begin here".to_owned(),
        rest => rest.to_owned(),
    }
}

fn first_line(text: &str) -> String {
    text.lines().next().unwrap_or("").chars().take(80).collect()
}

fn one_of(words: &[&str]) -> String {
    let mut list = String::new();
    for (place, word) in words.iter().enumerate() {
        let before = match place {
            0 => "",
            _ if place + 1 == words.len() => " or ",
            _ => ", ",
        };
        let _ = write!(list, "{before}`{word}`");
    }
    list
}

fn did_you_mean(word: &str, valid: &[&str]) -> Option<String> {
    nearest(word, valid.iter().copied(), 1)
        .first()
        .map(|near| format!("did you mean `{near}`?"))
}

/// The fault as text for people: file, line, column, the line itself with a caret, and advice. Plain
/// ASCII but for what the file itself holds.
pub fn render(fault: &Fault, file: &str, text: &str) -> String {
    let title = Level::ERROR.primary_title(fault.message.as_str());
    let mut group = match fault.place {
        Some(place) => title.element(
            Snippet::source(text)
                .path(file)
                .annotation(AnnotationKind::Primary.span(within(place, text))),
        ),
        None => title.element(annotate_snippets::Origin::path(file)),
    };
    if let Some(help) = &fault.help {
        group = group.element(Level::HELP.message(help.as_str()));
    }
    Renderer::plain().render(&[group])
}

/// The byte range, cut to the text, to its characters and to one line.
fn within(place: Place, text: &str) -> Range<usize> {
    let floor = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(place.start);
    let end = floor(place.end).max(start);
    let line_end = text[start..end]
        .find(['\n', '\r'])
        .map_or(end, |at| start + at);
    start..line_end
}

/// All faults, in the order of the file, an empty line between.
pub fn render_all(faults: &[Fault], file: &str, text: &str) -> String {
    let mut sorted: Vec<&Fault> = faults.iter().collect();
    sorted.sort_by_key(|f| f.place);
    sorted
        .iter()
        .map(|fault| render(fault, file, text))
        .collect::<Vec<_>>()
        .join("\n\n")
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;
    use std::time::{Duration, Instant};

    use super::*;

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Step {
        id: Placed<String>,
        #[serde(rename = "do")]
        kind: Placed<Kind>,
        peak_c: Option<Placed<Number>>,
        #[serde(default)]
        hot: bool,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Kind {
        Solder,
        Remove,
    }

    fn step(text: &str) -> Result<Step, Fault> {
        read(text)
    }

    fn refused(text: &str) -> Fault {
        step(text).expect_err(text)
    }

    fn place(fault: &Fault) -> (usize, usize) {
        fault.place.map(|p| (p.line, p.column)).expect("a place")
    }

    #[test]
    fn values_know_where_they_stand_also_after_a_bom_and_with_crlf() {
        for text in [
            "# µ\nid: rim\ndo: solder\npeak_c: 312.5 # hot\n",
            "\u{feff}# µ\r\nid: rim\r\ndo: solder\r\npeak_c: 312.5\r\n",
        ] {
            let peak = step(text).unwrap().peak_c.unwrap();
            assert_eq!((peak.place.line, peak.place.column), (4, 9));
            assert_eq!(&text[peak.place.bytes()], "312.5");
        }
    }

    #[test]
    fn a_fault_shows_file_line_column_the_line_and_the_nearest_word() {
        let text = "id: rim\ndo: sodler\n";
        let fault = refused(text);
        assert_eq!(
            render(&fault, "job.yaml", text),
            "error: unknown word `sodler`: want `solder` or `remove`\n \
             --> job.yaml:2:5\n  |\n2 | do: sodler\n  |     ^^^^^^\n  |\n  \
             = help: did you mean `solder`?"
        );
        let fault = refused("id: rim\ndo: solder\npeek_c: 1\n");
        assert_eq!(place(&fault), (3, 1));
        assert_eq!(fault.help.as_deref(), Some("did you mean `peak_c`?"));
    }

    #[test]
    fn wrong_values_are_named_with_their_place() {
        for (text, at, message) in [
            (
                "id: r\ndo: solder\npeak_c: hot",
                (3, 9),
                "`hot` is not a number",
            ),
            (
                "id: r\ndo: solder\npeak_c: .nan",
                (3, 9),
                "`NaN` is not a finite number",
            ),
            (
                "id: r\ndo: solder\npeak_c: -.inf",
                (3, 9),
                "`-inf` is not a finite number",
            ),
            (
                "id: r
do: solder
peak_c: 1e400",
                (3, 9),
                "`1e400` is not a number",
            ),
            (
                "id: r\ndo: solder\npeak_c: 1_000",
                (3, 9),
                "`1_000` is not a number",
            ),
            (
                "id: r\ndo: solder\npeak_c: 1,5",
                (3, 9),
                "`1,5` is not a number",
            ),
            (
                "id: r\ndo: solder\nhot: NO",
                (3, 6),
                "`NO`: want `true` or `false`",
            ),
            (
                "id: r\nid: s\ndo: solder",
                (2, 1),
                "the key `id` stands twice",
            ),
            ("id: r\n", (1, 1), "the key `do` is missing here"),
            (
                "id: r\ndo: solder\n---\nid: s\n",
                (3, 1),
                "a second document starts here: want one",
            ),
        ] {
            let fault = refused(text);
            assert_eq!(fault.message, message, "{text}");
            assert_eq!(place(&fault), at, "{text}");
        }
    }

    #[test]
    fn words_that_look_like_no_stay_words() {
        let text = "id: NO\ndo: solder\n";
        assert_eq!(step(text).unwrap().id.value, "NO");
        let steps: BTreeMap<String, String> = read("a: off\nb: 1e3\nc: 017\nd: 63/37\n").unwrap();
        assert_eq!(
            steps.into_values().collect::<Vec<_>>(),
            ["off", "1e3", "017", "63/37"]
        );
    }

    #[test]
    fn a_duplicate_element_in_a_composition_is_refused() {
        let fault = read::<BTreeMap<String, f64>>("Sn: 63\nPb: 37\nSn: 60\n").unwrap_err();
        assert_eq!(fault.message, "the key `Sn` stands twice");
        assert_eq!(place(&fault), (3, 1));
    }

    #[test]
    fn broken_text_is_pointed_at() {
        for text in [
            "id: \"open\ndo: solder\n",
            "id: r\n\tdo: solder\n",
            "id: r\n   do: solder\n",
            "id: [r\ndo: solder\n",
            "a: &x 1\nb: *x\n",
            "<<: {a: 1}\nid: r\ndo: solder\n",
            "id: r\ndo: !!binary c29sZGVy\npeak_c: !x 1\n",
            "id: ~\ndo: solder\n",
        ] {
            let fault = refused(text);
            assert!(fault.place.is_some(), "{text}: {fault}");
            let shown = render(&fault, "f.yaml", text);
            assert!(shown.contains("--> f.yaml:"), "{shown}");
        }
    }

    /// The limits that the design asks for are 1 s and 200 MB; the parser stops far earlier.
    #[test]
    fn hostile_text_is_refused_quickly() {
        let mut bomb = "a0: &a0 [x,x,x,x,x,x,x,x,x]\n".to_owned();
        for level in 1..9 {
            let refs = vec![format!("*a{}", level - 1); 9].join(",");
            let _ = writeln!(bomb, "a{level}: &a{level} [{refs}]");
        }
        let deep_blocks: String = (0..400).fold(String::new(), |mut text, depth| {
            let _ = writeln!(text, "{:depth$}k:", "");
            text
        });
        for text in [
            bomb,
            "[".repeat(100_000),
            format!("{}{}", "[".repeat(100_000), "]".repeat(100_000)),
            format!("id: {}{}", "{a: ".repeat(20_000), "}".repeat(20_000)),
            deep_blocks,
            (0..120_000).fold(String::new(), |mut text, n| {
                let _ = writeln!(text, "k{n}:");
                text
            }),
            "x".repeat(100_000_000),
        ] {
            let start = Instant::now();
            refused(&text);
            let took = start.elapsed();
            assert!(took < Duration::from_secs(1), "{took:?}");
        }
    }

    #[test]
    fn bytes_that_are_no_text_are_refused() {
        assert!(decode(&vec![b'x'; MAX_BYTES + 1]).is_err());
        let fault = decode(b"id: r\n\xff\xfe").unwrap_err();
        assert_eq!(fault.message, "line 2 is not UTF-8 text");
        refused("id: \u{0}\ndo: solder\n");
    }

    #[test]
    fn faults_come_in_the_order_of_the_file() {
        let text = "id: a\ndo: solder\npeak_c: 1\n";
        let read = step(text).unwrap();
        let faults = [
            read.peak_c.unwrap().fault("too cold"),
            read.id.fault("no such joint"),
        ];
        let shown = render_all(&faults, "f", text);
        assert!(
            shown.find("no such joint") < shown.find("too cold"),
            "{shown}"
        );
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_it_panic(text in "[ \\t\\r\\na-d0-9:\\-\\[\\]{},#&*!|>'\"%@`~?.<]{0,200}|\\PC{0,80}") {
            if let Err(fault) = step(&text) {
                render(&fault, "f", &text);
            }
            if let Err(fault) = read::<BTreeMap<String, Placed<f64>>>(&text) {
                render(&fault, "f", &text);
            }
        }
    }
}
