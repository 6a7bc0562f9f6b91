//! Level 4: what metals become when they meet.

use std::f64::consts::PI;

use fastrand::Rng;

use super::draft::{Draft, board, coupling, some_of, whole};
use super::lab::{ALLOYS, Asked, BISMUTH, Known, LEADED, Lab, readings};
use super::question::{Answer, Question, told};
use crate::alloy::Element;
use crate::bench::{Note, Seen, Verdict};
use crate::melt::Basis;

/// Ball diameters and films in µm. A grid, not a range, so that the engine remembers most blends.
const BALLS: [i32; 6] = [200, 250, 300, 350, 400, 450];
const FILMS: [i32; 4] = [5, 10, 15, 20];

/// Densities of the film and of the new solder in mg/mm³, to as many places as the key needs, and the words.
fn densities(lab: &Lab) -> Option<(f64, f64, String)> {
    let of = |alloy: Known| {
        let density = lab.book().get(alloy.0)?.composition.density().ok()?;
        Some((density.g_cm3() * 1000.0).round() / 1000.0)
    };
    let (film, new) = (of(LEADED)?, of(BISMUTH)?);
    let words = format!("(Sn63Pb37 weighs {film} mg/mm³, Bi58Sn42 {new}.)");
    Some((film, new, words))
}

fn job_of_ball(board: &str, ball: i32, residue: &str) -> String {
    format!(
        "job: {board}\n{}\nparts:\n  - {{id: chip, balls: {{count: 4, diameter_um: {ball}, alloy: Bi58Sn42}}}}\njoints:\n  - {{id: site, at: chip, pad_um: {ball}{residue}}}\nsteps:\n  - {{id: set, do: place, part: chip, on: site, tool: air, peak_c: 170}}\n",
        readings(&[BISMUTH, LEADED])
    )
}

/// Mass share of lead in the first joint at the end, in per cent.
fn lead_percent(asked: &Asked) -> Option<f64> {
    let layers = &asked.checked.end.joints.first()?.layers;
    let total: f64 = layers.iter().map(|l| l.blend.total().mg()).sum();
    let lead: f64 = layers
        .iter()
        .map(|l| l.blend.mass_of(Element::Pb).mg())
        .sum();
    (total > 0.0).then(|| 100.0 * lead / total)
}

/// What is worked out by hand from the numbers of the question, where the engine says the same: that is the key,
/// so that whoever reckons with these numbers is right to the last figure.
fn agreed(by_hand: f64, engine: f64) -> Option<f64> {
    ((by_hand - engine).abs() <= 0.005 * by_hand).then_some(by_hand)
}

