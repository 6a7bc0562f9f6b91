//! Ways to heat: tool, temperatures, and what arrives elsewhere.

use super::desk::{Desk, Mark};
use super::fields::{self, Fields};
use super::heat;
use super::keys::{self, Verb};
use super::names::Names;
use super::node::Node;
use super::shape::{Coupling, Sink, Stage, Tool, Way, Where};
use super::slips;
use super::steps::Things;
use super::temperature;
use crate::quantity::Celsius;
use crate::yaml::{Place, Placed};

/// How far above liquidus a peak is still believed without a question, and how far when it is read
/// as Fahrenheit (our judgement; a usual peak is 20 to 40 above).
const HIGH_PEAK_K: f64 = 100.0;
const PEAK_AS_FAHRENHEIT_K: (f64, f64) = (-5.0, 60.0);

/// What a step melts.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Aim {
    /// End of melting of what is put on, where it is known.
    pub(super) liquidus: Option<Celsius>,
}

/// The ways of a step; none where it needs no heat.
pub(super) fn ways(
    step: &Fields,
    verb: &'static Verb,
    id: &str,
    aim: Aim,
    things: &Things,
    desk: &mut Desk,
) -> Option<Vec<Way>> {
    let (word, can_be_hot, _) = verb;
    if !can_be_hot {
        return Some(Vec::new());
    }
    let mut reader = Reader {
        step,
        verb: word,
        id,
        aim,
        things,
        desk,
        stand: Vec::new(),
        measured: Vec::new(),
    };
    if step.has("ways") {
        let items = step.items("ways");
        let read: Vec<Way> = items
            .iter()
            .filter_map(|item| {
                let own = Fields::open(item, &keys::WAY, reader.desk)?;
                Some(reader.way(Some(&own)))
            })
            .collect();
        reader.refuse_without_a_sink();
        if items.is_empty() {
            desk.fault(
                step.place_of("ways"),
                "the list is empty: want ways to heat",
            );
        }
        return (read.len() == items.len()).then_some(read);
    }
    let hot = usual_tool(word).is_some() || keys::WAY.keys.iter().any(|key| step.has(key.name));
    if hot {
        let way = reader.way(None);
        reader.refuse_without_a_sink();
        Some(vec![way])
    } else {
        Some(Vec::new())
    }
}

/// Tool of a verb that always needs heat: common practice, no source.
fn usual_tool(verb: &str) -> Option<Tool> {
    match verb {
        "solder" | "wire" | "clean" | "strip" => Some(Tool::Iron),
        "place" | "remove" | "heat" => Some(Tool::Air),
        "preheat" => Some(Tool::Plate),
        "bake" => Some(Tool::Oven),
        _ => None,
    }
}

/// Whether a step heats everything on the board.
fn heats_all(tool: Tool, verb: &str) -> bool {
    matches!(tool, Tool::Plate | Tool::Oven) || matches!(verb, "preheat" | "bake")
}

/// A word of the table as a tool.
pub(super) fn tool_of(word: &str) -> Tool {
    match word {
        "iron" => Tool::Iron,
        "air" => Tool::Air,
        "tweezers" => Tool::Tweezers,
        "infrared" => Tool::Infrared,
        "plate" => Tool::Plate,
        "oven" => Tool::Oven,
        _ => Tool::None,
    }
}

pub(super) fn word_of(tool: Tool) -> &'static str {
    match tool {
        Tool::Iron => "iron",
        Tool::Air => "air",
        Tool::Tweezers => "tweezers",
        Tool::Infrared => "infrared",
        Tool::Plate => "plate",
        Tool::Oven => "oven",
        Tool::None => "none",
    }
}

struct Reader<'r> {
    step: &'r Fields<'r>,
    verb: &'static str,
    id: &'r str,
    aim: Aim,
    things: &'r Things<'r>,
    desk: &'r mut Desk,
    /// Where heat sinks stand in any way of the step, and where shares were measured with one.
    stand: Vec<Where>,
    measured: Vec<(Where, Place)>,
}

