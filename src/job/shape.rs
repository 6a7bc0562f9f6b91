//! The shape of a job, as the rest of the program sees it.

use crate::alloy::{Composition, Element};
use crate::heat;
use crate::policy;
use crate::quantity::{
    Amps, Area, Celsius, KelvinStep, Length, Mass, Minutes, NotAQuantity, Ohms, Point, Ramp, Share,
    Volume,
};

macro_rules! position {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub usize);
    };
}

position!(
    /// Position of a joint in [`Job::joints`].
    JointIx
);
position!(
    /// Position of a part in [`Job::parts`].
    PartIx
);
position!(
    /// Position of a guard in [`Job::guards`].
    GuardIx
);
position!(
    /// Position of a wire in [`Job::wires`].
    WireIx
);
position!(
    /// Position of a step in [`Job::steps`].
    StepIx
);
position!(
    /// Position of an unknown alloy in [`Job::reels`].
    ReelIx
);
position!(
    /// Position of a zone in [`Job::zones`].
    ZoneIx
);

/// One job: a board, what stands on it, what is to be done, and what was done.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// One line in the technician's words.
    pub title: String,
    /// What the result must reach.
    pub want: Want,
    /// Alloys on the shelf; empty means "the whole table".
    pub stock: Vec<Solder>,
    /// Readings that this job takes as given.
    pub pins: Vec<Pin>,
    /// Room temperature; 25 °C unless said.
    pub ambient: Celsius,
    /// The bare board, where it is described.
    pub board: Option<Board>,
    /// What readings taught about this bench.
    pub learned: Learned,
    /// Areas that couplings may name.
    pub zones: Vec<Zone>,
    /// Things with a limit: mask, glue, plastic, laminate, enamel.
    pub guards: Vec<Guard>,
    /// Chips, connectors, cans.
    pub parts: Vec<Part>,
    /// Groups of like joints.
    pub joints: Vec<Joint>,
    /// Wires, for enamel and for the electrical checks.
    pub wires: Vec<Wire>,
    /// Alloys that are not known.
    pub reels: Vec<Reel>,
    /// What is to be done; the order in the file means nothing.
    pub steps: Vec<Step>,
    /// What really happened, in the order it did.
    pub done: Vec<Event>,
}

/// What the result must reach; the defaults are those of [`Want::default`].
#[derive(Clone, Debug, PartialEq)]
pub struct Want {
    /// Margin that every joint must keep. Default 5 K (our judgement).
    pub margin: KelvinStep,
    /// Solidus of the earlier minus liquidus of the later alloy, below which a warning is given.
    /// Default 25 K (process.yaml, hierarchy, S28).
    pub gap: KelvinStep,
    /// Peak above the flow temperature. Default 20 K (process.yaml, thermal profile, S28).
    pub superheat: KelvinStep,
    /// Hottest place of the finished board in service.
    pub service: Option<Celsius>,
    /// The board must stay lead-free by law (0.1 mass% per joint).
    pub lead_free: bool,
    /// What metal is taken for that is named by its alloy.
    pub purity: Purity,
    /// Cadmium alloys may be used: the job says so in the long words that the reader asks for.
    pub cadmium_accepted: bool,
    /// Body temperature from which a heat counts in the ledger of a part. Default 150 °C (our judgement:
    /// below the soak of every soldering profile).
    pub counts_from: Celsius,
}

/// What metal holds besides what it is named for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purity {
    /// Nothing.
    AsNamed,
    /// Of one element as much as the standard lets it: of the one that costs it most.
    AsSold,
}

impl Default for Want {
    fn default() -> Self {
        Want {
            margin: policy::WANTED_MARGIN,
            gap: policy::WANTED_GAP,
            superheat: policy::SUPERHEAT,
            service: None,
            lead_free: false,
            purity: Purity::AsNamed,
            cadmium_accepted: false,
            counts_from: policy::HEATS_COUNT_FROM,
        }
    }
}

