//! Random small jobs in which the order matters: cleaning, masks, removals, gates, closed ways, parts on
//! several groups, parts on their backs, wires, hanging and moist parts, ovens.

use meltstair::alloy::{Composition, Element};
use meltstair::job::{
    Adhesive, Amount, Balls, Choice, Content, Coupling, Deposit, Guard, GuardIx, GuardKind, Hang,
    Job, Joint, JointIx, Must, Pad, Part, PartIx, Pin, Solder, Start, Step, StepIx, Tool, Want,
    Way, Where, Wire, WireIx, Work, Zone, ZoneIx,
};
use meltstair::quantity::Point;
use meltstair::quantity::{Area, Celsius, KelvinStep, Length, Mass, Minutes};

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
            service: dice
                .one_in(8)
                .then(|| Celsius::whole(dice.of(&[40, 52, 86]))),
            counts_from: Celsius::whole(dice.of(&[100, 150, 150, 200])),
            ..Want::default()
        },
        stock: Vec::new(),
        pins: pins(&alloys),
        ambient: Celsius::whole(25),
        board: None,
        learned: meltstair::job::Learned::default(),
        zones: vec![Zone {
            id: "corner".to_owned(),
        }],
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
        if dice.one_in(2) {
            let site = if part.on.is_empty() && dice.one_in(2) {
                p
            } else {
                dice.below(joints)
            };
            job.joints[site].site_of = Some(PartIx(p));
        }
        job.parts.push(part);
    }
    for g in 0..dice.below(3) {
        let guard = guard(dice, g, joints);
        job.guards.push(guard);
    }
    for w in 0..dice.below(4).saturating_sub(1) {
        let wire = wire(dice, w, joints);
        job.wires.push(wire);
    }
    for name in names.into_iter().take(steps) {
        let step = step(dice, name, &job, &alloys);
        job.steps.push(step);
    }
    job
}

/// Few places, so that bodies meet.
fn spot(dice: &mut Dice) -> Point {
    let along = |dice: &mut Dice| dice.of(&[10.0, 13.0, 20.0, 26.0]);
    let (x, y) = (along(dice), along(dice));
    Point::from_mm(x, y).unwrap()
}

fn zone(dice: &mut Dice) -> Option<ZoneIx> {
    dice.one_in(4).then_some(ZoneIx(0))
}

fn guard(dice: &mut Dice, g: usize, joints: usize) -> Guard {
    Guard {
        id: format!("guard{g}"),
        kind: dice.of(&[
            GuardKind::Mask,
            GuardKind::Mask,
            GuardKind::Glue,
            GuardKind::Other,
            GuardKind::Plastic,
            GuardKind::Laminate,
        ]),
        limit: Celsius::whole(dice.of(&[120, 150, 200, 260])),
        under: false,
        zone: zone(dice),
        at: None,
        reach: None,
        over: if dice.one_in(3) {
            vec![JointIx(dice.below(joints))]
        } else {
            Vec::new()
        },
    }
}

fn wire(dice: &mut Dice, w: usize, joints: usize) -> Wire {
    let from = dice.below(joints);
    let to = (from + 1 + dice.below(joints - 1)) % joints;
    Wire {
        id: format!("wire{w}"),
        from: JointIx(from),
        to: JointIx(to),
        diameter: Length::from_um(100.0).unwrap(),
        length: None,
        current: None,
        enamel_limit: None,
        crosses: Vec::new(),
        held: dice.one_in(3),
        rail: false,
    }
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
        count: dice.of(&[1, 1, 1, 3]),
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
        covered: dice.one_in(12),
        strained: dice.one_in(8),
        under: false,
        zone: zone(dice),
        at: dice.one_in(6).then(|| spot(dice)),
        reach: None,
    }
}

