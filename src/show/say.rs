//! How numbers and things of a job are said, the same everywhere.

use std::fmt::Write as _;

use crate::bench::{LimitOf, Model, Note, Refusal, Seen, SeenBy, SetBy, Subject};
use crate::job::{GuardIx, Job, JointIx, PartIx, Step, Tool, WireIx, Work};
use crate::plan::Place;
use crate::policy;
use crate::quantity::{Celsius, KelvinStep, Share};

use super::chart::Scale;

/// How an answer is written: temperature scale and width.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Say {
    /// °C or °F; files and JSON always have °C.
    pub scale: Scale,
    /// Columns that a line may take.
    pub width: usize,
    /// Everything is told, and not only what fits on a screen.
    pub full: bool,
}

impl Default for Say {
    fn default() -> Self {
        Say {
            scale: Scale::Celsius,
            width: 100,
            full: false,
        }
    }
}

impl Say {
    /// A temperature with its unit, rounded to 0.1: `165 °C`, `100.3 °C`.
    pub fn t(self, t: Celsius) -> String {
        format!("{} {}", self.t_bare(t), self.unit())
    }

    /// The same without the unit.
    pub fn t_bare(self, t: Celsius) -> String {
        match self.scale {
            Scale::Celsius => tenth(t.degrees()),
            Scale::Fahrenheit => tenth(t.fahrenheit()),
        }
    }

    /// `°C` or `°F`.
    pub fn unit(self) -> &'static str {
        match self.scale {
            Scale::Celsius => "°C",
            Scale::Fahrenheit => "°F",
        }
    }

    /// A difference with its unit: `18 K`, or `32.4 °F` (a difference).
    pub fn dt(self, step: KelvinStep) -> String {
        match self.scale {
            Scale::Celsius => format!("{} K", tenth_down(step.kelvin())),
            Scale::Fahrenheit => format!("{} °F", tenth_down(step.kelvin() * 1.8)),
        }
    }

    /// A temperature, or `?`.
    pub fn t_or_unknown(self, t: Option<Celsius>) -> String {
        t.map_or_else(|| "?".to_owned(), |t| self.t_bare(t))
    }

    /// What a place sees: `163 °C`, `up to 350 °C, not known`, `not known`.
    pub fn seen(self, seen: Seen) -> String {
        match seen {
            Seen::At(t, _) => self.t(t),
            Seen::UpTo(Some(t)) => format!("anything up to {}", self.t(t)),
            Seen::UpTo(None) => "nobody knows what".to_owned(),
        }
    }
}

/// Rounded to 0.1, a trailing `.0` cut off.
pub fn tenth(value: f64) -> String {
    let rounded = (value * 10.0).round() / 10.0;
    let text = format!("{:.1}", rounded + 0.0);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// Rounded down to 0.1, so that a margin is never said larger than it is.
fn tenth_down(value: f64) -> String {
    tenth((value * 10.0 + 1e-9).floor() / 10.0)
}

/// Seconds from milliseconds, rounded down to 0.1.
fn seconds(ms: u32) -> String {
    tenth_down(f64::from(ms) / 1000.0)
}

/// A mass share in per cent: two figures that matter.
pub fn percent(share: Share) -> String {
    let percent = share.percent();
    if percent >= 9.95 {
        format!("{percent:.0} %")
    } else if percent >= 0.1 {
        format!("{percent:.1} %")
    } else {
        format!("{percent:.2} %")
    }
}

/// How a temperature is known, in a few words.
pub fn seen_by(seen: Seen) -> String {
    match seen {
        Seen::At(_, SeenBy::Log) => "as read".to_owned(),
        Seen::At(_, SeenBy::Stated) => "as stated".to_owned(),
        Seen::At(_, SeenBy::Coupling(k)) => format!("coupling {} as stated", k.factor()),
        Seen::At(_, SeenBy::Target) => "the target itself".to_owned(),
        Seen::At(_, SeenBy::Computed { by, .. }) => match by {
            Model::SteadyBound => "computed, steady bound".to_owned(),
            Model::Field => "computed, field in time".to_owned(),
        },
        Seen::At(_, SeenBy::Top(_)) => "computed, top of the body".to_owned(),
        Seen::At(_, SeenBy::NotHeated) => "not heated".to_owned(),
        Seen::UpTo(_) => "no coupling, no distance".to_owned(),
    }
}

/// Names of the things of one job.
#[derive(Clone, Copy, Debug)]
pub struct Names<'a>(pub &'a Job);

