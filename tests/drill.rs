//! The drill: every answer worked out again from the numbers that the question states, by arithmetic
//! that shares nothing with the engine.

use std::collections::BTreeSet;

use meltstair::Planner;
use meltstair::alloy::AlloyBook;
use meltstair::plan::Budget;
use meltstair::quantity::Celsius;
use meltstair::show::chart::{Mark, Scale};
use meltstair::show::drill::{Answer, Drill, Given, LEVELS, Lab, Question, about};

const A_LEVEL: usize = 2000;

/// Numbers that are no words of the text but facts of it ("covers rim and plug").
const FACTS: [&str; 11] = [
    "heat.", "frame.", "lid.", "leaded", "shared", "on_chip", "nth", "below", "line.", "dot.",
    "does.",
];

fn g(question: &Question, name: &str) -> f64 {
    let given = question.given.get(name);
    *given.unwrap_or_else(|| panic!("`{name}` is not given in {question:?}"))
}

/// All of `name.0`, `name.1`, … that are given.
fn each(question: &Question, name: &str) -> Vec<f64> {
    (0..)
        .map_while(|at| question.given.get(&format!("{name}.{at}")).copied())
        .collect()
}

fn limit_in_use(first_melt: f64) -> f64 {
    (first_melt - 50.0).min(0.9 * (first_melt + 273.15) - 273.15)
}

fn set(all: impl IntoIterator<Item = (usize, bool)>) -> Expected {
    Expected::Some(
        all.into_iter()
            .filter(|(_, is)| *is)
            .map(|(at, _)| at)
            .collect(),
    )
}

#[derive(Debug)]
enum Expected {
    Number(f64),
    Between(f64, f64),
    One(usize),
    Some(BTreeSet<usize>),
}

/// A choice must not hang on a hair: a number that decides lies away from where the answer turns.
fn clear(q: &Question, over: f64, least: f64) -> f64 {
    assert!(over.abs() >= least, "{over} decides: {q:?}");
    over
}

/// What the answer must be.
fn expected(q: &Question) -> Expected {
    use Expected::{Between, Number, One};
    match (q.level, q.form) {
        (1, 1) => {
            let mut alloys: Vec<(f64, f64)> = each(q, "solidus")
                .into_iter()
                .zip(each(q, "liquidus"))
                .collect();
            alloys.sort_by(|a, b| b.0.total_cmp(&a.0));
            let stair = (0..2).find(|at| g(q, "nth") < *at as f64 + 0.5).unwrap();
            Number(alloys[stair].0 - alloys[stair + 1].1)
        }
        (1, 0) => {
            let left = each(q, "solidus")
                .into_iter()
                .zip(each(q, "sees"))
                .map(|(first_melt, sees)| first_melt - sees);
            Number(left.fold(f64::INFINITY, f64::min))
        }
        (1, 21 | 22) | (9, _) => shown_or_safe(q),
        (1, 12) | (6, 4) => Number(g(q, "liquidus") + g(q, "superheat")),
        (2, 7) => {
            let limit = limit_in_use(g(q, "solidus"));
            match q.answer {
                Answer::One(_) => {
                    let over = clear(q, limit - g(q, "service") - g(q, "margin"), 0.1);
                    One(usize::from(over < 0.0))
                }
                _ => Number(limit),
            }
        }
        (2, 0) => Number(g(q, "solidus.0") - g(q, "liquidus.1") - g(q, "superheat")),
        (3, 6) => {
            let (preheat, k) = (g(q, "preheat"), g(q, "k"));
            match q.given.get("margin") {
                Some(margin) => Number(preheat + (g(q, "solidus") - margin - preheat) / k),
                None => Number((1.0 - k) * preheat + k * g(q, "peak")),
            }
        }
        (3, 8) => set(each(q, "solidus")
            .into_iter()
            .map(|s| clear(q, s - g(q, "plate") - g(q, "margin"), 1.0) < 0.0)
            .enumerate()),
        (3, 9) => Number((g(q, "area") * g(q, "per_area")).min(g(q, "edge") * g(q, "per_edge"))),
        (4, _) => mixing(q),
        (5, _) => ordering(q),
        (6, 15) => {
            let seen = each(q, "k")
                .into_iter()
                .map(|k| g(q, "preheat") + k * (g(q, "read") - g(q, "preheat")));
            set(seen
                .zip(each(q, "solidus"))
                .map(|(seen, s)| clear(q, seen - s, 0.99) > 0.0)
                .enumerate())
        }
        (6, 0) => {
            let over = clear(q, g(q, "neighbour") - g(q, "counts"), 5.0);
            let reached = f64::from(u8::from(over > 0.0));
            Number(g(q, "allowed") - g(q, "on_chip") - reached)
        }
        (7, 16) => clash(q),
        (8, 10) => {
            let label = q.text.lines().next().unwrap();
            let label = label.rsplit("says: ").next().unwrap();
            // Labels that fit several alloys, by the custom of the trade.
            let several = [
                "37/63",
                "90/10",
                "183",
                "low melt",
                "lead free",
                "silver solder",
            ];
            One(usize::from(several.contains(&label)))
        }
        (8, 11) => Number((g(q, "sheet") - 32.0) * 5.0 / 9.0),
        (8, 17) => Between(
            g(q, "liquidus.0") + g(q, "exact"),
            g(q, "solidus.1") - g(q, "exact"),
        ),
        (8, 0) => {
            let sees = g(q, "preheat") + g(q, "k") * (g(q, "peak") - g(q, "preheat"));
            let holds = each(q, "solidus")
                .into_iter()
                .filter(|s| clear(q, s - sees - g(q, "margin"), 0.99) > 0.0)
                .count();
            let of = each(q, "solidus").len();
            One(match holds {
                0 => 1,
                all if all == of => 0,
                _ => 2,
            })
        }
        other => panic!("no check for {other:?}"),
    }
}