/// An alloy by composition, with its canonical name.
#[derive(Clone, Debug, PartialEq)]
pub struct Solder {
    /// Canonical name.
    pub name: String,
    /// Mass shares.
    pub composition: Composition,
}

/// Readings of one alloy that the job takes as given, exactly.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// Which alloy.
    pub solder: Solder,
    /// Start of melting.
    pub solidus: Celsius,
    /// End of melting; never below the solidus.
    pub liquidus: Celsius,
}

/// The bare board.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// Length and width.
    pub size: Option<(Length, Length)>,
    /// Thickness; 1.6 mm unless said (common practice, no source).
    pub thickness: Length,
    /// Copper layers.
    pub layers: u32,
    /// Copper thickness of a layer.
    pub copper: Length,
    /// Covered share of a layer, 0 to 1.
    pub coverage: Share,
    /// The board as heat knows it, where everything that heat needs was said.
    pub plate: Option<heat::Board>,
    /// Keys that heat needs and the job leaves out.
    pub lacks: Vec<&'static str>,
    /// Keys that heat takes a guess at, since the job leaves them out: the band is wider for it.
    pub guessed: Vec<&'static str>,
}

/// What readings taught about the factors that nobody can read off, for each kind of tool; nothing
/// until something was read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Learned {
    /// With hot air.
    pub air: Option<heat::Knowledge>,
    /// With an iron.
    pub iron: Option<heat::Knowledge>,
    /// Files of readings, besides those in the log.
    pub files: Vec<ReadingFile>,
}

/// A file of readings of one run of a step.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingFile {
    /// Its path, from the folder of the job.
    pub file: String,
    /// What its contents hashed to when it was learned from.
    pub hash: String,
    /// Id of the step.
    pub step: String,
    /// How long the tool stayed, where that differs from what the step says.
    pub seconds: Option<u32>,
    /// How uncertain each reading is, where that was said.
    pub uncertain: Option<KelvinStep>,
}

impl Learned {
    /// What is known of a bench that is heated with that tool.
    pub fn of(&self, tool: &heat::Tool) -> heat::Knowledge {
        match tool {
            heat::Tool::Air(_) => self.air,
            heat::Tool::Iron { .. } => self.iron,
            heat::Tool::Rays(_) => None,
        }
        .unwrap_or_else(|| heat::Knowledge::unmeasured_with(tool))
    }
}

impl Job {
    /// What is known of a bench that is heated with that tool, and of this board.
    pub fn known_of(&self, tool: &heat::Tool) -> heat::Knowledge {
        let learned = match tool {
            heat::Tool::Air(_) => self.learned.air.is_some(),
            heat::Tool::Iron { .. } => self.learned.iron.is_some(),
            heat::Tool::Rays(_) => false,
        };
        if learned {
            self.learned.of(tool)
        } else {
            self.unread_of(tool)
        }
    }

    /// The same before anything was read: of a tool that none was read with.
    pub fn unread_of(&self, tool: &heat::Tool) -> heat::Knowledge {
        let known = heat::Knowledge::unmeasured_with(tool);
        let guessed = |board: &Board| !board.guessed.is_empty();
        if self.board.as_ref().is_some_and(guessed) {
            known.with_guessed_copper()
        } else {
            known
        }
    }
}

/// An area that couplings may name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Zone {
    /// As written.
    pub id: String,
}

/// A thing with a limit, from the step on that makes it, or from the start.
#[derive(Clone, Debug, PartialEq)]
pub struct Guard {
    /// As written.
    pub id: String,
    /// What it is.
    pub kind: GuardKind,
    /// Hottest it may see.
    pub limit: Celsius,
    /// Where it lies.
    pub zone: Option<ZoneIx>,
    /// Coordinates on the board.
    pub at: Option<Point>,
    /// How far it reaches around them.
    pub reach: Option<Length>,
    /// It is on the face away from the tool, over the preheater.
    pub under: bool,
    /// It lies over these joints from the start.
    pub over: Vec<JointIx>,
}

