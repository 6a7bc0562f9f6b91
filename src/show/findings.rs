//! Findings in words: what falls, floats, tears or bursts, what the log left behind, and what nobody could
//! judge because nobody stated it.

use crate::bench::{Finding, Law, Rule, Subject, Verdict};
use crate::plan::NotAssessed;
use crate::policy;
use crate::quantity::Ramp;

use super::say::{Names, Say};

impl Names<'_> {
    /// A rule and its thing in a few words, as a demand.
    pub fn rule_of(self, rule: Rule, of: Subject) -> String {
        let thing = self.subject(of);
        match rule {
            Rule::Hangs => format!("{thing} hangs and does not fall"),
            Rule::WireStays => format!("{thing} stays where it is tied"),
            Rule::UnderCover => format!("{thing} stays solid under its cover"),
            Rule::Members => format!("members of {thing} bear the heat of the next one"),
            Rule::Dry => format!("{thing} is dry before it gets hot"),
            Rule::LimitStated => format!("{thing} has a stated limit"),
            Rule::WireThins => format!("{thing} is not dissolved"),
            Rule::Strips => "the tip is hot enough to strip".to_owned(),
            Rule::HotTear => format!("{thing} does not tear as it freezes"),
            Rule::Ramp => format!("{thing} is heated and cooled no faster than it bears"),
            Rule::Law(Law::Gold) => format!("gold of {thing}"),
            Rule::Carries => format!("{thing} carries its current"),
            Rule::Balls => format!("balls on {thing} stay solid"),
            Rule::AtOnce => format!("all joints of {thing} are liquid at once"),
            Rule::Amount => format!("{thing} gets no more solder than its pad holds"),
            Rule::Mended => "what a check found wrong has been mended".to_owned(),
            Rule::Crossing => format!("{thing} is insulated where it crosses"),
            Rule::Looked => format!("{thing} has been looked at"),
            other => format!("{} of {thing}", other.word()),
        }
    }

    fn ramp(self, thing: &str, finding: &Finding) -> String {
        let most = match finding.of {
            Subject::Part(part) => self.0.parts[part.0].ramp,
            _ => None,
        };
        let most = most.map_or(0.0, Ramp::k_s);
        match finding.verdict {
            Verdict::Unknown => format!(
                "{thing} bears {most} K/s, and nobody knows how fast it is heated and cooled: state `stages` from room temperature and back, or describe board, places and tool"
            ),
            Verdict::Close => {
                format!(
                    "{thing} is heated or cooled at more than four fifths of the {most} K/s that it bears"
                )
            }
            _ => format!(
                "{thing} is heated or cooled faster than the {most} K/s that it bears: it may crack; preheat, go slower"
            ),
        }
    }

    /// A finding that does not hold, in a sentence; `None` for what other tables tell.
    pub fn finding(self, say: Say, finding: &Finding) -> Option<String> {
        let thing = self.subject(finding.of);
        let unknown = finding.verdict == Verdict::Unknown;
        let words = match finding.rule {
            Rule::Hangs if unknown => format!(
                "{thing} is on the underside or hangs too heavy for molten solder, and nobody knows whether it falls: say `hangs: {{weight_mg: …, pad_area_mm2: …}}`, or support it (`supported: true`)"
            ),
            Rule::Hangs => format!(
                "{thing} hangs and is too heavy for molten solder: it falls; support it and say `supported: true`"
            ),
            Rule::WireStays if matches!(finding.of, Subject::Joint(_)) => format!(
                "{thing}: the wire tied there floats off unless mask or hand holds it"
            ),
            Rule::WireStays if unknown => format!(
                "nobody knows whether an end of {thing} melts: hold it down and say `held: true`"
            ),
            Rule::WireStays => format!(
                "an end of {thing} is molten and floats off unless glue, tape or mask holds it (`held: true`)"
            ),
            Rule::UnderCover if unknown => format!(
                "{thing} may melt below a cover or a glued part: nobody knows where its solder goes; take the part off, or keep it solid"
            ),
            Rule::UnderCover => format!(
                "{thing} lies under a cover: solder that melts there moves and tears it"
            ),
            Rule::Members if unknown => format!(
                "{thing} is soldered member by member, and nobody knows whether those that are done stay solid: state `k: {{{thing}: …}}`, the share of the rise at the next one, and what its metal is"
            ),
            Rule::Members => format!(
                "members of {thing} that are done {} while the next one is soldered",
                finding.verdict
            ),
            Rule::Dry if unknown => format!(
                "{thing} holds the data, may see more than {}, and nobody said whether it is dry: say `dry`, or bake it first",
                say.t(policy::NEEDS_DRY)
            ),
            Rule::Balls if unknown => format!(
                "{thing} carries what is left of its balls, or nobody knows how hot they get: dress it (`clean`) and ball it anew (`reball`) before it is set"
            ),
            Rule::Balls => format!("balls on {thing}: {}", finding.verdict),
            Rule::AtOnce => format!(
                "{thing}: nobody knows that all of its joints are liquid at once: take air or a plate, with a flood only where leads stand outside the body, or state what arrives at all of them (`k: {{joint: …}}`)"
            ),
            Rule::Amount => format!(
                "{thing} gets more solder than a ball of {} times its pad: it may bridge; look at `mg`, which is of one member",
                policy::PAD_HOLDS
            ),
            Rule::Mended => "a check found a fault, and nothing that was done since mends it: find it and log what you do, or read anew what was wrong (`--reads`)".to_owned(),
            Rule::Crossing => format!("{thing} crosses another wire, and both are bare: a short"),
            Rule::Dry => format!(
                "{thing} is not dry and may see more than {}: it bursts; bake it first",
                say.t(policy::NEEDS_DRY)
            ),
            Rule::Ramp => self.ramp(thing, finding),
            Rule::LimitStated => {
                format!("{thing} holds the data and nobody stated what it bears: want `limit_c`")
            }
            Rule::WireThins => format!(
                "{thing} is too fine for so long a time in molten solder: half of it may have gone; be quicker, go lower, or take a thicker wire"
            ),
            Rule::Strips => format!(
                "nothing strips the wire: enamel comes off at about {} and above",
                say.t(policy::STRIPS_ENAMEL)
            ),
            Rule::HotTear => format!(
                "{thing}: hot tear: the bismuth solder freezes last, beside metal that stayed solid, and may tear as the package springs back"
            ),
            Rule::PowerLast => {
                "nobody said that power waits for every heat of this job: planned so; say `after` at the power step, or `after: power` at a heat that is meant to come later".to_owned()
            }
            Rule::Carries if finding.verdict == Verdict::Limit => {
                format!("{thing} melts at its current: want a thicker wire, or several")
            }
            Rule::Carries if unknown => {
                format!("{thing} is a rail, and nobody says what it carries: want `current_a`")
            }
            Rule::Carries => format!(
                "{thing} carries more than a fifth of what melts it, loses more than a supply can spare, or cooks the enamel where it crosses: see `wires`"
            ),
            Rule::Service if !matches!(finding.of, Subject::Joint(_)) => {
                format!("{thing} bears less than the board gets in use (`want: {{service_c: …}}`)")
            }
            Rule::Looked => self.looked(finding),
            _ => return None,
        };
        Some(words)
    }

    fn looked(self, finding: &Finding) -> String {
        let thing = self.subject(finding.of);
        match (finding.of, finding.verdict) {
            (Subject::Step, Verdict::DoesNotFlow) => {
                "a step of the log was read too cold for its solder to flow, or its mask to cure: it counts as not done; do it again".to_owned()
            }
            (Subject::Step, Verdict::Close) => {
                "heat came after the last power: check before power comes again".to_owned()
            }
            (Subject::Step, Verdict::Unknown) => {
                "a step that failed may have torn or burnt something: look, log an inspection".to_owned()
            }
            (Subject::Step, _) => {
                "the log has a step before one that had to come first: look at both, then log an inspection".to_owned()
            }
            (Subject::Part(_), _) => {
                format!("{thing} was hotter than its limit, or may have been: inspect or replace it before power")
            }
            (Subject::Guard(_), _) => format!("{thing} was too hot: inspect it"),
            (_, Verdict::DoesNotFlow) => {
                format!("{thing} did not surely flow when it was made: inspect it, or make it again")
            }
            _ => format!("{thing} was molten, or may have been: inspect it"),
        }
    }

    /// What nobody could judge, in a few words.
    pub fn not_assessed(self, what: NotAssessed) -> String {
        match what {
            NotAssessed::LimitOf(part) => format!("what {} bears (`limit_c`)", self.part(part)),
            NotAssessed::Service => "use of the finished board (`want: {service_c: …}`)".to_owned(),
            NotAssessed::Power => "a check before power (no `gate`, no `power`)".to_owned(),
            NotAssessed::DryOf(part) => format!("whether {} is dry (`dry`)", self.part(part)),
            NotAssessed::WantedOff(wire) => format!(
                "whether {} is wanted off: both of its ends are wicked",
                self.wire(wire)
            ),
            NotAssessed::HeatsOf(part) => {
                format!(
                    "how many heats {} still takes (`heats_left`)",
                    self.part(part)
                )
            }
            NotAssessed::TopOf(part) => format!(
                "how hot the top of {} gets in the air (`k: {{{}: …}}`)",
                self.part(part),
                self.part(part)
            ),
            NotAssessed::AtHand(step) => {
                let id = &self.0.steps[step.0].id;
                format!("whether the solder of {id} is at hand (not in `stock`)")
            }
            NotAssessed::PadsOf(part) => format!(
                "how little a wick leaves on {} (its `pad: {{diameter_um: …}}`): all counts",
                self.part(part)
            ),
            NotAssessed::Strips(wire) => {
                format!("whether the tip strips {} (`set_c`)", self.wire(wire))
            }
            NotAssessed::Members(joint) => {
                let joint = self.joint(joint);
                format!("members of {joint} beside each other (`k: {{{joint}: …}}`)")
            }
        }
    }
}