/// Levels 1 and 9, where the numbers are read off a picture or there are none.
fn shown_or_safe(q: &Question) -> Expected {
    use Expected::One;
    match q.form {
        // Lines less dots.
        21 => {
            let least = |step: usize| {
                let dots = each(q, &format!("dot.{step}"));
                let left = each(q, "line").into_iter().zip(dots);
                left.map(|(line, dot)| line - dot)
                    .fold(f64::INFINITY, f64::min)
            };
            let mut steps = [0, 1, 2];
            steps.sort_by(|a, b| least(*a).total_cmp(&least(*b)));
            clear(q, least(steps[1]) - least(steps[0]), 15.0);
            One(steps[0])
        }
        22 => set(each(q, "line")
            .into_iter()
            .map(|line| clear(q, line - g(q, "plate"), 15.0) < 0.0)
            .enumerate()),
        23 => set(each(q, "does")
            .into_iter()
            .map(|does| does > 0.5)
            .enumerate()),
        // What is right of a scene is no number: it must stand where the shuffle put it.
        24 => One(scene(q)),
        other => panic!("no check for form {other}"),
    }
}

/// The safe thing to do, by the words that only it has.
fn scene(q: &Question) -> usize {
    const SAFE: [&str; 9] = [
        "stop: no heat, no pressure",
        "discharge it through a resistor",
        "wash hands with soap",
        "not in it, unless",
        "let it dry, close the bottle",
        "clamp the wire",
        "check for shorts, then",
        "leave it whole",
        "stop: no heat; ask",
    ];
    let is_safe = |words: &String| SAFE.iter().any(|safe| words.starts_with(safe));
    let safe: Vec<usize> = (0..q.options.len())
        .filter(|at| is_safe(&q.options[*at]))
        .collect();
    assert_eq!(safe.len(), 1, "{q:?}");
    safe[0]
}