/// What kind of thing a guard is; decides wording and cautions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GuardKind {
    /// Insulating mask cured over joints: they are then covered.
    Mask,
    /// Glue or staking.
    Glue,
    /// Wire enamel.
    Enamel,
    /// Board laminate.
    Laminate,
    /// Connector, switch, housing.
    Plastic,
    /// Anything else.
    Other,
}

/// A chip, connector, can: what stands on joints and has a heat ledger.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// As written.
    pub id: String,
    /// It stands soldered on these groups of joints at the start, in the order of the job; none while it
    /// is off the board.
    pub on: Vec<JointIx>,
    /// Groups among these that hold metal of their own and no ball.
    pub lugs: Vec<JointIx>,
    /// Balls it carries at the start, where it has balls.
    pub balls: Option<Balls>,
    /// Its own pads, one below each ball or joint, with their finish.
    pub pad: Option<Pad>,
    /// Hottest that its body may see.
    pub limit: Option<Celsius>,
    /// Heats that it may still take.
    pub heats_left: Option<u32>,
    /// Heats it has had.
    pub heats_before: u32,
    /// It holds the data.
    pub vital: bool,
    /// It hangs below the board while heat is on.
    pub hang: Option<Hang>,
    /// Glue that holds it.
    pub adhesive: Adhesive,
    /// Dry enough to be heated above 200 °C: known (true / false) or not.
    pub dry: Option<bool>,
    /// Where it is.
    pub zone: Option<ZoneIx>,
    /// Coordinates on the board.
    pub at: Option<Point>,
    /// Length and width of its body.
    pub size: Option<(Length, Length)>,
    /// Height of its body over the board, without balls.
    pub thick: Option<Length>,
    /// Mass of its body.
    pub mass: Option<Mass>,
    /// Fastest that it may be heated or cooled.
    pub ramp: Option<Ramp>,
}

impl Part {
    /// How far its body reaches around its middle: half its diagonal.
    pub fn reach(&self) -> Option<Length> {
        let (wide, tall) = self.size?;
        Length::from_mm(wide.mm().hypot(tall.mm()) / 2.0).ok()
    }
}

/// Weight and hold of a part that hangs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hang {
    /// Its weight.
    pub weight: Mass,
    /// Wetted pad area, all pads together.
    pub area: Area,
    /// Joint edge, all joints together.
    pub edge: Option<Length>,
    /// Something holds it from below, so that it stays whatever its solder does.
    pub supported: bool,
}

/// Glue below or beside a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Adhesive {
    /// None.
    None,
    /// Softens with heat.
    Reworkable,
    /// Does not: removal is mechanical.
    NotReworkable,
    /// Some glue, kind not known: asked about before removal.
    Unknown,
}

/// A grid of balls on a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Balls {
    /// How many.
    pub count: u32,
    /// Of what diameter.
    pub diameter: Length,
    /// Of what.
    pub content: Content,
}

/// A known alloy, or one that is not known.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// Named in the job.
    Known(Solder),
    /// Not known; joints that share the reel share the answer.
    Reel(ReelIx),
}

/// An alloy that is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Reel {
    /// `source:` as written, or the id of the joint or part that holds it.
    pub id: String,
    /// What it may be.
    pub candidates: Vec<Solder>,
    /// True for `one_of`: it is one of these. False for `unknown`: these are only the usual ones.
    pub closed: bool,
}

/// How much solder one member gets.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Amount {
    /// Stated mass of metal.
    Mass(Mass),
    /// Volume of metal (ball, film, dome); its mass follows from the alloy's density.
    Metal(Volume),
    /// Volume of paste with its metal content by mass; flux at 1.0 g/cm³.
    Paste {
        /// Paste that reaches the pad.
        volume: Volume,
        /// Metal in it, by mass.
        metal: Share,
    },
    /// Not said: any ratio to what it touches must be reckoned with.
    Unstated,
}

