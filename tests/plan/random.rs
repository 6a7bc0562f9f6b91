//! Random small jobs in which the order matters: cleaning, masks, removals, gates, closed ways.

use meltstair::alloy::{Composition, Element};
use meltstair::job::{
    Adhesive, Amount, Balls, Choice, Content, Coupling, Deposit, Guard, GuardIx, GuardKind, Job,
    Joint, JointIx, Must, Pad, Part, PartIx, Pin, Solder, Start, Step, StepIx, Tool, Want, Way,
    Where, Work,
};
use meltstair::quantity::{Area, Celsius, KelvinStep, Length, Mass};

use super::dice::Dice;

/// Three alloys with round readings; the palladium makes them made-up metal (see `plan_help`).
pub fn alloys() -> Vec<Solder> {
    use Element::{Ag, Bi, Pb, Pd, Sn};
    [
        &[(Sn, 96.0), (Ag, 3.0), (Pd, 1.0)][..],
        &[(Sn, 63.0), (Pb, 36.0), (Pd, 1.0)],
        &[(Bi, 57.0), (Sn, 42.0), (Pd, 1.0)],
    ]
    .map(|parts| {
        let composition = Composition::from_parts(parts).unwrap();
        Solder {
            name: composition.to_string(),
            composition,
        }
    })
    .into()
}

pub fn pins(alloys: &[Solder]) -> Vec<Pin> {
    let readings = [(217, 220), (183, 183), (138, 138)];
    alloys
        .iter()
        .zip(readings)
        .map(|(solder, (solidus, liquidus))| Pin {
            solder: solder.clone(),
            solidus: Celsius::whole(solidus),
            liquidus: Celsius::whole(liquidus),
        })
        .collect()
}

fn mg(dice: &mut Dice) -> Amount {
    Amount::Mass(Mass::from_mg(dice.of(&[0.05, 0.1, 0.5])).unwrap())
}

/// A job of that many steps.
pub fn job(dice: &mut Dice, steps: usize) -> Job {
    let alloys = alloys();
    let mut names: Vec<String> = ["d", "a", "q", "k", "x", "c", "m", "t", "b"]
        .map(str::to_owned)
        .into();
    for i in (1..names.len()).rev() {
        names.swap(i, dice.below(i + 1));
    }
    let joints = 2 + dice.below(3);
    let parts = dice.below(3).min(joints);
    let mut job = Job {
        title: "random".to_owned(),
        want: Want {
            margin: KelvinStep::whole(dice.of(&[0, 5, 10])),
            lead_free: dice.one_in(8),
            ..Want::default()
        },
        stock: Vec::new(),
        pins: pins(&alloys),
        ambient: Celsius::whole(25),
        board: None,
        learned: meltstair::job::Learned::default(),
        zones: Vec::new(),
        guards: Vec::new(),
        parts: Vec::new(),
        joints: Vec::new(),
        wires: Vec::new(),
        reels: Vec::new(),
        steps: Vec::new(),
        done: Vec::new(),
    };
    for j in 0..joints {
        job.joints.push(joint(dice, j, &alloys));
    }
    for p in 0..parts {
        let part = part(dice, p, &alloys, &job.joints);
        if part.on.is_empty() && dice.one_in(2) {
            job.joints[p].site_of = Some(PartIx(p));
        }
        job.parts.push(part);
    }
    if dice.one_in(2) {
        job.guards.push(Guard {
            id: "mask".to_owned(),
            kind: GuardKind::Mask,
            limit: Celsius::whole(dice.of(&[120, 150, 200])),
            zone: None,
            at: None,
            reach: None,
            under: false,
            over: if dice.one_in(2) {
                vec![JointIx(dice.below(joints))]
            } else {
                Vec::new()
            },
        });
    }
    for name in names.into_iter().take(steps) {
        let step = step(dice, name, &job, &alloys);
        job.steps.push(step);
    }
    job
}

fn joint(dice: &mut Dice, j: usize, alloys: &[Solder]) -> Joint {
    let has_metal = !dice.one_in(3);
    let metal = Deposit {
        content: Content::Known(dice.of(alloys)),
        amount: mg(dice),
        as_bought: false,
    };
    Joint {
        id: format!("joint{j}"),
        count: 1,
        site_of: None,
        start: if has_metal && dice.one_in(2) {
            Start::Standing
        } else {
            Start::Bare
        },
        each: if has_metal { vec![metal] } else { Vec::new() },
        pad: Some(Pad {
            area: Area::from_mm2(0.07).unwrap(),
            finish: None,
        }),
        must: dice.of(&[Must::StaySolid, Must::StayPut, Must::StayPut, Must::MayMelt]),
        covered: false,
        strained: false,
        under: false,
        zone: None,
        at: None,
        reach: None,
    }
}

