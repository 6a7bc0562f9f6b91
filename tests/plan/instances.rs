//! Planning instances of any size: chains of 2 to 5 solder joints on one board, each joint to be
//! soldered after the one before it in its chain, some with a choice of alloys. Made-up metal with
//! round readings, couplings from the dice; the same for the same seed on every machine.

use meltstair::alloy::{Composition, Element};
use meltstair::job::{
    Amount, Choice, Coupling, Job, Joint, JointIx, Must, Pin, Solder, Start, Step, StepIx, Tool,
    Want, Way, Where, Work,
};
use meltstair::quantity::{Celsius, KelvinStep, Mass};

use super::dice::Dice;

/// Solidus and liquidus of the four alloys, in °C.
pub const READINGS: [(i32, i32); 4] = [(217, 220), (183, 183), (138, 138), (118, 118)];

/// How an instance is made.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    pub steps: usize,
    /// Steps with a choice of alloys, and of how many.
    pub open: usize,
    pub alloys: usize,
    /// Couplings are drawn from 0.05 up to this, in hundredths.
    pub most_coupled: usize,
}

/// The alloys: palladium keeps phase data out of it.
pub fn alloys() -> Vec<Solder> {
    use Element::{Ag, Bi, In, Pb, Pd, Sn};
    [
        &[(Sn, 96.0), (Ag, 3.0), (Pd, 1.0)][..],
        &[(Sn, 63.0), (Pb, 36.0), (Pd, 1.0)],
        &[(Bi, 57.0), (Sn, 42.0), (Pd, 1.0)],
        &[(In, 51.0), (Sn, 48.0), (Pd, 1.0)],
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

/// The instance of a seed.
pub fn instance(seed: u64, size: Size) -> Job {
    let mut dice = Dice(seed);
    let alloys = alloys();
    let mut job = empty(&alloys);
    let mut chain_left = 0;
    for s in 0..size.steps {
        let first = chain_left == 0;
        if first {
            chain_left = 2 + dice.below(4);
        }
        chain_left -= 1;
        job.joints.push(joint(s));
        job.steps.push(Step {
            id: format!("s{s:02}"),
            work: Work::Solder {
                joint: JointIx(s),
                solder: Choice::Fixed(alloys[dice.below(alloys.len())].clone()),
                amount: Amount::Mass(Mass::from_mg(0.1).unwrap()),
                wire: None,
            },
            ways: Vec::new(),
            after: if first {
                Vec::new()
            } else {
                vec![(StepIx(s - 1), None)]
            },
            closes: Vec::new(),
            optional: false,
            minutes: None,
            line: 0,
        });
    }
    for s in 0..size.steps {
        job.steps[s].ways = vec![way(&mut dice, s, size)];
    }
    open_choices(&mut dice, &mut job, size, &alloys);
    job
}

fn open_choices(dice: &mut Dice, job: &mut Job, size: Size, alloys: &[Solder]) {
    let mut left: Vec<usize> = (0..size.steps).collect();
    for _ in 0..size.open.min(size.steps) {
        let at = left.remove(dice.below(left.len()));
        if let Work::Solder { solder, .. } = &mut job.steps[at].work {
            *solder = Choice::OneOf(alloys[..size.alloys].to_vec());
        }
    }
}

fn way(dice: &mut Dice, own: usize, size: Size) -> Way {
    let couplings = (0..size.steps)
        .filter(|j| *j != own)
        .map(|j| {
            let k = 5 + dice.below(size.most_coupled - 4);
            let k = k as f64 / 100.0;
            (Where::Joint(JointIx(j)), Coupling::new(k).unwrap())
        })
        .collect();
    Way {
        tool: dice.of(&[Tool::Iron, Tool::Air]),
        peak: None,
        preheat: Celsius::whole(dice.of(&[25, 60, 100])),
        set: None,
        couplings,
        sees: Vec::new(),
        seconds: None,
        described: None,
        preheat_area: None,
        stages: Vec::new(),
        corners: None,
        shielded: Vec::new(),
        sinks: Vec::new(),
    }
}

fn joint(s: usize) -> Joint {
    Joint {
        id: format!("j{s:02}"),
        count: 1,
        site_of: None,
        start: Start::Bare,
        each: Vec::new(),
        pad: None,
        must: Must::StaySolid,
        covered: false,
        strained: false,
        under: false,
        zone: None,
        at: None,
        reach: None,
    }
}

fn empty(alloys: &[Solder]) -> Job {
    Job {
        title: "instance".to_owned(),
        want: Want {
            margin: KelvinStep::whole(5),
            ..Want::default()
        },
        stock: Vec::new(),
        pins: alloys
            .iter()
            .zip(READINGS)
            .map(|(solder, (solidus, liquidus))| Pin {
                solder: solder.clone(),
                solidus: Celsius::whole(solidus),
                liquidus: Celsius::whole(liquidus),
            })
            .collect(),
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
    }
}