impl<'a> Names<'a> {
    /// Id of a group of joints.
    pub fn joint(self, joint: JointIx) -> &'a str {
        self.0.joints.get(joint.0).map_or("?", |joint| &joint.id)
    }

    /// Id of a part.
    pub fn part(self, part: PartIx) -> &'a str {
        self.0.parts.get(part.0).map_or("?", |part| &part.id)
    }

    /// Id of a guard.
    pub fn guard(self, guard: GuardIx) -> &'a str {
        self.0.guards.get(guard.0).map_or("?", |guard| &guard.id)
    }

    /// Id of a wire.
    pub fn wire(self, wire: WireIx) -> &'a str {
        self.0.wires.get(wire.0).map_or("?", |wire| &wire.id)
    }

    /// Id of what a finding is on; empty for the step as a whole.
    pub fn subject(self, of: Subject) -> &'a str {
        match of {
            Subject::Step => "",
            Subject::Joint(joint) => self.joint(joint),
            Subject::Part(part) => self.part(part),
            Subject::Guard(guard) => self.guard(guard),
            Subject::Wire(wire) => self.wire(wire),
        }
    }

    /// Id of something with a limit.
    pub fn limit(self, of: LimitOf) -> String {
        match of {
            LimitOf::Part(part) => format!("body of {}", self.part(part)),
            LimitOf::Heats(part) => format!("heats of {}", self.part(part)),
            LimitOf::Guard(guard) => self.guard(guard).to_owned(),
            LimitOf::Wire(wire) => format!("enamel of {}", self.wire(wire)),
        }
    }

    /// Id of a joint or limit.
    pub fn place(self, place: Place) -> String {
        match place {
            Place::Joint(joint) => self.joint(joint).to_owned(),
            Place::Limit(of) => self.limit(of),
        }
    }

    /// Who sets the end of a window.
    pub fn set_by(self, by: SetBy) -> String {
        match by {
            SetBy::Joint(joint) => self.joint(joint).to_owned(),
            SetBy::Limit(of) => self.limit(of),
        }
    }

    /// What a step is about: the joint, part or guard that it works on.
    pub fn target(self, work: &Work) -> String {
        match work {
            Work::Solder { joint, .. } => self.joint(*joint).to_owned(),
            Work::Place { part, on, .. } => {
                let on: Vec<&str> = on.iter().map(|at| self.joint(*at)).collect();
                format!("{} on {}", self.part(*part), on.join(" and "))
            }
            Work::Remove { part, .. } | Work::Reball { part, .. } | Work::Move { part, .. } => {
                self.part(*part).to_owned()
            }
            Work::Clean { joint, part, .. } => match (joint, part) {
                (Some(joint), _) => self.joint(*joint).to_owned(),
                (None, Some(part)) => format!("pads of {}", self.part(*part)),
                (None, None) => String::new(),
            },
            Work::Cover { guard, .. } | Work::Uncover { guard } => self.guard(*guard).to_owned(),
            Work::OtherHeat { joint, .. } => {
                joint.map_or_else(String::new, |joint| self.joint(joint).to_owned())
            }
            Work::WholeBoard { part, .. } => {
                part.map_or("the board", |part| self.part(part)).to_owned()
            }
            Work::Gate { .. } | Work::Power => String::new(),
        }
    }

    /// Why a step cannot be done.
    pub fn refusal(self, refusal: &Refusal) -> String {
        match refusal {
            Refusal::NotOnBoard(part) => format!("{} is not on the board", self.part(*part)),
            Refusal::StillOnBoard(part) => {
                format!(
                    "{} is still on the board: take it off first",
                    self.part(*part)
                )
            }
            Refusal::Taken(joint, part) => {
                format!("{} stands on {}", self.part(*part), self.joint(*joint))
            }
            Refusal::Wired(part, wire) => format!(
                "{} hangs on {}, which is soldered at both ends: take one end off first, or solder it after the move",
                self.part(*part),
                self.wire(*wire)
            ),
            Refusal::InTheWay(part) => format!(
                "{} is in the way: its body lies over this place (`at_mm`, `size_mm`); take it off first",
                self.part(*part)
            ),
            Refusal::TooLittle(joint) => format!(
                "{} gets no more solder than a wick leaves: it joins nothing",
                self.joint(*joint)
            ),
            Refusal::NoSolder(part) => {
                format!(
                    "{} has no balls, there is no paste and no solder on the pads",
                    self.part(*part)
                )
            }
            Refusal::NoMetal(joint) => format!("there is no solder on {}", self.joint(*joint)),
            Refusal::OutOfReach(joint) => {
                format!(
                    "{} is out of reach: an earlier step closed the way",
                    self.joint(*joint)
                )
            }
            Refusal::GlueHolds(part) => format!(
                "the glue of {} does not soften: heat tears its pads off; mill it away instead",
                self.part(*part)
            ),
            Refusal::GlueUnknown(part) => format!(
                "nobody knows what glue holds {}: find out before any heat",
                self.part(*part)
            ),
            Refusal::Covered(joint, by) => {
                let by = by.map_or("mask", |guard| self.guard(guard));
                format!(
                    "{} lies under {by}: free it first (`do: uncover`), or do this before it is covered",
                    self.joint(*joint)
                )
            }
            Refusal::Loose(wire, end) => format!(
                "{} is not soldered at {}: tie that end first (`do: wire`; where it stands tied already, the joint is `strained: true`)",
                self.wire(*wire),
                self.joint(*end)
            ),
            Refusal::Open(joint) => format!(
                "{} is open: no solder holds it when power comes; solder it, or say `after: power` where it is soldered",
                self.joint(*joint)
            ),
            Refusal::NothingThere(guard) => format!("{} is not there", self.guard(*guard)),
            Refusal::NotChecked => {
                "no short check has passed since the last heat: check first".to_owned()
            }
        }
    }

    /// What a technician should know.
    pub fn note(self, say: Say, note: &Note) -> String {
        match note {
            Note::SmallGap(joint, gap) => format!(
                "gap to {} is {}, wanted {}: exposure decides, not the gap",
                self.joint(*joint),
                say.dt(*gap),
                say.dt(self.0.want.gap)
            ),
            Note::Dissolves(joint) => format!(
                "{}: the liquid dissolves what has not melted; give it time, a hard core may stay",
                self.joint(*joint)
            ),
            Note::LayersStay(joint) => format!(
                "{}: the metals do not surely become one; the lowest mixture of them counts",
                self.joint(*joint)
            ),
            Note::Moisture(part) => format!(
                "{} goes above {} and is not known to be dry: bake it first, off the board or below its lowest joint",
                self.part(*part),
                say.t(policy::NEEDS_DRY)
            ),
            Note::FinishDissolves(joint, Some(share)) => format!(
                "{}: the pad finish makes {} of the joint",
                self.joint(*joint),
                percent(*share)
            ),
            Note::FinishDissolves(joint, None) => format!(
                "{}: the pad finish goes in, and nobody said how much solder there is: state `mg`, or nothing is known of the joint",
                self.joint(*joint)
            ),
            Note::PartFinish(part, share) => match share {
                Some(share) => format!(
                    "the finish of the pads of {} makes {} of the joint",
                    self.part(*part),
                    percent(*share)
                ),
                None => format!(
                    "the finish of the pads of {} goes in, and nobody said how much solder there is: state `mg`",
                    self.part(*part)
                ),
            },
            Note::CopperTaken(joint, taken) => format!(
                "{}: may take up {} of copper from its pad and then survives {} less: counted",
                self.joint(*joint),
                percent(taken.share),
                say.dt(taken.costs)
            ),
            Note::WireThins(thins) => format!(
                "{}: in this solder, as hot as {}, half of its copper is gone after about {} s: be off it after {} s",
                self.subject(Subject::Wire(thins.wire)),
                say.t(thins.at),
                seconds(thins.half_gone_ms),
                seconds(thins.half_gone_ms / 2)
            ),
            Note::BallsFirst(joint, paste, balls) => format!(
                "{}: the balls are liquid at {}, before their paste melts at {}: its flux boils into them and leaves voids",
                self.joint(*joint),
                say.t(*balls),
                say.t(*paste)
            ),
            Note::BismuthMeetsLead(joint, share) => format!(
                "{}: bismuth meets lead, first melt about {}{}",
                self.joint(*joint),
                say.t(policy::BISMUTH_LEAD_TIN),
                share.map_or_else(String::new, |s| format!(
                    ", {} of the joint at once",
                    percent(s)
                ))
            ),
            Note::ModelDiffers(place, stated, model) => {
                let bound = match model {
                    Seen::At(t, _) => format!("bounds it at {}", say.t(*t)),
                    Seen::UpTo(_) => format!("has it under the tool, {}", say.seen(*model)),
                };
                format!(
                    "{}: {} as stated wins; the model {bound}",
                    self.set_by(*place),
                    say.t(*stated)
                )
            }
            Note::FallsShort(likeliest, cool, must) => format!(
                "the tool as described brings its target to {} at most, {} at the cool edge; it must reach {}",
                say.t(*likeliest),
                say.t(*cool),
                say.t(*must)
            ),
        }
    }
}