fn mixing(q: &Question) -> Expected {
    use Expected::{Number, One};
    let circle = |um: f64| std::f64::consts::PI / 4.0 * (um / 1000.0).powi(2);
    match q.form {
        3 => {
            let (ball, film) = (g(q, "ball"), g(q, "film"));
            let film = circle(ball) * film / 1000.0 * g(q, "density.film");
            let ball = std::f64::consts::PI / 6.0 * (ball / 1000.0).powi(3) * g(q, "density.ball");
            Number(37.0 * film / (film + ball))
        }
        // Eutectic of bismuth, lead and tin: measured 95.3 ± 0.5 °C; Bi58Sn42 melts at 138.
        2 => Number(if g(q, "leaded") > 0.5 { 95.3 } else { 138.0 }),
        18 => {
            let volume = circle(g(q, "pad")) * g(q, "film") / 1000.0;
            let mut lead = 37.0;
            let mut kept = volume * g(q, "density.film");
            let mut rounds = g(q, "rounds");
            while rounds > 0.5 {
                lead *= kept / (kept + g(q, "fresh"));
                kept = volume * g(q, "density.fresh");
                rounds -= 1.0;
            }
            Number(lead)
        }
        5 => {
            if g(q, "shared") > 0.5 {
                return One(1);
            }
            let sees = g(q, "preheat") + g(q, "k") * (g(q, "peak") - g(q, "preheat"));
            assert!(
                g(q, "solidus") - sees >= 5.0,
                "neither clear nor stated: {q:?}"
            );
            One(0)
        }
        // Of these alloys only bismuth with lead opens something far below both.
        13 => set(q
            .options
            .iter()
            .map(|pair| pair.contains("Bi") && pair.contains("Pb"))
            .enumerate()),
        other => panic!("no check for form {other}"),
    }
}

fn ordering(q: &Question) -> Expected {
    use Expected::{Number, One};
    match q.form {
        0 => {
            let (s, l, k) = (each(q, "solidus"), each(q, "liquidus"), each(q, "k"));
            let ambient = g(q, "ambient");
            let sees = |by: usize| ambient + k[by] * (l[by] + g(q, "superheat") - ambient);
            let orders = [
                [0, 1, 2],
                [0, 2, 1],
                [1, 0, 2],
                [1, 2, 0],
                [2, 0, 1],
                [2, 1, 0],
            ];
            let least = |order: [usize; 3]| {
                let [a, b, c] = order;
                (s[a] - sees(b)).min(s[a] - sees(c)).min(s[b] - sees(c))
            };
            Number(
                orders
                    .map(least)
                    .into_iter()
                    .fold(f64::NEG_INFINITY, f64::max),
            )
        }
        14 => set(each(q, "frame").into_iter().map(|is| is > 0.5).enumerate()),
        19 => {
            let chain = [
                "strip",
                "tin",
                "solder the wire",
                "paint",
                "harden",
                "set the chip",
                "check",
                "switch",
            ];
            let rank = |words: &str| chain.iter().position(|first| words.starts_with(first));
            let mut ranked: Vec<(Option<usize>, usize)> = q
                .options
                .iter()
                .enumerate()
                .map(|(at, words)| (rank(words), at))
                .collect();
            ranked.sort_unstable();
            let nth = (1_u8..=4)
                .find(|at| g(q, "nth") < f64::from(*at) + 0.5)
                .unwrap();
            One(ranked[usize::from(nth) - 1].1)
        }
        20 => {
            let last = each(q, "heat").iter().rposition(|heat| *heat > 0.5);
            Number(last.unwrap() as f64 + 1.0)
        }
        other => panic!("no check for form {other}"),
    }
}