/// Solder that one member of a joint holds or gets.
#[derive(Clone, Debug, PartialEq)]
pub struct Deposit {
    /// Of what.
    pub content: Content,
    /// How much.
    pub amount: Amount,
    /// As bought and homogenised, never melted on this bench; otherwise taken as frozen.
    pub as_bought: bool,
}

/// Metal finish of a pad that dissolves into the joint.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finish {
    /// Gold, silver, copper, …
    pub element: Element,
    /// Its thickness.
    pub thickness: Length,
}

/// The pad below one member.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pad {
    /// Wetted area.
    pub area: Area,
    /// Finish that goes into the first joint made on it.
    pub finish: Option<Finish>,
}

/// What a group of joints is at the start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// Soldered and standing.
    Standing,
    /// Pads, bare or with residue only.
    Bare,
}

/// What a joint must withstand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Must {
    /// No liquid at all.
    StaySolid,
    /// Its part must not move: liquid up to the allowance.
    StayPut,
    /// It may melt; nothing is lost.
    MayMelt,
}

/// A group of like joints, counted per member.
#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    /// As written.
    pub id: String,
    /// Members.
    pub count: u32,
    /// The part whose site this is.
    pub site_of: Option<PartIx>,
    /// Standing at the start, or pads only.
    pub start: Start,
    /// What one member holds at the start (thickest residue, if they differ).
    pub each: Vec<Deposit>,
    /// The pad of one member.
    pub pad: Option<Pad>,
    /// What it must withstand.
    pub must: Must,
    /// Covered by cured mask from the start.
    pub covered: bool,
    /// A wire pulls at it.
    pub strained: bool,
    /// It is on the face away from the tool, over the preheater.
    pub under: bool,
    /// Where it is.
    pub zone: Option<ZoneIx>,
    /// Coordinates on the board.
    pub at: Option<Point>,
    /// How far the group reaches around them.
    pub reach: Option<Length>,
}

/// A wire between two joints.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// As written.
    pub id: String,
    /// Ends.
    pub from: JointIx,
    /// Ends.
    pub to: JointIx,
    /// Bare diameter.
    pub diameter: Length,
    /// Length between the joints.
    pub length: Option<Length>,
    /// Working current.
    pub current: Option<Amps>,
    /// Hottest that its enamel may see where wires cross; `None` for bare wire.
    pub enamel_limit: Option<Celsius>,
    /// Wires that it crosses.
    pub crosses: Vec<WireIx>,
    /// Glue, tape or mask holds it down, so that it stays where it lies while an end of it is molten.
    pub held: bool,
    /// It carries supply.
    pub rail: bool,
}

/// Where a coupling or a stated temperature holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Where {
    /// A group of joints.
    Joint(JointIx),
    /// A part: its body and the joints it stands on.
    Part(PartIx),
    /// A guard.
    Guard(GuardIx),
    /// All in a zone.
    Zone(ZoneIx),
    /// Everything not named: key `rest`.
    Rest,
}

/// Share of the rise over preheat that arrives at a neighbour; may exceed 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Coupling(f64);

impl Coupling {
    /// Everything that the target sees.
    pub const FULL: Coupling = Coupling(1.0);

    /// # Errors
    /// [`NotAQuantity`] unless 0 to 5: more would be hotter than any tool makes its target.
    pub fn new(factor: f64) -> Result<Self, NotAQuantity> {
        if (0.0..=5.0).contains(&factor) {
            Ok(Coupling(factor))
        } else {
            Err(NotAQuantity {
                found: factor,
                what: "a coupling",
                want: "0 to 5",
            })
        }
    }

    /// The share of the rise.
    pub const fn factor(self) -> f64 {
        self.0
    }
}

