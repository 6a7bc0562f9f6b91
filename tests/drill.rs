//! The drill: every answer worked out again from the numbers that the question states, by arithmetic
//! that shares nothing with the engine.

use std::collections::BTreeSet;

use meltstair::show::drill::{Answer, Drill, Given, LEVELS, Lab, Question};

const A_LEVEL: usize = 2000;

/// Numbers that are no words of the text but facts of it ("covers rim and plug").
const FACTS: [&str; 8] = [
    "heat.", "frame.", "lid.", "leaded", "shared", "on_chip", "nth", "below",
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
        for _ in 0..A_LEVEL {
            let question = drill.question(level).expect("a question");
            assert_eq!(question.level, level);
            forms.insert(question.form);
            well_posed(&question);
            check(&question);
        }
    }
    assert_eq!(forms, (0..=20).collect(), "every form is asked");
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