impl Reader<'_> {
    fn way(&mut self, own: Option<&Fields>) -> Way {
        let step = self.step;
        // What the way does not say itself, the step says for all its ways.
        let of = |key: &str| own.filter(|own| own.has(key)).unwrap_or(step);
        let tool = self.tool(of("tool"));
        let peak = of("peak_c").written_temperature("peak_c", self.desk);
        let preheat = of("preheat_c").temperature("preheat_c", self.desk);
        let set = self.set(tool, &of);
        let seconds = of("seconds").whole("seconds", self.desk);
        let described = heat::tool(tool, &of, set.map(|t| t.value), step.place, self.desk);
        let (described, corners) = described.unzip();
        let stages = self.stages(of("stages"), peak, described.is_some());
        let shielded = self.shielded(of("shielded"));
        let preheat_area = heat::rect(of("preheat_area_mm"), "preheat_area_mm", self.desk);
        let sinks = self.sinks(of("sinks"));
        let k = of("k")
            .get("k")
            .map(|node| couplings(node, "k", self.things.names, self.desk));
        let stands = self.with_sinks(of("k_with_sink"), &sinks);
        let cooled: Vec<Where> = stands.iter().map(|(of, _)| *of).collect();
        let k = instead(k, stands);
        let sees = of("sees_c")
            .get("sees_c")
            .map(|node| temperatures(node, self.things.names, self.desk));
        if let (Some(sees), Some(preheat), None) = (&sees, preheat, &preheat_area)
            && let Some((_, cold)) = sees.iter().find(|(_, t)| *t < preheat.value)
        {
            self.desk.fault(
                of("sees_c").place_of("sees_c"),
                format!(
                    "a place that sees {cold} on a board preheated to {}: want what it sees of the preheat too, or `preheat_area_mm` beside it",
                    preheat.value
                ),
            );
        }
        if let Some(peak) = peak {
            self.ask_about_peak(peak);
        }
        if let (Some(peak), Some(set)) = (peak, set)
            && set.value < peak.value.celsius
            && preheat.is_none_or(|preheat| preheat.value < peak.value.celsius)
        {
            self.desk.fault(
                of("peak_c").place_of("peak_c"),
                format!(
                    "a peak of {} from a tool that is set to {}: nothing gets hotter than its tool",
                    peak.value.celsius, set.value
                ),
            );
        }
        if let Some(k) = k.as_deref().filter(|_| heats_all(tool, self.verb)) {
            self.refuse_less_than_all(k, of("k").place_of("k"));
        }
        if heats_all(tool, self.verb) && self.verb != "preheat" && set.is_none() {
            self.desk.assume_of(
                "what runs ahead of the target on a plate or in an oven",
                self.id,
                "nothing: no `set_c`",
                "",
                Mark::OurJudgement,
            );
        }
        let peak = peak
            .map(|p| p.value.celsius)
            .or(stages.iter().map(|stage| stage.to).max());
        if let (Some(sees), Some(peak)) = (&sees, peak)
            && heats_all(tool, self.verb)
        {
            self.refuse_colder(sees, peak, of("sees_c").place_of("sees_c"));
        }
        if let (Some(peak), Some(preheat)) = (peak, preheat)
            && preheat.value > peak
        {
            self.desk.fault(
                preheat.place,
                format!("the preheat {} lies above the peak {peak}", preheat.value),
            );
        }
        Way {
            tool,
            peak,
            preheat: preheat.map_or(self.things.ambient, |t| t.value),
            set: set.map(|t| t.value),
            couplings: k.unwrap_or_default(),
            sees: sees.unwrap_or_default(),
            seconds,
            described,
            preheat_area,
            stages,
            corners: corners.flatten(),
            shielded,
            sinks: sinks
                .into_iter()
                .map(|on| Sink {
                    on,
                    measured: cooled.contains(&on),
                })
                .collect(),
        }
    }

    /// The hottest that the tool is: of air or tip what it is set to, of an infra-red head its emitter.
    fn set<'f>(
        &mut self,
        tool: Tool,
        of: &impl Fn(&str) -> &'f Fields<'f>,
    ) -> Option<Placed<Celsius>> {
        let key = if tool == Tool::Infrared {
            if of("set_c").has("set_c") {
                self.desk.fault(
                    of("set_c").place_of("set_c"),
                    "`set_c` of an infra-red head is a reading of one place, and bounds no other: want `emitter_c`, how hot its emitter is, or nothing",
                );
                return None;
            }
            "emitter_c"
        } else {
            "set_c"
        };
        of(key).temperature(key, self.desk)
    }

    /// What the target goes through. Its hottest is the peak; a described tool works that out by itself.
    fn stages(
        &mut self,
        fields: &Fields,
        peak: Option<Placed<temperature::Written>>,
        is_described: bool,
    ) -> Vec<Stage> {
        let mut stages = Vec::new();
        for item in fields.items("stages") {
            let Some(fields) = Fields::open(item, &keys::STAGE, self.desk) else {
                continue;
            };
            let to = fields.temperature("to_c", self.desk);
            let seconds = fields.whole("seconds", self.desk);
            stages.extend(to.zip(seconds).map(|(to, seconds)| Stage {
                to: to.value,
                seconds,
            }));
        }
        let Some(hottest) = stages.iter().map(|stage| stage.to).max() else {
            return stages;
        };
        let place = fields.place_of("stages");
        if is_described {
            self.desk.fault(
                place,
                "`stages` say what the target goes through, and the tool that is described works it out: want one of them",
            );
        }
        if let Some(said) = peak.map(|peak| peak.value.celsius)
            && said != hottest
        {
            self.desk.fault(
                place,
                format!("the hottest of `stages` is {hottest}, and `peak_c` {said}: want one of them, or the same"),
            );
        }
        stages
    }

    /// Places that something keeps heat from. Nobody measured by how much at least, so it counts for nothing.
    fn shielded(&mut self, fields: &Fields) -> Vec<Where> {
        let Some(node) = fields.get("shielded") else {
            return Vec::new();
        };
        let mut all = Vec::new();
        for item in fields::items(node) {
            let Some(id) = fields::text(item, "shielded", self.desk) else {
                continue;
            };
            all.extend(self.things.names.place(&id, self.desk));
            self.desk.assume_of(
                "what a shield, foil or clip keeps from",
                id.value,
                "nothing counted",
                "",
                Mark::OurJudgement,
            );
        }
        all
    }

    /// Places that something cold is clamped on or laid on.
    fn sinks(&mut self, fields: &Fields) -> Vec<Where> {
        let Some(node) = fields.get("sinks") else {
            return Vec::new();
        };
        let mut all = Vec::new();
        for item in fields::items(node) {
            let Some(id) = fields::text(item, "sinks", self.desk) else {
                continue;
            };
            match self.things.names.place(&id, self.desk) {
                Some(Where::Rest | Where::Zone(_)) => self.desk.fault(
                    id.place,
                    format!(
                        "a heat sink on `{}`: want the joint, part or guard that it touches",
                        id.value
                    ),
                ),
                Some(place) => all.push(place),
                None => {}
            }
        }
        self.stand.extend(&all);
        all
    }

    /// Couplings that were measured with a heat sink in place, where it stands in this way. A sink of which nothing was
    /// measured is worth nothing: nobody knows how well it touches.
    fn with_sinks(&mut self, fields: &Fields, sinks: &[Where]) -> Vec<(Where, Coupling)> {
        let mut stands = Vec::new();
        if let Some(node) = fields.get("k_with_sink") {
            let place = fields.place_of("k_with_sink");
            stands = couplings(node, "k_with_sink", self.things.names, self.desk);
            self.measured
                .extend(stands.iter().map(|(of, _)| (*of, place)));
            stands.retain(|(of, _)| sinks.contains(of));
        }
        for sink in sinks {
            let counts = match stands.iter().find(|(of, _)| of == sink) {
                Some((_, k)) => format!("{} of the rise, as measured with it", k.factor()),
                None => "nothing counted".to_owned(),
            };
            self.desk.assume_of(
                "what a heat sink leaves or takes",
                self.things.names.called(*sink),
                counts.as_str(),
                "",
                Mark::OurJudgement,
            );
        }
        stands
    }

    /// A share that was measured with a sink which stands nowhere in the step.
    fn refuse_without_a_sink(&mut self) {
        for (of, place) in std::mem::take(&mut self.measured) {
            if !self.stand.contains(&of) {
                let id = self.things.names.called(of);
                self.desk.fault(
                    place,
                    format!(
                        "`k_with_sink` of `{id}`, on which no heat sink stands in this step: want `sinks: {id}` too, or `k` as measured without it"
                    ),
                );
            }
        }
    }

    /// A plate or an oven heats all that stands on it: a share of its rise would be a wish.
    fn refuse_less_than_all(&mut self, k: &[(Where, Coupling)], place: Place) {
        if k.iter().all(|(_, k)| k.factor() >= 1.0) || self.alone() {
            return;
        }
        self.desk.fault_with(
            place,
            "a plate, an oven, a preheat or a bake heats all that is on the board: want `k` of 1 or more",
            Some("what hangs over the edge of a plate is not on it: leave it out".to_owned()),
        );
    }

    /// And a place on it that is said to see less than that.
    fn refuse_colder(&mut self, sees: &[(Where, Celsius)], peak: Celsius, place: Place) {
        let Some((_, cold)) = sees.iter().find(|(_, t)| *t < peak) else {
            return;
        };
        if !self.alone() {
            self.desk.fault(
                place,
                format!(
                    "a plate, an oven, a preheat or a bake brings all that is on the board to {peak}: nothing there sees {cold}"
                ),
            );
        }
    }

    /// A part that is baked alone heats nothing else.
    fn alone(&self) -> bool {
        self.verb == "bake" && self.step.has("part")
    }

    fn tool(&mut self, fields: &Fields) -> Tool {
        if let Some(word) = fields.word("tool", self.desk) {
            return tool_of(word);
        }
        let tool = usual_tool(self.verb).unwrap_or(Tool::Air);
        self.desk
            .assume_of("tool", self.id, word_of(tool), "", Mark::CommonPractice);
        tool
    }

    /// A peak that is far too high for the alloy, and right as Fahrenheit, is asked about.
    fn ask_about_peak(&mut self, peak: Placed<temperature::Written>) {
        let Some(liquidus) = self.aim.liquidus.filter(|_| !peak.value.with_unit) else {
            return;
        };
        let said = peak.value.celsius.degrees();
        let over = said - liquidus.degrees();
        let over_as_fahrenheit = (said - 32.0) / 1.8 - liquidus.degrees();
        let (from, to) = PEAK_AS_FAHRENHEIT_K;
        if over > HIGH_PEAK_K && (from..=to).contains(&over_as_fahrenheit) {
            self.desk.fault_with(
                peak.place,
                format!("{said} °C is {over:.0} K above the liquidus of what is put on"),
                Some(temperature::ask(said, (f64::MIN, f64::MAX))),
            );
        }
    }
}