fn clash(q: &Question) -> Expected {
    use Expected::{Number, One};
    match q.answer {
        Answer::Number { .. } => {
            let peak = g(q, "liquidus.new") + g(q, "superheat");
            let may_see = g(q, "solidus.stands") - g(q, "margin");
            Number((may_see - g(q, "preheat")) / (peak - g(q, "preheat")))
        }
        Answer::One(_) => {
            let opens = |liquidus: f64, margin: f64, preheat: f64, k: f64| {
                let peak = liquidus + g(q, "superheat");
                let sees = preheat + k * (peak - preheat);
                clear(q, g(q, "solidus.stands") - sees - margin, 0.99) > 0.0
            };
            let (l, m, p, k) = (
                g(q, "liquidus.new"),
                g(q, "margin"),
                g(q, "preheat"),
                g(q, "k"),
            );
            assert!(!opens(l, m, p, k), "it is open as it is: {q:?}");
            let all = [
                opens(l, g(q, "margin.new"), p, k),
                opens(l, m, g(q, "preheat.new"), k),
                opens(l, m, p, g(q, "k.new")),
                opens(g(q, "liquidus.other"), m, p, k),
            ];
            assert_eq!(all.iter().filter(|is| **is).count(), 1, "{q:?}");
            One(all.iter().position(|is| *is).unwrap())
        }
        _ => {
            let (s, l, k) = (each(q, "solidus"), each(q, "liquidus"), each(q, "k"));
            let peak = l[2] + g(q, "superheat");
            let ambient = g(q, "ambient");
            let left = |at: usize| s[at] - (ambient + k[at] * (peak - ambient));
            let cool = |at: usize| {
                clear(
                    q,
                    limit_in_use(s[at]) - g(q, "service") - g(q, "margin"),
                    0.99,
                ) > 0.0
            };
            assert!(cool(0) && cool(1), "a third clash: {q:?}");
            let clashes = [
                (clear(q, left(0) - g(q, "margin"), 1.99) < 0.0, [0, 2]),
                (clear(q, left(1) - g(q, "margin"), 1.99) < 0.0, [1, 2]),
                (!cool(2), [2, 3]),
            ];
            let only: Vec<[usize; 2]> = clashes
                .iter()
                .filter(|(is, _)| *is)
                .map(|(_, of)| *of)
                .collect();
            assert_eq!(only.len(), 1, "{q:?}");
            Expected::Some(only[0].into_iter().collect())
        }
    }
}

/// The stated tolerance must hold the independent value, and nothing much beside it.
fn check(q: &Question) {
    match (&q.answer, expected(q)) {
        (
            Answer::Number {
                value, tolerance, ..
            },
            Expected::Number(want),
        ) => {
            assert!(
                (value - want).abs() <= *tolerance,
                "{value}, want {want}: {q:?}"
            );
            assert!(*tolerance <= (0.12 * value.abs()).max(4.0), "{q:?}");
        }
        (Answer::Between { low, high, .. }, Expected::Between(a, b)) => {
            assert!((low - a).abs() < 0.01 && (high - b).abs() < 0.01, "{q:?}");
        }
        (Answer::One(at), Expected::One(want)) => assert_eq!(*at, want, "{q:?}"),
        (Answer::Some(all), Expected::Some(want)) => assert_eq!(*all, want, "{q:?}"),
        (_, want) => panic!("want {want:?}: {q:?}"),
    }
}

/// States all its numbers, has one right answer among different ones, and one right reason.
fn well_posed(q: &Question) {
    let words = format!("{} {}", q.text, q.options.join(" "));
    for (name, value) in &q.given {
        if FACTS.iter().any(|fact| name.starts_with(fact)) {
            continue;
        }
        let plain = format!("{value}");
        let money = format!("{value:.2}");
        assert!(
            words.contains(&plain) || words.contains(&money),
            "`{name}` {value} is not in: {words}"
        );
    }
    let different: BTreeSet<&String> = q.options.iter().collect();
    assert_eq!(different.len(), q.options.len(), "{q:?}");
    let reasons: BTreeSet<&String> = q.reasons.iter().collect();
    assert!(reasons.len() == q.reasons.len() && q.reason < reasons.len() && reasons.len() >= 3);
    for reason in (0..q.reasons.len()).filter(|at| *at != q.reason) {
        assert!(
            q.against(reason).is_some(),
            "nothing speaks against `{}`",
            q.reasons[reason]
        );
    }
    assert_eq!(
        q.against(q.reason),
        None,
        "something speaks against the right reason: {q:?}"
    );
    for slip in &q.slips {
        assert!(!q.is_right(&slip.given), "{q:?}");
    }
    match &q.answer {
        Answer::One(at) => assert!(*at < q.options.len()),
        Answer::Some(all) => assert!(all.iter().all(|at| *at < q.options.len())),
        Answer::Number { value, .. } => assert!(value.is_finite()),
        Answer::Between { low, high, .. } => assert!(low < high),
    }
}