fn part(dice: &mut Dice, p: usize, alloys: &[Solder], joints: &[Joint]) -> Part {
    let mut on: Vec<JointIx> = Vec::new();
    if joints[p].start == Start::Standing && dice.one_in(2) {
        on.push(JointIx(p));
    }
    // A second group, on which another part may stand too.
    let second = dice.below(joints.len());
    if dice.one_in(3) && joints[second].start == Start::Standing && second != p {
        on.push(JointIx(second));
        on.sort();
    }
    let balls = (!dice.one_in(6)).then(|| Balls {
        count: 1,
        diameter: Length::from_um(300.0).unwrap(),
        content: Content::Known(dice.of(alloys)),
    });
    let lugs = (0..joints.len())
        .map(JointIx)
        .filter(|at| !joints[at.0].each.is_empty() && dice.one_in(8))
        .collect();
    Part {
        pad: None,
        id: format!("part{p}"),
        on,
        lugs,
        balls,
        limit: dice
            .one_in(3)
            .then(|| Celsius::whole(dice.of(&[160, 210, 245]))),
        heats_left: dice
            .one_in(3)
            .then(|| u32::try_from(1 + dice.below(3)).unwrap()),
        heats_before: 0,
        vital: dice.one_in(3),
        hang: dice.one_in(5).then(|| hang(dice)),
        adhesive: dice.of(&[
            Adhesive::None,
            Adhesive::None,
            Adhesive::None,
            Adhesive::None,
            Adhesive::None,
            Adhesive::None,
            Adhesive::Reworkable,
            Adhesive::NotReworkable,
            Adhesive::Unknown,
        ]),
        dry: dice.of(&[None, None, Some(true), Some(false)]),
        zone: zone(dice),
        at: dice.one_in(4).then(|| spot(dice)),
        size: dice.one_in(2).then(|| {
            let side = |dice: &mut Dice| Length::from_mm(dice.of(&[1.0, 6.0, 14.0])).unwrap();
            (side(dice), side(dice))
        }),
        thick: None,
        mass: None,
        ramp: None,
    }
}