/// The word of a step's work, as in the job file.
pub fn work_word(work: &Work) -> &'static str {
    match work {
        Work::Solder { wire: Some(_), .. } => "wire",
        Work::Solder { .. } => "solder",
        Work::Place { .. } => "place",
        Work::Remove { .. } => "remove",
        Work::Reball { .. } => "reball",
        Work::Clean { .. } => "clean",
        Work::Cover { .. } => "cure",
        Work::Uncover { .. } => "uncover",
        Work::Move { .. } => "move",
        Work::WholeBoard { bake: true, .. } => "bake",
        Work::WholeBoard { .. } => "preheat",
        Work::OtherHeat { strip: true, .. } => "strip",
        Work::OtherHeat { .. } => "heat",
        Work::Gate { short_check: true } => "gate",
        Work::Gate { short_check: false } => "inspect",
        Work::Power => "power",
    }
}

/// The word of a tool, as in the job file.
pub const fn tool_word(tool: Tool) -> &'static str {
    match tool {
        Tool::Iron => "iron",
        Tool::Air => "air",
        Tool::Tweezers => "tweezers",
        Tool::Infrared => "infrared",
        Tool::Plate => "plate",
        Tool::Oven => "oven",
        Tool::None => "",
    }
}

/// What a step does, in a few words: `place U4 on pads`.
pub fn step_words(job: &Job, step: &Step) -> String {
    format!(
        "{} {}",
        work_word(&step.work),
        Names(job).target(&step.work)
    )
    .trim_end()
    .to_owned()
}