#[test]
fn two_thousand_questions_of_every_level_have_one_answer_and_it_is_right() {
    let lab = Lab::new();
    let mut forms = BTreeSet::new();
    for level in 1..=LEVELS {
        let mut drill = Drill::new(&lab, 1000 + u64::from(level));
        let mut own = 0;
        for _ in 0..A_LEVEL {
            let question = drill.question(level).expect("a question");
            assert!(
                question.level <= level,
                "a level repeats only what came before it"
            );
            own += usize::from(question.level == level);
            forms.insert(question.form);
            well_posed(&question);
            check(&question);
        }
        assert!(
            own * 5 >= A_LEVEL * 3,
            "{own} of {A_LEVEL} at level {level}"
        );
    }
    assert_eq!(forms, (0..=24).collect(), "every form is asked");
}

/// Two hundred sittings' worth of questions, all levels alike.
fn two_hundred(lab: &Lab) -> Vec<Question> {
    let mut all = Vec::new();
    for seed in 0..23 {
        let mut drill = Drill::new(lab, seed);
        all.extend((1..=LEVELS).map(|level| drill.question(level).unwrap()));
    }
    all
}

/// Whoever always takes the longest must not get more than chance and a few points.
#[test]
fn the_longest_is_not_the_right_one() {
    let lab = Lab::new();
    let questions = two_hundred(&lab);
    let longest = |words: &[String], right: usize| {
        let columns = |at: usize| words[at].chars().count();
        (0..words.len()).all(|at| at == right || columns(at) < columns(right))
    };
    let (mut reasons, mut by_chance) = (0.0, 0.0);
    let (mut options, mut options_by_chance) = (0.0, 0.0);
    for q in &questions {
        reasons += f64::from(u8::from(longest(&q.reasons, q.reason)));
        by_chance += 1.0 / q.reasons.len() as f64;
        if let Answer::One(right) = q.answer {
            options += f64::from(u8::from(longest(&q.options, right)));
            options_by_chance += 1.0 / q.options.len() as f64;
        }
    }
    let few = 0.05 * questions.len() as f64;
    println!(
        "reasons {reasons} of {}, by chance {by_chance}; options {options}, by chance {options_by_chance}",
        questions.len()
    );
    assert!(questions.len() >= 200);
    assert!(
        reasons <= by_chance + few,
        "{reasons}, by chance {by_chance}"
    );
    assert!(reasons >= by_chance / 4.0, "nor the shortest: {reasons}");
    assert!(
        options <= options_by_chance + few,
        "{options}, by chance {options_by_chance}"
    );
}

#[test]
fn no_form_comes_twice_within_five() {
    let lab = Lab::new();
    for level in 0..=LEVELS {
        for seed in 0..20 {
            let mut drill = Drill::new(&lab, seed);
            let kinds: Vec<&str> = (0..25)
                .map(|at| {
                    // Level 0: up the ladder, as without `--level`.
                    let level = if level == 0 { at % LEVELS + 1 } else { level };
                    drill.question(level).unwrap().kind
                })
                .collect();
            for five in kinds.windows(5) {
                let different: BTreeSet<&&str> = five.iter().collect();
                assert_eq!(different.len(), 5, "level {level}, seed {seed}: {five:?}");
            }
        }
    }
}

/// What the table plans with, as `Sn60Pb40 (183 to 191 °C)`; a question states nothing else.
#[test]
fn melting_points_asked_are_those_of_the_table() {
    let lab = Lab::new();
    let mut stated = BTreeSet::new();
    let read = alloys_of_words();
    for level in 1..=LEVELS {
        let mut drill = Drill::new(&lab, 40 + u64::from(level));
        for _ in 0..100 {
            let q = drill.question(level).unwrap();
            let words = format!("{} {}", q.text, q.options.join(" "));
            for found in read(&words) {
                stated.insert(found);
            }
        }
    }
    assert!(stated.len() >= 9, "{stated:?}");
    for (name, from, to) in stated {
        let planned = &AlloyBook::shipped()
            .get(&name)
            .unwrap_or_else(|| panic!("no alloy `{name}`"))
            .in_use;
        let told = (Celsius::whole(from), Celsius::whole(to));
        assert_eq!((planned.solidus, planned.liquidus), told, "{name}");
    }
}