/// What brings the heat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Tool {
    /// Soldering iron.
    Iron,
    /// Hot air.
    Air,
    /// Hot tweezers.
    Tweezers,
    /// Infra-red head from above, over a part of the board.
    Infrared,
    /// Plate or infra-red from below; the whole board.
    Plate,
    /// Oven; the whole board.
    Oven,
    /// No heat (lamp, hands, meter).
    None,
}

/// One way to bring the heat of a step.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// With what.
    pub tool: Tool,
    /// Peak at the target, where stated; else flow + superheat.
    pub peak: Option<Celsius>,
    /// Board before the tool comes; ambient unless said.
    pub preheat: Celsius,
    /// Set temperature of air or tip, where stated.
    pub set: Option<Celsius>,
    /// Couplings, as stated.
    pub couplings: Vec<(Where, Coupling)>,
    /// Temperatures as measured or known; they win over everything.
    pub sees: Vec<(Where, Celsius)>,
    /// Seconds at heat, where stated.
    pub seconds: Option<u32>,
    /// The tool in physical terms, where it is described.
    pub described: Option<heat::Tool>,
    /// The part of the board that lies over the preheater; the whole board unless said.
    pub preheat_area: Option<heat::Rect>,
    /// What the target goes through, stage by stage from room temperature, where somebody says so.
    pub stages: Vec<Stage>,
    /// How far the corners of a nozzle that is not round reach beyond the round one of its area.
    pub corners: Option<Length>,
    /// Places that foil, tape, a shield or a clip keeps heat from.
    pub shielded: Vec<Where>,
    /// Blocks of metal that are clamped on, wet cloths that lie somewhere: what draws heat off.
    pub sinks: Vec<Sink>,
}

impl Way {
    /// A tool of which nothing is known but what it is.
    pub fn with(tool: Tool, preheat: Celsius) -> Self {
        Way {
            tool,
            peak: None,
            preheat,
            set: None,
            couplings: Vec::new(),
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
}

/// Something that draws heat off a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sink {
    /// The joint, part or guard that it touches.
    pub on: Where,
    /// Whether the coupling of that place was measured with it in place; else it counts for nothing.
    pub measured: bool,
}

/// One stage of a profile: where it goes, in a straight line, and how long that takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stage {
    /// At its end.
    pub to: Celsius,
    /// How long it takes.
    pub seconds: u32,
}

/// A thing that the planner may choose.
#[derive(Clone, Debug, PartialEq)]
pub enum Choice<T> {
    /// Said in the job.
    Fixed(T),
    /// One of these.
    OneOf(Vec<T>),
}