/// Text as it may be printed: control characters and marks that turn the direction of writing are
/// shown as `\u{…}`, so that a job file can neither move the cursor nor turn a line about.
pub fn harmless(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if (c.is_control() && c != '\n') || turns(c) {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
    }
    out
}

/// The same for JSON, whose writer has already escaped control characters below the space: DEL, those of
/// C1 (terminals obey them too) and marks that turn the direction of writing become the escapes of JSON, so
/// that a reader still gets them back.
pub fn harmless_json(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if turns(c) || matches!(c, '\u{7f}'..='\u{9f}') {
            let _ = write!(out, "\\u{:04x}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    out
}

/// Marks that turn the direction of writing (bidirectional controls of Unicode).
const fn turns(c: char) -> bool {
    matches!(c, '\u{061c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Lines broken at words so that none is longer than `width`; what goes on is set in by two.
pub fn wrapped(text: &str, width: usize) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let end = if line.ends_with('\n') { "\n" } else { "" };
        let bare = line.trim_end_matches('\n');
        let indent = bare.len() - bare.trim_start_matches(' ').len();
        let hanging = " ".repeat((indent + 2).min(width / 2));
        let options = textwrap::Options::new(width.max(20)).subsequent_indent(&hanging);
        out.push_str(&textwrap::wrap(bare, options).join("\n"));
        out.push_str(end);
    }
    out
}

/// Characters of a first line.
const MOST: usize = 80;
/// Characters that are left of a long name where the first line is too long, one after the other.
const SHORT_NAMES: [usize; 3] = [16, 12, 8];

/// The first line of an answer, cut to 80 characters at a word.
pub fn first_line(text: &str) -> String {
    if text.chars().count() <= MOST {
        return text.to_owned();
    }
    let cut: String = text.chars().take(MOST - 1).collect();
    let at_word = cut.rfind(' ').unwrap_or(cut.len());
    format!("{}…", cut[..at_word].trim_end_matches([',', ' ', ':']))
}

/// The same of a job: where it is too long its names are shortened, so that no number is cut.
pub fn first_line_of(job: &Job, text: &str) -> String {
    let steps = job.steps.iter().map(|step| step.id.as_str());
    let joints = job.joints.iter().map(|joint| joint.id.as_str());
    let parts = job.parts.iter().map(|part| part.id.as_str());
    let guards = job.guards.iter().map(|guard| guard.id.as_str());
    let wires = job.wires.iter().map(|wire| wire.id.as_str());
    let all = steps.chain(joints).chain(parts).chain(guards).chain(wires);
    let mut ids: Vec<&str> = all.collect();
    ids.sort_by_key(|id| std::cmp::Reverse(id.chars().count()));
    let shortened = |left: usize| {
        let long = ids.iter().filter(|id| id.chars().count() > left);
        long.fold(text.to_owned(), |line, id| {
            let head: String = id.chars().take(left - 1).collect();
            line.replace(*id, &format!("{head}…"))
        })
    };
    let fits = |line: &String| line.chars().count() <= MOST;
    let mut tried = std::iter::once(text.to_owned()).chain(SHORT_NAMES.map(shortened));
    first_line(&tried.find(fits).unwrap_or_else(|| text.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_never_flatter() {
        let say = Say::default();
        assert_eq!(say.t(Celsius::whole(165)), "165 °C");
        assert_eq!(say.dt(KelvinStep::from_millikelvin(-40)), "-0.1 K");
        assert_eq!(say.dt(KelvinStep::from_millikelvin(2750)), "2.7 K");
        let us = Say {
            scale: Scale::Fahrenheit,
            ..say
        };
        assert_eq!(us.t(Celsius::whole(220)), "428 °F");
        assert_eq!(us.dt(KelvinStep::whole(5)), "9 °F");
    }

    #[test]
    fn a_hostile_name_cannot_move_the_cursor() {
        assert_eq!(harmless("a\u{1b}[2Jb\u{202e}c"), "a\\u{1b}[2Jb\\u{202e}c");
    }

    #[test]
    fn long_lines_are_broken_at_words() {
        let text = "short\n\n  - a line that is far too long for a narrow terminal\n";
        let narrow = wrapped(text, 24);
        assert_eq!(
            narrow,
            "short\n\n  - a line that is far\n    too long for a\n    narrow terminal\n"
        );
        assert_eq!(wrapped(text, 100), text);
    }

    #[test]
    fn first_lines_fit_eighty_characters() {
        let line = first_line(&"margin of something ".repeat(10));
        assert!(line.chars().count() <= 80, "{line}");
        assert!(line.ends_with('…'));
    }
}
