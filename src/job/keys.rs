//! Every key of the job file, once: its name, what may stand there, its unit and what it means.
//!
//! The reader takes ranges and valid words from here, and the schema is written from here, so that
//! the two cannot disagree.

/// What may stand after a key.
#[derive(Clone, Copy, Debug)]
pub(super) enum Shape {
    /// A name that others refer to.
    Id,
    /// Words in the technician's own language.
    Text,
    /// The id of something in the job.
    Name,
    /// One id or a list of them.
    Names,
    /// One of these words.
    Word(&'static [&'static str]),
    /// `true` or `false`.
    Flag,
    /// A number in this range.
    Number(&'static str, f64, f64),
    /// A whole number in this range.
    Whole(u32, u32),
    /// One whole number, or a list to choose from.
    Rounds,
    /// °C; or text with a unit: `428F`. Outside the usual range the unit is asked about.
    Temperature(f64, f64),
    /// A number in this range, or two of them: `[14, 12]`.
    OneOrTwo(&'static str, f64, f64),
    /// So many numbers in this range: `[84, 52]`.
    Numbers(&'static str, usize, usize, f64, f64),
    /// One alloy.
    Alloy,
    /// A list of alloys.
    Alloys,
    /// One alloy, a list to choose from, or `any`.
    AlloyChoice,
    /// One alloy, `unknown`, or a list of what it may be.
    Content,
    /// Alloy to `[solidus, liquidus]`.
    Pins,
    /// Place to coupling.
    Couplings,
    /// Place to temperature.
    Temperatures,
    /// Where the meter is held to what it reads.
    Readings,
    /// Steps that come before: an id, a list, `all`, or ids with reasons.
    After,
    /// A block of keys.
    Block(&'static Section),
    /// A list of blocks of keys, or one block.
    Blocks(&'static Section),
    /// A list of deposits, one deposit, or the name of an alloy.
    Deposits(&'static Section),
    /// A list of steps.
    Steps,
    /// How many alike: a number, or what differs from one to the next.
    Each,
}

/// One key.
#[derive(Clone, Copy, Debug)]
pub(super) struct Key {
    pub(super) name: &'static str,
    pub(super) shape: Shape,
    pub(super) about: &'static str,
    pub(super) must: bool,
}

/// Keys that stand together.
#[derive(Debug)]
pub(super) struct Section {
    /// With its article: "a part".
    pub(super) what: &'static str,
    pub(super) keys: &'static [Key],
}

const fn key(name: &'static str, shape: Shape, about: &'static str) -> Key {
    Key {
        name,
        shape,
        about,
        must: false,
    }
}

const fn must(name: &'static str, shape: Shape, about: &'static str) -> Key {
    Key {
        name,
        shape,
        about,
        must: true,
    }
}

use Shape::{
    After, Alloy, AlloyChoice, Alloys, Block, Blocks, Content, Couplings, Deposits, Flag, Id, Name,
    Names, Number, Numbers, OneOrTwo, Pins, Readings, Rounds, Steps, Temperature, Temperatures,
    Text, Whole, Word,
};

/// The long words that let cadmium in.
pub(super) const CADMIUM_WORDS: &str = "I have extraction and I accept cadmium fume";

/// The faces of the board.
const SIDES: &[&str] = &["above", "under"];
const PURITIES: &[&str] = &["as_named", "as_sold"];

pub(super) const TOOLS: &[&str] = &[
    "iron", "air", "tweezers", "infrared", "plate", "oven", "none",
];
pub(super) const GUARD_KINDS: &[&str] = &["mask", "glue", "enamel", "laminate", "plastic", "other"];
pub(super) const GLUES: &[&str] = &["none", "reworkable", "not_reworkable", "unknown"];
pub(super) const MUSTS: &[&str] = &["stay_solid", "stay_put", "may_melt"];
pub(super) const STATES: &[&str] = &["frozen", "as_bought"];
pub(super) const ENAMELS: &[&str] = &[
    "bare",
    "polyurethane",
    "polyurethane_130",
    "polyurethane_155",
    "polyurethane_180",
];
/// What steps do.
pub(super) const VERBS: &[&str] = &[
    "solder", "place", "remove", "reball", "clean", "wire", "glue", "cure", "uncover", "preheat",
    "bake", "move", "gate", "inspect", "power", "heat", "strip",
];

/// What the same things are called elsewhere.
pub(super) const OTHER_VERBS: &[(&[&str], &str)] = &[
    (&["reflow", "remelt", "touch_up", "cook"], "heat"),
    (&["desolder", "lift", "take_off", "extract"], "remove"),
    (&["test", "check", "measure", "verify"], "gate"),
    (&["wick", "dress", "tin_off"], "clean"),
    (&["tin", "attach"], "solder"),
    (&["mount", "set", "put", "install"], "place"),
    (&["dry"], "bake"),
    (&["mask", "coat", "cover"], "cure"),
    (&["jumper"], "wire"),
    (&["look"], "inspect"),
];

pub(super) const JOB: Section = Section {
    what: "a job",
    keys: &[
        must("job", Text, "what this is, in your words"),
        key("want", Block(&WANT), "what the result must reach"),
        key(
            "stock",
            Alloys,
            "alloys on the shelf; without it the whole table is",
        ),
        key(
            "readings",
            Pins,
            "melting of alloys that this job takes as given: {Sn63Pb37: [183, 183]}",
        ),
        key(
            "ambient_c",
            Temperature(-20.0, 60.0),
            "room temperature; 25 unless said",
        ),
        key("board", Block(&BOARD), "the bare board"),
        key(
            "learned",
            Block(&LEARNED),
            "what readings taught about this bench; `learn` writes it",
        ),
        key(
            "zones",
            Names,
            "areas that couplings may name; without it every `zone` that is used counts",
        ),
        key(
            "guards",
            Blocks(&GUARD),
            "things with a limit: mask, glue, plastic, laminate",
        ),
        key("parts", Blocks(&PART), "chips, connectors, cans"),
        key(
            "joints",
            Blocks(&JOINT),
            "groups of like joints, counted per member",
        ),
        key("wires", Blocks(&WIRE), "wires between joints"),
        key(
            "steps",
            Steps,
            "what is to be done; the order in the file means nothing",
        ),
        key(
            "done",
            Blocks(&EVENT),
            "what really happened, in the order it did; stands last, a line each",
        ),
    ],
};

pub(super) const WANT: Section = Section {
    what: "`want`",
    keys: &[
        key(
            "margin_c",
            Number("K", 0.0, 100.0),
            "what every joint must keep below its first melt; 5 unless said",
        ),
        key(
            "gap_c",
            Number("K", 0.0, 200.0),
            "solidus of the earlier minus liquidus of the later alloy, below which you are warned; 25 unless said",
        ),
        key(
            "superheat_c",
            Number("K", 0.0, 100.0),
            "process peak above the flow temperature; 20 unless said",
        ),
        key(
            "service_c",
            Temperature(-60.0, 180.0),
            "hottest place of the finished board in service",
        ),
        key(
            "counts_from_c",
            // No solder of reflow ovens peaks below 220 °C (J-STD-020E table 4-1, memory): its heats count.
            Temperature(30.0, 220.0),
            "body temperature from which a heat counts for a part; 150 unless said",
        ),
        key(
            "purity",
            Word(PURITIES),
            "`as_sold`: metal holds the impurity allowed by the standard that makes it melt earliest; `as_named` unless said",
        ),
        key("lead_free", Flag, "the board must stay lead-free by law"),
        key(
            "accept_cadmium",
            Word(&[CADMIUM_WORDS]),
            "opens cadmium alloys; only in these very words",
        ),
    ],
};

pub(super) const BOARD: Section = Section {
    what: "the board",
    keys: &[
        key(
            "size_mm",
            Numbers("mm", 2, 2, 1.0, 2000.0),
            "length and width",
        ),
        key("thickness_mm", Number("mm", 0.05, 20.0), "1.6 unless said"),
        key("layers", Whole(1, 80), "copper layers; 4 unless said"),
        key(
            "copper_um",
            Number("µm", 1.0, 1000.0),
            "copper thickness of a layer; 35 unless said",
        ),
        key(
            "coverage",
            Number("share", 0.0, 1.0),
            "covered share of a layer; 0.5 unless said",
        ),
        key(
            "pours",
            Blocks(&POUR),
            "areas with more or less copper than the rest",
        ),
    ],
};

pub(super) const POUR: Section = Section {
    what: "a pour",
    keys: &[
        must(
            "area_mm",
            Numbers("mm", 4, 4, 0.0, 2000.0),
            "two corners from the board's lower left corner: [10, 5, 30, 25]",
        ),
        must(
            "coverage",
            Number("share", 0.0, 1.0),
            "covered share of every layer there",
        ),
    ],
};

pub(super) const LEARNED: Section = Section {
    what: "`learned`",
    keys: &[
        key(
            "files",
            Blocks(&READINGS),
            "files of readings, besides those in the log",
        ),
        key("air", Block(&FACTORS), "from runs with hot air"),
        key("iron", Block(&FACTORS), "from runs with an iron"),
    ],
};

pub(super) const READINGS: Section = Section {
    what: "a file of readings",
    keys: &[
        must("file", Text, "its path, from the folder of the job"),
        must("hash", Text, "of its contents, when it was learned from"),
        must("step", Text, "the step that was read"),
        key("seconds", Whole(1, 3600), "how long the tool stayed"),
        key("uncertain_k", Number("K", 0.01, 100.0), "of a reading"),
    ],
};

pub(super) const FACTORS: Section = Section {
    what: "what was learned",
    keys: &[
        must(
            "losses",
            Number("×", 0.02, 50.0),
            "on convection and radiation to the room",
        ),
        must(
            "coupling",
            Number("×", 0.02, 50.0),
            "on the heat transfer of the tool",
        ),
        must(
            "conduction",
            Number("×", 0.02, 50.0),
            "on conduction along the board",
        ),
        must(
            "mixing",
            Number("×", 0.02, 50.0),
            "on how far the air stays hot",
        ),
        must(
            "dial",
            Number("×", 0.02, 50.0),
            "on how far the tool stands above the room",
        ),
        must(
            "body",
            Number("×", 0.02, 50.0),
            "on what the body of the target stores and keeps off",
        ),
        must(
            "preheater",
            Number("×", 0.02, 50.0),
            "on the film between preheater and board",
        ),
        must(
            "structure",
            Number("share", 0.0, 2.0),
            "how far the board is off its description besides, of the rise of each place",
        ),
        must(
            "covariance",
            Numbers("of logarithms", 28, 28, -4.0, 4.0),
            "how well they are known: the upper triangle of the covariance, row by row",
        ),
        must(
            "from",
            Text,
            "the mark of the readings and of the set-up that it was fitted to",
        ),
    ],
};

pub(super) const GUARD: Section = Section {
    what: "a guard",
    keys: &[
        must("id", Id, "its name"),
        must("limit_c", Temperature(30.0, 400.0), "hottest it may see"),
        key(
            "kind",
            Word(GUARD_KINDS),
            "what it is; its name unless said, else `other`",
        ),
        key("zone", Name, "where it lies"),
        key(
            "at_mm",
            Numbers("mm", 2, 2, -2000.0, 2000.0),
            "where it lies, from the board's own origin",
        ),
        key(
            "reach_mm",
            Number("mm", 0.0, 500.0),
            "how far it reaches around that point; without it no heat is computed for it",
        ),
        key(
            "side",
            Word(SIDES),
            "which face it is on; `above` unless said",
        ),
        key("over", Names, "joints that it covers from the start"),
    ],
};

/// Most that one item stands for (our judgement: no bench sheet holds more).
pub(super) const MOST_EACH: u32 = 200;

/// Written out before anything is read (`each.rs`).
const EACH: Key = key(
    "many",
    Shape::Each,
    "so many alike, called after this one with a number (`w01`, `w02`, …), which `*` stands for in its values; \
     a number, or `{count: 40, length_mm: [12, 13, …], pitch_mm: [0.8, 0]}` with lists of what differs",
);

pub(super) const PART: Section = Section {
    what: "a part",
    keys: &[
        must("id", Id, "its name"),
        EACH,
        key(
            "on",
            Names,
            "it stands soldered on these groups of joints at the start",
        ),
        key("balls", Block(&BALLS), "the balls it carries"),
        key(
            "pad",
            Block(&PAD),
            "its own pads: their finish goes into the first solder on them",
        ),
        key(
            "limit_c",
            Temperature(40.0, 320.0),
            "hottest that its body may see",
        ),
        key("heats_left", Whole(0, 1000), "heats that it may still take"),
        key(
            "heats_before",
            Whole(0, 1000),
            "heats that it has had; 0 unless said",
        ),
        key("vital", Flag, "it holds the data"),
        key(
            "hangs",
            Block(&HANGS),
            "it hangs below the board while heat is on",
        ),
        key(
            "glue",
            Word(GLUES),
            "what holds it besides solder; `none` unless said",
        ),
        key("dry", Flag, "it is known to be dry, or known not to be"),
        key("zone", Name, "where it is"),
        key(
            "at_mm",
            Numbers("mm", 2, 2, -2000.0, 2000.0),
            "where it is, from the board's own origin",
        ),
        key(
            "size_mm",
            Numbers("mm", 2, 3, 0.1, 300.0),
            "its body: length, width and, where known, height; without it no heat is computed for it",
        ),
        key(
            "mass_mg",
            Number("mg", 0.0, 1e6),
            "mass of its body, which stores heat",
        ),
        key(
            "ramp_k_s",
            Number("K/s", 0.1, 100.0),
            "fastest that it may be heated or cooled: ceramic capacitors 2 to 4",
        ),
    ],
};

pub(super) const BALLS: Section = Section {
    what: "`balls`",
    keys: &[
        must("count", Whole(1, 10_000), "how many"),
        key("diameter_um", Number("µm", 20.0, 3000.0), "their diameter"),
        key("diameter_mm", Number("mm", 0.02, 3.0), "their diameter"),
        key(
            "alloy",
            Content,
            "of what; `unknown` and lists of what it may be are fine",
        ),
        key(
            "source",
            Text,
            "a name for the unknown alloy; whatever has the same name is the same",
        ),
    ],
};

pub(super) const HANGS: Section = Section {
    what: "`hangs`",
    keys: &[
        must("weight_mg", Number("mg", 0.0, 1e6), "its weight"),
        must(
            "pad_area_mm2",
            Number("mm²", 0.0, 1e5),
            "wetted pad area, all pads together",
        ),
        key(
            "edge_mm",
            Number("mm", 0.0, 1e4),
            "joint edge, all joints together",
        ),
        key(
            "supported",
            Flag,
            "something holds it from below: it stays whatever its solder does",
        ),
    ],
};

macro_rules! section_with_amounts {
    ($name:ident, $what:literal, [$($first:expr),* $(,)?]) => {
        pub(super) const $name: Section = Section {
            what: $what,
            keys: &[
                $($first,)*
                key("mg", Number("mg", 0.0, 1e5), "mass of metal on each member"),
                key("ball_um", Number("µm", 20.0, 3000.0), "a ball of this diameter on each member"),
                key("ball_mm", Number("mm", 0.02, 3.0), "a ball of this diameter on each member"),
                key("film_um", Number("µm", 0.0, 500.0), "a film of this thickness on each pad"),
                key("dome_um", Number("µm", 0.0, 2000.0), "a dome of this height on each pad"),
                key("paste_mm", Numbers("mm", 2, 3, 0.005, 100.0), "stencil opening: diameter and thickness, or length, width and thickness"),
                key("transfer", Number("share", 0.01, 1.0), "share of the opening that reaches the pad; 1 unless said"),
                key("metal_percent", Number("mass %", 30.0, 98.0), "metal in the paste; 89 unless said"),
            ],
        };
    };
}

section_with_amounts!(
    DEPOSIT,
    "a deposit",
    [
        key(
            "alloy",
            Content,
            "of what; `unknown` and lists of what it may be are fine"
        ),
        key(
            "source",
            Text,
            "a name for the unknown alloy; whatever has the same name is the same"
        ),
        key(
            "state",
            Word(STATES),
            "`as_bought`: never melted on this bench; else `frozen`"
        ),
    ]
);

section_with_amounts!(
    JOINT,
    "a joint",
    [
        must("id", Id, "its name"),
        EACH,
        key(
            "count",
            Whole(1, 10_000),
            "members; those of the part's balls, else 1, unless said"
        ),
        key("at", Name, "the part whose site this is"),
        key(
            "alloy",
            Content,
            "what one member holds, where it is one deposit"
        ),
        key(
            "source",
            Text,
            "a name for the unknown alloy; whatever has the same name is the same"
        ),
        key(
            "state",
            Word(STATES),
            "`as_bought`: never melted on this bench; else `frozen`"
        ),
        key(
            "each",
            Deposits(&DEPOSIT),
            "what one member holds: all that touches, besides the balls of a part that stands on it"
        ),
        key(
            "residue",
            Deposits(&DEPOSIT),
            "pads only, with this left on each"
        ),
        key(
            "pad_um",
            Number("µm", 10.0, 50_000.0),
            "diameter of the round pad below one member"
        ),
        key(
            "pad_mm2",
            Number("mm²", 1e-4, 5000.0),
            "wetted area of the pad below one member"
        ),
        key(
            "pad",
            Block(&PAD),
            "the pad below one member, with its finish"
        ),
        key(
            "must",
            Word(MUSTS),
            "what it must withstand; `stay_put` unless said"
        ),
        key("covered", Flag, "cured mask covers it from the start"),
        key("strained", Flag, "a wire pulls at it"),
        key(
            "side",
            Word(SIDES),
            "which face it is on; `above`, where the tool is, unless said"
        ),
        key("zone", Name, "where it is"),
        key(
            "at_mm",
            Numbers("mm", 2, 2, -2000.0, 2000.0),
            "where it is, from the board's own origin"
        ),
        key(
            "reach_mm",
            Number("mm", 0.0, 500.0),
            "how far the group reaches around that point; that of its part unless said"
        ),
    ]
);

section_with_amounts!(
    FLOOD,
    "`flood`",
    [must("alloy", AlloyChoice, "the solder put in")]
);

pub(super) const PAD: Section = Section {
    what: "`pad`",
    keys: &[
        key(
            "diameter_um",
            Number("µm", 10.0, 50_000.0),
            "diameter of a round pad",
        ),
        key("area_mm2", Number("mm²", 1e-4, 5000.0), "wetted area"),
        key(
            "finish",
            Block(&FINISH),
            "metal that goes into the joint; without it the pad is taken as copper",
        ),
    ],
};

pub(super) const FINISH: Section = Section {
    what: "`finish`",
    keys: &[
        must(
            "element",
            Text,
            "Au, Ag, Pd go in whole; Cu as far as the liquid takes it; Ni stays",
        ),
        must("um", Number("µm", 0.0, 100.0), "its thickness"),
    ],
};

macro_rules! section_of_wire {
    ($name:ident, $what:literal, [$($first:expr),* $(,)?]) => {
        pub(super) const $name: Section = Section {
            what: $what,
            keys: &[
                $($first,)*
                key("from", Name, "one end"),
                key("to", Name, "the other end"),
                key("awg", Whole(0, 60), "gauge of the bare wire"),
                key("diameter_um", Number("µm", 5.0, 10_000.0), "bare diameter"),
                key("length_mm", Number("mm", 0.0, 10_000.0), "length between the joints"),
                key("current_a", Number("A", 0.0, 1000.0), "working current"),
                key("enamel", Word(ENAMELS), "its enamel, for what crossings may see; `bare` unless said"),
                key("enamel_limit_c", Temperature(60.0, 400.0), "hottest that its enamel may see where wires cross"),
                key("crosses", Names, "wires that it crosses"),
                key("rail", Flag, "it carries supply"),
                key("held", Flag, "glue, tape or mask holds it down while an end of it is molten"),
            ],
        };
    };
}

section_of_wire!(WIRE, "a wire", [must("id", Id, "its name"), EACH]);

pub(super) const WAY: Section = Section {
    what: "a way to heat",
    keys: &[
        key("tool", Word(TOOLS), "what brings the heat"),
        key(
            "peak_c",
            Temperature(40.0, 380.0),
            "peak at the target; flow temperature and superheat unless said",
        ),
        key(
            "preheat_c",
            Temperature(-20.0, 200.0),
            "the board before the tool comes; room temperature unless said",
        ),
        key(
            "set_c",
            Temperature(60.0, 500.0),
            "what the air or the tip is set to",
        ),
        key("seconds", Whole(1, 3600), "time at heat (s)"),
        key(
            "nozzle_mm",
            OneOrTwo("mm", 0.5, 100.0),
            "bore of the air nozzle, or length and width: [14, 12]; one that encloses the part counts as open; wants `flow_l_min`, `standoff_mm` and `set_c` beside it",
        ),
        key(
            "flow_l_min",
            Number("L/min", 0.1, 1000.0),
            "air through it, metered cold",
        ),
        key(
            "standoff_mm",
            Number("mm", 0.5, 500.0),
            "from nozzle or emitter to board",
        ),
        key(
            "emitter_mm",
            OneOrTwo("mm", 5.0, 400.0),
            "the emitter of an infra-red head, across or length and width; wants `standoff_mm` and `emitter_c` beside it",
        ),
        key(
            "emitter_c",
            Temperature(100.0, 1000.0),
            "how hot that emitter is (not what the head regulates the board to)",
        ),
        key(
            "tip_mm",
            Number("mm", 0.05, 30.0),
            "how wide a tip of the iron or of the tweezers touches; wants `set_c` beside it",
        ),
        key(
            "contact_k_w",
            Number("K/W", 0.1, 1000.0),
            "from tip to joint; 5 unless said",
        ),
        key(
            "preheat_area_mm",
            Numbers("mm", 4, 4, 0.0, 2000.0),
            "what lies over the preheater, two corners; the whole board unless said",
        ),
        key(
            "k",
            Couplings,
            "share of the rise over preheat that arrives elsewhere: {rim: 0.5, rest: 0.05}",
        ),
        key(
            "sees_c",
            Temperatures,
            "temperatures known or measured elsewhere; they win",
        ),
        key(
            "stages",
            Blocks(&STAGE),
            "what the target goes through from room temperature, as measured or set: preheat, soak, peak, cool",
        ),
        key(
            "shielded",
            Names,
            "joints, parts and guards below foil, tape or a shield: likely cooler, counted as if bare",
        ),
        key(
            "sinks",
            Names,
            "joints, parts and guards with a metal block or clip clamped on or a wet cloth on them: counted as without, unless measured with it",
        ),
        key(
            "k_with_sink",
            Couplings,
            "share of the rise as measured with the heat sink in place; counts only where `sinks` names that very place: {tails: 0.2}",
        ),
    ],
};

pub(super) const STAGE: Section = Section {
    what: "a stage",
    keys: &[
        must(
            "to_c",
            Temperature(-20.0, 380.0),
            "the target at its end, in a straight line from the stage before",
        ),
        must("seconds", Whole(1, 7200), "how long it takes (s)"),
    ],
};

pub(super) const EVENT: Section = Section {
    what: "a line of the log",
    keys: &[
        must("step", Text, "id of the step"),
        key("peak_c", Temperature(-20.0, 380.0), "peak as read"),
        key("sees_c", Temperatures, "temperatures as read elsewhere"),
        key(
            "reads_ohm",
            Readings,
            "resistances as read: a wire end to end, `wire:ground`, `wire:wire`; `open` where the meter shows no reading",
        ),
        key("failed", Text, "why it failed, where it did"),
        key("alloy", Alloy, "alloy that was used, whatever was planned"),
        key(
            "tool",
            Word(TOOLS),
            "tool that was used, whatever was planned",
        ),
        key(
            "rounds",
            Whole(0, 100),
            "rounds that were done, whatever was planned",
        ),
        key(
            "mg",
            Number("mg", 0.0, 1e5),
            "solder that each member got, whatever was planned",
        ),
    ],
};

/// Keys of every step.
pub(super) const STEP: &[Key] = &[
    must("id", Id, "its name"),
    EACH,
    must("do", Word(VERBS), "what is done"),
    key(
        "after",
        After,
        "steps that must be done before: an id, a list, ids with reasons, or `all` (but those that wait for this one)",
    ),
    key(
        "closes",
        Names,
        "joints that nobody can reach once this is done",
    ),
    key("optional", Flag, "it may be left out"),
    key("minutes", Number("min", 0.0, 1e5), "how long it takes"),
];

/// A verb: its word, whether the step can be hot, its own keys.
pub(super) type Verb = (&'static str, bool, Section);

/// All keys that a step with this verb may have.
pub(super) fn of_verb(verb: &Verb) -> Vec<Key> {
    let mut keys = STEP.to_vec();
    keys.extend(verb.2.keys);
    if verb.1 {
        keys.extend(WAY.keys);
        keys.push(WAYS);
    }
    keys
}

/// The verbs whose steps may have a key.
pub(super) fn verbs_with(name: &str) -> Vec<&'static str> {
    WORK.iter()
        .filter(|verb| of_verb(verb).iter().any(|key| key.name == name))
        .map(|verb| verb.0)
        .collect()
}

/// Whether a word is a key of anything in a job.
pub(super) fn is_known(word: &str) -> bool {
    fn stands_in(section: &Section, word: &str) -> bool {
        let inner = |key: &Key| match key.shape {
            Block(section) | Blocks(section) | Deposits(section) => stands_in(section, word),
            _ => false,
        };
        section
            .keys
            .iter()
            .any(|key| key.name == word || inner(key))
    }
    stands_in(&JOB, word)
        || !verbs_with(word).is_empty()
        || STEP.iter().chain(WAY.keys).any(|key| key.name == word)
        || ["ways", "do"].contains(&word)
}

/// Keys of every step that can be hot, besides those of a way.
pub(super) const WAYS: Key = key(
    "ways",
    Blocks(&WAY),
    "ways to heat, to choose from; what stands beside holds for each",
);

/// Largest coupling: a place beside the target may get hotter than it, but not this much (our
/// judgement).
pub(super) const MOST_COUPLING: f64 = 2.0;

/// Usual temperatures of a place on a board that is worked on, °C (our judgement).
pub(super) const ANYWHERE: (f64, f64) = (-20.0, 380.0);

/// Usual melting of solder, °C; a reading outside is asked about (our judgement).
pub(super) const READING: (f64, f64) = (-40.0, 345.0);

/// Further keys of the verbs, by verb; `true` where the step can be hot.
pub(super) const WORK: &[Verb] = &[
    ("solder", true, SOLDER),
    ("place", true, PLACE),
    ("remove", true, REMOVE),
    ("reball", true, REBALL),
    ("clean", true, CLEAN),
    ("wire", true, WIRING),
    ("glue", true, COVER),
    ("cure", true, COVER),
    ("uncover", false, UNCOVER),
    ("preheat", true, WHOLE_BOARD),
    ("bake", true, WHOLE_BOARD),
    ("move", false, MOVE),
    ("gate", false, NOTHING_MORE),
    ("inspect", false, NOTHING_MORE),
    ("power", false, NOTHING_MORE),
    ("heat", true, PLAIN_HEAT),
    ("strip", true, PLAIN_HEAT),
];

section_with_amounts!(
    SOLDER,
    "`do: solder`",
    [
        must("joint", Name, "where"),
        must(
            "alloy",
            AlloyChoice,
            "with what: an alloy, a list to choose from, or `any`"
        ),
        key("wire", Name, "it ties this wire at that joint"),
    ]
);

section_with_amounts!(
    PLACE,
    "`do: place`",
    [
        must("part", Name, "which part"),
        key(
            "on",
            Names,
            "on which groups of joints; its own site unless said"
        ),
        key(
            "alloy",
            AlloyChoice,
            "paste put on each pad first: an alloy, a list to choose from, or `any`"
        ),
    ]
);

pub(super) const REMOVE: Section = Section {
    what: "`do: remove`",
    keys: &[
        must("part", Name, "which part"),
        key(
            "flood",
            Block(&FLOOD),
            "solder flooded into each joint to bring its melting down",
        ),
    ],
};

pub(super) const REBALL: Section = Section {
    what: "`do: reball`",
    keys: &[
        must("part", Name, "which part"),
        must(
            "alloy",
            AlloyChoice,
            "of what: an alloy, a list to choose from, or `any`",
        ),
        key(
            "ball_um",
            Number("µm", 20.0, 3000.0),
            "diameter of the new balls; as before unless said",
        ),
        key(
            "ball_mm",
            Number("mm", 0.02, 3.0),
            "diameter of the new balls; as before unless said",
        ),
    ],
};

pub(super) const CLEAN: Section = Section {
    what: "`do: clean`",
    keys: &[
        key("joint", Name, "the pads on the board"),
        key("part", Name, "the pads on the part"),
        key(
            "rounds",
            Rounds,
            "rounds of fresh solder and wick, or a list to choose from; 0 is wick only and the default",
        ),
        key("flood", Block(&FLOOD), "fresh solder for each round"),
        key(
            "film_um",
            Number("µm", 0.0, 500.0),
            "film that stays; 10 wicked, 2 after flood and wick, unless said",
        ),
    ],
};

section_of_wire!(WIRE_KEYS, "a wire", []);

section_with_amounts!(
    WIRING,
    "`do: wire`",
    [
        key(
            "wire",
            Name,
            "which wire; or say it here with `from`, `to` and a diameter"
        ),
        key("joint", Name, "which end is soldered now"),
        must(
            "alloy",
            AlloyChoice,
            "with what: an alloy, a list to choose from, or `any`"
        ),
        WIRE_KEYS.keys[0],
        WIRE_KEYS.keys[1],
        WIRE_KEYS.keys[2],
        WIRE_KEYS.keys[3],
        WIRE_KEYS.keys[4],
        WIRE_KEYS.keys[5],
        WIRE_KEYS.keys[6],
        WIRE_KEYS.keys[7],
        WIRE_KEYS.keys[8],
        WIRE_KEYS.keys[9],
        WIRE_KEYS.keys[10],
    ]
);

pub(super) const COVER: Section = Section {
    what: "`do: glue` or `do: cure`",
    keys: &[
        must("guard", Name, "what is put on"),
        key("over", Names, "joints that it then covers"),
    ],
};

pub(super) const UNCOVER: Section = Section {
    what: "`do: uncover`",
    keys: &[must("guard", Name, "which mask or glue is taken off again")],
};

pub(super) const WHOLE_BOARD: Section = Section {
    what: "`do: preheat` or `do: bake`",
    keys: &[
        key(
            "part",
            Name,
            "this part alone, while it is off the board; the whole board unless said",
        ),
        key("hours", Number("h", 0.0, 10_000.0), "how long it stays hot"),
    ],
};

pub(super) const MOVE: Section = Section {
    what: "`do: move`",
    keys: &[
        must("part", Name, "which part"),
        key("zone", Name, "where to"),
    ],
};

pub(super) const PLAIN_HEAT: Section = Section {
    what: "`do: heat` or `do: strip`",
    keys: &[key("joint", Name, "where, if at a joint")],
};

pub(super) const NOTHING_MORE: Section = Section {
    what: "a step without heat",
    keys: &[],
};