/// Of 465 mg by its area or 40 mg by its edge, some of which is too much.
fn hang(dice: &mut Dice) -> Hang {
    Hang {
        weight: Mass::from_mg(dice.of(&[30.0, 100.0, 900.0])).unwrap(),
        area: Area::from_mm2(10.0).unwrap(),
        edge: dice.one_in(2).then(|| Length::from_mm(10.0).unwrap()),
        supported: dice.one_in(3),
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
    for g in 0..job.guards.len() {
        if dice.one_in(4) {
            couplings.push((Where::Guard(GuardIx(g)), k(dice)));
        }
    }
    if dice.one_in(4) {
        couplings.push((Where::Zone(ZoneIx(0)), k(dice)));
    }
    if !dice.one_in(8) {
        couplings.push((Where::Rest, k(dice)));
    }
    let mut sees = Vec::new();
    if dice.one_in(6) {
        let places = [
            Some(Where::Joint(JointIx(dice.below(job.joints.len())))),
            (!job.parts.is_empty()).then(|| Where::Part(PartIx(dice.below(job.parts.len())))),
            (!job.guards.is_empty()).then(|| Where::Guard(GuardIx(dice.below(job.guards.len())))),
            Some(Where::Zone(ZoneIx(0))),
            Some(Where::Rest),
        ];
        let t = Celsius::whole(dice.of(&[60, 110, 136, 170, 215]));
        sees.extend(dice.of(&places).map(|place| (place, t)));
    }
    Way {
        tool: dice.of(&[
            Tool::Iron,
            Tool::Iron,
            Tool::Iron,
            Tool::Air,
            Tool::Air,
            Tool::Air,
            Tool::Tweezers,
            Tool::Plate,
            Tool::Oven,
        ]),
        peak: dice
            .one_in(4)
            .then(|| Celsius::whole(dice.of(&[160, 205, 240]))),
        preheat: Celsius::whole(dice.of(&[25, 80, 120])),
        set: None,
        couplings,
        sees,
        seconds: None,
        described: None,
        preheat_area: None,
        stages: Vec::new(),
        corners: None,
        shielded: Vec::new(),
        sinks: Vec::new(),
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

fn work(dice: &mut Dice, job: &Job, alloys: &[Solder]) -> Work {
    let joint = JointIx(dice.below(job.joints.len()));
    let part = (!job.parts.is_empty()).then(|| PartIx(dice.below(job.parts.len())));
    let guard = (!job.guards.is_empty()).then(|| GuardIx(dice.below(job.guards.len())));
    let has_gate = job
        .steps
        .iter()
        .any(|s| matches!(s.work, Work::Gate { .. }));
    match (dice.below(18), part, guard) {
        (0 | 1, Some(part), _) => Work::Remove {
            part,
            flood: dice
                .one_in(4)
                .then(|| (solder_choice(dice, alloys), mg(dice))),
        },
        (2 | 3, Some(part), _) => Work::Place {
            part,
            on: some_joints(dice, job),
            paste: dice
                .one_in(4)
                .then(|| (solder_choice(dice, alloys), mg(dice))),
        },
        (4, Some(part), _) if job.parts[part.0].balls.is_some() => Work::Reball {
            part,
            solder: solder_choice(dice, alloys),
            diameter: dice.one_in(4).then(|| Length::from_um(450.0).unwrap()),
        },
        (5 | 6, _, _) => clean(
            dice,
            joint,
            part.filter(|p| job.parts[p.0].balls.is_some()),
            alloys,
        ),
        (7 | 8, _, Some(guard)) => Work::Cover {
            guard,
            over: some_joints(dice, job),
        },
        (9, _, _) => Work::Gate { short_check: true },
        (10, _, _) if has_gate => Work::Power,
        (11, _, _) if dice.one_in(2) => Work::WholeBoard {
            part: part.filter(|_| dice.one_in(2)),
            hours: dice
                .one_in(2)
                .then(|| Minutes::from_minutes(dice.of(&[600.0, 1440.0])).unwrap()),
            bake: dice.one_in(2),
        },
        (12, _, Some(guard)) => Work::Uncover { guard },
        (13, Some(part), _) if dice.one_in(2) => Work::Move {
            part,
            zone: zone(dice),
        },
        (14, _, _) if dice.one_in(2) => Work::OtherHeat {
            joint: dice.one_in(2).then_some(joint),
            strip: dice.one_in(3),
        },
        (15 | 16, _, _) if !job.wires.is_empty() => {
            let wire = WireIx(dice.below(job.wires.len()));
            let ends = [job.wires[wire.0].from, job.wires[wire.0].to];
            Work::Solder {
                joint: dice.of(&ends),
                solder: solder_choice(dice, alloys),
                amount: mg(dice),
                wire: Some(wire),
            }
        }
        _ => Work::Solder {
            joint,
            solder: solder_choice(dice, alloys),
            amount: mg(dice),
            wire: None,
        },
    }
}

/// One group of joints, or two.
fn some_joints(dice: &mut Dice, job: &Job) -> Vec<JointIx> {
    let mut all = vec![JointIx(dice.below(job.joints.len()))];
    let second = JointIx(dice.below(job.joints.len()));
    if dice.one_in(3) && second != all[0] {
        all.push(second);
        all.sort();
    }
    all
}

fn clean(dice: &mut Dice, joint: JointIx, part: Option<PartIx>, alloys: &[Solder]) -> Work {
    let part = part.filter(|_| dice.one_in(4));
    Work::Clean {
        joint: part.is_none().then_some(joint),
        part,
        rounds: if dice.one_in(2) {
            Choice::Fixed(1)
        } else {
            Choice::OneOf(vec![0, 2])
        },
        flood: Some((dice.of(alloys), Mass::from_mg(0.2).unwrap())),
        film: None,
    }
}

fn step(dice: &mut Dice, id: String, job: &Job, alloys: &[Solder]) -> Step {
    let work = work(dice, job, alloys);
    let cold = matches!(
        work,
        Work::Cover { .. }
            | Work::Uncover { .. }
            | Work::Move { .. }
            | Work::Gate { .. }
            | Work::Power
    );
    let ways = if cold {
        0
    } else {
        1 + usize::from(dice.one_in(4))
    };
    let mut ways: Vec<Way> = (0..ways).map(|_| way(dice, job)).collect();
    for way in &mut ways {
        match &work {
            // What a wick does to a clean pad is its stated peak and nothing else.
            Work::Clean { .. } if way.peak.is_none() => way.peak = Some(Celsius::whole(235)),
            Work::WholeBoard { .. } | Work::OtherHeat { .. } => {
                way.peak = Some(Celsius::whole(dice.of(&[125, 130, 136, 160])));
            }
            _ => {}
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