/// Couplings, with some in place of others.
fn instead(
    k: Option<Vec<(Where, Coupling)>>,
    stands: Vec<(Where, Coupling)>,
) -> Option<Vec<(Where, Coupling)>> {
    if stands.is_empty() {
        return k;
    }
    let mut all = k.unwrap_or_default();
    all.retain(|(of, _)| !stands.iter().any(|(at, _)| at == of));
    all.extend(stands);
    Some(all)
}

/// Couplings by place.
fn couplings(
    node: &Placed<Node>,
    key: &str,
    names: &Names,
    desk: &mut Desk,
) -> Vec<(Where, Coupling)> {
    by_place(
        node,
        key,
        "{rim: 0.5, rest: 0.05}",
        names,
        desk,
        |value, place, desk| {
            let k = fields::number(value, place, (0.0, keys::MOST_COUPLING), "", desk)?;
            fields::accept(Coupling::new(k.value), k.place, desk)
        },
    )
}

/// Temperatures by place.
pub(super) fn temperatures(
    node: &Placed<Node>,
    names: &Names,
    desk: &mut Desk,
) -> Vec<(Where, Celsius)> {
    by_place(
        node,
        "sees_c",
        "{rim: 165}",
        names,
        desk,
        |value, place, desk| {
            fields::temperature(value, place, keys::ANYWHERE, desk).map(|t| t.value.celsius)
        },
    )
}

fn by_place<T>(
    node: &Placed<Node>,
    key: &str,
    example: &str,
    names: &Names,
    desk: &mut Desk,
    mut read: impl FnMut(&Placed<Node>, &str, &mut Desk) -> Option<T>,
) -> Vec<(Where, T)> {
    let Node::Map(pairs) = &node.value else {
        desk.fault(
            node.place,
            format!(
                "found {} after `{key}`: want places such as `{example}`",
                node.value.kind()
            ),
        );
        return Vec::new();
    };
    let mut found: Vec<(Where, T)> = Vec::new();
    for (at, (id, value)) in pairs.iter().enumerate() {
        let before = at.checked_sub(1).and_then(|before| pairs.get(before));
        if value.value == Node::Nothing
            && let Some(slip) = slips::of_key(&id.value, std::iter::empty(), before)
        {
            let message = format!("`{}` stands alone in `{key}`: want `{example}`", id.value);
            desk.fault_with(id.place, message, Some(slip));
            continue;
        }
        let place = names.place(&id.with(id.value.as_str()), desk);
        let value = read(value, &id.value, desk);
        if let (Some(place), Some(value)) = (place, value) {
            found.push((place, value));
        }
    }
    found
}