/// Reads `Name (183 °C)` and `Name (183 to 191 °C)` out of words.
fn alloys_of_words() -> impl Fn(&str) -> Vec<(String, i32, i32)> {
    |words| {
        let mut all = Vec::new();
        for (at, _) in words.match_indices(" (") {
            let name = words[..at].rsplit([' ', '\n', '(']).next().unwrap_or("");
            let Some((inside, _)) = words[at + 2..].split_once(" °C)") else {
                continue;
            };
            let numbers: Option<Vec<i32>> = inside.split(" to ").map(|n| n.parse().ok()).collect();
            let ends = numbers.and_then(|all| Some((*all.first()?, *all.last()?)));
            if let Some((from, to)) = ends {
                all.push((name.to_owned(), from, to));
            }
        }
        all
    }
}

/// 260 °C is the highest class of bodies in J-STD-020 (from memory).
#[test]
fn no_answer_is_hotter_than_what_any_part_bears() {
    let lab = Lab::new();
    for level in 1..=LEVELS {
        let mut drill = Drill::new(&lab, 90 + u64::from(level));
        for _ in 0..300 {
            let q = drill.question(level).unwrap();
            let hottest = match q.answer {
                Answer::Number {
                    value, unit: "°C", ..
                } => value,
                Answer::Between {
                    high, unit: "°C", ..
                } => high,
                _ => continue,
            };
            assert!(hottest <= 260.0, "{hottest}: {q:?}");
        }
    }
}

/// The key of a question about masses comes from the very numbers that it prints.
#[test]
fn the_numbers_of_a_film_give_its_key() {
    let lab = Lab::new();
    let mut drill = Drill::new(&lab, 5);
    let mut films = 0;
    for _ in 0..400 {
        let q = drill.question(4).unwrap();
        if !["lead_share", "rounds"].contains(&q.kind) {
            continue;
        }
        let (Answer::Number { value, .. }, Expected::Number(want)) = (&q.answer, expected(&q))
        else {
            panic!("{q:?}");
        };
        assert!(
            (value - want).abs() <= 0.002 * want,
            "{value}, want {want}: {q:?}"
        );
        films += 1;
    }
    assert!(films > 100, "{films}");
}

#[test]
fn what_floats_off_never_holds() {
    let lab = Lab::new();
    let mut drill = Drill::new(&lab, 6);
    let mut floats = 0;
    for _ in 0..500 {
        let q = drill.question(4).unwrap();
        if q.right().contains("it floats off") {
            let stairs = q.stairs.expect("a staircase");
            assert_ne!(stairs.verdict, Some(Mark::Holds), "{}", q.text);
            let text = stairs.text(Scale::Celsius, 80, false);
            assert!(!text.contains("holds"), "{text}");
            floats += 1;
        }
    }
    assert!(floats > 20, "{floats}");
}

#[test]
fn a_question_about_a_staircase_shows_it_and_not_its_answer() {
    let lab = Lab::new();
    let mut drill = Drill::new(&lab, 8);
    let mut shown = 0;
    for _ in 0..100 {
        let q = drill.question(1).unwrap();
        assert_eq!(
            q.text.contains("staircase"),
            q.shown.is_some(),
            "{}",
            q.text
        );
        let Some(picture) = q.shown else { continue };
        let text = picture.text_to_read(Scale::Celsius, 88, false);
        for tells in ["K left", "[", "✗", "◆", "close", "melts"] {
            assert!(!text.contains(tells), "`{tells}` tells the answer: {text}");
        }
        assert!(!text.contains('●') && text.contains("A rim"), "{text}");
        shown += 1;
    }
    assert!(shown >= 30, "{shown}");
}