/// What a step does.
#[derive(Clone, Debug, PartialEq)]
pub enum Work {
    /// Put solder on a joint and melt it.
    Solder {
        /// Where.
        joint: JointIx,
        /// With what.
        solder: Choice<Solder>,
        /// How much on each member.
        amount: Amount,
        /// It ties this wire at that joint.
        wire: Option<WireIx>,
    },
    /// Set a part on joints and melt its balls there (with paste, where given).
    Place {
        /// Which part.
        part: PartIx,
        /// On which groups of joints: at least one.
        on: Vec<JointIx>,
        /// Paste printed or dabbed on each pad first.
        paste: Option<(Choice<Solder>, Amount)>,
    },
    /// Take a part off.
    Remove {
        /// Which part.
        part: PartIx,
        /// Solder flooded into each joint to bring its melting down.
        flood: Option<(Choice<Solder>, Amount)>,
    },
    /// Put new balls on a part, away from the board.
    Reball {
        /// Which part.
        part: PartIx,
        /// Of what.
        solder: Choice<Solder>,
        /// Of what diameter; the part's own unless said.
        diameter: Option<Length>,
    },
    /// Wick pads of a joint, or the pads of a part, after so many rounds of flood-and-wick.
    Clean {
        /// The pads: on the board …
        joint: Option<JointIx>,
        /// … or on the part.
        part: Option<PartIx>,
        /// Rounds of fresh solder; 0 is wick only.
        rounds: Choice<u32>,
        /// Fresh solder and how much of it on each pad in each round.
        flood: Option<(Solder, Mass)>,
        /// Film that stays; 10 µm wicked, 2 µm after flood-and-wick, unless said.
        film: Option<Length>,
    },
    /// Cure or put on a guard, over joints where it covers them.
    Cover {
        /// Which guard.
        guard: GuardIx,
        /// What it covers.
        over: Vec<JointIx>,
    },
    /// Move a part to another place, or turn it on its back.
    Move {
        /// Which part.
        part: PartIx,
        /// Whose joints it will be wired to.
        zone: Option<ZoneIx>,
    },
    /// Take a guard off again: scrape mask, cut glue.
    Uncover {
        /// Which guard.
        guard: GuardIx,
    },
    /// Bring the whole board to a temperature, or one part that is off it: preheat, bake.
    WholeBoard {
        /// This part alone, while it is off the board.
        part: Option<PartIx>,
        /// How long, where stated.
        hours: Option<Minutes>,
        /// A bake dries the parts.
        bake: bool,
    },
    /// Heat of another kind at a place: strip enamel, shrink a sleeve.
    OtherHeat {
        /// Where, if at a joint.
        joint: Option<JointIx>,
        /// It strips wire enamel: the tip must be hot enough.
        strip: bool,
    },
    /// A check that must pass before power.
    Gate {
        /// Short check (re-opened by any later heat), or only an inspection.
        short_check: bool,
    },
    /// First power.
    Power,
}

/// One step of the job.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// As written.
    pub id: String,
    /// What it does.
    pub work: Work,
    /// Ways to heat; one, or several to choose from; empty where no heat is needed.
    pub ways: Vec<Way>,
    /// Steps that must be done before, with the reason where one is given.
    pub after: Vec<(StepIx, Option<String>)>,
    /// Joints that nobody can reach once this is done.
    pub closes: Vec<JointIx>,
    /// It may be left out.
    pub optional: bool,
    /// How long it takes, where stated.
    pub minutes: Option<Minutes>,
    /// Line in the file, from 1; 0 where the step was not written by hand.
    pub line: u32,
}

impl Step {
    /// The planner put it in: a check, an inspection, a repair. A job cannot name its steps so.
    pub fn is_added(&self) -> bool {
        self.id.contains('~')
    }
}

/// Where the meter is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Probe {
    /// At both ends of a wire.
    EndToEnd(WireIx),
    /// Between a wire and ground.
    ToGround(WireIx),
    /// Between two wires.
    Between(WireIx, WireIx),
}

/// One line of the log.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// Id of the step as logged (`set`; the second time it is `set#2` on paper).
    pub step: String,
    /// Peak as read.
    pub peak: Option<Celsius>,
    /// Temperatures as read elsewhere.
    pub sees: Vec<(Where, Celsius)>,
    /// Resistances as read with the meter.
    pub reads: Vec<(Probe, Ohms)>,
    /// Why it failed, where it did.
    pub failed: Option<String>,
    /// Alloy that was used, whatever was planned.
    pub alloy: Option<Solder>,
    /// Tool that was used, whatever was planned.
    pub tool: Option<Tool>,
    /// Rounds that were done, whatever was planned.
    pub rounds: Option<u32>,
    /// Solder that each member got, whatever was planned.
    pub mass: Option<Mass>,
    /// How heat was brought, where a tool was used that the step has no way for: nobody knows what arrived
    /// elsewhere but for what was read.
    pub other_way: Option<Way>,
    /// A step that had to come before it, where the log does not have it yet.
    pub too_early: Option<StepIx>,
    /// Line in the file, from 1.
    pub line: u32,
}