fn part(dice: &mut Dice, p: usize, alloys: &[Solder], joints: &[Joint]) -> Part {
    let on = (joints[p].start == Start::Standing && dice.one_in(2)).then_some(JointIx(p));
    Part {
        id: format!("part{p}"),
        on: on.into_iter().collect(),
        lugs: Vec::new(),
        balls: Some(Balls {
            count: 1,
            diameter: Length::from_um(300.0).unwrap(),
            content: Content::Known(dice.of(alloys)),
        }),
        limit: dice
            .one_in(3)
            .then(|| Celsius::whole(dice.of(&[160, 210, 245]))),
        heats_left: dice
            .one_in(3)
            .then(|| u32::try_from(1 + dice.below(3)).unwrap()),
        heats_before: 0,
        vital: dice.one_in(2),
        hang: None,
        adhesive: Adhesive::None,
        dry: None,
        zone: None,
        at: None,
        size: None,
        thick: None,
        mass: None,
    }
}

fn way(dice: &mut Dice, job: &Job) -> Way {
    let mut couplings = Vec::new();
    let k = |dice: &mut Dice| Coupling::new(dice.of(&[0.05, 0.2, 0.4, 0.6, 0.9, 1.0])).unwrap();
    for j in 0..job.joints.len() {
        if dice.one_in(2) {
            couplings.push((Where::Joint(JointIx(j)), k(dice)));
        }
    }
    for p in 0..job.parts.len() {
        if dice.one_in(4) {
            couplings.push((Where::Part(PartIx(p)), k(dice)));
        }
    }
    if !job.guards.is_empty() && dice.one_in(4) {
        couplings.push((Where::Guard(GuardIx(0)), k(dice)));
    }
    if !dice.one_in(8) {
        couplings.push((Where::Rest, k(dice)));
    }
    Way {
        tool: dice.of(&[Tool::Iron, Tool::Air]),
        peak: dice
            .one_in(4)
            .then(|| Celsius::whole(dice.of(&[160, 205, 240]))),
        preheat: Celsius::whole(dice.of(&[25, 80, 120])),
        set: None,
        couplings,
        sees: Vec::new(),
        seconds: None,
        described: None,
        preheat_area: None,
    }
}

fn solder_choice(dice: &mut Dice, alloys: &[Solder]) -> Choice<Solder> {
    if dice.one_in(2) {
        Choice::Fixed(dice.of(alloys))
    } else {
        let leave_out = dice.below(alloys.len());
        let mut some = alloys.to_vec();
        some.remove(leave_out);
        Choice::OneOf(some)
    }
}

fn step(dice: &mut Dice, id: String, job: &Job, alloys: &[Solder]) -> Step {
    let joint = JointIx(dice.below(job.joints.len()));
    let part = (!job.parts.is_empty()).then(|| PartIx(dice.below(job.parts.len())));
    let guard = (!job.guards.is_empty()).then_some(GuardIx(0));
    let work = match (dice.below(12), part, guard) {
        (0, Some(part), _) => Work::Remove { part, flood: None },
        (1 | 2, Some(part), _) => Work::Place {
            part,
            on: vec![joint],
            paste: None,
        },
        (3, Some(part), _) => Work::Reball {
            part,
            solder: solder_choice(dice, alloys),
            diameter: None,
        },
        (4 | 5, _, _) => {
            let flood = (dice.of(alloys), Mass::from_mg(0.2).unwrap());
            Work::Clean {
                joint: Some(joint),
                part: None,
                rounds: if dice.one_in(2) {
                    Choice::Fixed(1)
                } else {
                    Choice::OneOf(vec![0, 2])
                },
                flood: Some(flood),
                film: None,
            }
        }
        (6 | 7, _, Some(guard)) => Work::Cover {
            guard,
            over: vec![joint],
        },
        (8, _, _) => Work::Gate { short_check: true },
        (9, _, _)
            if job
                .steps
                .iter()
                .any(|s| matches!(s.work, Work::Gate { .. })) =>
        {
            Work::Power
        }
        (10, _, _) if dice.one_in(3) => Work::WholeBoard {
            part: None,
            hours: None,
            bake: false,
        },
        _ => Work::Solder {
            joint,
            solder: solder_choice(dice, alloys),
            amount: mg(dice),
            wire: None,
        },
    };
    let cold = matches!(work, Work::Cover { .. } | Work::Gate { .. } | Work::Power);
    let ways = if cold {
        0
    } else {
        1 + usize::from(dice.one_in(4))
    };
    let clean = matches!(work, Work::Clean { .. });
    let mut ways: Vec<Way> = (0..ways).map(|_| way(dice, job)).collect();
    for way in &mut ways {
        // What a wick does to a clean pad is its stated peak and nothing else.
        if clean && way.peak.is_none() {
            way.peak = Some(Celsius::whole(235));
        }
    }
    let after = (0..job.steps.len())
        .filter(|_| dice.one_in(5))
        .map(|s| (StepIx(s), None))
        .collect();
    Step {
        id,
        work,
        ways,
        after,
        closes: if dice.one_in(6) {
            vec![JointIx(dice.below(job.joints.len()))]
        } else {
            Vec::new()
        },
        optional: dice.one_in(6),
        minutes: None,
        line: 0,
    }
}