/// Form 3: how much lead a film leaves in the joint.
pub(super) fn lead_share(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let ball = BALLS[dice.usize(..BALLS.len())];
    let film = FILMS[dice.usize(..FILMS.len())];
    let residue = format!(", residue: {{alloy: Sn63Pb37, film_um: {film}}}");
    let asked = lab.ask(&job_of_ball(board(dice), ball, &residue))?;
    let (of_film, of_new, densities) = densities(lab)?;
    let (d, thick) = (f64::from(ball) / 1e3, f64::from(film) / 1e3);
    let old = PI / 4.0 * d * d * thick * of_film;
    let new = PI / 6.0 * d.powi(3) * of_new;
    let lead = agreed(37.0 * old / (old + new), lead_percent(&asked)?)?;
    let mut question = Draft::new(4, 3)
        .line(format!(
            "A pad of {ball} µm across was wicked: a film of {film} µm of Sn63Pb37 is left."
        ))
        .line(format!(
            "A ball of Bi58Sn42, {ball} µm across, is set on it and mixes. {densities}"
        ))
        .line("How much lead is in the joint, in mass per cent?")
        .given("ball", ball)
        .given("film", film)
        .given("density.film", of_film)
        .given("density.ball", of_new)
        .slip(
            lead / 0.37,
            "that is the share of the film: only 37 % of it is lead",
        )
        .slip(
            37.0,
            "that is the lead in the film; the ball is far heavier",
        )
        .done(
            dice,
            Answer::Number {
                value: lead,
                tolerance: 0.05 * lead,
                unit: "%",
            },
            &[
                "masses mix: lead of the film over the mass of ball and film together",
                "wick takes all of it: there is no lead left",
                "what counts is how thick the film is, not what the ball weighs",
            ],
            format!(
                "0.37 × (π/4 × d² × film × {of_film}) / (that film + π/6 × d³ × {of_new}) = {} %",
                told(lead)
            ),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Form 2: where the first drop appears.
pub(super) fn first_drop(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let ball = BALLS[dice.usize(..BALLS.len())];
    let film = FILMS[dice.usize(..FILMS.len())];
    let leaded = dice.u8(..3) > 0;
    let (residue, pad) = if leaded {
        (
            format!(", residue: {{alloy: Sn63Pb37, film_um: {film}}}"),
            format!(
                "The pad came from a leaded board and was wicked; about {film} µm are left, silver-grey."
            ),
        )
    } else {
        (
            String::new(),
            "The pad is new copper and never saw leaded solder.".to_owned(),
        )
    };
    let asked = lab.ask(&job_of_ball(board(dice), ball, &residue))?;
    let melt = lab.end_melt(&asked, 0)?;
    if matches!(melt.basis, Basis::Unknown | Basis::Floor) {
        return None;
    }
    let first = melt.first_melt?.degrees();
    let mut question = Draft::new(4, 2)
        .line(format!("A ball of {}, {ball} µm across, was set on a pad of the same size and frozen.", BISMUTH.told()))
        .line(pad)
        .line("You warm the joint again. At what temperature does the first drop appear?")
        .given("ball", ball)
        .given("leaded", u8::from(leaded))
        .slip(138.0, "bismuth, tin and lead together begin to melt near 95 °C, however little lead there is")
        .slip(95.3, "95 °C needs lead, and there is none here")
        .slip(183.0, "that is the old joint; it is no longer there")
        .slip(160.5, "melting points are not averaged: mixtures melt lower than both")
        .done(
            dice,
            Answer::Number { value: first, tolerance: 4.0, unit: "°C" },
            if leaded {
                &[
                    "the joint is what melted together on the pad, and bismuth, lead and tin melt lowest of all",
                    "the joint is what the ball was bought as",
                    "a mixture melts between its parents",
                ]
            } else {
                &[
                    "only what is on the pad can mix in, and nothing is",
                    "wherever a leaded board was repaired, 95 °C must be reckoned with",
                    "new copper lowers the melting point of bismuth solder",
                ]
            },
            if leaded {
                format!("Bi + Pb + Sn: near {} °C", told(first))
            } else {
                format!("Bi58Sn42 alone: {} °C", told(first))
            },
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Form 18: what rounds of fresh solder and wick leave.
pub(super) fn rounds(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let pad = [300, 400][dice.usize(..2)];
    let film = [5, 10][dice.usize(..2)];
    let fresh = [0.1, 0.2, 0.3][dice.usize(..3)];
    let rounds = whole(dice, 1, 3, 1);
    let job = format!(
        "job: {}\n{}\njoints:\n  - {{id: pad, pad_um: {pad}, residue: {{alloy: Sn63Pb37, film_um: {film}}}}}\nsteps:\n  - {{id: dress, do: clean, joint: pad, rounds: {rounds}, flood: {{alloy: Bi58Sn42, mg: {fresh}}}, film_um: {film}, tool: iron, peak_c: 215}}\n",
        board(dice),
        readings(&[BISMUTH, LEADED])
    );
    let asked = lab.ask(&job)?;
    let (of_film, of_new, densities) = densities(lab)?;
    let volume = PI / 4.0 * f64::from(pad * pad) / 1e6 * f64::from(film) / 1e3;
    let kept = volume * of_film;
    // What a round leaves weighs what fresh solder weighs.
    let left = volume * of_new;
    let later = (left / (left + fresh)).powi(rounds - 1);
    let by_hand = 37.0 * kept / (kept + fresh) * later;
    let lead = agreed(by_hand, lead_percent(&asked)?)?;
    let once = kept / (kept + fresh);
    let mut question = Draft::new(4, 18)
        .line(format!(
            "A film of {film} µm Sn63Pb37 lies on a pad of {pad} µm across. {densities}"
        ))
        .line(format!(
            "Each round floods it with {fresh} mg of fresh Bi58Sn42 and wicks it back to {film} µm."
        ))
        .line(format!(
            "How much lead, in mass per cent, is in the film after {rounds} round{}?",
            if rounds == 1 { "" } else { "s" }
        ))
        .given("film", film)
        .given("pad", pad)
        .given("fresh", fresh)
        .given("rounds", rounds)
        .given("density.film", of_film)
        .given("density.fresh", of_new)
        .slip(37.0 / f64::from(rounds + 1), "a round does not halve it: it divides by the whole puddle over the film")
        .slip(37.0 * once / f64::from(rounds), "rounds multiply, they do not add")
        .slip(0.0, "wick leaves a film, and the film holds what the puddle held")
        .done(
            dice,
            Answer::Number { value: lead, tolerance: 0.12 * lead, unit: "%" },
            &[
                "each round divides what is left by the puddle over the film: it never gets to nothing",
                "wick takes everything that is liquid: one round is enough",
                "flux cleans metal off the pad",
            ],
            format!(
                "37 % × (film / (film + {fresh} mg))^{rounds}, the film {} mg: {} %",
                told(kept),
                told(lead)
            ),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Form 5: a jumper on the same pad as the ball, or on a pad of its own.
pub(super) fn shared_pad(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let shared = dice.bool();
    let peak = whole(dice, 158, 178, 1);
    let preheat = whole(dice, 80, 120, 5);
    let k = coupling(dice, 6, 18);
    let jumper = if shared {
        "  - {id: jumper, at: chip, pad_um: 300, each: [{alloy: Sn63Pb37, mg: 0.015}], strained: true}\n"
            .to_owned()
    } else {
        "  - {id: site, at: chip, pad_um: 300}\n  - {id: jumper, alloy: Sn63Pb37, strained: true}\n"
            .to_owned()
    };
    let on = if shared { "jumper" } else { "site" };
    let job = format!(
        "job: {}\n{}\nparts:\n  - {{id: chip, balls: {{count: 4, diameter_um: 300, alloy: Bi58Sn42}}}}\njoints:\n{jumper}steps:\n  - {{id: set, do: place, part: chip, on: {on}, tool: air, peak_c: {peak}, preheat_c: {preheat}, k: {{rest: {k}}}}}\n",
        board(dice),
        readings(&[BISMUTH, LEADED])
    );
    let asked = lab.ask(&job)?;
    let passage = &asked.last()?.passage;
    let floats = passage
        .notes
        .iter()
        .any(|note| matches!(note, Note::Dissolves(_)));
    let (right, seen) = if shared {
        // What floats off is told by its staircase, too.
        if floats && asked.checked.verdict == Verdict::Holds {
            return None;
        }
        (usize::from(floats), None)
    } else {
        let sight = asked.sight("jumper")?;
        let Seen::At(seen, _) = sight.seen else {
            return None;
        };
        if sight.verdict != Verdict::Holds {
            return None;
        }
        (0, Some(seen.degrees()))
    };
    let draft = Draft::new(4, 5)
        .line(format!("A jumper is soldered with {}. A chip with balls of {} is set at {peak} °C on a board preheated to {preheat} °C.", LEADED.told(), BISMUTH.told()))
        .line(if shared {
            "The jumper ends on one of the pads that the balls land on.".to_owned()
        } else {
            format!("The jumper ends on a pad of its own, 4 mm away, coupling {k}.")
        })
        .line("Does the end of the jumper stay where it is?")
        .options(["it stays", "it floats off"])
        .given("shared", u8::from(shared))
        .given("peak", peak)
        .given("preheat", preheat)
        .alloy("", LEADED);
    let draft = if shared { draft } else { draft.given("k", k) };
    let mut question = draft
        .slip_option(
            1 - right,
            if right == 1 {
                "183 is above the peak, but liquid solder dissolves solid solder that it touches, below its melting point"
            } else {
                "what does not touch does not mix: here only the temperature counts"
            },
        )
        .done(
            dice,
            Answer::One(right),
            if shared {
                &[
                    "the liquid metal dissolves what it touches",
                    "the jumper melts at 183 °C and never sees that",
                    "flux keeps the two apart",
                ]
            } else {
                &[
                    "nothing liquid touches it: what it sees decides",
                    "bismuth spreads over the board and reaches every joint",
                    "every joint near a chip is lost when the chip is set",
                ]
            },
            match seen {
                None => "one pad, one joint: it becomes bismuth, lead and tin, liquid at the peak".to_owned(),
                Some(seen) => format!(
                    "it sees {} °C and has {} K left",
                    told(seen),
                    told(183.0 - seen)
                ),
            },
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Pairs of which it is clear what happens when they meet.
fn pairs() -> Vec<(Known, Known)> {
    let by_name = |name: &str| ALLOYS.iter().copied().find(|alloy| alloy.0 == name);
    [
        ("Bi58Sn42", "Sn63Pb37"),
        ("Bi58Sn42", "Sn60Pb40"),
        ("Bi58Sn42", "Sn62Pb36Ag2"),
        ("Bi57Sn42Ag1", "Sn63Pb37"),
        ("Sn96.5Ag3Cu0.5", "Sn63Pb37"),
        ("Sn96.5Ag3Cu0.5", "Bi58Sn42"),
        ("Sn96.5Ag3.5", "Sn63Pb37"),
        ("Sn63Pb37", "Sn60Pb40"),
        ("Sn63Pb37", "Sn62Pb36Ag2"),
        ("Bi58Sn42", "Bi57Sn42Ag1"),
        ("Sn96.5Ag3Cu0.5", "Sn96.5Ag3.5"),
    ]
    .iter()
    .filter_map(|(a, b)| Some((by_name(a)?, by_name(b)?)))
    .collect()
}

/// Form 13: which pairs make something that melts far lower than both.
pub(super) fn lower_than_both(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let mut drawn = some_of(dice, &pairs(), 4);
    dice.shuffle(&mut drawn);
    let mut lower = std::collections::BTreeSet::new();
    for (at, (a, b)) in drawn.iter().enumerate() {
        let together = lab.meeting(*a, *b)?.survival?.degrees();
        let apart = f64::from(a.1.min(b.1));
        let drop = apart - together;
        // Not near the line: a few kelvins of uncertainty must not decide.
        if (drop - 20.0).abs() < 6.0 {
            return None;
        }
        if drop > 20.0 {
            lower.insert(at);
        }
    }
    let mut draft = Draft::new(4, 13)
        .line("Which of these pairs, where they meet on a pad, make something that begins to melt")
        .line("more than 20 K below both?")
        .options(
            drawn
                .iter()
                .map(|(a, b)| format!("{} and {}", a.told(), b.told())),
        )
        .given("below", 20);
    for (at, (a, b)) in drawn.iter().enumerate() {
        draft = draft
            .given(format!("solidus.{at}.0"), a.1)
            .given(format!("solidus.{at}.1"), b.1);
    }
    Some(draft.done(
        dice,
        Answer::Some(lower),
        &[
            "bismuth and lead in tin open a melt near 95 °C",
            "a mixture melts between its parents",
            "only pairs with very different melting points are dangerous",
        ],
        "bismuth meets lead: near 95 °C. Without that pair, the mixture begins close to the lower parent",
    ))
}