#[test]
fn a_seed_repeats_its_questions_and_another_does_not() {
    let lab = Lab::new();
    let texts = |seed| -> Vec<String> {
        let mut drill = Drill::new(&lab, seed);
        (1..=LEVELS)
            .map(|level| drill.question(level).unwrap().asked())
            .collect()
    };
    assert_eq!(texts(7), texts(7));
    assert_ne!(texts(7), texts(8));
}

#[test]
fn a_wrong_answer_is_told_the_mistake_behind_it() {
    let lab = Lab::new();
    let mut drill = Drill::new(&lab, 3);
    let mut told = 0;
    for level in 1..=LEVELS {
        for _ in 0..20 {
            let question = drill.question(level).unwrap();
            for slip in &question.slips {
                let judged = question.judge(&slip.given, question.reason);
                assert!(!judged.answer && judged.reason);
                assert!(
                    judged.told.contains("What you may have had in mind"),
                    "{judged:?}"
                );
                assert!(judged.told.contains(&question.right()));
                told += 1;
            }
            let right = match &question.answer {
                Answer::Number { value, .. } => Given::Number(*value),
                Answer::Between { low, high, .. } => Given::Number((low + high) / 2.0),
                Answer::One(at) => Given::Options([*at].into()),
                Answer::Some(all) => Given::Options(all.clone()),
            };
            let wrong_reason = (question.reason + 1) % question.reasons.len();
            let judged = question.judge(&right, wrong_reason);
            assert!(judged.answer && !judged.reason);
            assert!(judged.told.contains(&question.right_reason()));
        }
    }
    assert!(told > 200, "{told}");
}

/// Questions about a job, with the planner that they are about.
fn about_job(text: &str, seed: u64, count: usize) -> Vec<Question> {
    let planner = Planner::new(text).expect("a job");
    let case = planner.sorted();
    let best = case.order(Budget::default(), &mut |_| true).unwrap();
    let written = planner.written().check().1.verdict;
    about(
        &case,
        &best.checked.expect("an order"),
        written,
        seed,
        count,
    )
}

const TIDE_GAUGE: &str = include_str!("../charts/tide_gauge.yaml");

/// Each key against what `order` and `check` print of the same job in the README (their own tests hold that).
#[test]
fn questions_about_a_job_have_the_answers_of_its_planner() {
    let keys = [
        ("own_tightest_step", "step strip (clean pads of store)"),
        ("own_alloy", "Bi58Sn42"),
        ("own_heats", "1 heats"),
        ("own_lowest", "site"),
    ];
    let mut asked = BTreeSet::new();
    for seed in 0..20 {
        let all = about_job(TIDE_GAUGE, seed, 8);
        assert!(all.len() >= 6, "{}", all.len());
        for five in all.windows(5) {
            let kinds: BTreeSet<&str> = five.iter().map(|q| q.kind).collect();
            assert_eq!(kinds.len(), 5, "{kinds:?}");
        }
        for q in &all {
            well_posed(q);
            asked.insert(q.kind);
            if let Some((_, key)) = keys.iter().find(|(kind, _)| *kind == q.kind) {
                assert!(q.right().ends_with(key), "{}: {}", q.text, q.right());
            }
            let weakest_of_set = q.kind == "own_weakest_at" && q.text.contains("in step set ");
            if weakest_of_set {
                assert!(
                    q.right().ends_with("tails") && q.rule.contains("33.5"),
                    "{q:?}"
                );
            }
        }
    }
    assert_eq!(asked.len(), 8, "{asked:?}");
}

/// Another coupling, another answer: the key follows the file.
#[test]
fn questions_about_a_job_follow_its_file() {
    let right = |text: &str| {
        let all = (0..40).flat_map(|seed| about_job(text, seed, 8));
        let of_set = |q: &Question| q.kind == "own_weakest_at" && q.text.contains("in step set ");
        all.into_iter().find(of_set).expect("it is asked").right()
    };
    assert!(right(TIDE_GAUGE).ends_with("tails"));
    let nearer = TIDE_GAUGE.replace("tails: 0.8", "tails: 0.1");
    assert_ne!(nearer, TIDE_GAUGE, "the job says it so");
    assert!(!right(&nearer).ends_with("tails"), "{}", right(&nearer));
}
